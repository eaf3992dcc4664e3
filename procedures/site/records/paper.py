"""Paper for when the laptop is dead: the blank form, and the expected values on a sheet of their own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, time
from typing import TYPE_CHECKING, Any, Final

from procedures.asks import (
    SWITCHED_ON,
    Acknowledge,
    Ask,
    Choice,
    DateAsk,
    Hold,
    Place,
    QuantityAsk,
    ReadingAsk,
    Scan,
    Wait,
)
from procedures.figures import figure
from procedures.routing import ACTIONS, SENDER_STANDS, VOIDS_CALIBRATION
from procedures.sheets import Column, Deed, Grid, Lines, Pairs, Row, Section, Sheet
from procedures.site import lookups, paper, paper_form, system
from procedures.site.entries import thing
from procedures.site.found_words import STATES, duration
from procedures.site.profiles import procedure_for
from procedures.site.records import lockout
from procedures.site.site_days import SiteDays
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.facts import Facts
    from procedures.procedure import Procedure
    from procedures.site.opening import Site
    from procedures.site.paper_form import BlankStep, Expectation

LINE: Final = "________"
CLOCK: Final = "__:__"
DAYS_AHEAD: Final = 30

BEFORE: Final = (
    "For when the laptop cannot be used. Do every step in order, and write down what you see before you go on.",
    "Write figures as the instrument shows them. Work nothing out, and leave nothing out.",
    "Expected values are on a sheet of their own. Open it only when every reading is written down.",
    "What cannot be done or seen is written down too: then the instrument is not checked, and not used.",
    "A wait is kept by a watch: write down when it begins and when it is over.",
    "Sources are handled as your site's rules say. The cautions here are the usual ones, and local rules go first.",
)

WARNING: Final = "STOP: when this was printed, this stood against the check"
NOT_BY_PAPER: Final = "No check on this paper makes up for that. Tell the site lead before you begin."

WHEN_IT_FAILS: Final = (
    "1. Stop. Nobody uses it, and nothing is tried twice until it passes.",
    "2. Put every source back into its store.",
    "3. Hang a tag on it: OUT OF SERVICE, its label, what failed, your name, day and time. Its tag number is {tag}.",
    "4. Put it on the out-of-service shelf, and tell the site lead now.",
    "5. Type this form in as soon as a laptop works. It then says which uses are in doubt.",
)

WHEN_IT_PASSES: Final = (
    "This is a check that was done, and no more. On the laptop the instrument is not ready before it is checked there.",
    "Whether it may go out on this paper alone is said by your local rules and the site lead.",
    "Type this form in as soon as a laptop works, each form once, and keep the paper.",
)


@dataclass(frozen=True, slots=True)
class _About:
    """What a form is for: an instrument's label, serial and type, or none; its procedure; its number."""

    about: str
    instrument: str
    procedure: Procedure
    facts: Facts | None
    number: str


def form(site: Site, about: str, _person: str) -> Sheet:
    """A blank form. `about` is an instrument's id or "profile:ID", then a form's number where it is drawn again."""
    made = _meant(site, about, numbered=True)
    now = site.clock.now().utc
    steps = paper_form.blank_steps(made.procedure, made.facts, now)
    required = [each for each in steps if each.plan.required]
    sections: list[Section] = [
        *_warnings(site, made),
        _head(site, made),
        _to_fill_in(),
        Lines(BEFORE, title="Before you begin"),
    ]
    for place, step in enumerate(required, 1):
        sections += _step(made.procedure, step, f"Step {place} of {len(required)}: {step.title}")
    for step in steps:
        if not step.plan.required:
            sections += _step(made.procedure, step, f"Only when a step above sends you here: {step.title}")
    failing = tuple(line.format(tag=f"T-{made.number}") for line in WHEN_IT_FAILS)
    sections += [
        Lines(failing, title="When a step fails", tone="bad"),
        Pairs((("in my judgement it is unfit because", LINE * 4), ("at step", LINE)), title="Your own judgement"),
        Lines(WHEN_IT_PASSES, title="When everything passed"),
        Pairs((("signature", LINE * 2), ("day and time", f"{LINE} {CLOCK}")), title="Signed"),
    ]
    label = made.facts.instrument.label if made.facts else "any instrument of this procedure"
    return Sheet(
        "paper-form",
        f"Checkout on paper: {label}",
        tuple(sections),
        about=f"{made.about},{made.number}",
        line=f"Form {made.number}. {made.procedure.title}, revision {made.procedure.revision}",
        deeds=_deeds(made),
    )


