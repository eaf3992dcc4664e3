"""Charts and counts through the command line, and whatever may stand in a file of figures."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from checklist_tui.cli import main
from procedures.site.figures_file import LARGEST_FILE, read_figures
from procedures.trouble import Trouble

FLOW = "49.6 47.6 49.9 51.3 47.8 51.2 52.6 52.4 53.6 52.1"
"""NIST/SEMATECH e-Handbook 6.3.2.2 (quoted)."""

WEIGHTED = f"52.0 47.0 53.0 49.3 50.1 47.0 51.0 50.1 51.2 50.5 {FLOW}"
"""NIST/SEMATECH e-Handbook 6.3.2.4 (quoted)."""

SHIFT = (
    "9.45 7.99 9.29 11.66 12.16 10.18 8.04 11.46 9.20 10.34 9.03 11.47 10.51 9.40 10.08 9.37 10.62 10.31 8.52 10.84 "
    "10.90 9.33 12.29 11.50 10.60 11.08 10.38 11.62 11.31 10.52"
)
"""Montgomery, Introduction to Statistical Quality Control, table 9.1: mean 10, sigma 1, a shift after 20 (memory)."""


def chart(capsys: pytest.CaptureFixture[str], path: Path, figures: str, *words: str) -> dict[str, Any]:
    path.write_text("\n".join(figures.split()), encoding="utf-8")
    assert main(["compute", "chart", "--values", str(path), *words, "--json"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    answer: dict[str, Any] = json.loads(out)
    return answer


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "figures.txt"


def test_individuals(capsys: pytest.CaptureFixture[str], file: Path) -> None:
    """Mean 50.81, limits 55.8041 and 45.8159 (e-Handbook 6.3.2.2, quoted), and a word on how few ten figures are."""
    answer = chart(capsys, file, FLOW, "--kind", "individuals")
    assert answer["center"] == pytest.approx(50.81)
    assert answer["upper"] == pytest.approx(55.8041, abs=1e-4)
    assert answer["lower"] == pytest.approx(45.8159, abs=1e-4)
    assert answer["points"][0] == {"value": 49.6, "statistic": 49.6, "out": False, "rules": []}
    assert "10 figures" in answer["notes"][0]
    assert answer["rule_set"] == "western-electric"


def test_ewma(capsys: pytest.CaptureFixture[str], file: Path) -> None:
    """λ 0.3, target 50, s 2.0539, k 3 (e-Handbook 6.3.2.4, quoted)."""
    words = ("--kind", "ewma", "--target", "50", "--sigma", "2.0539", "--lambda", "0.3", "--k", "3")
    answer = chart(capsys, file, WEIGHTED, *words)
    assert answer["center"] == 50
    assert answer["upper"] == pytest.approx(52.5884, abs=1e-4)
    assert answer["lower"] == pytest.approx(47.4115, abs=1e-4)
    assert answer["points"][-1]["statistic"] == pytest.approx(51.99, abs=5e-3)
    assert answer["notes"] == []


def test_cusum(capsys: pytest.CaptureFixture[str], file: Path) -> None:
    """k ½ and h 5 find the shift at the 29th reading, with an upper sum of 5.28 (Montgomery, table 9.2, memory)."""
    words = ("--kind", "cusum", "--target", "10", "--sigma", "1", "--k", "0.5", "--h", "5")
    answer = chart(capsys, file, SHIFT, *words)
    assert (answer["center"], answer["upper"], answer["lower"]) == (0, 5, -5)
    assert [n for n, point in enumerate(answer["points"], 1) if point["out"]] == [29, 30]
    assert answer["points"][28]["statistic"] == [pytest.approx(5.28), 0]


def test_cusum_counts_in_sigmas(capsys: pytest.CaptureFixture[str], file: Path) -> None:
    """Figures and sigma three times as large: sums too, and the same points out."""
    words = ("--kind", "cusum", "--target", "30", "--sigma", "3")
    tripled = " ".join(str(3 * float(word)) for word in SHIFT.split())
    answer = chart(capsys, file, tripled, *words)
    assert answer["points"][28]["statistic"][0] == pytest.approx(3 * 5.28)
    assert [n for n, point in enumerate(answer["points"], 1) if point["out"]] == [29, 30]


def test_counts_chart_and_check_standard(capsys: pytest.CaptureFixture[str], file: Path) -> None:
    """c chart of counts with mean 16 reaches from 4 to 28 (e-Handbook 6.3.3.1, read); t limits are those of n − 1."""
    answer = chart(capsys, file, "16 28 4 16", "--kind", "counts", "--target", "16")
    assert (answer["lower"], answer["upper"]) == (4, 28)
    assert not any(point["out"] for point in answer["points"])
    answer = chart(capsys, file, "1 2 3", "--kind", "check-standard")
    assert answer["upper"] == pytest.approx(2 + 4.303, abs=5e-4)  # t table, 2 degrees, 97.5 % (memory)


def test_rules_name_their_author(capsys: pytest.CaptureFixture[str], file: Path) -> None:
    """Eight on one side for Western Electric, nine for Nelson (quoted)."""
    words = ("--kind", "individuals", "--target", "10", "--sigma", "1")
    figures = " ".join(["10.5"] * 9)
    by = chart(capsys, file, figures, *words)["points"]
    assert by[6]["rules"] == []
    assert by[7]["rules"] == ["8 on one side (Western Electric)"]
    by = chart(capsys, file, figures, *words, "--rules", "nelson")["points"]
    assert by[7]["rules"] == []
    assert by[8]["rules"] == ["9 on one side (Nelson)"]


def test_readings_too_much_alike_are_told(capsys: pytest.CaptureFixture[str], file: Path) -> None:
    """Five the same running: made up, or an instrument that stands still."""
    notes = chart(capsys, file, "1.1 1.6 1.6 1.6 1.6 1.6 1.2", "--kind", "individuals")["notes"]
    assert any("2 to 6" in note and "too regular" in note for note in notes)


def test_counts(capsys: pytest.CaptureFixture[str]) -> None:
    """χ² of 1000 ± 18 seven times and 1000 on 14 degrees (formula, computed): too regular."""
    typed = ",".join(["982", "1018"] * 7 + ["1000"])
    assert main(["compute", "counts", "--counts", typed, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["mean"] == 1000
    assert answer["chi_square"] == pytest.approx(4.536)
    assert answer["degrees"] == 14
    assert answer["p"] > 0.975
    assert answer["reliability_factor"] == pytest.approx((4.536 / 14) ** 0.5)
    assert answer["stdev"] == pytest.approx((4536 / 14) ** 0.5)
    assert answer["scattering"] == "too regular"


def test_people_get_a_line_for_each_point(capsys: pytest.CaptureFixture[str], file: Path) -> None:
    """Without --json: rounded, a point that is out is marked by a word and not by colour."""
    file.write_text("10\n10.5\n14\n")
    words = ["compute", "chart", "--kind", "individuals", "--target", "10", "--sigma", "1", "--values", str(file)]
    assert main(words) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[-1].split() == ["point", "3", "14", "OUT", "1", "beyond", "3", "sigma", "(Western", "Electric)"]
    assert lines[-3].split() == ["point", "1", "10"]


# --- files


@pytest.mark.parametrize(
    ("name", "text", "values"),
    [
        ("a.txt", "1\n2\n", (1, 2)),
        ("a.txt", "\ufeff1.5\r\n\r\n# a remark\r\n−2\r\n", (1.5, -2)),
        ("a.txt", "1,5\t7\n2,5\t8\n", (1.5, 2.5)),
        ("a.txt", "1,5;7\n2,5;8\n", (1.5, 2.5)),
        ("a.txt", "0.5,7\n1.5,8\n", (0.5, 1.5)),
        ("a.txt", "reading,day\n49,6\n", (49,)),
        ("a.csv", "49,6\n48,7\n", (49, 48)),
        ("a.csv", 'reading,who\n"1.5","a, b"\n2e1,c\n', (1.5, 20)),
    ],
)
def test_what_a_file_may_be(tmp_path: Path, name: str, text: str, values: tuple[float, ...]) -> None:
    """One figure a line, or a table; line ends, marks and heading of whatever program wrote it."""
    (tmp_path / name).write_bytes(text.encode())
    assert read_figures(tmp_path / name).values == values


@pytest.mark.parametrize(
    ("text", "where"),
    [
        (b"1\n2\nx\n", "line 3"),
        (b"1\n49,6\n", "line 2"),
        (b"1 2 3\n", "line 1"),
        (b"1\n\nnan\n", "line 3"),
        (b"1\ninf\n", "line 2"),
        (b"1\n1e999\n", "line 2"),
        (b"1\n\xff\n", "line 2"),
        (b"1\n,2.5\n", "line 2"),
        (b'1\n"2;3\n', "line 2"),
        (b"1\n1,200.5\n", "line 2"),
        (b"1,200,000\n", "line 1"),
        (b"", "bad.txt"),
        (b"reading\n", "bad.txt"),
        (b"reading\nvalue\n", "line 2"),
    ],
)
def test_what_is_no_figure_is_answered_by_its_line(tmp_path: Path, text: bytes, where: str) -> None:
    """No line is left out unseen: a chart of the others would be another chart."""
    path = tmp_path / "bad.txt"
    path.write_bytes(text)
    with pytest.raises(Trouble) as refused:
        read_figures(path)
    assert where in refused.value.where
    assert "bad.txt" in refused.value.where
    assert refused.value.allowed


def test_files_that_are_none(tmp_path: Path) -> None:
    """A folder, nothing, and far too much."""
    large = tmp_path / "large.txt"
    large.write_bytes(b"1\n" * (LARGEST_FILE // 2 + 1))
    for path in (tmp_path, tmp_path / "absent.txt", large):
        with pytest.raises(Trouble) as refused:
            read_figures(path)
        assert refused.value.allowed


@given(st.binary(max_size=200))
def test_any_bytes_are_figures_or_trouble(tmp_path_factory: pytest.TempPathFactory, raw: bytes) -> None:
    """Whatever stands in a file."""
    path = tmp_path_factory.getbasetemp() / "any.txt"
    path.write_bytes(raw)
    try:
        assert read_figures(path).values
    except Trouble as trouble:
        assert trouble.where  # noqa: PT017  either is an answer


@pytest.mark.parametrize(
    ("words", "where"),
    [
        (("--kind", "pie"), "--kind"),
        (("--kind", "individuals", "--lambda", "0.3"), "--lambda"),
        (("--kind", "ewma", "--lambda", "3"), "--lambda"),
        (("--kind", "ewma", "--lambda", "x"), "--lambda"),
        (("--kind", "ewma", "--h", "5"), "--h"),
        (("--kind", "cusum", "--k", "-1"), "--k"),
        (("--kind", "cusum", "--sigma", "0"), "--sigma"),
        (("--kind", "individuals", "--rules", "mine"), "--rules"),
        (("--kind", "counts"), "figures.txt"),
    ],
)
def test_options_that_cannot_be(
    capsys: pytest.CaptureFixture[str], file: Path, words: tuple[str, ...], where: str
) -> None:
    """The answer names the option, and the exit code says bad input."""
    file.write_text("1.5\n2.5\n4\n")
    assert main(["compute", "chart", "--values", str(file), *words, "--json"]) == 2
    out, err = capsys.readouterr()
    assert "Traceback" not in err
    (error,) = json.loads(out)["errors"]
    assert where in error["where"]
    assert error["allowed"]


@pytest.mark.parametrize("typed", ["", "1", "1,x", "1,-2", "1.5,2", "0,0", "1,²", "9" * 30 + ",1"])
def test_counts_that_cannot_be(capsys: pytest.CaptureFixture[str], typed: str) -> None:
    """Counts are whole numbers, two at least."""
    assert main(["compute", "counts", "--counts", typed]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "--counts" in err
    assert "Allowed: " in err


def test_identical_figures_say_so(capsys: pytest.CaptureFixture[str], file: Path) -> None:
    """No limits of no width."""
    file.write_text("1.6\n" * 25)
    assert main(["compute", "chart", "--kind", "individuals", "--values", str(file)]) == 2
    assert "too regular" in capsys.readouterr().err
