"""Who may do what: roles, training that ends, who clears what, and that no lockout is got rid of alone."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args

import pytest
from desk_walk import START, id_of, small_site, walk

from checklist_tui import plain_talk
from checklist_tui.cli import main
from procedures.clock import ManualClock
from procedures.journal.states import fitness
from procedures.site import clearing, inventory, people, references, secrets
from procedures.site.checkouts import Desk
from procedures.site.opening import Site
from procedures.trouble import Trouble

QUICK = secrets.Cost(n=16)
PINS = {"P-1": "285914", "P-2": "730164", "P-3": "918273"}


class Room:
    """A site with two leads and a technician, whose settings a test changes."""

    def __init__(self, folder: Path) -> None:
        self.clock = ManualClock(START)
        self.site: Site = small_site(folder, self.clock)
        self.lead, self.tech, self.instrument = (id_of(self.site, label) for label in ("P-1", "P-2", "C-1"))
        self.other = inventory.register_person(self.site, label="P-3", name="Other Lead", initials="OL", roles=["lead"])
        self.clock.advance(60)

    def set(self, **settings: str) -> None:
        self.site.record("settings-changed", {"set": settings}, about=("site",))

    def with_pins(self) -> None:
        self.set(pins="on")
        secrets.set_pin(self.site, self.lead, PINS["P-1"], salt=b"1" * 16, cost=QUICK)
        for label in ("P-2", "P-3"):
            more = {"by": self.lead, "by_pin": PINS["P-1"], "salt": label.encode() * 8, "cost": QUICK}
            secrets.set_pin(self.site, id_of(self.site, label), PINS[label], **more)  # type: ignore[arg-type]

    def lock(self, code: str = "by-hand") -> str:
        return clearing.lock_by_hand(self.site, self.instrument, self.tech, "It rattles.", code)

    def clear(self, *lockouts: str, **more: Any) -> str:
        named = {"lockouts": lockouts, "cause": "a loose screw", "action": "fastened", **more}
        return clearing.clear(self.site, self.instrument, named.pop("person", self.lead), **named)

    def refuses(self, *lockouts: str, saying: str, **more: Any) -> None:
        """The clearing is refused for this reason, and nothing is recorded."""
        before = self.site.journal.count()
        with pytest.raises(Trouble, match=saying):
            self.clear(*lockouts, **more)
        assert self.site.journal.count() == before

    def body(self, clearing_id: str) -> dict[str, Any]:
        event = self.site.journal.by_hash(clearing_id)
        assert event is not None
        return dict(event.body)

    def word(self) -> str:
        return fitness(self.site.journal.instrument_now(self.instrument), self.clock.now().utc).word

    def check(self) -> None:
        desk = Desk(self.site)
        walk(desk, desk.start(self.instrument, self.tech), self.clock)

    def calibrate(self) -> None:
        calibration = references.calibrated(
            self.site, self.instrument, on=dt.date(2026, 6, 1), due=dt.date(2027, 6, 1), by="bench", certificate="K-2"
        )
        references.reference_reading(
            self.site, self.instrument, source=id_of(self.site, "S-1"), jig=id_of(self.site, "J-1"), role="daily",
            scale="x1", readings=["1.60", "1.65", "1.70"], unit="mR/h", calibration=calibration,
        )  # fmt: skip


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    made = Room(tmp_path)
    yield made
    made.site.close()


# --- may -----------------------------------------------------------------------------------------------------------


def test_a_technician_checks_and_does_nothing_else(room: Room) -> None:
    """Anyone may end trust; few may restore it. Each refusal says who may."""
    for action in get_args(people.Action):
        why = people.may(room.site, room.tech, action)
        assert (why == "") == (action == "check"), why
        assert people.may(room.site, room.lead, action) == ""


def test_training_that_ended_ends_what_is_done_at_instruments(room: Room) -> None:
    """It is good on its last day, by the site's zone; a lead may still put the site in order, else nobody could."""
    people.describe(room.site, room.lead, room.lead, {"trained_until": START.date()})
    assert not any(people.may(room.site, room.lead, action) for action in get_args(people.Action))
    room.clock.advance(18 * 3600)
    overdue = {action for action in get_args(people.Action) if people.may(room.site, room.lead, action)}
    assert overdue == {"check", "clear", "clean", "adopt", "calibrate", "reference"}
    assert "training ended on 2026-06-01" in people.may(room.site, room.lead, "clear")
    people.describe(room.site, room.lead, room.lead, {"trained_until": dt.date(2028, 1, 1)})
    assert people.may(room.site, room.lead, "clear") == ""


