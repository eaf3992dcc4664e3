"""Reading a profile: one test for each kind of mistake, with the place where the writer finds it."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from procedures.profile.errors import ProfileError, ProfileErrors
from procedures.profile.load import MOST_REMEDIES, MOST_STEPS, load_profile, read_profile
from procedures.profile.text import LARGEST_FILE

pytestmark = pytest.mark.usefixtures("kinds_of_the_tests")

EXAMPLES = int(os.environ.get("CHECKLIST_LOAD_CAMPAIGN", "60"))
"""Property tests run this often. The campaign: CHECKLIST_LOAD_CAMPAIGN=100000 pytest tests/profile/test_load.py"""


def mistakes(text: str) -> tuple[ProfileError, ...]:
    with pytest.raises(ProfileErrors) as caught:
        read_profile(text, "demo.toml")
    return caught.value.errors


def only(text: str) -> ProfileError:
    found = mistakes(text)
    assert len(found) == 1, "\n".join(map(str, found))
    return found[0]


def line_of(text: str, part: str) -> int:
    """The line in which `part` first stands, counted from 1."""
    return text[: text.index(part)].count("\n") + 1


def test_a_profile_without_a_mistake_is_read(good: str) -> None:
    """Everything below changes one thing in this text, so it must be right itself."""
    profile = read_profile(good, "demo.toml").profile
    assert [step.id for step in profile.step] == [
        "label",
        "battery",
        "warm-up",
        "window",
        "zero",
        "response",
        "desiccant",
    ]
    assert profile.instrument.has_window
    assert profile.instrument.needs_zero


@pytest.mark.parametrize(
    ("old", "new", "key", "column", "message", "allowed"),
    [
        ('title = "V', 'titel = "V', "titel", 1, "did you mean title?", "title"),
        ("shown_by", "show_by", "instrument.scale[x1].show_by", 1, "did you mean shown_by?", "shown_by"),
        ("lasts = ", "lats = ", "ready.lats", 1, "did you mean lasts?", "longest_pause"),
        ("  action", "  acton", "step[battery].remedy[1].acton", 3, "did you mean action?", "action"),
        ("high =", "hgih =", "step[response].limits.hgih", 26, "did you mean high?", "low"),
        ("soak =", "soke =", "instrument.operating.soke", 54, "did you mean soak?", "soak"),
    ],
)
def test_an_unknown_key_is_refused_with_the_nearest_one(
    good: str, old: str, new: str, key: str, column: int, message: str, allowed: str
) -> None:
    """A mistyped key that was ignored would leave its default in force unseen."""
    text = good.replace(old, new, 1)
    found = next(each for each in mistakes(text) if each.key == key)
    assert (found.line, found.column) == (line_of(text, new), column)
    assert message in found.message
    assert allowed in found.allowed


@pytest.mark.parametrize(
    ("old", "new", "key", "place", "allowed"),
    [
        ('title = "Vented ion chamber, needle"', "title = 3", "title", (3, 9), "text in quotes"),
        ("revision = 1", 'revision = "1"', "revision", (4, 12), "a whole number"),
        ("revision = 1", "revision = true", "revision", (4, 12), "a whole number"),
        ("revision = 1", "revision = 0", "revision", (4, 12), "at least 1"),
        ('id = "vented-chamber"', 'id = "Vented Chamber"', "id", (2, 6), "lower-case words joined by hyphens"),
        ('["neutron"]', '["neutron", 4]', "instrument.not_for[2]", (9, 23), "text in quotes"),
        ('["neutron"]', "[]", "instrument.not_for", (9, 11), "at least 1"),
        ('["neutron"]', '"neutron"', "instrument.not_for", (9, 11), "a list in brackets"),
        (
            "only_when_sent = true",
            'only_when_sent = "yes"',
            "step[desiccant].only_when_sent",
            (76, 18),
            "true or false",
        ),
        (
            'repeat_from = "battery"',
            "repeat_from = 1",
            "step[battery].remedy[1].repeat_from",
            (43, 17),
            "text in quotes",
        ),
        ('  "window",', '  "window", 1', "step[window].good[2]", (54, 13), "text in quotes"),
        ("multiplier = 10", "multiplier = 0", "instrument.scale[x10].multiplier", (24, 14), "more than 0"),
    ],
)
def test_a_value_of_the_wrong_type_is_refused_where_it_stands(
    good: str, old: str, new: str, key: str, place: tuple[int, int], allowed: str
) -> None:
    """Nothing is guessed from another type, and the writer is sent to the value, not to the table."""
    found = only(good.replace(old, new, 1))
    assert (found.key, found.line, found.column) == (key, *place)
    assert allowed in found.allowed


@pytest.mark.parametrize(
    ("old", "new", "key", "says"),
    [
        ('"3 mR/h"', '"3 mr/hx"', "instrument.scale[x1].full_scale", "mR/h"),
        ('"3 mR/h"', "3", "instrument.scale[x1].full_scale", "3 mR/h"),
        ('"3 mR/h"', '"3 min"', "instrument.scale[x1].full_scale", "exposure rate"),
        ('"3 mR/h"', '"0 mR/h"', "instrument.scale[x1].full_scale", "more than 0"),
        ('"0.1 mR/h"', '"0.1 mrem/h"', "instrument.scale[x1].division", "coefficient|energy|factor"),
        ('"0.1 mR/h"', '"2 mR/h"', "instrument.scale[x1].division", "half of 3 mR/h"),
        ('"12 h"', '"12"', "ready.lasts", "12 h"),
        ('"12 h"', '"12 mR"', "ready.lasts", "12 h"),
        ('"12 h"', '"12 d"', "ready.lasts", "at most 24 h"),
        ('"45 degC"', '"-20 degC"', "instrument.operating.temperature", "lower of the two"),
        ('"2 min"', '"2 mins"', "step[warm-up].lasts", "min"),
        ('"2 min"', '"5 h"', "step[warm-up].lasts", "at most 4 h"),
    ],
)
def test_a_quantity_needs_a_unit_of_its_kind_within_bounds(good: str, old: str, new: str, key: str, says: str) -> None:
    """A figure without a unit, or in a unit of another kind, would be off by a factor nobody sees."""
    import re

    text = good.replace(old, new, 1)
    found = only(text)
    assert found.key == key
    assert found.line == line_of(text, new)
    assert re.search(says, str(found))


@pytest.mark.parametrize(
    ("gone", "key", "table", "example"),
    [
        ("format = 1\n", "format", None, "format = 1"),
        ('detector = "vented ion chamber"\n', "instrument.detector", "[instrument]", 'detector = "vented ion chamber"'),
        ('division = "1 mR/h"\n', "instrument.scale[x10].division", '[[instrument.scale]]\nname = "x10"', "division ="),
        ('lasts = "2 min"\n', "step[warm-up].lasts", '[[step]]\nid = "warm-up"', 'lasts = "8 s"'),
        ('kind = "rest"\n', "step[warm-up].kind", '[[step]]\nid = "warm-up"', "kind = "),
        ('[ready]\nlasts = "12 h"\nlongest_pause = "20 min"\n', "ready", None, "[ready]"),
    ],
)
def test_a_missing_key_is_told_at_the_head_of_its_table(
    good: str, gone: str, key: str, table: str | None, example: str
) -> None:
    """What is not there has no line of its own: the writer is sent to the table that lacks it, with an example."""
    text = good.replace(gone, "", 1)
    found = only(text)
    assert (found.key, found.column) == (key, 1)
    assert found.line == (1 if table is None else line_of(text, table))
    assert found.example.startswith(example)


def test_a_key_missing_in_an_inline_table_is_told_there(good: str) -> None:
    """An inline table stands inside a line: its head is its opening brace's key."""
    text = good.replace('limits = { low = "20 %", high = "20 %" }', 'limits = { low = "20 %" }')
    found = only(text)
    assert (found.key, found.line, found.column) == ("step[response].limits.high", line_of(text, "limits ="), 1)


