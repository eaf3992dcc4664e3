"""Two laptops: what comes by a file is told, and what only a person can decide is decided by a lead."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from life_room import ASKING, BACK, PINS, USE, LifeRoom, low, words_on

from procedures.clock import ManualClock
from procedures.sheets import Deed, Grid
from procedures.site import deciding, exchange, exchange_age, inventory, profiles
from procedures.site.checkouts import Desk
from procedures.site.forms import task
from procedures.site.opening import Site, open_site
from procedures.site.records import listing, sheet
from procedures.trouble import Trouble


class Two:
    """A laptop, and a second one that joined its site. Both clocks go together."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.room = LifeRoom(folder)
        assert self.room.check() == "fit for use"
        whole = exchange.exchange_out(self.room.site, folder / "whole.exchange").path
        self.clock = ManualClock(self.room.clock.now().utc + timedelta(seconds=2), session="other")
        exchange.join(whole, folder / "other", self.clock, station="station-b", name="gate laptop")
        self.other: Site = open_site(folder / "other", self.clock)
        self.files = 0

    def later(self, seconds: float) -> None:
        self.room.clock.advance(seconds)
        self.clock.advance(seconds)

    def bring(self, source: Site, target: Site) -> str:
        """A file from one to the other, by the forms; what is said of it."""
        self.later(60)
        self.files += 1
        path = str(self.folder / f"{self.files}.exchange")
        task("exchange-out").keep(source, "", "", {"path": path, "since": ""})
        self.later(10)
        looked = task("exchange-in").look(target, "", "", {"path": path})
        assert not looked.troubles
        done = task("exchange-in").keep(target, "", "", {"path": path})
        assert done.opens == Deed("Laptops of this site", "sheet", "exchange")
        return f"{done.what} {done.do}"

    def close(self) -> None:
        self.room.site.close()
        self.other.close()


@pytest.fixture
def two(tmp_path: Path) -> Iterator[Two]:
    made = Two(tmp_path)
    yield made
    made.close()


def opens(site: Site, form: str, person: str = "") -> list[Deed]:
    """Deeds of the exchange sheet's rows that open this form."""
    grids = [each for each in sheet(site, "exchange", "", person).sections if isinstance(each, Grid)]
    return [row.opens for each in grids for row in each.rows if row.opens is not None and row.opens.name == form]


# --- files ---------------------------------------------------------------------------------------------------------


def test_before_it_is_taken_a_file_says_whose_it_is_of_when_and_how_much(two: Two) -> None:
    """Two files on one stick look alike."""
    path = exchange.exchange_out(two.other, two.folder / "b.exchange").path
    look = task("exchange-in").look(two.room.site, "", "", {"path": f'"{path}"'})
    said = " ".join(look.lines)
    assert "Test site" in said
    assert "gate laptop" in said
    assert "2026-06-01" in said
    assert f"{two.other.journal.count():,} records" in said


@pytest.mark.parametrize("path", ["", "/nowhere/at/all", "\x00", "x" * 3000, "~nobody-at-all/x", ".", "bad"])
def test_what_is_no_file_is_said_before_and_refused(two: Two, path: str) -> None:
    """Whatever is typed or pasted: words, and nothing taken."""
    (two.folder / "bad").write_text("not an exchange file")
    entered = {"path": str(two.folder / "bad") if path == "bad" else path, "since": ""}
    before = two.room.site.journal.count()
    assert task("exchange-in").look(two.room.site, "", "", entered).troubles
    with pytest.raises(Trouble):
        task("exchange-in").keep(two.room.site, "", "", entered)
    since = {"path": str(two.folder / "out.exchange"), "since": entered["path"] or "nothing"}
    assert task("exchange-out").look(two.room.site, "", "", since).troubles
    with pytest.raises(Trouble):
        task("exchange-out").keep(two.room.site, "", "", since)
    assert two.room.site.journal.count() == before


def test_only_what_the_other_had_not_is_written_when_a_file_of_it_is_named(two: Two) -> None:
    """A year of records does not go over every morning."""
    heard = exchange.exchange_heads(two.other, two.folder / "heads.exchange").path
    entered = {"path": str(two.folder / "small.exchange"), "since": str(heard)}
    assert "gate laptop" in task("exchange-out").look(two.room.site, "", "", entered).lines[0]
    done = task("exchange-out").keep(two.room.site, "", "", entered)
    assert " 0 records" in done.what


def test_the_sheet_says_how_old_what_is_known_of_each_laptop_is(two: Two) -> None:
    """A lockout made over there stands here only once it was brought."""
    assert "none came back" in exchange_age.exchange_age(two.room.site)
    two.bring(two.other, two.room.site)
    two.later(3 * 3600)
    assert "3 h old (gate laptop" in sheet(two.room.site, "exchange").line
    assert "gate laptop | 2026-06-01" in words_on(sheet(two.room.site, "exchange"))


# --- what comes late -----------------------------------------------------------------------------------------------


