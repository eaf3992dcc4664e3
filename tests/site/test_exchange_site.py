"""Several laptops of one site, files between them: nothing is lost, nobody gets another answer, oddities are told."""

from __future__ import annotations

import json
import random
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent.parent / "journal"))

import journal_drafts as d
from desk_walk import MINI, START, id_of, sensible, small_site, walk
from journal_histories import CHOICES
from journal_oracle import Oracle
from small_disk import small_disk

from procedures.asks import Ask, Place
from procedures.clock import ManualClock
from procedures.journal import exchange as files
from procedures.journal.envelope import Draft, Event, encode
from procedures.journal.states import fitness
from procedures.journal.store import Journal
from procedures.site import clearing, handouts, inventory, profiles, source_keeping
from procedures.site.checkouts import Desk
from procedures.site.demo import make_demo
from procedures.site.exchange import (
    Received,
    exchange_heads,
    exchange_in,
    exchange_out,
    join,
    last_exchange,
)
from procedures.site.forms.exchanging import told
from procedures.site.opening import Site, create_site, open_site
from procedures.site.status import home
from procedures.site.verification import verify_site
from procedures.site.views import CheckoutView
from procedures.trouble import Trouble

# --- three laptops that write, and swap files in any order ---------------------------------------------------------

TABLES = ("things", "instruments", "sources", "people", "profiles", "open_checkouts")
USUAL = (
    "out",
    "in",
    "out",
    "in",
    "old file",
    "since",
    "check",
    "check",
    "lock out",
    "clear",
    "fail",
    "end fit",
    "open",
)
MOVES = st.lists(
    st.tuples(
        st.integers(0, 2),
        st.one_of(st.sampled_from(USUAL), st.sampled_from((*CHOICES, "wrong clock"))),
        st.integers(0, 10_000),
    ),
    max_size=24,
)


class Laptop:
    """One laptop: its site, its clock, and what is known to be in its journal."""

    def __init__(self, site: Site, clock: ManualClock) -> None:
        self.site, self.clock = site, clock
        self.known: dict[str, Event] = {}
        self.rows = 0
        self.learn()

    def learn(self) -> None:
        """Whatever came into the journal since."""
        db = self.site.journal._db
        for number, hashed in db.execute("SELECT id, hash FROM events WHERE id > ?", (self.rows,)).fetchall():
            event = self.site.journal.by_hash(hashed.hex())
            assert event is not None
            self.known[event.hash] = event
            self.rows = number

    def tables(self) -> dict[str, list[object]]:
        db = self.site.journal._db
        return {name: sorted(db.execute(f"SELECT * FROM {name}").fetchall(), key=repr) for name in TABLES}


