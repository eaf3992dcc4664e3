"""What is due in a state of a checkout, an ask or a finding; and how long nobody was at the instrument. Pure."""

from __future__ import annotations

from procedures.asks import Ask
from procedures.changed import changed
from procedures.checkout import State
from procedures.clock import Instant
from procedures.facts import Facts
from procedures.findings import Finding
from procedures.procedure import Procedure


def facts_now(state: State) -> Facts:
    """The facts as the step being done may see them."""
    step = state.track.step
    return changed(
        state.facts,
        marks=state.marks,
        findings={step_id: made.finding for step_id, made in state.counting().items()},
        first_visit=all(made.finding.step != step for made in state.made),
    )


def due(procedure: Procedure, state: State) -> Ask | Finding | None:
    """The ask that is due, or the finding the answers lead to; None while a remedy is on offer or all is over."""
    track = state.track
    if state.over or track.stop is not None or track.offer is not None:
        return None
    return procedure.steps[track.step](facts_now(state), state.answers)


def due_ask(procedure: Procedure, state: State) -> Ask | None:
    """The ask that is due, or None."""
    found = due(procedure, state)
    return found if isinstance(found, Ask) else None


def dropped(procedure: Procedure, state: State) -> Finding | None:
    """What the answers of the visit in progress show already, should it be given up now; None: nothing bad."""
    look = procedure.dropped.get(state.track.step)
    if look is None or not state.answers or state.over or state.track.stop is not None or state.track.offer is not None:
        return None
    return look(facts_now(state), state.answers)


def gap_since(state: State, now: Instant) -> float:
    """Seconds since somebody was at the instrument, less what was left of a wait that began then.

    The longer of wall time and ticks counts.
    """
    since = state.attended
    wall = (now.utc - since.utc).total_seconds()
    ticks = now.ticks - since.ticks if now.session == since.session else 0.0
    allowed = max(0.0, state.waiting.seconds - state.waiting.credit) if state.waiting else 0.0
    return max(wall, ticks, 0.0) - allowed
