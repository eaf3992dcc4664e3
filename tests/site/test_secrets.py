"""PINs: kept as hashes in a file of their own, slow to guess, and nowhere else to be found."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import os
import stat
import sys
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from desk_walk import START, id_of, small_site
from hypothesis import given
from hypothesis import strategies as st

from procedures.clock import ManualClock
from procedures.journal.files import MAGIC
from procedures.site import backup, exchange, inventory, inventory_csv, secrets, secrets_file
from procedures.site.opening import Site, open_site
from procedures.trouble import Trouble

QUICK = secrets.Cost(n=16)
SALT = bytes(range(16))
PIN, OTHER = "285914", "a wet morning in the orchard"


class Room:
    """A site whose lead has a PIN."""

    def __init__(self, folder: Path) -> None:
        self.clock = ManualClock(START)
        self.site = small_site(folder, self.clock)
        self.lead, self.tech = id_of(self.site, "P-1"), id_of(self.site, "P-2")
        self.set(self.lead, PIN)

    def set(self, person: str, pin: str, by: str = "", by_pin: str = "") -> None:
        secrets.set_pin(self.site, person, pin, salt=SALT, by=by, by_pin=by_pin, cost=QUICK)

    def passes(self, pin: str, person: str = "") -> bool:
        try:
            secrets.check_pin(self.site, person or self.lead, pin)
        except Trouble:
            return False
        return True


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    made = Room(tmp_path / "site")
    yield made
    made.site.close()


def test_the_hash_is_scrypt_as_published() -> None:
    """RFC 7914 section 12, second vector: "password", "NaCl", N 1024, r 8, p 16 (from memory; begins fdbabe1c9d34)."""
    found = hashlib.scrypt(b"password", salt=b"NaCl", n=1024, r=8, p=16, dklen=64)
    assert found.hex() == (
        "fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b3731622eaf30d92e22a3886ff109279d9830da"
        "c727afb94a83ee6d8360cbdfa2cc0640"
    )
    assert secrets._digest("password", b"NaCl", secrets.Cost(1024, 8, 16)) == found[:32]


def test_the_cost_is_that_of_a_password_and_stands_beside_each_hash(room: Room) -> None:
    """At least n = 2^15, r = 8, p = 1: some 32 MiB for each guess. What it was made with is read, not assumed."""
    assert secrets.Cost(1 << 15, 8, 1) == secrets.ABOUT_100_MS
    secrets.set_pin(room.site, room.tech, OTHER, salt=SALT, by=room.lead, by_pin=PIN)
    held = json.loads(secrets_file.path_of(room.site).read_bytes())["people"]
    assert [held[room.tech][key] for key in "nrp"] == [1 << 15, 8, 1]
    assert [held[room.lead][key] for key in "nrp"] == [16, 8, 1]
    assert room.passes(PIN)
    assert room.passes(OTHER, room.tech)


def test_the_right_pin_and_no_other(room: Room) -> None:
    """Blanks around it are the keyboard's; a PIN written in other digits of the same value is the same."""
    assert room.passes(PIN)
    assert room.passes(f" {PIN} ")
    assert room.passes("".join(chr(ord(digit) - ord("0") + 0xFF10) for digit in PIN))
    assert not room.passes(PIN[:-1])


@pytest.mark.parametrize("pin", ["", "\x00", "x" * 100_000, "28591\ud800"])
def test_whatever_is_entered_is_answered_in_words(room: Room, pin: str) -> None:
    """A scanner into the PIN's field, or a broken keyboard, is a wrong PIN and nothing worse."""
    assert not room.passes(pin)


