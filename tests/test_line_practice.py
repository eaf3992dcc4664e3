"""Practice in line mode: the instrument is told and worked in words, the questions are those of the real line mode."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path

import pytest
from desk_walk import START
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from checklist_tui import output
from checklist_tui.line_input import End, Line
from checklist_tui.line_practice import PracticeLines
from checklist_tui.practice_cases import PracticeUseCases, open_practice
from procedures.clock import ManualClock

BEGIN = ("Tila Novice", "yes", "drill", "5", "10")


class Script:
    """Lines as a program pipes them; time passes by a second for each, and by as much as is waited for."""

    piped = True

    def __init__(self, clock: ManualClock, lines: Sequence[str]) -> None:
        self._clock, self._lines = clock, list(lines)

    def next(self, seconds: float) -> Line | End | None:
        del seconds
        self._clock.advance(1)
        return Line(self._lines.pop(0)) if self._lines else End()

    def rest(self, seconds: float) -> End | None:
        self._clock.advance(seconds)
        return None

    def drop(self) -> int:
        return 0

    def hidden(self) -> AbstractContextManager[None]:
        return nullcontext()


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock(START)


@pytest.fixture
def cases(tmp_path: Path, clock: ManualClock) -> Iterator[PracticeUseCases]:
    made = open_practice(tmp_path / "practice", clock, "p")
    yield made
    made.site.close()


def talked(cases: PracticeUseCases, clock: ManualClock, *lines: str) -> tuple[str, int]:
    said: list[str] = []
    code = PracticeLines(cases, Script(clock, lines), said.append).run()
    return "".join(said), code


def test_a_session_from_the_name_to_the_debrief(cases: PracticeUseCases, clock: ManualClock) -> None:
    """Worked and answered by words alone; the ending is that of the real line mode, the debrief follows."""
    said, code = talked(
        cases,
        clock,
        *BEGIN,
        "P-1",
        "do set power on",
        "do press zero",
        "do let go zero",
        "do set SELECTOR X10",
        "do turn 0.1",
        "do look",
        "do controls",
        "fail",
        "it hums",
        "yes",
        "home",
        "leave",
    )
    assert code == output.OK
    assert "Held down: zero." in said
    assert "source PS-1" in said
    assert "zero-knob: a figure" in said
    assert "PRACTICE LOCKED OUT: P-1." in said
    assert "Decision:" in said
    (done,) = cases.finished(cases.who("Tila Novice").id)
    assert done


def test_the_needle_is_told_by_its_marks_and_not_read_off(cases: PracticeUseCases, clock: ManualClock) -> None:
    """Reading it is what is practised."""
    said, _ = talked(cases, clock, *BEGIN, "do set power on", "do set source daily", "do set slide open", "do face")
    assert "divisions above" in said or "beyond" in said or "below" in said
    assert "mR/h" not in said.split("do face")[-1].split("The needle")[-1]


def test_when_the_lines_end_what_is_open_is_set_aside(cases: PracticeUseCases, clock: ManualClock) -> None:
    """And is gone on with from the screen, or from here."""
    said, code = talked(cases, clock, *BEGIN, "P-1")
    assert code == output.PAUSED
    assert "The input has ended." in said
    ((session, _),) = cases.unfinished(cases.who("Tila Novice").id)
    assert cases.desk.view(session).paused


@pytest.mark.parametrize(
    "words",
    [
        "do",
        "do dance",
        "do set",
        "do set power",
        "do set power maybe",
        "do turn x",
        "do hands magic",
        "do press",
        "do let go",
    ],
)
def test_what_cannot_be_done_is_said(cases: PracticeUseCases, clock: ManualClock, words: str) -> None:
    """What is wrong, what is allowed; the question stays."""
    said, _ = talked(cases, clock, *BEGIN, words, "P-1")
    assert ("Not taken" in said) is (words != "do")
    assert "What do you see?" in said


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(st.one_of(st.text(max_size=30), st.sampled_from(["do face", "do set power on", "1", "", "home", "fail"])))
)
def test_whatever_is_typed_gets_an_answer(tmp_path_factory: pytest.TempPathFactory, lines: list[str]) -> None:
    """Never a fault of the program, whatever comes."""
    clock = ManualClock(START)
    cases = open_practice(tmp_path_factory.mktemp("p") / "practice", clock, "p")
    said, code = talked(cases, clock, *BEGIN, *lines)
    cases.site.close()
    assert "PRACTICE" in said
    assert code in (output.OK, output.PAUSED)
