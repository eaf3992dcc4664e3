"""Who may do what: roles, training that is valid, PINs. Anyone may end trust; few may restore it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

from procedures.journal.fields import is_hash
from procedures.site import lookups, secrets
from procedures.site.describing import ROLES
from procedures.site.opening import Site
from procedures.trouble import Trouble

Action = Literal["check", "clear", "clean", "adopt", "register", "calibrate", "reference", "set up"]


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
    "clean": Right("say that a contaminated instrument is clean again", _LEAD),
    "adopt": Right("adopt a profile", _LEAD),
    "register": Right("change the inventory", _LEAD, trained=False),
    "calibrate": Right("record a calibration or a repair", _LEAD),
    "reference": Right("record a reference reading", _LEAD),
    "set up": Right("change the site and its people", _LEAD, trained=False),
}


def may(site: Site, person: str, action: Action) -> str:
    """Why this person may not do this now, in words; "" when they may."""
    right = RIGHTS[action]
    known = site.journal.thing_now(person) if is_hash(person) else None
    if known is None or not known.registered or known.retired or known.what != "person":
        return "not on the site's list of people"
    if right.roles.isdisjoint(known.fields.get("roles", ())):
        return f"only a {'site lead' if right.roles == _LEAD else ', '.join(ROLES)} may {right.say}"
    until = known.fields.get("trained_until")
    if right.trained and until and lookups.is_over(site, str(until)):
        return f"training ended on {until}"
    return ""


def entitled(site: Site, person: str, action: Action) -> None:
    """Raises Trouble unless this person may do this."""
    if not person:
        raise Trouble("nobody has said who does this", allowed="a person on the list", do="Scan your badge first.")
    why_not = may(site, person, action)
    if why_not:
        raise Trouble(
            why_not if why_not.startswith("only ") else f"this person may not {RIGHTS[action].say}: {why_not}",
            allowed="a person on the list with that role, whose training is valid"
            if "training" in why_not
            else "a site lead"
            if RIGHTS[action].roles == _LEAD
            else "a person on the list",
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


def check_takes_pin(site: Site, person: str, whose: str = "") -> bool:
    """Whether this person gives a PIN to run a checkout: where the site wants PINs and says that a badge is not enough.

    `whose` is the checkout's person where there is one already: going on with one's own takes none again.
    """
    return secrets.pins_wanted(site) and site.settings()["badge_is_enough"] != "yes" and person != whose


def keep_a_lead(site: Site, person: str) -> None:
    """Raises Trouble when this person is the only site lead there is."""
    others = [row for row in site.journal.people(limit=-1) if row.id != person and "lead" in row.roles]
    if "lead" in lookups.roles(site, person) and not others:
        raise Trouble(
            "this is the only site lead, and without one nothing could be cleared or set up any more",
            allowed="a lead, as long as there is another one",
            do="Make somebody else a lead first.",
        )
