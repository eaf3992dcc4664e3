"""A fault of the program itself: a file for whoever mends it, one short message for the person."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from fake_site import FakeSite

from checklist_tui.app import ChecklistApp
from checklist_tui.crash import EXIT_CODE, crash_words, write_crash

NOW = datetime(2026, 3, 12, tzinfo=UTC)


def fault() -> Exception:
    """An exception that has been through a frame with somebody's name in it."""
    name = "Ada Lane"
    try:
        raise ZeroDivisionError(len(name) // 8)
    except ZeroDivisionError as error:
        return error


def test_crash_file_holds_no_local_variables(tmp_path: Path) -> None:
    """Local variables hold people's names and serial numbers; the traceback has lines of code only."""
    path = write_crash(tmp_path, fault(), NOW)
    assert path is not None
    told = path.read_text(encoding="utf-8")
    assert "ZeroDivisionError" in told
    assert "name = 'Ada Lane'" not in told
    assert str(path) in crash_words(path)


def test_no_place_to_write_is_no_second_crash(tmp_path: Path) -> None:
    """A full or read-only disk must not hide the first fault behind another."""
    (tmp_path / "crash").write_text("in the way", encoding="utf-8")
    assert write_crash(tmp_path, fault(), NOW) is None
    assert "could not be written" in crash_words(None)


async def test_unhandled_fault_ends_with_70(fake_site: Any) -> None:
    """The app ends, says where the file is, and hands back EX_SOFTWARE."""

    def broken(**_given: Any) -> Any:
        raise ZeroDivisionError

    app = ChecklistApp(fake_site)

    async def till_it_breaks() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.pause()
            fake_site.home = broken
            app.call_later(app.screen.reload)  # type: ignore[attr-defined]
            await pilot.pause()

    with pytest.raises(ZeroDivisionError):
        await till_it_breaks()
    assert app.return_code == EXIT_CODE
    assert len(list((fake_site.folder / "crash").iterdir())) == 1


async def test_a_folder_named_like_markup_hides_no_fault(tmp_path: Path) -> None:
    """What is printed on leaving would be read as markup, and "[/]" in the folder it names ends in a traceback."""
    site = FakeSite(tmp_path / "re[/]cords")
    app = ChecklistApp(site)
    async with app.run_test(size=(80, 24)):
        app._handle_exception(fault())
        app._exception = None
    assert "re[/]cords" in app.last_words
    assert app._exit_renderables == []


@pytest.mark.parametrize("begun", [False, True], ids=["none open", "one open"])
async def test_two_lines_say_what_is_kept_and_where_the_report_is(fake_site: Any, tmp_path: Path, begun: bool) -> None:
    """Nothing of a checkout where none was open; and a report not where the records are gone in a moment."""
    app = ChecklistApp(fake_site, reports=tmp_path / "elsewhere")
    async with app.run_test(size=(80, 24)) as pilot:
        app.person = fake_site.people["p1"]
        if begun:
            app.begin_checkout("i1")
            await pilot.pause()
        app._handle_exception(fault())
        app._exception = None
    kept, where = app.last_words.splitlines()
    assert len(kept) < 80
    assert ("checkout" in kept) == begun
    assert [str(each) for each in (tmp_path / "elsewhere" / "crash").iterdir()] == [where.partition(": ")[2]]
