"""Which instruments were out of service in some days: what the inspection binder begins from."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from desk_walk import START, id_of, small_site, walk

from procedures.clock import ManualClock
from procedures.site import clearing
from procedures.site.checkouts import Desk

DAY = timedelta(days=1)


def test_a_lockout_stands_from_when_it_was_made_to_the_check_that_closed_it(tmp_path: Path) -> None:
    """Neither the clearing alone nor time ends it; what was closed before the days asked for is not theirs."""
    clock = ManualClock(START)
    with small_site(tmp_path, clock) as site:
        meter, lead = id_of(site, "C-1"), id_of(site, "P-1")

        def locked(first: int, last: int) -> bool:
            between = site.journal.locked_between(START + first * DAY, START + last * DAY)
            assert between in ((), (meter,))
            return between == (meter,)

        clock.advance(86400.0)
        lockout = clearing.lock_by_hand(site, meter, lead, "it was dropped")
        assert not locked(0, 1)
        assert locked(1, 2)
        assert locked(30, 31)
        clock.advance(86400.0)
        clearing.clear(
            site, meter, lead, lockouts=[lockout], cause="dropped", action="looked over", parts="",
            calibration_needed=False,
        )  # fmt: skip
        assert locked(30, 31)
        clock.advance(86400.0)
        desk = Desk(site)
        walk(desk, desk.start(meter, lead), clock)
        assert not locked(4, 31)
        assert locked(2, 3)
        assert locked(0, 31)
        site.journal.rebuild()
        assert not locked(4, 31)
        assert locked(2, 3)