# --- which may be a PIN --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "pin",
    ["", "123", "1" * 13, "1111", "1234", "9876", "7890", "2109", "1212", "123123", "2468", "1122", "1987", "2031",
     "short", "x" * 129, "aaaaaaaaaaaa", "abababababab", "abcdefghijkl", "Lead Person", "LEAD PERSON 4711",
     "tab\tin a phrase", "28591\ud800456789"],
)  # fmt: skip
def test_short_and_trivial_pins_are_refused_without_repeating_them(pin: str) -> None:
    """What everybody tries first is refused, with the reason; the refusal may be read over a shoulder."""
    with pytest.raises(Trouble) as refused:
        secrets.well_chosen(pin, ("P-1", "Lead Person", "LP"))
    assert "4 to 12 digits" in refused.value.allowed
    assert len(pin) < 3 or pin not in str(refused.value)


@pytest.mark.parametrize("pin", [PIN, "2859", "190284716650", OTHER, "Grün ist das Tal", "correct horse 9"])
def test_others_are_taken(pin: str) -> None:
    """Digits for gloves, a phrase for a desk."""
    assert secrets.well_chosen(pin, ("P-1", "Lead Person", "LP")) == pin


@given(st.text(max_size=140))
def test_any_text_is_a_pin_or_trouble(pin: str) -> None:
    """Nothing that is typed ends otherwise, and what is taken can be hashed."""
    with suppress(Trouble):
        secrets._digest(secrets.well_chosen(pin, ("P-1", "Lead Person", "LP")), SALT, secrets.Cost(2, 1, 1))


# --- wrong tries ---------------------------------------------------------------------------------------------------


def test_each_wrong_try_makes_the_next_wait_longer(room: Room) -> None:
    """2, 4, 8 s … an hour: until then not even the right one is looked at, and the message says until when."""
    for wait in (2, 4, 8, 16):
        assert not room.passes("00000")
        room.clock.advance(wait - 0.5)
        with pytest.raises(Trouble, match=r"the next one is taken at \d\d:\d\d:\d\d on 2026-06-01"):
            secrets.check_pin(room.site, room.lead, PIN)
        room.clock.advance(0.5)
    assert room.passes(PIN)
    assert not room.passes("00000")
    room.clock.advance(2)
    assert room.passes(PIN)


def test_the_time_that_is_said_is_the_time_that_counts(room: Room) -> None:
    """Who comes when they were told to is not sent away again."""
    assert not room.passes("00000")
    with pytest.raises(Trouble) as early:
        secrets.check_pin(room.site, room.lead, PIN)
    said = dt.datetime.strptime(early.value.what.split(" at ")[1], "%H:%M:%S on %Y-%m-%d").replace(tzinfo=dt.UTC)
    room.clock.advance((said - room.clock.now().utc).total_seconds())
    assert room.passes(PIN)


@given(st.integers(min_value=1, max_value=10**9))
def test_waits_grow_and_stay_within_an_hour(tries: int) -> None:
    """No number of tries shuts the right person out for longer."""
    assert 2 <= secrets.wait_after(tries) <= secrets.wait_after(tries + 1) <= 3600


def test_setting_the_clock_forward_shortens_no_wait(room: Room) -> None:
    """Ticks of the same session do not follow the wall clock."""
    assert not room.passes("00000")
    room.clock.set_wall(START + dt.timedelta(days=1))
    assert not room.passes(PIN)
    room.clock.advance(2)
    assert room.passes(PIN)


def test_a_clock_set_back_begins_the_wait_anew_and_no_more(room: Room) -> None:
    """A clock that stood years ahead for an hour must not shut the lead out for years."""
    room.clock.set_wall(START + dt.timedelta(days=3650))
    assert not room.passes("00000")
    room.clock.set_wall(START)
    room.clock.restart("after the battery was changed")
    assert not room.passes(PIN)
    room.clock.advance(2)
    assert room.passes(PIN)


def test_waits_outlast_the_program(room: Room) -> None:
    """Starting anew is no way round them."""
    assert not room.passes("00000")
    room.site.close()
    room.clock.restart("second")
    with open_site(room.site.folder, room.clock) as again:
        with pytest.raises(Trouble, match="the next one is taken at"):
            secrets.check_pin(again, room.lead, PIN)
        room.clock.advance(2)
        secrets.check_pin(again, room.lead, PIN)