@pytest.mark.parametrize("who", ["", "ab" * 32, "S-1", "C-1", "retired"])
def test_nobody_who_is_not_on_the_list_may_do_anything(room: Room, who: str) -> None:
    """Nobody, an unknown id, a thing, and who has left."""
    if who == "retired":
        people.retire(room.site, room.lead, room.other, "left")
    person = {"retired": room.other}.get(who) or (id_of(room.site, who) if "-" in who else who)
    for action in get_args(people.Action):
        assert people.may(room.site, person, action) == "not on the site's list of people"


# --- the list ------------------------------------------------------------------------------------------------------


def test_only_a_lead_changes_the_list(room: Room) -> None:
    """Adding, describing and retiring, each refused to a technician with nothing recorded."""
    before = room.site.journal.count()
    acts = (
        lambda: people.add(room.site, room.tech, label="P-9", name="N", initials="N", roles=["lead"]),
        lambda: people.describe(room.site, room.tech, room.tech, {"roles": ["lead"]}),
        lambda: people.retire(room.site, room.tech, room.lead, "why not"),
    )
    for act in acts:
        with pytest.raises(Trouble, match="only a site lead"):
            act()
    assert room.site.journal.count() == before


def test_with_pins_the_lead_has_to_be_there(room: Room) -> None:
    """The badge of a lead on the desk is not the lead."""
    room.with_pins()
    for pin in (None, "", "111222"):
        with pytest.raises(Trouble, match="PIN"):
            people.add(room.site, room.lead, label="P-9", name="New", initials="N", roles=["technician"], pin=pin)
    room.clock.advance(10)
    added = people.add(
        room.site, room.lead, label="P-9", name="New", initials="N", roles=["technician"], pin=PINS["P-1"]
    )
    assert {each.label: each.has_pin for each in people.listed(room.site)}["P-9"] is False
    assert people.may(room.site, added, "check") == ""


def test_the_last_lead_stays(room: Room) -> None:
    """Neither retired nor made something else: nobody could clear or set up any more."""
    people.describe(room.site, room.lead, room.other, {"roles": ["trainer", "technician"]})
    with pytest.raises(Trouble, match="the only site lead"):
        people.retire(room.site, room.lead, room.lead, "left")
    with pytest.raises(Trouble, match="the only site lead"):
        people.describe(room.site, room.lead, room.lead, {"roles": ["technician"]})


@pytest.mark.parametrize(
    "changes",
    [{}, {"what": "instrument"}, {"label": "P-2"}, {"label": "C-1"}, {"label": " "}, {"name": "\x1b"}, {"roles": []},
     {"roles": ["boss"]}, {"initials": "x" * 13}],
)  # fmt: skip
def test_what_cannot_be_is_not_recorded(room: Room, changes: dict[str, Any]) -> None:
    """Labels of other things, empty names, roles that there are not."""
    before = room.site.journal.count()
    with pytest.raises(Trouble):
        people.describe(room.site, room.lead, room.other, changes)
    assert room.site.journal.count() == before


# --- clearing ------------------------------------------------------------------------------------------------------


