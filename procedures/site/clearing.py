"""Lockouts by hand, clearings, and ending an instrument's readiness. Anyone may end trust; few may restore it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Final

from procedures.answers import clean_line
from procedures.asks import Option
from procedures.site import lookups
from procedures.site.opening import Site
from procedures.trouble import Trouble

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
        raise Trouble(f"{cause!r} is not a cause here", allowed="; ".join(option.say for option in CAUSES))
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
    body = {"reasons": [{"code": code, "say": reason_text(say)}], "tag": tag}
    return site.record("locked-out", body, about=(instrument,), person=person).hash


def _must_last_until(site: Site, lockout: str) -> datetime | None:
    for event in site.journal.checkout_events(lockout):
        if event.kind == "ended" and event.body.get("not_before"):
            return datetime.fromisoformat(event.body["not_before"])
    return None


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
) -> str:
    """Record the corrective action that answers these lockouts; its id comes back.

    The instrument stays locked out until a complete checkout that names this clearing ends fit for use. Raises Trouble
    unless a lead clears, every named lockout is open, and the time it must last is over.
    """
    state = site.journal.instrument_now(instrument)
    open_now = {each.id: each for each in state.lockouts if each.status != "closed"}
    unknown = [each for each in lockouts if each not in open_now]
    if unknown or not lockouts:
        raise Trouble(
            "there is no such open lockout" if unknown else "no lockout is named",
            do="Look at the instrument's lockouts.",
        )
    if "lead" not in lookups.roles(site, person):
        raise Trouble("only a site lead may clear a lockout", do="Ask the site lead.")
    now = site.clock.now().utc
    for each in lockouts:
        earliest = _must_last_until(site, each)
        if earliest is not None and now < earliest:
            raise Trouble(
                f"this lockout must last until {earliest:%Y-%m-%d %H:%M} UTC",
                do="Wait: what was changed needs that long to work.",
            )
    body = {
        "lockouts": list(lockouts),
        "cause": reason_text(cause),
        "action": reason_text(action),
        "parts": clean_line(parts),
        "calibration_needed": calibration_needed,
        "not_before": not_before.strftime("%Y-%m-%dT%H:%M:%S.%fZ") if not_before else None,
    }
    return site.record("cleared", body, about=(instrument,), person=person).hash
