"""Sheets, listings and forms in line mode: what is told, what a number opens, and that nothing is kept by accident."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from checklist_tui.line_form import FormTalk
from checklist_tui.line_input import End, Line
from checklist_tui.line_pages import Pages
from checklist_tui.line_talk import InputEnded, Quit, Talk
from procedures.asks import Option
from procedures.clock import ManualClock
from procedures.sheets import (
    Column,
    Deed,
    Done,
    Filter,
    Form,
    FormField,
    Grid,
    Lines,
    Listing,
    Look,
    Pairs,
    Plot,
    PlotDot,
    PlotLine,
    PlotMark,
    Query,
    Row,
    Sheet,
)
from procedures.site.views import PersonView
from procedures.trouble import Trouble

NOW = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)
SOMEBODY = PersonView("p" * 64, "B-1", "Somebody", "SB", ("lead",))
EDIT = Deed("change it", "form", "edit", "i1")


class Typist:
    """Types the lines given, one for each question, and then the input ends."""

    piped = True

    def __init__(self, *lines: str) -> None:
        self.lines = list(lines)
        self.hides = 0

    def next(self, _seconds: float) -> Line | End | None:
        return Line(self.lines.pop(0)) if self.lines else End()

    def rest(self, _seconds: float) -> End | None:
        return None

    def drop(self) -> int:
        return 0

    @contextmanager
    def hidden(self) -> Iterator[None]:
        self.hides += 1
        yield


class Cases:
    """Three pages and a form of invented things."""

    folder = Path("site")
    clock = ManualClock(NOW)

    class desk:  # noqa: N801
        @staticmethod
        def open_checkouts() -> tuple[()]:
            return ()

    def __init__(self) -> None:
        self.kept: list[Mapping[str, str]] = []
        self.refuse: list[Trouble] = []
        self.asked: list[Query] = []
        self.fields: tuple[FormField, ...] = (
            FormField("label", "label", "scan", value="C-1"),
            FormField("kind", "kind", "choice", options=(Option("a", "first sort"), Option("b", "second sort"))),
            FormField("remark", "remark", needed=False),
        )

    def sheet(self, name: str, about: str, _person: str) -> Sheet:
        if name != "thing":
            raise Trouble("there is no such sheet")
        plot = Plot(
            "ratio over time",
            "",
            (PlotDot(NOW, 0.98), PlotDot(NOW, 1.31, "x", "above the limit")),
            (PlotLine(1.2, "allowed, high"),),
            (PlotMark(NOW, "calibrated"),),
            ("no trend",),
        )
        return Sheet(
            name,
            f"Thing {about}",
            (
                Pairs((("serial", "77"),), "its set"),
                Lines(("It is out of service.",), tone="bad"),
                Grid((Column("scale"), Column("found")), (Row(("x1", "1.6"), opens=EDIT),), "readings"),
                Grid((Column("none"),), (), "nothing"),
                plot,
            ),
            about,
            deeds=(EDIT, Deed("clear it", "form", "clear", may_not="only a site lead may clear a lockout")),
        )

    def listing(self, name: str, _about: str, _person: str, query: Query) -> Listing:
        self.asked.append(query)
        rows = [f"L-{n}" for n in range(45) if query.search in f"L-{n}"]
        shown = rows[query.offset : query.offset + query.limit]
        return Listing(
            name,
            "All things",
            (Column("label"), Column("state")),
            tuple(Row((label, "ready"), Deed(label, "sheet", "thing", label)) for label in shown),
            len(rows),
            query.offset,
            filters=(Filter("state", "state", (Option("ok", "ready"),)),),
        )

    def form(self, name: str, about: str, _person: str, _entered: Mapping[str, str], page: int) -> Form:
        pages = 1 if len(self.fields) < 4 else 2
        fields = self.fields[(page - 1) * 3 : page * 3] if pages > 1 else self.fields
        return Form(name, "Change it", "Fill this in.", fields, about, caution="Mind it.", page=page, pages=pages)

    def look(self, _name: str, _about: str, _person: str, entered: Mapping[str, str]) -> Look:
        wrong = {k: Trouble("no such label", do="Scan it.") for k, v in entered.items() if v == "wrong"}
        return Look((f"It will be called {entered.get('label')}.",), wrong)

    def keep(self, _name: str, _about: str, _person: str, entered: Mapping[str, str]) -> Done:
        if self.refuse:
            raise self.refuse.pop()
        self.kept.append(dict(entered))
        return Done("It is kept.", "Go on.")

    def write_report(self, kind: str, deed: Deed, _query: Query, _person: str) -> Path:
        return Path(f"{deed.name}.{kind}")


def _talk(cases: Cases, *lines: str) -> tuple[Talk, Typist, list[str]]:
    told: list[str] = []
    typist = Typist(*lines)
    clock: Any = cases
    return Talk(clock, typist, told.append), typist, told


def _walk(cases: Cases, deed: Deed, *lines: str) -> str:
    talk, _, told = _talk(cases, *lines)
    with suppress(InputEnded):
        Pages(talk, lambda: SOMEBODY, lambda _: None).open(deed)
    return "".join(told)


def _fill(cases: Cases, *lines: str) -> tuple[Done | None, str, Typist]:
    talk, typist, told = _talk(cases, *lines)
    return FormTalk(talk, "edit", "i1", SOMEBODY.id).run(), "".join(told), typist


def test_a_sheet_is_told_whole_and_in_words() -> None:
    """Every value of every section is said, what cannot be done with its reason, and a plot without a picture."""
    said = _walk(Cases(), Deed("", "sheet", "thing", "i1"))
    for words in (
        "Thing i1",
        "serial: 77",
        "!! It is out of service.",
        "1. x1; found 1.6",
        "none",
        "2 values",
        "highest 1.31",
        "allowed, high: 1.2",
        "calibrated",
        "above the limit",
        "no trend",
        "2. change it",
        "clear it: not now: only a site lead may clear a lockout",
    ):
        assert words in said


def test_a_listing_is_told_page_by_page_and_its_numbers_stay() -> None:
    """Number 21 of the second page opens what was told under 21."""
    said = _walk(Cases(), Deed("", "listing", "things"), "more", "21", "back", "back")
    assert "20 of 45" in said
    assert "21. L-20; state ready" in said
    assert "Thing L-20" in said


def test_a_listing_is_narrowed_by_words_and_filters() -> None:
    """Searching and filtering ask the records again from the first row; a filter that is none says which there are."""
    cases = Cases()
    said = _walk(cases, Deed("", "listing", "things"), "find 44", "only state = ready", "only colour = red")
    assert cases.asked[1].search == "44"
    assert any(query.filters == {"state": "ok"} and query.search == "44" for query in cases.asked)
    assert "cannot be narrowed by “colour”" in said


def test_what_opens_nothing_is_said_and_nobody_falls_out() -> None:
    """A sheet that is not there, a number that was not told: trouble in words, and the page stays."""
    said = _walk(Cases(), Deed("", "sheet", "thing", "i1"), "99", "more", "find x", "print pdf", "print csv")
    assert said.count("Not taken") == 3
    assert "There is no more." in said
    assert "Written: thing.csv" in said


class Shifting(Cases):
    """Whose sheet has one thing less to do once something was kept."""

    def sheet(self, name: str, about: str, _person: str) -> Sheet:
        first = Deed("clear it", "form", "clear", about)
        rest = (Deed("hand it out", "form", "hand-out", about), Deed("give it away", "form", "give", about))
        return Sheet(name, "Thing", (), about, deeds=rest if self.kept else (first, *rest))


@pytest.mark.parametrize(("answer", "opened"), [("no", 1), ("yes", 2)])
def test_a_number_that_means_another_thing_by_now_is_asked_by_name(answer: str, opened: int) -> None:
    """2 was handing out and has become giving away: whoever remembers the old list must not open the other form."""
    cases = Shifting()
    said = _walk(cases, Deed("", "sheet", "thing", "i1"), "1", "", "1", "", "yes", "2", answer, "", "1", "", "yes")
    assert "2 is now “give it away”" in said
    assert len(cases.kept) == opened
    again = Shifting()
    _walk(again, Deed("", "sheet", "thing", "i1"), "1", "", "1", "", "yes", "again", "2", "", "1", "", "yes")
    assert len(again.kept) == 2, "heard once more, the numbers hold"


def test_that_it_is_recorded_is_said_last() -> None:
    """Below the page that is told anew, where whoever said yes looks for it."""
    said = _walk(Cases(), Deed("", "sheet", "thing", "i1"), "1", "", "2", "", "yes")
    assert said.rindex("Recorded. It is kept.\nGo on.") > said.rindex("Thing i1")


def test_the_program_is_left_from_a_page() -> None:
    """Quit means quit wherever a question is asked that is no field."""
    with pytest.raises(Quit):
        _walk(Cases(), Deed("", "sheet", "thing", "i1"), "quit")


def test_a_field_that_only_shows_is_told_in_words() -> None:
    """The one lockout there is must be named by its reason, not by the name of its record."""
    cases = Cases()
    lockout = FormField("of", "lockout", "choice", "c0ffee" * 10, options=(Option("c0ffee" * 10, "torn"),), fixed=True)
    cases.fields = (lockout,)
    _, said, _ = _fill(cases, "yes")
    assert "lockout: torn" in said
    assert "c0ffee" not in said
    assert cases.kept == [{"of": "c0ffee" * 10}]


def test_a_form_is_kept_once_everything_was_said() -> None:
    """Enter leaves what stands in a field, a number chooses, an empty optional field stays empty."""
    cases = Cases()
    done, said, _ = _fill(cases, "", "2", "", "yes")
    assert done is not None
    assert cases.kept == [{"label": "C-1", "kind": "b", "remark": ""}]
    assert "Caution: Mind it." in said
    assert "It will be called C-1." in said


@pytest.mark.parametrize("lines", [("stop",), ("", "1", "stop"), ("", "1", "", "stop")])
def test_a_form_that_is_left_keeps_nothing(lines: tuple[str, ...]) -> None:
    """Wherever in a form somebody stops, nothing is recorded."""
    cases = Cases()
    done, said, _ = _fill(cases, *lines)
    assert done is None
    assert not cases.kept
    assert "Nothing was kept" in said


def test_an_input_that_ends_keeps_nothing() -> None:
    """A closed terminal is no yes."""
    cases = Cases()
    with pytest.raises(InputEnded):
        _fill(cases, "", "1", "")
    assert not cases.kept


def test_a_field_that_is_wrong_is_asked_again() -> None:
    """What is wrong is said at its field; a choice that is none and a needed field left empty are asked again too."""
    cases = Cases()
    done, said, _ = _fill(cases, "wrong", "C-2", "7", "", "first sort", "-", "no", "", "", "", "yes")
    assert done is not None
    assert cases.kept == [{"label": "C-2", "kind": "a", "remark": ""}]
    assert "no such label" in said


def test_a_refusal_loses_nothing_that_was_typed() -> None:
    """What `keep` refuses is said; everything typed stands for Enter, except the PIN, which is typed anew."""
    cases = Cases()
    cases.fields = (*cases.fields[:1], FormField("pin", "your PIN", "secret"))
    cases.refuse = [Trouble("that is not the PIN")]
    done, said, typist = _fill(cases, "C-9", "1111", "yes", "", "2222", "yes")
    assert done is not None
    assert cases.kept == [{"label": "C-9", "pin": "2222"}]
    assert typist.hides == 2
    assert "that is not the PIN" in said


def test_readings_are_never_taken_back() -> None:
    """A rejected reading stays in the record with its reason; without a reason none is rejected."""
    cases = Cases()
    cases.fields = (FormField("readings", "the readings", "readings", wanted=2),)
    done, said, _ = _fill(cases, "1.6", "reject", "9.9", "reject knocked", "undo", "", "yes")
    assert done is not None
    assert cases.kept[0]["readings"].splitlines()[:2] == ["1.6", "9.9 ! knocked"]
    assert "Reading 2 of 2" in said


def test_a_reading_that_can_be_none_is_asked_again_at_once() -> None:
    """Each is read when it is typed: what it comes to is said, and what is beyond the scale is not taken."""

    def reads(text: str) -> str:
        if float(text) > 3:
            raise Trouble("that is beyond the scale", allowed="0 to 3")
        return f"{text} mR/h"

    cases = Cases()
    cases.fields = (FormField("readings", "readings", "readings", wanted=2, reads=reads),)
    _, said, _ = _fill(cases, "1.6", "9.9", "1.7", "", "yes")
    assert "That is 1.6 mR/h." in said
    assert "Not taken: that is beyond the scale" in said.replace("That", "that")
    assert cases.kept == [{"readings": "1.6\n1.7"}]


def test_rows_may_be_taken_back_before_they_are_kept() -> None:
    """A row typed wrongly is undone; nothing of it was recorded yet."""
    cases = Cases()
    cases.fields = (FormField("rows", "points", "rows", columns=("scale", "value")),)
    done, said, _ = _fill(cases, "x1 | 1", "undo", "x1 | 2", "", "yes")
    assert done is not None
    assert cases.kept == [{"rows": "x1 | 2"}]
    assert "Each: scale | value" in said


def test_pages_of_a_form_follow_each_other() -> None:
    """The second page is asked after the first, and all of it is kept together."""
    cases = Cases()
    cases.fields = (*cases.fields, FormField("last", "last one", fixed=True, value="stands"))
    done, said, _ = _fill(cases, "", "1", "", "yes")
    assert done is not None
    assert cases.kept[0]["last"] == "stands"
    assert "page 2 of 2" in said
