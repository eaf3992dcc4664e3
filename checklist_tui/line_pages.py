"""Sheets and listings in line mode: told in words, with numbers that lead on, and a way back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from checklist_tui.line_form import FormTalk
from checklist_tui.line_talk import Quit, Talk
from checklist_tui.line_told import Openable, deed_lines, listing_head, row_line, sheet_lines
from procedures.sheets import Deed, Query
from procedures.site.views import InstrumentRow, PersonView
from procedures.trouble import Trouble

PAGE: Final = 20
"""Rows told at once. More are asked for."""
RECORDS: Final = Deed("instruments, sources, people, records", "sheet", "site")
HELP: Final = (
    "Type a number to open what it stands before.",
    "back: one step back. home: the list of instruments. again: this once more.",
    "more: the next rows. find WORDS: rows that fit. only NAME = VALUE: narrow a list; only: no longer.",
    "quit: leave the program.",
    "print html, print csv or print json: write this into a file.",
)


def about(row: InstrumentRow) -> Deed:
    """Everything about an instrument."""
    return Deed(row.label, "sheet", "instrument", row.id)


class Pages:
    """The way through sheets and listings, from the first one opened until the list of instruments again."""

    def __init__(self, talk: Talk, person: Callable[[], PersonView], checkout: Callable[[str], None]) -> None:
        """`person` asks who works here if nobody has said so; `checkout` talks through an instrument's checkout."""
        self._talk, self._cases = talk, talk.use_cases
        self._person, self._checkout = person, checkout
        self._way: list[tuple[Deed, Query]] = []
        self._opens = Openable()
        self._told: Deed | None = None
        """The page that was told last."""
        self._known = ""
        self._total = 0

    def open(self, first: Deed) -> None:
        """Talk from here on until the person goes back."""
        self._way, self._known = [], ""
        self._go(first)
        while self._way:
            try:
                self._turn(self._talk.ask("Number, back, or ? for help"))
            except Trouble as trouble:
                self._talk.tell_trouble(trouble)

    def _turn(self, text: str) -> None:
        word, _, rest = text.partition(" ")
        deed = self._opens.at(text)
        match word.casefold():
            case _ if deed is not None:
                self._go_by_number(text, deed)
            case "quit":
                raise Quit
            case "":
                pass
            case "?":
                self._talk.tell(*HELP)
            case "back":
                self._way.pop()
                self._tell()
            case "home":
                self._way = []
            case "again":
                self._opens = Openable()
                self._tell()
            case "more":
                self._more()
            case "find":
                self._ask(replace(self._way[-1][1], search=rest.strip(), offset=0))
            case "only":
                self._only(rest)
            case "print":
                self._print(rest.strip().casefold() or "html")
            case _:
                raise Trouble(
                    f"“{text[:40]}” is nothing here", allowed="a number told above, or back", do="? for help."
                )

    def _go(self, deed: Deed) -> None:
        if deed.may_not:
            raise Trouble(f"not now: {deed.may_not}")
        if deed.goes == "form":
            self._form(deed)
        elif deed.goes == "checkout":
            self._checkout(deed.about)
            self._tell()
        else:
            self._way.append((deed, Query(limit=PAGE)))
            try:
                self._tell()
            except Trouble:
                self._way.pop()
                raise

    def _go_by_number(self, number: str, deed: Deed) -> None:
        """As `_go`; asks first where the number meant something else before what was done last."""
        if self._opens.was_another(deed):
            self._talk.tell(f"The numbers are others than before: {number} is now “{deed.say}”.")
            if self._talk.ask("Open it? yes or no").casefold() not in ("yes", "y"):
                raise Trouble("nothing was opened", do="Type again to hear the numbers.")
        self._go(deed)

    def _form(self, deed: Deed) -> None:
        """A form, and where it leads. That it is recorded is said last, where it is heard and seen."""
        done = FormTalk(self._talk, deed.name, deed.about, self._who()).run()
        try:
            if done is not None and done.opens is not None:
                self._go(done.opens)
            else:
                self._tell()
        finally:
            if done is not None:
                self._talk.tell("", f"Recorded. {done.what}", *([done.do] if done.do else []))

    def _who(self) -> str:
        if not self._known:
            self._known = self._person().id
        return self._known

    def _tell(self) -> None:
        """What is in front, from its beginning."""
        if not self._way:
            return
        deed, query = self._way[-1]
        self._opens = Openable(self._opens.deeds if deed == self._told else ())
        self._told = deed
        if deed.goes == "sheet":
            sheet = self._cases.sheet(deed.name, deed.about, self._known)
            self._talk.tell(*sheet_lines(sheet, self._opens))
        else:
            self._ask(replace(query, offset=0), numbered=True)

    def _ask(self, query: Query, *, numbered: bool = False) -> None:
        """A page of the listing in front. `numbered`: its numbers begin anew already."""
        deed = self._way[-1][0]
        if deed.goes != "listing":
            raise Trouble("this is no list", do="Type back, or a number.")
        if not query.offset and not numbered:
            self._opens = Openable()
        listing = self._cases.listing(deed.name, deed.about, self._known, query)
        self._way[-1] = (deed, query)
        if not query.offset:
            self._talk.tell(*listing_head(listing))
        headings = [column.heading for column in listing.columns]
        self._talk.tell(*(row_line(headings, row, self._opens) for row in listing.rows))
        told = query.offset + len(listing.rows)
        self._total = listing.total
        if told < listing.total:
            self._talk.tell(f"{told} of {listing.total}. Type more for the next ones.")
        else:
            self._talk.tell(*deed_lines(listing.deeds, self._opens))

    def _more(self) -> None:
        query = self._way[-1][1]
        if self._way[-1][0].goes == "listing" and query.offset + query.limit < self._total:
            self._ask(replace(query, offset=query.offset + query.limit))
        else:
            self._talk.tell("There is no more.")

    def _only(self, text: str) -> None:
        deed, query = self._way[-1]
        name, _, value = (each.strip() for each in text.partition("="))
        if deed.goes == "listing" and name:
            known = self._cases.listing(deed.name, deed.about, self._known, replace(query, limit=1)).filters
            found = next((each for each in known if name.casefold() in (each.id.casefold(), each.say.casefold())), None)
            if found is None:
                names = ", ".join(each.say for each in known)
                raise Trouble(f"the list cannot be narrowed by “{name[:40]}”", allowed=names or "nothing")
            chosen = next((each.value for each in found.options if value.casefold() == each.say.casefold()), value)
            self._ask(replace(query, filters={**query.filters, found.id: chosen}, offset=0))
        else:
            self._ask(replace(query, filters={}, offset=0))

    def _print(self, kind: str) -> None:
        if kind not in ("html", "csv", "json"):
            raise Trouble(f"“{kind[:20]}” is no kind of file here", allowed="html, csv, json")
        deed, query = self._way[-1]
        path = self._cases.write_report(kind, deed, query, self._known)
        self._talk.tell(f"Written: {path}")
