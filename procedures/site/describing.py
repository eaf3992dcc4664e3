"""Describing fields of what the site owns and of who works there: which there are, and what each may say."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from functools import partial
from typing import Any, Final

from procedures.answers import LONGEST_SCAN
from procedures.site import source_facts
from procedures.site.entries import words
from procedures.trouble import Trouble
from procedures.units import shown

ROLES: Final = ("technician", "trainer", "lead")
STRENGTHS: Final = ("", "strong")
LONGEST_NAME: Final = 120
LONGEST_INITIALS: Final = 12

Reader = Callable[[Any], Any]


def read_fields(what: str, given: Mapping[str, Any]) -> dict[str, Any]:
    """The fields of a thing of this sort as the journal keeps them; labels are looked at elsewhere.

    Raises Trouble when there are none, for one that such a thing does not have, and for one that says nothing.
    """
    known = _FIELDS[what]
    unknown = [field for field in given if field not in known]
    if unknown or not given:
        one = f"an {what}" if what == "instrument" else f"a {what}"
        raise Trouble(
            f"{', '.join(unknown)} is not what is said of {one}" if unknown else "nothing is changed",
            allowed=", ".join(("label", *known)),
            do="Look at what is to be changed.",
        )
    return {field: known[field](value) for field, value in given.items()}


def roles_of(given: Any) -> list[str]:
    """Roles, each once and in one order. Raises Trouble for none, or an unknown one."""
    names = list(given) if isinstance(given, (list, tuple)) else [given]
    unknown = [shown(str(role)) for role in names if role not in ROLES]
    if unknown or not names:
        raise Trouble(
            f"{', '.join(unknown) or 'no role'} is not a role here", allowed=", ".join(ROLES), do="Give at least one."
        )
    return [role for role in ROLES if role in names]


def _text(what: str, longest: int, needed: bool, value: Any) -> str:
    if not isinstance(value, str):
        raise Trouble(f"the {what} is no text", allowed=f"text of at most {longest} characters", do="Enter it again.")
    return words(what, value, longest, needed=needed)


def _day(what: str, value: Any) -> str:
    try:
        return value.isoformat() if type(value) is date else date.fromisoformat(str(value)).isoformat()
    except ValueError:
        raise Trouble(f"the {what} is no date", allowed="a date such as 2026-03-12", do="Enter it again.") from None


def _day_or_none(what: str, value: Any) -> str | None:
    return None if value is None else _day(what, value)


def _nuclide(value: Any) -> str:
    from procedures.nuclides import half_life

    return half_life(_text("nuclide", LONGEST_SCAN, True, value)).nuclide


def _activity(value: Any) -> str:
    return source_facts.certified_value("activity", _text("activity", LONGEST_SCAN, True, value))


def _strength(value: Any) -> str:
    if value not in STRENGTHS:
        raise Trouble(
            "that is no strength of a source", allowed='"strong", or "" for one that needs no tools', do="Choose again."
        )
    return str(value)


def _needed(what: str, longest: int = LONGEST_SCAN) -> Reader:
    return partial(_text, what, longest, True)


def _or_empty(what: str) -> Reader:
    return partial(_text, what, LONGEST_SCAN, False)


_FIELDS: Final[Mapping[str, Mapping[str, Reader]]] = {
    "instrument": {
        "serial": _or_empty("serial number"),
        "type": _needed("type"),
        "profile": _needed("profile"),
        "detector": _or_empty("detector"),
        "cable": _or_empty("cable"),
    },
    "source": {
        "serial": _or_empty("serial number"),
        "nuclide": _nuclide,
        "activity": _activity,
        "activity_on": partial(_day, "date of the activity"),
        "emits": _or_empty("radiation"),
        "strength": _strength,
        **source_facts.FIELDS,
    },
    "jig": {},
    "person": {
        "name": _needed("name", LONGEST_NAME),
        "initials": _needed("initials", LONGEST_INITIALS),
        "roles": roles_of,
        "trained_until": partial(_day_or_none, "end of training"),
    },
}
