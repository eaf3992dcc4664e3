"""One site with a desk and its forms, for tests of what happens to an instrument around its checks."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from desk_walk import MINI, START, id_of, sensible, small_site, walk

from procedures.asks import Ask, ReadingAsk
from procedures.clock import ManualClock
from procedures.journal.states import fitness
from procedures.sheets import Done, Form, Grid, Lines, Look, Pairs, Sheet
from procedures.site import inventory, secrets
from procedures.site.checkouts import Desk
from procedures.site.forms import task
from procedures.site.opening import Site
from procedures.site.views import CheckoutView

QUICK = secrets.Cost(n=16)
PINS = {"P-1": "285914", "P-2": "730164", "P-3": "918273"}

AT_RETURN = """[[return]]
say = "Was it dropped?"
choices = ["no", "yes", "nobody knows"]
good = ["no"]
lockout = "dropped"
[[return]]
say = "Is it clean?"
choices = ["clean", "not clean", "not surveyed"]
good = ["clean"]
lockout = "not-shown-clean"
contaminated = ["not clean"]
"""
HEAD, _, STEPS = MINI.partition("[[step]]")
ASKING = f"{HEAD}{AT_RETURN}[[step]]{STEPS}"
"""The small procedure with two questions at the return of an instrument."""

USE = {"to": "P-2", "job": "survey after unloading", "place": "hall 2", "radiation": "photon exposure rate"}
BACK = {"by": "P-2", "condition": "as it went out", "answer-1": "no", "answer-2": "clean"}
EMERGENCY = {
    "reported": "before",
    "to": "P-2",
    "job": "bring people out",
    "place": "hall 2",
    "authority": "the radiation safety officer, by telephone",
    "why": "release alarm",
    "turn_back": "at twice the expected reading, or when it reads nothing",
    "back_by": "",
}


def low(ask: Ask, view: CheckoutView) -> str:
    """The answers of an instrument that reads 30 % low."""
    if isinstance(ask, ReadingAsk) and ask.key.startswith("reading-"):
        return "1.13"
    return sensible(ask, view)


class LifeRoom:
    """A site with two leads (P-1, P-3), a technician (P-2), an instrument C-1, and C-2 that was never checked."""

    def __init__(self, folder: Path, profile: str = ASKING) -> None:
        self.folder = folder
        self.clock = ManualClock(START)
        self.site: Site = small_site(folder / "site", self.clock, profile=profile)
        self.lead, self.tech, self.instrument = (id_of(self.site, label) for label in ("P-1", "P-2", "C-1"))
        self.other = inventory.register_person(self.site, label="P-3", name="Other Lead", initials="OL", roles=["lead"])
        self.second = inventory.register_instrument(
            self.site, label="C-2", serial="102", type="Vent one", profile="mini"
        )
        self.clock.advance(60)
        self.desk = Desk(self.site)

    def set(self, **settings: str) -> None:
        self.site.record("settings-changed", {"set": settings}, about=("site",))

    def with_pins(self) -> None:
        self.set(pins="on")
        secrets.set_pin(self.site, self.lead, PINS["P-1"], salt=b"1" * 16, cost=QUICK)
        for label in ("P-2", "P-3"):
            more: dict[str, Any] = {"by": self.lead, "by_pin": PINS["P-1"], "salt": label.encode() * 8, "cost": QUICK}
            secrets.set_pin(self.site, id_of(self.site, label), PINS[label], **more)

    def check(self, answer: Any = sensible) -> str:
        """A whole checkout of C-1; its ending."""
        view = walk(self.desk, self.desk.start(self.instrument, self.tech), self.clock, answer)
        assert view.ending is not None
        self.clock.advance(30)
        return view.ending.ending

    def word(self, instrument: str = "") -> str:
        state = self.site.journal.instrument_now(instrument or self.instrument)
        return fitness(state, self.site.clock.now().utc).word

    def standing(self) -> list[str]:
        state = self.site.journal.instrument_now(self.instrument)
        return [each.id for each in state.lockouts if each.status != "closed"]

    def form(self, name: str, about: str = "", person: str = "", **entered: str) -> Form:
        return task(name).form(self.site, self.instrument if about == "" else about, person or self.tech, entered, 1)

    def look(self, name: str, about: str, person: str, entered: dict[str, str]) -> Look:
        """What would come of it; nothing may be recorded by looking."""
        before = self.site.journal.count()
        look = task(name).look(self.site, about, person, entered)
        assert self.site.journal.count() == before
        return look

    def keep(self, name: str, about: str = "", person: str = "", /, **entered: str) -> Done:
        """Fill a form in as it is shown: what stands in its fields, changed by what is entered."""
        about, person = about or self.instrument, person or self.tech
        made = task(name).form(self.site, about, person, entered, 1)
        filled = {field.id: field.value for field in made.fields} | entered
        look = self.look(name, about, person, filled)
        done = task(name).keep(self.site, about, person, filled)
        assert not look.troubles, "kept, though it was said that it could not be"
        self.clock.advance(5)
        return done

    def body(self, hashed: str) -> dict[str, Any]:
        event = self.site.journal.by_hash(hashed)
        assert event is not None
        return dict(event.body)

    def newest(self, kind: str, about: str = "") -> dict[str, Any]:
        """The body of the newest event of this kind about an instrument."""
        return dict(self.site.journal.about(about or self.instrument, kinds=(kind,), limit=1)[0].body)


def words_on(sheet: Sheet) -> str:
    """Everything a sheet says, in one text."""
    said = [sheet.title, sheet.line]
    for section in sheet.sections:
        if isinstance(section, Lines):
            said += [section.title, *section.lines]
        elif isinstance(section, Pairs):
            said += [section.title, *(f"{name}: {value}" for name, value in section.rows)]
        elif isinstance(section, Grid):
            said += [section.title, *(" | ".join(row.cells) for row in section.rows)]
    return "\n".join(said)
