"""Handing instruments out and taking them back: only what is fit for use at that moment goes out."""

from __future__ import annotations

from typing import Final

from procedures.answers import clean_line
from procedures.journal.envelope import Draft
from procedures.journal.states import fitness
from procedures.journal.store import Overtaken
from procedures.site.opening import Site
from procedures.site.opening_facts import clock_is_believed
from procedures.trouble import Trouble

LONGEST_WORDS: Final = 200
STAYS_HERE: Final = frozenset({"here", "in storage", "borrowed"})
"""Whereabouts from which an instrument may be handed out."""


def hand_out(site: Site, instrument: str, *, to: str, job: str, place: str, person: str | None = None) -> str:
    """Hand an instrument out to a person for a job at a place; the hand-out's id comes back.

    The instrument's events are folded afresh. Raises Trouble unless it is fit for use now, here, and not contaminated,
    and the person is on the list; and when something about it came in between.
    """
    now = site.clock.now()
    clock_is_believed(site, now)
    last = site.journal.last_about(instrument)
    state = site.journal.instrument_now(instrument)
    label = str(state.fields.get("label", "this instrument"))
    found = fitness(state, now.utc)
    if found.word != "ready" or state.counting is None:
        words = "; ".join(reason.say or reason.code for reason in found.reasons)
        raise Trouble(
            f"{label} is not fit for use: {words or found.why}",
            allowed="an instrument that is ready",
            do="Leave it here." if found.word == "locked out" else "Check it first.",
        )
    if state.whereabouts not in STAYS_HERE:
        raise Trouble(
            f"{label} is recorded as {state.whereabouts}",
            allowed="an instrument that is here",
            do="Record first that it came back.",
        )
    if state.contaminated:
        raise Trouble(f"{label} is contaminated", allowed="a clean instrument", do="Tell the radiation safety officer.")
    taker = site.journal.thing_now(to)
    if taker.what != "person" or not taker.registered or taker.retired:
        raise Trouble("nobody on the site's list was named", allowed="a person on the list", do="Scan their badge.")
    body = {
        "to": to,
        "job": _words(job, "what it is for"),
        "place": _words(place, "where it goes"),
        "checkout": state.counting.checkout,
        "until": found.until.isoformat() if found.until else None,
    }
    draft = Draft("handed-out", body, (instrument, to), person=person)
    try:
        return site.journal.append((draft,), now, expect=(instrument, last))[0].hash
    except Overtaken:
        raise Trouble(
            f"something about {label} came in meanwhile; it was not handed out",
            do="Look at it again, then hand it out.",
        ) from None


def take_back(site: Site, instrument: str, *, by: str | None, condition: str, person: str | None = None) -> str:
    """Record that an instrument came back, who brought it and in what condition; the event's id comes back.

    Its readiness is not touched: what happened to it outside is said with `end_readiness`. Raises Trouble when it was
    not handed out.
    """
    state = site.journal.instrument_now(instrument)
    if state.handed is None:
        raise Trouble(
            f"{state.fields.get('label', 'this instrument')} is not handed out",
            allowed="an instrument that is out",
            do="Look at the label again.",
        )
    body = {"by": by, "condition": _words(condition, "its condition")}
    return site.record("returned", body, about=(instrument,), person=person).hash


def _words(text: str, what: str) -> str:
    line = clean_line(text)
    if not line or len(line) > LONGEST_WORDS:
        raise Trouble(f"{what} is not said", allowed=f"1 to {LONGEST_WORDS} characters", do="Say it in a few words.")
    return line
