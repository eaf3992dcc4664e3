"""Checks on paper: which form, by which revision, what the instrument was judged by then, and recording it.

A check on paper is a check that was done. It is judged by the revision that is printed on the form, by the rules of a
checkout at the desk. One that fails locks the instrument out; one that passes makes nothing ready, since nobody here
saw the scans and timed the waits.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time
from typing import TYPE_CHECKING, Any, Final

from procedures.answers import clean_line, value_to_json
from procedures.checkout import RULES
from procedures.clock import Instant
from procedures.facts import Facts, facts_to_json
from procedures.findings import finding_to_json
from procedures.journal.envelope import Draft
from procedures.journal.fold_instrument import fold_instrument
from procedures.journal.moments import utc_text
from procedures.journal.store import Overtaken
from procedures.readiness import time_of_day, zone_of
from procedures.site import opening_facts, people
from procedures.site.entries import thing, words
from procedures.site.paper_form import LEAST_OF_HASH
from procedures.site.paper_run import SESSION, Given, Ran, begun_at, reasons_of, run
from procedures.site.profiles import adopted_procedure
from procedures.site.source_trouble import source_trouble
from procedures.site.usable_references import usable_references
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.envelope import Event
    from procedures.journal.states import Adoption, InstrumentState
    from procedures.procedure import Procedure
    from procedures.site.opening import Site

NOT_TIMED: Final = "not timed"

OF_PROFILE: Final = "profile:"
"""Before a profile's id, where a form is for no instrument in particular."""

_DECIDES: Final = (
    "registered",
    "described",
    "retired",
    "calibrated",
    "repaired",
    "cleared",
    "source-bound",
    "reference-recorded",
)
"""Kinds of event that a checkout's facts about an instrument come from."""


@dataclass(frozen=True, slots=True)
class Head:
    """What stands at the head of a form: its number, the revision printed on it, when and by whom it was filled in."""

    number: str
    adoption: Adoption
    profile: str
    observed: datetime
    observed_by: str


@dataclass(frozen=True, slots=True)
class Entered:
    """What came of a form: the record's id, the ending with its reasons, and what it did."""

    event: str
    ending: str
    reasons: tuple[str, ...]
    missing: tuple[str, ...]
    locked: bool
    tag: str
    doubt: int


# --- which form is meant -------------------------------------------------------------------------------------------


def form_meant(site: Site, text: str) -> str:
    """What the form of this name is for: an instrument by its label (its id), or a profile ("profile:ID").

    Raises Trouble when nothing is called so.
    """
    line = clean_line(text)
    living = [each for each in site.journal.labelled(line) if each.living and each.what == "instrument"] if line else []
    if len(living) == 1:
        return living[0].id
    if len(living) > 1:
        raise Trouble(f"{len(living)} instruments carry the label {line}", do="Tell the site lead: none may be used.")
    if line and site.journal.profile_now(line).adoptions:
        return f"{OF_PROFILE}{line}"
    raise Trouble(
        f"no instrument and no adopted profile is called {line[:40]!r}" if line else "no instrument is named",
        allowed="the label of an instrument on the list, or the id of an adopted profile",
        do="Name one of them: checklist-tui status lists the instruments.",
    )


# --- the head of a form --------------------------------------------------------------------------------------------


def pseudo_id(number: str) -> str:
    """Under this name the record of a form is found by the form's number."""
    return f"paper:{number}"


def entry_of(site: Site, number: str) -> Event | None:
    """The record of the form with this number, if it was typed in."""
    found = site.journal.about(pseudo_id(number), kinds=("paper-entered",), limit=1)
    return found[0] if found else None


def want_unused(site: Site, number: str) -> None:
    """Raises Trouble when a form of this number was typed in before."""
    before = entry_of(site, number)
    if before is not None:
        raise Trouble(
            f"the form {number} was typed in already, on {before.utc.astimezone(_zone(site)):%Y-%m-%d %H:%M}",
            allowed="each form once",
            do="Look at the number on the paper. If two papers carry one number, tell the site lead.",
        )


