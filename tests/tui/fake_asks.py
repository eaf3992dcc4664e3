"""One ask of every kind, with two findings: what the fake desk asks for. Values and names are invented."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal

from procedures.asks import (
    Acknowledge,
    Ask,
    Choice,
    DateAsk,
    Hold,
    Option,
    Place,
    QuantityAsk,
    ReadingAsk,
    Scan,
    Selector,
    TextAsk,
    Wait,
)
from procedures.findings import Finding, Number

START = datetime(2026, 3, 12, 5, 5, tzinfo=UTC)

X1 = Selector("x1", Decimal(1), "mR/h", Decimal(3), Decimal("0.1"))
X10 = Selector("x10", Decimal(10), "mR/h", Decimal(3), Decimal("0.1"))

READ = "Source S-7 in its jig, slide open. When the needle rests, read it."

RESPONSE = Finding(
    step="response",
    kind="response",
    outcome="pass",
    say="Observed 1.61 mR/h, 98 % of expected.",
    rule="response-simple 1",
    numbers=(
        Number("low", "lowest allowed", "1.31", "mR/h"),
        Number("expected", "expected", "1.6398277", "mR/h"),
        Number("high", "highest allowed", "1.97", "mR/h"),
        Number("observed", "observed", "1.61", "mR/h"),
    ),
    tell=("Close to the limit.",),
)
BATTERY = Finding(step="battery", kind="battery", outcome="fail", say="The needle rests below the band.", rule="b 1")


def every_ask(label: str) -> tuple[tuple[str, Ask], ...]:
    """One of each kind, with the title of the step it stands in."""
    return (
        ("identity", Scan(key="tag", say=f"Scan the label on {label}.", of="instrument", due=label)),
        (
            "look-over",
            Choice(
                key="case",
                say="Look the case over. What do you see?",
                more="Turn it round once.",
                options=(
                    Option("sound", "sound, nothing loose"),
                    Option("damaged", "damaged"),
                    Option("unknown", "cannot say"),
                ),
            ),
        ),
        (
            "battery",
            Place(
                key="needle",
                say="Hold the battery button. Where does the needle rest?",
                caution="Switch off before opening the battery box.",
                places=("below the band", "in the band", "above the band"),
            ),
        ),
        ("warm-up", Acknowledge(key="on", say="Switch it on.", done="It is on now", mark="switched-on")),
        ("warm-up", Wait(key="settle", say="Let it warm up.", seconds=120, meanwhile="The electrometer settles.")),
        (
            "zero",
            Hold(key="hold", say="Keep the zero button down.", seconds=8, meanwhile="The charge is leaking away."),
        ),
        (
            "response",
            ReadingAsk(
                key="r1",
                say="Source S-7 in its jig, slide open. When the needle rests, read it.",
                part=(1, 2),
                selectors=(X1, X10),
            ),
        ),
        (
            "response",
            ReadingAsk(
                key="r2",
                say="Source S-7 in its jig, slide open. When the needle rests, read it.",
                part=(2, 2),
                selectors=(X1, X10),
            ),
        ),
        ("air", QuantityAsk(key="t", say="Read the thermometer.", units=("degC", "degF"))),
        ("label", DateAsk(key="due", say="What date does the calibration label show?", absent="there is no label")),
        ("place", TextAsk(key="where", say="Where will it be used?", longest=60)),
        ("put away", Scan(key="back", say="Put source S-7 back and scan its store.", of="store", due="ST-7")),
    )
