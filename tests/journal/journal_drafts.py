"""Drafts of events with plausible bodies, so that a test says only what matters to it. All data invented."""

from __future__ import annotations

from typing import Any

from procedures.journal.envelope import Draft

SHA = "0" * 64


def instrument(label: str = "C-101", **fields: str) -> Draft:
    body = {"serial": "1", "type": "ion chamber", "profile": "chamber", "detector": "", "cable": "", **fields}
    return Draft("registered", {"what": "instrument", "label": label, **body})


def source(label: str = "S-7") -> Draft:
    body = {"serial": "9", "nuclide": "Cs-137", "activity": "0.3 MBq", "activity_on": "2030-01-01"}
    return Draft("registered", {"what": "source", "label": label, **body, "emits": "gamma", "strength": ""})


def jig(label: str = "J-1") -> Draft:
    return Draft("registered", {"what": "jig", "label": label})


def person(label: str = "P-1", *roles: str) -> Draft:
    body = {"name": "A. Person", "initials": "AP", "roles": list(roles), "trained_until": None}
    return Draft("registered", {"what": "person", "label": label, **body})


def opened(instrument_id: str, *, clearings: tuple[str, ...] = (), person_id: str | None = None) -> Draft:
    profile = {"id": "chamber", "revision": 1, "sha256": SHA}
    body = {"instrument": instrument_id, "profile": profile, "rules": "1", "clearings": list(clearings), "facts": {}}
    return Draft("opened", body, (instrument_id,), person=person_id)


def answered(checkout: str, value: object = "in the band", **more: Any) -> Draft:
    body = {"checkout": checkout, "step": "battery", "visit": 1, "ask": "rest", "value": value, "took": 2.5}
    return Draft("answered", {**body, "hasty": False, "mark": None, **more}, (checkout,))


def scanned(checkout: str, thing: str | None, mark: str | None) -> Draft:
    body = {"checkout": checkout, "step": "response", "visit": 1, "ask": "source", "text": "S-7", "is": thing}
    about = (checkout,) if thing is None or mark is None else (checkout, thing)
    return Draft("scanned", {**body, "mark": mark, "took": 1.5}, about)


def found(
    checkout: str, instrument_id: str, outcome: str = "pass", *, kind: str = "battery", as_found: str | None = None
) -> Draft:
    first = None if as_found is None else {"outcome": as_found}
    finding = {"outcome": outcome, "code": f"{kind}-bad", "kind": kind, "step": kind, "as_found": first}
    body = {"checkout": checkout, "step": kind, "visit": 1, "finding": finding}
    return Draft("found", body, (checkout, instrument_id))


def judged(checkout: str, instrument_id: str) -> Draft:
    body = {"checkout": checkout, "step": "battery", "code": "dented", "say": "It is dented."}
    return Draft("failed-by-judgement", body, (checkout, instrument_id))


def ended(
    checkout: str, instrument_id: str, ending: str = "fit for use", *, until: str | None = None, code: str = ""
) -> Draft:
    body: dict[str, Any] = {"checkout": checkout, "ending": ending, "missing": [], "fit_for": {"gamma": ["x1"]}}
    body |= {"ready_until": until, "warnings": [], "factor": None, "tag": None}
    body["reasons"] = [{"code": code, "say": f"because of {code}", "step": "battery"}] if code else []
    return Draft("ended", body, (checkout, instrument_id))


def withdrawn(checkout: str, instrument_id: str) -> Draft:
    return Draft("withdrawn", {"checkout": checkout, "why": "wrong item"}, (checkout, instrument_id))


def locked_out(instrument_id: str, code: str = "dropped") -> Draft:
    return Draft(
        "locked-out", {"reasons": [{"code": code, "say": code}], "tag": "T1", "by_hand": True}, (instrument_id,)
    )


def cleared(
    instrument_id: str, *lockouts: str, calibration_needed: bool = False, not_before: str | None = None
) -> Draft:
    body = {"lockouts": list(lockouts), "cause": "cells", "action": "fresh-cells", "parts": []}
    more = {"calibration_needed": calibration_needed, "not_before": not_before}
    return Draft("cleared", {**body, **more}, (instrument_id,))