def test_a_lockout_that_comes_late_is_named_and_puts_the_uses_made_meanwhile_in_doubt(two: Two) -> None:
    """Handed out here on yesterday's word while it failed over there: the use is in doubt on both laptops."""
    two.later(60)
    desk = Desk(two.other)
    room = LifeRoom.__new__(LifeRoom)
    room.site, room.desk, room.clock = two.other, desk, two.clock
    room.instrument, room.tech = two.room.instrument, two.room.tech
    assert room.check(low) == "locked out"
    two.room.clock.advance((two.clock.now().utc - two.room.clock.now().utc).total_seconds() + 60)
    two.clock.advance(60)
    two.room.keep("hand-out", **USE)
    said = two.bring(two.other, two.room.site)
    assert "LOCKED OUT now: C-1" in said
    assert "IN DOUBT now: 1 use of C-1" in said
    assert USE["job"] in words_on(sheet(two.room.site, "doubt", two.room.instrument))
    assert listing(two.room.site, "uses").rows[0].cells[-1].startswith("LOCKED OUT")
    said = two.bring(two.room.site, two.other)
    assert "IN DOUBT now: 1 use of C-1" in said
    assert "LOCKED OUT now" not in said
    here, there = (
        {(row.cause, row.use) for row in site.journal.doubts_open(limit=-1)[0]} for site in (two.room.site, two.other)
    )
    assert here == there != set()


def test_a_lockout_by_hand_that_comes_late_is_named(two: Two) -> None:
    """No check failed, so no use is in doubt by it; but nobody may use it from now on."""
    two.later(60)
    task("lock-out").keep(two.other, two.room.instrument, two.room.tech, {"reason": "wet", "say": "", "tag": "T-3"})
    two.room.keep("hand-out", **USE)
    said = two.bring(two.other, two.room.site)
    assert "LOCKED OUT now: C-1" in said
    two.room.keep("take-back", **BACK)
    with pytest.raises(Trouble, match="not fit for use"):
        two.room.form("hand-out")


def test_beyond_the_sites_limit_nothing_goes_out_before_an_exchange(two: Two) -> None:
    """Only where there are other laptops; the words say what to do."""
    two.bring(two.other, two.room.site)
    two.room.set(exchange_limit_hours="2", ready_ends="profile")
    assert two.room.check() == "fit for use"
    two.later(2 * 3600 + 600)
    entered = {**USE, "back_by": "2026-06-01 20:00"}
    look = two.room.look("hand-out", two.room.instrument, two.room.tech, entered)
    assert any("Exchange first" in str(each) for each in look.troubles.values())
    with pytest.raises(Trouble, match="Exchange first"):
        task("hand-out").keep(two.room.site, two.room.instrument, two.room.tech, entered)
    two.bring(two.other, two.room.site)
    two.room.keep("hand-out", **entered)


def test_a_laptop_that_never_heard_of_the_others_it_knows_hands_nothing_out(two: Two) -> None:
    """It knows of them by a third one's file, or has lost its notes: in doubt it is too long ago."""
    two.bring(two.other, two.room.site)
    two.room.set(exchange_limit_hours="2")
    two.room.site.journal.remember(exchange_age.TAKEN, "{ damaged")
    assert exchange_age.other_stations(two.room.site) == ("station-b",)
    with pytest.raises(Trouble, match="Exchange first"):
        two.room.form("hand-out")
    assert "No exchange file" in exchange_age.exchange_age(two.room.site)


def test_what_a_laptop_was_restored_from_is_no_other_laptop(two: Two, tmp_path: Path) -> None:
    """Nobody could ever exchange with it again."""
    import shutil

    from procedures.journal.store import Journal

    two.room.site.close()
    shutil.copytree(two.room.folder / "site", tmp_path / "restored")
    clock = two.room.clock
    Journal.fork(tmp_path / "restored" / "site.journal", station="station-r", name="again", now=clock.now()).close()
    with open_site(tmp_path / "restored", clock) as restored:
        assert restored.journal.station == "station-r"
        assert exchange_age.other_stations(restored) == ()
    two.room.site = open_site(two.room.folder / "site", clock)


# --- adopted apart -------------------------------------------------------------------------------------------------


@pytest.fixture
def apart(two: Two) -> Two:
    """Each laptop has adopted a second revision of its own."""
    two.later(60)
    for site, title in ((two.room.site, "Here"), (two.other, "There")):
        text = ASKING.replace("revision = 1", "revision = 2").replace("A small invented procedure", title)
        profiles.adopt(site, text, two.room.lead)
    said = two.bring(two.other, two.room.site)
    assert "Adopted apart, so not in force: mini." in said
    return two


