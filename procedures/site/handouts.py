"""Handing instruments out and taking them back: only what is fit for use at that moment goes out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from procedures.answers import clean_line
from procedures.journal.envelope import Draft
from procedures.journal.moments import utc_text
from procedures.journal.states import InstrumentState, fitness
from procedures.journal.store import Overtaken
from procedures.site import exchange_age, local_time, lookups, returning
from procedures.site.entries import thing, words
from procedures.site.opening import Site
from procedures.site.opening_facts import clock_is_believed
from procedures.trouble import Trouble

LONGEST_WORDS: Final = 200
LONGEST_TAG: Final = 60
LONGEST_USE: Final = timedelta(days=366)
NOT_SHOWN: Final = "not shown"
"""How an ending says of a scale that nothing has shown it to work."""
STAYS_HERE: Final = frozenset({"here", "in storage", "borrowed"})
"""Whereabouts from which an instrument may be handed out."""


@dataclass(frozen=True, slots=True)
class Offer:
    """An instrument that may go out now, and what goes with it into the field.

    `radiations` are those it was shown to measure, `not_for` those it is never for; `until` (UTC) is when its check no
    longer counts. `not_shown` are the scales that its check has not shown to work.
    """

    label: str
    checkout: str
    until: datetime
    radiations: tuple[str, ...]
    not_for: tuple[str, ...]
    warnings: tuple[str, ...]
    factor: str
    not_shown: tuple[str, ...] = ()


def offer(site: Site, instrument: str) -> Offer:
    """The instrument as it may go out now, from its events folded afresh.

    Raises Trouble unless it is fit for use now, here, not contaminated, and the other laptops were heard of lately
    enough.
    """
    now = site.clock.now()
    clock_is_believed(site, now)
    state = site.journal.instrument_now(instrument)
    label = str(state.fields.get("label", "this instrument"))
    found = fitness(state, now.utc)
    if found.word != "ready" or state.counting is None or found.until is None:
        said = lookups.as_sentences([reason.say or reason.code for reason in found.reasons]).rstrip(".")
        raise Trouble(
            f"{label} is not fit for use: {said or found.why}",
            allowed="an instrument that is ready",
            do="Leave it here." if found.word == "locked out" else "Check it first.",
        )
    _is_here(state, label)
    exchange_age.is_recent(site)
    fit_for = state.counting.fit_for
    return Offer(
        label=label,
        checkout=state.counting.checkout,
        until=found.until,
        radiations=tuple(str(each) for each in fit_for.get("measures", ())),
        not_for=tuple(str(each) for each in fit_for.get("not_for", ())),
        warnings=tuple(dict.fromkeys(str(each) for each in state.counting.warnings)),
        factor=state.counting.factor or "",
        not_shown=tuple(str(scale) for scale, how in fit_for.get("scales", {}).items() if how == NOT_SHOWN),
    )


def _is_here(state: InstrumentState, label: str) -> None:
    if state.whereabouts not in STAYS_HERE:
        raise Trouble(
            f"{label} is recorded as {state.whereabouts}",
            allowed="an instrument that is here",
            do="Record first that it came back.",
        )
    if state.contaminated:
        raise Trouble(f"{label} is contaminated", allowed="a clean instrument", do="Tell the radiation safety officer.")


def radiation_meant(offered: Offer, text: str) -> str:
    """The radiation that is meant, as the profile names it.

    Raises Trouble when the instrument is not for it, or was not shown to measure it.
    """
    line = clean_line(text).casefold()
    for each in offered.not_for:
        if each.casefold() == line:
            raise Trouble(
                f"{offered.label} is not for {each}: it would show nothing, or something wrong",
                allowed=", ".join(offered.radiations),
                do="Take an instrument that measures it.",
            )
    for each in offered.radiations:
        if each.casefold() == line:
            return each
    raise Trouble(
        f"{offered.label} was not checked for “{line[:40]}”" if line else "what is to be measured is not said",
        allowed=", ".join(offered.radiations) or "nothing: its check shows no radiation",
        do="Choose what it was checked for, or take another instrument.",
    )


def usual_back_by(site: Site, until: datetime | None = None) -> datetime:
    """When what goes out now is to be back unless something else is said: the setting `back_by_hours` from now, and not
    later than its check counts (`until`). UTC."""
    try:
        hours = min(max(1, int(site.settings().get("back_by_hours", "12"))), 24 * 365)
    except ValueError:
        hours = 12
    usual = site.clock.now().utc + timedelta(hours=hours)
    return usual if until is None else min(usual, until)


def back_by_meant(site: Site, back_by: datetime) -> datetime:
    """The moment by which it is to be back. Raises Trouble when it has gone by, or is further than a year away."""
    now = site.clock.now().utc
    if not now < back_by <= now + LONGEST_USE:
        raise Trouble(
            f"it cannot be back by {local_time.said(site, back_by)}",
            allowed="a time after now, within a year",
            do="Enter when it will be back.",
        )
    return back_by


def check_again(site: Site, until: datetime, back_by: datetime | None) -> str:
    """What the taker has to know where the check ends before the instrument is to be back; "" where it does not."""
    if back_by is not None and back_by <= until:
        return ""
    return f"Its check counts until {local_time.said(site, until)}. After that it must be checked again before use."


def taker_meant(site: Site, to: str) -> str:
    """The id of the person who takes an instrument. Raises Trouble unless they are on the list."""
    taker = site.journal.thing_now(to)
    if taker.what != "person" or not taker.registered or taker.retired:
        raise Trouble("nobody on the site's list was named", allowed="a person on the list", do="Scan their badge.")
    return to


def hand_out(
    site: Site,
    instrument: str,
    *,
    to: str,
    job: str,
    place: str,
    person: str | None = None,
    radiation: str = "",
    back_by: datetime | None = None,
) -> str:
    """Hand an instrument out to a person for a job at a place; the hand-out's id comes back.

    Raises Trouble unless it may go out (see `offer`), for this `radiation` where one is named, and the person is on the
    list; and when something about it came in between.
    """
    last = site.journal.last_about(instrument)
    offered = offer(site, instrument)
    handing = taker_meant(site, person) if person else None
    body = {
        "to": taker_meant(site, to),
        "job": words_of(job, "what it is for"),
        "place": words_of(place, "where it goes"),
        "checkout": offered.checkout,
        "until": offered.until.isoformat(),
        "radiation": radiation_meant(offered, radiation) if radiation else "",
        "back_by": utc_text(back_by_meant(site, back_by)) if back_by else None,
        "check_again": bool(back_by and check_again(site, offered.until, back_by)),
    }
    draft = Draft("handed-out", body, (instrument, to), person=handing)
    return recorded(site, (draft,), instrument, last, f"{offered.label} was not handed out")


def take_back(
    site: Site,
    instrument: str,
    *,
    by: str | None,
    condition: str,
    person: str | None = None,
    answers: Sequence[str] | None = None,
    tag: str = "",
) -> str:
    """Record that an instrument came back, who brought it and in what condition; the event's id comes back.

    `answers` are those to the questions its profile asks, in their order; None: no look was taken. A bad one locks it
    out in the same transaction, with `tag` as the number of the tag. Otherwise its readiness is not touched: what
    happened to it outside is said with `end_readiness`. Raises Trouble when it was not handed out.
    """
    if person:
        thing(site, person, "person")
    last = site.journal.last_about(instrument)
    state = site.journal.instrument_now(instrument)
    label = str(state.fields.get("label", "this instrument"))
    is_out(state)
    procedure = returning.procedure_of_use(site, state) if answers is not None else None
    answered = returning.judged(procedure.at_return if procedure else (), answers or ())
    body = {
        "by": by,
        "condition": words_of(condition, "its condition"),
        "check": returning.outcome(answered),
        "findings": returning.findings(answered),
    }
    drafts = (
        Draft("returned", body, (instrument,), person=person or None),
        *returning.what_follows(
            instrument, answered, person or None, words("tag", tag, LONGEST_TAG, needed=False), procedure
        ),
    )
    return recorded(site, drafts, instrument, last, f"{label} was not taken back")


def is_out(state: InstrumentState) -> None:
    """Raises Trouble unless the instrument is handed out."""
    if state.handed is None:
        raise Trouble(
            f"{state.fields.get('label', 'this instrument')} is not handed out",
            allowed="an instrument that is out",
            do="Look at the label again.",
        )


def recorded(site: Site, drafts: Sequence[Draft], instrument: str, last: str, not_done: str) -> str:
    """Record these together; the id of the first comes back. Raises Trouble when something came in since `last`."""
    try:
        return site.journal.append(drafts, site.clock.now(), expect=(instrument, last))[0].hash
    except Overtaken:
        raise Trouble(
            f"something about it came in meanwhile; {not_done}",
            allowed="a record that knows of everything before it",
            do="Look at it again, then do it again.",
        ) from None


def words_of(text: str, what: str) -> str:
    """A few words, cleaned. Raises Trouble when there are none or too many; `what` says what they are about."""
    line = clean_line(text)
    if not line or len(line) > LONGEST_WORDS:
        raise Trouble(f"{what} is not said", allowed=f"1 to {LONGEST_WORDS} characters", do="Say it in a few words.")
    return line


def instrument_here(site: Site, instrument: str) -> InstrumentState:
    """The state of a registered instrument in service. Raises Trouble for anything else."""
    thing(site, instrument, "instrument")
    state = site.journal.instrument_now(instrument)
    if state.retired:
        raise Trouble("this instrument is retired", allowed="an instrument in service", do="Look at the label again.")
    return state
