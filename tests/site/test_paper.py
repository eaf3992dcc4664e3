"""Forms on paper: what is printed, and that a form typed in is judged as a checkout at the desk is."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from desk_walk import START, id_of, sensible, small_site, step_on, walk
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from procedures.asks import Acknowledge, Ask, Choice, DateAsk, Hold, Place, QuantityAsk, ReadingAsk, Scan, Wait
from procedures.clock import ManualClock
from procedures.journal.states import fitness
from procedures.sheets import Grid, Lines, Pairs, Query, Sheet
from procedures.site import clearing, handouts, inventory, paper, paper_form, profiles, records
from procedures.site.checkouts import Desk
from procedures.site.demo import make_demo
from procedures.site.forms import task
from procedures.site.opening import Site, open_site
from procedures.site.paper import Entered, Head
from procedures.site.paper_run import REMEDY, Given
from procedures.site.views import CheckoutView
from procedures.trouble import Trouble

NUMBER = paper_form.form_number("0123456789abcdef")


@dataclass
class Room:
    """A site, its desk, its clock, and the people and the instrument that most tests need."""

    site: Site
    clock: ManualClock
    label: str = "C-1"
    technician: str = "P-2"

    @property
    def instrument(self) -> str:
        return id_of(self.site, self.label)

    def who(self, label: str = "") -> str:
        return id_of(self.site, label or self.technician)

    def head(self, observed: dt.datetime, number: str = NUMBER) -> Head:
        profile = str(self.site.journal.instrument_now(self.instrument).fields["profile"])
        adoption = self.site.journal.profile_now(profile).in_force
        assert adoption is not None
        return Head(number, adoption, profile, observed, self.who())

    def enter(self, observed: dt.datetime, given_: Given, number: str = NUMBER) -> Entered:
        return paper.enter(self.site, self.instrument, self.who(), self.head(observed, number), given_)

    def filled(self, observed: dt.datetime, answer: Callable[[Ask], str]) -> Given:
        """A form filled in to its end by somebody who answers every ask like this."""
        answers: dict[str, str] = {}
        while (due := paper.ran(self.site, self.instrument, self.head(observed), Given(answers)).due) is not None:
            assert due.id not in answers, f"{due.id} was answered, and not understood"
            answers[due.id] = "done" if due.ask.key == REMEDY else answer(due.ask)
        return Given(answers)

    def checked(self) -> CheckoutView:
        desk = Desk(self.site)
        return walk(desk, desk.start(self.instrument, self.who()), self.clock)


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    clock = ManualClock(START)
    with small_site(tmp_path, clock) as site:
        clock.advance(60)
        yield Room(site, clock)


def well(ask: Ask) -> str:
    """What somebody writes down whose instrument is in order."""
    return sensible(ask, None)  # type: ignore[arg-type]


def low(ask: Ask) -> str:
    """The form of an instrument that reads 30 % low."""
    return "1.13" if ask.key.startswith("reading-") else well(ask)


def text_of(sheet: Sheet) -> str:
    """Everything that stands on a sheet."""
    said = [sheet.title, sheet.line]
    for section in sheet.sections:
        match section:
            case Lines():
                said += [section.title, *section.lines]
            case Pairs():
                said += [part for row in section.rows for part in row]
            case Grid():
                said += [section.title, *(cell for row in section.rows for cell in row.cells)]
    return "\n".join(said)


# --- numbers of forms ----------------------------------------------------------------------------------------------


@given(st.integers(0, 16**16 - 1), st.data())
def test_a_slip_of_typing_is_never_another_forms_number(drawn: int, data: st.DataObject) -> None:
    """One wrong character, or two neighbours changed over, and the number is refused: no form is taken for another."""
    number = paper_form.form_number(f"{drawn:016x}")
    assert paper_form.read_number(f" {number.lower().replace('-', ' ')} ") == number
    plain = list(number.replace("-", ""))
    place = data.draw(st.integers(0, len(plain) - 2))
    wrong = [*plain]
    wrong[place] = data.draw(st.sampled_from([each for each in paper_form.LETTERS if each != plain[place]]))
    changed = [*plain]
    changed[place], changed[place + 1] = changed[place + 1], changed[place]
    for slip in (wrong, *([changed] if changed != plain else [])):
        with pytest.raises(Trouble, match="no number of a form"):
            paper_form.read_number("".join(slip))


# --- the same as at the desk ---------------------------------------------------------------------------------------


def odd(ask: Ask, draw: Callable[[st.SearchStrategy[object]], object]) -> str:
    """Anything that an ask takes, likely or not."""
    match ask:
        case Choice():
            return str(draw(st.sampled_from([option.value for option in ask.options])))
        case Place():
            return str(draw(st.sampled_from(ask.places)))
        case ReadingAsk():
            chosen = next((each for each in ask.selectors if each.name == ask.wanted), ask.selectors[0])
            top = float(chosen.top or 500)
            figure = str(draw(st.integers(0, 1000))) if ask.whole else f"{draw(st.floats(0, top)):.3f}"
            return on_selector(ask, str(draw(st.sampled_from([figure, *ask.beyond]))))
        case QuantityAsk():
            low_, high = float(ask.low or 0), float(ask.high if ask.high is not None else 100)
            return f"{draw(st.floats(low_, high)):.3f} {ask.units[0]}"
        case DateAsk():
            return str(draw(st.sampled_from(["2027-05-01", "2026-01-01", *([ask.absent] if ask.absent else [])])))
        case Scan():
            return str(draw(st.sampled_from([ask.due or "C-1", ask.due or "C-1", "ANOTHER"])))
    return "yes"


def on_selector(ask: ReadingAsk, figure: str) -> str:
    """A figure with the selector position it is read on, where there are several."""
    return f"{ask.wanted or ask.selectors[0].name} {figure}" if len(ask.selectors) > 1 else figure


def at_the_desk(
    room: Room, answer: Callable[[Ask, CheckoutView], str], remedy: Callable[[], bool]
) -> tuple[str, dict[str, str]]:
    """A checkout at the desk, and its observations as a form has them, by what was asked."""
    desk = Desk(room.site)
    view = desk.start(room.instrument, room.who())
    typed: list[str] = []
    remedies: list[bool] = []

    def answered(ask: Ask, now: CheckoutView) -> str:
        typed.append(answer(ask, now))
        return typed[-1]

    for _ in range(400):
        if view.ending is not None:
            break
        if view.remedy is not None:
            remedies.append(remedy())
            view = desk.remedy(view.checkout, done=remedies[-1])
        else:
            view = step_on(desk, view, room.clock, answered)
    assert view.ending is not None
    form: dict[str, str] = {}
    visit, given_, done = 1, iter(typed), iter(remedies)
    for event in room.site.journal.checkout_events(view.checkout):
        body = event.body
        match event.kind:
            case "answered" | "scanned":
                form[f"{body['visit']}.{body['step']}.{body['ask']}"] = next(given_)
            case "found":
                visit = body["visit"] + 1
            case "remedied":
                form[f"{visit}.{body['step']}.{REMEDY}"] = "done" if next(done) else "not done"
                visit += 1
    return view.checkout, form


def same_as_at_the_desk(room: Room, checkout: str, form: Mapping[str, str]) -> None:
    events = room.site.journal.checkout_events(checkout)
    found = [event.body["finding"] for event in events if event.kind == "found"]
    ended = next(event.body for event in events if event.kind == "ended")
    room.clock.advance(3600)
    made = room.enter(events[0].utc, Given(form))
    event = room.site.journal.by_hash(made.event)
    assert event is not None
    kept = event.body
    assert [(each["step"], each["outcome"], each["code"]) for each in kept["findings"]] == [
        (each["step"], each["outcome"], each["code"]) for each in found
    ]
    assert [(each["as_found"] or {}).get("outcome") for each in kept["findings"]] == [
        (each["as_found"] or {}).get("outcome") for each in found
    ]
    assert kept["ending"] == ended["ending"]
    if ended["ending"] == "locked out":
        assert [(each["code"], each["step"]) for each in kept["reasons"]] == [
            (each["code"], each["step"]) for each in ended["reasons"]
        ]
    failed = any(each["outcome"] == "fail" for each in found)
    assert made.locked == (ended["ending"] != "fit for use" and (failed or ended["ending"] == "locked out"))
    assert kept["unused"] == []


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture]
)
@given(st.data())
def test_a_form_is_judged_as_the_same_observations_are_at_the_desk(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    """The words of a person on paper weigh what they weigh on the screen: same findings, same ending, same reasons."""
    clock = ManualClock(START)
    with small_site(tmp_path_factory.mktemp("desk"), clock) as site:
        clock.advance(60)
        room = Room(site, clock)

        def answer(ask: Ask, view: CheckoutView) -> str:
            return sensible(ask, view) if data.draw(st.integers(0, 9)) else odd(ask, data.draw)

        checkout, form = at_the_desk(room, answer, lambda: data.draw(st.booleans()))
        same_as_at_the_desk(room, checkout, form)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo")
    make_demo(folder, ManualClock(START)).close()
    return folder


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data(), st.sampled_from(["QO-01", "QO-04", "QO-06", "QO-08", "QO-10"]))
def test_so_are_forms_of_every_procedure_of_the_demo(
    demo: Path, tmp_path_factory: pytest.TempPathFactory, data: st.DataObject, label: str
) -> None:
    """Each of its procedures has kinds of step the small one has not: air, alarms, counts, windows, branches."""
    folder = tmp_path_factory.mktemp("copy") / "site"
    shutil.copytree(demo, folder)
    clock = ManualClock(START + dt.timedelta(hours=1), session="today")
    with open_site(folder, clock, marking="demo") as site:
        room = Room(site, clock, label, "QP-2")
        procedure = profiles.procedure_for(site, str(site.journal.instrument_now(room.instrument).fields["profile"]))
        known = paper_form.with_scales(procedure, paper.facts_at(site, room.instrument, clock.now().utc))

        def answer(ask: Ask, view: CheckoutView) -> str:
            step = next(each.id for each in view.trail if each.state == "now")
            if not data.draw(st.integers(0, 14)):
                return odd(ask, data.draw)
            return in_order(ask, step, procedure, known, clock)

        checkout, form = at_the_desk(room, answer, lambda: data.draw(st.booleans()))
        same_as_at_the_desk(room, checkout, form)


def in_order(ask: Ask, step: str, procedure, known, clock: ManualClock) -> str:  # type: ignore[no-untyped-def]
    """What an instrument of the demo in order shows, near enough."""
    if isinstance(ask, DateAsk):
        day = known.instrument.calibrated_on if "Calibrated on" in ask.say else known.instrument.calibration_due
        return str(day)
    if isinstance(ask, ReadingAsk):
        due = paper_form.expectations(procedure, known, (clock.now().utc,))
        fits = next((each for each in due if each.step == step and each.days), None)
        if fits is None or not ask.key.startswith("reading-"):
            return on_selector(ask, "0")
        value = fits.days[0].expected
        seconds = {"alpha-scaler": 30}.get(procedure.id, 60)
        chosen = next((each for each in ask.selectors if each.name == ask.wanted), ask.selectors[0])
        return on_selector(ask, str(round(value * seconds / 60)) if ask.whole else f"{value / float(chosen.times):.3g}")
    if isinstance(ask, QuantityAsk):
        return {"°C": "20", "kPa": "101.3", "%": "60", "V": "5.5", "µSv/h": "25"}.get(ask.units[0], "10")
    if isinstance(ask, Place):
        return next((each for each in ask.places if each.startswith(("in the", "right of"))), ask.places[0])
    if isinstance(ask, Scan):
        return ask.due
    return ask.options[0].value if isinstance(ask, Choice) else "yes"


# --- what is printed -----------------------------------------------------------------------------------------------


def test_the_form_has_a_place_for_everything_that_a_passing_checkout_asks(room: Room) -> None:
    """What the desk asks of a sound instrument, waits and holds among it, stands on the paper, in that order."""
    asked: list[str] = []
    desk = Desk(room.site)
    view = desk.start(room.instrument, room.who())
    while view.ending is None:
        assert view.ask is not None
        if not asked or asked[-1] != view.ask.key:
            asked.append(view.ask.key)
        view = step_on(desk, view, room.clock)
    assert view.ending.ending == "fit for use"
    procedure = profiles.procedure_for(room.site, "mini")
    facts = paper.facts_at(room.site, room.instrument, room.clock.now().utc)
    for known in (facts, None):
        steps = paper_form.blank_steps(procedure, known, room.clock.now().utc)
        printed = [ask.key for step in steps for ask in step.asks]
        # Without an instrument nobody knows whether its source has a jig.
        assert printed == [key for key in asked if known is not None or key != "jig"]


def test_the_form_says_what_it_needs_to_be_typed_in_later(room: Room) -> None:
    """Number, revision and hash stand on it, choices are spelt out, waits have a begin and an end, and one can sign."""
    sheet = records.sheet(room.site, "paper-form", room.instrument)
    again = records.sheet(room.site, "paper-form", sheet.about)
    said = text_of(sheet)
    number = sheet.about.partition(",")[2]
    procedure = profiles.procedure_for(room.site, "mini")
    assert again == sheet
    assert paper_form.read_number(number) == number
    for part in (
        number,
        procedure.sha256,
        "C-1",
        "[ ] in the band",
        "8 s by a watch",
        "begin __:__",
        "signature",
        f"T-{number}",
    ):
        assert part in said
    assert records.sheet(room.site, "paper-form", room.instrument).about != sheet.about


def test_expected_values_are_those_that_the_finding_is_made_with(room: Room) -> None:
    """The sheet that is opened afterwards and the program must not disagree about a limit."""
    view = room.checked()
    assert view.ending is not None
    finding = next(each.finding for each in view.ending.findings if each.finding.kind == "response")
    procedure = profiles.procedure_for(room.site, "mini")
    facts = paper.facts_at(room.site, room.instrument, room.clock.now().utc)
    (found,) = paper_form.expectations(procedure, facts, (view.ending.findings[-1].at,))
    for name, value in (("expected", found.days[0].expected), ("low", found.days[0].low), ("high", found.days[0].high)):
        number = finding.number(name)
        assert number is not None
        assert value == pytest.approx(float(number.value), rel=1e-6)
    sheet = records.sheet(room.site, "paper-expected", room.instrument)
    grid = next(each for each in sheet.sections if isinstance(each, Grid))
    assert len(grid.rows) == 31
    assert "ONLY AFTER EVERY READING" in text_of(sheet)


# --- typing it in --------------------------------------------------------------------------------------------------


def typed(room: Room, number: str = NUMBER, **more: str) -> dict[str, str]:
    """The head of a form as it is typed: filled in half an hour ago."""
    at = room.clock.now().utc - dt.timedelta(minutes=30)
    sha = profiles.procedure_for(room.site, "mini").sha256
    return {
        "form": number,
        "sha256": sha[:12],
        "day": f"{at:%Y-%m-%d}",
        "time": f"{at:%H:%M}",
        "by": "TP",
        **more,
    }


def page_by_page(room: Room, answer: Callable[[Ask], str], entered: dict[str, str]) -> dict[str, str]:
    """Goes through the pages as a screen does, and types into every field what its ask is answered with."""
    enter = task("paper-enter")
    asks = {}
    for page in range(1, 60):
        shown = enter.form(room.site, room.instrument, room.who(), entered, page)
        ran = None
        if page > 1:
            head = room.head(dt.datetime.fromisoformat(f"{entered['day']}T{entered['time']}+00:00"), entered["form"])
            ran = paper.ran(room.site, room.instrument, head, Given({k: v for k, v in entered.items() if "." in k}))
            asks |= {each.id: each.ask for made in ran.pages for each in made.asked}
        if page > 1 and shown.page == shown.pages:
            return entered
        for field in shown.fields:
            if "." in field.id:
                entered.setdefault(field.id, answer(asks[field.id]))
    raise AssertionError("the form has no last page")


def later(room: Room) -> None:
    room.clock.advance(3600)


def test_a_form_that_passed_is_kept_and_makes_nothing_ready(room: Room) -> None:
    """Nobody here saw its scans and timed its waits: it is a check that was done, and the desk's comes first."""
    later(room)
    entered = page_by_page(room, well, typed(room))
    done = task("paper-enter").keep(room.site, room.instrument, room.who(), entered)
    assert "passed" in done.what
    assert "Check it again here" in done.do
    state = room.site.journal.instrument_now(room.instrument)
    assert fitness(state, room.clock.now().utc).word == "needs check"
    assert not state.lockouts
    assert done.opens is not None
    said = text_of(records.sheet(room.site, done.opens.name, done.opens.about))
    assert "PASSED on paper" in said
    assert "not timed" in said
    assert records.listing(room.site, "papers", query=Query(search=NUMBER)).total == 1