def test_an_unknown_kind_of_step_is_refused_with_the_nearest_one(good: str) -> None:
    """A kind nobody wrote cannot be run, and the writer usually mistyped one."""
    text = good.replace('kind = "response"', 'kind = "respons"')
    found = only(text)
    assert (found.key, found.line, found.column) == ("step[response].kind", line_of(text, 'kind = "respons"'), 8)
    assert "did you mean response?" in found.message
    assert found.allowed == "look, response, rest, scan or zero"


@pytest.mark.parametrize(
    ("old", "new", "key", "column"),
    [
        ('on_fail = "desiccant"', 'on_fail = "desicant"', "step[zero].on_fail", 11),
        ('repeat_from = "battery"', 'repeat_from = "batery"', "step[battery].remedy[1].repeat_from", 17),
        ('on_pass = "sender-stands"', 'on_pass = "sender-stand"', "step[desiccant].on_pass", 11),
    ],
)
def test_a_step_that_does_not_exist_is_refused_with_the_nearest_one(
    good: str, old: str, new: str, key: str, column: int
) -> None:
    """A dangling name would be a failure with nowhere to go."""
    text = good.replace(old, new, 1)
    found = only(text)
    assert (found.key, found.line, found.column) == (key, line_of(text, new), column)
    assert "did you mean" in found.message


