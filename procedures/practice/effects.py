"""What the faults that have begun do to an instrument, taken together. A sound one has the values below.

Each field is one place in the physics; the catalogue of faults names the fields it changes and knows no physics itself.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(slots=True)
class Effects:
    """Levels in the unit of the scales, parts from 0 to 1, seconds, millimetres."""

    response: float = 1.0
    gas: float = 1.0
    scale_response: dict[str, float] = field(default_factory=dict)
    signal: bool = True
    """Whether anything comes from the detector at all."""
    touching: float = 0.0
    """Part of the time for which a broken wire does not touch."""
    silent: float = 0.0
    """Pulses a second above which a worn tube falls silent; 0: as the type does."""
    offset: float = 0.0
    drift: float = 0.0
    """Level a second."""
    knob_works: bool = True
    button_works: bool = True
    knocked: float = 0.0
    """Turns by which the zero knob has been moved since it was last set."""
    kick_slow: float = 1.0
    damp: float = 0.0
    slow: float = 1.0
    noise: float = 1.0
    pulses: float = 0.0
    """Pulses a second that no radiation makes."""
    contamination: float = 0.0
    radio: float = 0.0
    leak: float = 0.0
    """Pulses a second in bright light."""
    charge: float | None = None
    tired: float = 1.0
    wrong_cells: float = 0.0
    stuck: bool = False
    sticks: float = 0.0
    bent: float = 0.0
    """Fraction of the scale."""
    needle_slow: float = 1.0
    frozen: bool = False
    overload: bool = False
    slide_stuck: bool = False
    alarm_sound: bool = True
    alarm_lamp: bool = True
    alarm_at: float | None = None
    speaker: bool = True
    source: float = 1.0
    shifted_mm: float = 0.0
    place: float = 0.0
    """Level that the place adds to its usual background; it does not go with the instrument."""
    case: str = "whole"
    cable: str = "whole"
    window: str = "whole"
    outside: str = "below limit"
    label: str = ""
    remarks: tuple[str, ...] = ()
