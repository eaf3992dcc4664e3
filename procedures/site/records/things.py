"""Sheets and listings of jigs and of people."""

from __future__ import annotations

from typing import TYPE_CHECKING

from procedures.asks import Option
from procedures.sheets import Column, Deed, Filter, Grid, Lines, Listing, Pairs, Query, Row, Section, Sheet
from procedures.site import local_time, lookups, secrets
from procedures.site import people as listed
from procedures.site.describing import ROLES
from procedures.site.entries import thing
from procedures.site.rights import RIGHTS, keep_a_lead
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.rows import PersonRow
    from procedures.site.opening import Site
    from procedures.site.rights import Action

RETIRED = Filter("retired", "those off the list too", (Option("no", "no"), Option("yes", "yes")))
WHAT_A_JIG_IS = (
    "It holds a source at one distance and angle.",
    "Reference readings count for the jig that they were taken in.",
)
ANYBODY = (
    "lock an instrument out, end its readiness, or say that it is missing or contaminated, as anybody on the list may",
    "say that a check source leaks, is damaged, has slipped or is missing, as anybody on the list may",
)
OFF_THE_LIST = "off the list"
_PLACED = (Column("when", least=16), Column("where", least=12), Column("", gives_way=1))


def _retired_too(query: Query) -> bool:
    return query.filters.get("retired", "") == "yes"


# --- jigs ----------------------------------------------------------------------------------------------------------


def jig(site: Site, about: str, person: str) -> Sheet:
    """One jig: where it is, and what can be done with it."""
    known = thing(site, about, "jig")
    label = str(known.fields["label"])
    may_not = _may_not(site, person, "register", off=known.retired)
    placed = site.journal.about(about, kinds=("placed",), limit=10)
    rows = tuple(
        Row((local_time.said(site, event.utc), str(event.body["whereabouts"]), str(event.body["where"])))
        for event in placed
    )
    return Sheet(
        "jig",
        f"Jig {label}",
        (
            Lines(WHAT_A_JIG_IS),
            Grid(_PLACED, rows, title="Where it was", empty="always here"),
        ),
        about=about,
        line=OFF_THE_LIST if known.retired else "",
        deeds=(
            Deed("Say where it is", "form", "place", about, may_not=OFF_THE_LIST if known.retired else ""),
            Deed("Another label", "form", "jig-edit", about, may_not=may_not),
            Deed("Take it off the list", "form", "jig-retire", about, may_not=may_not),
        ),
    )


def jigs(site: Site, about: str, person: str, query: Query) -> Listing:
    """Jigs, by label."""
    del about
    found, total = site.journal.things_found(
        "jig", query.search.strip(), limit=query.limit, offset=query.offset, retired=_retired_too(query)
    )
    return Listing(
        "jigs",
        "Jigs",
        (Column("label", least=8), Column("", gives_way=1)),
        tuple(
            Row(
                (each.label, "" if each.living else OFF_THE_LIST),
                Deed(f"Jig {each.label}", "sheet", "jig", each.id),
                tone="" if each.living else "quiet",
                key=each.id,
            )
            for each in found
        ),
        total,
        query.offset,
        deeds=(Deed("A new jig", "form", "jig-add", may_not=_may_not(site, person, "register")),),
        filters=(RETIRED,),
        empty="No jig fits this.",
    )


def _may_not(site: Site, person: str, action: Action, *, off: bool = False) -> str:
    if off:
        return OFF_THE_LIST
    return listed.may(site, person, action) if person else ""


# --- people --------------------------------------------------------------------------------------------------------


def person(site: Site, about: str, person: str) -> Sheet:
    """One person: roles, training, what they may not do and why, whether a PIN is set."""
    known = thing(site, about, "person")
    member = listed.member(site, about)
    until = f"{member.trained_until}" if member.trained_until else "no end"
    if member.trained_until and lookups.is_over(site, member.trained_until.isoformat()):
        until += ": OVER"
    may = [right.say for action, right in RIGHTS.items() if action not in member.may_not]
    may_not = [
        why if why.startswith("only ") else f"{RIGHTS[action].say}: {why}"  # type: ignore[index]
        for action, why in member.may_not.items()
    ]
    sections: list[Section] = [
        Pairs(
            (
                ("badge", member.label),
                ("initials", member.initials),
                ("roles", _roles(member.roles)),
                ("training is good until", until),
                ("PIN on this laptop", _pin(site, has=member.has_pin)),
            )
        )
    ]
    if known.retired:
        sections.append(Lines(("Not on the list any more. What this person did stays in the records.",), tone="quiet"))
    else:
        sections.append(Lines((*may, *ANYBODY), title="May", tone="good" if may else "warn"))
        if may_not:
            sections.append(Lines(tuple(may_not), title="May not"))
    set_up = _may_not(site, person, "set up", off=known.retired)
    return Sheet(
        "person",
        member.name,
        tuple(sections),
        about=about,
        line=OFF_THE_LIST if known.retired else "",
        deeds=(
            Deed("Set a PIN", "form", "pin-set", about, may_not=OFF_THE_LIST if known.retired else ""),
            Deed("Change", "form", "person-edit", about, may_not=set_up),
            Deed("Take off the list", "form", "person-retire", about, may_not=set_up or _last_lead(site, about)),
        ),
    )


def _roles(roles: tuple[str, ...]) -> str:
    """Roles in words, the one that may most first."""
    return ", ".join(sorted(roles, key=lambda role: -ROLES.index(role) if role in ROLES else 1))


def _pin(site: Site, *, has: bool) -> str:
    if has:
        return "set"
    return "NOT SET" if secrets.pins_wanted(site) else "not set; the site asks for none"


def _last_lead(site: Site, about: str) -> str:
    try:
        keep_a_lead(site, about)
    except Trouble as trouble:
        return trouble.what
    return ""


_PEOPLE = (
    Column("badge", least=6),
    Column("name", least=12),
    Column("initials", gives_way=3, least=4),
    Column("roles", gives_way=1, least=10),
    Column("training until", gives_way=2, least=10),
    Column("PIN", gives_way=4, least=4),
    Column("may not check", least=10),
)


def people(site: Site, about: str, person: str, query: Query) -> Listing:
    """People, by badge: roles, training, whether a PIN is set here, and why somebody may not check."""
    del about
    found, total = site.journal.people_found(
        query.search.strip(), limit=query.limit, offset=query.offset, retired=_retired_too(query)
    )
    with_pin = secrets.having_pins(site)
    return Listing(
        "people",
        "People",
        _PEOPLE,
        tuple(_person_row(site, each, has=each.id in with_pin) for each in found),
        total,
        query.offset,
        deeds=(Deed("A new person", "form", "person-add", may_not=_may_not(site, person, "set up")),),
        filters=(RETIRED,),
        empty="Nobody fits this.",
    )


def _person_row(site: Site, row: PersonRow, *, has: bool) -> Row:
    why = OFF_THE_LIST if row.retired else listed.may(site, row.id, "check")
    return Row(
        (
            row.label,
            row.name,
            row.initials,
            _roles(row.roles),
            row.trained_until or "no end",
            "set" if has else "not set",
            why,
        ),
        Deed(row.name, "sheet", "person", row.id),
        tone="quiet" if row.retired else "warn" if why else "",
        key=row.id,
    )
