"""What the site owns and who works there: registering, describing, binding, placing, retiring.

What is particular to check sources (leak tests, counts, their condition) is in `source_keeping`.

Where `person` is given, what changes the inventory takes a site lead, and their `pin` where the site asks for PINs; it
is looked at last, so that what cannot be recorded anyway costs nobody a try. Without one it is the program itself that
sets a site up. Anyone may end trust: say that something is missing, or contaminated.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import Any, Final

from procedures.answers import LONGEST_SCAN, clean_line
from procedures.journal.bodies import WHEREABOUTS
from procedures.journal.envelope import Draft
from procedures.journal.fields import is_hash
from procedures.journal.states import ThingState
from procedures.journal.store import Overtaken
from procedures.site import rights
from procedures.site.describing import read_fields
from procedures.site.entries import thing, words
from procedures.site.lookups import AWAY, given_up
from procedures.site.lookups import folded as folded
from procedures.site.opening import Site
from procedures.site.rights import Action
from procedures.trouble import Trouble
from procedures.units import shown

TAKE_BACK: Final = "Take it back first: that asks in what condition it is."


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
    pin: str | None = None,
) -> str:
    """Take an instrument (meter, detector, cable and settings as one set) into the inventory; its id comes back."""
    given = {"serial": serial, "type": type, "profile": profile, "detector": detector, "cable": cable}
    _entitled(site, person, "register")
    fields = read_fields("instrument", given)
    registered_once(site, fields["serial"], fields["type"])
    return _register(site, "instrument", label, fields, person, pin)


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
    pin: str | None = None,
) -> str:
    """Take a check source into the inventory; its id comes back. Raises Trouble for an unknown nuclide or unit.

    A source whose certificate says more (`source_keeping.add`) is of the same kind.
    """
    given = {
        "serial": serial,
        "nuclide": nuclide,
        "activity": activity,
        "activity_on": activity_on,
        "emits": emits,
        "strength": "strong" if strong else "",
    }
    _entitled(site, person, "register")
    return _register(site, "source", label, read_fields("source", given), person, pin)


def register_jig(site: Site, *, label: str, person: str | None = None, pin: str | None = None) -> str:
    """Take a jig (the holder that fixes a source's geometry) into the inventory; its id comes back."""
    _entitled(site, person, "register")
    return _register(site, "jig", label, {}, person, pin)


def register_person(
    site: Site,
    *,
    label: str,
    name: str,
    initials: str,
    roles: Sequence[str],
    trained_until: date | None = None,
    person: str | None = None,
    pin: str | None = None,
) -> str:
    """Take a person onto the list; the id comes back. `label` is what the badge carries."""
    given = {"name": name, "initials": initials, "roles": roles, "trained_until": trained_until}
    _entitled(site, person, "set up")
    return _register(site, "person", label, read_fields("person", given), person, pin)


def _register(site: Site, what: str, label: str, fields: Mapping[str, Any], person: str | None, pin: str | None) -> str:
    body = {"what": what, "label": free_label(site, label), **fields}
    return _record(site, "registered", body, (), person, pin, still=lambda: free_label(site, label))


def registered_once(site: Site, serial: str, type_: str, but: str = "") -> None:
    """Raises Trouble when an instrument in service, other than `but`, is of this type and has this serial number."""
    for row in site.journal.instruments_found(serial, limit=-1)[0] if serial else ():
        same = (row.serial.casefold(), row.type.casefold()) == (serial.casefold(), type_.casefold())
        if same and row.id != but:
            raise Trouble(
                f"{type_} with serial number {serial} is registered already, as {row.label}",
                allowed="each instrument once",
                do=f"Use {row.label}. A new label on it is a change of its description.",
            )


def free_label(site: Site, label: str, *, of: str = "") -> str:
    """The label, cleaned. Raises Trouble when it is empty, too long, or was ever carried by another thing than `of`.

    A label that was given up or retired is never used again: an old sticker must not point at a new thing.
    """
    line = clean_line(label)
    if not line or len(line) > LONGEST_SCAN:
        raise Trouble(
            "that is no label", allowed=f"1 to {LONGEST_SCAN} characters", do="Enter what the barcode carries."
        )
    if any(each.id != of for each in site.journal.labelled(line)) or folded(line) in given_up(site, but=of):
        raise Trouble(
            f"the label {line} is in use, or was once",
            allowed="a label that nothing here has ever carried",
            do="Print a new label.",
        )
    return line


def describe(
    site: Site, thing_id: str, changes: Mapping[str, Any], *, person: str | None = None, pin: str | None = None
) -> None:
    """Change describing fields of a thing or person, `label` among them.

    A changed serial number, type, detector, cable or profile ends the instrument's readiness: what was shown was shown
    of another set. Raises Trouble for a field that such a thing does not have, for one that says nothing, for a label
    that is in use, for what is retired, and, where a `person` does it, when it would leave the site without a lead.
    What is said of a source has to fit together.
    """
    last = site.journal.last_about(thing_id) if is_hash(thing_id) else ""
    known = thing(site, thing_id, "instrument", "source", "jig", "person")
    _entitled(site, person, _right(known))
    _in_use(known)
    others = {field: value for field, value in changes.items() if field != "label"}
    made = read_fields(known.what, others) if others or "label" not in changes else {}
    if known.what == "source" and others:
        from procedures.site.source_keeping import fields_of  # which itself registers by this module

        fields_of({**known.fields, **made})
    if known.what == "instrument":
        now = {**known.fields, **made}
        registered_once(site, str(now["serial"]), str(now["type"]), but=thing_id)
    if "label" in changes:
        made["label"] = its_label(site, known, changes["label"])

    def still() -> None:
        if "label" in changes:
            its_label(site, known, changes["label"])
        if person is not None and known.what == "person" and "lead" not in made.get("roles", ("lead",)):
            rights.keep_a_lead(site, thing_id)

    still()
    gives_up = folded(str(made.get("label", known.fields["label"]))) != folded(str(known.fields["label"]))
    body = {"set": made, "was": known.fields["label"]} if gives_up else {"set": made}
    _record(site, "described", body, (thing_id,), person, pin, last=last, still=still)


def its_label(site: Site, known: ThingState, label: str) -> str:
    """A label that this thing may carry: its own, now or once, in small or capital letters, or a free one."""
    line = clean_line(label)
    own = str(known.fields["label"])
    return line if line and line.casefold() == own.casefold() else free_label(site, label, of=known.id)


def retire(site: Site, thing_id: str, why: str, *, person: str | None = None, pin: str | None = None) -> None:
    """Take a thing or person off the list. Nothing is deleted.

    Raises Trouble for what is retired already, and, where a `person` does it, for what may_be_retired refuses.
    """
    last = site.journal.last_about(thing_id) if is_hash(thing_id) else ""
    known = thing(site, thing_id, "instrument", "source", "jig", "person")
    _entitled(site, person, _right(known))
    _in_use(known)

    def still() -> None:
        if person is not None:
            may_be_retired(site, known)

    still()
    _record(site, "retired", {"why": words("reason", why)}, (thing_id,), person, pin, last=last, still=still)


def may_be_retired(site: Site, known: ThingState) -> None:
    """Raises Trouble for what is retired already, is out of the house, or is the only site lead.

    What is handed out, and a source that is out of its store, would be looked for by nobody any more.
    """
    _in_use(known)
    if known.what == "person":
        rights.keep_a_lead(site, known.id)
    label = known.fields.get("label", "this")
    if known.what == "instrument" and site.journal.instrument_now(known.id).handed is not None:
        raise Trouble(
            f"{label} is handed out", allowed="an instrument that came back, or is recorded as missing", do=TAKE_BACK
        )
    if known.what == "source" and site.journal.source_now(known.id).out_with is not None:
        raise Trouble(
            f"{label} is out of its store",
            allowed="a source that is back in its store, or is recorded as missing",
            do="Scan it back first.",
        )


def bind_source(
    site: Site,
    instrument: str,
    role: str,
    source: str,
    jig: str | None = None,
    *,
    person: str | None = None,
    pin: str | None = None,
) -> None:
    """Say which real source (and jig) serves a role of the instrument's profile. Trouble for a thing that is none."""
    known = thing(site, instrument, "instrument")
    _entitled(site, person, "register")
    _in_use(known)
    for bound, what in ((source, "source"), (jig, "jig")):
        if bound is not None and thing(site, bound, what).retired:
            raise Trouble(f"that {what} is out of use", allowed=f"a {what} that is in use", do="Scan its label.")
    body = {"role": words("role", role, LONGEST_SCAN), "source": source, "jig": jig}
    _record(site, "source-bound", body, (instrument, source), person, pin)


def place(
    site: Site,
    thing_id: str,
    whereabouts: str,
    where: str = "",
    *,
    person: str | None = None,
    pin: str | None = None,
) -> None:
    """Record where an instrument, source or jig is. That it is missing may be said by anyone, without a PIN.

    An instrument that comes back from where nobody here could see to it is checked before its next use.
    """
    last = site.journal.last_about(thing_id) if is_hash(thing_id) else ""
    known = thing(site, thing_id, "instrument", "source", "jig")
    if whereabouts not in WHEREABOUTS:
        raise Trouble(
            f"“{shown(whereabouts)}” is not where a thing can be",
            allowed=", ".join(sorted(WHEREABOUTS)),
            do="Choose one of these.",
        )
    body = {"whereabouts": whereabouts, "where": words("place", where, needed=False)}
    if whereabouts == "missing":
        _known(site, person)
        site.record("placed", body, about=(thing_id,), person=person)
        return
    _entitled(site, person, "register")
    if person is not None:
        not_handed_out(site, known)
    more = _back_again(site, known, whereabouts, person)
    _record(site, "placed", body, (thing_id,), person, pin, *more, last=last)


def _back_again(site: Site, known: ThingState, whereabouts: str, person: str | None) -> tuple[Draft, ...]:
    """What comes with an instrument that was away and is here again: its readiness ends."""
    before = site.journal.instrument_now(known.id).whereabouts if known.what == "instrument" else ""
    if before not in AWAY or whereabouts in AWAY:
        return ()
    said = {"cause": "other", "say": f"It was {before}, and is here again."}
    return (Draft("readiness-ended", said, (known.id,), person=person),)


def not_handed_out(site: Site, known: ThingState) -> None:
    """Raises Trouble for an instrument that is handed out: only taking it back asks in what condition it came back."""
    if known.what == "instrument" and site.journal.instrument_now(known.id).handed is not None:
        raise Trouble(f"{known.fields['label']} is handed out", allowed="missing, as long as it is out", do=TAKE_BACK)


def contamination(
    site: Site, instrument: str, *, found: bool, say: str, person: str | None = None, pin: str | None = None
) -> None:
    """Record that an instrument was found contaminated (anyone may), or found clean again (a lead, with `pin`).

    `say` is a remark; a person who says that it is clean says by what that was shown.
    """
    thing(site, instrument, "instrument")
    last = site.journal.last_about(instrument)
    shown_by = not found and person is not None
    body = {
        "found": found,
        "say": words("way it was shown to be clean" if shown_by else "remark", say, needed=shown_by),
    }
    if found:
        _known(site, person)
        site.record("contamination", body, about=(instrument,), person=person)
        return
    _entitled(site, person, "clean")
    _record(site, "contamination", body, (instrument,), person, pin, last=last)


def _right(known: ThingState) -> Action:
    return "set up" if known.what == "person" else "register"


def _in_use(known: ThingState) -> None:
    if known.retired:
        raise Trouble(
            f"{known.fields.get('label', 'this')} was taken off the list for good",
            allowed=f"a{'n' if known.what == 'instrument' else ''} {known.what} that is on the list",
            do="Look at the label again.",
        )


def _entitled(site: Site, person: str | None, action: Action) -> None:
    if person is not None:
        rights.entitled(site, person, action)


def _known(site: Site, person: str | None) -> None:
    """Raises Trouble for somebody who never was on the list: a record must not name a stranger."""
    if person:
        thing(site, person, "person")


def _record(
    site: Site,
    kind: str,
    body: Mapping[str, Any],
    about: Sequence[str],
    person: str | None,
    pin: str | None,
    *more: Draft,
    last: str | None = None,
    still: Callable[[], object] = lambda: None,
) -> str:
    """Record it, with `more`, in one transaction; its id. `last` is the newest event about it that was decided by.

    A PIN takes its time, and another window may be faster: what is asked of other things is asked `still` once more.
    """
    if person is not None:
        rights.confirm(site, person, pin)
        still()
    drafts = (Draft(kind, body, tuple(about), person=person or None), *more)
    expect = (about[0], last) if last is not None else None
    try:
        return site.journal.append(drafts, site.clock.now(), expect=expect)[0].hash
    except Overtaken:
        raise Trouble(
            "something about it came in meanwhile; nothing was recorded", do="Look at it again, then do it once more."
        ) from None