class Three:
    """Three laptops of one site, the files they wrote, and what each writer of an event knew."""

    def __init__(self, folder: Path, stack: ExitStack) -> None:
        self.folder = folder
        self.past: dict[str, frozenset[str]] = {}
        self.files: list[Path] = []
        clock = ManualClock(START)
        first = stack.enter_context(create_site(folder / "0", clock, station="one", name="Site", zone="Etc/UTC"))
        self.laptops = [Laptop(first, clock)]
        for draft in (d.instrument("C-0"), d.instrument("C-1"), d.source(), d.person()):
            self.write(self.laptops[0], [draft])
        whole = exchange_out(first, folder / "whole.exchange").path
        for number, station in ((1, "two"), (2, "three")):
            own = ManualClock(START + timedelta(seconds=9))
            join(whole, folder / str(number), own, station=station, name=station)
            self.laptops.append(Laptop(stack.enter_context(open_site(folder / str(number), own)), own))

    def write(self, laptop: Laptop, drafts: Sequence[Draft]) -> Event:
        before = frozenset(laptop.known)
        events = laptop.site.journal.append(drafts, laptop.clock.now())
        for place, event in enumerate(events):
            self.past[event.hash] = before | {one.hash for one in events[:place]}
        laptop.learn()
        for one in self.laptops:
            one.clock.advance(1)
        return events[-1]

    def move(self, number: int, what: str, seed: int) -> None:
        laptop, chance = self.laptops[number], random.Random(seed)
        if what in ("out", "since"):
            since = chance.choice(self.files) if what == "since" and self.files else None
            path = self.folder / f"{len(self.files)}.exchange"
            self.files.append(exchange_out(laptop.site, path, since=since).path)
        elif what in ("in", "old file"):
            if self.files:
                self.take(laptop, self.files[-1] if what == "in" else chance.choice(self.files))
        elif what == "check":
            self.check(laptop, chance)
        elif what == "wrong clock":
            laptop.clock.set_wall(laptop.clock.now().utc + timedelta(seconds=chance.choice([-600, -60, 60, 600])))
        else:
            draft = CHOICES[what](list(laptop.known.values()), chance)
            if draft is not None:
                self.write(laptop, [draft])

    def check(self, laptop: Laptop, chance: random.Random) -> None:
        meter = chance.choice(self.meters())
        known = list(laptop.known.values())
        clearings = [one.hash for one in known if one.kind == "cleared" and meter in one.about]
        opened = self.write(laptop, [d.opened(meter, clearings=tuple(clearings))])
        until = (opened.utc + timedelta(hours=12)).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
        self.write(laptop, [d.found(opened.hash, meter), d.ended(opened.hash, meter, until=until)])

    def take(self, laptop: Laptop, path: Path) -> Received:
        received = exchange_in(laptop.site, path)
        laptop.learn()
        return received

    def meters(self) -> list[str]:
        known = self.laptops[0].known.values()
        return [one.hash for one in known if one.kind == "registered" and one.body["what"] == "instrument"]

    def oracle(self, laptop: Laptop, meter: str) -> Oracle:
        return Oracle(meter, laptop.known.values(), {one: self.past.get(one, frozenset()) for one in laptop.known})

    def swap_all(self) -> None:
        """Everybody gives everybody everything, as long as it takes."""
        for _ in range(2):
            for teller in self.laptops:
                path = self.folder / f"{len(self.files)}.exchange"
                self.files.append(exchange_out(teller.site, path).path)
                for listener in self.laptops:
                    if listener is not teller:
                        self.take(listener, path)


@contextmanager
def three() -> Iterator[Three]:
    with tempfile.TemporaryDirectory() as folder, ExitStack() as stack:
        yield Three(Path(folder), stack)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(MOVES)
def test_no_order_of_exchange_loses_a_lockout_or_gives_two_answers(moves: list[tuple[int, str, int]]) -> None:
    """At every laptop at every time: the lockouts that its records make, as the oracle sees it; in the end the same."""
    with three() as world:
        for number, what, seed in moves:
            world.move(number, what, seed)
            laptop = world.laptops[number]
            for meter in world.meters():
                here = laptop.site.journal.instrument_now(meter)
                assert {one.id for one in here.lockouts} == set(world.oracle(laptop, meter).lockouts())
        for laptop in world.laptops:
            # Clocks that were wrong are put right; what waited for its time no longer does.
            laptop.clock.set_wall(START + timedelta(hours=8))
        world.swap_all()
        written = {one for laptop in world.laptops for one in laptop.known}
        answers = [laptop.tables() for laptop in world.laptops]
        assert answers[0] == answers[1] == answers[2]
        for laptop in world.laptops:
            assert set(laptop.known) == written
            assert laptop.site.journal.held() == ()
            assert laptop.site.journal.forks() == ()
            now = START + timedelta(hours=8)
            shared = laptop.site.journal.shared_labels()
            for meter in world.meters():
                state = laptop.site.journal.instrument_now(meter)
                oracle = world.oracle(laptop, meter)
                closed = {one.id for one in state.lockouts if one.status == "closed"}
                assert closed == {one for one, made_by in oracle.lockouts().items() if oracle.closed(made_by, one)}
                word = oracle.word(now)
                if word == "ready" and shared:
                    word = "needs check"
                assert fitness(state, now).word == word


# --- one file and what is said of it -------------------------------------------------------------------------------


@pytest.fixture
def north(tmp_path: Path) -> Iterator[Site]:
    with small_site(tmp_path / "north", ManualClock(START)) as site:
        yield site


@pytest.fixture
def south(north: Site, tmp_path: Path) -> Iterator[Site]:
    """A second laptop of the same site."""
    exchange_out(north, tmp_path / "begin.exchange")
    clock = ManualClock(START + timedelta(minutes=1))
    join(tmp_path / "begin.exchange", tmp_path / "south", clock, station="station-b", name="South")
    with open_site(tmp_path / "south", clock) as site:
        yield site


