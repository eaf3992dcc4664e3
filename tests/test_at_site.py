"""Opening the site that the command line names."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime
from pathlib import Path

import pytest

from checklist_tui import at_site
from procedures.clock import ManualClock
from procedures.site.opening import JOURNAL, create_site


@pytest.mark.parametrize(("many", "said"), [(1, True), (1_000, False)])
def test_an_update_that_takes_long_says_so_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, many: int, said: bool
) -> None:
    """A technician who sees nothing for two minutes switches the laptop off."""
    clock = ManualClock(datetime(2031, 4, 5, 6, tzinfo=UTC))
    create_site(tmp_path, clock, station="one", name="Hall", zone="Etc/UTC").close()
    db = sqlite3.connect(tmp_path / JOURNAL["real"], isolation_level=None)
    db.execute("UPDATE meta SET value = 'older' WHERE name = 'edition'")
    db.close()
    monkeypatch.setattr(at_site, "_MANY", many)
    at_site.open_named(str(tmp_path)).close()
    told = capsys.readouterr()
    assert told.out == ""
    assert ("Bringing the records up to date" in told.err) == said
    at_site.open_named(str(tmp_path)).close()
    assert capsys.readouterr().err == ""