def test_what_it_comes_to_is_not_said_before_it_is_kept(room: Room) -> None:
    """Whoever types sees what was understood; a verdict before the end would invite a better figure."""
    later(room)
    entered = page_by_page(room, low, typed(room))
    enter = task("paper-enter")
    look = enter.look(room.site, room.instrument, room.who(), entered)
    said = " ".join(look.lines)
    assert "1.13 mR/h" in said
    for word in ("FAIL", "fail", "expected", "locked"):
        assert word not in said
    assert look.troubles == {}


def test_a_failing_form_locks_out_and_names_the_uses_since_the_last_good_check_before_it(room: Room) -> None:
    """What went out between the last good check and the time on the paper is in doubt, and nothing else is."""
    site, clock, lead = room.site, room.clock, room.who("P-1")

    def used() -> str:
        room.checked()
        out = handouts.hand_out(site, room.instrument, to=room.who(), job="survey", place="hall", person=lead)
        clock.advance(1800)
        handouts.take_back(site, room.instrument, by=None, condition="good", person=lead)
        clock.advance(600)
        return out

    used()
    in_doubt = used()
    observed = clock.now().utc
    clock.advance(1200)
    used()
    made = room.enter(observed, room.filled(observed, low))
    assert made.locked
    assert made.doubt == 1
    uses = {use.hash for doubt in site.journal.uses_in_doubt(room.instrument) for use in doubt.uses}
    assert uses == {in_doubt}
    state = site.journal.instrument_now(room.instrument)
    assert fitness(state, clock.now().utc).word == "locked out"
    (standing,) = [each for each in state.lockouts if each.status != "closed"]
    assert [each.code for each in standing.reasons] == ["response-out"]
    assert standing.tag == f"T-{NUMBER}"
    assert NUMBER in text_of(records.sheet(site, "tag", room.instrument))
    assert "survey" in text_of(records.sheet(site, "paper-entry", made.event))


