"""Sheets, listings and forms of the invented site: every kind of section, of field and of deed, with no rule behind."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import datetime, timedelta, timezone
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import TYPE_CHECKING

from fake_asks import START

from procedures.asks import Option
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
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from fake_site import FakeSite

ZONE = timezone(timedelta(minutes=60))
PIN = "2468"
COLUMNS = (
    Column("label", least=8),
    Column("type", gives_way=2, least=10),
    Column("due", figures=True, gives_way=1),
    Column("state", least=8),
)


def drift(prefix: str = "", many: int = 40) -> Plot:
    """A slow drift, one value outside."""
    begin = START.astimezone(ZONE) - timedelta(days=3 * many)
    dots = tuple(
        PlotDot(
            begin + timedelta(days=3 * at),
            1.02 + 0.03 * math.sin(at) - 0.004 * at,
            "x" if at == many - 4 else "",
            f"{prefix}outside its control limits" if at == many - 4 else "",
        )
        for at in range(many)
    )
    return Plot(
        f"{prefix}Reading over expected, source S-7",
        "",
        dots,
        (
            PlotLine(1.2, f"{prefix}high"),
            PlotLine(0.8, f"{prefix}low"),
            PlotLine(1.0, f"{prefix}mean", "centre"),
            PlotLine(1.08, f"{prefix}upper", "control"),
            PlotLine(0.92, f"{prefix}lower", "control"),
        ),
        (PlotMark(begin + timedelta(days=60), f"{prefix}calibrated"),),
        (f"{prefix}It goes down by 1.3 % a month.",),
    )


class FakePages:
    """What a FakeSite answers besides checkouts."""

    def __init__(self, site: FakeSite) -> None:
        self.site = site
        self.kept: list[dict[str, str]] = []
        self.refuse: Trouble | None = None
        """What keeping raises."""

    # -- sheets

    def sheet(self, name: str, about: str, person: str) -> Sheet:
        if name == "gone":
            raise Trouble("there is no such thing any more", do="Go back.")
        p = self.site.prefix
        if name == "site":
            return Sheet("site", f"{p}Records", (), deeds=(Deed(f"{p}Instruments", "listing", "instruments"),))
        deeds = self._deeds(about, person)
        return Sheet(
            name,
            f"{p}C-101  vented chamber, analog",
            self._sections(p, about),
            about,
            line=f"{p}Needs check. It is here.",
            deeds=deeds if name == "instrument" else deeds[:3],
        )

    def _sections(self, p: str, about: str) -> tuple[Lines | Pairs | Grid | Plot, ...]:
        return (
            Lines((f"{p}Calibration is due in 12 days.",), tone="warn"),
            Pairs(
                (
                    (f"{p}serial", f"{p}0042"),
                    (f"{p}calibrated", f"{p}2026-03-12 by the station's own laboratory, certificate 118"),
                    (f"{p}factor in use", f"{p}1.04"),
                ),
                f"{p}What it is",
            ),
            Grid(
                COLUMNS,
                tuple(
                    Row(
                        (f"{p}S-{at}", f"{p}disc source, screw-in", f"2027-0{at}-12", f"{p}{state}"),
                        Deed(f"{p}S-{at}", "sheet", "source", f"s{at}"),
                        tone,
                        f"s{at}",
                    )
                    for at, (state, tone) in enumerate((("good", "good"), ("due soon", "warn"), ("OVERDUE", "bad")), 1)
                ),
                f"{p}Its check sources",
            ),
            Grid(COLUMNS, (), f"{p}Lockouts", f"{p}It was never locked out."),
            drift(p),
            Lines(tuple(f"{p}line {at} about {about}" for at in range(12)), f"{p}Notes", "quiet"),
        )

    def _deeds(self, about: str, person: str) -> tuple[Deed, ...]:
        p = self.site.prefix
        no = f"{p}only the site lead may, and you are a technician" if person == "p1" else ""
        return (
            Deed(f"{p}Begin its checkout", "checkout", "", about),
            Deed(f"{p}Record a calibration", "form", "calibration", about),
            Deed(f"{p}Retire it", "form", "retire", about, may_not=no),
            Deed(f"{p}Its history", "sheet", "history", about),
            Deed(f"{p}All instruments", "listing", "instruments"),
            Deed(f"{p}Take reference readings", "form", "reference", about),
            Deed(f"{p}Something that is gone", "sheet", "gone"),
            Deed(f"{p}Hand it out", "form", "hand-out", about),
        )

    # -- listings

    def listing(self, name: str, about: str, _person: str, query: Query) -> Listing:
        p = self.site.prefix
        rows = [
            Row(
                (f"{p}N-{at:03}", f"{p}vented chamber, analog", f"2027-{at % 12 + 1:02}-01", f"{p}good"),
                Deed(f"{p}N-{at:03}", "sheet", "instrument", f"n{at}"),
                "bad" if at % 7 == 3 else "",
                f"n{at}",
            )
            for at in range(45)
        ]
        month = query.filters.get("month", "")
        fitting = [
            row
            for row in rows
            if query.search.casefold() in row.cells[0].casefold() and (not month or f"-{month}-" in row.cells[2])
        ]
        return Listing(
            name,
            f"{p}Instruments of this site",
            COLUMNS,
            tuple(fitting[query.offset : query.offset + query.limit]),
            len(fitting),
            query.offset,
            about,
            f"{p}Those of the whole site.",
            (Deed(f"{p}Add an instrument", "form", "calibration"),),
            (
                Filter("month", f"{p}month due", (Option("03", f"{p}March"), Option("04", f"{p}April"))),
                Filter("text", f"{p}words", example="north"),
            ),
            f"{p}No instrument fits this.",
        )

    # -- forms

    def form(self, name: str, about: str, _person: str, entered: Mapping[str, str], page: int) -> Form:
        p = self.site.prefix
        if name == "gone":
            raise Trouble(f"{p}this cannot be done now", do="Wait.")
        fields = self._fields(name, p, entered)[page - 1]
        pages = len(self._fields(name, p, entered))
        return Form(
            name,
            f"{p}Calibration of C-101",
            f"{p}Copy what stands on the certificate.",
            fields,
            about,
            says=(f"{p}Its calibration so far ends on 2026-09-01.",),
            caution=f"{p}Switch off before opening the battery box.",
            keep=f"{p}Keep this calibration",
            page=page,
            pages=pages,
            dangerous=f"{p}This ends its readiness." if name == "retire" else "",
        )

    def _fields(self, name: str, p: str, entered: Mapping[str, str]) -> tuple[tuple[FormField, ...], ...]:
        found = tuple(Option(each, f"{p}{each}") for each in ("within", "outside", "not recorded"))
        first = (
            FormField("of", f"{p}instrument", value=f"{p}C-101", fixed=True),
            FormField("on", f"{p}calibrated on", "date", example="2026-03-12", more=f"{p}The date of the certificate."),
            FormField("by", f"{p}by", example=f"{p}the station's laboratory"),
            FormField("found", f"{p}found", "choice", options=found),
            FormField("stays", f"{p}it stays in use", "yes-no"),
            FormField("factor", f"{p}factor", "figure", unit="mR/h", needed=False),
            FormField("detector", f"{p}detector", "scan", example="D-7"),
            FormField("readings", f"{p}readings", "readings", wanted=3, example="1.62"),
            FormField(
                "points", f"{p}points", "rows", needed=False, columns=(f"{p}scale", f"{p}standard", f"{p}as found")
            ),
            FormField("pin", f"{p}your PIN", "secret"),
        )
        if name == "retire":
            return ((FormField("why", f"{p}why", example="worn out"), FormField("pin", f"{p}your PIN", "secret")),)
        if name == "two":
            more = (FormField("second", f"{p}second", value=entered.get("first", "")),)
            return ((FormField("first", f"{p}first"),), *((more,) if entered.get("first") else ()))
        if name == "read":
            return ((FormField("readings", f"{p}readings", "readings", wanted=3, reads=_on_scale),),)
        if name == "hand-out":
            return ((FormField("to", f"{p}to whom", "scan"), FormField("job", f"{p}for what job")),)
        return (first,)

    def look(self, name: str, _about: str, _person: str, entered: Mapping[str, str]) -> Look:
        troubles: dict[str, Trouble] = {}
        for page in self._fields(name, self.site.prefix, entered):
            for field in page:
                if field.needed and not entered.get(field.id):
                    troubles[field.id] = Trouble(f"{field.say} is missing", allowed="a few words", do="Enter it.")
        if entered.get("factor", "1") and not _figure(entered.get("factor") or "1"):
            troubles["factor"] = Trouble("that is no figure", allowed="such as 1.04", do="Type it again.")
        good = [each for each in entered.get("readings", "").splitlines() if " ! " not in each]
        if "readings" not in troubles and good and len(good) < 3:
            troubles["readings"] = Trouble(f"{len(good)} of 3 readings are there", do="Take the others.")
        lines = (f"{self.site.prefix}mean of {len(good)}: {sum(map(float, good)) / len(good):.3f}",) if good else ()
        return Look(lines, troubles)

    def keep(self, name: str, about: str, _person: str, entered: Mapping[str, str]) -> Done:
        if entered.get("pin", PIN) != PIN:
            raise Trouble("that is not your PIN", do="Type it again.")
        if self.refuse is not None:
            raise self.refuse
        self.kept.append(dict(entered))
        p = self.site.prefix
        opens = Deed("", "sheet", "instrument", about) if name == "calibration" and about else None
        return Done(f"{p}The calibration is on record.", f"{p}Put the certificate away.", opens)

    def write_report(self, kind: str, deed: Deed, query: Query, person: str) -> Path:
        self.site.done.append(("report", kind, deed.name, deed.about, query.search, person))
        return self.site.folder / "reports" / f"{deed.name}.{kind}"


def _on_scale(text: str) -> str:
    """A scale from 0 to 3, ten times."""
    if float(text) > 3:
        raise Trouble(f"{text} is beyond the scale", allowed="0 to 3", do="Look at the selector.")
    return f"{float(text) * 10:.1f} mR/h"


def _figure(text: str) -> bool:
    try:
        Decimal(text)
    except InvalidOperation:
        return False
    return True


def at(days: float) -> datetime:
    """A moment so many days after the invented start."""
    return START.astimezone(ZONE) + timedelta(days=days)