@pytest.mark.parametrize(
    ("old", "new", "key", "other"),
    [
        ('id = "zero"', 'id = "window"', "step[window].id", 'id = "window"'),
        ('name = "x10"', 'name = "x1"', "instrument.scale[x1].name", 'name = "x1"'),
    ],
)
def test_an_id_that_stands_twice_is_refused(good: str, old: str, new: str, key: str, other: str) -> None:
    """Two steps of one id could not be told apart in a record."""
    text = good.replace(old, new, 1)
    found = next(each for each in mistakes(text) if each.key == key)
    assert found.line == line_of(good, old)
    assert f"line {line_of(good, other)}" in found.allowed


@pytest.mark.parametrize(
    ("old", "new", "line", "column", "says"),
    [
        ('title = "Vented ion chamber, needle"', "title = Vented", 3, 9, "quotes"),
        ('title = "Vented ion chamber, needle"', 'title = "Vented', 3, 16, "quote is not closed"),
        ('title = "Vented ion chamber, needle"', "title =", 3, 8, "no value"),
        ('title = "Vented ion chamber, needle"', 'title "Vented"', 3, 7, "followed by ="),
        ('title = "Vented ion chamber, needle"', 'title = "a" "b"', 3, 13, "after the value"),
        ("[ready]", "[ready", 27, 7, "not closed"),
        ('good = [\n  "window",\n]', 'good = [ "window",', 53, 19, "not closed"),
        ('title = "Vented ion chamber, needle"', 'title = "a\\qb"', 3, 13, "backslash"),
    ],
)
def test_a_syntax_error_is_told_in_words_with_its_place(
    good: str, old: str, new: str, line: int, column: int, says: str
) -> None:
    """Writers of profiles are no programmers: the message names what is missing, not a token."""
    text = good.replace(old, new, 1)
    for found in (only(text), only(text.replace("\n", "\r\n"))):
        assert (found.line, found.column) == (line, column)
        assert says in found.message


def test_all_mistakes_of_a_file_are_told_at_once(good: str) -> None:
    """Correct, check, correct, check wears people out: syntax, doubled keys, schema and names come together."""
    text = (
        good.replace("revision = 1", "revision = one")
        .replace('detector = "vented', 'detektor = "vented')
        .replace('kind = "rest"', 'kind = "rest"\nkind = "rest"')
        .replace('"12 h"', '"12 parsec"')
        .replace('on_fail = "desiccant"', 'on_fail = "nowhere"', 1)
    )
    found = mistakes(text)
    keys = [each.key for each in found]
    assert keys == ["", "instrument.detektor", "ready.lasts", "step.kind", "step[zero].on_fail"]
    assert [each.line for each in found] == sorted(each.line for each in found)


def test_a_key_or_table_that_stands_twice_is_told_with_the_first(good: str) -> None:
    """Of two values for one key nobody can say which was meant."""
    key = only(good.replace("revision = 1", "revision = 1\nrevision = 2"))
    assert (key.line, key.column, key.key) == (5, 1, "revision")
    assert "line 4" in key.found
    table = only(good + '[ready]\nlasts = "1 h"\n')
    assert (table.line, table.key) == (good.count("\n") + 1, "ready")
    inline = only(good.replace("low =", 'low = "1 %", low =', 1))
    assert (inline.key, inline.column) == ("low", 25)


