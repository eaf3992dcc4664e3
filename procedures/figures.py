"""Figures and other recorded values as people read them, on screens and on paper alike."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import Final

SHOWN: Final[Mapping[str, str]] = {
    "source": "shown with the source",
    "zero": "shown by its zero only",
    "not shown": "NOT SHOWN by this checkout",
}
"""How a scale was shown to work."""

_DIGITS_READ: Final = 4


def figure(text: str) -> str:
    """A figure for reading: the record keeps every digit, four significant ones of a computed value are shown."""
    try:
        value = Decimal(text)
    except InvalidOperation:
        return text
    if not value.is_finite() or len(value.as_tuple().digits) <= _DIGITS_READ + 2:
        return text
    rounded = Decimal(f"{value:.{_DIGITS_READ}g}")
    exponent = rounded.adjusted()
    return f"{rounded:.3e}" if exponent < -5 or exponent > 8 else f"{rounded:f}"
