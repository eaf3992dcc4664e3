"""What records and forms say is said in words of the trade: no names of fields, no sentences run into each other."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from life_room import BACK, EMERGENCY, PINS, USE, LifeRoom, words_on

from procedures.findings import Number
from procedures.site import people
from procedures.site.found_words import number_words
from procedures.site.records import sheet
from procedures.trouble import Trouble


@pytest.fixture
def room(tmp_path: Path) -> Iterator[LifeRoom]:
    made = LifeRoom(tmp_path)
    with made.site:
        yield made


def test_a_condition_is_asked_only_where_the_look_leaves_something_open(room: LifeRoom) -> None:
    """Every question answered as good says what its condition is; a bad answer wants words."""
    assert room.check() == "fit for use"
    room.keep("hand-out", **USE)
    examples = [each.example for each in room.form("take-back").fields]
    assert not any(each.startswith("as ") for each in examples), "it stands after “Such as”"
    bad = {**BACK, "condition": "", "answer-1": "yes"}
    assert "condition" in room.look("take-back", room.instrument, room.tech, bad).troubles
    room.keep("take-back", **{**BACK, "condition": ""})
    assert room.newest("returned")["condition"] == "good by the look at its return"


def test_an_instrument_that_was_surveyed_and_is_clean_is_not_called_unrecorded(room: LifeRoom) -> None:
    """ "None recorded" is what stands where nobody has looked."""
    assert "contamination: none recorded" in words_on(sheet(room.site, "instrument", room.instrument))
    said = {"found": False, "say": "smear below the limit"}
    room.site.record("contamination", said, about=(room.instrument,), person=room.lead)
    assert "found clean 2026-06-01" in words_on(sheet(room.site, "instrument", room.instrument))
    assert "smear below the limit" in words_on(sheet(room.site, "instrument", room.instrument))


def test_reasons_are_not_run_into_each_other(room: LifeRoom) -> None:
    """A full stop before a bracket, or before a semicolon, is read as a slip."""
    for reason in ("dropped", "wet"):
        room.keep("lock-out", reason=reason)
    for name, entered in (("emergency", EMERGENCY), ("hand-out", {**USE, "back_by": "12:00"})):
        troubles = room.look(name, room.instrument, room.tech, dict(entered)).troubles.values()
        text = " ".join(str(each) for each in troubles)
        assert "dropped or knocked" in text
        assert ".;" not in text
        assert ".)" not in text


def test_the_days_log_is_in_words(room: LifeRoom) -> None:
    """What the program calls a field or a record is nothing to whoever reads the log."""
    room.keep("person-edit", room.tech, room.lead, trained_until="2027-03-01")
    room.with_pins()
    with pytest.raises(Trouble):
        people.confirm(room.site, room.lead, "111222")
    told = words_on(sheet(room.site, "day", "2026-06-01"))
    assert "training good until: 2027-03-01" in told
    assert "a laptop was set up for this site" in told
    assert "wrong PIN" in told
    for ours in ("trained_until", "Pin refused", "Station begun", "Site begun"):
        assert ours not in told
    assert PINS["P-1"] not in told


@pytest.mark.parametrize(
    ("name", "value", "unit", "said"),
    [
        ("chance_outside", "5.39e-14", "", "under 1 in 1000"),
        ("chance_outside", "0.0234", "", "2.3 %"),
        ("chance_outside", "0.5", "", "50 %"),
        ("chance_outside", "0.9999", "", "over 999 in 1000"),
        ("elapsed", "0.002984", "d", "4.3 min"),
        ("elapsed", "0.25", "d", "6 h"),
        ("elapsed", "12.5", "d", "12.5 d"),
        ("half_life", "11000.5", "d", "11000.5 d"),
        ("observed", "1.62", "mR/h", "1.62 mR/h"),
        ("ratio", "beyond", "", "beyond"),
    ],
)
def test_a_chance_and_a_time_are_said_as_people_say_them(name: str, value: str, unit: str, said: str) -> None:
    """Nobody reads 5.390e-14, or 0.002984 days, at a bench. A day has 24 hours of 60 minutes (computed)."""
    assert number_words(Number(name, "", value, unit)) == said
