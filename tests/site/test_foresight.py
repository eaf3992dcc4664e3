"""What stands in the way is said before a checkout is begun."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from desk_walk import START, id_of, leak_tested, small_site

from procedures.clock import ManualClock
from procedures.site import inventory, references
from procedures.site.foresight import obstacles


def test_nothing_stands_in_the_way_of_a_sound_instrument(tmp_path: Path) -> None:
    """A technician is not warned for nothing."""
    with small_site(tmp_path, ManualClock(START)) as site:
        assert obstacles(site, id_of(site, "C-1")) == ()


def test_a_new_calibration_and_an_overdue_leak_test_are_said_at_once(tmp_path: Path) -> None:
    """Both end a checkout as not checked, after everything else was done."""
    clock = ManualClock(START)
    with small_site(tmp_path, clock) as site:
        instrument = id_of(site, "C-1")
        source = id_of(site, "S-1")
        leak_tested(site, source, dt.date(2025, 11, 1))
        references.calibrated(
            site, instrument, on=dt.date(2026, 5, 30), due=dt.date(2027, 5, 30), by="bench", certificate="K-9"
        )
        found = obstacles(site, instrument)
    assert any("leak test" in line for line in found)
    assert any("no reference reading" in line for line in found)


def test_an_instrument_with_nothing_recorded_says_everything(tmp_path: Path) -> None:
    """Just registered: nothing is known of it."""
    with small_site(tmp_path, ManualClock(START)) as site:
        bare = inventory.register_instrument(site, label="C-9", serial="9", type="Vent one", profile="none")
        found = " ".join(obstacles(site, bare))
    assert "no calibration" in found
    assert "profile" in found
    assert "no check source" in found