def swap(teller: Site, listener: Site, path: Path) -> Received:
    exchange_out(teller, path)
    return exchange_in(listener, path)


def weak_cells(ask: Ask, view: CheckoutView) -> str:
    return "below the band" if isinstance(ask, Place) else sensible(ask, view)


def check(site: Site, answer: object = None) -> CheckoutView:
    desk = Desk(site)
    clock = site.clock
    assert isinstance(clock, ManualClock)
    view = desk.start(id_of(site, "C-1"), id_of(site, "P-1"))
    return walk(desk, view, clock, answer) if answer else walk(desk, view, clock)  # type: ignore[arg-type]


def test_a_laptop_joins_and_goes_on_with_the_same_site(north: Site, south: Site, tmp_path: Path) -> None:
    """It checks instruments by the profiles adopted elsewhere, and its checks count at the first laptop."""
    assert south.settings() == north.settings()
    assert south.journal.stations() == {"station-a": "first laptop", "station-b": "South"}
    ending = check(south).ending
    assert ending is not None
    assert ending.ending == "fit for use"
    south.clock.advance(1)  # type: ignore[attr-defined]
    north.clock.advance(1000)  # type: ignore[attr-defined]
    received = swap(south, north, tmp_path / "back.exchange")
    assert received.kinds["opened"] == 1
    assert fitness(north.journal.instrument_now(id_of(north, "C-1")), north.clock.now().utc).word == "ready"
    for site in (north, south):
        assert verify_site(site.folder).sound


def test_a_lockout_found_elsewhere_is_told_by_its_label(north: Site, south: Site, tmp_path: Path) -> None:
    """The one line that somebody at this laptop must not miss."""
    check(south, weak_cells)
    north.clock.advance(1000)  # type: ignore[attr-defined]
    assert swap(south, north, tmp_path / "a.exchange").locked == ("C-1",)
    again = exchange_in(north, tmp_path / "a.exchange")
    assert (again.added, again.locked) == (0, ())
    assert again.known > 0


def test_who_has_what_was_locked_out_elsewhere_is_said(north: Site, south: Site, tmp_path: Path) -> None:
    """ "Call them back" is of use only to somebody who knows whom to call, and where."""
    assert check(north).ending
    instrument, taker = id_of(north, "C-1"), id_of(north, "P-2")
    swap(north, south, tmp_path / "there.exchange")
    north.clock.advance(60)  # type: ignore[attr-defined]
    handouts.hand_out(north, instrument, to=taker, job="survey", place="hall 2", person=taker)
    south.clock.advance(5000)  # type: ignore[attr-defined]
    clearing.lock_by_hand(south, instrument, id_of(south, "P-1"), "A recall of its cells.")
    north.clock.advance(6000)  # type: ignore[attr-defined]
    received = swap(south, north, tmp_path / "back.exchange")
    assert [each.words for each in received.call_back] == ["CALL BACK C-1, which is out: Tech Person, survey, hall 2."]
    assert any("Tech Person" in line for line in told(received))


@pytest.mark.parametrize("what", ["leaks", "missing", "damaged", "slipped"])
def test_a_source_withdrawn_elsewhere_is_said_and_stays_due(
    north: Site, south: Site, tmp_path: Path, what: str
) -> None:
    """A source that leaks must not be taken out here because the wipe was counted on the other laptop."""
    source, lead = id_of(south, "S-1"), id_of(south, "P-1")
    said = {"result": "500 Bq", "tested_by": "the laboratory", "measured_with": "wipe counter"}
    if what == "leaks":
        source_keeping.leak_test(south, lead, source, on=source_keeping.today(south), **said)
    elif what == "missing":
        inventory.place(south, source, "missing", person=lead)
    else:
        source_keeping.condition(south, lead, source, what, "its rim is bent")
    assert not any(what in line for line in home(north).due)
    north.clock.advance(1000)  # type: ignore[attr-defined]
    received = swap(south, north, tmp_path / "a.exchange")
    assert [what in line for line in received.withdrawn] == [True]
    assert any(line.startswith("WITHDRAWN now: source S-1") for line in told(received))
    assert any(what in line and "S-1" in line for line in home(north).due)
    assert exchange_in(north, tmp_path / "a.exchange").withdrawn == ()


