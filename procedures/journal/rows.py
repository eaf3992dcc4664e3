"""Rows of the tables for screens as values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from procedures.changed import changed
from procedures.journal.states import Standing

LABEL_SHARED: Final = "Another thing carries the same label: neither may be used until one is changed."


@dataclass(frozen=True, slots=True)
class InstrumentRow:
    """One instrument for lists. `fitness(row.standing, now)` says what it is now."""

    id: str
    label: str
    type: str
    serial: str
    profile: str
    standing: Standing
    passed_by: str | None
    fit_for: Mapping[str, Any]
    warnings: tuple[Any, ...]
    factor: str | None
    whereabouts: str
    where: str
    handed_to: str | None
    handed_until: str | None
    handed_at: datetime | None
    back_by: datetime | None
    """When it should be back, where that was said."""
    emergency: bool
    """It is out without a check that counts, by somebody's authority."""
    contaminated: bool
    calibrated_on: str | None
    calibration_due: str | None
    last_checked: datetime | None
    retired: bool


@dataclass(frozen=True, slots=True)
class SourceRow:
    """One source for lists; `out_with` is the checkout that took it from its store."""

    id: str
    label: str
    serial: str
    nuclide: str
    whereabouts: str
    where: str
    out_with: str | None
    leak_tested: str | None
    leak_due: str | None
    condition: str
    """good, damaged or slipped; "" while nobody has said."""
    counted_on: str | None
    counted_found: bool | None
    retired: bool


@dataclass(frozen=True, slots=True)
class PersonRow:
    """One person for lists."""

    id: str
    label: str
    name: str
    initials: str
    roles: tuple[str, ...]
    trained_until: str | None
    retired: bool


@dataclass(frozen=True, slots=True)
class ProfileRow:
    """One profile: its adoption in force, or None with several `heads` while adoptions made apart wait for a choice."""

    profile: str
    adoption: str | None
    revision: int | None
    sha256: str | None
    title: str
    heads: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Labelled:
    """One thing that carries or carried a label. Two living ones block each other; a retired label is used up."""

    id: str
    what: str
    label: str
    living: bool


@dataclass(frozen=True, slots=True)
class CheckoutRow:
    """One checkout for lists, ended or not. `ending` is "" while it has none."""

    checkout: str
    instrument: str
    label: str
    type: str
    person: str
    person_name: str
    opened: datetime
    ended: datetime | None
    ending: str
    codes: tuple[str, ...]
    withdrawn: bool
    station: str


@dataclass(frozen=True, slots=True)
class DoubtRow:
    """One use in doubt because of one failure. `review` is the event that says who looked into it; "" for none."""

    instrument: str
    label: str
    cause: str
    kind: str
    found_at: datetime
    use: str
    used_at: datetime
    to: str
    to_name: str
    job: str
    place: str
    review: str

    @property
    def reviewed(self) -> bool:
        """Whether a person has looked into this use. It stays in doubt all the same."""
        return self.review != ""


def clock_at_least(row: InstrumentRow, newest: datetime) -> InstrumentRow:
    """The row, doubting every present that stands before `newest`, the latest moment anybody here knew of."""
    known = row.standing.newest
    if known is not None and known >= newest:
        return row
    return changed(row, standing=changed(row.standing, newest=newest))
