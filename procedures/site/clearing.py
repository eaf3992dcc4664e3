"""Lockouts by hand, clearings, and ending an instrument's readiness. Anyone may end trust; few may restore it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Final

from procedures.answers import clean_line
from procedures.asks import Option
from procedures.journal.envelope import Draft
from procedures.journal.store import Overtaken
from procedures.site import obstacles, people
from procedures.site.entries import thing, words
from procedures.site.obstacles import LONGEST_REASON
from procedures.site.opening import Site
from procedures.trouble import Trouble
from procedures.units import shown

CAUSES: Final = (
    Option("dropped", "It was dropped or knocked"),
    Option("cells-changed", "Its cells were changed"),
    Option("cable-changed", "Its cable was changed or unplugged"),
    Option("wet", "It got wet"),
    Option("cold-to-warm", "It came from the cold into the warm"),
    Option("over-range", "It was driven over its range"),
    Option("opened", "Its case was opened"),
    Option("shipped", "It was shipped"),
    Option("other", "Something else"),
)
"""Why readiness may be ended by hand, at any time and by anyone."""

CONTAMINATED: Final = "contaminated"
BY_HAND: Final = "by-hand"
HAND_REASONS: Final = (
    Option("dropped", "It was dropped or knocked"),
    Option(CONTAMINATED, "It is contaminated"),
    Option("smells-hot", "It smells hot or burnt"),
    Option("wet", "It got wet"),
    Option("damaged", "Something on it is broken, loose or missing"),
    Option("reads-oddly", "It reads oddly, or not at all"),
    Option(BY_HAND, "Something else"),
)
"""The common reasons for locking an instrument out by hand."""


def causes() -> tuple[Option, ...]:
    """The causes for ending readiness, in the order a screen shows them."""
    return CAUSES


def end_readiness(site: Site, instrument: str, person: str, cause: str, say: str = "") -> None:
    """End the readiness of an instrument now. It needs a check before its next use."""
    if cause not in {option.value for option in CAUSES}:
        raise Trouble(f"“{shown(cause)}” is not a cause here", allowed="; ".join(option.say for option in CAUSES))
    thing(site, instrument, "instrument")
    thing(site, person, "person")
    body = {"cause": cause, "say": clean_line(say)[:LONGEST_REASON]}
    site.record("readiness-ended", body, about=(instrument,), person=person)


def reason_text(say: str) -> str:
    """A reason in a person's own words. Raises Trouble when it is empty or too long."""
    line = clean_line(say)
    if not line or len(line) > LONGEST_REASON:
        raise Trouble(
            "a reason is needed", allowed=f"1 to {LONGEST_REASON} characters", do="Say what is wrong with it."
        )
    return line


def lock_by_hand(site: Site, instrument: str, person: str, say: str, code: str = BY_HAND, tag: str = "") -> str:
    """Lock an instrument out by hand; the lockout's id comes back. Possible for anyone at any time.

    `tag` is the number of the tag that is hung on it. One that is locked out as contaminated is recorded as
    contaminated besides: a clearing alone does not make it clean.
    """
    thing(site, instrument, "instrument")
    thing(site, person, "person")
    reason = {"code": words("reason code", code), "say": reason_text(say)}
    body = {"reasons": [reason], "tag": words("tag", tag, LONGEST_TAG, needed=False), "by_hand": True}
    drafts = [Draft("locked-out", body, (instrument,), person=person)]
    if reason["code"] == CONTAMINATED:
        drafts.append(Draft("contamination", {"found": True, "say": reason["say"]}, (instrument,), person=person))
    return site.journal.append(drafts, site.clock.now())[0].hash


def hand_reason(code: str, say: str) -> str:
    """What is recorded of one of HAND_REASONS and a person's own words. Raises Trouble where words are needed."""
    known = next((option.say for option in HAND_REASONS if option.value == code), None)
    if known is None:
        raise Trouble(
            f"“{shown(code)}” is not a reason here",
            allowed="; ".join(option.say for option in HAND_REASONS),
            do="Choose one.",
        )
    own = clean_line(say)
    if code == BY_HAND:
        return reason_text(own)
    return reason_text(f"{known}. {own}" if own else f"{known}.")


NOT_SAID: Final = "not said"
NOTHING_REPAIRED: Final = "nothing was repaired"
LONGEST_TAG: Final = 60
ENTERED_IN_ERROR: Final = "entered in error"