def _deeds(made: _About) -> tuple[Deed, ...]:
    if not made.instrument:
        return ()
    return (
        Deed("Expected values", "sheet", "paper-expected", made.instrument),
        Deed("Type a form in", "form", "paper-enter", made.instrument),
        Deed("Forms that were typed in", "listing", "papers", made.instrument),
    )


def _meant(site: Site, about: str, *, numbered: bool) -> _About:
    subject_id, _, number = about.partition(",")
    number = paper_form.read_number(number) if number else ""
    if numbered and not number:
        number = paper_form.form_number(system.new_station_id())
    if subject_id.startswith(paper.OF_PROFILE):
        procedure = procedure_for(site, subject_id.removeprefix(paper.OF_PROFILE))
        return _About(subject_id, "", procedure, None, number)
    known = thing(site, subject_id, "instrument")
    procedure = procedure_for(site, str(known.fields.get("profile", "")))
    facts = paper.facts_at(site, subject_id, site.clock.now().utc)
    return _About(subject_id, subject_id, procedure, facts, number)


def _warnings(site: Site, made: _About) -> Iterator[Section]:
    """What speaks against this check as the records stand now: whoever holds the paper sees no screen."""
    if made.facts is None:
        return
    state = site.journal.instrument_now(made.instrument)
    label, said = made.facts.instrument.label, []
    standing = [each for each in state.lockouts if each.status != "closed"]
    if any(each.status == "open" for each in standing):
        said.append(
            f"{label} is LOCKED OUT: {lockout.why(standing)} Do not check or use it; a site lead clears it first."
        )
    elif standing:
        said.append(
            f"{label} is LOCKED OUT, cleared, and waits for its check. Nobody uses it before that check passed."
        )
    if state.whereabouts in lookups.AWAY:
        said.append(f"{label} is recorded as {state.whereabouts}.")
    if state.contaminated:
        said.append(f"{label} is CONTAMINATED. Do not handle it before the radiation safety officer has said how.")
    said += [f"It cannot be checked now: {each.trouble}." for each in made.facts.sources if each.trouble]
    today = SiteDays.of(site).local(made.facts.opened).date()
    due = made.facts.instrument.calibration_due
    if due is None:
        said.append(f"{label} has no calibration in force.")
    elif due < today:
        said.append(f"The calibration of {label} was due on {due.isoformat()}.")
    if said:
        yield Lines((*said, NOT_BY_PAPER), title=WARNING, tone="bad")


def _head(site: Site, made: _About) -> Pairs:
    procedure = made.procedure
    short = procedure.sha256[: paper_form.SHOWN_OF_HASH]
    rows = [
        ("form number", made.number),
        ("site", site.settings()["name"]),
        ("procedure", f"{procedure.title} ({procedure.id})"),
        ("revision", str(procedure.revision)),
        (
            "check code of this revision, to be typed in later",
            " ".join(short[n : n + 4] for n in range(0, len(short), 4)),
        ),
        ("check code in full (SHA-256)", procedure.sha256),
    ]
    if made.facts is None:
        rows += [(name, LINE * 2) for name in ("instrument's label", "serial", "type")]
    else:
        which = made.facts.instrument
        due = which.calibration_due.isoformat() if which.calibration_due else "none in force"
        rows += [("instrument", which.label), ("serial", which.serial), ("type", which.type), ("calibration due", due)]
    return Pairs(tuple(rows))


