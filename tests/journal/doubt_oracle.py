"""Uses in doubt judged by brute force from the words of the design, apart from the program's own fold.

It knows exactly what each writer knew (`past`). What a record cannot show later it does not take into account: only
some kinds of event say what of other stations their writer had seen.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from procedures.journal.envelope import Event

Past = Mapping[str, frozenset[str]]
SAY_WHAT_THEY_SAW = ("opened", "ended", "locked-out", "cleared", "handed-out", "emergency-use", "calibrated")


class DoubtOracle:
    """What is known of one instrument, asked use by use and failure by failure."""

    def __init__(self, instrument: str, known: Iterable[Event], past: Past) -> None:
        self.past = past
        self.events = [one for one in known if instrument in one.about]
        self.opening = {
            one.hash: one for one in self.events if one.kind == "opened" and one.body["instrument"] == instrument
        }

    def doubts(self) -> set[tuple[str, str, str]]:
        """Cause, kind and use."""
        found = set()
        for use in self.events:
            if use.kind not in ("handed-out", "emergency-use"):
                continue
            for cause in self.events:
                for kind in self.failed(cause):
                    if self.in_doubt(use, cause, kind):
                        found.add((cause.hash, kind, use.hash))
            if use.kind == "emergency-use" and not self.made_good(use):
                found.add((use.hash, "unchecked", use.hash))
        return found

    # What events say

    def findings(self, event: Event) -> list[dict[str, Any]]:
        if event.kind == "found":
            return [event.body["finding"]]
        return list(event.body["findings"]) if event.kind == "paper-entered" else []

    def failed(self, event: Event) -> set[str]:
        """Every kind in which this event says that the instrument failed."""
        kinds = set()
        outright = False
        for finding in self.findings(event):
            if finding["outcome"] == "fail" or (finding["as_found"] or {}).get("outcome") == "fail":
                kinds.add(finding["kind"])
            outright = outright or finding["outcome"] == "fail"
        if event.kind == "failed-by-judgement":
            kinds.add(event.body.get("kind", ""))
        if event.kind == "calibrated" and event.body["as_found"] == "outside":
            kinds.add("calibration")
        if event.kind == "returned" and event.body.get("check") == "bad":
            kinds.add("return")
        if event.kind == "locked-out" and event.body.get("by_hand"):
            kinds.add("by hand")
        if event.kind == "paper-entered" and event.body["ending"] == "locked out" and not outright:
            kinds.add("")
        return kinds

    def good(self, event: Event) -> set[str]:
        """Every kind of which this event says that it was looked at and was good."""
        kinds = set()
        for finding in self.findings(event):
            if finding["outcome"] in ("pass", "warn") and (finding["as_found"] or {}).get("outcome") != "fail":
                kinds.add(finding["kind"])
        if event.kind == "calibrated" and event.body["as_found"] == "within":
            kinds.add("calibration")
        if event.kind == "returned" and event.body.get("check") == "good":
            kinds.add("return")
        if event.kind == "ended" and self.passed_wholly(event.body["checkout"]):
            kinds.add("return")
        if event.kind == "paper-entered" and event.body["ending"] == "fit for use":
            kinds.add("return")
        return kinds

    def passed_wholly(self, checkout: str) -> bool:
        """Ended fit for use and in no other way, failed by nobody, not withdrawn."""
        of_it = [one for one in self.events if one.body.get("checkout") == checkout and one.kind != "handed-out"]
        endings = {one.body["ending"] for one in of_it if one.kind == "ended"}
        undone = any(one.kind in ("withdrawn", "failed-by-judgement") for one in of_it)
        return checkout in self.opening and endings == {"fit for use"} and not undone

    def withdrawn(self, event: Event) -> bool:
        checkout = self.checkout(event)
        return any(one.kind == "withdrawn" and one.body["checkout"] == checkout for one in self.events)

    # When it was

    def checkout(self, event: Event) -> str | None:
        return event.body["checkout"] if event.kind in ("found", "failed-by-judgement", "ended") else None

    def when(self, event: Event) -> datetime:
        if event.kind == "paper-entered":
            return min(datetime.fromisoformat(event.body["observed"]), event.utc)
        return event.utc

    def began(self, event: Event) -> Event:
        checkout = self.checkout(event)
        return self.opening.get(checkout, event) if checkout else event

    def knew(self, writer: Event, other: Event) -> bool:
        if writer.station != other.station and writer.kind not in SAY_WHAT_THEY_SAW:
            return False
        return other.hash in self.past[writer.hash]

    def earlier(self, one: Event, other: Event) -> bool:
        if "paper-entered" in (one.kind, other.kind):
            return self.when(one) < self.when(other)
        return one.stamp < other.stamp

    # What follows

    def in_doubt(self, use: Event, cause: Event, kind: str) -> bool:
        if self.knew(use, cause) and (use.kind == "handed-out" or self.known_made_good(use, cause)):
            return False
        for check in self.events:
            alike = "return" if kind == "by hand" else kind
            if alike not in self.good(check) or self.withdrawn(check):
                continue
            if self.checkout(check) is not None and self.checkout(check) == self.checkout(cause):
                continue
            if cause.kind == "paper-entered" and use.utc >= self.when(cause):
                # It was out after what the paper says: a good look must lie between.
                if check.kind == "paper-entered":
                    between = self.when(cause) < self.when(check) < use.utc
                else:
                    between = self.began(check).utc > self.when(cause) and self.knew(use, check)
                    if check.kind == "calibrated":
                        between = between and check.body["on"] > self.when(cause).date().isoformat()
                if between:
                    return False
                continue
            on_paper = check.kind == "paper-entered"
            after = use.utc < self.when(check) if on_paper else self.knew(self.began(check), use)
            if check.kind == "calibrated":
                after = after and check.body["on"] >= use.utc.date().isoformat()
            if after and self.earlier(check, cause):
                return False
        return True

    def known_made_good(self, use: Event, cause: Event) -> bool:
        """Whoever used it in an emergency knew of a whole checkout that passed after the failure, or with it."""
        for ending in self.events:
            if ending.kind == "ended" and self.passed_wholly(ending.body["checkout"]) and self.knew(use, ending):
                opening = self.opening[ending.body["checkout"]]
                if self.checkout(cause) == opening.hash or self.knew(opening, cause):
                    return True
        return False

    def made_good(self, use: Event) -> bool:
        """A whole checkout that knew of the use passed, and no failure that puts the use in doubt came before it."""
        for ending in self.events:
            if ending.kind != "ended" or not self.passed_wholly(ending.body["checkout"]):
                continue
            if not self.knew(self.opening[ending.body["checkout"]], use):
                continue
            if not any(
                self.earlier(cause, ending) and self.in_doubt(use, cause, kind)
                for cause in self.events
                for kind in self.failed(cause)
            ):
                return True
        return False