def test_columns_are_counted_in_characters(good: str) -> None:
    """Editors count characters; the grammar counts bytes."""
    text = good.replace('soak = "20 min"', 'soak = "20 µΩ"').replace('"-10 degC"', '"−10 °C"')
    found = only(text)
    assert found.column == text.splitlines()[found.line - 1].index('"20 µΩ"') + 1


def test_dotted_and_quoted_keys_have_places(good: str) -> None:
    """TOML spells one table in several ways, and each has its line."""
    text = good.replace('[ready]\nlasts = "12 h"', '[ready]\n"lasts" = "12 x"')
    assert only(text).line == line_of(text, '"lasts"')
    dotted = good.replace('limits = { low = "20 %", high = "20 %" }', 'limits.low = "20 %"\nlimits.high = "2 h"')
    found = only(dotted)
    assert (found.key, found.line, found.column) == ("step[response].limits.high", line_of(dotted, "limits.high"), 15)


def test_text_that_cannot_be_seen_is_refused(good: str) -> None:
    """An escape code in a title could rewrite the screen it is shown on; a reversed text could lie."""
    escape = only(good.replace("Vented ion chamber, needle", "Vented\\u001b[31m"))
    assert (escape.key, escape.line, escape.found) == ("title", 3, "U+001B")
    reversed_text = only(good.replace("Vented ion chamber, needle", "Ven\u202eted"))
    assert (reversed_text.line, reversed_text.column) == (3, 13)
    assert "U+202E" in reversed_text.found


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('air_density = "none"', 'air_density = "none"\ndisplay = "digital"', "instrument.display"),
        ('detector = "vented ion chamber"', 'detector = "scintillator"', "instrument.air_density"),
    ],
)
def test_settings_that_contradict_each_other_are_refused(good: str, old: str, new: str, key: str) -> None:
    """Each is allowed alone; together they would make the program compute nonsense."""
    text = good.replace('air_density = "none"', 'air_density = "correct"') if "scint" in new else good
    assert only(text.replace(old, new, 1)).key == key


def test_too_many_steps_or_remedies_are_refused(good: str) -> None:
    """Beyond these bounds the proof would keep a person waiting, so it is not begun."""
    many = good + "".join(f'[[step]]\nid = "s{n}"\nkind = "rest"\nlasts = "1 s"\n' for n in range(MOST_STEPS))
    assert f"at most {MOST_STEPS} steps" in only(many).allowed
    remedy = '  [[step.remedy]]\n  action = "fresh-cells"\n  say = "x"\n  repeat_from = "battery"\n'
    crowded = good.replace('\n[[step]]\nid = "warm-up"', remedy * MOST_REMEDIES + '\n[[step]]\nid = "warm-up"')
    assert f"at most {MOST_REMEDIES} remedies" in only(crowded).allowed


# --- the file itself


def refused(path: Path) -> ProfileError:
    with pytest.raises(ProfileErrors) as caught:
        load_profile(path)
    assert len(caught.value.errors) == 1
    return caught.value.errors[0]


def test_what_is_no_file_is_told_in_words(tmp_path: Path) -> None:
    """A wrong path is the commonest mistake of all."""
    assert "folder" in refused(tmp_path).message
    assert "no such file" in refused(tmp_path / "none.toml").message
    assert refused(Path("a\0b")).message


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="everything is readable for this user")
def test_an_unreadable_file_is_told_in_words(tmp_path: Path, good: str) -> None:
    """Permissions are something the person can put right."""
    path = tmp_path / "locked.toml"
    path.write_text(good)
    path.chmod(0)
    assert "cannot be read" in refused(path).message


@pytest.mark.parametrize(
    ("raw", "says", "place"),
    [
        (b"a = 1\nb = \xff\n", "not UTF-8", (2, 5)),
        (b"\xef\xbb\xbfformat = 1\n", "byte order mark", (1, 1)),
        ("format = 1\n".encode("utf-16"), "UTF-16", (0, 0)),
        (b"format = 1\nid = \0\n", "cannot be seen", (2, 6)),
        (b"#" * (LARGEST_FILE + 1), "too large", (0, 0)),
        (b"x = " + b"[" * 1500, "nested too deep", (0, 0)),
        (b"x = [[[[[[[[[[[[[[1]]]]]]]]]]]]]]", "nested too deep", (0, 0)),
        (b"a." * 900 + b"a = 1", "too many dots", (1, 1)),
        (b"x = '" + b"y" * 5000 + b"'", "too long", (1, 2001)),
    ],
)
def test_bytes_that_no_profile_holds_are_told_in_words(
    tmp_path: Path, raw: bytes, says: str, place: tuple[int, int]
) -> None:
    """Files come from anywhere: another editor, a broken copy, somebody's joke."""
    path = tmp_path / "odd.toml"
    path.write_bytes(raw)
    found = refused(path)
    assert says in found.message
    assert (found.line, found.column) == place


