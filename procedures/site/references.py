"""Calibrations, and the reference readings taken after them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from statistics import mean, stdev

from procedures.air import IAEA, density_factor
from procedures.site.entries import thing, words
from procedures.site.opening import Site
from procedures.trouble import Trouble
from procedures.units import READING_KINDS, Quantity, canonical_unit, kind_of, read_number, units_of

AS_FOUND = ("within", "outside", "not recorded")
FEWEST_READINGS = 3


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
) -> str:
    """Record a calibration; its event's id comes back. It ends readiness: the instrument is checked anew.

    `as_found` says whether it was within tolerance before it was adjusted; "outside" puts earlier uses in doubt.
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
    return site.record("calibrated", body, about=(instrument,), person=person).hash


def _may_be_taken(site: Site, instrument: str, source: str, scale: str, geometry: str, calibration: str) -> None:
    state = site.journal.instrument_now(instrument)
    if any(each.status == "open" for each in state.lockouts):
        raise Trouble("the instrument is locked out", do="Have it repaired and cleared first.")
    if state.calibration is None or state.calibration.event != calibration:
        raise Trouble(
            "a reference reading belongs to the calibration in force, and that is another one",
            do="Record the calibration first, then take the reference reading.",
        )
    taken = [event.body for event in state.references if event.body["calibration"] == calibration]
    if any((each["source"], each["scale"], each["geometry"]) == (source, scale, geometry) for each in taken):
        raise Trouble(
            "there is a reference reading of this source on this scale since the calibration",
            allowed="one for each calibration",
            do="If the instrument reads otherwise now, it has to be calibrated again.",
        )


def _reading(figure: Decimal, unit: str) -> Quantity:
    known = canonical_unit(unit)
    if kind_of(known) not in READING_KINDS:
        units = ", ".join(each for kind in READING_KINDS for each in units_of(kind))
        raise Trouble(f"{unit or 'a figure without a unit'} is not what a survey instrument shows", allowed=units)
    return Quantity(figure, known)


def _text(figure: Decimal | None) -> str | None:
    return None if figure is None else str(figure)


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
    _may_be_taken(site, instrument, source, scale, geometry, calibration)
    figures = [read_number(text) for text in readings]
    taken_off = read_number(background) if background is not None else None
    temperature, pressure = (None if text is None else read_number(text) for text in (temperature_c, pressure_kpa))
    if temperature is not None and pressure is not None:
        density_factor(temperature, pressure, IAEA)
    if len(figures) < FEWEST_READINGS:
        raise Trouble(f"{len(figures)} readings are too few", allowed=f"at least {FEWEST_READINGS}", do="Take ten.")
    net = mean(figures) - (taken_off or 0)
    if net <= 0:
        raise Trouble("the mean less background is not above zero", do="Look at the source and its place.")
    scatter = float(stdev(figures)) / len(figures) ** 0.5 / float(net)
    body = {
        "source": source,
        "jig": jig,
        "role": words("role", role),
        "scale": words("scale", scale),
        "geometry": geometry,
        "value": str(_reading(net, unit)),
        "relative_uncertainty": scatter,
        "n": len(figures),
        "readings": list(readings),
        "temperature_c": _text(temperature),
        "pressure_kpa": _text(pressure),
        "background": _text(taken_off),
        "calibration": calibration,
    }
    return site.record("reference-recorded", body, about=(instrument, source), person=person).hash
