"""The class, exams and forms of practice: who did what, what was missed, within which time; told without replaying."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import suppress
from datetime import timedelta
from importlib.resources import files
from pathlib import Path

import pytest
from desk_walk import START

from checklist_tui.practice_cases import PracticeUseCases, open_practice
from procedures.clock import ManualClock
from procedures.practice.bench import Bench
from procedures.practice.clumsy import CARELESS, WISHFUL
from procedures.practice.kit import kits
from procedures.practice.observer import PERFECT, Skill, observe
from procedures.sheets import Deed, Grid, Plot, Query, Sheet
from procedures.site.practising import exams, forms, records, room
from procedures.site.practising.desk import OVERTIME
from procedures.trouble import Trouble

ALL = Query(limit=100)


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock(START)


@pytest.fixture
def cases(tmp_path: Path, clock: ManualClock) -> Iterator[PracticeUseCases]:
    made = open_practice(tmp_path / "practice", clock, "p")
    yield made
    made.site.close()


@pytest.fixture
def trainer(cases: PracticeUseCases) -> str:
    return room.enrol(cases.site, "TR-1", "Ona Teacher", trainer=True)


def works_through(cases: PracticeUseCases, clock: ManualClock, exam: str, name: str, skill: Skill) -> str:
    """Somebody of this skill takes the whole exam at the desk."""
    person = cases.enrol(name).id
    for drill in exams.read(cases.site, exam).paper.drills:
        session = exams.take(cases.site, cases.desk, exam, person)
        bench = Bench(kits()[drill.profile], drill.case, drill.seed, drill.start)
        observe(bench, skill)
        begun = clock.now().ticks
        for moment in bench.moments:
            clock.advance(max(0.0, begun + moment.at / 1e6 - clock.now().ticks))
            if cases.desk.view(session).ending is None:
                cases.desk._do(session, moment.what)
        # The last wait ends by itself.
        clock.advance(max(0.0, begun + bench.seconds - clock.now().ticks) + 0.001)
        assert cases.desk.view(session).ending is not None
    return person


def cells(sheet: Sheet, title: str) -> list[tuple[str, ...]]:
    return [row.cells for each in sheet.sections if isinstance(each, Grid) and each.title == title for row in each.rows]


def test_an_exam_taken_by_three_of_rising_skill_ranks_them(
    cases: PracticeUseCases, clock: ManualClock, trainer: str
) -> None:
    """The same instruments for all; the trainer sees everybody, a trainee their own; the class tells the same."""
    site = cases.site
    exam = exams.set_one(site, trainer, title="first", instruments=4, minutes=400, seed="14")
    wishful = works_through(cases, clock, exam, "Wim Wishful", WISHFUL)
    works_through(cases, clock, exam, "Cara Careless", CARELESS)
    works_through(cases, clock, exam, "Pia Perfect", PERFECT)
    results = cells(records.sheet(site, "practice-exam", exam, trainer), "Results")
    scores = {row[0]: float(row[4].removesuffix(" %")) for row in results}
    assert scores["Pia Perfect"] > scores["Cara Careless"]
    assert scores["Pia Perfect"] > scores["Wim Wishful"]
    assert results[0][0] == "Pia Perfect"
    assert all(row[1] == "4 of 4" for row in results)
    own = cells(records.sheet(site, "practice-exam", exam, wishful), "Results")
    assert [row[0] for row in own] == ["Wim Wishful"]
    whole = records.sheet(site, "practice-class", "", trainer)
    assert [row[0] for row in cells(whole, "Trainees")] == ["Cara Careless", "Pia Perfect", "Wim Wishful"]
    assert len(cells(whole, "Passed of done, by instrument")) == 3
    (progress,) = [each for each in whole.sections if isinstance(each, Plot)]
    assert len(progress.dots) == 12
    assert records.listing(site, "practice-sessions", "", trainer, ALL).total == 12
    assert records.listing(site, "practice-sessions", "", wishful, ALL).total == 4
    with pytest.raises(Trouble, match="been through"):
        exams.take(site, cases.desk, exam, wishful)


def test_only_a_trainer_sees_what_others_did_or_sets_an_exam(cases: PracticeUseCases, trainer: str) -> None:
    """A class is taught in front of everybody; marks are not read out."""
    trainee = cases.enrol("Tila Novice").id
    for name, about in (("practice-class", ""), ("practice-trainee", trainer)):
        with pytest.raises(Trouble, match="only a trainer"):
            records.sheet(cases.site, name, about, trainee)
    with pytest.raises(Trouble, match="only a trainer"):
        exams.set_one(cases.site, trainee, title="mine", instruments=1, minutes=5)
    with pytest.raises(Trouble, match="only a trainer"):
        forms.task("practice-enrol").keep(cases.site, "", trainee, {"name": "Another One", "what": "trainer"})
    assert records.sheet(cases.site, "practice-trainee", trainee, trainee).title == "PRACTICE: Tila Novice"


def test_a_debrief_is_for_whoever_worked_it_and_for_trainers(
    cases: PracticeUseCases, clock: ManualClock, trainer: str
) -> None:
    """It holds the answers of an exam that others have still to take."""
    exam = exams.set_one(cases.site, trainer, title="first", instruments=1, minutes=100, seed="3")
    person, other = cases.enrol("Tila Novice").id, cases.enrol("Otto Other").id
    session = exams.take(cases.site, cases.desk, exam, person)
    clock.advance(2)
    cases.desk.fail_by_judgement(session, "torn")
    for who in (other, ""):
        with pytest.raises(Trouble, match="only a trainer"):
            cases.sheet("practice-debrief", session, who)
        with pytest.raises(Trouble, match="only a trainer"):
            cases.write_report("json", Deed("", "sheet", "practice-debrief", session), Query(), who)
    assert cases.sheet("practice-debrief", session, person) == cases.sheet("practice-debrief", session, trainer)


def test_the_time_allowed_runs_on_while_nobody_sits_there(
    cases: PracticeUseCases, clock: ManualClock, trainer: str
) -> None:
    """Neither going home nor another start of the program gives more of it."""
    exam = exams.set_one(cases.site, trainer, title="short", instruments=2, minutes=10)
    person = cases.enrol("Tila Novice").id
    session = exams.take(cases.site, cases.desk, exam, person)
    assert exams.take(cases.site, cases.desk, exam, person) == session
    clock.advance(601)
    again = PracticeUseCases(cases.site)
    view = again.desk.view(session)
    assert view.ending is not None
    assert view.ending.ending == "abandoned"
    with pytest.raises(Trouble, match="is over"):
        exams.take(cases.site, again.desk, exam, person)
    kept = again.desk._get(session).bench.moments[-1].what
    assert getattr(kept, "why", "") == OVERTIME


def test_a_paper_goes_to_another_room_and_gives_the_same_instruments(
    cases: PracticeUseCases, tmp_path: Path, clock: ManualClock, trainer: str
) -> None:
    """The seed, the faults, the order; and a file that is none is refused in words."""
    exam = exams.set_one(cases.site, trainer, title="for both", instruments=3, minutes=30)
    path = exams.write_paper(cases.site, trainer, exam, tmp_path / "exam.toml")
    with pytest.raises(Trouble, match="already"):
        exams.write_paper(cases.site, trainer, exam, path)
    other = open_practice(tmp_path / "other", clock, "q")
    there = room.enrol(other.site, "TR-9", "Una Teacher", trainer=True)
    taken = exams.take_in_paper(other.site, there, path)
    assert exams.read(other.site, taken).paper == exams.read(cases.site, exam).paper
    (tmp_path / "bad.toml").write_text("title = 3\n", encoding="utf-8")
    for name in ("bad.toml", "none.toml"):
        with pytest.raises(Trouble):
            exams.take_in_paper(other.site, there, tmp_path / name)
    assert len(exams.listed(other.site)) == 1
    other.site.close()


@pytest.mark.parametrize("kind", ["html", "csv", "json"])
def test_the_class_is_written_to_a_file_that_says_practice(
    cases: PracticeUseCases, clock: ManualClock, trainer: str, kind: str
) -> None:
    """Nobody finds it later and takes it for a record of real instruments."""
    exam = exams.set_one(cases.site, trainer, title="first", instruments=1, minutes=100, seed="3")
    works_through(cases, clock, exam, "Pia Perfect", PERFECT)
    for deed in (Deed("", "sheet", "practice-class"), Deed("", "listing", "practice-sessions")):
        path = cases.write_report(kind, deed, Query(), trainer)
        text = path.read_text(encoding="utf-8")
        assert "PRACTICE" in text.upper()
        assert "Pia Perfect" in text
        assert "practice" in path.name
        if kind == "json":
            json.loads(text)


@pytest.mark.parametrize("name", sorted(forms.FORMS))
@pytest.mark.parametrize("typed", ["", "x", "-1", "1e9", "\x00", "ü" * 500])
def test_a_form_answers_whatever_is_typed(
    cases: PracticeUseCases, trainer: str, name: str, typed: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Trouble in words, or something kept; never a fault of the program."""
    monkeypatch.chdir(tmp_path)
    exam = exams.set_one(cases.site, trainer, title="t", instruments=1, minutes=5)
    for about in (exam, "", "nonsense"):
        entered = dict.fromkeys(("name", "what", "title", "instruments", "minutes", "speed", "seed", "path"), typed)
        with suppress(Trouble):
            shown = forms.form(cases.site, name, about, trainer, {}, 1)
            assert "PRACTICE" in shown.title
            forms.task(name).look(cases.site, about, trainer, entered)
            forms.task(name).keep(cases.site, about, trainer, entered)


