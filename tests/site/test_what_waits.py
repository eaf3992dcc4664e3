"""The first screen says what waits for somebody: sources that are due, overdue instruments, doubts, suspicions."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest
from desk_walk import id_of, leak_tested, walk
from life_room import USE, LifeRoom, low
from source_checks import failed

from procedures.sheets import Query
from procedures.site import exchange, inventory, records, source_keeping, source_watch
from procedures.site.source_keeping import Counted
from procedures.site.status import home


@pytest.fixture
def room(tmp_path: Path) -> Iterator[LifeRoom]:
    made = LifeRoom(tmp_path)
    yield made
    made.site.close()


def of_sources(room: LifeRoom) -> list[str]:
    """What home says is due of check sources."""
    return [line for line in home(room.site).due if line.startswith("source ")]


def test_what_was_never_done_is_due(room: LifeRoom) -> None:
    """A source that nobody tested or counted is no different from one whose test ran out."""
    assert of_sources(room) == ["source S-1: no leak test is recorded", "source S-1: no count is recorded"]


@pytest.mark.parametrize(
    ("ago", "said"),
    [
        # 10 CFR 35.67 (read): every six months; the warning comes 30 days before, the site's own figure.
        (dt.date(2026, 1, 1), "source S-1: leak test is due on 2026-07-01"),
        (dt.date(2026, 1, 2), ""),
        (dt.date(2025, 12, 1), "source S-1: leak test is due on 2026-06-01"),
        (dt.date(2025, 11, 30), "source S-1: leak test was due on 2026-05-30"),
    ],
)
def test_a_leak_test_is_said_in_time(room: LifeRoom, ago: dt.date, said: str) -> None:
    """At the edges of the warning time; the day itself still counts."""
    source = id_of(room.site, "S-1")
    source_keeping.count(room.site, room.lead, [Counted(source, True)])
    leak_tested(room.site, source, ago)
    assert of_sources(room) == ([said] if said else [])


def test_an_exemption_and_a_count_leave_nothing_due(room: LifeRoom) -> None:
    """A lead claimed it: 37 kBq of a gamma emitter is under 3.7 MBq (10 CFR 35.67(f), read)."""
    source = id_of(room.site, "S-1")
    source_keeping.describe(room.site, room.lead, source, {"leak_test_exempt": "small beta or gamma"})
    source_keeping.count(room.site, room.lead, [Counted(source, True)])
    assert of_sources(room) == []
    room.clock.advance(86400 * 155)
    assert of_sources(room) == ["source S-1: count is due on 2026-12-01"]


@pytest.mark.parametrize("where", ["transferred", "disposed"])
def test_a_source_that_is_gone_is_not_due(room: LifeRoom, where: str) -> None:
    """Somebody else answers for it now."""
    inventory.place(room.site, id_of(room.site, "S-1"), where)
    assert of_sources(room) == []


def test_a_missing_source_is_said_first(room: LifeRoom) -> None:
    """Finding it comes before testing it."""
    inventory.place(room.site, id_of(room.site, "S-1"), "missing")
    assert "missing" in of_sources(room)[0]


def test_home_and_the_list_of_sources_say_the_same(room: LifeRoom) -> None:
    """Two places, one rule: what is in the list as due is on home, source by source."""
    tested = {"S-2": dt.date(2025, 11, 1), "S-3": dt.date(2026, 5, 1), "S-4": dt.date(2025, 12, 20)}
    for label, on in tested.items():
        fields = {"nuclide": "Cs-137", "activity": "4 MBq", "activity_on": dt.date(2024, 1, 1), "emits": "gamma"}
        source = source_keeping.add(room.site, room.lead, label, fields | {"serial": label})
        leak_tested(room.site, source, on)
        source_keeping.count(room.site, room.lead, [Counted(source, True)])
    listed = records.listing(room.site, "sources", "", "", Query(filters={"usable": "due"}))
    assert {row.cells[0] for row in listed.rows} == {line.split()[1].rstrip(":") for line in of_sources(room)}
    assert {line.split()[1] for line in of_sources(room)} == {"S-1:", "S-2:", "S-4:"}


def test_overdue_instruments_and_doubts_are_one_line_each(room: LifeRoom) -> None:
    """How many, and what for: whoever reads it goes to the records."""
    assert home(room.site).waiting == ()
    assert room.check() == "fit for use"
    room.keep("hand-out", **USE, back_by="07:30")
    assert home(room.site).waiting == ()
    room.clock.advance(7200)
    assert home(room.site).waiting == ("1 instrument is overdue: handed out and not back",)
    assert room.check(low) == "locked out"
    assert "1 use in doubt waits to be reviewed" in home(room.site).waiting


def test_a_source_in_suspicion_is_told_where_it_matters(room: LifeRoom) -> None:
    """On home, on the ending that locks out, and on the sheet of lockouts: whoever repairs meters looks there."""
    source = id_of(room.site, "S-1")
    failed(room.site, room.second, source, 0.5)
    view = walk(room.desk, room.desk.start(room.instrument, room.tech), room.clock, low)
    (said,) = source_watch.notices(room.site)
    assert view.ending is not None
    assert view.ending.suspects == (said,)
    assert home(room.site).notices == (said,)


def test_the_age_of_other_laptops_records_is_on_home_and_ending(room: LifeRoom, tmp_path: Path) -> None:
    """Another laptop may have locked out what is fit here: how old its word is stands beside the verdict."""
    view = walk(room.desk, room.desk.start(room.instrument, room.tech), room.clock)
    assert view.ending is not None
    assert (home(room.site).exchanged, view.ending.exchanged) == ("", "")
    exchange.exchange_out(room.site, tmp_path / "out.exchange")
    assert "none came back" in home(room.site).exchanged
    again = room.desk.view(view.checkout).ending
    assert again is not None
    assert again.exchanged == home(room.site).exchanged