def test_line_ends_of_any_system_are_read_and_kept(tmp_path: Path, good: str) -> None:
    """TOML allows both line ends; the text is kept as it is, since an adoption is named by the hash of these bytes."""
    path = tmp_path / "demo.toml"
    raw = good.replace("\n", "\r\n").encode()
    path.write_bytes(raw)
    loaded = load_profile(path)
    assert hashlib.sha256(loaded.text.encode()).digest() == hashlib.sha256(raw).digest()
    wrong = raw.replace(b'"12 h"', b'"12 parsec"')
    path.write_bytes(wrong)
    found = refused(path)
    assert (found.line, found.column) == (line_of(good, '"12 h"'), 9)


def test_errors_read_as_lines_for_a_person(good: str) -> None:
    """The one error type of the program carries them all: file, line, column, key, what, allowed, example."""
    with pytest.raises(ProfileErrors) as caught:
        read_profile(good.replace('"12 h"', '"12 d"'), "demo.toml")
    expected = (
        'demo.toml:28:9: ready.lasts: 12 d is outside what is allowed\n    found: "12 d"\n'
        '    allowed: at least 1 min and at most 24 h\n    example: lasts = "12 h"'
    )
    assert str(caught.value) == expected


# --- whatever the bytes


def _errors(path: Path) -> tuple[ProfileError, ...]:
    try:
        load_profile(path)
    except ProfileErrors as refusal:
        return refusal.errors
    return ()


def _read_or_refuse(raw: bytes, path: Path) -> None:
    path.write_bytes(raw)
    lines = raw.count(b"\n") + 1
    for error in _errors(path):
        assert error.message
        assert 0 <= error.line <= lines
        assert str(error)


@settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(raw=st.one_of(st.binary(max_size=300), st.text(max_size=300).map(lambda text: text.encode(errors="replace"))))
def test_whatever_the_bytes_are_the_answer_is_in_words(tmp_path: Path, raw: bytes) -> None:
    """Never a traceback for something a person put into a file."""
    _read_or_refuse(raw, tmp_path / "any.toml")


_MARKS = ["[", "]", "[[", "]]", "{", "}", "=", ".", ",", '"', "'", '"""', "\n", "#", " ", "\\", "\\u0000", "\r"]
_WORDS = ["step", "id", "kind", "instrument", "scale", "remedy", "look", "é", "1", "-1e999", "nan", "true", '"x"']
_TOML_PIECES = st.sampled_from([*_MARKS, *_WORDS, "1979-05-27"])


@settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(pieces=st.lists(_TOML_PIECES, max_size=60))
def test_whatever_the_syntax_is_the_answer_is_in_words(tmp_path: Path, pieces: list[str]) -> None:
    """Nearly right TOML goes deeper into the reader than noise does."""
    _read_or_refuse("".join(pieces).encode(), tmp_path / "any.toml")


@settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_whatever_is_changed_in_a_good_profile_the_answer_is_in_words(
    tmp_path: Path, good: str, data: st.DataObject
) -> None:
    """A good profile with a slip is what people really write: values of another type, lines lost or doubled."""
    lines = good.split("\n")
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(0, len(lines) - 1))
        key = lines[place].partition("=")[0]
        values = ["= 1", "= nan", '= ""', "= []", "= {}", '= ["a", 1]', "= 1979-05-27", "= '1 h'", "", "= {a.b=1}"]
        kinds = st.sampled_from([*(key + value for value in values), "", lines[place] * 2, "[[step.remedy]]", "[step]"])
        lines[place] = data.draw(kinds)
    _read_or_refuse("\n".join(lines).encode(), tmp_path / "any.toml")