def test_each_is_told_what_the_other_lacks(north: Site, south: Site, tmp_path: Path) -> None:
    """So that the stick goes back with what is missing, and only with that."""
    for number in range(5):
        inventory.register_jig(north, label=f"J-{10 + number}")
    given = exchange_heads(south, tmp_path / "south.heads")
    assert (given.events, given.whole) == (0, False)
    received = exchange_in(north, tmp_path / "south.heads")
    assert (received.added, received.lacking) == (0, 5)
    out = exchange_out(north, tmp_path / "rest.exchange", since=tmp_path / "south.heads")
    assert (out.events, out.whole) == (5, False)
    assert exchange_in(south, tmp_path / "rest.exchange").added == 5


def test_what_refers_to_missing_records_waits_and_is_told(north: Site, south: Site, tmp_path: Path) -> None:
    """A file was lost on the way: what came after it is kept, and nothing it is about is fit meanwhile."""
    exchange_heads(south, tmp_path / "before.heads")
    inventory.register_jig(north, label="J-10")
    exchange_out(north, tmp_path / "lost.exchange")
    inventory.register_jig(north, label="J-11")
    gap = exchange_out(north, tmp_path / "later.exchange", since=tmp_path / "lost.exchange")
    assert gap.events == 1
    received = exchange_in(south, tmp_path / "later.exchange")
    assert [(one.station, one.why) for one in received.waiting] == [("station-a", "gap")]
    assert exchange_in(south, tmp_path / "lost.exchange").waiting == ()
    assert len(south.journal.labelled("J-11")) == 1


def test_a_label_given_twice_blocks_both_until_somebody_decides(north: Site, south: Site, tmp_path: Path) -> None:
    """Two laptops, one label printer: neither meter may be used by a label that does not say which it is."""
    things = [
        inventory.register_instrument(site, label="C-9", serial=f"{number}", type="Vent one", profile="mini")
        for number, site in enumerate((north, south))
    ]
    south.clock.advance(1)  # type: ignore[attr-defined]
    (label,) = swap(north, south, tmp_path / "a.exchange").shared
    assert (label.label, label.what) == ("C-9", ("instrument", "instrument"))
    for thing in things:
        assert south.journal.instrument_now(thing).standing.problems
    inventory.describe(south, things[1], {"label": "C-10"})
    assert swap(south, north, tmp_path / "b.exchange").shared == ()
    for site in (north, south):
        assert not site.journal.instrument_now(things[0]).standing.problems


@pytest.mark.parametrize("label", ["S-1", "J-1"])
def test_a_source_or_jig_whose_label_is_on_two_things_checks_nothing(
    north: Site, south: Site, tmp_path: Path, label: str
) -> None:
    """The scan would not say which source it was: not checked, which is no failure, until somebody decides."""
    twin = south.journal.append([d.jig(label)], south.clock.now())[0]
    swap(south, north, tmp_path / "a.exchange")
    ending = check(north).ending
    assert ending is not None
    assert (ending.ending, ending.reasons) == ("not checked", ())
    assert any(label in missing for missing in ending.missing)
    inventory.retire(north, twin.hash, "the wrong label")
    ending = check(north).ending
    assert ending is not None
    assert ending.ending == "fit for use"


def test_profiles_adopted_apart_are_shown_and_neither_counts(north: Site, south: Site, tmp_path: Path) -> None:
    """Until a lead adopts one of them again, knowing of both."""
    for revision, site in ((2, north), (3, south)):
        text = MINI.replace("revision = 1", f"revision = {revision}")
        profiles.adopt(site, text, id_of(site, "P-1"))
    received = swap(north, south, tmp_path / "a.exchange")
    (apart,) = received.apart
    assert apart.profile == "mini"
    assert ["revision 2" in words or "revision 3" in words for words in apart.revisions] == [True, True]
    assert all("Lead Person" in words for words in apart.revisions)
    with pytest.raises(Trouble, match="adopted apart"):
        profiles.procedure_for(south, "mini")
    profiles.adopt(south, MINI.replace("revision = 1", "revision = 4"), id_of(south, "P-1"))
    assert swap(south, north, tmp_path / "b.exchange").apart == ()
    assert profiles.procedure_for(north, "mini").revision == 4