def test_a_lead_chooses_between_revisions_adopted_apart(apart: Two) -> None:
    """Until then none is in force and nothing is checked; afterwards the choice holds on the other laptop too."""
    with pytest.raises(Trouble, match="adopted apart"):
        apart.room.desk.start(apart.room.instrument, apart.room.tech)
    (deed,) = opens(apart.room.site, "adoption-choice", apart.room.tech)
    assert "only a site lead" in deed.may_not
    (deed,) = opens(apart.room.site, "adoption-choice", apart.room.lead)
    assert deed.may_not == ""
    options = apart.room.form(deed.name, deed.about, apart.room.lead).fields[0].options
    there = next(each.value for each in options if "There" in each.say)
    apart.room.keep(deed.name, deed.about, apart.room.lead, adoption=there)
    assert opens(apart.room.site, "adoption-choice") == []
    in_force = apart.room.site.journal.profile_now("mini").in_force
    assert in_force is not None
    assert in_force.title == "There"
    assert apart.room.check() == "fit for use"
    apart.bring(apart.room.site, apart.other)
    theirs = apart.other.journal.profile_now("mini").in_force
    assert theirs is not None
    assert (theirs.title, theirs.sha256) == ("There", in_force.sha256)


def test_nobody_else_chooses_and_nothing_but_what_was_adopted_apart(apart: Two) -> None:
    """Refused by the form and by the use case, and nothing recorded."""
    site, room = apart.room.site, apart.room
    head = deciding.apart(site, "mini")[0].event
    old = next(each.event for each in site.journal.profile_now("mini").adoptions if each.revision == 1)
    before = site.journal.count()
    for person, adoption in ((room.tech, head), ("", head), (room.lead, old), (room.lead, ""), (room.lead, "zz")):
        assert room.look("adoption-choice", "mini", person, {"adoption": adoption}).troubles
        with pytest.raises(Trouble):
            deciding.choose_adoption(site, "mini", person, adoption=adoption)
    for profile in ("", "nothing", "\x00"):
        with pytest.raises(Trouble, match="nothing to decide"):
            task("adoption-choice").form(site, profile, room.lead, {}, 1)
    assert site.journal.count() == before


def test_a_choice_wants_the_leads_pin(apart: Two) -> None:
    """Where the site wants PINs."""
    apart.room.with_pins()
    head = deciding.apart(apart.room.site, "mini")[0].event
    with pytest.raises(Trouble, match="a PIN is needed"):
        deciding.choose_adoption(apart.room.site, "mini", apart.room.lead, adoption=head)
    apart.room.keep("adoption-choice", "mini", apart.room.lead, adoption=head, pin=PINS["P-1"])
    with pytest.raises(Trouble, match="nothing to decide"):
        deciding.apart(apart.room.site, "mini")


# --- one label on two things ---------------------------------------------------------------------------------------


@pytest.fixture
def shared(two: Two) -> Two:
    """Each laptop has registered another instrument as C-9."""
    two.later(60)
    for site, serial in ((two.room.site, "901"), (two.other, "902")):
        inventory.register_instrument(site, label="C-9", serial=serial, type="Vent one", profile="mini")
    said = two.bring(two.other, two.room.site)
    assert "C-9" in said
    return two


def test_a_lead_gives_one_of_two_things_another_label(shared: Two) -> None:
    """Then both may be used again, each by its own."""
    first, second = opens(shared.room.site, "label-new", shared.room.lead)
    assert {first.about, second.about} == {each.id for each in shared.room.site.journal.labelled("C-9")}
    form = shared.room.form("label-new", first.about, shared.room.lead)
    assert "serial" not in form.instruction
    assert any("901" in line or "902" in line for line in form.says)
    shared.room.keep("label-new", first.about, shared.room.lead, label="C-10")
    assert opens(shared.room.site, "label-new") == []
    assert [each.id for each in shared.room.site.journal.labelled("C-9")] == [second.about]
    assert [each.id for each in shared.room.site.journal.labelled("C-10")] == [first.about]
    shared.bring(shared.room.site, shared.other)
    assert shared.other.journal.shared_labels() == {}


@pytest.mark.parametrize("label", ["", "C-1", "C-9", "c-9", "S-1", "x" * 121])
def test_the_new_label_is_one_that_nothing_ever_carried(shared: Two, label: str) -> None:
    """Else an old sticker would point at a new thing."""
    about = opens(shared.room.site, "label-new")[0].about
    assert shared.room.look("label-new", about, shared.room.lead, {"label": label}).troubles
    with pytest.raises(Trouble):
        deciding.new_label(shared.room.site, about, shared.room.lead, label=label)


def test_only_a_lead_gives_labels_and_only_where_one_is_shared(shared: Two) -> None:
    """A label of its own is changed by describing the thing."""
    about = opens(shared.room.site, "label-new")[0].about
    for person in (shared.room.tech, ""):
        assert shared.room.look("label-new", about, person, {"label": "C-10"}).troubles
        with pytest.raises(Trouble):
            deciding.new_label(shared.room.site, about, person, label="C-10")
    for thing in (shared.room.instrument, shared.room.lead, "", "zz", "ab" * 32):
        with pytest.raises(Trouble):
            task("label-new").form(shared.room.site, thing, shared.room.lead, {}, 1)
        assert shared.room.look("label-new", thing, shared.room.lead, {"label": "C-10"}).troubles
