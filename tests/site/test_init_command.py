"""`init`: a site from questions or from a file; whatever is wrong is said in time, and nothing is left by halves."""

from __future__ import annotations

import io
import json
import os
import select
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
import tomli_w
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from checklist_tui.cli import main
from checklist_tui.commands import init
from procedures.clock import ManualClock
from procedures.site import beginning, people, profiles, secrets, status
from procedures.site.beginning import Beginning, Lead
from procedures.site.beginning_file import BeginningErrors, read_beginning
from procedures.site.next_steps import next_steps
from procedures.site.opening import JOURNAL, open_site
from procedures.site.system import SystemClock
from procedures.trouble import Trouble

PIN = "285914"
FILE = {
    "format": 1,
    "name": "North store",
    "zone": "Europe/Vienna",
    "shifts": ["14:00", "6:00"],
    "profiles": ["vented-chamber-analog"],
    "lead": {"badge": "N-001", "name": "Runa Feldmire", "initials": "RF"},
    "policy": {"tolerance": "20 %", "source": "our licence, condition 7", "air_reference": "aapm"},
    "settings": {"two_people_for": ["window-damaged"], "calibration_for": ["response-out", "zero-off"]},
}
ANSWERS = ["North store", "Vienna", "", "6:00", "22:00 14:00, 06:00", "N-001", "Runa Feldmire", "RF", "",
           "", "our licence, condition 7", "2", "iaea", "9", "5, 3", "perhaps", "yes"]  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "site"


def written(folder: Path, **changes: object) -> str:
    path = folder.parent / "site.toml"
    path.write_text(tomli_w.dumps(FILE | changes), "utf-8")
    return str(path)


def answered(monkeypatch: pytest.MonkeyPatch, lines: list[str]) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))


# --- questions -----------------------------------------------------------------------------------------------------


