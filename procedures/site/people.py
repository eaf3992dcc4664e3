"""Who works here and what they may do: adding, describing and retiring people, each by somebody entitled to it.

Anyone may end trust; few may restore it. What a person may not do is said in words.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final, Literal, get_args

from procedures.answers import LONGEST_SCAN, clean_line
from procedures.journal.envelope import Draft
from procedures.site import inventory, lookups, secrets
from procedures.site.opening import Site
from procedures.trouble import Trouble

Action = Literal["check", "clear", "adopt", "register", "calibrate", "reference", "set up"]

ROLES: Final = ("technician", "trainer", "lead")
LONGEST_NAME: Final = 120
LONGEST_INITIALS: Final = 12
FIELDS: Final = ("label", "name", "initials", "roles", "trained_until")


@dataclass(frozen=True, slots=True)
class Right:
    """Who may do something: in one of these roles, and with training that is valid where it is work at an instrument.

    Setting up needs no valid training: else a site whose only lead is overdue could never put it right.
    """

    say: str
    roles: frozenset[str]
    trained: bool = True


_LEAD: Final = frozenset({"lead"})

RIGHTS: Final[Mapping[Action, Right]] = {
    "check": Right("run a checkout", frozenset(ROLES)),
    "clear": Right("clear a lockout", _LEAD),
    "adopt": Right("adopt a profile", _LEAD),
    "register": Right("take things into the inventory", _LEAD, trained=False),
    "calibrate": Right("record a calibration", _LEAD),
    "reference": Right("record a reference reading", _LEAD),
    "set up": Right("change the site and its people", _LEAD, trained=False),
}


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


def may(site: Site, person: str, action: Action) -> str:
    """Why this person may not do this now, in words; "" when they may."""
    right = RIGHTS[action]
    known = site.journal.thing_now(person) if person else None
    if known is None or not known.registered or known.retired or known.what != "person":
        return "not on the site's list of people"
    if right.roles.isdisjoint(lookups.roles(site, person)):
        return f"only a {'site lead' if right.roles == _LEAD else ', '.join(ROLES)} may {right.say}"
    until = known.fields.get("trained_until")
    if right.trained and until and lookups.is_over(site, str(until)):
        return f"training ended on {until}"
    return ""


def entitled(site: Site, person: str, action: Action) -> None:
    """Raises Trouble unless this person may do this."""
    why_not = may(site, person, action)
    if why_not:
        raise Trouble(
            why_not if why_not.startswith("only ") else f"this person may not {RIGHTS[action].say}: {why_not}",
            allowed="a person on the list with that role, whose training is valid" if "training" in why_not else "",
            do="Ask the site lead.",
        )


def require(site: Site, person: str, action: Action, pin: str | None = None) -> None:
    """Raises Trouble unless this person may do this and, where the site asks for PINs, `pin` is theirs."""
    entitled(site, person, action)
    confirm(site, person, pin)


def confirm(site: Site, person: str, pin: str | None) -> None:
    """Raises Trouble unless `pin` is this person's, where the site asks for PINs."""
    if not secrets.pins_wanted(site):
        return
    if not pin:
        raise Trouble("a PIN is needed", allowed="the PIN that was set on this laptop", do="Enter it.")
    secrets.check_pin(site, person, pin)


def listed(site: Site) -> tuple[Member, ...]:
    """Everybody on the list, by label, with what each may not do."""
    return tuple(
        Member(
            row.id,
            row.label,
            row.name,
            row.initials,
            row.roles,
            date.fromisoformat(row.trained_until) if row.trained_until else None,
            secrets.has_pin(site, row.id),
            {action: why for action in get_args(Action) if (why := may(site, row.id, action))},
        )
        for row in site.journal.people(limit=-1)
    )


# --- changing the list ---------------------------------------------------------------------------------------------


def draft(*, label: str, name: str, initials: str, roles: Sequence[str], trained_until: date | None = None) -> Draft:
    """The event that registers a person. Raises Trouble for what cannot be; whether the label is free is not asked."""
    body = {
        "what": "person",
        "label": _text("badge", label, LONGEST_SCAN),
        "name": _text("name", name, LONGEST_NAME),
        "initials": _text("initials", initials, LONGEST_INITIALS),
        "roles": _roles(roles),
        "trained_until": trained_until.isoformat() if trained_until else None,
    }
    return Draft("registered", body)


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
    require(site, by, "set up", pin)
    made = draft(
        label=inventory.free_label(site, label), name=name, initials=initials, roles=roles, trained_until=trained_until
    )
    return site.record(made.kind, made.body, person=by).hash


def describe(site: Site, by: str, person: str, changes: Mapping[str, Any], *, pin: str | None = None) -> None:
    """Change what is said of a person: label, name, initials, roles, trained_until (a date or None)."""
    require(site, by, "set up", pin)
    _on_the_list(site, person)
    unknown = [field for field in changes if field not in FIELDS]
    if unknown or not changes:
        raise Trouble(
            f"{', '.join(unknown) or 'nothing'} is not what can be changed of a person", allowed=", ".join(FIELDS)
        )
    readers: Mapping[str, Callable[[Any], Any]] = {
        "label": lambda value: _label(site, person, value),
        "name": lambda value: _text("name", value, LONGEST_NAME),
        "initials": lambda value: _text("initials", value, LONGEST_INITIALS),
        "roles": _roles,
        "trained_until": lambda value: value.isoformat() if value else None,
    }
    made = {field: readers[field](value) for field, value in changes.items()}
    if "roles" in made and "lead" not in made["roles"]:
        _keep_a_lead(site, person)
    inventory.describe(site, person, made, person=by)


def retire(site: Site, by: str, person: str, why: str, *, pin: str | None = None) -> None:
    """Take a person off the list; what they did stays in the record. The last lead cannot be."""
    require(site, by, "set up", pin)
    _on_the_list(site, person)
    _keep_a_lead(site, person)
    inventory.retire(site, person, _text("reason", why, 300), person=by)


def _on_the_list(site: Site, person: str) -> None:
    if not lookups.roles(site, person):
        raise Trouble("nobody on the list is meant", do="Name somebody on the site's list of people.")


def _keep_a_lead(site: Site, person: str) -> None:
    others = [row for row in site.journal.people(limit=-1) if row.id != person and "lead" in row.roles]
    if "lead" in lookups.roles(site, person) and not others:
        raise Trouble(
            "this is the only site lead, and without one nothing could be cleared or set up any more",
            do="Make somebody else a lead first.",
        )


def _label(site: Site, person: str, label: str) -> str:
    line = clean_line(label)
    own = str(site.journal.thing_now(person).fields.get("label", ""))
    return line if line and line.casefold() == own.casefold() else inventory.free_label(site, label)


def _text(what: str, text: str, longest: int) -> str:
    line = clean_line(text)
    if not line or len(line) > longest:
        raise Trouble(f"that is no {what}", allowed=f"1 to {longest} characters", do="Enter it again.")
    return line


def _roles(given: Sequence[str]) -> list[str]:
    unknown = [role for role in given if role not in ROLES]
    if unknown or not given:
        raise Trouble(
            f"{', '.join(unknown) or 'no role'} is not a role here", allowed=", ".join(ROLES), do="Give at least one."
        )
    return [role for role in ROLES if role in given]
