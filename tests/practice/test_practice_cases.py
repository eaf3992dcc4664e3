"""Cases that trainers write: read strictly, refused with line and column, what is allowed and why."""

from __future__ import annotations

from itertools import combinations_with_replacement
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from procedures.practice.cases import load_case, read_case
from procedures.practice.catalogue import kinds, possible
from procedures.practice.model import Model, division_of
from procedures.practice.packaged import cases, models
from procedures.practice.pages import PracticeErrors
from procedures.practice.pairs import CLASHES, clash
from procedures.profile.errors import ProfileError
from procedures.trouble import Trouble
from procedures.units import shown

HEAD = """format = 1
title = "Something"

[instrument]
profile = "{profile}"
"""

LEVELS = {"%": "{:g} %", "mm": "{:g} mm", "turns": "{:g}", "cps": "{:g} cps"}


def written(profile: str, *names: str) -> str:
    """A case with these faults at a level that each allows."""
    rows = []
    for name in names:
        level = level_for(models()[profile], name)
        rows.append(f'\n[[fault]]\nkind = "{name}"\n' + (f'level = "{level}"\n' if level else ""))
    text = HEAD.format(profile=profile) + "".join(rows)
    return text.replace('kind = "scale-off"\n', 'kind = "scale-off"\nscale = "x1"\n')


def level_for(model: Model, name: str) -> str:
    wanted = kinds()[name].range
    if wanted is None:
        return ""
    if wanted.unit == "scale":
        return f"{4 * division_of(model.scales[0]):g} {model.unit}"
    return LEVELS[wanted.unit].format(wanted.high)


def refused(text: str) -> PracticeErrors:
    with pytest.raises(PracticeErrors) as told:
        read_case(text, "case.toml", models())
    return told.value


@pytest.mark.parametrize("profile", list(models()))
def test_each_kind_can_be_written(profile: str) -> None:
    """Whatever the catalogue offers for a type can be written for it, and comes out with a level of its own."""
    for name in possible(models()[profile].labels):
        case = read_case(written(profile, name), "case.toml", models())
        assert [fault.kind for fault in case.faults] == [name]
        assert (case.faults[0].level != 0) == (kinds()[name].range is not None)


def able(*names: str) -> list[str]:
    """The types that can have all of these."""
    return [name for name, model in models().items() if set(names) <= set(possible(model.labels))]


PAIRS = sorted({tuple(sorted((a, b))) for each in CLASHES for a in each.one for b in each.other if able(a, b)})


@pytest.mark.parametrize("pair", PAIRS, ids=["+".join(pair) for pair in PAIRS])
def test_each_contradictory_pair_is_refused_with_its_line(pair: tuple[str, str]) -> None:
    """Both orders; the later one is named with its line, the first with its own, and it is said why."""
    for one, other in (pair, pair[::-1]):
        text = written(able(*pair)[0], one, other)
        first = text[: text.index("[[fault]]")].count("\n") + 1
        told = refused(text).errors
        assert len(told) == 1
        assert told[0].line == text[: text.rindex("kind =")].count("\n") + 1
        assert told[0].column == len("kind = ") + 1
        assert f"line {first}" in told[0].message
        assert told[0].message.endswith("already" if one == other else clash(one, other))
        assert told[0].allowed


def test_each_clash_can_happen() -> None:
    """A rule about faults that no type can have together would never be met."""
    for each in CLASHES:
        assert any(able(a, b) for a in each.one for b in each.other if a != b)


def test_pairs_that_do_not_clash_are_taken() -> None:
    """What is not refused can be read: no pair falls between the two."""
    profile = "vented-chamber-analog"
    names = possible(models()[profile].labels)
    for pair in combinations_with_replacement(names, 2):
        if pair[0] == pair[1] or clash(*pair):
            continue
        assert len(read_case(written(profile, *pair), "case.toml", models()).faults) == 2


