"""Naming what a report is of: every sheet and listing in a line, and labels, badges and names to ids."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from procedures.answers import clean_line
from procedures.site.records import LISTINGS, SHEETS
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.site.opening import Site

Sort = Literal["instrument", "source", "jig", "person"]
Kind = Literal["sheet", "listing"]

_ID: Final = re.compile(r"[0-9a-f]{64}")
LONGEST: Final = 400


@dataclass(frozen=True, slots=True)
class About:
    """What there is to report: a line about it, and what `about` may name.

    `sorts` are the sorts of things that it can be about, by label; `wants` says in words what has to be named, "" for
    nothing that has to be; `alone` says that nothing can be.
    """

    say: str
    sorts: tuple[Sort, ...] = ()
    wants: str = ""
    alone: bool = False


_AN_INSTRUMENT: Final = "the label of an instrument"
_A_SOURCE: Final = "the label of a source"

ABOUT: Final[Mapping[str, About]] = {
    "site": About("the site: what it owns, and what is due", alone=True),
    "instrument": About("an instrument: how it stands, and all that belongs to it", ("instrument",), _AN_INSTRUMENT),
    "history": About("everything recorded about an instrument", ("instrument",), _AN_INSTRUMENT),
    "drift": About("how an instrument's readings move over time", ("instrument",), "an instrument; or instrument,role"),
    "source": About("a check source, and what it reads today", ("source",), _A_SOURCE),
    "source-history": About("everything recorded about a source", ("source",), _A_SOURCE),
    "relied": About("every checkout that relied on a source", ("source",), _A_SOURCE),
    "jig": About("a jig", ("jig",), "the label of a jig"),
    "person": About("a person, and what they may do", ("person",), "a badge, initials or a name"),
    "settings": About("the settings of the site", alone=True),
    "calibration": About("one calibration", wants="its id, as JSON reports give it"),
    "reference": About("one reference reading", wants="its id, as JSON reports give it"),
    "lockout": About("why an instrument is locked out, and what has to be done", ("instrument",), _AN_INSTRUMENT),
    "tag": About("the tag to hang on an instrument that is locked out", ("instrument",), _AN_INSTRUMENT),
    "doubt": About("uses of an instrument that are in doubt", ("instrument",), _AN_INSTRUMENT),
    "exchange": About("what other laptops have, and had last", alone=True),
    "checkout": About("one checkout, answer by answer", wants="its id, as JSON reports give it"),
    "day": About("the log of one day", wants="a day such as 2026-11-25; or nothing, for today"),
    "binder": About("the records of some days, for an inspector", wants="two days: from,to"),
    "overdue": About("what is overdue, and what will be soon", alone=True),
    "paper-form": About("a form to check an instrument on paper", ("instrument",), _AN_INSTRUMENT),
    "paper-expected": About(
        "what an instrument is expected to read, to go with paper", ("instrument",), _AN_INSTRUMENT
    ),
    "paper-entry": About("one check on paper, as it was typed in", wants="its id, as JSON reports give it"),
    "instruments": About("every instrument"),
    "sources": About("every check source"),
    "jigs": About("every jig"),
    "people": About("everybody on the list"),
    "lockouts": About("every instrument that is locked out"),
    "uses": About("who had which instrument when", ("instrument", "person")),
    "doubts": About("uses in doubt that nobody has looked at", ("instrument",)),
    "checkouts": About("every checkout", ("instrument", "person")),
    "papers": About("what was checked on paper", ("instrument", "person")),
}
"""Every sheet and listing by its name."""

NEED_NOTHING: Final = frozenset({"day"})


def about_of(name: str) -> About:
    """What there is to say of a sheet or listing; its bare name where nobody has said anything yet."""
    return ABOUT.get(name, About(name))


def kind_of(name: str) -> Kind:
    """Whether this is the name of a sheet or of a listing. Raises Trouble for neither."""
    if name in SHEETS:
        return "sheet"
    if name in LISTINGS:
        return "listing"
    raise Trouble(
        f"there is no report called {name[:40]!r}",
        allowed=", ".join(sorted([*SHEETS, *LISTINGS])),
        do="“checklist-tui report --list” says what each of them is.",
    )


def resolve(site: Site, name: str, text: str) -> str:
    """What a person named, as the sheet or listing of this name takes it: labels, badges and names become ids.

    Several are parted by commas; ids and days stay as they are. Raises Trouble for a name that nothing here carries,
    for nothing where something has to be named, and for something where nothing can be.
    """
    kind = kind_of(name)
    about = about_of(name)
    line = clean_line(text[: 2 * LONGEST])
    if not line:
        if kind == "sheet" and about.wants and name not in NEED_NOTHING:
            raise Trouble(f"{name}: this needs to know what it is about", allowed=about.wants, do="Name it.")
        return ""
    if len(line) > LONGEST:
        raise Trouble(f"{len(text):,} characters came in for the label of one thing", do="Scan one label, once.")
    if about.alone:
        raise Trouble(f"{name}: this is about the whole site, not about {line[:40]!r}", do="Leave that out.")
    if not about.sorts:
        return ",".join(part.strip() for part in line.split(","))
    if found := _id_of(site, line, about.sorts):
        return found
    first, comma, rest = line.partition(",")
    found = _id_of(site, first.strip(), about.sorts) if comma else ""
    if not found:
        raise Trouble(
            f"nothing here is called {line[:40]!r}",
            where=name,
            allowed=about.wants or f"the label of: {', '.join(about.sorts)}",
            do="Scan its label, or type it as it is marked.",
        )
    return ",".join([found, *(part.strip() for part in rest.split(","))])


def _id_of(site: Site, text: str, sorts: Sequence[Sort]) -> str:
    """The id of the thing that is meant, "" for none. What is retired is found too: its records stay."""
    if _ID.fullmatch(text.casefold()):
        return text.casefold()
    marked = [each for each in site.journal.labelled(text) if each.what in sorts]
    fitting = [each for each in marked if each.living] or marked
    if len(fitting) > 1:
        raise Trouble(
            f"{len(fitting)} things carry the label {text}",
            allowed=", ".join(each.id for each in fitting),
            do="Name the one that is meant by its id.",
        )
    if fitting:
        return fitting[0].id
    if "person" in sorts:
        from procedures.site import status

        everybody = status.people(site)
        for field in ("initials", "name"):
            people = [each for each in everybody if str(getattr(each, field)).casefold() == text.casefold()]
            if people:
                return people[0].id if len(people) == 1 else status.who(site, text).id
    return ""
