"""Reason codes in plain words, and what to do with the instrument now. Light: screens read it.

A profile may declare codes of its own, whose words go first. A code that nobody knows still gets words that are safe.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

SHELF: Final = "Hang a tag on it, put it on the out-of-service shelf, and tell the site lead."
_CONTAMINATED: Final = (
    "Don't carry it about. Keep it where it is, bag it if you have been trained to, and tell radiation protection now."
)


@dataclass(frozen=True, slots=True)
class Reason:
    """A reason code: what it means (`say`) and what to do with the instrument now (`do`)."""

    code: str
    say: str
    do: str


KNOWN: Final[Mapping[str, tuple[str, str]]] = {
    "case-damaged": ("The case is damaged.", SHELF),
    "cable-damaged": ("The cable or its plug is damaged.", SHELF),
    "label-missing": ("The calibration label is missing or cannot be read.", SHELF),
    "label-differs": ("The calibration label does not say what the records say.", SHELF),
    "contaminated": ("It is contaminated on the outside.", _CONTAMINATED),
    "battery-low": ("The cells do not hold up under the instrument's own load.", SHELF),
    "zero-off": ("It cannot be brought to zero.", SHELF),
    "zero-drift": ("Its zero does not stay where it is.", SHELF),
    "background-high": (
        "It reads more than background with no source near.",
        "Wipe-test it before anybody else handles it. " + SHELF,
    ),
    "window-damaged": ("The window is damaged.", SHELF + " Don't touch the window."),
    "light-leak": ("Light gets in through the window.", SHELF + " Don't touch the window."),
    "window-ratio-out": ("The open and closed readings are not in the ratio they had.", SHELF),
    "response-out": ("It does not read the check source as it did after its last calibration.", SHELF),
    "response-unsteady": ("Its readings of the check source do not agree with each other.", SHELF),
    "no-response": ("It does not respond to the check source.", SHELF),
    "not-returning": ("It does not come back to background after the source is gone.", SHELF),
    "desiccant-spent": ("Its desiccant is spent, and damp air makes it read wrong.", SHELF),
    "alarm-silent": ("Its alarm or speaker does not work.", SHELF),
    "alarm-set-wrong": ("Its alarm does not stand where it has to.", SHELF),
    "judged-unfit": ("The person checking it judged it unfit.", SHELF),
    "by-hand": ("It was locked out by hand.", SHELF),
    "calibration-void": ("What was done to it ends its calibration.", SHELF + " It needs a calibration."),
    "abandoned-after-failure": ("Its check was given up after a step had failed.", SHELF),
    "failed-unfinished": ("A step of its check failed, and the check was not finished.", SHELF),
}
"""The trade's usual reasons. The words are ours; a site's profile may say them otherwise."""


def reason(code: str, declared: Mapping[str, tuple[str, str]] | None = None) -> Reason:
    """The reason with this code: declared by the profile, known here, or unknown in words that are safe."""
    say, do = (
        (declared or {}).get(code) or KNOWN.get(code) or (f"It failed its check ({code or 'no reason given'}).", SHELF)
    )
    return Reason(code, say, do or SHELF)
