"""What the screens need of practice: the same names as of a site, over the room of practice and its desk."""
# ruff: noqa: ARG002  some of what screens ask has no meaning in practice

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from procedures.asks import Option
from procedures.clock import Clock
from procedures.sheets import Deed, Done
from procedures.site.practising import beginning, room
from procedures.site.practising.desk import PracticeDesk
from procedures.site.views import Found, Home, InstrumentRow, Mark, PersonView
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.sheets import Form, Listing, Look, Query, Sheet
    from procedures.site.opening import Site


def _not_here(what: str) -> Trouble:
    return Trouble(f"in practice {what}", do="Go back to the beginning and choose what to practise.")


class PracticeUseCases:
    """The use cases of a room of practice. Nothing here reaches a real site."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self._desk = PracticeDesk(site)

    @property
    def marking(self) -> Mark:
        return self.site.marking

    @property
    def folder(self) -> Path:
        return self.site.folder

    @property
    def clock(self) -> Clock:
        return self.site.clock

    @property
    def desk(self) -> PracticeDesk:
        return self._desk

    # --- what is practised -----------------------------------------------------------------------------------------

    def kinds(self) -> tuple[tuple[str, str], ...]:
        """The kinds of instrument there are, by id, in words."""
        return beginning.kinds()

    def speeds(self) -> tuple[tuple[str, str], ...]:
        """How fast waits may go, in words."""
        return beginning.SPEEDS

    def begin(self, person: str, kind: str, *, free: bool, speed: int) -> str:
        """Begin free practice or a drill on an instrument of this kind, any for ""; the session's id."""
        return beginning.begin(self.site, self._desk, person, kind, free=free, speed=speed)

    def unfinished(self, person: str) -> tuple[tuple[str, str], ...]:
        """This person's sessions that are not over, by id, in words."""
        return beginning.unfinished(self.site, person)

    def finished(self, person: str) -> tuple[tuple[str, str], ...]:
        """What this person has done, the newest first, by id, in words."""
        return beginning.finished(self.site, person)

    def enrol(self, name: str) -> PersonView:
        """Put a new name on the list of practice."""
        return beginning.enrol(self.site, name)

    # --- what all screens ask --------------------------------------------------------------------------------------

    def home(self, *, search: str = "", limit: int = 50, offset: int = 0) -> Home:
        from procedures.site import status

        return status.home(self.site, search=search, limit=limit, offset=offset)

    def instrument(self, instrument: str) -> InstrumentRow | None:
        """A session stands in for an instrument, with its checkout open."""
        return beginning.row(self._desk, instrument)

    def obstacles(self, instrument: str) -> tuple[str, ...]:
        return ()

    def find(self, text: str) -> Found:
        from procedures.site import status

        return status.find(self.site, text)

    def who(self, text: str) -> PersonView:
        from procedures.site import status

        return status.who(self.site, text)

    def check_takes_pin(self, person: str, whose: str = "") -> bool:
        return False

    def causes(self) -> tuple[Option, ...]:
        return ()

    def end_readiness(self, instrument: str, person: str, cause: str, say: str) -> None:
        raise _not_here("no readiness is ended: no instrument here is real")

    def source_back(self, text: str, person: str) -> str:
        raise _not_here("sources go back into their drawer on the instrument itself")

    def last_exchange(self) -> tuple[str, ...]:
        return ()

    def loading(self) -> Iterator[None]:
        return iter(())

    def sheet(self, name: str, about: str, person: str) -> Sheet:
        from procedures.site.practising import records

        return records.sheet(self.site, name, about, person)

    def listing(self, name: str, about: str, person: str, query: Query) -> Listing:
        from procedures.site.practising import records

        return records.listing(self.site, name, about, person, query)

    def form(self, name: str, about: str, person: str, entered: Mapping[str, str], page: int) -> Form:
        from procedures.site.practising import forms

        return forms.form(self.site, name, about, person, entered, page)

    def look(self, name: str, about: str, person: str, entered: Mapping[str, str]) -> Look:
        from procedures.site.practising import forms

        return forms.task(name).look(self.site, about, person, entered)

    def keep(self, name: str, about: str, person: str, entered: Mapping[str, str]) -> Done:
        from procedures.site.practising import exams, forms

        if name == "practice-exam-take":
            session = exams.take(self.site, self._desk, about, person)
            return Done("Begun.", "Check it as you would a real one.", Deed("go on", "checkout", "", session))
        return forms.task(name).keep(self.site, about, person, entered)

    def write_report(self, kind: str, deed: Deed, query: Query, person: str) -> Path:
        from procedures.site.practising import records

        return records.write(self.site, kind, deed, query, person)


def open_practice(folder: Path, clock: Clock, station: str) -> PracticeUseCases:
    """The room of practice in this folder, begun where there is none."""
    return PracticeUseCases(room.open_room(folder, clock, station=station))
