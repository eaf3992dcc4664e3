"""Judging beside this process comes to exactly what judging in it comes to, or this one does it itself."""

from __future__ import annotations

import json
import random
import shutil
import sqlite3
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from bulk_records import checkout_events, record_again
from desk_walk import START, id_of, small_site, walk
from test_paper_again import answered, enter, low, well
from test_verification import LOCKED_OUT, PASSED, Wild, as_it_was, in_finding, times, weak_cells, within

from procedures.checkout import RULES
from procedures.clock import ManualClock
from procedures.journal import log, verify
from procedures.journal.envelope import Draft, digest
from procedures.site import judging_beside, paper, paper_form
from procedures.site.checkouts import Desk
from procedures.site.judged_again import Again, ByThisProgram, Occasion, Outcome, every_version, occasions
from procedures.site.judging_beside import beside, judge_slice, to_spare, view_of
from procedures.site.verification import Verification, verify_site


def otherwise_today(finding: dict[str, Any]) -> None:
    finding["rule"] = "response 0"
    times(1.25)(finding)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A site with everything there is to say: what holds, what is wrong, what is otherwise today, what is unjudged."""
    clock, folder = ManualClock(START), tmp_path_factory.mktemp("made")
    with small_site(folder, clock) as site:
        desk, person, instrument = Desk(site), id_of(site, "P-2"), id_of(site, "C-1")
        walk(desk, desk.start(instrument, person), clock)
        walk(desk, desk.start(instrument, person), clock, weak_cells)
        passed, failed = (checkout_events(site.journal, ending) for ending in ("fit for use", "locked out"))
        for number, answer in enumerate((well, low, well), 1):
            clock.advance(60)
            enter(site, number, answer)
        for change in (PASSED["an outcome"], in_finding("response", otherwise_today), PASSED["an ending left out"]):
            record_again(site.journal, passed, 3)
            record_again(site.journal, passed, change=change)
        record_again(site.journal, passed, change=within("opened", lambda body: {**body, "rules": "99"}))
        record_again(site.journal, failed, change=LOCKED_OUT["a tag"])
        form = paper.entry_of(site, paper_form.form_number(f"{1:016x}"))
        assert form is not None
        change = answered("reading-1", text="0.2")
        record_again(site.journal, [form], change=lambda _kind, body: change(body))
    return folder


@pytest.fixture
def site(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy to be tampered with. No journal is too small, and there are many slices."""
    monkeypatch.setattr(judging_beside, "FEW", 0)
    monkeypatch.setattr(judging_beside, "_SLICE", 3)
    shutil.copytree(made, tmp_path / "site")
    return tmp_path / "site"


def tamper(folder: Path, *statements: str) -> None:
    """Change the file as somebody does who knows SQL, and put its guards back."""
    db = sqlite3.connect(folder / "site.journal", isolation_level=None)
    guards = db.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _ in guards:
        db.execute(f"DROP TRIGGER {name}")
    for statement in statements:
        db.execute(statement)
    for _, sql in guards:
        db.execute(sql)
    db.close()


class Beside(ProcessPoolExecutor):
    """Judges at once, as another process would; counts what it judged."""

    judged = 0

    def submit(self, work: Callable[..., Any], *given: Any, **_: Any) -> Future[Any]:  # type: ignore[override]
        done: Future[Any] = Future()
        done.set_result(work(*given))
        Beside.judged += 1
        return done


