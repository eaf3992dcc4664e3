"""Whatever is typed, scanned or pasted into a form, and whoever does it, about whatever: a clear answer, never a fault.

Every form there is comes from the registry, so that a new one is tried without a word here. What would be kept is taken
back at once: one site serves all tries.
"""

from __future__ import annotations

import datetime as dt
import os
import socket
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from desk_walk import id_of
from life_room import ASKING, BACK, EMERGENCY, USE, LifeRoom, low
from reference_room import READINGS

from procedures.journal.store import Journal
from procedures.sheets import Query
from procedures.site import exchange, inventory, inventory_csv, paper_form, profiles, references, sources
from procedures.site.forms import FORMS, task
from procedures.site.records import LISTINGS, SHEETS, listing, sheet
from procedures.trouble import Trouble

PAGES = 6
EVERY = 1 if os.environ.get("CHECKLIST_LIVES_BAD_INPUT") else 12
"""Of all pairs of a field and a text, every so manieth is tried; all of them where that is asked for."""

NASTY: tuple[str, ...] = (
    "",
    " ",
    "\x00",
    "\x1b[2J\x07\r\n",
    "\ud800",
    "\u202eC-1\u202c",
    "\ufeffC-1",
    "e\u0301\u0327" * 200,
    "x" * 10_000,
    "9" * 5_000,
    "-" * 300,
    "|" * 50,
    "\n" * 70 + "|\n" * 70,
    "x1 | 1e30 | 1e30 | 1e-30 | mR/h",
    "x1 | 0 | 0 | 0 | mR/h",
    "nan",
    "-NaN",
    "inf",
    "1e400",
    "1e-400",
    "-1",
    "0",
    "-0.0",
    "0x10",
    "\u0664\u0662",
    "\u00b2",
    "1,234",
    "1.6 !",
    "1.6 ! why\n1.7 ! ",
    "0000-00-00",
    "0001-01-01",
    "9999-12-31",
    "9999-12-31 23:59",
    "0001-01-01 00:00",
    "2024-02-30",
    "2026-W01-1",
    "24:00",
    "23:59+23:59",
    "02:30:00.5",
    "=HYPERLINK(1)",
    "[red]C-1[/red]",
    "<script>alert(1)</script>",
    "{0} %s %(x)s ${HOME}",
    "C-1,C-2",
    "C-1",
    "S-1",
    "P-2",
    "all",
    "yes",
    "no",
    "a" * 64,
    "0" * 64,
    "true",
    "Etc/UTC",
    "../../etc/passwd",
    "/etc",
    "/dev/zero",
    "/dev/stdin",
    "/proc/self/mem",
    "~nobody-here/x",
    "C:\\x",
    "con",
    "./fifo",
    "./socket",
    "./link-to-zero",
    "./loop",
    "./folder",
    "./empty",
)
"""What a clumsy typist, a torn barcode, a clipboard and a text editor bring."""


ABOUTS = ("", "x", "\x00", "\ud800", "f" * 64, ",", "," * 5, "a,b,c,d", "2026-01-01", "2026-01-01,2026-01-02",
          "9999-12-31", "0001-01-01", "0001-01-01,9999-12-31", "2026-02-01,2026-01-01", "<b>")  # fmt: skip
"""What nothing is called, or something of another sort."""


class Kept(BaseException):
    """A form was kept: what it recorded is taken back, and nothing may catch this on the way."""


@dataclass
class Case:
    """What a form is about, and what a sensible person enters."""

    about: str = ""
    entered: dict[str, str] = field(default_factory=dict)


