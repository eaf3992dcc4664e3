"""Lockouts by hand, clearings, and ending an instrument's readiness. Anyone may end trust; few may restore it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Final

from procedures.answers import clean_line
from procedures.asks import Option
from procedures.journal.envelope import Draft, Event
from procedures.journal.fields import is_hash
from procedures.journal.states import Lockout
from procedures.site import people
from procedures.site.entries import thing, words
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

LONGEST_REASON: Final = 300


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


def lock_by_hand(site: Site, instrument: str, person: str, say: str, code: str = "by-hand", tag: str = "") -> str:
    """Lock an instrument out by hand; the lockout's id comes back. Possible for anyone at any time."""
    thing(site, instrument, "instrument")
    thing(site, person, "person")
    reason = {"code": words("reason code", code), "say": reason_text(say)}
    body = {"reasons": [reason], "tag": words("tag", tag, needed=False)}
    return site.record("locked-out", body, about=(instrument,), person=person).hash


NOT_SAID: Final = "not said"
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
    second: str = "",
    second_pin: str | None = None,
) -> str:
    """Record the corrective action that answers these lockouts; its id comes back.

    The instrument stays locked out until a complete checkout that names this clearing ends fit for use. `repaired_by`
    is the id of whoever repaired it, or words for somebody who is not on the list. Raises Trouble unless a lead clears
    (with their `pin` where the site asks for PINs), every named lockout is open, the time it must last is over, and
    what the site's settings ask for is there: somebody else than who repaired it, a `second` person, a calibration.
    """
    named = _named(site, instrument, lockouts)
    people.entitled(site, person, "clear")
    _has_lasted(site, lockouts)
    settings = site.settings()
    repairer = _repairer(site, person, repaired_by, settings)
    body = {
        "lockouts": list(lockouts),
        "cause": reason_text(cause),
        "action": reason_text(action),
        "parts": clean_line(parts),
        "calibration_needed": calibration_needed,
        "not_before": not_before.strftime("%Y-%m-%dT%H:%M:%S.%fZ") if not_before else None,
        "repaired_by": repairer or None,
        "by_repairer": ("yes" if repairer == person else "no") if repairer else NOT_SAID,
        "second": second or None,
    }
    if second:
        _is_second(site, second, person, repairer)
    elif _codes(settings["two_people_for"]) & _all_codes(named):
        raise Trouble("two people have to clear this", allowed=TWO_PEOPLE, do="Ask a second person to be present.")
    if not calibration_needed:
        _is_calibrated(site, instrument, named, _codes(settings["calibration_for"]))
    _confirmed(site, person, pin, second, second_pin)
    return site.record("cleared", body, about=(instrument,), person=person).hash


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
    named = _named(site, instrument, [lockout])
    people.entitled(site, person, "clear")
    _is_second(site, second, person, "")
    _has_lasted(site, [lockout])
    _is_calibrated(site, instrument, named, _codes(site.settings()["calibration_for"]))
    cleared = {
        "lockouts": [lockout],
        "cause": ENTERED_IN_ERROR,
        "action": reason_text(why),
        "parts": "",
        "calibration_needed": False,
        "not_before": None,
        "repaired_by": None,
        "by_repairer": "nothing was repaired",
        "second": second,
    }
    struck = {"entry": lockout, "why": reason_text(why), "second": second}
    _confirmed(site, person, pin, second, second_pin)
    drafts = (
        Draft("cleared", cleared, (instrument,), person=person),
        Draft("struck", struck, (instrument, lockout), person=person),
    )
    return site.journal.append(drafts, site.clock.now())[0].hash


# --- what stands in the way ----------------------------------------------------------------------------------------

TWO_PEOPLE: Final = "a lead, and a second person on the list whose training is valid and who did not repair it"


def _named(site: Site, instrument: str, lockouts: Sequence[str]) -> tuple[Lockout, ...]:
    open_now = {each.id: each for each in site.journal.instrument_now(instrument).lockouts if each.status != "closed"}
    unknown = [each for each in lockouts if each not in open_now]
    if unknown or not lockouts:
        raise Trouble(
            "there is no such open lockout" if unknown else "no lockout is named",
            do="Look at the instrument's lockouts.",
        )
    return tuple(open_now[each] for each in lockouts)


