"""`checklist-tui people`: everybody on the list and what they may not do; and setting a PIN on this laptop."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from checklist_tui import output, plain_talk
from checklist_tui.at_site import open_named
from checklist_tui.line_words import sentence
from checklist_tui.parsing import Parser

if TYPE_CHECKING:
    from procedures.site.opening import Site
    from procedures.site.people import Member
    from procedures.site.views import PersonView


def configure(parser: Parser) -> None:
    """Add what can be done."""
    parser.set_example("checklist-tui people\nchecklist-tui people pin N-001 --data site")
    _options(parser)
    parser.set_defaults(run=run_list)
    actions = parser.add_subparsers(title="actions", metavar="ACTION", dest="action", parser_class=Parser)
    about = "everybody on the list, and what they may not do (the default)"
    shown = actions.add_parser("list", help=about, description=about, example="checklist-tui people list --json")
    _options(shown)
    shown.set_defaults(run=run_list)
    about = "set a person's PIN on this laptop, with a lead present"
    pin = actions.add_parser("pin", help=about, description=about, example="checklist-tui people pin N-001")
    pin.add_argument("person", metavar="BADGE", help="whose PIN: badge, initials or name")
    pin.add_argument("--lead", metavar="BADGE", help="who is present: a lead, or the person whose PIN is changed")
    _data(pin)
    pin.set_defaults(run=run_pin)


def _data(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--data",
        metavar="DIR",
        default=argparse.SUPPRESS,
        help="folder of the site's records (default: this user's own)",
    )


def _options(parser: argparse.ArgumentParser) -> None:
    _data(parser)
    parser.add_argument(
        "--json", action="store_true", default=argparse.SUPPRESS, help="one JSON object on standard output"
    )


def run_list(given: argparse.Namespace) -> int:
    """Print the list."""
    from procedures.site import people

    with open_named(given.data) as site:
        members = people.listed(site)
    if getattr(given, "json", False):
        output.write_json({"ok": True, "people": [_to_json(each) for each in members]})
    else:
        output.write("\n".join([_line(each) for each in members] or ["Nobody is on the list."]))
    return output.OK


def _line(member: Member) -> str:
    until = f"training until {member.trained_until}" if member.trained_until else ""
    return sentence(
        f"{member.label}, {member.name} ({member.initials}): {', '.join(member.roles)}",
        until[:1].upper() + until[1:],
        f"May not check: {member.may_not['check']}" if "check" in member.may_not else "",
        "" if member.has_pin else "No PIN on this laptop",
    )


def _to_json(member: Member) -> dict[str, Any]:
    return {
        "label": member.label,
        "name": member.name,
        "initials": member.initials,
        "roles": list(member.roles),
        "trained_until": member.trained_until.isoformat() if member.trained_until else None,
        "has_pin": member.has_pin,
        "may_not": dict(member.may_not),
    }


def run_pin(given: argparse.Namespace) -> int:
    """Ask for the PIN of whoever is present, then twice for the new one."""
    from procedures.site import secrets, status
    from procedures.site.system import new_salt

    with open_named(given.data) as site:
        person = status.who(site, given.person)
        present = _present(site, person, given.lead)
        by_pin = plain_talk.secret(f"PIN of {present.name} (not shown)") if present else ""
        if present:
            secrets.check_pin(site, present.id, by_pin)
        plain_talk.tell(f"The PIN of {person.name}: {secrets.ALLOWED}.")
        about = (person.label, person.name, person.initials)
        pin = plain_talk.new_pin(lambda typed: secrets.well_chosen(typed, about))
        secrets.set_pin(site, person.id, pin, salt=new_salt(), by=present.id if present else "", by_pin=by_pin)
    plain_talk.tell(f"{person.name} has a PIN on this laptop now. Other laptops do not know it.")
    return output.OK


def _present(site: Site, person: PersonView, named: str | None) -> PersonView | None:
    """Who is present: who was named, else the person themselves where they have a PIN; None for the first lead's.

    Where somebody has to be and was not named, that is asked for.
    """
    from procedures.site import secrets, status

    if named:
        return status.who(site, named)
    if secrets.has_pin(site, person.id):
        return person
    if secrets.first_may_begin(site, person.id):
        return None
    return plain_talk.ask("Badge of the lead who is present", lambda typed: status.who(site, typed))
