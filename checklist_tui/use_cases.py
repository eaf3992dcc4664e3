"""What the screens need of the site, as protocols, and the real thing behind them.

Screens know only these names. Tests put a small fake in their place; `SiteUseCases` brings the site's modules in one
by one, when they are first needed, so that the first screen is there at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Literal, Protocol, cast

from procedures.asks import Option
from procedures.clock import Clock
from procedures.site.views import (
    CheckoutView,
    Found,
    Home,
    InstrumentRow,
    Mark,
    OpenCheckout,
    PersonView,
    Typed,
    Understood,
)

if TYPE_CHECKING:
    from procedures.sheets import Deed, Done, Form, Listing, Look, Query, Sheet
    from procedures.site.opening import Site


class Desk(Protocol):
    """The checkouts open side by side. Every call is in the record when it returns; Trouble says what is wrong."""

    def start(self, instrument: str, person: str, pin: str | None = None) -> CheckoutView: ...
    def view(self, checkout: str) -> CheckoutView: ...
    def understand(self, checkout: str, ask: str, typed: Typed) -> Understood: ...
    def answer(self, checkout: str, ask: str, typed: Typed, *, took: float) -> CheckoutView: ...
    def tick(self, checkout: str) -> CheckoutView: ...
    def hold(self, checkout: str) -> CheckoutView: ...
    def let_go(self, checkout: str) -> CheckoutView: ...
    def remedy(self, checkout: str, *, done: bool) -> CheckoutView: ...
    def pause(self, checkout: str, why: str = "") -> CheckoutView: ...
    def resume(self, checkout: str, person: str, *, switched_off: bool, pin: str | None = None) -> CheckoutView: ...
    def fail_by_judgement(self, checkout: str, say: str) -> CheckoutView: ...
    def abandon(self, checkout: str, why: str) -> CheckoutView: ...
    def withdraw(self, checkout: str, why: str) -> CheckoutView: ...
    def note(self, checkout: str, text: str) -> None: ...
    def open_checkouts(self) -> tuple[OpenCheckout, ...]: ...


class UseCases(Protocol):
    """Everything a screen may ask the site to do."""

    @property
    def marking(self) -> Mark: ...
    @property
    def folder(self) -> Path: ...
    @property
    def clock(self) -> Clock: ...
    @property
    def desk(self) -> Desk: ...
    def home(self, *, search: str = "", limit: int = 50, offset: int = 0) -> Home: ...
    def instrument(self, instrument: str) -> InstrumentRow | None: ...
    def obstacles(self, instrument: str) -> tuple[str, ...]: ...
    def find(self, text: str) -> Found: ...
    def who(self, text: str) -> PersonView: ...
    def check_takes_pin(self, person: str, whose: str = "") -> bool: ...
    def causes(self) -> tuple[Option, ...]: ...
    def end_readiness(self, instrument: str, person: str, cause: str, say: str) -> None: ...
    def source_back(self, text: str, person: str) -> str: ...
    def last_exchange(self) -> tuple[str, ...]: ...
    def loading(self) -> Iterator[None]: ...

    # Whatever people read and fill in besides a checkout. `person` is "" while nobody has said who they are.
    def sheet(self, name: str, about: str, person: str) -> Sheet: ...
    def listing(self, name: str, about: str, person: str, query: Query) -> Listing: ...
    def form(self, name: str, about: str, person: str, entered: Mapping[str, str], page: int) -> Form: ...
    def look(self, name: str, about: str, person: str, entered: Mapping[str, str]) -> Look: ...
    def keep(self, name: str, about: str, person: str, entered: Mapping[str, str]) -> Done: ...
    def write_report(self, kind: str, deed: Deed, query: Query, person: str) -> Path: ...


class SiteUseCases:
    """The use cases of a real site. `desk` makes the desk at the first checkout, since that loads the procedures."""

    def __init__(self, site: Site, desk: Callable[[Site], Desk] | None = None) -> None:
        self._site = site
        self._make_desk = desk
        self._desk: Desk | None = None

    @property
    def marking(self) -> Mark:
        return self._site.marking

    @property
    def folder(self) -> Path:
        return self._site.folder

    @property
    def clock(self) -> Clock:
        return self._site.clock

    @property
    def desk(self) -> Desk:
        if self._desk is None:
            make = self._make_desk
            if make is None:
                from procedures.site.checkouts import Desk as SiteDesk

                make = SiteDesk
            self._desk = make(self._site)
        return self._desk

    def home(self, *, search: str = "", limit: int = 50, offset: int = 0) -> Home:
        from procedures.site import status

        return status.home(self._site, search=search, limit=limit, offset=offset)

    def instrument(self, instrument: str) -> InstrumentRow | None:
        from procedures.site import status

        return status.instrument(self._site, instrument)

    def obstacles(self, instrument: str) -> tuple[str, ...]:
        from procedures.site import foresight

        return foresight.obstacles(self._site, instrument)

    def find(self, text: str) -> Found:
        from procedures.site import status

        return status.find(self._site, text)

    def who(self, text: str) -> PersonView:
        from procedures.site import status

        return status.who(self._site, text)

    def check_takes_pin(self, person: str, whose: str = "") -> bool:
        """Whether this person gives a PIN to begin a checkout, or to go on with that of `whose`."""
        from procedures.site import rights

        return rights.check_takes_pin(self._site, person, whose)

    def causes(self) -> tuple[Option, ...]:
        from procedures.site import clearing

        return clearing.causes()

    def end_readiness(self, instrument: str, person: str, cause: str, say: str) -> None:
        from procedures.site import clearing

        clearing.end_readiness(self._site, instrument, person, cause, say)

    def source_back(self, text: str, person: str) -> str:
        from procedures.site import sources

        return sources.source_back(self._site, text, person)

    def last_exchange(self) -> tuple[str, ...]:
        """When records last came from other laptops and were last given to them, one line each; () for never."""
        from procedures.site import exchange_age, local_time

        last = exchange_age.last_exchange(self._site)
        if last is None:
            return ()

        def said(moment: datetime) -> str:
            return local_time.said(self._site, moment)

        lines = [f"{each.name or each.station}: its records up to {said(each.written)} are here" for each in last.heard]
        return (*lines, *((f"records last given to another laptop: {said(last.given)}",) if last.given else ()))

    def loading(self) -> Iterator[None]:
        """Each step loads a piece of what the first sheet and checkout need."""
        from procedures.site import warming

        return warming.pieces()

    def sheet(self, name: str, about: str, person: str) -> Sheet:
        from procedures.site import records

        return records.sheet(self._site, name, about, person)

    def listing(self, name: str, about: str, person: str, query: Query) -> Listing:
        from procedures.site import records

        return records.listing(self._site, name, about, person, query)

    def form(self, name: str, about: str, person: str, entered: Mapping[str, str], page: int) -> Form:
        from procedures.site import forms

        return forms.form(self._site, name, about, person, entered, page)

    def look(self, name: str, about: str, person: str, entered: Mapping[str, str]) -> Look:
        from procedures.site import forms

        return forms.task(name).look(self._site, about, person, entered)

    def keep(self, name: str, about: str, person: str, entered: Mapping[str, str]) -> Done:
        from procedures.site import forms

        return forms.task(name).keep(self._site, about, person, entered)

    def write_report(self, kind: str, deed: Deed, query: Query, person: str) -> Path:
        """Writes the sheet or listing that `deed` opens as a file of `kind` ("html", "csv", "json"); its full path."""
        from procedures.site import printing

        path: Path = printing.write(
            self._site,
            deed.name,
            deed.about,
            goes=deed.goes,
            kind=cast("Literal['html', 'csv', 'json']", kind),
            person=person,
            query=query,
        )
        return path.resolve()