def test_a_wrong_try_is_in_the_journal_about_the_person(room: Room) -> None:
    """Who looks at a person sees it; it weighs on no instrument."""
    assert not room.passes("00000")
    (event,) = room.site.journal.about(room.lead, kinds=("pin-refused",))
    assert dict(event.body) == {"who": room.lead, "tries": 1, "wait": 2}
    assert not event.ends_fitness


# --- who may set one -----------------------------------------------------------------------------------------------


def test_only_a_lead_with_their_pin_sets_one(room: Room) -> None:
    """Without a lead present, with a wrong PIN, or by a technician: refused, and nothing is kept."""
    for by, pin in (("", ""), (room.lead, "999"), (room.tech, PIN)):
        with pytest.raises(Trouble):
            room.set(room.tech, OTHER, by, pin)
        assert not secrets.has_pin(room.site, room.tech)
        room.clock.advance(60)
    room.set(room.tech, OTHER, room.lead, PIN)
    assert room.passes(OTHER, room.tech)


def test_people_change_their_own_with_their_own(room: Room) -> None:
    """The old one is worth nothing afterwards."""
    room.set(room.tech, OTHER, room.lead, PIN)
    room.set(room.tech, "482650", room.tech, OTHER)
    assert room.passes("482650", room.tech)
    assert not room.passes(OTHER, room.tech)


def test_a_second_lead_cannot_begin_where_one_has_a_pin(room: Room) -> None:
    """The way in for the first lead is closed once there is one."""
    second = inventory.register_person(room.site, label="P-3", name="Other", initials="O", roles=["lead"])
    with pytest.raises(Trouble, match="a lead present"):
        room.set(second, OTHER)


def test_nobody_begins_before_the_lead(tmp_path: Path) -> None:
    """The first PIN of a station is a lead's."""
    with small_site(tmp_path, ManualClock(START)) as site, pytest.raises(Trouble, match="no lead has a PIN"):
        secrets.set_pin(site, id_of(site, "P-2"), PIN, salt=SALT, cost=QUICK)


def test_that_a_pin_was_set_is_in_the_journal(room: Room) -> None:
    """And by whom: the first one of a station rests on nobody's, which a lead can see."""
    room.set(room.tech, OTHER, room.lead, PIN)
    (first,) = room.site.journal.about(room.lead, kinds=("note",))
    (second,) = room.site.journal.about(room.tech, kinds=("note",))
    assert "without any" in first.body["text"]
    assert (second.person, "without" in second.body["text"]) == (room.lead, False)


def test_who_has_left_has_no_pin(room: Room) -> None:
    """A retired lead's PIN opens nothing."""
    inventory.retire(room.site, room.lead, "left")
    assert not room.passes(PIN)


def test_another_station_has_no_pin_until_it_is_set_there(room: Room, tmp_path: Path) -> None:
    """Neither records that were exchanged nor a copied file of PINs bring one along."""
    out = tmp_path / "out.exchange"
    exchange.exchange_out(room.site, out)
    exchange.join(out, tmp_path / "two", room.clock, station="two", name="second")
    with open_site(tmp_path / "two", room.clock) as other:
        assert not secrets.has_pin(other, room.lead)
        secrets_file.path_of(other).write_bytes(secrets_file.path_of(room.site).read_bytes())
        assert not secrets.has_pin(other, room.lead)


# --- the file ------------------------------------------------------------------------------------------------------


def traces(pin: str, site: Site) -> list[bytes]:
    kept = secrets_file.read(site).values()
    return [pin.encode(), *(each.hash.encode() for each in kept), *(bytes.fromhex(each.hash) for each in kept)]


