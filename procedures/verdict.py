"""How a checkout ends, and the last look before an instrument is called fit for use. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from procedures.checkout import State
from procedures.clock import Instant
from procedures.findings import COUNTS_AS_PASS, Finding
from procedures.procedure import Procedure
from procedures.readiness import end_of_day, ready_until, zone_of
from procedures.reasons import reason
from procedures.routing import Standing
from procedures.trouble import Trouble


def stopped(procedure: Procedure, state: State, now: Instant) -> dict[str, Any]:
    """The body of the `ended` event of a checkout whose track has stopped. ValueError when it has not."""
    stop = state.track.stop
    if stop is None:
        raise ValueError("the checkout has not come to an end")
    missing = tuple(_missing_words(procedure, state, step) for step in stop.missing)
    if stop.ending != "fit for use":
        return _ending_body(procedure, state, stop.ending, stop.standing, missing, now)
    try:
        reasons = why_not_fit(procedure, state, now)
        if not reasons:
            return _ending_body(procedure, state, "fit for use", (), (), now)
    except Trouble as trouble:
        # Settings that say not until when: then it is not fit for use at all.
        reasons = (trouble.what,)
    return _ending_body(procedure, state, "not checked", (), reasons, now)


def abandoned(procedure: Procedure, state: State, why: str, now: Instant) -> dict[str, Any]:
    """The body of the `ended` event of a checkout that is given up: after any failed finding that locks out."""
    failed = state.track.ever_failed
    if failed:
        standing = (*failed, Standing(state.track.step, "abandoned-after-failure"))
        body = _ending_body(procedure, state, "locked out", standing, (), now)
        if why:
            given_up = body["reasons"][-1]
            given_up["say"] = f"{given_up['say'].rstrip('.')}: {why}"
        return body
    return _ending_body(procedure, state, "abandoned", (), (why,) if why else (), now)


def _missing_words(procedure: Procedure, state: State, step: str) -> str:
    latest = next((made.finding for made in reversed(state.made) if made.finding.step == step), None)
    if latest is not None and latest.missing:
        return latest.missing
    return f"no pass that counts for: {procedure.titles.get(step, step)}"


def why_not_fit(procedure: Procedure, state: State, now: Instant) -> tuple[str, ...]:
    """Why a checkout that reached its end is not fit for use all the same, whatever its profile's proof said.

    Looks only at the findings themselves: every required step's latest one must be a pass that is not stale.
    """
    reasons = []
    latest = {made.finding.step: made for made in state.made}
    for step in procedure.plan.required:
        made = latest.get(step)
        if made is None or made.finding.outcome not in COUNTS_AS_PASS or step not in state.track.counting:
            reasons.append(_missing_words(procedure, state, step))
        elif not timedelta() <= now.utc - made.at <= timedelta(seconds=procedure.lasts):
            reasons.append(f"the pass is too old: {procedure.titles.get(step, step)}")
    if state.doubt:
        reasons.append(state.doubt)
    if state.withdrawn:
        reasons.append(f"the checkout was withdrawn: {state.withdrawn}")
    made_facts = state.facts.instrument
    if made_facts.calibration_due is None:
        reasons.append("no calibration is recorded")
    elif now.utc >= end_of_day(made_facts.calibration_due, zone_of(state.facts.settings.get("zone", "Etc/UTC"))):
        reasons.append(f"the calibration ended on {made_facts.calibration_due.isoformat()}")
    return tuple(reasons)


def _ending_body(
    procedure: Procedure,
    state: State,
    ending: str,
    standing: tuple[Standing, ...],
    missing: tuple[str, ...],
    now: Instant,
) -> dict[str, Any]:
    counting = state.counting()
    fit = ending == "fit for use"
    findings = [made.finding for made in counting.values()] if fit else []
    until = None
    if fit:
        oldest = min(made.at for step, made in counting.items() if procedure.plan.step(step).required)
        settings = state.facts.settings
        until = ready_until(oldest, procedure.lasts, now.utc, settings, state.facts.instrument.calibration_due)
    lasting = max((procedure.not_before.get(each.step, 0.0) for each in standing), default=0.0)
    return {
        "ending": ending,
        "reasons": [
            {"code": each.code, "say": reason_words(procedure, state, each), "step": each.step} for each in standing
        ],
        "missing": list(missing),
        "fit_for": {
            "measures": list(procedure.measures) if fit else [],
            "not_for": list(procedure.not_for) if fit else [],
            "scales": shown_scales(procedure, findings) if fit else {},
        },
        "ready_until": until.at.strftime("%Y-%m-%dT%H:%M:%S.%fZ") if until else None,
        "ready_until_why": until.why if until else "",
        "warnings": [*procedure.warnings, *(line for each in findings for line in each.carry)] if fit else [],
        "tell": [line for made in state.made for line in made.finding.tell],
        "factor": next((each.factor for each in findings if each.factor), None),
        "not_before": (now.utc + timedelta(seconds=lasting)).strftime("%Y-%m-%dT%H:%M:%S.%fZ") if lasting else None,
        "tag": f"T-{state.checkout[:8].upper()}" if ending == "locked out" else "",
    }


def reason_words(procedure: Procedure, state: State, standing: Standing) -> str:
    """What the person who failed it said, what the finding with this code said, or the declared words of the code."""
    if state.judged and standing == state.track.standing[-1]:
        return state.judged
    own = procedure.plan.step(standing.step).lockout
    for made in reversed(state.made):
        found = made.finding
        if found.step == standing.step and found.outcome == "fail" and (found.code or own) == standing.code:
            return found.say
    return reason(standing.code, procedure.reasons).say


def shown_scales(procedure: Procedure, findings: Sequence[Finding]) -> dict[str, str]:
    """For each scale how this checkout showed that it works: "source", "zero" or "not shown"."""
    shown = {each.selector.name: "not shown" for each in procedure.scales}
    for how in ("zero", "source"):
        for finding in findings:
            shown.update({scale: how for scale, by in finding.shows if by == how and scale in shown})
    return shown


def not_checked_after_all(missing: Sequence[str]) -> dict[str, Any]:
    """What changes in the body of an `ended` that said fit for use when something else speaks against it."""
    return {
        "ending": "not checked",
        "missing": list(missing),
        "fit_for": {"measures": [], "not_for": [], "scales": {}},
        "ready_until": None,
        "ready_until_why": "",
        "warnings": [],
        "factor": None,
    }