class Many:
    """A site on which every form can be opened and kept."""

    def __init__(self, folder: Path) -> None:
        self.room = LifeRoom(folder)
        self.site = self.room.site
        self.lead, self.tech, self.other = self.room.lead, self.room.tech, self.room.other
        self.ready, self.unchecked = self.room.instrument, self.room.second
        assert self.room.check() == "fit for use"
        self.out, self.failed, self.fresh = (self._calibrated(label) for label in ("C-3", "C-4", "C-5"))
        self.use_then_fail()
        self.new_source = self._source("S-2")
        self.twins = [self._twin(number) for number in ("81", "82")]
        self._adopted_apart()
        self.retired = inventory.register_person(
            self.site, label="P-9", name="Gone Person", initials="GP", roles=["lead"]
        )
        inventory.retire(self.site, self.retired, "left")
        self.cases = self._cases()

    def _calibrated(self, label: str) -> str:
        site, on = self.site, dt.date(2026, 6, 1)
        made = inventory.register_instrument(site, label=label, serial=label, type="Vent one", profile="mini")
        source, jig = id_of(site, "S-1"), id_of(site, "J-1")
        inventory.bind_source(site, made, "daily", source, jig)
        event = references.calibrated(site, made, on=on, due=on.replace(year=2027), by="bench", certificate="K")
        if label != "C-5":
            given: dict[str, Any] = {"role": "daily", "scale": "x1", "unit": "mR/h", "calibration": event}
            figures = ["1.60", "1.65", "1.70"]
            references.reference_reading(site, made, source=source, jig=jig, readings=figures, **given)
        return made

    def _source(self, label: str) -> str:
        given: dict[str, Any] = {"nuclide": "Cs-137", "activity": "40 kBq", "emits": "gamma"}
        on = dt.date(2026, 1, 1)
        return inventory.register_source(self.site, label=label, serial="9", activity_on=on, **given)

    def _twin(self, serial: str) -> str:
        body = {
            "what": "instrument",
            "label": "T-1",
            "serial": serial,
            "type": "Vent one",
            "profile": "mini",
            "detector": "",
            "cable": "",
        }
        return self.site.record("registered", body).hash

    def _adopted_apart(self) -> None:
        for number in (1, 2):
            text = ASKING.replace('"mini"', '"apart"').replace("revision = 1", f"revision = {number}")
            event = self.site.journal.by_hash(profiles.adopt(self.site, text, self.lead))
            assert event is not None
        body = {**event.body, "replaces": []}
        self.site.record("profile-adopted", body, about=("profile:apart",), person=self.lead)

    def use_then_fail(self) -> None:
        room, first = self.room, self.room.instrument
        for instrument in (self.out, self.failed):
            room.instrument = instrument
            assert room.check() == "fit for use"
            room.keep("hand-out", instrument, self.tech, **USE)
        room.keep("take-back", self.failed, self.tech, **BACK)
        assert room.check(low) == "locked out"
        sources.source_back(self.site, "S-1", self.tech)
        room.instrument = first

    def _cases(self) -> dict[str, Case]:
        site = self.site
        doubt = site.journal.doubts_open(limit=1, offset=0)[0][0]
        lockout = next(each.id for each in site.journal.instrument_now(self.failed).lockouts)
        adoption = site.journal.profile_now("mini").adoptions[0]
        source, jig = id_of(site, "S-1"), id_of(site, "J-1")
        readings, pairs = "\n".join(READINGS), "\n".join(f"{each} | {each}" for each in READINGS)
        head = {
            "form": paper_form.form_number("0123456789abcdef" * 4),
            "sha256": adoption.sha256[:16],
            "day": "2026-06-01",
            "time": "06:06",
            "by": "P-2",
            "stop": "ended",
            "why": "called away",
        }
        exchange.exchange_out(site, self.room.folder / "whole.exchange")
        return {
            "instrument-add": Case(entered={"label": "C-77", "serial": "77", "type": "Vent one", "profile": "mini"}),
            "instrument-edit": Case(self.ready, {"serial": "1010"}),
            "instrument-retire": Case(self.ready, {"why": "broken"}),
            "source-add": Case(
                entered={
                    "label": "S-7",
                    "nuclide": "Cs-137",
                    "activity": "37 kBq",
                    "activity_on": "2026-01-01",
                    "strong": "no",
                    "emits": "gamma",
                }
            ),
            "source-edit": Case(source, {"serial": "1010"}),
            "source-retire": Case(self.new_source, {"why": "decayed"}),
            "leak-test": Case(source, {"on": "2026-06-01", "result": "3", "by": "bench", "with": "well counter"}),
            "source-count": Case(entered={f"scan-{source}": "S-1"}),
            "source-condition": Case(source, {"condition": "damaged", "say": "scratched"}),
            "jig-add": Case(entered={"label": "J-7"}),
            "jig-edit": Case(jig, {"label": "J-8"}),
            "jig-retire": Case(jig, {"why": "bent"}),
            "person-add": Case(entered={"label": "P-7", "name": "New Person", "initials": "NP"}),
            "person-edit": Case(self.tech, {"name": "Other Name"}),
            "person-retire": Case(self.tech, {"why": "left"}),
            "pin-set": Case(self.lead, {"new": "730164", "again": "730164"}),
            "place": Case(self.ready, {"whereabouts": "in storage", "where": "shelf"}),
            "contamination": Case(self.ready, {"found": "found", "say": "handle"}),
            "bind": Case(self.ready, {"role": "daily", "source": "S-2", "jig": "J-1"}),
            "settings": Case(entered={"back_by_hours": "10"}),
            "calibration": Case(
                self.ready,
                {"on": "2026-06-01", "certificate": "K-9", "by": "bench", "points": "x1 | 2 | 2 | 2 | mR/h"},
            ),
            "repair": Case(self.ready, {"what": "window", "by": "shop", "voids": "yes"}),
            "reference": Case(self.fresh, {"role": "daily", "source": "S-1", "jig": "J-1", "readings": readings}),
            "source-replace": Case(self.ready, {"role": "daily", "old": "S-1", "new": "S-2", "pairs": pairs}),
            "lock-out": Case(self.ready, {"reason": "by-hand", "say": "smells"}),
            "clear": Case(
                self.failed,
                {"cause": "torn", "action": "mended", "repaired_by": "the shop", "calibration": "yes"},
            ),
            "strike": Case(f"{self.failed},{lockout}", {"why": "meant for C-2", "second": "P-3"}),
            "hand-out": Case(self.ready, USE),
            "take-back": Case(self.out, BACK),
            "emergency": Case(self.unchecked, EMERGENCY),
            "review-use": Case(f"{doubt.instrument},{doubt.cause},{doubt.use}", {"note": "looked at again"}),
            "adoption-choice": Case("apart", {"adoption": site.journal.profile_now("apart").heads[0]}),
            "label-new": Case(self.twins[0], {"label": "T-99"}),
            "exchange-out": Case(entered={"path": "./given.exchange"}),
            "exchange-in": Case(entered={"path": str(self.room.folder / "whole.exchange")}),
            "paper-enter": Case(self.ready, head),
            "binder-dates": Case(entered={"from": "2026-01-01", "to": "2026-03-01"}),
            "day-date": Case(entered={"day": "2026-06-01"}),
        }

    def filled(self, name: str, case: Case) -> dict[str, str]:
        """What stands in the fields of every page, changed by what the case enters."""
        made: dict[str, str] = {}
        for page in range(1, PAGES + 1):
            form = task(name).form(self.site, case.about, self.lead, {**made, **case.entered}, page)
            made |= {each.id: each.value for each in form.fields if each.id not in made}
            if page >= form.pages:
                break
        return {**made, **case.entered}


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Many]:
    made = Many(tmp_path_factory.mktemp("many"))
    yield made
    made.site.close()