def readiness_ended(instrument_id: str) -> Draft:
    return Draft("readiness-ended", {"cause": "dropped", "say": ""}, (instrument_id,))


def calibrated(
    instrument_id: str, *, on: str = "2031-04-01", due: str | None = "2032-04-01", as_found: str = "within"
) -> Draft:
    body = {"on": on, "due": due, "by": "the laboratory", "certificate": "K-1", "as_found": as_found}
    return Draft("calibrated", body, (instrument_id,))


def described(thing: str, **fields: Any) -> Draft:
    return Draft("described", {"set": fields}, (thing,))


def retired(thing: str) -> Draft:
    return Draft("retired", {"why": "worn out"}, (thing,))


def placed(thing: str, whereabouts: str = "here", where: str = "shelf") -> Draft:
    return Draft("placed", {"whereabouts": whereabouts, "where": where}, (thing,))


def handed_out(instrument_id: str, to: str, checkout: str | None = None) -> Draft:
    body = {"to": to, "job": "survey", "place": "hall", "checkout": checkout, "until": None}
    return Draft("handed-out", body, (instrument_id, to))


def emergency_use(instrument_id: str, to: str, *, back_by: str | None = None) -> Draft:
    body = {"to": to, "job": "rescue", "place": "cellar", "authority": "shift lead", "why": "no time", "second": None}
    return Draft("emergency-use", {**body, "turn_back": "0.1 mSv/h", "back_by": back_by}, (instrument_id, to))


def returned(instrument_id: str, check: str | None = None) -> Draft:
    body: dict[str, Any] = {"by": None, "condition": "good"}
    return Draft("returned", body if check is None else {**body, "check": check}, (instrument_id,))


def paper_entered(
    instrument_id: str, by: str, observed: str, *outcomes: tuple[str, str], ending: str = "fit for use"
) -> Draft:
    """A check on paper; `outcomes`: kind of step and what came of it, "as found" for a failure put right at once."""
    findings = [
        {
            "outcome": "pass" if outcome == "as found" else outcome,
            "code": f"{kind}-bad",
            "kind": kind,
            "step": kind,
            "as_found": {"outcome": "fail"} if outcome == "as found" else None,
        }
        for kind, outcome in outcomes
    ]
    profile = {"id": "chamber", "revision": 1, "sha256": SHA}
    body = {"form": "F-1", "profile": profile, "observed": observed, "observed_by": by, "answers": []}
    return Draft("paper-entered", {**body, "ending": ending, "findings": findings}, (instrument_id, by))


def repaired(instrument_id: str, *, voids_calibration: bool = False) -> Draft:
    body = {"on": "2031-04-05", "by": "the workshop", "what": "a new meter movement"}
    return Draft("repaired", {**body, "voids_calibration": voids_calibration}, (instrument_id,))


def reviewed(instrument_id: str, cause: str, use: str) -> Draft:
    return Draft("use-reviewed", {"cause": cause, "use": use, "note": "surveyed again"}, (instrument_id, cause, use))


def counted(source_id: str, *, there: bool = True, where: str = "safe") -> Draft:
    return Draft("counted", {"on": "2031-04-05", "found": there, "where": where}, (source_id,))


def condition(source_id: str, word: str = "good") -> Draft:
    return Draft("source-condition", {"condition": word, "say": f"it is {word}"}, (source_id,))


def contamination(instrument_id: str, found_some: bool) -> Draft:
    return Draft("contamination", {"found": found_some, "say": ""}, (instrument_id,))


def adopted(profile: str = "chamber", revision: int = 1, replaces: tuple[str, ...] = ()) -> Draft:
    body = {"profile": profile, "revision": revision, "title": "Chamber", "sha256": SHA, "text": "format = 1"}
    return Draft("profile-adopted", {**body, "replaces": list(replaces)}, (f"profile:{profile}",))


def note(*about: str) -> Draft:
    return Draft("note", {"text": "a note"}, about)
