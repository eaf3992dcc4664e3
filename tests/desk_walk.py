"""A person at the desk, for tests: answers whatever is asked, sensibly or as told."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

from procedures.asks import (
    Acknowledge,
    Ask,
    Choice,
    DateAsk,
    Hold,
    Place,
    QuantityAsk,
    ReadingAsk,
    Scan,
    Wait,
)
from procedures.clock import ManualClock
from procedures.site import inventory, profiles, references, source_keeping
from procedures.site.checkouts import Desk
from procedures.site.opening import Site, create_site
from procedures.site.views import CheckoutView, Typed

START = dt.datetime(2026, 6, 1, 6, 5, tzinfo=dt.UTC)

MINI = """
format = 1
id = "mini"
title = "A small invented procedure"
revision = 1
[instrument]
detector = "vented ion chamber"
measures = ["photon exposure rate"]
not_for = ["alpha"]
air_density = "none"
zero = true
window = false
[[instrument.scale]]
name = "x1"
full_scale = "3 mR/h"
division = "0.1 mR/h"
multiplier = 1
shown_by = "source"
[ready]
lasts = "12 h"
longest_pause = "20 min"
[[step]]
id = "look-over"
kind = "look-over"
label = "none"
lockout = "case-damaged"
[[step]]
id = "battery"
kind = "battery"
say = "Hold the battery button. Where does the needle rest?"
places = ["below the band", "in the band", "above the band"]
good = ["in the band"]
lockout = "battery-low"
  [[step.remedy]]
  action = "fresh-cells"
  say = "Fit fresh cells, matching the polarity marks."
  repeat_from = "battery"
  attempts = 1
[[step]]
id = "warm-up"
kind = "warm-up"
since_on = "2 min"
[[step]]
id = "zero"
kind = "zero"
scale = "x1"
hold = "8 s"
settle = "8 s"
within = "0.05 mR/h"
lockout = "zero-off"
[[step]]
id = "response"
kind = "response"
scale = "x1"
source = "daily"
readings = 3
spread = "10 %"
limits = { low = "-20 %", high = "20 %", warn = "10 %" }
lockout = "response-out"
"""


def small_site(
    folder: Path, clock: ManualClock, *, profile: str = MINI, name: str = "Test site", zone: str = "Etc/UTC"
) -> Site:
    """A site with one lead (P-1), a technician (P-2), an instrument (C-1), a source (S-1) in a jig, and a reference."""
    site = create_site(folder, clock, station="station-a", name=name, zone=zone)
    lead = inventory.register_person(site, label="P-1", name="Lead Person", initials="LP", roles=["lead"])
    inventory.register_person(site, label="P-2", name="Tech Person", initials="TP", roles=["technician"])
    instrument = inventory.register_instrument(site, label="C-1", serial="101", type="Vent one", profile="mini")
    source = inventory.register_source(
        site,
        label="S-1",
        serial="7",
        nuclide="Cs-137",
        activity="37 kBq",
        activity_on=dt.date(2024, 1, 1),
        emits="gamma",
    )
    jig = inventory.register_jig(site, label="J-1")
    inventory.bind_source(site, instrument, "daily", source, jig, person=lead)
    profiles.adopt(site, profile, lead)
    calibration = references.calibrated(
        site, instrument, on=dt.date(2026, 5, 1), due=dt.date(2027, 5, 1), by="bench", certificate="K-1", person=lead
    )
    references.reference_reading(
        site,
        instrument,
        source=source,
        jig=jig,
        role="daily",
        scale="x1",
        readings=["1.60", "1.65", "1.70"],
        unit="mR/h",
        calibration=calibration,
        person=lead,
    )
    return site


def leak_tested(site: Site, source: str, on: dt.date, result: str = "3", *, by: str = "P-1", pin: str = "") -> None:
    """A leak test of a source, recorded by a lead."""
    source_keeping.leak_test(
        site,
        id_of(site, by),
        source,
        on=on,
        result=result,
        tested_by="bench",
        measured_with="well counter",
        pin=pin or None,
    )


def id_of(site: Site, label: str) -> str:
    return site.journal.labelled(label)[0].id


def sensible(ask: Ask, _view: CheckoutView) -> str:
    """The answer of somebody whose instrument is in order."""
    if isinstance(ask, Choice):
        return ask.options[0].value
    if isinstance(ask, Place):
        return "in the band" if "in the band" in ask.places else ask.places[0]
    if isinstance(ask, ReadingAsk):
        return "1.62" if ask.key.startswith("reading-") else "0.01"
    if isinstance(ask, Scan):
        return ask.due or "C-1"
    if isinstance(ask, DateAsk):
        return "2027-05-01"
    if isinstance(ask, QuantityAsk):
        return "21 degC" if "°C" in ask.units else "100"
    return "yes"


def step_on(
    desk: Desk, view: CheckoutView, clock: ManualClock, answer: Callable[[Ask, CheckoutView], str] = sensible
) -> CheckoutView:
    """Do the one thing that is due: answer, wait, hold, or carry out the remedy."""
    if view.paused:
        return desk.resume(view.checkout, view.person, switched_off=False)
    if view.remedy is not None:
        clock.advance(20)
        return desk.remedy(view.checkout, done=True)
    ask = view.ask
    assert ask is not None
    if isinstance(ask, Wait):
        assert view.wait is not None
        clock.advance(view.wait.remaining)
        return desk.tick(view.checkout)
    if isinstance(ask, Hold):
        view = desk.hold(view.checkout)
        while isinstance(view.ask, Hold) and view.wait is not None:
            clock.advance(0.5)
            view = desk.tick(view.checkout)
        return view
    clock.advance(3 if not isinstance(ask, Acknowledge) else 1)
    return desk.answer(view.checkout, ask.key, Typed(answer(ask, view)), took=3)


def walk(
    desk: Desk, view: CheckoutView, clock: ManualClock, answer: Callable[[Ask, CheckoutView], str] = sensible
) -> CheckoutView:
    """Go on to the ending."""
    for _ in range(300):
        if view.ending is not None:
            return view
        view = step_on(desk, view, clock, answer)
    raise AssertionError("the checkout does not end")
