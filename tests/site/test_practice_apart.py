"""Practice and real records never touch: whatever is done in one leaves the other as it was, byte for byte."""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path

import pytest
from desk_walk import START, small_site
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from checklist_tui import cli, output
from checklist_tui.practice_cases import PracticeUseCases, open_practice
from procedures.clock import ManualClock
from procedures.journal.envelope import Draft, Malformed
from procedures.practice import packaged
from procedures.practice.drills import Drill
from procedures.site.opening import open_site
from procedures.site.views import Typed
from procedures.trouble import Trouble

REAL_COMMANDS = (
    ("status",),
    ("verify",),
    ("backup", "{out}"),
    ("people", "list"),
    ("inventory", "export", "{out}"),
    ("exchange", "out", "{out}"),
    ("exchange", "heads", "{out}"),
    ("report", "instruments"),
)


def bytes_in(folder: Path) -> dict[str, str]:
    return {
        each.name: sha256(each.read_bytes()).hexdigest()
        for each in sorted(folder.iterdir())
        if each.is_file() and not each.name.endswith(("-shm", "-wal"))
    }


def practised(folder: Path) -> PracticeUseCases:
    """A room in which somebody failed an instrument."""
    cases = open_practice(folder, ManualClock(START), "p")
    person = cases.enrol("Tila Novice").id
    case = packaged.cases()[sorted(packaged.cases())[0]]
    session = cases.desk.begin(person, Drill(case, "1", START)).checkout
    cases.clock.advance(3)  # type: ignore[attr-defined]
    cases.desk.fail_by_judgement(session, "torn")
    return cases


@pytest.mark.parametrize("words", REAL_COMMANDS, ids=lambda words: "-".join(words).replace("{", "").replace("}", ""))
def test_no_real_command_takes_a_room_of_practice(
    words: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each refuses it in words and leaves it as it is."""
    folder = tmp_path / "practice"
    practised(folder).site.close()
    before = bytes_in(folder)
    given = [word.format(out=tmp_path / "out") for word in words]
    assert cli.main([*given, "--data", str(folder)]) == output.BAD_INPUT
    said = capsys.readouterr().err
    assert "practice" in said
    assert "Traceback" not in said
    assert bytes_in(folder) == before
    assert not (tmp_path / "out").exists()


def test_a_journal_of_practice_under_a_real_name_is_refused(tmp_path: Path) -> None:
    """A file says itself what it is: giving it another name makes nothing real of it."""
    cases = practised(tmp_path / "practice")
    cases.site.close()
    (tmp_path / "real").mkdir()
    (tmp_path / "practice" / "practice.journal").rename(tmp_path / "real" / "site.journal")
    with pytest.raises(Trouble, match="practice"):
        open_site(tmp_path / "real", ManualClock(START))


def test_a_real_journal_holds_nothing_of_practice(tmp_path: Path) -> None:
    """Whoever writes a program of their own comes no further."""
    site = small_site(tmp_path / "real", ManualClock(START))
    before = site.journal.count()
    with pytest.raises(Malformed, match="practice"):
        site.journal.append(
            [Draft("practice-hinted", {"session": "a" * 64, "number": 1}, ("a" * 64,))], site.clock.now()
        )
    assert site.journal.count() == before
    site.close()


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 99)), max_size=25))
def test_whatever_is_practised_a_real_site_beside_it_stays_as_it_is(
    tmp_path_factory: pytest.TempPathFactory, moves: list[tuple[int, int]]
) -> None:
    """Even in the same folder, with the same names on the list."""
    folder = tmp_path_factory.mktemp("both")
    clock = ManualClock(START)
    small_site(folder, clock).close()
    before = bytes_in(folder)
    cases = open_practice(folder, clock, "p")
    person = cases.enrol("Tila Novice").id
    names = sorted(packaged.cases())
    session = ""
    for move, number in moves:
        clock.advance(number / 3)
        try:
            if move < 2 or not session:
                session = cases.desk.begin(
                    person, Drill(packaged.cases()[names[number % len(names)]], "1", START)
                ).checkout
            elif move < 5:
                controls = [(name, words) for name, words in cases.desk.controls(session).items() if words]
                name, words = controls[number % len(controls)]
                cases.desk.work(session, name, words[number % len(words)])
            elif move < 8:
                ask = cases.desk.view(session).ask
                cases.desk.answer(
                    session, ask.key if ask else "", Typed(("P-1", "1", "yes", "whole")[number % 4]), took=1
                )
            else:
                cases.desk.fail_by_judgement(session, "seen")
        except Trouble:
            continue
    cases.site.close()
    after = bytes_in(folder)
    assert {name: each for name, each in after.items() if not name.startswith("practice")} == before
