"""Home: the site's instruments, what is due, what is open and waits, which sources are out, one field for all."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.content import Content
from textual.timer import Timer
from textual.widgets import Static

from checklist_tui.actions import bindings_for
from checklist_tui.screens.base import BaseScreen
from checklist_tui.screens.matters import source_out
from checklist_tui.typing_in import FAST
from checklist_tui.widgets.checkout_list import CheckoutList
from checklist_tui.widgets.field import Field
from checklist_tui.widgets.instrument_list import NO_HIT, NONE_YET, InstrumentList
from checklist_tui.widgets.press import Press
from checklist_tui.words import clock_time, plural, shorten
from procedures.site.views import Found, Home, InstrumentRow
from procedures.trouble import Trouble

SEARCH_PAUSE = 0.2
"""Seconds after the last key before the list is searched: a scanner's characters come faster."""
RELOAD = 15.0
"""Seconds. Readiness ends with the clock, so the list is read anew while nobody types."""
_MOST_CHECKOUTS = 4


class HomeScreen(BaseScreen[None]):
    """The first screen. The field has the focus: scan an instrument, a badge or a source, or type to search."""

    place = "home"
    help_text = (
        "Scan or type: an instrument's label opens it, your badge or initials say who you are, a check source's "
        "label brings it back to its store. Typing searches the list. Up, Down and Enter open a line of it."
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings_for("home"),
        Binding("up", "mark(-1)", "Line above", show=False),
        Binding("down", "mark(1)", "Line below", show=False),
        Binding("pageup", "page(-1)", "Page above", show=False),
        Binding("pagedown", "page(1)", "Page below", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._home: Home | None = None
        self._lines = 0
        self._offset = 0
        self._search = ""
        self._pause: Timer | None = None
        self._read = 0.0
        self._edited = 0.0
        self._text = self._before = self._refused = ""
        """What stands in the field, what stood before the last burst of keys, what was sent and fitted no one thing."""
        self._chosen = False
        """Whether a line was marked by hand among those that fit what is typed: Enter then opens it."""

    def content(self) -> ComposeResult:
        yield Static(id="site", markup=False)
        yield Field("scan or type a label, a name, your badge", help_text=self.help_text)
        yield CheckoutList(_MOST_CHECKOUTS)
        yield Static(id="matters", markup=False)
        yield InstrumentList()
        with Horizontal(id="pages"):
            yield Press("◂ Page Up", "-1", help_text="The page above. Page Up does the same.")
            yield Static(id="where", markup=False)
            yield Press("Page Down ▸", "1", help_text="The page below. Page Down does the same.")

    def on_mount(self) -> None:
        self.query_one(Field).focus()

    # -- reading

    def reload(self) -> None:
        """Reads the site anew: one page of it."""
        if not self._lines:
            return  # how many fit is known once the list has been laid out; it asks then
        try:
            self._home = self.main.use_cases.home(search=self._search, limit=self._lines, offset=self._offset)
        except Trouble as trouble:
            self.trouble(trouble)
            return
        self._read = self.now()
        if self._offset and not self._home.instruments:
            self._offset = 0  # what stood on this page is no longer there
            self.reload()
            return
        self._show()

    def _show(self) -> None:
        home = self._home
        if home is None:
            return
        listed = self.query_one(InstrumentList)
        listed.empty = NO_HIT if self._search else NONE_YET
        listed.show(home.instruments, home.now)
        self.query_one(CheckoutList).show(self.main.live(home.checkouts))
        person = self.main.person
        who = f"{person.name} ({person.initials})" if person else "nobody yet: scan your badge"
        room = max(12, self.size.width - len(who) - 12)
        site = Content.styled(f" {shorten(home.site, room)}", "bold")
        self.query_one("#site", Static).update(
            Content("  ").join([site, Content(clock_time(home.now)), Content.styled(who, "bold $accent")])
        )
        more = len(home.checkouts) - _MOST_CHECKOUTS
        matters = [Content(f" … and {plural(more, 'checkout')} more (F5)")] if more > 0 else []
        matters += self._matters(home)
        self.query_one("#matters", Static).update(Content("\n").join(matters))
        self.query_one("#matters").display = bool(matters)
        # The row that turns pages takes lines of the list: it stays away where all fits without it.
        pages = self.query_one("#pages")
        pages.display = self._offset > 0 or home.total > self._lines + pages.outer_size.height * pages.display
        upto = self._offset + len(home.instruments)
        first = min(self._offset + 1, upto)
        self.query_one("#where", Static).update(f" {first} to {upto} of {home.total} ")

    def _matters(self, home: Home) -> list[Content]:
        """Sources out, what waits, what is due, notices: one line each, cut where it is narrow. F4 has them whole."""
        lines: list[Content] = []
        if home.sources_out:
            out = ", ".join(source_out(each) for each in home.sources_out)
            lines.append(Content.styled(f" ! {plural(len(home.sources_out), 'source')} out: {out}", "$warning"))
        lines += [Content.styled(f" ! {each} (F3)", "$warning") for each in home.waiting]
        if home.due:
            lines.append(Content.styled(f" ! due (F4): {'; '.join(home.due)}", "$warning"))
        lines += [Content.styled(f" ! {each}", "bold $error") for each in home.notices]
        return lines

    def on_tick(self) -> None:
        if self._home is None:
            return
        if self.now() - max(self._read, self._edited) >= RELOAD:
            self.reload()
        else:
            self.query_one(CheckoutList).show(self.main.live(self._home.checkouts))

    # -- the field

    def on_field_edited(self, event: Field.Edited) -> None:
        event.stop()
        now = self.now()
        if now - self._edited >= FAST:
            self._before = self._text
        self._text, self._edited = event.text, now
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
            self.action_open_marked()
            return
        self.take_scan(self._scanned_behind(event.text))

    def _scanned_behind(self, text: str) -> str:
        """The label alone, where a whole one was scanned behind words that fitted several things or nothing.

        Nobody types it all within the time of one key; who types on by hand means the longer word.
        """
        refused, self._refused = self._refused, ""
        more = text.removeprefix(refused)
        scanned = bool(refused) and self._before == refused and self.now() - self._edited < FAST
        return more if scanned and more != text and len(more) > 1 else text

    def take_scan(self, text: str) -> None:
        """A label, a name or a badge: the site says what it is."""
        try:
            found = self.main.use_cases.find(text)
        except Trouble as trouble:
            self.trouble(trouble)
            return
        self._act_on(found, text)

    def _act_on(self, found: Found, text: str) -> None:
        self.trouble(None)
        if found.kind == "nothing" and self._set_person(text, silently=True):
            self._empty()
            return
        if found.kind in ("several", "nothing"):
            do = (
                "Type on, or choose with Up, Down and Enter."
                if found.kind == "several"
                else "Look at the label again, or empty the field to see all."
            )
            self._search_now()
            self._refused = text
            if found.kind == "nothing":
                # The next label takes the place of this one, which fits nothing.
                self.query_one(Field).select_all()
            self.trouble(Trouble(found.say or f"Nothing here is called “{text}”.", do=do))
            return
        self._empty()
        if found.kind == "instrument":
            self._open_found(found)
        elif found.kind == "person":
            self._set_person(text)
        elif found.kind == "source":
            self._source(text)
        else:
            self.trouble(
                Trouble(found.say or f"{found.label} is a {found.kind}.", do="It is asked for during a checkout.")
            )

    def _empty(self) -> None:
        self.query_one(Field).reset()
        self._search_now()

    def _open_found(self, found: Found) -> None:
        row = self.main.use_cases.instrument(found.id)
        if row is not None:
            self._open_row(row)

    def _set_person(self, text: str, *, silently: bool = False) -> bool:
        """Takes whoever `text` names as the one who works here; False when that is nobody."""
        try:
            self.main.person = self.main.use_cases.who(text)
        except Trouble as trouble:
            if not silently:
                self.trouble(trouble)
            return False
        self.reload()
        if may_not := self.main.person.may_check:
            self.trouble(Trouble(may_not, do="Somebody else has to run the checkouts."))
        return True

    def _source(self, text: str) -> None:
        def back(person: object) -> None:
            try:
                label = self.main.use_cases.source_back(text, getattr(person, "id", ""))
            except Trouble as trouble:
                self.trouble(trouble)
                return
            self.reload()
            self.tell(f"Source {label} is back in its store.")

        self.main.with_person(back)

    # -- the list

    def on_instrument_list_roomy(self, event: InstrumentList.Roomy) -> None:
        event.stop()
        if event.lines > 0 and event.lines != self._lines:
            self._lines = event.lines
            # The page that holds the marked line, wherever the pages begin now.
            at = self._offset + max(0, self.query_one(InstrumentList).at)
            self._offset = at - at % self._lines
            self.reload()

    def on_instrument_list_opened(self, event: InstrumentList.Opened) -> None:
        event.stop()
        self._open_row(event.row)

    def on_checkout_list_opened(self, event: CheckoutList.Opened) -> None:
        event.stop()
        self.main.show_checkout(event.checkout)

    def pressed(self, value: str) -> None:
        self.action_page(int(value))

    def action_mark(self, step: int) -> None:
        self._chosen = True
        if not self.query_one(InstrumentList).move(step):
            self.action_page(step)

    def action_page(self, step: int) -> None:
        total = self._home.total if self._home else 0
        to = max(0, self._offset + step * self._lines)
        if to < total and to != self._offset:
            self._offset = to
            self.reload()
            listed = self.query_one(InstrumentList)
            if listed.rows:
                listed.mark(listed.rows[0 if step > 0 else -1].id)

    def action_open_marked(self) -> None:
        marked = self.query_one(InstrumentList).marked
        if marked is not None:
            self._open_row(marked)
        else:
            self.trouble(
                Trouble("No instrument is marked.", do="Scan its label, type part of it, or mark it with Up and Down.")
            )

    def _open_row(self, row: InstrumentRow) -> None:
        self.query_one(InstrumentList).mark(row.id)
        if row.checkout and row.checkout in {each.checkout for each in (self._home.checkouts if self._home else ())}:
            self.main.show_checkout(row.checkout)
        else:
            self.open("instrument:InstrumentScreen", row)

    def instrument_in_front(self) -> tuple[str, str] | None:
        marked = self.query_one(InstrumentList).marked
        return (marked.id, marked.label) if marked else None