@pytest.fixture
def here(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Other processes are played by this one."""
    Beside.judged = 0
    monkeypatch.setattr(judging_beside, "ProcessPoolExecutor", Beside)
    return


def all_of(path: Path) -> tuple[tuple[Occasion, ...], Outcome]:
    """The list that a file's own index makes, and what judging comes to in one process."""
    with verify.reading(path) as db:
        listed = tuple(occasions(db))
        return listed, Again(db, every_version()).outcome(listed)


# --- the same answer -----------------------------------------------------------------------------------------------


def test_real_processes_come_to_what_one_does(site: Path) -> None:
    """Started anew as on every system, each with its own view of the file; the order is kept."""
    path = site / "site.journal"
    _, alone = all_of(path)
    with verify.reading(path) as db, beside(db, path, 2) as others:
        assert others is not None
        assert len(others.asked) > 4
        parts = [future.result() for _, future in others.asked]
        assert None not in parts
        assert others.outcome(never) == alone
    assert verify_site(site, processes=1) == verify_site(site)


def never(wanted: object) -> Outcome:
    raise AssertionError(wanted)


def test_there_is_something_to_say_of_every_sort(site: Path) -> None:
    """Two empty lists would be equal as well."""
    found = verify_site(site)
    assert (len(found.own), len(found.today), len(found.unjudged)) == (3, 2, 1)
    assert [row.on_paper for row in found.today] == [False, True]
    assert found.judged > 10


@pytest.mark.usefixtures("here")
def test_the_two_ways_are_equal_on_an_altered_site(site: Path) -> None:
    """An event that was changed, its hash made anew: the chain shows it, and all the rest is still judged."""
    db = sqlite3.connect(site / "site.journal")
    first = "SELECT id, raw FROM events WHERE id = (SELECT min(event) FROM about WHERE kind = 'answered')"
    number, raw = db.execute(first).fetchone()
    db.close()
    fields = json.loads(raw)
    fields["body"]["value"] = "below the band"
    changed = json.dumps(fields, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode()
    tamper(site, f"UPDATE events SET raw = x'{changed.hex()}', hash = x'{digest(changed)}' WHERE id = {number}")
    alone, both = verify_site(site), verify_site(site, processes=2)
    assert alone == both
    assert alone.changed
    assert len(alone.own) == 4
    assert Beside.judged > 4


@pytest.mark.usefixtures("here")
def test_events_that_cannot_be_read_are_not_judged_either_way(site: Path) -> None:
    """What the others have said by then is thrown away."""
    tamper(site, "UPDATE events SET raw = replace(raw, 'Tech', 'Mech') WHERE seq = 4")
    alone = verify_site(site)
    assert verify_site(site, processes=2) == alone
    assert alone.judged == 0


@pytest.mark.usefixtures("here")
@pytest.mark.parametrize(
    "lie",
    [
        "DELETE FROM happenings WHERE event IN (SELECT event FROM happenings WHERE kind = 'opened' LIMIT 2)",
        "DELETE FROM about WHERE kind = 'answered'",
        "DELETE FROM about WHERE kind = 'profile-adopted'",
        "UPDATE about SET entity = 'x' || entity WHERE kind = 'ended'",
        "UPDATE happenings SET kind = 'opened' WHERE kind = 'ended'",
        "UPDATE happenings SET event = 99999 WHERE kind = 'paper-entered'",
        "UPDATE instruments SET label = 'C-9'",
    ],
)
def test_an_index_that_lies_is_not_judged_by(site: Path, lie: str) -> None:
    """Whoever hides a checkout in the file's index hides it from the others, and not from the answer."""
    before = verify_site(site)
    tamper(site, lie)
    both = verify_site(site, processes=2)
    assert both == verify_site(site)
    assert both.tables
    assert (both.own, both.today, both.unjudged, both.judged) == (
        before.own,
        before.today,
        before.unjudged,
        before.judged,
    )


@pytest.mark.parametrize("seed", range(3))
def test_cut_anywhere_the_parts_come_to_the_whole(tmp_path: Path, seed: int) -> None:
    """Whatever people did, no checkout's judgement hangs on another's."""
    wild, dice = Wild(tmp_path, seed), random.Random(seed)
    with wild.site:
        wild.go(120)
        site = wild.site
        record_again(site.journal, checkout_events(site.journal, "fit for use"), change=PASSED["a number"])
    path = tmp_path / "site.journal"
    listed, alone = all_of(path)
    with verify.reading(path) as db:
        view = view_of(db, path)
    assert view is not None
    whole, first = Outcome(), 0
    while first < len(listed):
        upto = first + dice.randint(1, 3)
        part = judge_slice(view, listed[first:upto])
        assert part is not None
        whole, first = whole + part, upto
    assert whole == alone
    assert alone.said


# --- a file that changes meanwhile ---------------------------------------------------------------------------------


def test_what_is_recorded_meanwhile_is_no_part_of_it(tmp_path: Path) -> None:
    """Work goes on while records are verified: the others must see what this process sees, and not half a step more."""
    clock = ManualClock(START)
    with small_site(tmp_path, clock) as site:
        desk, path = Desk(site), tmp_path / "site.journal"
        view = walk(desk, desk.start(id_of(site, "C-1"), id_of(site, "P-1")), clock)
        listed, before = all_of(path)
        with verify.reading(path) as db:
            seen = view_of(db, path)
        again = next(each for each in log.about(site.journal._db, view.checkout) if each.kind == "answered")
        site.journal.append([Draft("answered", again.body, again.about, person=again.person)], clock.now())
        with verify.reading(path) as db:
            later = view_of(db, path)
        assert seen is not None
        assert later is not None
        assert judge_slice(seen, listed) == before
        assert judge_slice(later, listed) == all_of(path)[1] != before


def test_a_file_that_was_exchanged_meanwhile_is_not_judged(site: Path) -> None:
    """A restored backup under the same name has other events under these numbers; none at all is no answer either."""
    path = site / "site.journal"
    listed, _ = all_of(path)
    view = judging_beside.View(path, 20, bytes(32))
    assert judge_slice(view, listed) is None
    path.unlink()
    assert judge_slice(view, listed) is None


# --- when there are no other processes -----------------------------------------------------------------------------


class Refusing(ProcessPoolExecutor):
    """A system that starts no more processes."""

    def submit(self, *_: Any, **__: Any) -> Future[Any]:  # type: ignore[override]
        raise OSError("Resource temporarily unavailable")


class Halfway(Beside):
    """The first slices are judged, then the processes are gone."""

    def submit(self, work: Callable[..., Any], *given: Any, **_: Any) -> Future[Any]:  # type: ignore[override]
        if self.judged < 2:
            return super().submit(work, *given)
        lost: Future[Any] = Future()
        lost.set_exception(BrokenProcessPool("gone"))
        return lost


class Silent(Beside):
    """A process that could not read the file."""

    def submit(self, *_: Any, **__: Any) -> Future[Any]:  # type: ignore[override]
        return super().submit(lambda: None)


class Waiting(Beside):
    """A process that has begun nothing when this one is through with all else."""

    def submit(self, *_: Any, **__: Any) -> Future[Any]:  # type: ignore[override]
        return Future()


@pytest.mark.parametrize("pool", [Refusing, Halfway, Silent, Waiting])
def test_what_the_others_do_not_answer_is_judged_here(
    site: Path, pool: type[ProcessPoolExecutor], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Never half an answer."""
    Beside.judged = 0
    monkeypatch.setattr(judging_beside, "ProcessPoolExecutor", pool)
    assert verify_site(site, processes=2) == verify_site(site)


class Killed(ProcessPoolExecutor):
    """Real processes that are killed as soon as they were given something."""

    def submit(self, *given: Any, **named: Any) -> Future[Any]:  # type: ignore[override]
        future = super().submit(*given, **named)
        for process in list((self._processes or {}).values()):
            process.kill()
        return future


def test_killed_processes_change_nothing(site: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A system short of memory ends them without a word."""
    monkeypatch.setattr(judging_beside, "ProcessPoolExecutor", Killed)
    assert verify_site(site, processes=1) == verify_site(site)


def none_is_asked(site: Path, **named: Any) -> Verification:
    found = verify_site(site, processes=2, **named)
    assert Beside.judged == 0
    return found


@pytest.mark.usefixtures("here")
def test_where_they_gain_nothing_or_cannot_be_no_process_is_started(
    site: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Rules that are handed in exist here alone; a packed program is no interpreter; a few events are soon judged."""
    alone = verify_site(site)
    assert none_is_asked(site, judges={RULES: ByThisProgram()}) == alone
    assert none_is_asked(site, judges={RULES: as_it_was}).own == ()
    with monkeypatch.context() as packed:
        packed.setattr(sys, "frozen", True, raising=False)
        assert none_is_asked(site) == alone
    with monkeypatch.context() as few:
        few.setattr(judging_beside, "FEW", alone.events)
        assert none_is_asked(site) == alone
    tamper(site, "UPDATE meta SET value = 'older' WHERE name = 'edition'")
    assert none_is_asked(site).not_compared
    assert judging_beside.MOST_PROCESSES >= to_spare() >= 1