def _has_lasted(site: Site, lockouts: Sequence[str]) -> None:
    now = site.clock.now().utc
    for each in lockouts:
        earliest = _must_last_until(site, each)
        if earliest is not None and now < earliest:
            raise Trouble(
                f"this lockout must last until {earliest:%Y-%m-%d %H:%M} UTC",
                do="Wait: what was changed needs that long to work.",
            )


def _must_last_until(site: Site, lockout: str) -> datetime | None:
    for event in site.journal.checkout_events(lockout):
        if event.kind == "ended" and event.body.get("not_before"):
            return datetime.fromisoformat(event.body["not_before"])
    return None


def _repairer(site: Site, person: str, repaired_by: str, settings: Mapping[str, str]) -> str:
    """Who repaired it: an id, or words. Raises Trouble where whoever repaired may not clear, and this one may have."""
    repairer = repaired_by if is_hash(repaired_by) else _on_the_list(site, clean_line(repaired_by)[:LONGEST_REASON])
    if is_hash(repairer) and site.journal.thing_now(repairer).what != "person":
        raise Trouble("whoever is said to have repaired it is not known here", do="Name a person or a workshop.")
    if settings["repairer_may_clear"] != "yes":
        if not repairer:
            raise Trouble(
                "who repaired it is not said",
                allowed="a person on the list, or the name of a workshop",
                do="Say who repaired it: whoever repaired it does not clear it.",
            )
        if repairer == person:
            raise Trouble("whoever repaired it does not clear it", allowed="another site lead", do="Ask another lead.")
    return repairer


def _on_the_list(site: Site, words: str) -> str:
    """The id of the person who is meant by these words, if anybody on the list is; else the words."""
    meant = words.casefold()
    rows = site.journal.people(limit=-1)
    fits = [row.id for row in rows if meant in {each.casefold() for each in (row.label, row.initials, row.name)}]
    return fits[0] if len(fits) == 1 else words


def _is_second(site: Site, second: str, person: str, repaired_by: str) -> None:
    if second in (person, repaired_by):
        raise Trouble("the second person is one of the two already", allowed=TWO_PEOPLE, do="Ask somebody else.")
    why_not = people.may(site, second, "check")
    if why_not:
        raise Trouble(f"the second person may not stand for this: {why_not}", allowed=TWO_PEOPLE, do="Ask another.")


def _confirmed(site: Site, person: str, pin: str | None, second: str, second_pin: str | None) -> None:
    """PINs come last: a clearing that could not be recorded anyway costs nobody a try."""
    people.confirm(site, person, pin)
    if second:
        people.confirm(site, second, second_pin)


def _codes(setting: str) -> frozenset[str]:
    return frozenset(code.strip() for code in setting.split(",") if code.strip())


def _all_codes(lockouts: Sequence[Lockout]) -> frozenset[str]:
    return frozenset(reason.code for lockout in lockouts for reason in lockout.reasons)


def _is_calibrated(site: Site, instrument: str, lockouts: Sequence[Lockout], codes: frozenset[str]) -> None:
    """Raises Trouble unless a calibration was recorded since each lockout for a reason that needs one.

    Only what this station wrote one after the other is known to be so; for the lockout of another one the clearing has
    to ask for a calibration itself.
    """
    needing = [each for each in lockouts if codes & _all_codes([each])]
    if not needing:
        return
    state = site.journal.instrument_now(instrument).calibration
    calibrated = site.journal.by_hash(state.event) if state else None
    for each in needing:
        made = _last_of(site, each.id)
        if calibrated is None or made is None or made.station != calibrated.station or made.seq > calibrated.seq:
            raise Trouble(
                "for this reason the instrument has to be calibrated first",
                allowed="a calibration recorded here after the lockout, or a clearing that says one is needed",
                do="Record the calibration, then clear.",
            )


def _last_of(site: Site, lockout: str) -> Event | None:
    """The last event of a lockout: it was made by hand in one, or by a checkout in several."""
    events = [event for event in site.journal.checkout_events(lockout) if event.body.get("checkout") == lockout]
    return events[-1] if events else site.journal.by_hash(lockout)
