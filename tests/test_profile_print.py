"""`profile print`: a blank form and its expected values as documents, for when the laptop cannot be used."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from checklist_tui.cli import main
from procedures.site.demo import make_demo
from procedures.site.paper_form import read_number
from procedures.site.system import SystemClock


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> str:
    folder = tmp_path_factory.mktemp("demo")
    make_demo(folder, SystemClock()).close()
    return str(folder)


def test_a_form_and_its_expected_values_are_two_documents(
    site: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The values that a reading is held against must not lie on the table while it is taken: no figure of them is on
    the form."""
    form, expected = tmp_path / "form.html", tmp_path / "expected.html"
    words = ["profile", "print", "qo-01", "--data", site, "--html", str(form), "--expected", str(expected), "--json"]
    assert main(words) == 0
    answer = json.loads(capsys.readouterr().out)
    assert read_number(answer["form"]) == answer["form"]
    printed, apart = form.read_text(), expected.read_text()
    assert answer["form"] in printed
    assert "in the band" in printed
    assert "OPEN THIS ONLY AFTER" in apart
    figures = set(re.findall(r"1\.\d{3}", re.sub(r"<style>.*?</style>", "", apart, flags=re.DOTALL)))
    assert figures
    assert not any(figure in printed for figure in figures)


def test_a_profile_has_a_form_for_any_instrument_and_no_expected_values(
    site: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Expected values are those of one instrument with its source."""
    form = tmp_path / "form.html"
    assert main(["profile", "print", "alpha-scaler", "--data", site, "--html", str(form)]) == 0
    assert "Form number: " in capsys.readouterr().out
    assert "Alpha scintillation probe" in form.read_text()
    words = ["profile", "print", "alpha-scaler", "--data", site, "--html", str(tmp_path / "a"), "--expected"]
    assert main([*words, str(tmp_path / "b")]) == 2
    assert "one instrument" in capsys.readouterr().err
    assert not (tmp_path / "b").exists()


def test_two_forms_never_carry_one_number(site: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By its number a form is known when it is typed in."""
    numbers = set()
    for name in ("one.html", "two.html", "three.html"):
        assert main(["profile", "print", "QO-04", "--data", site, "--html", str(tmp_path / name), "--json"]) == 0
        numbers.add(json.loads(capsys.readouterr().out)["form"])
    assert len(numbers) == 3


@pytest.mark.parametrize("what", ["", "nothing", "QS-1", "[b]"])
def test_what_is_no_instrument_and_no_profile_is_named(
    site: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], what: str
) -> None:
    """Nothing is written for what is not there."""
    form = tmp_path / "form.html"
    assert main(["profile", "print", what, "--data", site, "--html", str(form)]) == 2
    assert "no instrument" in capsys.readouterr().err
    assert not form.exists()


def test_a_file_that_is_there_is_never_written_over(
    site: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It may be the form that lies in the drawer."""
    form = tmp_path / "form.html"
    form.write_text("mine")
    assert main(["profile", "print", "QO-01", "--data", site, "--html", str(form)]) == 2
    assert "there is a file here already" in capsys.readouterr().err
    assert form.read_text() == "mine"
