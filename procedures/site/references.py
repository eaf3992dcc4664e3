"""Which reference readings count, and setting a site up with calibrations and references that were made before.

What people record at the desk goes through `calibrations`, `reference_readings` and `replacing`, which ask for more.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, Final

from procedures.air import IAEA, density_factor
from procedures.calibration import AS_FOUND
from procedures.readiness import end_of_day, zone_of
from procedures.series import Series
from procedures.site import people
from procedures.site.entries import thing, words
from procedures.site.opening import Site
from procedures.site.usable_references import reference_good_until, since_calibration
from procedures.trouble import Trouble
from procedures.units import READING_KINDS, Quantity, canonical_unit, kind_of, read_number, units_of

if TYPE_CHECKING:
    from decimal import Decimal

    from procedures.journal.envelope import Event
    from procedures.journal.states import InstrumentState

MONTHS_SETTING: Final = "highest_reference_age_months"

Key = tuple[str, str, str]
"""Source, scale and geometry: readings of one such key compare."""


# --- which references count ----------------------------------------------------------------------------------------


def reference_too_old(taken: datetime, now: datetime, settings: Mapping[str, str]) -> bool:
    """Whether a reference reading may no longer be compared with: it is older than the site's setting allows.

    The setting `highest_reference_age_months` is in months, 0 or nothing for no limit; the day itself is still good.
    In doubt (a setting that is no number) it is too old.
    """
    said = settings.get(MONTHS_SETTING, "").strip()
    if said in ("", "0"):
        return False
    zone = zone_of(settings["zone"])
    if not re.fullmatch("[0-9]{1,4}", said):
        return True
    return now >= end_of_day(reference_good_until(taken, zone, int(said)), zone)


def in_force(state: InstrumentState, now: datetime, settings: Mapping[str, str]) -> tuple[Event, ...]:
    """The references a reading may be compared with now, newest first: those since the calibration, not too old."""
    return tuple(event for event in since_calibration(state) if not reference_too_old(event.utc, now, settings))


def key_of(event: Event) -> Key:
    """Source, scale and geometry of a reference."""
    body = event.body
    return (str(body["source"]), str(body["scale"]), str(body["geometry"]))


def once_for_each_calibration(taken: Sequence[Event], key: Key) -> None:
    """Raises Trouble when one of these references is of this source, scale and geometry already."""
    if any(key_of(event) == key for event in taken):
        raise Trouble(
            "there is a reference reading of this source on this scale since the calibration",
            allowed="one for each calibration or repair",
            do="If the instrument reads otherwise now, it has to be calibrated again.",
        )


# --- setting a site up ---------------------------------------------------------------------------------------------


def calibrated(
    site: Site,
    instrument: str,
    *,
    on: date,
    due: date,
    by: str,
    certificate: str,
    as_found: str = "not recorded",
    person: str | None = None,
    pin: str | None = None,
) -> str:
    """Record a calibration; its event's id comes back. It ends readiness: the instrument is checked anew.

    `as_found` says whether it was within tolerance before it was adjusted; "outside" puts earlier uses in doubt. A
    `person` who is named has to be entitled to it.
    """
    if as_found not in AS_FOUND:
        raise Trouble(f"{as_found!r} is not what an as-found result can be", allowed=", ".join(AS_FOUND))
    thing(site, instrument, "instrument")
    if due <= on:
        raise Trouble("a calibration cannot end before it begins", allowed=f"a date after {on}", do="Enter it again.")
    body = {
        "on": on.isoformat(),
        "due": due.isoformat(),
        "by": words("laboratory", by, needed=False),
        "certificate": words("certificate", certificate, needed=False),
        "as_found": as_found,
    }
    if person is not None:
        people.require(site, person, "calibrate", pin)
    return site.record("calibrated", body, about=(instrument,), person=person).hash


def reference_reading(
    site: Site,
    instrument: str,
    *,
    source: str,
    jig: str | None,
    role: str,
    scale: str,
    readings: Sequence[str],
    unit: str,
    calibration: str,
    geometry: str = "",
    background: str | None = None,
    temperature_c: str | None = None,
    pressure_kpa: str | None = None,
    person: str | None = None,
    pin: str | None = None,
) -> str:
    """Record a reference reading: the mean of repeated readings (figures in `unit`), net of `background`.

    `temperature_c` in °C and `pressure_kpa` in kPa are figures too, of the air at the instrument.

    Its relative standard uncertainty is the scatter of the mean, s/√n, over the mean. Raises Trouble for fewer than
    three readings, whose scatter says nothing; for text that is no figure, unit, or air that can be; for a mean that is
    not above background; while a lockout is not even cleared; unless `calibration` is the one in force; and for a
    second reference of the same kind since then: taken again from an instrument that drifted, it would show only that
    the instrument agrees with itself.
    """
    thing(site, instrument, "instrument")
    thing(site, source, "source")
    if jig is not None:
        thing(site, jig, "jig")
    state = site.journal.instrument_now(instrument)
    not_locked_out(state)
    if state.calibration is None or state.calibration.event != calibration:
        raise Trouble(
            "a reference reading belongs to the calibration in force, and that is another one",
            do="Record the calibration first, then take the reference reading.",
        )
    once_for_each_calibration(since_calibration(state), (source, scale, geometry))
    series = Series(
        tuple(read_number(text) for text in readings), read_number(background) if background is not None else None
    )
    temperature, pressure = (None if text is None else read_number(text) for text in (temperature_c, pressure_kpa))
    if temperature is not None and pressure is not None:
        density_factor(temperature, pressure, IAEA)
    body = reference_body(
        series,
        unit,
        source=source,
        jig=jig,
        role=role,
        scale=scale,
        geometry=geometry,
        calibration=calibration,
        air=(temperature, pressure),
    )
    if person is not None:
        people.require(site, person, "reference", pin)
    return site.record("reference-recorded", body, about=(instrument, source), person=person).hash


def not_locked_out(state: InstrumentState) -> None:
    """Raises Trouble while a lockout is not even cleared. One that waits for its check needs its reference first."""
    if any(each.status == "open" for each in state.lockouts):
        raise Trouble(
            "the instrument is locked out",
            allowed="an instrument whose lockouts are cleared",
            do="Have it repaired and cleared first.",
        )


def reference_body(
    series: Series,
    unit: str,
    *,
    source: str,
    jig: str | None,
    role: str,
    scale: str,
    geometry: str,
    calibration: str,
    air: tuple[Decimal | None, Decimal | None],
) -> dict[str, Any]:
    """What a `reference-recorded` says of a series, its uncertainty from its scatter alone. Raises Trouble."""
    return {
        "source": source,
        "jig": jig,
        "role": words("role", role),
        "scale": words("scale", scale),
        "geometry": geometry,
        "value": str(_reading(series.net, unit)),
        "relative_uncertainty": series.budget().standard / float(series.net_exact),
        "n": len(series.readings),
        "readings": [str(each) for each in series.readings],
        "temperature_c": text_of(air[0]),
        "pressure_kpa": text_of(air[1]),
        "background": text_of(series.background),
        "calibration": calibration,
    }


def _reading(figure: Decimal, unit: str) -> Quantity:
    known = canonical_unit(unit)
    if kind_of(known) not in READING_KINDS:
        units = ", ".join(each for kind in READING_KINDS for each in units_of(kind))
        raise Trouble(f"{unit or 'a figure without a unit'} is not what a survey instrument shows", allowed=units)
    return Quantity(figure, known)


def text_of(figure: Decimal | None) -> str | None:
    """A figure as records keep it."""
    return None if figure is None else str(figure)
