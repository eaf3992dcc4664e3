"""`profile check`, `profile paths` and `profile rehearse` through the command line, on the profiles of the demo."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import demo_profiles
from checklist_tui import output
from checklist_tui.cli import main

FOLDER = Path(demo_profiles.__file__).parent
PROFILE = str(FOLDER / "vented_chamber.toml")
ANSWERS = sorted((FOLDER / "answers").glob("*.toml"))


def profile_of(answers: Path) -> str:
    """Answers are named after their profile: `vented_chamber-pass.toml`."""
    return str(FOLDER / f"{answers.stem.split('-')[0]}.toml")


def as_json(capsys: pytest.CaptureFixture[str], code: int, *words: str) -> dict[str, Any]:
    assert main(["profile", *words, "--json"]) == code
    answer: dict[str, Any] = json.loads(capsys.readouterr().out)
    return answer


def test_good_profiles_are_summed_up(capsys: pytest.CaptureFixture[str]) -> None:
    """Several files in one call; exit 0 only when all are good."""
    files = sorted(map(str, FOLDER.glob("*.toml")))
    answer = as_json(capsys, 0, "check", *files)
    assert answer["ok"] is True
    assert [each["file"] for each in answer["files"]] == files
    assert main(["profile", "check", *files]) == 0
    assert capsys.readouterr().out.count(": ok\n") == len(files)


def test_every_mistake_is_given_by_its_place(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two mistakes in a file, and a file that is not there: all in one answer, by file, line, column and key."""
    bad = tmp_path / "bad.toml"
    text = Path(PROFILE).read_text("utf-8")
    bad.write_text(
        text.replace("format = 1", "format = 1\ntitel = 'x'").replace('full_scale = "', 'full_scale = "x'), "utf-8"
    )
    missing = str(tmp_path / "missing.toml")
    answer = as_json(capsys, 2, "check", PROFILE, str(bad), missing)
    assert answer["ok"] is False
    assert all(set(error) == {"file", "line", "column", "key", "message"} for error in answer["errors"])
    by_key = {error["key"]: error for error in answer["errors"]}
    lines = bad.read_text("utf-8").splitlines()
    assert lines[by_key["titel"]["line"] - 1].startswith("titel")
    assert any(error["file"] == str(bad) and "full_scale" in error["key"] for error in answer["errors"])
    assert any(error["file"] == missing and error["line"] == 0 for error in answer["errors"])
    assert main(["profile", "check", str(bad)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert f"{bad}:{by_key['titel']['line']}:" in err


@pytest.mark.parametrize("raw", [b"", b"\xff\xfe", b"a" * 5000, b"[[[[", b"\x00", b"x = '\x1b[2J'"])
@pytest.mark.parametrize("action", ["check", "paths"])
def test_any_bytes_are_answered_in_words(
    raw: bytes, action: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whatever the file holds: exit 2, words, no control characters."""
    file = tmp_path / "any.toml"
    file.write_bytes(raw)
    assert main(["profile", action, str(file)]) == 2
    err = capsys.readouterr().err
    assert err.startswith(str(file))
    assert "Traceback" not in err
    assert "\x1b" not in err


def test_the_path_table_has_steps_remedies_ending_and_times(capsys: pytest.CaptureFixture[str]) -> None:
    """One row is the good day; every row ends in one of the four endings, and no longest time is under its shortest."""
    answer = as_json(capsys, 0, "paths", PROFILE)
    rows = answer["paths"]
    (good,) = [row for row in rows if row["ending"] == "fit for use" and not row["remedies"]]
    assert good["steps"][-1] == "response"
    assert all(row["shortest_seconds"] <= row["longest_seconds"] for row in rows)
    assert {row["ending"] for row in rows} == {"fit for use", "locked out", "not checked", "abandoned"}
    assert all(0 <= row["chance"] <= 1 for row in answer["limits"])
    assert main(["profile", "paths", PROFILE]) == 0
    out = capsys.readouterr().out
    assert "everything passes: fit for use." in out
    assert "battery FAIL > (fresh-cells done) > " in out


@pytest.mark.parametrize("answers", ANSWERS, ids=lambda path: path.stem)
def test_the_demo_s_answers_lead_where_they_say(answers: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each file names the ending it expects; the command finds the same."""
    answer = as_json(capsys, 0, "rehearse", profile_of(answers), "--answers", str(answers))
    assert answer["ok"] is True
    assert answer["expected"]["matches"] is True
    assert answer["ending"] == answer["expected"]["ending"]


def test_a_rehearsal_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    """Findings in order, the ending, the reason, and that nothing is recorded."""
    answers = str(FOLDER / "answers" / "vented_chamber-low.toml")
    assert main(["profile", "rehearse", PROFILE, "--answers", answers]) == 0
    out = capsys.readouterr().out
    assert out.startswith("REHEARSAL of ")
    assert "Nothing is recorded." in out
    assert "FAILED" in out
    assert "Ending: locked out." in out


def test_a_rehearsal_that_ends_otherwise_exits_1(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A writer of profiles runs these in a batch: success must mean that the ending was the expected one."""
    text = (FOLDER / "answers" / "vented_chamber-pass.toml").read_text("utf-8")
    changed = tmp_path / "answers.toml"
    changed.write_text(text.replace('ending = "fit for use"', 'ending = "not checked"'), "utf-8")
    assert changed.read_text("utf-8") != text
    assert main(["profile", "rehearse", PROFILE, "--answers", str(changed)]) == output.NOT_AS_EXPECTED
    assert "NOT AS EXPECTED: the answers file expects not checked." in capsys.readouterr().out
    answer = as_json(capsys, output.NOT_AS_EXPECTED, "rehearse", PROFILE, "--answers", str(changed))
    assert answer["expected"]["matches"] is False


def test_answers_that_are_missing_or_wrong_are_trouble(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No such file, another profile's answers, and no text at all: exit 2, and one JSON object when asked."""
    other = str(FOLDER / "answers" / "alpha_scaler-pass.toml")
    garbage = tmp_path / "garbage.toml"
    garbage.write_bytes(b"\xff\x00")
    for answers in (str(tmp_path / "none.toml"), other, str(garbage)):
        assert main(["profile", "rehearse", PROFILE, "--answers", answers]) == 2
        assert "Traceback" not in capsys.readouterr().err
        assert as_json(capsys, 2, "rehearse", PROFILE, "--answers", answers)["ok"] is False


def test_two_revisions_are_compared_by_meaning(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A wider tolerance is marked and ends with 1; another comment is no difference; two profiles are not compared."""
    text = Path(PROFILE).read_text(encoding="utf-8")
    wider = tmp_path / "wider.toml"
    wider.write_text(text.replace('high = "20 %"', 'high = "30 %"').replace("revision = 1", "revision = 2"))
    assert wider.read_text() != text
    assert main(["profile", "compare", PROFILE, str(wider)]) == output.NOT_AS_EXPECTED
    assert "! " in capsys.readouterr().out
    commented = tmp_path / "commented.toml"
    commented.write_text("# another comment\n" + text)
    assert main(["profile", "compare", PROFILE, str(commented), "--json"]) == output.OK
    assert json.loads(capsys.readouterr().out)["harmless"] is True
    other = next(each for each in sorted(FOLDER.glob("*.toml")) if str(each) != PROFILE)
    assert main(["profile", "compare", PROFILE, str(other)]) == output.BAD_INPUT
    assert "two profiles" in capsys.readouterr().err
    assert main(["profile", "compare", PROFILE, str(tmp_path / "none.toml")]) == output.BAD_INPUT
    assert "profile check" in capsys.readouterr().err


def test_the_format_is_written_as_a_schema(capsys: pytest.CaptureFixture[str]) -> None:
    """For editors that check TOML while it is typed."""
    assert main(["profile", "schema"]) == output.OK
    made = json.loads(capsys.readouterr().out)
    assert made["$schema"].startswith("https://json-schema.org/")
    assert "step" in made["properties"]