def test_a_form_is_typed_in_once(room: Room) -> None:
    """The same paper twice would be two checks."""
    later(room)
    observed = room.clock.now().utc - dt.timedelta(minutes=30)
    form = room.filled(observed, well)
    room.enter(observed, form)
    before = room.site.journal.count()
    with pytest.raises(Trouble, match="typed in already"):
        room.enter(observed, form)
    head = typed(room)
    look = task("paper-enter").look(room.site, room.instrument, room.who(), head)
    assert "form" in look.troubles
    assert room.site.journal.count() == before


def test_a_form_that_ends_before_its_last_step_is_not_passed(room: Room) -> None:
    """Given up it is abandoned, and after a failure, or judged unfit, it locks out with what was said."""
    later(room)
    observed = room.clock.now().utc - dt.timedelta(minutes=30)
    begun = {"1.look-over.instrument": "C-1", "1.look-over.case": "whole"}
    with pytest.raises(Trouble, match="nothing is entered"):
        room.enter(observed, Given(begun))
    given_up = room.enter(observed, Given(begun, "ended", "called away"))
    assert (given_up.ending, given_up.locked) == ("abandoned", False)
    with pytest.raises(Trouble, match="reason"):
        room.enter(observed, Given(begun, "judged"), paper_form.form_number("1"))
    judged = room.enter(observed, Given(begun, "judged", "It rattles."), paper_form.form_number("2"))
    assert (judged.ending, judged.locked, judged.reasons) == ("locked out", True, ("It rattles.",))
    broken = Given({**begun, "1.look-over.case": "loose"})
    failed = room.enter(observed, broken, paper_form.form_number("3"))
    assert failed.locked


