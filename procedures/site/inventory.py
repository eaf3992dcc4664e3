"""What the site owns and who works there: registering, describing, binding, placing, retiring."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from procedures.answers import LONGEST_SCAN, clean_line
from procedures.journal.bodies import WHEREABOUTS
from procedures.site.describing import read_fields
from procedures.site.entries import thing, words
from procedures.site.opening import Site
from procedures.trouble import Trouble
from procedures.units import read_number, shown


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
    given = {"serial": serial, "type": type, "profile": profile, "detector": detector, "cable": cable}
    fields = read_fields("instrument", given)
    _registered_once(site, fields["serial"], fields["type"])
    return _register(site, "instrument", label, fields, person)


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
    given = {
        "serial": serial,
        "nuclide": nuclide,
        "activity": activity,
        "activity_on": activity_on,
        "emits": emits,
        "strength": "strong" if strong else "",
    }
    return _register(site, "source", label, read_fields("source", given), person)


def register_jig(site: Site, *, label: str, person: str | None = None) -> str:
    """Take a jig (the holder that fixes a source's geometry) into the inventory; its id comes back."""
    return _register(site, "jig", label, {}, person)


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
    given = {"name": name, "initials": initials, "roles": roles, "trained_until": trained_until}
    return _register(site, "person", label, read_fields("person", given), person)


def _register(site: Site, what: str, label: str, fields: Mapping[str, Any], person: str | None) -> str:
    body = {"what": what, "label": free_label(site, label), **fields}
    return site.record("registered", body, person=person).hash


def _registered_once(site: Site, serial: str, type_: str, but: str = "") -> None:
    for row in site.journal.instruments_found(serial, limit=50)[0] if serial else ():
        same = (row.serial.casefold(), row.type.casefold()) == (serial.casefold(), type_.casefold())
        if same and row.id != but:
            raise Trouble(
                f"{type_} with serial number {serial} is registered already, as {row.label}",
                allowed="each instrument once",
                do=f"Use {row.label}. A new label on it is a change of its description.",
            )


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


def describe(site: Site, thing_id: str, changes: Mapping[str, Any], *, person: str | None = None) -> None:
    """Change describing fields of a thing or person, `label` among them.

    A changed serial number, type, detector, cable or profile ends the instrument's readiness: what was shown was shown
    of another set. Raises Trouble for a field that such a thing does not have, for one that says nothing, and for a
    label that is in use.
    """
    known = thing(site, thing_id, "instrument", "source", "jig", "person")
    others = {field: value for field, value in changes.items() if field != "label"}
    made = read_fields(known.what, others) if others or "label" not in changes else {}
    if known.what == "instrument":
        now = {**known.fields, **made}
        _registered_once(site, str(now["serial"]), str(now["type"]), but=thing_id)
    if "label" in changes:
        made["label"] = _its_label(site, str(known.fields["label"]), changes["label"])
    site.record("described", {"set": made}, about=(thing_id,), person=person)


def _its_label(site: Site, own: str, label: str) -> str:
    line = clean_line(label)
    return line if line and line.casefold() == own.casefold() else free_label(site, label)


def retire(site: Site, thing_id: str, why: str, *, person: str | None = None) -> None:
    """Take a thing or person off the list. Nothing is deleted."""
    thing(site, thing_id, "instrument", "source", "jig", "person")
    site.record("retired", {"why": words("reason", why)}, about=(thing_id,), person=person)


def bind_source(
    site: Site, instrument: str, role: str, source: str, jig: str | None = None, *, person: str | None = None
) -> None:
    """Say which real source (and jig) serves a role of the instrument's profile. Trouble for a thing that is none."""
    thing(site, instrument, "instrument")
    for bound, what in ((source, "source"), (jig, "jig")):
        if bound is not None and thing(site, bound, what).retired:
            raise Trouble(f"that {what} is out of use", allowed=f"a {what} that is in use", do="Scan its label.")
    body = {"role": words("role", role, LONGEST_SCAN), "source": source, "jig": jig}
    site.record("source-bound", body, about=(instrument, source), person=person)


def place(site: Site, thing_id: str, whereabouts: str, where: str = "", *, person: str | None = None) -> None:
    """Record where an instrument, source or jig is."""
    thing(site, thing_id, "instrument", "source", "jig")
    if whereabouts not in WHEREABOUTS:
        raise Trouble(f"“{shown(whereabouts)}” is not where a thing can be", allowed=", ".join(sorted(WHEREABOUTS)))
    body = {"whereabouts": whereabouts, "where": words("place", where, needed=False)}
    site.record("placed", body, about=(thing_id,), person=person)


def contamination(site: Site, instrument: str, *, found: bool, say: str, person: str | None = None) -> None:
    """Record that an instrument was found contaminated, or found clean again."""
    thing(site, instrument, "instrument")
    body = {"found": found, "say": words("remark", say, needed=False)}
    site.record("contamination", body, about=(instrument,), person=person)


def leak_test(
    site: Site, source: str, *, on: date, due: date | None, result_bq: str, person: str | None = None
) -> None:
    """Record a leak test of a sealed source; `result_bq` is decimal text in becquerel."""
    thing(site, source, "source")
    result = read_number(result_bq)
    if result < 0:
        raise Trouble(f"{result_bq} Bq is no activity", allowed="0 or more", do="Enter the result again.")
    if due is not None and due <= on:
        raise Trouble("a leak test cannot end before it was made", allowed=f"a date after {on}", do="Enter it again.")
    body = {"on": on.isoformat(), "due": due.isoformat() if due else None, "result_bq": f"{result:f}"}
    site.record("leak-tested", body, about=(source,), person=person)
