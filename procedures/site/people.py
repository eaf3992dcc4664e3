"""The list of people: adding, describing and retiring them, each by somebody entitled to it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, get_args

from procedures.answers import LONGEST_SCAN
from procedures.journal.envelope import Draft
from procedures.site import inventory, lookups, secrets
from procedures.site.describing import LONGEST_INITIALS, LONGEST_NAME, ROLES, read_fields
from procedures.site.entries import words
from procedures.site.opening import Site
from procedures.site.rights import RIGHTS, Action, Right, confirm, entitled, may, require
from procedures.trouble import Trouble

__all__ = [
    "LONGEST_INITIALS",
    "LONGEST_NAME",
    "RIGHTS",
    "ROLES",
    "Action",
    "Member",
    "Right",
    "add",
    "confirm",
    "describe",
    "draft",
    "entitled",
    "listed",
    "may",
    "member",
    "require",
    "retire",
]


@dataclass(frozen=True, slots=True)
class Member:
    """A person on the list. `may_not` says of each action in words why not; what they may do is not in it."""

    id: str
    label: str
    name: str
    initials: str
    roles: tuple[str, ...]
    trained_until: date | None
    has_pin: bool
    may_not: Mapping[str, str]


def listed(site: Site) -> tuple[Member, ...]:
    """Everybody on the list, by label, with what each may not do."""
    with_pin = secrets.having_pins(site)
    return tuple(_member(site, row.id, has_pin=row.id in with_pin) for row in site.journal.people(limit=-1))


def member(site: Site, person: str) -> Member:
    """One person, on the list or not any more."""
    return _member(site, person, has_pin=secrets.has_pin(site, person))


def _member(site: Site, person: str, *, has_pin: bool) -> Member:
    fields = site.journal.thing_now(person).fields
    until = fields.get("trained_until")
    return Member(
        person,
        str(fields.get("label", "")),
        str(fields.get("name", "")),
        str(fields.get("initials", "")),
        tuple(fields.get("roles", ())),
        date.fromisoformat(until) if until else None,
        has_pin,
        {action: why for action in get_args(Action) if (why := may(site, person, action))},
    )


def draft(*, label: str, name: str, initials: str, roles: Sequence[str], trained_until: date | None = None) -> Draft:
    """The event that registers a person. Raises Trouble for what cannot be; whether the label is free is not asked."""
    given = {"name": name, "initials": initials, "roles": roles, "trained_until": trained_until}
    return Draft(
        "registered", {"what": "person", "label": words("badge", label, LONGEST_SCAN), **read_fields("person", given)}
    )


def add(
    site: Site,
    by: str,
    *,
    label: str,
    name: str,
    initials: str,
    roles: Sequence[str],
    trained_until: date | None = None,
    pin: str | None = None,
) -> str:
    """Take a person onto the list; the id comes back. `pin` is that of `by`, a lead."""
    return inventory.register_person(
        site,
        label=label,
        name=name,
        initials=initials,
        roles=roles,
        trained_until=trained_until,
        person=by,
        pin=pin,
    )


def describe(site: Site, by: str, person: str, changes: Mapping[str, Any], *, pin: str | None = None) -> None:
    """Change what is said of a person: label, name, initials, roles, trained_until (a date or None)."""
    entitled(site, by, "set up")
    _on_the_list(site, person)
    inventory.describe(site, person, changes, person=by, pin=pin)


def retire(site: Site, by: str, person: str, why: str, *, pin: str | None = None) -> None:
    """Take a person off the list; what they did stays in the record. The last lead cannot be."""
    entitled(site, by, "set up")
    _on_the_list(site, person)
    inventory.retire(site, person, why, person=by, pin=pin)


def _on_the_list(site: Site, person: str) -> None:
    if not lookups.roles(site, person):
        raise Trouble(
            "nobody on the list is meant",
            allowed="a person on the list",
            do="Name somebody on the site's list of people.",
        )