def test_a_source_that_was_retired_since_does_not_hide_a_failure(room: Room) -> None:
    """The reading was taken while the source served: what became of it later excuses nothing."""
    observed = room.clock.now().utc
    later(room)
    inventory.retire(room.site, id_of(room.site, "S-1"), "decayed", person=room.who("P-1"))
    assert room.enter(observed, room.filled(observed, low)).locked


def test_a_calibration_since_does_not_change_what_the_form_is_judged_by(room: Room) -> None:
    """A calibration voids older reference readings from then on, and not for what was read before it."""
    from procedures.site import references

    observed = room.clock.now().utc
    later(room)
    references.calibrated(
        room.site,
        room.instrument,
        on=dt.date(2026, 6, 1),
        due=dt.date(2027, 6, 1),
        by="bench",
        certificate="K-2",
        person=room.who("P-1"),
    )
    assert room.enter(observed, room.filled(observed, low)).reasons


# --- what cannot be ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("field", "text", "wrong"),
    [
        ("form", "KMM-EJF-SB2", "no number"),
        ("form", "", "missing"),
        ("sha256", "0000000000", "no adopted revision"),
        ("sha256", "zz", "not the check code"),
        ("day", "2026-13-01", "is no day"),
        ("day", "2031-01-01", "still to come"),
        ("day", "2026-05-20", "not on the list"),
        ("time", "25:00", "is no time"),
        ("time", "", "missing"),
        ("by", "NOBODY", "nobody here"),
    ],
)
def test_a_wrong_head_is_named_at_its_field_and_keeps_nothing(room: Room, field: str, text: str, wrong: str) -> None:
    """A form of another revision, from the future, or from before there was an instrument, is no form of this one."""
    later(room)
    head = typed(room) | {field: text}
    enter = task("paper-enter")
    look = enter.look(room.site, room.instrument, room.who(), head)
    assert any(wrong in trouble.what for trouble in look.troubles.values()), look.troubles
    assert enter.form(room.site, room.instrument, room.who(), head, 2).page == 1
    before = room.site.journal.count()
    with pytest.raises(Trouble):
        enter.keep(room.site, room.instrument, room.who(), head)
    assert room.site.journal.count() == before


