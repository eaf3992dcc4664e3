"""What a printed form says at its head when the records speak against the check: whoever holds it sees no screen."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from desk_walk import id_of
from life_room import LifeRoom, words_on

from procedures.sheets import Lines
from procedures.site import clearing, inventory, records, source_keeping

SHEETS = ("paper-form", "paper-expected")


@pytest.fixture
def room(tmp_path: Path) -> Iterator[LifeRoom]:
    made = LifeRoom(tmp_path)
    with made.site:
        yield made


def _leaks(room: LifeRoom) -> None:
    on = source_keeping.today(room.site)
    said = {"result": "500 Bq", "tested_by": "the laboratory", "measured_with": "wipe counter"}
    source_keeping.leak_test(room.site, room.lead, id_of(room.site, "S-1"), on=on, **said)


def _damaged(room: LifeRoom) -> None:
    source_keeping.condition(room.site, room.tech, id_of(room.site, "S-1"), "damaged", "its rim is bent")


def _missing(room: LifeRoom) -> None:
    inventory.place(room.site, id_of(room.site, "S-1"), "missing", "", person=room.tech)


def _locked(room: LifeRoom) -> None:
    clearing.lock_by_hand(room.site, room.instrument, room.tech, "It smells burnt.")


def _contaminated(room: LifeRoom) -> None:
    inventory.contamination(room.site, room.instrument, found=True, say="its base", person=room.tech)


def _overdue(room: LifeRoom) -> None:
    room.clock.advance(400 * 86_400)


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (_leaks, "leaks"),
        (_damaged, "its rim is bent"),
        (_missing, "missing"),
        (_locked, "LOCKED OUT: It smells burnt."),
        (_contaminated, "CONTAMINATED"),
        (_overdue, "calibration"),
    ],
)
@pytest.mark.parametrize("name", SHEETS)
def test_what_speaks_against_the_check_stands_first_on_the_paper(
    room: LifeRoom, name: str, spoil: Callable[[LifeRoom], None], said: str
) -> None:
    """A leaking source is not taken out, nor a locked instrument checked, because a form said nothing."""
    assert "STOP" not in words_on(records.sheet(room.site, name, room.instrument)), "nothing speaks against it yet"
    spoil(room)
    first = records.sheet(room.site, name, room.instrument).sections[0]
    assert isinstance(first, Lines)
    assert first.title.startswith("STOP")
    assert first.tone == "bad"
    assert said in " ".join(first.lines)
