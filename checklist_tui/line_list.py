"""The list of instruments in line mode: told page by page, and what a number or a label typed after it means."""

from __future__ import annotations

from typing import Final

from checklist_tui import line_words
from checklist_tui.line_talk import Talk
from procedures.site.views import InstrumentRow
from procedures.trouble import Trouble

PAGE: Final = 20
"""Instruments told at once. More are asked for."""


class InstrumentList:
    """The instruments as they were last told: their numbers mean what the person heard."""

    def __init__(self, talk: Talk) -> None:
        self._talk = talk
        self._use_cases = talk.use_cases
        self._rows: list[InstrumentRow] = []
        self._search = ""

    def tell(self, words: str = "") -> None:
        """The instruments that `words` fit, all by default, from the first; their numbers hold until the next list."""
        self._rows, self._search = [], words
        self.more()

    def more(self) -> None:
        """The next page of instruments, numbered on from the last."""
        begin = len(self._rows)
        home = self._use_cases.home(search=self._search, limit=PAGE, offset=begin)
        self._rows += home.instruments
        self._talk.tell(
            *(f"{begin + n}. {line_words.instrument_line(row, home.now)}" for n, row in enumerate(home.instruments, 1))
        )
        if not home.instruments:
            self._talk.tell("No more instruments." if begin else "No instrument fits.")
        elif len(self._rows) < home.total:
            self._talk.tell(f"{len(self._rows)} of {home.total}. Type more for the next ones.")

    def tell_one(self, row: InstrumentRow) -> None:
        """How the instrument stands now."""
        latest = self._use_cases.instrument(row.id)
        if latest is not None:
            self._talk.tell("", line_words.instrument_line(latest, self._use_cases.clock.now().utc))

    def meant(self, text: str) -> InstrumentRow:
        """The instrument that a number of the list or a label means. Raises Trouble where that is not certain."""
        word, _, rest = text.partition(" ")
        if rest and word.casefold() == "label":
            return self.labelled(rest.strip())
        number = rest.strip() if rest and word.casefold() == "row" else text
        row = self.at(number)
        if number != text:
            if row is None:
                raise Trouble(f"there is no row {number[:20]}", allowed=f"1 to {len(self._rows)}", do="Type list.")
            return row
        found = self._use_cases.find(text)
        if row is not None and found.label.casefold() == text.casefold() and found.id != row.id:
            raise Trouble(
                f"“{text}” is a number in the list and also the label of something else",
                allowed=f"row {text} for {row.label}, label {text} for what carries it",
                do="Type one of them.",
            )
        return row or self.labelled(text)

    def at(self, text: str) -> InstrumentRow | None:
        """The instrument with that number in the list as it was last told."""
        place = int(text) if text.isascii() and text.isdigit() and len(text) <= 6 else 0
        return self._rows[place - 1] if 0 < place <= len(self._rows) else None

    def labelled(self, label: str, *, exact: bool = False) -> InstrumentRow:
        """The instrument that carries a label, or is the only one it is part of unless `exact`. Raises Trouble."""
        found = self._use_cases.find(label)
        if exact and found.kind == "instrument" and found.label.casefold() != label.strip().casefold():
            raise Trouble(f"“{label}” is only part of a label", allowed=found.label, do="Give the whole label.")
        row = self._use_cases.instrument(found.id) if found.kind == "instrument" else None
        if row is not None:
            return row
        raise Trouble(
            found.say or f"“{label}” is no instrument here",
            allowed="; ".join(row.label for row in found.rows),
            do="Scan the label on the instrument, or type it as it is marked.",
        )
