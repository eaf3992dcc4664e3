"""Observers with less skill, to try a score on: the less somebody can do, the fewer points there must be."""

from __future__ import annotations

from typing import Final

from procedures.practice.observer import PERFECT, Skill

HASTY: Final = Skill(patience=0.5)
"""Sees and reads rightly, and takes half the time for it."""

CARELESS: Final = Skill(misreads=1.5, patience=0.6, skips=0.25)
"""Misreads by a division and a half, is hasty, and does not look at every fourth thing."""

WISHFUL: Final = Skill(misreads=2.0, patience=0.5, skips=0.3, wishes=0.5)
"""Enters every other time what ought to be there: passes anyway."""

GIVES_UP: Final = Skill(misreads=1.0, patience=0.7, gives_up=0.08)
"""Abandons the checkout somewhere."""

RISING: Final[tuple[Skill, ...]] = (
    Skill(misreads=4.0, patience=0.3, skips=0.6, wishes=0.9),
    Skill(misreads=2.5, patience=0.5, skips=0.35, wishes=0.5),
    Skill(misreads=1.2, patience=0.7, skips=0.15, wishes=0.15),
    Skill(misreads=0.4, patience=0.9, skips=0.03),
    PERFECT,
)
"""From one who only wants to be done to the perfect one, better in everything at each step."""
