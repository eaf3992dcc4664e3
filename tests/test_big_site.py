"""The synthetic site that the benchmarks work on is one that the program itself could have recorded."""

from __future__ import annotations

from pathlib import Path

from big_site import make

from procedures.journal import log
from procedures.journal.events import clock_suspect
from procedures.site.verification import verify_site


def test_a_synthetic_site_is_sound(tmp_path: Path) -> None:
    """Chains, tables and every checkout judged again: a measurement on records that do not hold would show nothing."""
    with make(tmp_path / "site", instruments=12, events=6000) as site:
        assert site.journal.count() > 700
        events = (event for _, event in log.everything(site.journal._db))
        assert not any(clock_suspect(event) for event in events)
        doubts, _ = site.journal.doubts_all(limit=-1)
        assert {row.reviewed for row in doubts} == {False, True}
        assert site.journal.happened(["emergency-use"], limit=0)[1] > 1
        path = site.folder
    found = verify_site(path)
    assert found.sound, found