def _to_fill_in() -> Pairs:
    return Pairs((("name", LINE * 3), ("badge", LINE), ("day", "____-__-__"), ("begun", CLOCK), ("ended", CLOCK)))


_ON_PAPER: Final = (Column("no.", least=3), Column("what to do", least=20), Column("what you see", least=20))


def _step(procedure: Procedure, step: BlankStep, heading: str) -> Iterator[Section]:
    rows = tuple(Row((str(n), _instruction(ask), _place_for(ask))) for n, ask in enumerate(step.asks, 1))
    yield Grid(_ON_PAPER, rows, title=heading)
    failing = tuple(_if_it_fails(procedure, step))
    if failing:
        yield Lines(failing, tone="quiet")


def _instruction(ask: Ask) -> str:
    part = f"({ask.part[0]} of {ask.part[1]})" if ask.part else ""
    caution = f"CAUTION: {ask.caution}" if ask.caution else ""
    return " ".join(each for each in (caution, part, ask.say, ask.more) if each)


def _place_for(ask: Ask) -> str:
    """Where the observation goes: boxes with the choices spelt out, a line with its unit, times."""
    match ask:
        case Choice():
            return _boxes(option.say for option in ask.options)
        case Place():
            return _boxes(ask.places)
        case ReadingAsk():
            return _reading(ask)
        case QuantityAsk():
            return f"{LINE} {' or '.join(each for each in ask.units if each)}"
        case DateAsk():
            return f"____-__-__  {_boxes([ask.absent]) if ask.absent else ''}".rstrip()
        case Scan():
            return f"label as it is marked: {LINE}"
        case Acknowledge():
            at = f" at {CLOCK}" if ask.mark == SWITCHED_ON else ""
            return f"[ ] {ask.done}{at}"
        case Wait():
            return f"{duration(ask.seconds)} by a watch: begin {CLOCK}:__  end {CLOCK}:__"
        case Hold():
            return f"{duration(ask.seconds)} by a watch: [ ] held all the time"
    return LINE * 3


def _boxes(choices: Any) -> str:
    return "  ".join(f"[ ] {choice}" for choice in choices)


def _reading(ask: ReadingAsk) -> str:
    chosen = next((each for each in ask.selectors if each.name == ask.wanted), ask.selectors[0])
    several = len(ask.selectors) > 1
    where = f"selector on {ask.wanted}: " if ask.wanted and several else f"selector on {LINE}: " if several else ""
    times = f" (times {chosen.times:f})" if chosen.times != 1 else ""
    beyond = _boxes(STATES[each] for each in ask.beyond)
    return f"{where}{LINE} {chosen.unit}{times}  {beyond}".rstrip()


def _if_it_fails(procedure: Procedure, step: BlankStep) -> Iterator[str]:
    """What may be done about a failure, in order; nothing else is ever tried."""
    if step.plan.on_pass == SENDER_STANDS or not (step.plan.required or step.plan.on_pass):
        yield "Whatever you see here: it is OUT OF SERVICE. See “When a step fails”."
        return
    if not step.plan.can_fail:
        return
    for remedy in step.plan.remedies:
        times = "once" if remedy.attempts == 1 else f"{remedy.attempts} times at most"
        caution = f" CAUTION: {remedy.caution}" if remedy.caution else ""
        done = f"[ ] {ACTIONS[remedy.action]}, at {CLOCK}."
        if remedy.action in VOIDS_CALIBRATION:
            yield f"If it fails, {times}: {remedy.say}{caution} {done} It is out of service until it is calibrated."
        else:
            back = procedure.titles[remedy.repeat_from]
            yield (
                f"If it fails, {times}: {remedy.say}{caution} {done} Then do everything again from “{back}” on another "
                "copy of this form, write this form's number on it, and type both in as one."
            )
    fails = "If it fails all the same" if step.plan.remedies else "If it fails"
    if step.plan.on_fail:
        yield f"{fails}: go on at “{procedure.titles[step.plan.on_fail]}”."
    else:
        yield f"{fails}: it is OUT OF SERVICE. See “When a step fails”."


