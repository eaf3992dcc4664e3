"""Runs told move by move, in which an engine goes wrong easily. Each is small enough to be read and followed."""

from __future__ import annotations

from typing import Final

from run_bench import PAUSE, Case, Move, Stub

from procedures.routing import SENDER_STANDS, Remedy

PASS: Final = Move("step", "pass")
FAIL: Final = Move("step", "fail")
LONG: Final = Move("time", PAUSE + 60)

ONE_STEP: Final = (Stub("a"),)
TWO_STEPS: Final = (Stub("a"), Stub("b"))

PAUSED_AFTER_A_LONG_GAP: Final = Case(
    TWO_STEPS, (PASS, LONG, Move("pause"), Move("resume", ("A", False)), PASS), ready_ends="profile"
)
"""Nobody was there for longer than allowed, and then somebody pressed pause."""

SLEPT_THROUGH_A_WAIT: Final = Case(
    (Stub("a"), Stub("b", ("settle",))), (PASS, Move("time", 3600.0), Move("tick"), PASS), ready_ends="profile"
)
"""The laptop slept for an hour in a wait of minutes: the wait is kept, what passed before it is stale."""

HELD_AFTER_A_LONG_GAP: Final = Case(
    (Stub("a"), Stub("b", ("hold",))), (PASS, LONG, Move("press"), PASS), ready_ends="profile"
)
"""The button is pressed after a long gap."""

LET_GO_AFTER_A_LONG_GAP: Final = Case(
    (Stub("a"), Stub("b", ("hold",))), (PASS, Move("press"), LONG, Move("let go"), PASS), ready_ends="profile"
)
"""A hold is broken after a long gap: the break must not hide the gap."""

NOTED_AFTER_A_LONG_GAP: Final = Case(TWO_STEPS, (PASS, LONG, Move("note", True), PASS), ready_ends="profile")
"""A remark, perhaps by somebody at a desk, does not show that anybody was at the instrument."""

CREDIT_TAKEN_FOR_WAITING: Final = Case(
    (Stub("a", ("switch-on",)), Stub("b", ("warm-up",))),
    (Move("ask", "pass"), Move("time", 110.0), Move("ask", "pass"), LONG, Move("crash"), PASS),
    ready_ends="profile",
)
"""Only what was left of a wait may be taken off a gap, not what had been credited when it began."""

SET_BACK_BIT_BY_BIT: Final = Case(
    (Stub("a"), Stub("b"), Stub("c")),
    (PASS, Move("time", 300.0), Move("wall", -100.0), PASS, Move("time", 300.0), Move("wall", -100.0), PASS),
)
"""Twice 100 s is more than the 120 s that leave a clock in doubt."""

SET_BACK_WHILE_HOLDING: Final = Case(
    (Stub("a", ("hold",)),), (Move("press"), Move("wall", -3600.0), Move("let go"), PASS)
)
"""A broken hold is no reason to overlook that the clock was set back an hour."""

ANOTHER_STEPS_REMEDY: Final = Case(
    (
        Stub("a", on_fail="d"),
        Stub("d", required=False, on_fail="e", on_pass=SENDER_STANDS),
        Stub("e", required=False, on_pass=SENDER_STANDS, remedies=(Remedy("fresh-cells", "Do it.", "a"),)),
    ),
    (FAIL, FAIL, FAIL, Move("remedy", True), PASS),
)
"""A diagnostic step found something broken. A remedy of something else does not mend it."""

BACK_BY_ON_FAIL: Final = Case((Stub("a", on_fail="a"),), (FAIL, PASS))
"""Trying again until it passes."""

BACK_BY_ON_PASS: Final = Case((Stub("d", required=False, on_pass="a"), Stub("a", on_fail="d")), (FAIL, PASS, PASS))
"""The diagnostic step finds nothing and leads back to the step that failed."""

RESTARTED_OUT_OF_A_BRANCH: Final = Case(
    (Stub("a", on_fail="d"), Stub("d", required=False, on_pass="b"), Stub("b")),
    (FAIL, PASS, LONG, PASS, PASS, PASS),
    ready_ends="profile",
)
"""A long pause after the branch sends back to the first step, which failed, and no remedy was ever carried out."""

PROPER: Final[dict[str, Case]] = {
    "paused after a long gap": PAUSED_AFTER_A_LONG_GAP,
    "slept through a wait": SLEPT_THROUGH_A_WAIT,
    "held after a long gap": HELD_AFTER_A_LONG_GAP,
    "let go after a long gap": LET_GO_AFTER_A_LONG_GAP,
    "noted after a long gap": NOTED_AFTER_A_LONG_GAP,
    "credit taken for waiting": CREDIT_TAKEN_FOR_WAITING,
    "set back bit by bit": SET_BACK_BIT_BY_BIT,
    "set back while holding": SET_BACK_WHILE_HOLDING,
    "another step's remedy": ANOTHER_STEPS_REMEDY,
}
"""With plans as a proof would let them through."""

WILD: Final[dict[str, Case]] = {
    "back by on_fail": BACK_BY_ON_FAIL,
    "back by on_pass": BACK_BY_ON_PASS,
    "restarted out of a branch": RESTARTED_OUT_OF_A_BRANCH,
}
"""With plans that a proof refuses."""
