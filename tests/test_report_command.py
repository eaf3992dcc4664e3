"""`checklist-tui report` as other programs and people rely on it: files, standard output, words for what is wrong."""

from __future__ import annotations

import csv
import io
import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
from desk_walk import START, id_of, small_site, walk
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from checklist_tui.cli import main
from procedures.clock import ManualClock
from procedures.site import records
from procedures.site.checkouts import Desk


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A site with one checkout."""
    made = tmp_path_factory.mktemp("report") / "site"
    clock = ManualClock(START)
    with small_site(made, clock) as site:
        desk = Desk(site)
        walk(desk, desk.start(id_of(site, "C-1"), id_of(site, "P-1")), clock)
    return made


def test_every_report_is_listed_with_a_line(capsys: pytest.CaptureFixture[str]) -> None:
    """Nobody has to know their names by heart; no site is needed to read them."""
    assert main(["report", "--list"]) == 0
    out = capsys.readouterr().out
    for name in (*records.SHEETS, *records.LISTINGS):
        assert re.search(rf"^  {name} +\w", out, re.MULTILINE), name
    assert main(["report", "--list", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert {each["name"] for each in found["reports"]} == {*records.SHEETS, *records.LISTINGS}


def test_a_report_goes_to_the_reports_of_the_site_and_says_where(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A label is enough; the file is one whole document."""
    assert main(["report", "instrument", "C-1", "--data", str(folder)]) == 0
    path = Path(capsys.readouterr().out.removeprefix("Written: ").strip())
    assert path.parent == folder / "reports"
    assert path.name.startswith("instrument-C-1-")
    text = path.read_text("utf-8")
    assert text.startswith("<!DOCTYPE html>")
    assert text.rstrip().endswith("</html>")


def test_verify_takes_the_head_that_a_report_prints(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """As it stands there, letter by letter; one letter else, and it says that the records are not those."""
    assert main(["report", "instrument", "C-1", "--html", "-", "--data", str(folder)]) == 0
    (head,) = re.findall(r'<code class="head">([^<]*)</code>', capsys.readouterr().out)
    assert main(["verify", "--data", str(folder), "--head", head]) == 0
    other = head[:-1] + ("0" if head[-1] != "0" else "1")
    assert main(["verify", "--data", str(folder), "--head", other]) == 1


def test_a_file_is_not_written_over(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What lies there may be last year's binder."""
    path = tmp_path / "kept.html"
    assert main(["report", "site", "--html", str(path), "--data", str(folder)]) == 0
    before = path.read_bytes()
    capsys.readouterr()
    assert main(["report", "site", "--html", str(path), "--data", str(folder)]) == 2
    assert "Do:" in capsys.readouterr().err
    assert path.read_bytes() == before


def test_a_listing_as_a_table_and_as_json(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same rows in both, on standard output alone."""
    assert main(["report", "checkouts", "--csv", "-", "--data", str(folder)]) == 0
    table = list(csv.reader(io.StringIO(capsys.readouterr().out)))
    assert main(["report", "checkouts", "--json", "--data", str(folder)]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["ok"] is True
    assert [column["heading"] for column in found["columns"]] == table[0]
    assert [row["cells"] for row in found["rows"]] == table[1:]
    assert found["total"] == 1


def test_what_a_row_opens_can_be_asked_for(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A program goes from a listing to the sheets of its rows."""
    main(["report", "checkouts", "--json", "--data", str(folder)])
    opens = json.loads(capsys.readouterr().out)["rows"][0]["opens"]
    assert main(["report", opens["name"], opens["about"], "--json", "--data", str(folder)]) == 0
    assert json.loads(capsys.readouterr().out)["sheet"] == opens["name"]


def test_a_listing_is_narrowed_by_days_and_filters(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The checkout was on 2026-06-01; the day itself is in, and what it was narrowed by is said."""
    days = ["--from", "2026-06-01", "--to", "2026-06-01"]
    assert main(["report", "checkouts", *days, "--json", "--data", str(folder)]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["total"], found["narrowed"]) == (1, {"from": "2026-06-01", "to": "2026-06-01"})
    assert main(["report", "checkouts", "--from", "2026-06-02", "--json", "--data", str(folder)]) == 0
    assert json.loads(capsys.readouterr().out)["total"] == 0
    assert main(["report", "checkouts", "--filter", "ending=locked out", "--json", "--data", str(folder)]) == 0
    assert json.loads(capsys.readouterr().out)["total"] == 0


def test_the_binder_is_of_some_days(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Both ends are named."""
    words = ["report", "binder", "--from", "2026-06-01", "--to", "2026-06-30", "--json", "--data", str(folder)]
    assert main(words) == 0
    assert json.loads(capsys.readouterr().out)["about"] == "2026-06-01,2026-06-30"


@pytest.mark.parametrize(
    "words",
    [
        [],
        ["nothing"],
        ["instrument"],
        ["instrument", "S-1"],
        ["instrument", "no such label"],
        ["site", "C-1"],
        ["site", "--search", "x"],
        ["instrument", "C-1", "--filter", "ending=abandoned"],
        ["instrument", "C-1", "--from", "2026-01-01", "--to", "2026-02-01"],
        ["binder", "--from", "2026-01-01"],
        ["binder", "--from", "2026-02-01", "--to", "2026-01-01"],
        ["binder", "--from", "yesterday", "--to", "2026-01-01"],
        ["checkouts", "--filter", "ending"],
        ["checkouts", "--filter", "=x"],
        ["checkouts", "--filter", "bogus=1"],
        ["checkouts", "--filter", "ending=x", "--filter", "ending=y"],
        ["checkouts", "--filter", "ending=never"],
        ["checkout", "0" * 64],
        ["site", "--html", "."],
        ["site", "--html", "no/such/folder/x.html"],
        ["site", "--html", ""],
        ["site", "--html", "x", "--csv", "y"],
    ],
    ids=" ".join,
)
def test_what_cannot_be_done_is_said_in_words(
    folder: Path, words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """What is wrong, and what to do; nothing is written."""
    before = sorted(folder.rglob("*"))
    assert main(["report", *words, "--data", str(folder)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("checklist-tui: ")
    assert "\nDo: " in err
    assert sorted(folder.rglob("*")) == before


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(["instrument", "person", "drift", "binder", "day", "checkout", "uses"]), st.text(max_size=12))
def test_any_text_gets_an_answer(folder: Path, capsys: pytest.CaptureFixture[str], name: str, text: str) -> None:
    """Pasted, scanned, mistyped: a report or words, never a fault of the program."""
    code = main(["report", name, f" {text}", "--json", "--data", str(folder)])
    out = capsys.readouterr().out
    assert code in (0, 2)
    assert json.loads(out)["ok"] is (code == 0)


def test_standard_output_is_utf_8_whatever_the_locale(folder: Path) -> None:
    """The document says that it is; a byte that is not would spoil it."""
    command = [sys.executable, "-X", "utf8=0", "-m", "checklist_tui"]
    done = subprocess.run(
        [*command, "report", "site", "--html", "-", "--data", str(folder)],
        capture_output=True,
        stdin=subprocess.DEVNULL,
        env={"LC_ALL": "C", "PYTHONCOERCECLOCALE": "0"},
        timeout=60,
        check=True,
    )
    assert done.stdout.decode("utf-8").startswith("<!DOCTYPE html>")
    assert done.stderr == b""