def clear(
    site: Site,
    instrument: str,
    person: str,
    *,
    lockouts: Sequence[str],
    cause: str,
    action: str,
    parts: str = "",
    calibration_needed: bool = False,
    not_before: datetime | None = None,
    pin: str | None = None,
    repaired_by: str = "",
    nothing_repaired: bool = False,
    second: str = "",
    second_pin: str | None = None,
) -> str:
    """Record the corrective action that answers these lockouts; its id comes back.

    The instrument stays locked out until a complete checkout that names this clearing ends fit for use. `repaired_by`
    is the id of whoever repaired it, or words for somebody who is not on the list; `nothing_repaired` says that there
    was no repair. Raises Trouble unless a lead clears (with their `pin` where the site asks for PINs), every named
    lockout is open, the time it must last is over, and what the site's settings ask for is there: somebody else than
    who repaired it, a `second` person, a calibration.
    """
    last = site.journal.last_about(instrument)
    named = obstacles.named(site, instrument, lockouts)
    people.entitled(site, person, "clear")
    obstacles.has_lasted(site, lockouts)
    settings = site.settings()
    if nothing_repaired:
        obstacles.has_no_repair(repaired_by, parts)
    repairer = "" if nothing_repaired else obstacles.who_repaired(site, person, repaired_by, settings)
    body = {
        "lockouts": list(lockouts),
        "cause": reason_text(cause),
        "action": reason_text(action),
        "parts": clean_line(parts),
        "calibration_needed": calibration_needed,
        "not_before": not_before.strftime("%Y-%m-%dT%H:%M:%S.%fZ") if not_before else None,
        "repaired_by": repairer or None,
        "by_repairer": _by_repairer(repairer, person, nothing_repaired),
        "second": second or None,
    }
    if second:
        obstacles.is_second(site, second, person, repairer)
    else:
        obstacles.has_two(settings, named)
    if not calibration_needed:
        obstacles.is_calibrated(site, instrument, named, obstacles.codes(settings["calibration_for"]))
    _confirmed(site, person, pin, second, second_pin)
    return _recorded(site, instrument, last, Draft("cleared", body, (instrument,), person=person))


def _by_repairer(repairer: str, person: str, nothing_repaired: bool) -> str:
    """Whether whoever repaired it clears it, as the journal says that."""
    if nothing_repaired:
        return NOTHING_REPAIRED
    return ("yes" if repairer == person else "no") if repairer else NOT_SAID


def strike(
    site: Site,
    instrument: str,
    person: str,
    *,
    lockout: str,
    why: str,
    second: str,
    pin: str | None = None,
    second_pin: str | None = None,
) -> str:
    """Record that a lockout was entered in error; the id of its clearing comes back.

    A lead and a second person stand for it. The entry is kept, and shown as struck; the instrument stays locked out
    until a complete checkout that names the clearing ends fit for use. A reason that the site wants calibrated first,
    or that must last, is so here too: nothing shows better than those that it was an error.
    """
    last = site.journal.last_about(instrument)
    named = obstacles.named(site, instrument, [lockout])
    people.entitled(site, person, "clear")
    obstacles.is_second(site, second, person, "")
    obstacles.has_lasted(site, [lockout])
    obstacles.is_calibrated(site, instrument, named, obstacles.codes(site.settings()["calibration_for"]))
    cleared = {
        "lockouts": [lockout],
        "cause": ENTERED_IN_ERROR,
        "action": reason_text(why),
        "parts": "",
        "calibration_needed": False,
        "not_before": None,
        "repaired_by": None,
        "by_repairer": NOTHING_REPAIRED,
        "second": second,
    }
    struck = {"entry": lockout, "why": reason_text(why), "second": second}
    _confirmed(site, person, pin, second, second_pin)
    return _recorded(
        site,
        instrument,
        last,
        Draft("cleared", cleared, (instrument,), person=person),
        Draft("struck", struck, (instrument, lockout), person=person),
    )


def _recorded(site: Site, instrument: str, last: str, *drafts: Draft) -> str:
    """Record these together; the id of the first. Raises Trouble when something about it came in since `last`."""
    try:
        return site.journal.append(drafts, site.clock.now(), expect=(instrument, last))[0].hash
    except Overtaken:
        raise Trouble(
            "something about it came in meanwhile; nothing was cleared",
            allowed="a clearing by somebody who knows all that is wrong with it",
            do="Look at its lockouts again, then clear.",
        ) from None


def _confirmed(site: Site, person: str, pin: str | None, second: str, second_pin: str | None) -> None:
    """PINs come last: a clearing that could not be recorded anyway costs nobody a try."""
    people.confirm(site, person, pin)
    if second:
        people.confirm(site, second, second_pin)
