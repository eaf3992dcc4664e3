"""Tables and paragraphs as lines: whatever stands in the cells, no line is wider than it may be, and none is lost."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from checklist_tui import tables
from checklist_tui.widgets.entries import flowed
from procedures.sheets import Column, Row

TEXTS = st.text(st.characters(codec="utf-8", categories=["L", "N", "P", "Z", "Cc", "So"]), max_size=40)
WORDS = st.lists(st.text("abcxyz0123456789", min_size=1, max_size=30), min_size=1, max_size=12)
COLUMNS = st.lists(
    st.builds(Column, TEXTS, figures=st.booleans(), gives_way=st.integers(0, 3), least=st.integers(1, 12)),
    min_size=1,
    max_size=6,
)


@given(COLUMNS, st.lists(st.lists(TEXTS, max_size=7), max_size=5), st.integers(1, 130))
def test_no_line_of_a_table_is_wider_than_the_table(columns: list[Column], cells: list[list[str]], width: int) -> None:
    """Wide characters, line breaks, cells too many or too few: none of them shifts the screen."""
    rows = [Row(tuple(each)) for each in cells]
    fitted = tables.fit(columns, rows, width)
    lines = [tables.heading(columns, fitted, width), *(tables.line(each, fitted, width) for each in rows)]
    assert all(cell_len(each) <= width for each in lines)
    assert all(len(each.splitlines()) <= 1 for each in lines)


@given(COLUMNS, st.lists(st.text("abc xyz", max_size=40), min_size=6, max_size=6), st.integers(1, 130))
def test_a_tall_row_is_read_whole(columns: list[Column], cells: list[str], width: int) -> None:
    """What a setting does must not end in the middle of its sentence: every word of a column that stays is there."""
    row = Row(tuple(cells))
    fitted = tables.fit(columns, [row], width)
    lines = tables.tall(row, fitted, width)
    assert all(cell_len(each) <= width for each in lines)
    if sum(each.width for each in fitted) + tables.GAP * (len(fitted) - 1) <= width:
        wanted = "".join(sorted("".join(cells[each.at] for each in fitted).replace(" ", "")))
        assert "".join(sorted("".join(lines).replace(" ", ""))) == wanted


@given(COLUMNS, st.integers(1, 130))
def test_columns_give_way_in_their_order(columns: list[Column], width: int) -> None:
    """A column that always stands does; one that went gives way at least as readily as any that stayed."""
    staying = {each.at for each in tables.fit(columns, [], width)}
    gone = [columns[at].gives_way for at in range(len(columns)) if at not in staying]
    assert staying
    assert all(each > 0 for each in gone)
    assert not gone or min(gone) >= max((columns[at].gives_way for at in staying if columns[at].gives_way), default=0)


def test_figures_are_set_to_the_right_and_not_shortened() -> None:
    """A figure without its last digits is another figure; the words beside it give way instead."""
    columns = (Column("label", least=4), Column("type", gives_way=1), Column("activity, MBq", figures=True))
    rows = [
        Row(("S-1", "disc source, screw-in type", "3.70")),
        Row(("S-2", "disc source, screw-in type", "1234567.25")),
    ]
    for width in (60, 34, 20):
        fitted = tables.fit(columns, rows, width)
        lines = [tables.line(each, fitted, width) for each in rows]
        assert [each.split()[-1] for each in lines] == ["3.70", "1234567.25"]
        assert len(lines[0]) == len(lines[1])
    assert len(tables.fit(columns, rows, 20)) == 2
    assert "disc source, …" in tables.line(rows[0], tables.fit(columns, rows, 36), 36)


@given(WORDS, st.integers(1, 60), st.integers(0, 8))
def test_a_paragraph_loses_nothing(words: list[str], width: int, hang: int) -> None:
    """Broken at blanks where it can be, inside a word where it must be."""
    lines = tables.wrapped(" ".join(words), width, hang=hang)
    assert all(cell_len(each) <= max(1, width) for each in lines)
    assert "".join("".join(lines).split()) == "".join(words)


@given(TEXTS, st.integers(0, 30))
def test_cutting_says_that_something_was_cut(text: str, width: int) -> None:
    """Nobody takes half a label for a whole one."""
    short = tables.cut(text, width)
    assert cell_len(short) <= width
    assert short == tables.one_line(text) or short.endswith("…") or width == 0


@given(st.lists(st.text("abc xyz", min_size=1, max_size=20), max_size=12), st.integers(1, 60))
def test_options_stand_side_by_side_and_apart(options: list[str], width: int) -> None:
    """A tap on a line means one option, and no option stands outside."""
    lines = flowed(options, width)
    indexes = [each.index for line in lines for each in line]
    assert list(dict.fromkeys(indexes)) == list(range(len(options)))
    assert indexes == sorted(indexes)
    said = ["".join(each.words for line in lines for each in line if each.index == at) for at in range(len(options))]
    assert ["".join(each.split()) for each in said] == ["".join(each.split()) for each in options], "all can be read"
    for line in lines:
        taken = [cell for each in line for cell in range(each.first, each.first + cell_len(each.words))]
        assert len(taken) == len(set(taken))
        assert all(0 <= cell < width for cell in taken)