@pytest.fixture
def taken_back(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[None]:
    """Whatever is recorded is taken back; files with bad manners lie in the folder that paths begin in."""
    add = Journal._add

    def and_raise(journal: Journal, drafts: Any, now: Any) -> Any:
        add(journal, drafts, now)
        raise Kept

    monkeypatch.setattr(Journal, "_add", and_raise)
    monkeypatch.chdir(tmp_path)
    os.mkfifo("fifo")
    Path("link-to-zero").symlink_to("/dev/zero")
    Path("loop").symlink_to("loop")
    Path("folder").mkdir()
    Path("empty").touch()
    with socket.socket(socket.AF_UNIX) as made:
        with suppress(OSError):  # a path too long for a socket
            made.bind("socket")
        yield


def tried(many: Many, name: str, about: str, person: str, entered: Mapping[str, str]) -> str:
    """What became of opening, looking and keeping: "kept" or the words of the trouble. Nothing else may come of it."""
    before = many.site.journal.count()
    for page in (1, 2, PAGES, 0, -1, 10**9):
        with suppress(Trouble):
            task(name).form(many.site, about, person, entered, page)
    task(name).look(many.site, about, person, entered)
    assert many.site.journal.count() == before, "opening or looking recorded something"
    try:
        task(name).keep(many.site, about, person, entered)
    except Kept:
        return "kept"
    except Trouble as trouble:
        said = trouble
    else:
        return "nothing to record"
    finally:
        assert many.site.journal.count() == before
    assert said.what
    assert all(line.isprintable() for line in said.lines()), said.lines()
    return said.what


@pytest.mark.usefixtures("taken_back")
@pytest.mark.parametrize("name", sorted(FORMS))
def test_every_form_has_a_sensible_case(name: str, many: Many) -> None:
    """Else what follows would try only the first refusal of each form."""
    case = many.cases[name]
    entered = many.filled(name, case)
    assert tried(many, name, case.about, many.lead, entered) in ("kept", "nothing to record")


@pytest.mark.usefixtures("taken_back")
@pytest.mark.parametrize("name", sorted(FORMS))
def test_nasty_text_in_any_field_gets_an_answer(name: str, many: Many) -> None:
    """In each field by itself, all others being sensible, and in all of them at once."""
    case = many.cases[name]
    sensible = many.filled(name, case)
    for number, text in enumerate(NASTY):
        for place, key in enumerate(sensible):
            if (number + place) % EVERY == 0:
                tried(many, name, case.about, many.lead, {**sensible, key: text})
        if number % EVERY == 0:
            tried(many, name, case.about, many.lead, dict.fromkeys(sensible, text))


@pytest.mark.usefixtures("taken_back")
@pytest.mark.parametrize("name", sorted(FORMS))
def test_nobody_and_nothing_get_an_answer(name: str, many: Many) -> None:
    """A form about something else or nothing, filled in by nobody, a stranger, a thing, or somebody who left."""
    case = many.cases[name]
    sensible = many.filled(name, case)
    strangers = ("", "nobody", "f" * 64, "\x00", many.ready, many.retired)
    for person in strangers:
        tried(many, name, case.about, person, sensible)
    parts = case.about.split(",")
    mixed = (f"{parts[0]},", f",{parts[-1]}", f"{case.about},{'f' * 64}")
    for about in (*ABOUTS, *mixed, many.lead, many.ready, many.new_source):
        tried(many, name, about, many.lead, sensible)


@pytest.mark.parametrize("name", sorted(SHEETS))
def test_a_sheet_about_anything_gets_an_answer(name: str, many: Many) -> None:
    """What a sheet is about comes from the command line too."""
    for about in (*ABOUTS, many.lead, many.ready, many.new_source, many.twins[0], f"{many.ready},daily"):
        for person in ("", many.lead, many.retired, "f" * 64):
            with suppress(Trouble):
                sheet(many.site, name, about, person)


@pytest.mark.parametrize("name", sorted(LISTINGS))
def test_a_listing_searched_for_anything_gets_an_answer(name: str, many: Many) -> None:
    """A search is typed while the page is there; filters come from the command line."""
    filters = listing(many.site, name).filters
    for text in NASTY[:: max(1, EVERY // 4)]:
        with suppress(Trouble):
            listing(many.site, name, "", many.lead, Query(search=text))
        for each in filters:
            with suppress(Trouble):
                listing(many.site, name, "", many.lead, Query(filters={each.id: text}))
    for about in (*ABOUTS, many.lead, many.ready, many.new_source):
        with suppress(Trouble):
            listing(many.site, name, about, many.lead)
    for limit, offset in ((0, 0), (-1, 0), (10, 10**12), (10**12, 0), (10, -5)):
        with suppress(Trouble):
            listing(many.site, name, "", many.lead, Query(limit=limit, offset=offset))


# --- files that are none -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("when", ["check", "events_in"])
def test_a_stick_pulled_out_while_it_is_read_gets_an_answer(
    when: str, many: Many, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All of a file or nothing, and words for it."""

    def pulled_out(*_: object) -> Iterator[list[bytes]]:
        raise OSError(5, "Input/output error")

    def while_read(*_: object) -> Iterator[list[bytes]]:
        yield from pulled_out()

    monkeypatch.setattr(exchange.exchange, when, pulled_out if when == "check" else while_read)
    before = many.site.journal.count()
    with pytest.raises(Trouble, match="Input/output error"):
        exchange.exchange_in(many.site, many.room.folder / "whole.exchange")
    assert many.site.journal.count() == before


def test_a_pipe_in_the_place_of_a_table_is_not_waited_for(many: Many, tmp_path: Path) -> None:
    """It would hold the program without end."""
    os.mkfifo(tmp_path / "jigs.csv")
    with pytest.raises(Trouble, match="no file"):
        inventory_csv.read(many.site, tmp_path, many.lead)