def test_a_copied_folder_in_use_is_a_fork_and_told(north: Site, south: Site, tmp_path: Path) -> None:
    """Both parts are kept."""
    copy = tmp_path / "copy"
    copy.mkdir()
    north.journal._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    (copy / "site.journal").write_bytes((north.folder / "site.journal").read_bytes())
    with open_site(copy, ManualClock(START + timedelta(minutes=1))) as twin:
        inventory.register_jig(twin, label="J-20")
        exchange_out(twin, tmp_path / "twin.exchange")
    inventory.register_jig(north, label="J-21")
    swap(north, south, tmp_path / "north.exchange")
    (fork,) = exchange_in(south, tmp_path / "twin.exchange").forks
    assert fork.station == "station-a"
    assert len(south.journal.labelled("J-20")) == len(south.journal.labelled("J-21")) == 1
    assert verify_site(south.folder).sound


def test_records_ahead_of_the_clock_wait(north: Site, south: Site, tmp_path: Path) -> None:
    """Which of both clocks is wrong nobody can know; nothing is fit by such records meanwhile."""
    north.clock.set_wall(START + timedelta(days=300))  # type: ignore[attr-defined]
    inventory.register_jig(north, label="J-10")
    assert [one.why for one in swap(north, south, tmp_path / "a.exchange").waiting] == ["future"]


# --- what is refused -----------------------------------------------------------------------------------------------


def unchanged(site: Site, path: Path, word: str) -> None:
    before = site.journal.count(), site.journal.heads(), last_exchange(site)
    with pytest.raises(Trouble, match=word) as trouble:
        exchange_in(site, path)
    assert trouble.value.do
    assert (site.journal.count(), site.journal.heads(), last_exchange(site)) == before


def test_another_sites_file_is_refused(north: Site, tmp_path: Path) -> None:
    """Two sites that swap sticks by mistake."""
    with small_site(tmp_path / "other", ManualClock(START), name="Other site") as other:
        exchange_out(other, tmp_path / "other.exchange")
    unchanged(north, tmp_path / "other.exchange", "another site")
    with pytest.raises(Trouble, match="another site"):
        exchange_out(north, tmp_path / "mine.exchange", since=tmp_path / "other.exchange")


@pytest.mark.parametrize("marking", ["demo", "practice"])
def test_practice_is_refused_by_a_real_site_and_the_other_way_round(north: Site, tmp_path: Path, marking: str) -> None:
    """A practice pass among real ones would send somebody out with an instrument that does not exist."""
    folder, clock = tmp_path / marking, ManualClock(START)
    made = create_site(folder, clock, station="p", name="P", zone="Etc/UTC", marking=marking)  # type: ignore[arg-type]
    with made as other:
        exchange_out(other, tmp_path / "p.exchange")
        exchange_out(north, tmp_path / "real.exchange")
        unchanged(north, tmp_path / "p.exchange", r"not real records")
        unchanged(other, tmp_path / "real.exchange", r"holds real records")


def test_a_file_that_smuggles_another_site_in_takes_nothing(north: Site, tmp_path: Path) -> None:
    """Its header names this site, one of its lines begins another."""
    with small_site(tmp_path / "other", ManualClock(START), name="Other site") as other:
        exchange_out(other, tmp_path / "other.exchange")
    exchange_out(north, tmp_path / "mine.exchange")
    mine, others = (files.check(tmp_path / name) for name in ("mine.exchange", "other.exchange"))
    raws = [raw for batch in files.events_in(tmp_path / "other.exchange", others) for raw in batch]
    files.write(tmp_path / "mixed.exchange", replace(others, site=mine.site), raws)
    unchanged(north, tmp_path / "mixed.exchange", "another site")


def test_a_contradicting_record_takes_nothing(north: Site, south: Site, tmp_path: Path) -> None:
    """A file whose checksum is right and whose records no station wrote."""
    jig = inventory.register_jig(south, label="J-30")
    made = exchange_out(south, tmp_path / "a.exchange")
    header = files.check(made.path)
    event = south.journal.by_hash(jig)
    assert event is not None
    bad = encode({**json.loads(event.raw), "seq": 77})
    raws = [raw for batch in files.events_in(made.path, header) for raw in batch]
    files.write(made.path, header, [*raws[:-1], bad])
    unchanged(north, made.path, "contradicts")


def test_a_full_disk_takes_nothing(north: Site, south: Site, tmp_path: Path) -> None:
    """What was not recorded is said not to be, and the next try takes it all."""
    for number in range(300):
        inventory.register_jig(south, label=f"K-{number}")
    made = exchange_out(south, tmp_path / "a.exchange")
    size = (north.folder / "site.journal-wal").stat().st_size
    with small_disk(size + 4096):
        unchanged(north, made.path, "disk")
    assert exchange_in(north, made.path).added == 301


