"""The look-over: which instrument this is, what its outside looks like, and what its calibration label says.

Identity comes first: nothing that is seen counts for an instrument that was not scanned. The answers are observations,
because "checked" is said too easily.
"""

from __future__ import annotations

from datetime import date
from typing import Annotated, Final, Literal

from pydantic import Field

from procedures.asks import DateAsk, Scan
from procedures.facts import Facts
from procedures.findings import Finding
from procedures.steps.base import StepKind, StepParameters
from procedures.steps.common import (
    LOOK_AT_PART,
    Concluding,
    Script,
    choose,
    local_date,
    on_date,
    replay,
    scan_until,
    span,
)

RULE = "look-over 1"
CODE = "case-damaged"
CABLE_CODE: Final = "cable-damaged"
CONTAMINATED: Final = "contaminated"


class LookOverParameters(StepParameters):
    """What there is to look at on this type of instrument."""

    kind: Literal["look-over"]
    cable: Annotated[
        bool, Field(description="Whether it has a cable. One that the inventory names is looked at anyway. Default no.")
    ] = False
    label: Annotated[
        Literal["due", "calibrated", "none"],
        Field(description="Which date its calibration label carries, to be compared with the record. Default due."),
    ] = "due"
    outside: Annotated[
        Literal["none", "wipe", "survey"],
        Field(description="Whether its outside is wiped or surveyed for contamination here. Default none."),
    ] = "none"


def _script(parameters: LookOverParameters, facts: Facts) -> Script[Finding]:
    conclude = Concluding.of(parameters, RULE, CODE)
    yield from _identity(facts)
    looks = [_case(conclude, parameters)]
    if parameters.cable or facts.instrument.cable:
        looks.append(_cable(conclude))
    if parameters.outside != "none":
        looks.append(_outside(conclude, parameters))
    if parameters.label != "none":
        looks.append(_label(conclude, parameters, facts))
    for look in looks:
        wrong = yield from look
        if wrong is not None:
            return wrong
    return conclude.passed("It is the right instrument, and nothing is wrong with its outside.")


def _identity(facts: Facts) -> Script[None]:
    made = facts.instrument
    say = "Scan the label on the instrument, or type it as it is marked."
    yield from scan_until(Scan(key="instrument", say=say, of="instrument", due=made.label, subject=made.id))
    if made.detector:
        say = "Scan the label on the detector, or type it as it is marked."
        yield from scan_until(Scan(key="detector", say=say, of="detector", due=made.detector))


def _case(conclude: Concluding, parameters: LookOverParameters) -> Script[Finding | None]:
    seen = yield from choose(
        "case",
        parameters.say or "Look at the case, the meter face, switches and knobs. What do you see?",
        ("whole", "Whole, dry, nothing loose"),
        ("cracked or dented", "Cracked, dented or broken"),
        ("loose", "Something is loose, rattles or is missing"),
        ("wet", "Wet, or water inside"),
        ("unreadable", "The face or the display cannot be read"),
        caution=parameters.caution,
    )
    return None if seen == "whole" else conclude.failed(f"Case: {seen}.")


def _cable(conclude: Concluding) -> Script[Finding | None]:
    seen = yield from choose(
        "cable",
        "Look along the cable and at both plugs. What do you see?",
        ("whole", "Whole, plugs tight"),
        ("damaged", "Cut, kinked, crushed or bare"),
        ("loose", "A plug is loose or bent"),
        caution="Switch off before a plug is undone: high voltage.",
    )
    return None if seen == "whole" else conclude.failed(f"Cable: {seen}.", code=CABLE_CODE)


def _outside(conclude: Concluding, parameters: LookOverParameters) -> Script[Finding | None]:
    how = "Wipe" if parameters.outside == "wipe" else "Survey"
    seen = yield from choose(
        "outside",
        f"{how} the outside as your site does. What is found?",
        ("below limit", "Below the site's limit"),
        ("above limit", "Above the site's limit"),
        ("not measured", "It could not be measured"),
    )
    if seen == "above limit":
        return conclude.failed("Its outside is contaminated above the site's limit.", code=CONTAMINATED)
    return None if seen == "below limit" else conclude.could_not_check("its outside was not measured for contamination")


def _label(conclude: Concluding, parameters: LookOverParameters, facts: Facts) -> Script[Finding | None]:
    """Label against record. When they differ nobody knows which is right, and that is no fault of the instrument."""
    due = parameters.label == "due"
    what = "Calibration due" if due else "Calibrated on"
    answer = yield DateAsk(
        key="label",
        say=f"Read the calibration label. Which date stands under “{what}”?",
        look=LOOK_AT_PART,
        absent="There is no label, or it cannot be read",
    )
    read: date | None = answer.value
    known = facts.instrument.calibration_due if due else facts.instrument.calibrated_on
    ends = facts.instrument.calibration_due
    if read is None:
        return conclude.could_not_check("its calibration label is missing or cannot be read")
    if known is None or ends is None:
        return conclude.could_not_check("no calibration is on record for it")
    if read != known:
        missing = (
            f"its label says {on_date(read)} and the record says {on_date(known)}: the site lead has to settle that"
        )
        return conclude.could_not_check(missing)
    if ends < local_date(answer.at, facts):
        return conclude.could_not_check(f"its calibration expired on {on_date(ends)}")
    return None


KIND = StepKind(
    name="look-over",
    about="Which instrument and detector this is, case, cable, outside, and the date on the calibration label.",
    parameters=LookOverParameters,
    next=replay(_script),
    rule=RULE,
    duration=lambda _parameters: span(2, 12),
    disturbed_by=frozenset({"case-opened", "cable-reseated", "cable-changed", "detector-changed", "repaired"}),
    codes=(CODE, CABLE_CODE, CONTAMINATED),
    provides=lambda _parameters: frozenset({"look-over", "identity"}),
)