def test_the_beginning_leads_everywhere(cases: PracticeUseCases, trainer: str) -> None:
    """Each deed of it opens something."""
    exams.set_one(cases.site, trainer, title="first", instruments=1, minutes=5)
    assert cases.sheet("practice", "", "").deeds
    for deed in cases.sheet("practice", "", trainer).deeds:
        assert not deed.may_not
        if deed.goes == "sheet":
            cases.sheet(deed.name, deed.about, trainer)
        elif deed.goes == "listing":
            cases.listing(deed.name, deed.about, trainer, ALL)
        else:
            cases.form(deed.name, deed.about, trainer, {}, 1)
    for bad in ("no-such", "practice-debrief", "practice-exam"):
        with pytest.raises(Trouble):
            cases.sheet(bad, "nonsense", trainer)


def test_a_rubric_that_is_changed_or_broken_takes_nothing_back(
    cases: PracticeUseCases, clock: ManualClock, trainer: str
) -> None:
    """What was scored stays so; an exam goes on, and what could not be scored is when the rubric is mended."""
    site = cases.site
    exam = exams.set_one(site, trainer, title="first", instruments=2, minutes=100, seed="3")
    person = cases.enrol("Tila Novice").id
    first = exams.take(site, cases.desk, exam, person)
    clock.advance(2)
    cases.desk.fail_by_judgement(first, "torn")
    before = cases.sheet("practice-debrief", first, person)
    own = site.folder / room.RUBRIC
    usual = files("procedures.practice").joinpath("rubric.toml").read_text(encoding="utf-8")
    own.write_text(usual.replace("points = 50", "points = 60"), encoding="utf-8")
    assert cases.sheet("practice-debrief", first, person) == before
    own.write_text("format = 2", encoding="utf-8")
    second = exams.take(site, cases.desk, exam, person)
    clock.advance(2)
    with pytest.raises(Trouble):
        cases.desk.fail_by_judgement(second, "torn")
    with pytest.raises(Trouble, match="been through"):
        exams.take(site, cases.desk, exam, person)
    assert len(records.done(site, exam)) == 1
    own.unlink()
    cases.sheet("practice-debrief", second, person)
    assert len(records.done(site, exam)) == 2


def test_what_the_rubric_needs_stays_in_what_is_written_down(cases: PracticeUseCases, trainer: str) -> None:
    """The clock is the site's: an exam set at another moment is still read."""
    exam = exams.set_one(cases.site, trainer, title="later", instruments=1, minutes=5, seed="1")
    assert exams.read(cases.site, exam).paper.drills[0].start <= cases.clock.now().utc + timedelta(seconds=1)