def test_the_questions_lead_to_a_site(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """One wrong answer is asked again with the nearest zone; then the site is there, empty, and says what is next."""
    answered(monkeypatch, ANSWERS)
    assert main(["init", "--data", str(folder), "--no-pin"]) == 0
    said_first = capsys.readouterr().out
    assert "Did you mean Europe/Vienna?" in said_first
    assert "[Europe/Vienna]: " in said_first, "what was perhaps meant is one Enter away"
    assert f"Start the program: checklist-tui --data {folder}" in said_first
    with open_site(folder, SystemClock()) as site:
        said = site.settings()
        (lead,) = people.listed(site)
        adopted = {row.profile for row in site.journal.profiles()}
    assert (said["name"], said["zone"], said["shifts"]) == ("North store", "Europe/Vienna", "06:00 14:00 22:00")
    assert (said["tolerance"], said["tolerance_source"], said["units"], said["air_reference"]) == (
        "20 %", "our licence, condition 7", "conventional", "iaea"
    )  # fmt: skip
    assert (said["pins"], said["repairer_may_clear"]) == ("on", "no")
    assert (lead.label, lead.roles, lead.has_pin) == ("N-001", ("lead",), False)
    assert adopted == {"vented-chamber-analog", "pancake-ratemeter"}
    assert main(["status", "--data", str(folder)]) == 0
    out = capsys.readouterr().out
    assert "No instrument is registered." in out
    assert "checklist-tui people pin N-001" in out
    assert main(["status", "--data", str(folder), "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["next"]) == 2


def test_all_of_it_is_shown_before_anything_is_written(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A slip in the third of twelve answers is seen at their end; no leaves no folder."""
    answered(monkeypatch, [*ANSWERS[:-1], "no"])
    assert main(["init", "--data", str(folder), "--no-pin"]) == 2
    out, err = capsys.readouterr()
    shown = out.partition("This is what will be written")[2]
    for words in ("North store", "Europe/Vienna", "22:00", "Runa Feldmire", "N-001", "20 %", "condition 7", "pancake"):
        assert words in shown
    assert "nothing was begun" in err
    assert not folder.exists()


@pytest.mark.parametrize("known", range(len(ANSWERS)))
def test_when_the_input_ends_nothing_was_begun(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], known: int
) -> None:
    """After any number of answers: exit 2 in words, and no folder."""
    answered(monkeypatch, ANSWERS[:known])
    assert main(["init", "--data", str(folder), "--no-pin"]) == 2
    assert "Nothing was changed" in capsys.readouterr().err
    assert not folder.exists()


@given(st.lists(st.text(max_size=30), max_size=25))
@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_is_typed_ends_in_a_plan_or_in_words(lines: list[str]) -> None:
    """Never in a traceback, and never asking for ever."""
    with pytest.MonkeyPatch.context() as patch:
        answered(patch, lines)
        patch.setattr(sys, "stdout", io.StringIO())
        with suppress(Trouble):
            assert isinstance(init.questions(), Beginning)


def test_a_second_site_in_a_folder_is_refused_before_any_question(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Twelve answers in vain would be an insult; the first site stays as it was."""
    assert main(["init", "--data", str(folder), "--from", written(folder), "--no-pin"]) == 0
    before = (folder / JOURNAL["real"]).read_bytes()
    capsys.readouterr()
    assert main(["init", "--data", str(folder), "--no-pin"]) == 2
    out, err = capsys.readouterr()
    assert (out, "was begun here already" in err) == ("", True)
    assert (folder / JOURNAL["real"]).read_bytes() == before


# --- a file --------------------------------------------------------------------------------------------------------


def test_a_file_answers_everything(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Settings, lead and profile as written; shifts in the order of the day."""
    assert main(["init", "--data", str(folder), "--from", written(folder), "--no-pin", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["ok"] is True
    with open_site(folder, SystemClock()) as site:
        said = site.settings()
        assert profiles.procedure_for(site, "vented-chamber-analog").id == "vented-chamber-analog"
        assert status.who(site, "RF").name == "Runa Feldmire"
    assert (said["shifts"], said["air_reference"], said["units"]) == ("06:00 14:00", "aapm", "SI")
    assert (said["two_people_for"], said["calibration_for"]) == ("window-damaged", "response-out, zero-off")


@pytest.mark.parametrize("word", ["yes", "no"])
def test_a_file_says_whether_a_badge_is_enough(folder: Path, word: str) -> None:
    """Else every checkout of the first day would run under a badge that anybody may hold."""
    assert (
        main(["init", "--data", str(folder), "--from", written(folder, settings={"badge_is_enough": word}), "--no-pin"])
        == 0
    )
    with open_site(folder, SystemClock()) as site:
        assert site.settings()["badge_is_enough"] == word


def test_without_a_terminal_a_pin_is_refused_unless_told(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A script has nobody to type one; a file has no place for one. Where the site asks for none, none is missed."""
    assert main(["init", "--data", str(folder), "--from", written(folder)]) == 2
    assert "--no-pin" in capsys.readouterr().err
    assert not folder.exists()
    assert main(["init", "--data", str(folder), "--from", written(folder, settings={"pins": "off"})]) == 0


WRONG = {
    "zone": ({"zone": "Europe/Viena"}, "zone", "Europe/Vienna"),
    "zone elsewhere": ({"zone": "../etc/passwd"}, "zone", "time zone"),
    "day": ({"day_starts": "25:00"}, "day_starts", "time of day"),
    "shift": ({"shifts": ["06:00", "noon"]}, "shifts[2]", "time of day"),
    "no shift": ({"shifts": []}, "shifts", "too few"),
    "profile": ({"profiles": ["vented-chamber-analogue"]}, "profiles[1]", "vented-chamber-analog"),
    "key": ({"zome": "x"}, "zome", "did you mean zone"),
    "format": ({"format": 2}, "format", "not"),
    "badge": ({"lead": FILE["lead"] | {"badge": " "}}, "lead.badge", "badge"),  # type: ignore[operator]
    "pin in it": ({"lead": FILE["lead"] | {"pin": PIN}}, "lead.pin", "no such key"),  # type: ignore[operator]
    "pins": ({"settings": {"pins": "perhaps"}}, "settings.pins", "not known"),
    "code": ({"settings": {"two_people_for": ["Window broken"]}}, "settings.two_people_for[1]", "not allowed"),
    "name": ({"name": 7}, "name", "wrong kind"),
}


@pytest.mark.parametrize("case", WRONG)
def test_each_mistake_is_given_by_its_line(case: str, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """File, line, key, what is wrong; and no site."""
    changes, key, words = WRONG[case]
    path = written(folder, **changes)
    assert main(["init", "--data", str(folder), "--from", path, "--no-pin", "--json"]) == 2
    out, err = capsys.readouterr()
    (mistake,) = json.loads(out)["errors"]
    assert mistake["key"] == key
    assert words in mistake["message"]
    lines = Path(path).read_text("utf-8").splitlines()
    assert key.split(".")[-1].split("[")[0] in "".join(lines[max(0, mistake["line"] - 3) : mistake["line"]])
    assert PIN not in err.replace("found: pin", "")
    assert not folder.exists()


@given(st.binary(max_size=200) | st.text(max_size=200).map(lambda text: text.encode("utf-8", "replace")))
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_bytes_are_a_plan_or_mistakes(tmp_path: Path, raw: bytes) -> None:
    """A file from any editor, or none."""
    (tmp_path / "x.toml").write_bytes(raw)
    with pytest.raises(BeginningErrors):
        read_beginning(tmp_path / "x.toml")


# --- beginning -----------------------------------------------------------------------------------------------------

PLAN = Beginning(
    "North", "Etc/UTC", "06:00", ("06:00",), Lead("N-1", "Runa Feldmire", "RF"), profiles=("alpha-scaler",)
)


def test_the_site_begins_at_the_clocks_moment_with_a_pin_that_works(folder: Path) -> None:
    """Every event is dated by the clock that came from outside; the PIN is in no event."""
    from desk_walk import START

    clock = ManualClock(START)
    with beginning.begin(folder, clock, PLAN, station="a", salt=b"s" * 16, pin=PIN) as site:
        (lead,) = people.listed(site)
        assert lead.has_pin
        secrets.check_pin(site, lead.id, PIN)
        assert {event.utc for event in site.journal.about(lead.id)} == {START}
        assert next_steps(site)[0].startswith("Write the lists")
    assert not any(PIN.encode() in path.read_bytes() for path in folder.iterdir())


@pytest.mark.parametrize("pin", ["1234", "Runa Feldmire"])
def test_a_weak_pin_begins_nothing(folder: Path, pin: str) -> None:
    """It is refused before anything is written."""
    with pytest.raises(Trouble, match="guessed at once"):
        beginning.begin(folder, SystemClock(), PLAN, station="a", salt=b"s" * 16, pin=pin)
    assert not folder.exists()


def test_what_fails_halfway_leaves_nothing(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Half a site would be opened as a whole one; the way is free for another try."""

    def broken(*_: object, **__: object) -> str:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(secrets, "set_pin", broken)
        with pytest.raises(OSError, match="No space"):
            beginning.begin(folder, SystemClock(), PLAN, station="a", salt=b"s" * 16, pin=PIN)
    assert list(folder.iterdir()) == []
    beginning.begin(folder, SystemClock(), PLAN, station="a", salt=b"s" * 16).close()


# --- at a terminal -------------------------------------------------------------------------------------------------

PATIENCE = 60


@pytest.fixture
def terminal() -> Iterator[tuple[int, int]]:
    pty = pytest.importorskip("pty", reason="this system has no pseudo-terminals")
    own, other = pty.openpty()
    yield own, other
    os.close(own)


def test_at_a_terminal_the_pin_is_typed_twice_and_never_shown(folder: Path, terminal: tuple[int, int]) -> None:
    """First two that differ, then a weak one, then the same twice: the last is the PIN, and no screen showed it."""
    own, other = terminal
    command = [sys.executable, "-m", "checklist_tui", "init", "--data", str(folder), "--from", written(folder)]
    process = subprocess.Popen(command, stdin=other, stdout=other, stderr=other, start_new_session=True)
    os.close(other)
    said, answers = "", ["285914", "285915", "1234", PIN, PIN]
    while select.select([own], [], [], PATIENCE)[0]:
        try:
            chunk = os.read(own, 4096).decode("utf-8", "replace")
        except OSError:
            break
        said += chunk
        if not chunk:
            break
        if answers and said.count("(not shown):") + said.count("The same again:") > 5 - len(answers):
            os.write(own, answers.pop(0).encode() + b"\n")
    assert process.wait(PATIENCE) == 0, said
    assert "28591" not in said
    assert "the two are not the same" in said
    assert "guessed at once" in said
    with open_site(folder, SystemClock()) as site:
        secrets.check_pin(site, status.who(site, "N-001").id, PIN)