def test_a_lockout_from_paper_stands_since_the_check_and_not_since_it_was_typed_in(room: Room) -> None:
    """Tag, lockout, list and binder say one moment: when the check on paper was made."""
    observed = room.clock.now().utc
    answers = room.filled(observed, low)
    later(room)
    typed_in = room.clock.now().utc
    assert room.enter(observed, answers).ending == "locked out"
    then, now = (f"{each:%Y-%m-%d %H:%M}" for each in (observed, typed_in))
    assert then != now
    said = f"{then} (on paper; typed in {now})"
    for name, about in (("tag", room.instrument), ("lockout", room.instrument), ("binder", "2026-05-01,2026-12-31")):
        assert said in text_of(records.sheet(room.site, name, about)), name
    assert f"since {then}" in records.sheet(room.site, "tag", room.instrument).line
    assert said in records.listing(room.site, "lockouts").rows[0].cells


def test_a_revision_adopted_after_the_time_on_the_form_is_refused(room: Room) -> None:
    """Nobody can have filled in a form before there was one."""
    from desk_walk import MINI

    observed = room.clock.now().utc
    later(room)
    profiles.adopt(room.site, MINI.replace("revision = 1", "revision = 2"), room.who("P-1"))
    with pytest.raises(Trouble, match="adopted after that"):
        paper.want_possible(room.site, room.instrument, room.head(observed))


