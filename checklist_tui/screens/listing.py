"""The one listing: one field that searches and takes labels, a page of rows, what can be done, how it is narrowed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.content import Content
from textual.timer import Timer
from textual.widgets import Static

from checklist_tui.actions import bindings_for
from checklist_tui.screens.page import PageScreen, head
from checklist_tui.widgets.field import Field
from checklist_tui.widgets.grid import add_grid
from checklist_tui.widgets.press import Press
from checklist_tui.widgets.reader import Page, PageMaker, Reader
from procedures.sheets import Deed, Listing, Query, Row
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from checklist_tui.app import ChecklistApp

SEARCH_PAUSE = 0.2
"""Seconds after the last key before it is searched: a scanner's characters come faster."""
_HEADINGS = 1
_DEEDS = "deeds"


class ListingScreen(PageScreen):
    """Draws any listing; knows no subject. It never holds more rows than it shows."""

    place = "listing"
    help_text = (
        "Type to search; scan a label to open what carries it. Up and Down mark a row, Enter opens it, Page Up and "
        "Page Down turn the page."
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings_for("listing"),
        Binding("up", "mark(-1)", "Row above", show=False),
        Binding("down", "mark(1)", "Row below", show=False),
        Binding("pageup", "page(-1)", "Page above", show=False),
        Binding("pagedown", "page(1)", "Page below", show=False),
    ]

    def __init__(self, deed: Deed) -> None:
        super().__init__(deed)
        self._listing = Listing(deed.name, deed.say, (), (), 0)
        self._lines = 1
        self._search = ""
        self._offset = 0
        self._filters: dict[str, str] = {}
        self._pause: Timer | None = None
        self._chosen = False
        """Whether a row was marked by hand among those that fit what is typed: Enter then opens it."""
        self._reader = Reader(self._make, help_text=self.help_text)
        self._reader.can_focus = False
        self._reader.add_class("listed")

    def content(self) -> ComposeResult:
        yield Static(classes="page-head", markup=False)
        yield Field("type to search, or scan a label", help_text=self.help_text)
        yield Static(classes="only", markup=False)
        yield Press("", _DEEDS, help_text="What can be done here. F4 does the same.", classes="wide")
        yield self._reader
        with Horizontal(classes="pages"):
            yield Press("◂ Page Up", "-1", help_text="The page above. Page Up does the same.")
            yield Static(classes="where", markup=False)
            yield Press("Page Down ▸", "1", help_text="The page below. Page Down does the same.")

    def on_mount(self) -> None:
        self.show()
        self.query_one(Field).focus()

    # -- reading

    def query_asked(self) -> Query:
        return Query(self._search, dict(self._filters), max(1, self._lines), self._offset)

    def deeds(self) -> Sequence[Deed]:
        return self._listing.deeds

    def read(self, main: ChecklistApp) -> None:
        deed = self.deed
        self._listing = main.use_cases.listing(deed.name, deed.about, self.looks(main), self.query_asked())
        if self._offset and not self._listing.rows:
            self._offset = 0  # what stood on this page is no longer there
            self.read(main)

    def show(self) -> None:
        listing = self._listing
        said = head(listing.title, listing.line, self.main.person, self.size.width - 2)
        self.query_one(".page-head", Static).update(said)
        only = self.query_one(".only", Static)
        by = [f"{each.say}: {self._filter_words(each.id)}" for each in listing.filters if self._filters.get(each.id)]
        only.update(Content(f"only {', '.join(by)}  (F7)"))
        only.display = bool(by)
        deeds = self.query(Press).filter(".wide").first(Press)
        deeds.display = bool(listing.deeds)
        deeds.relabel(f"What can be done (F4): {', '.join(each.say for each in listing.deeds)}")
        pages = self.query_one(".pages")
        pages.display = self._offset > 0 or listing.total > self._lines + pages.outer_size.height * pages.display
        upto = self._offset + len(listing.rows)
        self.query_one(".where", Static).update(f" {min(self._offset + 1, upto)} to {upto} of {listing.total} ")
        self._reader.show()

    def _filter_words(self, name: str) -> str:
        value = self._filters[name]
        options = next(each.options for each in self._listing.filters if each.id == name)
        return next((each.say for each in options if each.value == value), value)

    def _make(self, width: int) -> Page:
        page = PageMaker(width)
        add_grid(page, self._listing.columns, self._listing.rows, self._listing.empty)
        return page.page()

    def on_reader_roomy(self, event: Reader.Roomy) -> None:
        event.stop()
        lines = max(1, event.lines - _HEADINGS)
        if lines != self._lines:
            self._lines = lines
            self._offset -= self._offset % lines
            self.reload()

    # -- the field

    def on_field_edited(self, event: Field.Edited) -> None:
        event.stop()
        if event.text:
            self.trouble(None)
        if self._pause is not None:
            self._pause.stop()
        self._pause = self.set_timer(SEARCH_PAUSE, self._search_now)

    def _search_now(self) -> None:
        text = self.query_one(Field).value.strip()
        if text != self._search:
            self._search, self._offset, self._chosen = text, 0, False
            self.reload()

    def on_field_sent(self, event: Field.Sent) -> None:
        event.stop()
        if not event.text or (self._chosen and event.text == self._search):
            self._reader.action_open()
            return
        self.take_scan(event.text)

    def take_scan(self, text: str) -> None:
        """A label: opens what carries it, when that is the only one here."""
        self._search, self._offset, self._chosen = text, 0, False
        self.reload()
        hit = self._only_hit(text)
        if hit is not None and hit.opens is not None:
            self.query_one(Field).reset()
            self._search = ""
            self.main.go(hit.opens)
        elif not self._listing.rows:
            # The next label takes the place of this one.
            self.query_one(Field).select_all()
            self.trouble(Trouble(self._listing.empty, do="Look at the label again, or empty the field to see all."))

    def _only_hit(self, text: str) -> Row | None:
        rows = self._listing.rows
        if self._listing.total == 1 and rows:
            return rows[0]
        named = [each for each in rows if any(cell.casefold() == text.casefold() for cell in each.cells[:1])]
        return named[0] if len(named) == 1 else None

    # -- the rows

    def pressed(self, value: str) -> None:
        if value == _DEEDS:
            self.action_deeds()
        else:
            self.action_page(int(value))

    def action_mark(self, step: int) -> None:
        self._chosen = True
        if not self._reader.step(step):
            self.action_page(step)

    def action_page(self, step: int) -> None:
        to = max(0, self._offset + step * self._lines)
        if to < self._listing.total and to != self._offset:
            self._offset = to
            self.reload()
            self._reader.mark_end(last=step < 0)

    def action_narrow(self) -> None:
        if not self._listing.filters:
            self.trouble(Trouble("This list cannot be narrowed.", do="Type into the field to search it."))
            return

        def chosen(filters: dict[str, str] | None) -> None:
            if filters is not None:
                self._filters, self._offset = filters, 0
                self.reload()

        self.open("narrow:NarrowScreen", self._listing.filters, self._filters, then=chosen)