def test_with_pins_a_clearing_takes_the_leads(room: Room) -> None:
    """None, a wrong one, somebody else's: the lockout stands. The right one: it waits for its check."""
    room.with_pins()
    lockout = room.lock()
    for pin in (None, "000111", PINS["P-3"]):
        with pytest.raises(Trouble, match="PIN"):
            room.clear(lockout, pin=pin, repaired_by="bench")
        room.clock.advance(60)
    assert not room.site.journal.instrument_now(room.instrument).standing.awaiting
    room.clear(lockout, pin=PINS["P-1"], repaired_by="bench")
    assert (room.site.journal.instrument_now(room.instrument).standing.awaiting, room.word()) == (True, "locked out")
    room.check()
    assert room.word() == "ready"


def test_no_pin_is_in_the_record_of_a_clearing(room: Room) -> None:
    """Neither of the one who clears nor of the second."""
    room.with_pins()
    made = room.clear(room.lock(), pin=PINS["P-1"], repaired_by="bench", second=room.tech, second_pin=PINS["P-2"])
    event = room.site.journal.by_hash(made)
    assert event is not None
    assert not any(pin.encode() in event.raw for pin in PINS.values())


@pytest.mark.parametrize("said", ["id", "P-1", "lead person", " LP "])
def test_whoever_repaired_does_not_clear(room: Room, said: str) -> None:
    """However they are named, and not by keeping silent either."""
    room.set(repairer_may_clear="no")
    lockout = room.lock()
    room.refuses(lockout, repaired_by=room.lead if said == "id" else said, saying="whoever repaired")
    room.refuses(lockout, saying="who repaired it is not said")
    room.refuses(lockout, repaired_by="ef" * 32, saying="not known here")
    assert room.body(room.clear(lockout, repaired_by=room.other))["by_repairer"] == "no"


def test_where_the_site_lets_them_the_record_says_so(room: Room) -> None:
    """An inspector reads it years later."""
    room.set(repairer_may_clear="yes")
    said = room.body(room.clear(room.lock(), repaired_by="lp"))
    assert (said["by_repairer"], said["repaired_by"]) == ("yes", room.lead)
    assert room.body(room.clear(room.lock()))["by_repairer"] == "not said"


def test_some_reasons_need_two_people(room: Room) -> None:
    """A second person on the list who is neither the first nor the repairer; with PINs, with theirs."""
    room.set(two_people_for="window-damaged, response-out")
    plain, lockout = room.lock(), room.lock("response-out")
    room.clear(plain)
    room.refuses(lockout, saying="two people")
    room.refuses(plain, lockout, saying="two people")
    for second in (room.lead, "ab" * 32, room.instrument):
        room.refuses(lockout, second=second, saying="second person")
    room.refuses(lockout, second=room.tech, repaired_by=room.tech, saying="second person")
    assert room.body(room.clear(lockout, second=room.tech))["second"] == room.tech


def test_the_second_person_gives_their_pin(room: Room) -> None:
    """Else a lead with another's badge would be two."""
    room.with_pins()
    room.set(two_people_for="by-hand")
    lockout = room.lock()
    both = {"repaired_by": "bench", "second": room.tech, "pin": PINS["P-1"]}
    with pytest.raises(Trouble, match="a PIN is needed"):
        room.clear(lockout, **both)
    room.clear(lockout, **both, second_pin=PINS["P-2"])


def test_some_reasons_need_a_calibration_first(room: Room) -> None:
    """One from before the lockout is none; a clearing that asks for one itself is held to it by the check."""
    room.set(calibration_for="response-out")
    room.calibrate()
    lockout = room.lock("response-out")
    room.refuses(lockout, saying="calibrated first")
    room.clear(lockout, calibration_needed=True)
    room.calibrate()
    room.clear(lockout)
    room.check()
    assert room.word() == "ready"


# --- entered in error ----------------------------------------------------------------------------------------------