def observed_at(site: Site, day: date, text: str) -> datetime:
    """The moment in UTC of a local day and time on a form. Of an hour that comes twice, the first is meant.

    Raises Trouble for a time that is none, that the clocks left out, or that is still to come.
    """
    zone, line = _zone(site), clean_line(text)
    try:
        local = datetime.combine(day, time_of_day(line) if line else time(), zone)
        at = local.astimezone(UTC)
    except (Trouble, OverflowError):
        raise Trouble(f"“{line[:40]}” is no time", allowed="a time such as 06:40", do="Enter it again.") from None
    if not line:
        raise Trouble("the time is missing", allowed="a time such as 06:40", do="Enter the time on the form.")
    if at.astimezone(zone).replace(tzinfo=None) != local.replace(tzinfo=None):
        raise Trouble(
            f"there was no {line} on {day.isoformat()}: the clocks were put forward",
            allowed="a time that a clock showed",
            do="Look at the form again.",
        )
    if at > site.clock.now().utc:
        raise Trouble(
            f"{day.isoformat()} {line} is still to come",
            allowed="a time up to now",
            do="Enter the day and time on the form.",
        )
    return at


def revision_printed(site: Site, profile: str, text: str) -> Adoption:
    """The adopted revision whose SHA-256 begins with what was typed. Raises Trouble for none or several."""
    typed = "".join(clean_line(text).casefold().split()).replace("-", "")
    if len(typed) < LEAST_OF_HASH or not all(each in "0123456789abcdef" for each in typed):
        raise Trouble(
            "this is not the check code of a revision that was adopted here",
            allowed=f"{LEAST_OF_HASH} characters or more, 0 to 9 and a to f, as printed at the head of the form",
            do="Type them again, or scan them.",
        )
    adoptions = site.journal.profile_now(profile).adoptions
    found = {each.sha256: each for each in reversed(adoptions) if each.sha256.startswith(typed)}
    if len(found) != 1:
        raise Trouble(
            f"no adopted revision of {profile} begins with {typed[:16]}"
            if not found
            else f"several revisions of {profile} begin with {typed[:16]}",
            allowed="a revision that was adopted here for this instrument",
            do="Look at the form: is it this instrument's? Else type more characters, or tell the site lead.",
        )
    return next(iter(found.values()))


def want_possible(site: Site, instrument: str, head: Head) -> None:
    """Raises Trouble when this form cannot have been filled in for this instrument at that time."""
    state = as_of(site, instrument, head.observed)
    label = str(site.journal.instrument_now(instrument).fields.get("label", "this instrument"))
    if not state.registered:
        raise Trouble(f"{label} was not on the list then", do="Look at the day and time on the form.")
    if state.fields.get("profile") != head.profile:
        raise Trouble(
            f"{label} was checked by another procedure then: {state.fields.get('profile')}",
            allowed="a form for this instrument's own procedure",
            do="Look at the label and the form.",
        )
    if head.observed < head.adoption.when:
        raise Trouble(
            f"revision {head.adoption.revision} was adopted after that, on "
            f"{head.adoption.when.astimezone(_zone(site)):%Y-%m-%d %H:%M}",
            allowed="a day and time after its adoption",
            do="Look at the day and time on the form.",
        )


# --- what it is judged by ------------------------------------------------------------------------------------------


def as_of(site: Site, instrument: str, at: datetime) -> InstrumentState:
    """The instrument as the records had it at that time: its fields, calibration, bindings and references."""
    events = site.journal.about(instrument, kinds=_DECIDES, limit=-1)
    return fold_instrument(instrument, [event for event in events if event.utc <= at])


def facts_at(site: Site, instrument: str, at: datetime) -> Facts:
    """The facts that a checkout opened at that time was judged by. What came later neither helps nor spoils it."""
    state, settings = as_of(site, instrument, at), site.settings()
    now = Instant(at, 0, 0.0, SESSION)
    references = usable_references(state, at, settings)
    sources = opening_facts.source_facts_of(site, state, now, settings, references)
    return Facts(
        instrument=opening_facts.instrument_facts(state),
        scales=(),
        opened=at,
        sources=tuple(replace(each, trouble=_trouble_then(site, each.id, each.trouble, at)) for each in sources),
        references=references.usable,
        settings={name: settings[name] for name in ("zone", "day_starts", "shifts", "ready_ends", "air_reference")},
    )


