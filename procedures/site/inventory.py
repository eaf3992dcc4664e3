"""What the site owns and who works there: registering, describing, binding, placing, retiring."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from procedures.answers import LONGEST_SCAN, clean_line
from procedures.site.opening import Site
from procedures.trouble import Trouble

ROLES = ("technician", "trainer", "lead")


def register_instrument(
    site: Site,
    *,
    label: str,
    serial: str,
    type: str,  # noqa: A002  the trade's word
    profile: str,
    detector: str = "",
    cable: str = "",
    person: str | None = None,
) -> str:
    """Take an instrument (meter, detector, cable and settings as one set) into the inventory; its id comes back."""
    for row in site.journal.instruments_found(clean_line(serial), limit=50)[0] if clean_line(serial) else ():
        if (row.serial.casefold(), row.type.casefold()) == (clean_line(serial).casefold(), type.casefold()):
            raise Trouble(
                f"{type} with serial number {serial} is registered already, as {row.label}",
                allowed="each instrument once",
                do=f"Use {row.label}. A new label on it is a change of its description.",
            )
    body = {
        "what": "instrument",
        "label": free_label(site, label),
        "serial": clean_line(serial),
        "type": type,
        "profile": profile,
        "detector": detector,
        "cable": cable,
    }
    return site.record("registered", body, person=person).hash


def register_source(
    site: Site,
    *,
    label: str,
    serial: str,
    nuclide: str,
    activity: str,
    activity_on: date,
    emits: str,
    strong: bool = False,
    person: str | None = None,
) -> str:
    """Take a check source into the inventory; its id comes back. Raises Trouble for an unknown nuclide or unit."""
    from procedures.nuclides import half_life
    from procedures.units import read_quantity

    known = half_life(nuclide)
    body = {
        "what": "source",
        "label": free_label(site, label),
        "serial": serial,
        "nuclide": known.nuclide,
        "activity": str(read_quantity(activity, like="Bq")),
        "activity_on": activity_on.isoformat(),
        "emits": emits,
        "strength": "strong" if strong else "",
    }
    return site.record("registered", body, person=person).hash


def register_jig(site: Site, *, label: str, person: str | None = None) -> str:
    """Take a jig (the holder that fixes a source's geometry) into the inventory; its id comes back."""
    return site.record("registered", {"what": "jig", "label": free_label(site, label)}, person=person).hash


def register_person(
    site: Site,
    *,
    label: str,
    name: str,
    initials: str,
    roles: Sequence[str],
    trained_until: date | None = None,
    person: str | None = None,
) -> str:
    """Take a person onto the list; the id comes back. `label` is what the badge carries."""
    unknown = [role for role in roles if role not in ROLES]
    if unknown or not roles:
        raise Trouble(
            f"{', '.join(unknown) or 'no role'} is not a role here", allowed=", ".join(ROLES), do="Give at least one."
        )
    body = {
        "what": "person",
        "label": free_label(site, label),
        "name": name,
        "initials": initials,
        "roles": list(roles),
        "trained_until": trained_until.isoformat() if trained_until else None,
    }
    return site.record("registered", body, person=person).hash


def free_label(site: Site, label: str) -> str:
    """The label, cleaned. Raises Trouble when it is empty, too long, or was ever carried by another thing.

    A retired label is never used again: an old sticker must not point at a new thing.
    """
    line = clean_line(label)
    if not line or len(line) > LONGEST_SCAN:
        raise Trouble(
            "that is no label", allowed=f"1 to {LONGEST_SCAN} characters", do="Enter what the barcode carries."
        )
    if site.journal.labelled(line):
        raise Trouble(
            f"the label {line} is in use, or was once",
            allowed="a label that nothing here has ever carried",
            do="Print a new label.",
        )
    return line


def describe(site: Site, thing: str, changes: Mapping[str, Any], *, person: str | None = None) -> None:
    """Change describing fields. A changed detector, cable or profile ends the instrument's readiness."""
    site.record("described", {"set": dict(changes)}, about=(thing,), person=person)


def retire(site: Site, thing: str, why: str, *, person: str | None = None) -> None:
    """Take a thing or person off the list. Nothing is deleted."""
    site.record("retired", {"why": why}, about=(thing,), person=person)


def bind_source(
    site: Site, instrument: str, role: str, source: str, jig: str | None = None, *, person: str | None = None
) -> None:
    """Say which real source (and jig) serves a role of the instrument's profile. Trouble for a thing that is none."""
    for thing, what in ((source, "source"), (jig, "jig")):
        known = None if thing is None else site.journal.thing_now(thing)
        if known is not None and (known.what != what or known.retired):
            raise Trouble(f"that is no {what} of this site", allowed=f"a registered {what}", do="Scan its label.")
    body = {"role": role, "source": source, "jig": jig}
    site.record("source-bound", body, about=(instrument, source), person=person)


def place(site: Site, thing: str, whereabouts: str, where: str = "", *, person: str | None = None) -> None:
    """Record where an instrument or source is."""
    site.record("placed", {"whereabouts": whereabouts, "where": where}, about=(thing,), person=person)


def contamination(site: Site, instrument: str, *, found: bool, say: str, person: str | None = None) -> None:
    """Record that an instrument was found contaminated, or found clean again."""
    site.record("contamination", {"found": found, "say": say}, about=(instrument,), person=person)


def leak_test(
    site: Site, source: str, *, on: date, due: date | None, result_bq: str, person: str | None = None
) -> None:
    """Record a leak test of a sealed source; `result_bq` is decimal text in becquerel."""
    body = {"on": on.isoformat(), "due": due.isoformat() if due else None, "result_bq": result_bq}
    site.record("leak-tested", body, about=(source,), person=person)