def test_an_older_revision_judges_the_form_that_was_printed_from_it(room: Room) -> None:
    """A form in a drawer is judged by what is printed on it, though another revision is in force by now."""
    from desk_walk import MINI

    head = room.head(room.clock.now().utc)
    answers = room.filled(head.observed, well)
    later(room)
    stricter = MINI.replace("revision = 1", "revision = 2").replace('low = "-20 %"', 'low = "-1 %"')
    profiles.adopt(room.site, stricter, room.who("P-1"))
    assert paper.ran(room.site, room.instrument, room.head(head.observed), answers).state.ending != "fit for use"
    made = paper.enter(room.site, room.instrument, room.who(), head, answers)
    assert made.ending == "fit for use"
    event = room.site.journal.by_hash(made.event)
    assert event is not None
    assert event.body["profile"]["revision"] == 1


def test_local_times_where_the_clocks_change(tmp_path: Path) -> None:
    """An hour that was left out is no time; of one that came twice the first is meant, which puts more in doubt.

    Central European Summer Time begins on the last Sunday of March and ends on the last of October, each at 01:00 UTC
    (Directive 2000/84/EC; from memory).
    """
    clock = ManualClock(dt.datetime(2026, 11, 25, 7, tzinfo=dt.UTC))
    with small_site(tmp_path, clock, zone="Europe/Vienna") as site:
        with pytest.raises(Trouble, match="put forward"):
            paper.observed_at(site, dt.date(2026, 3, 29), "02:30")
        first = paper.observed_at(site, dt.date(2026, 10, 25), "02:30")
        assert first == dt.datetime(2026, 10, 25, 0, 30, tzinfo=dt.UTC)
        assert first.astimezone(ZoneInfo("Europe/Vienna")).fold == 0


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.dictionaries(
        st.sampled_from(["form", "sha256", "day", "time", "by", "stop", "why", "1.look-over.case"]), st.text()
    )
)
def test_whatever_is_typed_gets_an_answer(room: Room, entered: dict[str, str]) -> None:
    """Nothing that is typed ends in a fault of the program, and nothing of it is kept."""
    enter = task("paper-enter")
    before = room.site.journal.count()
    enter.look(room.site, room.instrument, room.who(), entered)
    for page in (1, 2, 9):
        enter.form(room.site, room.instrument, room.who(), entered, page)
    with pytest.raises(Trouble):
        enter.keep(room.site, room.instrument, room.who(), entered)
    assert room.site.journal.count() == before