# --- joining -------------------------------------------------------------------------------------------------------


def test_joining_leaves_nothing_behind_when_it_fails(north: Site, tmp_path: Path) -> None:
    """Half a site would be opened as a whole one the next time."""
    folder, clock = tmp_path / "new", ManualClock(START)
    whole = exchange_out(north, tmp_path / "whole.exchange").path
    heads = exchange_heads(north, tmp_path / "heads.exchange").path
    cut = tmp_path / "cut.exchange"
    cut.write_bytes(whole.read_bytes()[:-1000])
    lacking = tmp_path / "lacking.exchange"
    header = files.check(whole)
    raws = [raw for batch in files.events_in(whole, header) for raw in batch]
    files.write(lacking, header, raws[:-1])
    early = ManualClock(START - timedelta(days=1))
    for path, now, name, word in (
        (heads, clock, "South", "only what another"),
        (cut, clock, "South", "damaged"),
        (lacking, clock, "South", "missing"),
        (whole, early, "South", "clock"),
        (whole, clock, "  ", "no name"),
        (tmp_path / "nothing", clock, "South", "cannot be read"),
    ):
        with pytest.raises(Trouble, match=word):
            join(path, folder, now, station="s", name=name)
        assert not folder.exists() or list(folder.iterdir()) == []
    with small_disk(30_000), pytest.raises(Trouble, match="disk"):
        join(whole, folder, clock, station="s", name="South")
    assert list(folder.iterdir()) == []
    join(whole, folder, clock, station="s", name="South")
    assert [each.name for each in folder.iterdir()] == ["site.journal"]
    with pytest.raises(Trouble, match="records in this folder already"):
        join(whole, folder, clock, station="t", name="West")


def test_a_demo_is_joined_as_a_demo(tmp_path: Path) -> None:
    """Trying out what two laptops do must not need a real site; it stays marked."""
    clock = ManualClock(START)
    with make_demo(tmp_path / "demo", clock) as demo:
        exchange_out(demo, tmp_path / "demo.exchange")
    join(tmp_path / "demo.exchange", tmp_path / "second", clock, station="s", name="South")
    assert [each.name for each in (tmp_path / "second").iterdir()] == ["demo.journal"]
    assert verify_site(tmp_path / "second", "demo").sound


# --- how old the last exchange is ----------------------------------------------------------------------------------


def test_how_old_the_last_exchange_is_can_be_told(north: Site, south: Site, tmp_path: Path) -> None:
    """Home will say it: what is not known of the other laptops since then may be a lockout."""
    joined = last_exchange(south)
    assert joined is not None
    assert [(one.station, one.written) for one in joined.heard] == [("station-a", START)]
    north.clock.advance(600)  # type: ignore[attr-defined]
    exchange_out(north, tmp_path / "a.exchange")
    given = last_exchange(north)
    assert given is not None
    assert (given.heard, given.given) == ((), START + timedelta(minutes=10))
    south.clock.advance(3600)  # type: ignore[attr-defined]
    exchange_in(south, tmp_path / "a.exchange")
    exchange_in(south, tmp_path / "begin.exchange")
    heard = last_exchange(south)
    assert heard is not None
    # An old file that was taken in again does not make it older or younger.
    assert [one.written for one in heard.heard] == [START + timedelta(minutes=10)]
    assert heard.heard[0].taken == START + timedelta(minutes=61)
    assert heard.heard[0].name == "first laptop"


def test_a_site_of_one_laptop_has_no_last_exchange(north: Site) -> None:
    """Nothing to remind anybody of."""
    assert last_exchange(north) is None
    north.journal.remember("exchange taken", "{damaged")
    assert last_exchange(north) is None


def test_a_word_about_the_file_is_no_record() -> None:
    """It changes neither heads nor count, so that laptops do not exchange their exchanges for ever."""
    with tempfile.TemporaryDirectory() as folder:
        now = ManualClock(START).now()
        with Journal.create(Path(folder) / "site.journal", station="a", name="A", now=now) as journal:
            before = journal.heads(), journal.count()
            journal.remember("exchange given", "now")
            assert (journal.heads(), journal.count()) == before
            assert journal.remembered("exchange given") == "now"
