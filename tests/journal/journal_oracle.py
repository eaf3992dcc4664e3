"""Fitness judged by brute force from the words of the design, apart from the program's own folds.

It knows exactly what each writer knew (`past`), not what events claim to have seen, and looks at every pair of events.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from procedures.journal.envelope import Event
from procedures.journal.events import CATALOGUE

Past = Mapping[str, frozenset[str]]
TWO_MINUTES = timedelta(minutes=2)


class Oracle:
    """What is known of one instrument, and what was known to each writer."""

    def __init__(self, instrument: str, known: Iterable[Event], past: Past) -> None:
        self.instrument = instrument
        self.by_hash = {one.hash: one for one in known}
        self.past = past
        everything = list(self.by_hash.values())
        self.openings = [one for one in everything if one.kind == "opened" and one.body["instrument"] == instrument]
        ids = {one.hash for one in self.openings}
        self.mine = [one for one in everything if instrument in one.about or one.body.get("checkout") in ids]

    def knew(self, writer: Event, other: Event) -> bool:
        return other.hash in self.past[writer.hash]

    def of(self, checkout: Event, *kinds: str) -> list[Event]:
        return [one for one in self.mine if one.body.get("checkout") == checkout.hash and one.kind in kinds]

    def endings(self, checkout: Event) -> list[str]:
        return [one.body["ending"] for one in self.of(checkout, "ended")]

    # "A failure cannot be escaped": each lockout as the set of events that made it

    def lockouts(self) -> dict[str, set[Event]]:
        made = {one.hash: {one} for one in self.mine if one.kind == "locked-out"}
        for checkout in self.openings:
            failures = {one for one in self.of(checkout, "found") if one.body["finding"]["outcome"] == "fail"}
            fit = [one for one in self.of(checkout, "ended") if one.body["ending"] == "fit for use"]
            if fit and not self.of(checkout, "withdrawn"):
                # Remedied: whoever ended it fit knew of the failure.
                failures = {one for one in failures if not any(self.knew(ending, one) for ending in fit)}
            failures |= set(self.of(checkout, "failed-by-judgement"))
            failures |= {one for one in self.of(checkout, "ended") if one.body["ending"] == "locked out"}
            if failures:
                made[checkout.hash] = failures
        return made

    def clock_in_doubt(self, event: Event) -> bool:
        """A station whose event is older than one it had seen, by more than the allowance."""
        return any(
            self.by_hash[one].utc - event.utc > TWO_MINUTES for one in self.past[event.hash] if one in self.by_hash
        )

    def passed(self, checkout: Event) -> bool:
        """A complete checkout that passed: one ending, fit; not withdrawn; no failure standing; its clock believed."""
        its_own = [checkout, *(one for one in self.mine if one.body.get("checkout") == checkout.hash)]
        return (
            self.endings(checkout) == ["fit for use"]
            and not self.of(checkout, "withdrawn")
            and checkout.hash not in self.lockouts()
            and not any(self.clock_in_doubt(one) for one in its_own)
        )

    def closed(self, made_by: set[Event], lockout: str) -> bool:
        """A clearing by someone who knew all of it, then a complete checkout that passes, names it and knew both."""
        return any(
            lockout in clearing.body["lockouts"]
            and clearing.hash in check.body["clearings"]
            and all(self.knew(clearing, one) and self.knew(check, one) for one in made_by)
            and self.knew(check, clearing)
            and (not clearing.body["calibration_needed"] or self.calibrated_between(clearing, check))
            and self.passed(check)
            for clearing in self.mine
            if clearing.kind == "cleared"
            for check in self.openings
        )

    def calibrated_between(self, clearing: Event, check: Event) -> bool:
        """After the clearing by whoever recorded it, or at least by its day."""
        day = clearing.utc.date().isoformat()
        return any(
            self.knew(check, one)
            and not self.knew(clearing, one)
            and (self.knew(one, clearing) or one.body["on"] >= day)
            for one in self.mine
            if one.kind == "calibrated"
        )

    def ends_a_readiness(self, event: Event) -> bool:
        if event.kind == "described":
            return bool({"detector", "cable", "profile"} & set(event.body["set"]))
        if event.kind == "found":
            return bool(event.body["finding"]["outcome"] == "fail")
        if event.kind == "ended":
            return bool(event.body["ending"] != "fit for use")
        return event.kind in (
            "opened",
            "locked-out",
            "readiness-ended",
            "withdrawn",
            "failed-by-judgement",
            "calibrated",
            "retired",
            "repaired",
            "emergency-use",
            "paper-entered",
        )

    def word(self, now: datetime) -> str:
        """ready, needs check or locked out."""
        if not all(self.closed(made_by, lockout) for lockout, made_by in self.lockouts().items()):
            return "locked out"
        if any(one.kind not in CATALOGUE or one.kind == "retired" for one in self.mine):
            return "needs check"
        if any(one.utc - now > TWO_MINUTES for one in self.mine):
            return "needs check"
        for check in self.openings:
            if self.passed(check) and all(
                self.knew(check, one)
                for one in self.mine
                if self.ends_a_readiness(one) and one != check and one.body.get("checkout") != check.hash
            ):
                until = self.of(check, "ended")[0].body["ready_until"]
                if until is not None and datetime.fromisoformat(until) > now:
                    return "ready"
        return "needs check"
