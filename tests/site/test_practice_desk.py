"""The desk of practice: what is done there is what the bench does, time goes by the clock, nothing of it is real."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from importlib.resources import files
from pathlib import Path

import pytest
from desk_walk import START, small_site

from procedures.clock import ManualClock
from procedures.practice import packaged
from procedures.practice.answer_key import key_of
from procedures.practice.bench import Bench
from procedures.practice.drills import Drill, free_practice
from procedures.practice.kit import kits
from procedures.practice.moments import Deed, Entry
from procedures.practice.observer import observe
from procedures.practice.scoring import score
from procedures.practice.session import session_of
from procedures.sheets import Lines
from procedures.site import exchange
from procedures.site.opening import Site, open_site
from procedures.site.practising import keeping, room
from procedures.site.practising.desk import OVERTIME, PracticeDesk
from procedures.site.views import Typed
from procedures.trouble import Trouble

CASES = sorted(packaged.cases())


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock(START)


@pytest.fixture
def site(tmp_path: Path, clock: ManualClock) -> Iterator[Site]:
    with room.open_room(tmp_path / "practice", clock, station="p") as made:
        yield made


@pytest.fixture
def trainee(site: Site) -> str:
    return room.enrol(site, "T-1", "Tila Novice")


def drill(name: str, site: Site, *, speed: int = 1) -> Drill:
    case = packaged.cases()[name]
    return Drill(case, "5", site.clock.now().utc, speed=speed)


def observed(wanted: Drill) -> Bench:
    """What somebody practised does at it."""
    bench = Bench(kits()[wanted.profile], wanted.case, wanted.seed, wanted.start)
    observe(bench)
    return bench


def followed(desk: PracticeDesk, clock: ManualClock, session: str, bench: Bench, speed: int = 1) -> None:
    """The same at the desk, each at its moment."""
    begun = clock.now().ticks
    for moment in bench.moments:
        clock.advance(max(0.0, begun + moment.at / 1e6 / speed - clock.now().ticks))
        what: Deed | Entry = moment.what
        if desk.view(session).ending is None:
            desk._do(session, what)


@pytest.mark.parametrize("name", CASES[::6])
def test_a_session_at_the_desk_comes_to_what_it_comes_to_at_the_bench(
    site: Site, trainee: str, clock: ManualClock, name: str
) -> None:
    """The same checkout, the same ending, the same score: one simulation, whoever works it."""
    wanted = drill(name, site)
    bench = observed(wanted)
    desk = PracticeDesk(site)
    session = desk.begin(trainee, wanted).checkout
    followed(desk, clock, session, bench)
    view = desk.view(session)
    assert view.marking == "practice"
    assert view.ending is not None
    assert view.ending.ending == bench.run.state.ending["ending"]  # type: ignore[index]
    kit = kits()[wanted.profile]
    found, _ = score(session_of(bench), kit, key_of(kit, wanted.case, wanted.seed, wanted.start))
    kept = keeping.read(site, session)
    assert kept.ended is not None
    assert kept.ended.body["score"]["passed"] == found.passed
    assert kept.ended.body["score"]["percent"] == pytest.approx(found.percent, abs=3)
    sheet = desk.debrief(session)
    assert sheet.title.startswith("PRACTICE")
    assert isinstance(sheet.sections[0], Lines)


def test_time_at_the_bench_goes_so_many_times_as_fast(site: Site, trainee: str, clock: ManualClock) -> None:
    """A wait of minutes is practised in seconds, and the record says at which speed."""
    desk = PracticeDesk(site)
    session = desk.begin(trainee, drill(CASES[0], site, speed=10)).checkout
    desk.work(session, "power", "on")
    before = desk.face(session).seconds
    clock.advance(3)
    assert desk.face(session).seconds == pytest.approx(before + 30, abs=0.2)
    assert desk.speed(session) == keeping.read(site, session).session.speed == 10


def test_a_kill_loses_nothing_and_time_stands_still_meanwhile(site: Site, trainee: str, clock: ManualClock) -> None:
    """Another start of the program goes on where it was: paused, with the instrument as it stood."""
    desk = PracticeDesk(site)
    session = desk.begin(trainee, drill(CASES[0], site)).checkout
    desk.work(session, "power", "on")
    clock.advance(20)
    desk.work(session, "light" if "light" in desk.controls(session) else "power", "on")
    stood = desk.face(session)
    clock.advance(3600)
    again = PracticeDesk(site)
    assert again.view(session).paused
    assert again.face(session) == stood
    with pytest.raises(Trouble, match="Novice"):
        again.resume(session, room.enrol(site, "T-2", "Somebody Else"), switched_off=False)
    assert not again.resume(session, trainee, switched_off=False).paused
    clock.advance(5)
    assert again.face(session).seconds == pytest.approx(stood.seconds + 5, abs=0.2)


def test_an_answer_that_is_not_understood_is_not_kept(site: Site, trainee: str) -> None:
    """As at the real desk: what is wrong, what is allowed."""
    desk = PracticeDesk(site)
    view = desk.begin(trainee, drill(CASES[0], site))
    assert view.ask is not None
    with pytest.raises(Trouble):
        desk.answer(view.checkout, view.ask.key, Typed(""), took=1)
    with pytest.raises(Trouble):
        desk.answer(view.checkout, "not asked", Typed("yes"), took=1)
    with pytest.raises(Trouble):
        desk.work(view.checkout, "no such thing", "on")
    assert keeping.read(site, view.checkout).session.moments == ()


def test_hints_are_given_one_after_another_and_counted(site: Site, trainee: str) -> None:
    """Free practice helps; an exam does not."""
    name = next(name for name in CASES if packaged.cases()[name].hints)
    case = packaged.cases()[name]
    desk = PracticeDesk(site)
    free = free_practice(kits()[case.profile], case, 1, site.clock.now().utc)
    session = desk.begin(trainee, free).checkout
    assert [desk.hint(session) for _ in case.hints] == list(case.hints)
    with pytest.raises(Trouble, match="no further hint"):
        desk.hint(session)
    assert keeping.read(site, session).session.hints == len(case.hints)
    exam = desk.begin(trainee, Drill(case, "1", site.clock.now().utc, "exam")).checkout
    with pytest.raises(Trouble, match="no hints"):
        desk.hint(exam)


def test_when_the_time_of_an_exam_is_over_its_instrument_is_given_up(
    site: Site, trainee: str, clock: ManualClock
) -> None:
    """The clock decides, and not whoever would like another minute."""
    desk = PracticeDesk(site)
    until = clock.now().utc + timedelta(minutes=1)
    wanted = Drill(packaged.cases()[CASES[0]], "1", clock.now().utc, "exam")
    session = desk.begin(trainee, wanted, exam="e" * 64, place=1, until=until).checkout
    assert desk.left(session) == 60
    with pytest.raises(Trouble, match="not set aside"):
        desk.pause(session)
    assert not desk.pause(session, "the program was left").paused
    clock.advance(61)
    view = desk.view(session)
    assert view.ending is not None
    assert view.ending.ending == "abandoned"
    assert keeping.read(site, session).session.moments[-1].what.why == OVERTIME  # type: ignore[union-attr]


def test_practice_is_never_taken_for_real(site: Site, trainee: str, tmp_path: Path, clock: ManualClock) -> None:
    """Neither its journal for a site's, nor a site's for its own, nor what is handed on as a file."""
    with pytest.raises(Trouble, match="never real"):
        open_site(site.folder, clock)
    real = small_site(tmp_path / "real", clock)
    with pytest.raises(Trouble, match="practice"):
        PracticeDesk(real)
    with pytest.raises(Trouble, match="practice"):
        room.enrol(real, "T-9", "Nobody")
    assert PracticeDesk(site).begin(trainee, drill(CASES[0], site)).marking == "practice"
    out = exchange.exchange_out(site, tmp_path / "p.exchange").path
    before = real.journal.count()
    with pytest.raises(Trouble):
        exchange.exchange_in(real, out)
    assert real.journal.count() == before
    real.close()


def test_a_trainers_own_rubric_weighs_what_is_scored_and_a_broken_one_scores_nothing(
    site: Site, trainee: str, clock: ManualClock
) -> None:
    """What is wrong with it is named; once it is mended, what was done is scored."""
    usual = files("procedures.practice").joinpath("rubric.toml").read_text(encoding="utf-8")
    own = site.folder / room.RUBRIC
    own.write_text(usual.replace("points = 50", "points = 5"), encoding="utf-8")
    desk = PracticeDesk(site)
    session = desk.begin(trainee, drill(CASES[0], site)).checkout
    clock.advance(2)
    with pytest.raises(Trouble):
        desk.fail_by_judgement(session, "torn")
    with pytest.raises(Trouble):
        desk.debrief(session)
    own.write_text(usual.replace("points = 50", "points = 60"), encoding="utf-8")
    desk.debrief(session)
    ended = keeping.read(site, session).ended
    assert ended is not None
    (decision,) = [each for each in ended.body["score"]["lines"] if each["name"] == "decision"]
    assert decision["possible"] in (0, 60)


def test_a_case_of_the_trainers_own_is_on_the_shelf_and_a_broken_one_is_named(site: Site) -> None:
    """What is wrong with it, and in which file; the others can be used all the same."""
    folder = site.folder / room.CASES
    folder.mkdir()
    (folder / "broken.toml").write_text("title = 3\n", encoding="utf-8")
    shelf = room.shelf(site)
    assert set(shelf.cases) == set(packaged.cases())
    assert any("broken.toml" in each for each in shelf.troubles)
