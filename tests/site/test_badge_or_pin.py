"""Where a badge is not enough to run a checkout: the core asks for the PIN, whatever the front end does."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from desk_walk import walk
from life_room import BACK, PINS, USE, LifeRoom

from procedures.site import rights
from procedures.trouble import Trouble


@pytest.fixture
def room(tmp_path: Path) -> Iterator[LifeRoom]:
    made = LifeRoom(tmp_path)
    made.with_pins()
    made.set(badge_is_enough="no")
    yield made
    made.site.close()


def refused_tries(room: LifeRoom, person: str) -> int:
    return len(room.site.journal.about(person, kinds=("pin-refused",), limit=-1))


def test_a_checkout_is_opened_with_the_persons_own_pin_alone(room: LifeRoom) -> None:
    """Nothing of a refused opening is recorded but the wrong try, after which the next one has to wait."""
    before = room.site.journal.count()
    with pytest.raises(Trouble, match="a PIN is needed"):
        room.desk.start(room.instrument, room.tech)
    assert room.site.journal.count() == before
    with pytest.raises(Trouble, match="not the PIN"):
        room.desk.start(room.instrument, room.tech, PINS["P-1"])
    assert (room.site.journal.count(), refused_tries(room, room.tech)) == (before + 1, 1)
    with pytest.raises(Trouble, match="the next one is taken at"):
        room.desk.start(room.instrument, room.tech, PINS["P-2"])
    assert room.desk.open_checkouts() == ()
    room.clock.advance(3)
    view = walk(room.desk, room.desk.start(room.instrument, room.tech, PINS["P-2"]), room.clock)
    assert view.ending is not None
    assert view.ending.ending == "fit for use"


def test_what_cannot_be_opened_costs_no_try(room: LifeRoom) -> None:
    """Locked out is locked out: a PIN is looked at last."""
    room.keep("lock-out", reason="dropped", tag="")
    with pytest.raises(Trouble, match="locked out"):
        room.desk.start(room.instrument, room.tech, "000000")
    assert refused_tries(room, room.tech) == 0


def test_whoever_takes_over_gives_their_own_pin(room: LifeRoom) -> None:
    """Going on with one's own after a pause takes none; another person vouches for all of it under their name."""
    view = room.desk.start(room.instrument, room.tech, PINS["P-2"])
    room.desk.pause(view.checkout)
    assert room.desk.resume(view.checkout, room.tech, switched_off=False).paused == ""
    room.desk.pause(view.checkout)
    for pin, said in ((None, "a PIN is needed"), (PINS["P-2"], "not the PIN")):
        with pytest.raises(Trouble, match=said):
            room.desk.resume(view.checkout, room.lead, switched_off=False, pin=pin)
        assert room.desk.view(view.checkout).paused
    room.clock.advance(3)
    assert room.desk.resume(view.checkout, room.lead, switched_off=False, pin=PINS["P-1"]).person == room.lead


@pytest.mark.parametrize(
    ("settings", "asked"),
    [
        ({"badge_is_enough": "yes"}, False),
        ({"badge_is_enough": "no"}, True),
        ({"badge_is_enough": "perhaps"}, True),
        ({"badge_is_enough": "no", "pins": "off"}, False),
    ],
    ids=["yes", "no", "what nobody can read", "no PINs here"],
)
def test_the_setting_decides(room: LifeRoom, settings: dict[str, str], asked: bool) -> None:
    """Anything but a plain yes asks for it, as long as the site asks for PINs at all."""
    room.set(**settings)
    assert rights.check_takes_pin(room.site, room.tech) is asked
    assert not rights.check_takes_pin(room.site, room.tech, room.tech)
    if asked:
        with pytest.raises(Trouble, match="a PIN is needed"):
            room.desk.start(room.instrument, room.tech)
    else:
        assert room.desk.start(room.instrument, room.tech).person == room.tech


def test_hands_and_lockouts_take_none(room: LifeRoom) -> None:
    """What ends trust must never wait for a PIN, and handing out carries only what a check has shown."""
    walk(room.desk, room.desk.start(room.instrument, room.tech, PINS["P-2"]), room.clock)
    room.keep("hand-out", **USE)
    room.keep("take-back", **BACK)
    room.keep("lock-out", reason="dropped", tag="")
    assert room.word() == "locked out"