def test_somebody_who_may_not_check_types_nothing_in(room: Room) -> None:
    """Whoever types it in answers for what they type."""
    later(room)
    observed = room.clock.now().utc - dt.timedelta(minutes=30)
    made = room.filled(observed, well)
    with pytest.raises(Trouble):
        paper.enter(room.site, room.instrument, "", room.head(observed), made)
    clearing.lock_by_hand(room.site, room.instrument, room.who(), "It fell.")
    assert room.enter(observed, made).ending == "fit for use"
    state = room.site.journal.instrument_now(room.instrument)
    assert fitness(state, room.clock.now().utc).word == "locked out"


def test_what_stands_on_a_form_is_text_and_nothing_else(tmp_path: Path) -> None:
    """Labels and words of people come out as they went in: no markup is made of them here."""
    clock = ManualClock(START)
    with small_site(tmp_path, clock) as site:
        clock.advance(60)
        room = Room(site, clock)
        strange = "[b]<i>&C-1"
        inventory.describe(site, room.instrument, {"label": strange}, person=room.who("P-1"))
        room.label = strange
        clock.advance(600)
        observed = clock.now().utc
        begun = {"1.look-over.instrument": strange, "1.look-over.case": "whole"}
        made = room.enter(observed, Given(begun, "judged", "<script>[red]"))
        for name, about in (("paper-form", room.instrument), ("paper-entry", made.event), ("tag", room.instrument)):
            assert strange in text_of(records.sheet(site, name, about))
        assert "<script>[red]" in text_of(records.sheet(site, "paper-entry", made.event))


def test_the_pages_follow_the_order_of_the_procedure(room: Room) -> None:
    """Whoever types goes down the paper once: no page goes back to an earlier step of the same visit."""
    later(room)
    observed = room.clock.now().utc - dt.timedelta(minutes=30)
    answers = room.filled(observed, well)
    ran = paper.ran(room.site, room.instrument, room.head(observed), answers)
    order = [step.id for step in profiles.procedure_for(room.site, "mini").plan.steps]
    places = [order.index(page.asked[0].step) for page in ran.pages]
    assert all(one < other for one, other in pairwise(places))
    assert not any(isinstance(each.ask, Wait | Hold) for page in ran.pages for each in page.asked)
    assert any(isinstance(each.ask, Acknowledge) for page in ran.pages for each in page.asked)


def test_an_answer_that_is_not_understood_is_named_where_it_stands(room: Room) -> None:
    """A slip in the middle of a form is found at its field, and what comes after it waits."""
    later(room)
    entered = page_by_page(room, well, typed(room))
    key = next(each for each in entered if each.endswith("response.reading-2"))
    look = task("paper-enter").look(room.site, room.instrument, room.who(), entered | {key: "9.9"})
    assert list(look.troubles) == [key]
    assert "beyond" in look.troubles[key].what
