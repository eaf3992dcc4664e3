"""Whether the dates of a calibration or a repair can be, beside everything that was recorded of an instrument before.

A calibration that something ended does not come back by being entered again: neither a detector changed since, nor a
repair, nor a clearing that asks for a calibration is undone by an old certificate.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING, Final

from procedures.answers import clean_line
from procedures.journal.events import body_of
from procedures.months import months_after
from procedures.readiness import zone_of
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.states import InstrumentState
    from procedures.site.opening import Site

LONGEST_MONTHS: Final = 120
"""No calibration runs for ten years: a due date further away is a slip of typing. Common practice, no source."""


def today(site: Site) -> date:
    """The day it is where the site is."""
    return site.clock.now().utc.astimezone(zone_of(site.settings()["zone"])).date()


def date_fits(site: Site, state: InstrumentState, on: date) -> None:
    """Raises Trouble for a calibration from the future, or from before what has happened since.

    What came since counts whether or not that calibration is still in force: a later calibration, a repair that voided
    it, a lockout whose clearing asks for a calibration.
    """
    now = today(site)
    if on > now:
        raise Trouble(
            f"{on} is in the future", allowed=f"{now} or earlier", do="Look at the certificate, and at the clock."
        )
    newest = max((day for day, _ in _calibrated(site, state)), default="")
    if on.isoformat() < newest:
        force = " in force" if state.calibration is not None and state.calibration.on == newest else ""
        raise Trouble(
            f"the calibration{force or ' recorded last'} is of {newest}, after this one",
            allowed=f"{newest} or later",
            do="An older certificate is kept on paper or attached to a note. It changes nothing now.",
        )
    repaired = max(_voiding_repairs(site, state), default="")
    if on.isoformat() < repaired:
        raise Trouble(
            f"the instrument was repaired on {repaired}, after this calibration",
            allowed=f"a calibration of {repaired} or later",
            do="Have it calibrated again.",
        )
    locked_out = max(_wanting_calibration(site, state), default=date.min)
    if on < locked_out:
        raise Trouble(
            f"the instrument was locked out on {locked_out}, after this calibration, and has to be calibrated since",
            allowed=f"a calibration of {locked_out} or later",
            do="Have it calibrated again.",
        )


def not_twice(site: Site, state: InstrumentState, on: date, certificate: str) -> None:
    """Raises Trouble for a calibration that was recorded before.

    Kept twice, it would void its own references; kept again after something ended it, it would come back to life.
    """
    known = (on.isoformat(), clean_line(certificate).casefold())
    if known not in _calibrated(site, state):
        return
    said = f"the calibration of {on} with certificate {clean_line(certificate)[:60]} is recorded already"
    now = state.calibration
    if now is not None and (now.on, now.certificate.casefold()) == known:
        raise Trouble(said, allowed="another certificate, or another day", do="Look at the instrument: it may be done.")
    raise Trouble(
        f"{said}, and something has ended it since",
        allowed="a calibration made after that",
        do="Look at its history, and have it calibrated again.",
    )


def due_fits(on: date, due: date) -> None:
    """Raises Trouble for a calibration that ends before it begins, or years after anybody would calibrate again."""
    latest = months_after(on, LONGEST_MONTHS)
    if not on < due <= latest:
        raise Trouble(
            f"it cannot be due on {due}", allowed=f"a date after {on}, up to {latest}", do="Look at the certificate."
        )


def repair_date_fits(site: Site, state: InstrumentState, on: date, voids_calibration: bool) -> None:
    """Raises Trouble for a repair from the future, or one said to void a calibration that came after it."""
    now = today(site)
    if on > now:
        raise Trouble(f"{on} is in the future", allowed=f"{now} or earlier", do="Look at the date, and at the clock.")
    if voids_calibration and state.calibration is not None and on.isoformat() < state.calibration.on:
        raise Trouble(
            f"it was calibrated on {state.calibration.on}, after this repair: that calibration stands",
            allowed="“no”, for a repair before the calibration",
            do="Choose “no”, or look at the date again.",
        )


def _calibrated(site: Site, state: InstrumentState) -> frozenset[tuple[str, str]]:
    """Day and certificate, folded, of every calibration that was ever recorded of it."""
    bodies = (body_of(event) for event in site.journal.about(state.id, kinds=("calibrated",), limit=-1))
    return frozenset((body["on"], clean_line(body["certificate"]).casefold()) for body in bodies if body is not None)


def _voiding_repairs(site: Site, state: InstrumentState) -> Iterator[str]:
    """The day of every repair that voided a calibration: a lesser one after it does not undo that."""
    for event in site.journal.about(state.id, kinds=("repaired",), limit=-1):
        body = body_of(event)
        if body is not None and body["voids_calibration"]:
            yield body["on"]


def _wanting_calibration(site: Site, state: InstrumentState) -> Iterator[date]:
    """The day of every lockout that stands and is to be made good by a calibration."""
    zone = zone_of(site.settings()["zone"])
    for lockout in state.lockouts:
        if lockout.status != "closed":
            clearings = (site.journal.by_hash(each) for each in lockout.clearings)
            if any(each is not None and each.body.get("calibration_needed") for each in clearings):
                yield lockout.when.astimezone(zone).date()
