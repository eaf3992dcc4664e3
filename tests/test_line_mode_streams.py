"""What line mode does to its streams: lines broken to a terminal's width, and the bell."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from desk_walk import START, small_site
from hypothesis import given
from hypothesis import strategies as st

from checklist_tui import line_mode, output
from checklist_tui.cli import build_parser
from checklist_tui.commands import session
from checklist_tui.line_input import End, Line
from checklist_tui.line_talk import Talk
from checklist_tui.use_cases import SiteUseCases
from procedures.clock import ManualClock

WORDS = st.lists(st.text("abcdeé.,-", min_size=1, max_size=15), min_size=1, max_size=40)


@given(WORDS, st.integers(20, 120), st.sampled_from(["", " ", ": "]))
def test_lines_are_broken_at_spaces(words: list[str], width: int, end: str) -> None:
    """No word is broken or lost, no line is wider than the terminal, and the blank behind a prompt stays."""
    text = " ".join(words) + end
    broken = output.wrapped(text, width)
    assert broken.split() == text.split()
    assert all(len(line.rstrip()) < width for line in broken.split("\n"))
    assert broken.endswith(end)


def test_an_answer_goes_on_under_its_words() -> None:
    """The figures that can be typed stand alone at the edge."""
    line = "  2  Something is loose, rattles or is missing\n  3  Wet"
    assert output.wrapped(line, 30) == "  2  Something is loose,\n     rattles or is missing\n  3  Wet"


def test_what_fits_is_left_as_it_is() -> None:
    """Double blanks in a table of commands are meant."""
    line = "  left     how much time is left in a wait"
    assert output.wrapped(line, 80) == line
    assert output.wrapped("a word " * 5, 10) == "a word " * 5, "in ten columns nothing helps"


class OnePerson:
    """A person who types nothing, at a terminal, and then leaves."""

    piped = False

    def next(self, _seconds: float) -> Line | End | None:
        return End()

    def rest(self, _seconds: float) -> End | None:
        return None

    def drop(self) -> int:
        return 0


class Screen(io.StringIO):
    """Standard output that is a terminal."""

    encoding = "utf-8"  # type: ignore[assignment]

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(("options", "rung"), [([], "\a"), (["--no-bell"], "")], ids=["bell", "no bell"])
def test_the_bell_reaches_the_terminal(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, options: list[str], rung: str
) -> None:
    """The bell is a control character, and text has those taken out; whoever wants none gets none."""
    screen = Screen()
    monkeypatch.setattr("sys.stdout", screen)
    monkeypatch.setattr(line_mode, "standard_input", OnePerson)

    def ring_once(mode: Any, **_given: str) -> int:
        mode._talk.ring()
        return 0

    monkeypatch.setattr(line_mode.LineMode, "run", ring_once)
    with small_site(tmp_path, ManualClock(START)) as site:
        assert session.run_front_end(site, build_parser().parse_args(["--plain", *options])) == 0
    assert screen.getvalue() == rung


@pytest.mark.parametrize("act", [Talk.ring, lambda talk: talk.tell("said")], ids=["bell", "words"])
def test_nobody_to_hear_it_ends_the_talk(tmp_path: Path, act: Callable[[Talk], None]) -> None:
    """A closed terminal is noticed at the bell as at a word: what is open is then paused."""

    def gone(*_text: str) -> None:
        raise BrokenPipeError

    with small_site(tmp_path, ManualClock(START)) as site:
        talk = Talk(SiteUseCases(site), OnePerson(), gone, gone)
        with pytest.raises(line_mode.InputEnded) as caught:
            act(talk)
    assert caught.value.end.code == output.BROKEN_PIPE