def _trouble_then(site: Site, source: str, trouble: str, at: datetime) -> str:
    """Why the source might not have been used then: a source that was retired since showed a failure all the same."""
    settings = site.settings()
    if trouble != source_trouble(site.journal.source_now(source), at, settings):
        return trouble
    return source_trouble(site.journal.source_unscanned(source, until=at), at, settings)


def procedure_of(site: Site, head: Head) -> Procedure:
    """The procedure of the revision that is printed on the form."""
    return adopted_procedure(site, head.profile, head.adoption.sha256)


def ran(site: Site, instrument: str, head: Head, given: Given) -> Ran:
    """How far what stands on the form leads. Raises nothing for what was typed as answers."""
    at = begun_at(head.observed, _zone(site))
    return run(procedure_of(site, head), facts_at(site, instrument, head.observed), head.observed_by, at, given)


# --- recording -----------------------------------------------------------------------------------------------------


def enter(site: Site, instrument: str, person: str, head: Head, given: Given, *, pin: str | None = None) -> Entered:
    """Record a form that was filled in: judged, and the instrument locked out where it failed.

    `person` types it in. Raises Trouble when the form is not whole, was typed in before, cannot have been filled in
    then, or the person may not.
    """
    opening_facts.clock_is_believed(site, site.clock.now())
    thing(site, instrument, "instrument")
    thing(site, head.observed_by, "person")
    want_unused(site, head.number)
    want_possible(site, instrument, head)
    given = replace(given, why=words("reason", given.why, needed=given.stop == "judged"))
    made = ran(site, instrument, head, given)
    if made.state.ending is None:
        raise made.trouble or Trouble("the form is not typed in to its end", do="Type in the rest.")
    people.require(site, person, "check", pin)
    drafts = _drafts(site, instrument, person, head, given, made)
    try:
        event = site.journal.append(drafts, site.clock.now(), expect=(pseudo_id(head.number), ""))[0]
    except Overtaken:
        raise Trouble(
            f"the form {head.number} was typed in at the same moment", do="Look at what was recorded of it."
        ) from None
    doubts = site.journal.uses_in_doubt(instrument)
    reasons = event.body["reasons"]
    return Entered(
        event=event.hash,
        ending=event.body["ending"],
        reasons=tuple(each["say"] for each in reasons),
        missing=tuple(event.body["missing"]),
        locked=len(drafts) > 1,
        tag=drafts[-1].body["tag"] if len(drafts) > 1 else "",
        doubt=len({use.hash for doubt in doubts if doubt.cause == event for use in doubt.uses}),
    )


def _drafts(site: Site, instrument: str, person: str, head: Head, given: Given, made: Ran) -> tuple[Draft, ...]:
    procedure, body = procedure_of(site, head), made.state.ending or {}
    reasons = reasons_of(procedure, made)
    entered = {
        "form": head.number,
        "profile": {"id": procedure.id, "revision": procedure.revision, "sha256": procedure.sha256},
        "observed": utc_text(head.observed),
        "observed_by": head.observed_by,
        "rules": RULES,
        "answers": [
            {
                "step": each.asked.step,
                "visit": each.asked.visit,
                "ask": each.asked.ask.key,
                "text": clean_line(each.text),
                "value": value_to_json(each.value),
            }
            for each in made.taken
        ],
        "unused": [{"ask": key, "text": clean_line(given.answers[key])} for key in made.unused],
        "stop": given.stop,
        "why": given.why,
        "findings": [finding_to_json(each.finding) for each in made.state.made],
        "ending": body["ending"],
        "reasons": reasons,
        "missing": list(body["missing"]),
        "tell": list(body.get("tell", ())),
        "waits": NOT_TIMED,
        "facts": facts_to_json(made.state.facts),
    }
    about = (instrument, head.observed_by, pseudo_id(head.number))
    first = Draft("paper-entered", entered, about, person=person)
    if not reasons:
        return (first,)
    locked = {
        "reasons": [{"code": each["code"], "say": each["say"]} for each in reasons],
        "tag": f"T-{head.number}",
        "form": head.number,
        "not_before": body.get("not_before"),
    }
    return first, Draft("locked-out", locked, (instrument,), person=person)


def _zone(site: Site) -> Any:
    return zone_of(site.settings()["zone"])
