"""Checkouts written straight into a journal, for tests of what is read out of many of them."""

from __future__ import annotations

from typing import Any

from procedures.site.opening import Site

HASH = "0" * 64


def opened(site: Site, instrument: str, person: str | None = None) -> str:
    """A checkout that was begun; its id."""
    body = {
        "instrument": instrument,
        "profile": {"id": "mini", "revision": 1, "sha256": HASH},
        "rules": "1",
        "clearings": [],
        "facts": {},
    }
    return site.record("opened", body, about=(instrument,), person=person).hash


def scanned(site: Site, checkout: str, source: str, step: str, visit: int, mark: str = "source-out") -> None:
    """A source scanned as it leaves its store, or comes back."""
    body: dict[str, Any] = {"checkout": checkout, "step": step, "visit": visit, "ask": "source", "text": "S"}
    body |= {"is": source, "mark": mark, "took": None}
    site.record("scanned", body, about=(checkout, source))


def found(
    site: Site,
    checkout: str,
    instrument: str,
    step: str,
    visit: int,
    outcome: str,
    *,
    kind: str = "response",
    observed: float | None = 1.0,
    code: str = "response-out",
) -> None:
    """A finding, between limits of 0.8 and 1.2; no `observed`: off the end of the scale."""
    numbers = [] if observed is None else [("low", 0.8), ("high", 1.2), ("observed", observed)]
    finding = {
        "step": step,
        "kind": kind,
        "outcome": outcome,
        "say": "said",
        "rule": "response 1",
        "code": code if outcome == "fail" else "",
        "missing": "",
        "numbers": [{"name": name, "label": name, "value": str(value), "unit": "mR/h"} for name, value in numbers],
        "as_found": None,
        "tell": [],
        "carry": [],
        "factor": "",
        "shows": [],
        "facts": [],
    }
    body = {"checkout": checkout, "step": step, "visit": visit, "finding": finding}
    site.record("found", body, about=(checkout, instrument))


def ended(site: Site, checkout: str, instrument: str, ending: str) -> None:
    """The ending of a checkout."""
    reasons = [{"code": "response-out", "say": "It reads off.", "step": "response"}] if ending == "locked out" else []
    body: dict[str, Any] = {"checkout": checkout, "ending": ending, "reasons": reasons, "missing": [], "fit_for": {}}
    body |= {"ready_until": None, "warnings": [], "factor": None, "tag": None}
    site.record("ended", body, about=(checkout, instrument))


def failed(site: Site, instrument: str, source: str, observed: float | None, **more: Any) -> str:
    """A checkout whose response failed with this source, which locked the instrument out; its id."""
    checkout = opened(site, instrument)
    scanned(site, checkout, source, "response", 1)
    found(site, checkout, instrument, "response", 1, "fail", observed=observed, **more)
    ended(site, checkout, instrument, "locked out")
    return checkout
