"""Uses in doubt: what each failure puts in doubt, and a person's look at each use.

When an instrument is found failing, what was surveyed with it since the last good check is looked at again (MARSSIM 6.5
and DOE practice; from memory). A review does not make a use good: it says that somebody responsible looked, and what
they decided.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from procedures.journal.doubts import BY_HAND, RETURN, UNCHECKED, Doubt, when_used
from procedures.journal.envelope import Draft, Event
from procedures.site import people
from procedures.site.entries import thing, words
from procedures.site.opening import Site
from procedures.trouble import Trouble

LONGEST_NOTE: Final = 1000
REVIEWER: Final = "a site lead, who answers for radiation safety here"


@dataclass(frozen=True, slots=True)
class Review:
    """One look at a use: by whom, when, and what was decided."""

    person: str | None
    when: datetime
    note: str


@dataclass(frozen=True, slots=True)
class DoubtedUse:
    """One use in doubt; `to` is a person's id. `emergency`: it went out without a check."""

    event: str
    to: str
    job: str
    place: str
    when: datetime
    emergency: bool
    reviews: tuple[Review, ...]


@dataclass(frozen=True, slots=True)
class Doubted:
    """One failure and the uses it puts in doubt. `since` is the last good check of its kind, None where none was."""

    cause: str
    kind: str
    what: str
    found_at: datetime
    found_by: str | None
    since: datetime | None
    uses: tuple[DoubtedUse, ...]


def doubted(site: Site, instrument: str) -> tuple[Doubted, ...]:
    """Every failure of an instrument that puts uses in doubt, the newest first, with what became of each use."""
    found = site.journal.uses_in_doubt(instrument)
    if not found:
        return ()
    reviews = _reviews(site, instrument)
    return tuple(_doubted(each, reviews) for each in reversed(found))


def _doubted(doubt: Doubt, reviews: Mapping[tuple[str, str], tuple[Review, ...]]) -> Doubted:
    cause = doubt.cause
    return Doubted(
        cause=cause.hash,
        kind=doubt.kind,
        what=what_failed(cause, doubt.kind),
        found_at=doubt.at,
        found_by=cause.person,
        since=doubt.since.utc if doubt.since else None,
        uses=tuple(_use(use, reviews.get((cause.hash, use.hash), ())) for use in doubt.uses),
    )


def _use(use: Event, reviews: tuple[Review, ...]) -> DoubtedUse:
    body = use.body
    return DoubtedUse(
        use.hash,
        str(body["to"]),
        str(body["job"]),
        str(body["place"]),
        when_used(use),
        use.kind == "emergency-use",
        reviews,
    )


def _reviews(site: Site, instrument: str) -> dict[tuple[str, str], tuple[Review, ...]]:
    """Reviews by cause and use, in the order in which they were written."""
    found: dict[tuple[str, str], tuple[Review, ...]] = {}
    for event in reversed(site.journal.about(instrument, kinds=("use-reviewed",), limit=-1)):
        key = (str(event.body.get("cause")), str(event.body.get("use")))
        made = Review(event.person, event.utc, str(event.body.get("note", "")))
        found[key] = (*found.get(key, ()), made)
    return found


def what_failed(cause: Event, kind: str) -> str:
    """What failed, in words."""
    body: Mapping[str, Any] = cause.body
    if cause.kind == "emergency-use" or kind == UNCHECKED:
        return "It was used without a check."
    if kind == RETURN:
        bad = [row for row in body.get("findings", ()) if isinstance(row, dict) and not row.get("good")]
        said = " ".join(f"{row.get('say', '')} {row.get('answer', '')}." for row in bad)
        return f"The look at its return was bad. {said}".strip()
    if kind == BY_HAND:
        said = " ".join(str(row.get("say", "")) for row in body.get("reasons", ()) if isinstance(row, dict))
        return f"It was locked out by hand: {said}"
    if cause.kind == "found":
        finding = body["finding"]
        as_found = finding.get("as_found") or {}
        said = finding.get("say") if finding.get("outcome") == "fail" else as_found.get("say") or finding.get("say")
        words = str(said or finding.get("code") or "failed")
        return words if words.casefold().startswith(_title(kind).casefold()) else f"{_title(kind)}: {words}"
    if cause.kind == "failed-by-judgement":
        return f"A person judged it unfit: {body.get('say', '')}"
    if cause.kind == "calibrated":
        return "Its calibration found it outside its limits before it was adjusted."
    return f"{_title(kind) or 'A check on paper'}: failed"


def _title(kind: str) -> str:
    return kind.replace("-", " ").capitalize()


def may_review(site: Site, person: str) -> str:
    """Why this person may not review a use in doubt; "" when they may."""
    why = people.may(site, person, "clear")
    return "only a site lead may review a use in doubt" if why.startswith("only ") else why


def in_doubt(site: Site, instrument: str, cause: str, use: str) -> tuple[Doubted, DoubtedUse]:
    """The doubt that is meant. Raises Trouble when this use is not in doubt by this cause."""
    thing(site, instrument, "instrument")
    for each in doubted(site, instrument):
        for one in each.uses:
            if (each.cause, one.event) == (cause, use):
                return each, one
    raise Trouble(
        "that use is not in doubt by that cause",
        allowed="a use that the list of uses in doubt shows",
        do="Look at the instrument's uses in doubt.",
    )


def note_of(text: str) -> str:
    """What a review decided. Raises Trouble for nothing, or too much."""
    return words("note", text, LONGEST_NOTE)


def causes_open(site: Site, instrument: str, use: str) -> tuple[tuple[Doubted, DoubtedUse], ...]:
    """Every failure that puts this use in doubt and for which nobody has looked into it yet."""
    return tuple(
        (each, one) for each in doubted(site, instrument) for one in each.uses if one.event == use if not one.reviews
    )


def review(
    site: Site, instrument: str, person: str, *, causes: Sequence[str], use: str, note: str, pin: str | None = None
) -> str:
    """Record that a use in doubt was looked at, and what was decided, for each of these causes; the first record's id.

    It may be said again: every review is kept. Raises Trouble unless a lead reviews a use that is in doubt by all of
    them; then none is recorded.
    """
    if not causes:
        raise Trouble("it is not said for what reason", allowed="a failure that puts it in doubt", do="Choose one.")
    for cause in causes:
        in_doubt(site, instrument, cause, use)
    said = note_of(note)
    why_not = may_review(site, person)
    if why_not:
        raise Trouble(why_not, allowed=REVIEWER, do="Ask the site lead.")
    people.confirm(site, person, pin)
    drafts = [
        Draft(
            "use-reviewed",
            {"cause": cause, "use": use, "note": said},
            tuple(dict.fromkeys((instrument, cause, use))),
            person=person,
        )
        for cause in dict.fromkeys(causes)
    ]
    return site.journal.append(drafts, site.clock.now())[0].hash