def test_an_entry_in_error_is_kept_and_struck_and_still_needs_its_check(room: Room) -> None:
    """Nothing opens by itself: the lockout stands until a complete checkout passes, and stays in the record."""
    lockout = room.lock()
    clearing.strike(
        room.site, room.instrument, room.lead, lockout=lockout, why="another C-1 was meant", second=room.tech
    )
    assert room.word() == "locked out"
    (struck,) = room.site.journal.about(room.instrument, kinds=("struck",))
    assert dict(struck.body) == {"entry": lockout, "why": "another C-1 was meant", "second": room.tech}
    room.check()
    assert room.word() == "ready"
    (kept,) = room.site.journal.instrument_now(room.instrument).lockouts
    assert (kept.id, kept.status) == (lockout, "closed")
    assert room.site.journal.by_hash(lockout) is not None


def test_nobody_strikes_alone(room: Room) -> None:
    """Two different people, one of them a lead, each with their PIN where the site asks for it; nothing by halves."""
    room.with_pins()
    lockout = room.lock()
    before = room.site.journal.count()
    for person, second, pin, second_pin in (
        (room.lead, room.lead, "P-1", "P-1"),
        (room.lead, "", "P-1", "P-1"),
        (room.tech, room.lead, "P-2", "P-1"),
        (room.lead, room.tech, "P-1", ""),
    ):
        with pytest.raises(Trouble):
            clearing.strike(
                room.site, room.instrument, person, lockout=lockout, why="a slip", second=second,
                pin=PINS[pin], second_pin=PINS.get(second_pin),
            )  # fmt: skip
    assert room.site.journal.count() == before


def test_an_error_is_no_way_round_a_calibration(room: Room) -> None:
    """What the site wants calibrated is calibrated, whatever two people say of it."""
    room.set(calibration_for="response-out")
    lockout = room.lock("response-out")
    with pytest.raises(Trouble, match="calibrated first"):
        clearing.strike(room.site, room.instrument, room.lead, lockout=lockout, why="a slip", second=room.tech)


# --- the command ---------------------------------------------------------------------------------------------------


@pytest.fixture
def closed(room: Room) -> list[str]:
    """The option that names the room's site, which is closed: a command opens it."""
    room.site.close()
    return ["--data", str(room.site.folder)]


def typed(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    """What is typed at a terminal that hides it; more than this is asked in vain."""
    left = list(lines)
    monkeypatch.setattr(plain_talk, "is_terminal", lambda: True)
    monkeypatch.setattr(plain_talk, "secret", lambda _: left.pop(0))


def test_the_list_says_who_may_not_what(closed: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """In words, and for programs."""
    assert main(["people", *closed]) == 0
    assert "P-2, Tech Person (TP): technician. No PIN on this laptop." in capsys.readouterr().out
    assert main(["people", "list", "--json", *closed]) == 0
    rows = {row["label"]: row for row in json.loads(capsys.readouterr().out)["people"]}
    assert rows["P-1"]["may_not"] == {}
    assert "only a site lead" in rows["P-2"]["may_not"]["clear"]


def test_pins_are_set_at_a_terminal_with_a_lead(
    closed: list[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The lead's first, then a technician's with the lead's; a wrong one of the lead's sets nothing."""
    assert main(["people", "pin", "P-1", *closed]) == 2
    assert "terminal" in capsys.readouterr().err
    typed(monkeypatch, PINS["P-1"], PINS["P-1"])
    assert main(["people", "pin", "P-1", *closed]) == 0
    typed(monkeypatch, PINS["P-1"], PINS["P-2"], PINS["P-2"])
    assert main(["people", "pin", "P-2", "--lead", "P-1", *closed]) == 0
    typed(monkeypatch, "111222", "444777", "444777")
    assert main(["people", "pin", "P-3", "--lead", "P-1", *closed]) == 2
    out, err = capsys.readouterr()
    assert "that is not the PIN" in err
    assert not any(pin in out + err for pin in (*PINS.values(), "111222"))
    assert main(["people", "--json", *closed]) == 0
    has = {row["label"]: row["has_pin"] for row in json.loads(capsys.readouterr().out)["people"]}
    assert has == {"P-1": True, "P-2": True, "P-3": False}