WRONG = [
    ("format = 1", "format = 2", 1, 10, ""),
    ('title = "Something"', 'title = ""', 2, 9, "at least 1"),
    ('title = "Something"', 'title = "Something"\ntitel = "Something"', 3, 1, "title"),
    ('kind = "response-low"', 'kind = "response-lo"', 8, 8, "response-low"),
    ('kind = "response-low"', 'kind = "light-leak"', 8, 8, "response-low"),
    ('level = "-30 %"', 'level = "30 %"', 9, 9, "-95 to -1 %"),
    ('level = "-30 %"', 'level = "-30"', 9, 9, "%"),
    ('level = "-30 %"', "level = -30", 9, 9, "text in quotes"),
    ('level = "-30 %"', 'level = "-0.3 mR/h"', 9, 9, "%"),
    ('level = "-30 %"', 'level = "-30 %"\nbegins = "soon"', 10, 10, "start"),
    ('level = "-30 %"', 'level = "-30 %"\nbegins = "at lever"', 10, 10, "power"),
    ('level = "-30 %"', 'level = "-30 %"\nbegins = "9 h"', 10, 10, "14400 s"),
    ('level = "-30 %"', 'level = "-30 %"\nscale = "x1"', 10, 9, "left out"),
    ('level = "-30 %"', 'level = "-30 %"\nseverity = 3', 10, 1, "level"),
    ('profile = "vented-chamber-analog"', 'profile = "vented-chamber"', 5, 11, "vented-chamber-analog"),
    ('kind = "response-low"\nlevel = "-30 %"', 'kind = "scale-off"\nlevel = "-30 %"\nscale = "x2"', 10, 9, "x10"),
    ('kind = "response-low"\nlevel = "-30 %"', 'kind = "zero-off"\nlevel = "0.01 mR/h"', 9, 9, "half a division"),
    ('kind = "response-low"\nlevel = "-30 %"', 'kind = "zero-off"\nlevel = "5 µSv/h"', 9, 9, "exposure rate"),
    ('kind = "response-low"\nlevel = "-30 %"', 'kind = "case-wet"\nlevel = "3 %"', 9, 9, "left out"),
]


@pytest.mark.parametrize(("old", "new", "line", "column", "allowed"), WRONG, ids=[row[1] for row in WRONG])
def test_mistakes_are_told_with_their_place(old: str, new: str, line: int, column: int, allowed: str) -> None:
    """Line, column, and what is allowed: a trainer finds it without reading the program."""
    text = HEAD.format(profile="vented-chamber-analog") + '\n[[fault]]\nkind = "response-low"\nlevel = "-30 %"\n'
    assert old in text
    told = refused(text.replace(old, new)).errors
    assert (told[0].line, told[0].column) == (line, column)
    assert allowed in told[0].allowed
    assert told[0].place == f"case.toml:{line}:{column}"


def test_all_mistakes_come_at_once() -> None:
    """Nobody wants to mend a file one mistake at a time."""
    text = HEAD.format(profile="vented-chamber-analog")
    text += '\n[[fault]]\nkind = "nonsense"\n\n[[fault]]\nkind = "response-low"\nlevel = "3 m"\n'
    told = refused(text)
    assert [error.line for error in told.errors] == [8, 12]
    assert "2 mistakes" in told.what


def test_a_level_that_is_missing_is_asked_for_in_the_units_of_the_scale() -> None:
    """The example is one that this very instrument takes."""
    text = HEAD.format(profile="pancake-ratemeter") + '\n[[fault]]\nkind = "contamination"\n'
    told = refused(text)
    assert "40 cpm" in told.allowed
    read_case(text + 'level = "40 cpm"\n', "case.toml", models())


def test_a_moment_and_a_room_are_read() -> None:
    """A fault may wait, and the bench may be cold."""
    text = HEAD.format(profile="vented-chamber-analog") + '\n[room]\ntemperature = "-5 degC"\n'
    text += '\n[[fault]]\nkind = "case-wet"\nbegins = "2 min"\n\n[[fault]]\nkind = "response-low"\nlevel = "-30 %"\n'
    case = read_case(text + 'begins = "at slide"\n', "case.toml", models())
    assert (case.faults[0].after, case.faults[1].at) == (120.0, "slide")
    assert case.room.temperature_c == -5
    assert case.room.pressure_kpa == models()["vented-chamber-analog"].room.pressure_kpa


def test_a_file_that_is_none_is_told(tmp_path: Path) -> None:
    """No file, a folder, other bytes: words, never a traceback."""
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe\x00")
    for path in (tmp_path / "none.toml", tmp_path, tmp_path / "bytes.toml"):
        with pytest.raises(Trouble):
            load_case(path, models())


PACKAGED = "\n".join(
    (HEAD.format(profile="pancake-ratemeter"), '[[fault]]\nkind = "cable-intermittent"\nlevel = "9 %"')
)


@given(st.integers(0, len(PACKAGED)), st.text(max_size=12), st.integers(0, 12))
@settings(max_examples=150, deadline=None)
def test_whatever_is_typed_there_is_a_case_or_words(place: int, typed: str, gone: int) -> None:
    """Any slip of the hand in a good file."""
    told: tuple[ProfileError, ...] = ()
    try:
        read_case(PACKAGED[:place] + typed + PACKAGED[place + gone :], "case.toml", models())
    except PracticeErrors as trouble:
        told = trouble.errors
    assert all(error.message and shown(error.message, 10_000) == error.message for error in told)


def test_the_cases_that_come_along_are_read() -> None:
    """Each of them, with the words a trainer needs."""
    for name, case in cases().items():
        assert case.profile in models(), name
        assert len(case.notes) == len(case.faults)