# --- expected values -----------------------------------------------------------------------------------------------

_EXPECTED: Final = (
    Column("day", least=10),
    Column("expected", figures=True, least=8),
    Column("lowest", figures=True, least=8),
    Column("highest", figures=True, least=8),
    Column("unit", least=5),
)

OPEN_LATER: Final = (
    "OPEN THIS ONLY AFTER EVERY READING IS WRITTEN DOWN on the form.",
    "A reading is never taken again because of what stands here.",
)
HOW_TO_COMPARE: Final = (
    "Take the mean of the readings, and take background off it. From lowest to highest, both included, it passes.",
    "The figures on the form decide, as they are judged when it is typed in. In doubt it is out of service.",
)


def expected(site: Site, about: str, _person: str) -> Sheet:
    """What an instrument is expected to show today and on the days that follow, and between which limits it passes."""
    made = _meant(site, about, numbered=False)
    if made.facts is None:
        raise Trouble(
            "expected values are those of one instrument",
            allowed="an instrument with a reference reading",
            do="Name the instrument.",
        )
    days = SiteDays.of(site)
    today = days.local(site.clock.now().utc).date()
    noons = paper_form.following_days(datetime.combine(today, time(12), days.zone), DAYS_AHEAD + 1)
    which = made.facts.instrument
    sections: list[Section] = [
        *_warnings(site, made),
        Lines(OPEN_LATER, tone="bad"),
        Lines(HOW_TO_COMPARE, title="How to compare"),
    ]
    found = paper_form.expectations(made.procedure, made.facts, noons)
    for each in found:
        sections += _expectation(each)
    if any(each.air for each in found):
        sections += _air(made.facts)
    sections.append(
        Pairs(paper_form.stated_limits(made.procedure), title="Limits of the steps, as the procedure has them")
    )
    return Sheet(
        "paper-expected",
        f"Expected values: {which.label}",
        tuple(sections),
        about=made.about,
        line=f"{which.type}, serial {which.serial}; {made.procedure.title}, revision {made.procedure.revision}",
        deeds=_deeds(made)[1:],
    )


def _expectation(each: Expectation) -> Iterator[Section]:
    where = ", ".join(part for part in (f"scale {each.scale}", each.geometry) if part)
    heading = f"{each.title}: source {each.source or 'none'}, {where}"
    if each.why_not:
        yield Lines((f"Nothing can be expected: {each.why_not}.", "This step cannot be checked."), heading, "warn")
        return
    rows = tuple(
        Row(
            (f"{due.at:%Y-%m-%d}", figure(repr(due.expected)), figure(repr(due.low)), figure(repr(due.high)), each.unit)
        )
        for due in each.days
    )
    yield Grid(_EXPECTED, rows, title=heading)
    if each.air:
        yield Lines(("Before it is compared, multiply the mean by the air factor of the day, below.",), tone="warn")
    if each.guarded:
        yield Lines(("The limits are drawn in when the form is judged: close to one of them it fails.",), tone="warn")


def _air(facts: Facts) -> Iterator[Section]:
    temperatures, pressures = tuple(range(-10, 46, 5)), tuple(range(80, 106, 5))
    factors = paper_form.air_factors(facts, temperatures, pressures)
    columns = (Column("°C", figures=True, least=4), *(Column(f"{p} kPa", figures=True, least=6) for p in pressures))
    rows = tuple(
        Row((str(t), *(f"{factor:.3f}" for factor in row))) for t, row in zip(temperatures, factors, strict=True)
    )
    yield Grid(columns, rows, title="Air factor, by temperature and station pressure")