def test_no_pin_and_no_hash_in_journal_exchange_or_backup(room: Room, tmp_path: Path) -> None:
    """Searched for byte by byte in everything the site writes; only the file of PINs holds the hash, and no PIN."""
    assert not room.passes("5550123")
    room.clock.advance(10)
    assert room.passes(PIN)
    wanted = [*traces(PIN, room.site), b"5550123"]
    exchange.exchange_out(room.site, tmp_path / "out.exchange")
    inventory_csv.export(room.site, tmp_path / "lists")
    room.site.close()
    backup.backup(room.site.folder, tmp_path / "kept.backup", "real")
    files = [path for path in tmp_path.rglob("*") if path.is_file()]
    assert any(path.read_bytes().startswith(MAGIC) for path in files)
    found = {path.name for path in files for each in wanted if each in path.read_bytes()}
    assert found == {"site.pins"}
    assert PIN.encode() not in (room.site.folder / "site.pins").read_bytes()


def test_no_pin_in_the_report_of_a_fault(room: Room, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A fault in the very middle of checking writes its report without what was entered."""
    from checklist_tui.crash import write_crash

    def broken(*_: object, **__: object) -> bytes:
        raise RuntimeError("broken")

    wanted = traces(PIN, room.site)
    monkeypatch.setattr(hashlib, "scrypt", broken)
    with pytest.raises(RuntimeError) as fault:
        secrets.check_pin(room.site, room.lead, PIN)
    path = write_crash(tmp_path, fault.value, START)
    assert path is not None
    assert not any(each in path.read_bytes() for each in wanted)


@pytest.mark.skipif(sys.platform == "win32", reason="no modes there")
def test_the_file_is_its_owners_alone(room: Room) -> None:
    """From the first moment, whatever the system's habit is."""
    before = os.umask(0)
    try:
        room.set(room.tech, OTHER, room.lead, PIN)
    finally:
        os.umask(before)
    assert stat.S_IMODE(secrets_file.path_of(room.site).stat().st_mode) == 0o600


@pytest.mark.parametrize(
    "raw",
    [b"", b"\xff", b"{}", b"[]", b'{"format": 2, "people": {}}', b"[" * 5000,
     b'{"format":1,"station":"station-a","people":[]}'],
)  # fmt: skip
def test_a_damaged_file_lets_nobody_in(room: Room, raw: bytes) -> None:
    """Trouble with the file's name, never a traceback, never a pass, and the file is not written over."""
    path = secrets_file.path_of(room.site)
    path.write_bytes(raw)
    for act in (lambda: secrets.check_pin(room.site, room.lead, PIN), lambda: room.set(room.lead, OTHER)):
        with pytest.raises(Trouble) as told:
            act()
        assert told.value.where == str(path)
    assert path.read_bytes() == raw


@pytest.mark.parametrize(
    ("key", "value"),
    [("n", 1 << 30), ("n", 3), ("n", True), ("r", 0), ("p", 1 << 20), ("hash", ""), ("salt", "xy"), ("tries", -1),
     ("at", "today"), ("ticks", None), ("more", 1)],
)  # fmt: skip
def test_a_row_that_was_meddled_with_is_damage(room: Room, key: str, value: object) -> None:
    """A hash whose checking would take all memory, or none at all, is not checked."""
    path = secrets_file.path_of(room.site)
    held = json.loads(path.read_bytes())
    held["people"][room.lead] |= {"tries": 1, "at": "2026-06-01T06:05:00.000000Z", key: value}
    path.write_text(json.dumps(held))
    with pytest.raises(Trouble, match="damaged"):
        secrets.check_pin(room.site, room.lead, PIN)


def test_a_kill_between_counting_and_looking_gains_no_try(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """The try is on the disk before the hash is made."""

    def killed(*_: object) -> bytes:
        raise KeyboardInterrupt

    monkeypatch.setattr(secrets, "_digest", killed)
    with pytest.raises(KeyboardInterrupt):
        secrets.check_pin(room.site, room.lead, "00000")
    monkeypatch.undo()
    assert secrets_file.read(room.site)[room.lead].tries == 1
    assert not room.passes(PIN)
