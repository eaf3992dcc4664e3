"""An unchecked instrument taken in an emergency, by somebody's authority: recorded, never called fit for use.

What is taken thus has to come back like anything handed out, and what was done with it is in doubt until a complete
check after the use has passed. An instrument that is locked out is never offered; if one was used all the same, that is
recorded afterwards. No PIN is asked: whoever must leave at once would go without leaving a record.
"""

from __future__ import annotations

from datetime import datetime
from typing import Final, Literal

from procedures.answers import clean_line
from procedures.journal.envelope import Draft
from procedures.journal.moments import utc_text
from procedures.journal.states import InstrumentState, fitness
from procedures.site import local_time, lookups, returning
from procedures.site.handouts import (
    LONGEST_USE,
    STAYS_HERE,
    back_by_meant,
    instrument_here,
    recorded,
    taker_meant,
    words_of,
)
from procedures.site.opening import Site
from procedures.trouble import Trouble

Reported = Literal["before", "after"]

CAUTION: Final = (
    "Nothing shows that this instrument works. A reading of nothing may mean that it is dead. It never replaces a "
    "checked instrument: follow the radiation safety officer and your emergency procedure, and turn back in doubt."
)


def state_for(site: Site, instrument: str, reported: Reported) -> InstrumentState:
    """The instrument, where its emergency use may be recorded.

    Raises Trouble when it may not go out, not even so: locked out, contaminated, away; and when it is fit for use, so
    that it is handed out as usual. What was used already (`reported` "after") is recorded whatever it is.
    """
    state = instrument_here(site, instrument)
    label = str(state.fields.get("label", "this instrument"))
    if state.handed is not None:
        raise Trouble(
            f"{label} is recorded as handed out",
            allowed="an instrument that is here",
            do="Record first that it is back.",
        )
    if reported == "after":
        return state
    found = fitness(state, site.clock.now().utc)
    if found.word == "locked out":
        said = lookups.as_sentences([reason.say or reason.code for reason in found.reasons]).rstrip(".")
        raise Trouble(
            f"{label} is locked out ({said}): it is not taken, not in an emergency either",
            allowed="an instrument that is not locked out",
            do="Take another one. If it was used all the same, record that as a use reported afterwards.",
        )
    if found.word == "ready":
        raise Trouble(f"{label} is fit for use", allowed="an instrument without a check", do="Hand it out as usual.")
    if state.contaminated:
        raise Trouble(
            f"{label} is contaminated",
            allowed="a clean instrument",
            do="Take another one, and tell the radiation safety officer.",
        )
    if state.whereabouts not in STAYS_HERE:
        raise Trouble(
            f"{label} is recorded as {state.whereabouts}",
            allowed="an instrument that is here",
            do="Take another one, or record first that it came back.",
        )
    return state


def second_meant(site: Site, instrument: str, second: str) -> str:
    """The id of a second instrument that goes along. Raises Trouble for the same one, or one that is locked out."""
    if second == instrument:
        raise Trouble("that is the same instrument", allowed="another instrument", do="Scan the second one.")
    state = instrument_here(site, second)
    if fitness(state, site.clock.now().utc).word == "locked out":
        raise Trouble(
            f"{state.fields.get('label', 'the second instrument')} is locked out",
            allowed="an instrument that is not locked out, or none",
            do="Take another one as second.",
        )
    return second


def used_at_meant(site: Site, used_at: datetime | None) -> datetime:
    """When a use was that is reported afterwards. Raises Trouble unless that was within the last year."""
    now = site.clock.now().utc
    if used_at is None:
        raise Trouble("it is not said when it was used", allowed="a day and a time", do="Enter when it was taken.")
    if not now - LONGEST_USE <= used_at <= now:
        raise Trouble(
            f"it cannot have been used at {local_time.said(site, used_at)}",
            allowed="a time before now, within a year",
            do="Look at the day and the time, and enter them again.",
        )
    return used_at


def record_use(
    site: Site,
    instrument: str,
    person: str,
    *,
    to: str,
    job: str,
    place: str,
    authority: str,
    why: str,
    turn_back: str,
    second: str = "",
    back_by: datetime | None = None,
    reported: Reported = "before",
    is_back: bool = False,
    used_at: datetime | None = None,
) -> str:
    """Record the emergency use of an unchecked instrument; its id comes back.

    `is_back` says of one `reported` afterwards that it is here again: then its return is recorded with it. `used_at`
    says when that use was; nobody need say any more when it was to be turned back. Raises Trouble when it may not be
    (see `state_for`), and when anything that has to be said is not.
    """
    if reported not in ("before", "after"):
        raise Trouble("it is not said when this is recorded", allowed="before the use, or after it", do="Choose one.")
    after = reported == "after"
    last = site.journal.last_about(instrument)
    state = state_for(site, instrument, reported)
    if not person:
        raise Trouble("nobody has said who does this", allowed="a person on the list", do="Scan your badge first.")
    body = {
        "to": taker_meant(site, to),
        "job": words_of(job, "what it is for"),
        "place": words_of(place, "where it goes"),
        "authority": words_of(authority, "by whose authority it is used"),
        "why": words_of(why, "why it cannot be checked first"),
        "second": second_meant(site, instrument, second) if second else None,
        "turn_back": "" if after and not clean_line(turn_back) else words_of(turn_back, "when to turn back"),
        "reported": reported,
        "back_by": utc_text(back_by_meant(site, back_by)) if back_by and not is_back else None,
        "fitness": fitness(state, site.clock.now().utc).word,
    }
    if after:
        body["used_at"] = utc_text(used_at_meant(site, used_at))
    by = taker_meant(site, person)
    drafts = [Draft("emergency-use", body, (instrument, to), person=by)]
    if is_back and after:
        said = {"by": to, "condition": "reported after the use", "check": returning.NOT_DONE, "findings": []}
        drafts.append(Draft("returned", said, (instrument,), person=by))
    return recorded(site, drafts, instrument, last, f"the use of {state.fields.get('label', 'it')} was not recorded")
