"""Drills and exams follow from their seed, can be written down, and run elsewhere as the same; and their debrief."""

from __future__ import annotations

import json
from copy import deepcopy
from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from procedures.practice.answer_key import STEP_S, key_of
from procedures.practice.bench import Bench
from procedures.practice.clumsy import WISHFUL
from procedures.practice.debrief import Debrief, debrief_of, sheet_of
from procedures.practice.drills import (
    Drill,
    Paper,
    drawn_drill,
    drill_of,
    exam_of,
    free_practice,
    paper_from_json,
    paper_from_toml,
    paper_to_json,
    paper_to_toml,
)
from procedures.practice.kit import kits
from procedures.practice.observer import PERFECT, Skill, observe
from procedures.practice.packaged import cases
from procedures.practice.pairs import clash
from procedures.practice.scoring import score
from procedures.practice.session import session_of
from procedures.practice.truth import truth_of
from procedures.sheets import Grid, Lines, Sheet
from procedures.trouble import Trouble

START = datetime(2031, 5, 6, 6, 12, tzinfo=UTC)


def exam(seed: int | str = 7, instruments: int = 6, **rest: Any) -> Paper:
    return exam_of(kits(), seed, START, title="Spring", instruments=instruments, seconds=1800, **rest)


@settings(max_examples=60, deadline=None)
@given(st.integers())
def test_a_drill_follows_from_its_seed(seed: int) -> None:
    """The same seed draws the same instrument; its faults go together and can be scored."""
    drill = drawn_drill(kits(), seed, START)
    assert drill == drawn_drill(kits(), seed, START)
    kit, faults = kits()[drill.profile], drill.case.faults
    assert not truth_of(kit.model, kit.profile, faults, drill.case.room).near_limit
    assert not any(clash(a.kind, b.kind) for n, a in enumerate(faults) for b in faults[:n])


def test_all_kinds_of_instruments_and_counts_of_faults_are_drawn() -> None:
    """None, one and two; a third or so sound, so that “always faulty” is no strategy."""
    drills = [drawn_drill(kits(), n, START) for n in range(300)]
    assert {each.profile for each in drills} == set(kits())
    counts = [len(each.case.faults) for each in drills]
    assert set(counts) == {0, 1, 2}
    assert 60 <= counts.count(0) <= 130


@settings(max_examples=30, deadline=None)
@given(st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=20), st.integers(1, 5))
def test_a_paper_comes_back_from_json_and_toml(seed: str, instruments: int) -> None:
    """Whoever reads it has the same instruments in the same order, with the same faults and seeds."""
    paper = exam(seed, instruments)
    assert paper_from_json(json.loads(json.dumps(paper_to_json(paper))), kits()) == paper
    assert paper_from_toml(paper_to_toml(paper), kits()) == paper
    assert exam(seed, instruments) == paper


def test_a_paper_read_elsewhere_runs_as_the_same() -> None:
    """The same verdicts to the last reading."""
    paper = exam(3, 4)
    again = paper_from_toml(paper_to_toml(paper), kits())
    runs = [[run(each).moments for each in one.drills] for one in (paper, again)]
    assert runs[0] == runs[1]


def run(drill: Drill, skill: Skill = PERFECT) -> Bench:
    bench = Bench(kits()[drill.profile], drill.case, drill.seed, drill.start, step=STEP_S)
    observe(bench, skill)
    return bench


def test_an_exam_gives_no_hints_and_runs_in_real_time() -> None:
    """Free practice gives hints; an exam runs at 1x unless its trainer says otherwise."""
    case = next(each for each in cases().values() if each.hints)
    assert free_practice(kits()[case.profile], case, 1, START).hints == case.hints
    paper = exam(cases=[case])
    assert all(each.hints == () and each.speed == 1 for each in paper.drills)
    assert {each.speed for each in exam(speed=4).drills} == {4}


def test_a_drill_is_drawn_from_a_list() -> None:
    """Every case of the list comes up, and no other."""
    some = [cases()[name] for name in ("vented-sound", "alpha-pinhole", "pancake-old-cells")]
    assert {drill_of(some, seed, START).case.title for seed in range(40)} == {each.title for each in some}
    with pytest.raises(Trouble, match="no case"):
        drill_of([], 1, START)


@pytest.mark.parametrize("wrong", [{"instruments": 0}, {"instruments": 1000}, {"speed": 3}])
def test_limits_of_an_exam(wrong: dict[str, Any]) -> None:
    """An exam of nothing, or at a speed that no screen has, is refused."""
    with pytest.raises(Trouble):
        exam(**wrong)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("format",), 2),
        (("seconds",), -1),
        (("seconds",), True),
        (("speed",), 2),
        (("drill",), []),
        (("drill", 0, "seed"), 5),
        (("drill", 0, "case"), None),
        (("drill", 0, "case", "profile"), "nobody-has-it"),
        (("drill", 0, "case", "faults"), [{"kind": "gremlins"}]),
        (("drill", 0, "sort"), "game"),
    ],
)
def test_what_is_no_paper_is_refused(path: tuple[Any, ...], value: Any) -> None:
    """A paper that was changed by hand says what is wrong, and is not half an exam."""
    body = deepcopy(paper_to_json(exam()))
    place: Any = body
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = value
    with pytest.raises(Trouble):
        paper_from_json(body, kits())


@given(st.text(max_size=60))
def test_any_text_is_a_paper_or_a_trouble(text: str) -> None:
    """Whatever file is opened by mistake."""
    with pytest.raises(Trouble):
        paper_from_toml(text, kits())


# --- the debrief ---------------------------------------------------------------------------------------------------


def debriefed(name: str, skill: Skill) -> tuple[Debrief, Sheet]:
    case = cases()[name]
    kit, key = kits()[case.profile], key_of(kits()[case.profile], case, 1, START)
    made, evidence = score(session_of(run(Drill(case, "1", START), skill)), kit, key)
    told = debrief_of(made, evidence, kit, key)
    return told, sheet_of(told, evidence, kit, key)


@pytest.mark.parametrize("name", sorted(cases()))
@pytest.mark.parametrize("skill", [PERFECT, WISHFUL])
def test_every_debrief_begins_with_the_decision_and_says_practice(name: str, skill: Skill) -> None:
    """Nobody takes it for a record of a real instrument, and nobody has to look for the verdict."""
    told, sheet = debriefed(name, skill)
    assert sheet.title.startswith("PRACTICE")
    assert isinstance(sheet.sections[0], Lines)
    assert sheet.sections[0].lines == (told.decision,)
    assert told.decision.split(":")[0] in ("RIGHT", "WRONG", "NOT SCORED")
    assert len(told.lessons) == len(cases()[name].faults)
    assert [each.at for each in told.timeline] == sorted(each.at for each in told.timeline)


def test_a_debrief_tells_what_was_missed_where() -> None:
    """The words of the catalogue, the step that shows it, and what the instrument really did."""
    told, sheet = debriefed("alpha-pinhole", Skill(wishes=1.0))
    assert told.decision.startswith("WRONG: A faulty instrument was called fit for use")
    assert [each.shown_at for each in told.lessons] == ["Window"]
    assert any("It counts in bright light" in line for line in told.next_time)
    bright = next(each for each in told.timeline if each.what == "bright-reading")
    assert not bright.good
    assert float(bright.really.split()[0]) > 100
    assert isinstance(sheet.sections[-1], Grid)


def test_who_did_it_well_is_told_so() -> None:
    """Nothing is made up to be criticised."""
    told, _ = debriefed("vented-sound", PERFECT)
    assert told.tone == "good"
    assert told.next_time == ("Nothing: do it like this with a real one.",)
