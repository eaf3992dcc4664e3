"""Looking one thing up: folded from its own events, so that what decides never trusts a table. Light."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, Final

from procedures.journal.fields import is_hash
from procedures.readiness import end_of_day, zone_of
from procedures.site.views import OpenCheckout, PersonView, Phase, SourceOut
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.clock import Instant
    from procedures.journal.states import CheckoutState, InstrumentState, SiteState
    from procedures.site.opening import Site

AWAY: Final = frozenset({"at calibration", "lent", "transferred", "missing", "disposed"})
"""Whereabouts of an instrument that is not here to be checked."""
MAY_CHECK: Final = frozenset({"technician", "lead", "trainer"})


def site_state(site: Site) -> SiteState:
    """The site's name, zone, shifts and settings. Raises Trouble when the journal holds no site."""
    found = site.journal.site_now()
    if found is None:
        raise Trouble(
            "this journal holds no site", where=str(site.folder), do="Use the folder in which the site was begun."
        )
    return found


def roles(site: Site, person_id: str) -> frozenset[str]:
    """The roles of a person, none when unknown or retired."""
    known = site.journal.thing_now(person_id) if is_hash(person_id) else None
    if known is None or not known.registered or known.retired or known.what != "person":
        return frozenset()
    return frozenset(known.fields.get("roles", ()))


def person(site: Site, person_id: str) -> PersonView:
    """A person as front ends show them, with why they may not run a checkout ("" if they may)."""
    known = site.journal.thing_now(person_id)
    listed = known.registered and not known.retired and known.what == "person"
    fields: Mapping[str, Any] = known.fields
    return person_view(
        site,
        person_id,
        label=str(fields.get("label", "")),
        name=str(fields.get("name", "")),
        initials=str(fields.get("initials", "")),
        of_roles=tuple(fields.get("roles", ())),
        trained_until=fields.get("trained_until"),
        listed=listed,
    )


def person_view(
    site: Site,
    person_id: str,
    *,
    label: str,
    name: str,
    initials: str,
    of_roles: Sequence[str],
    trained_until: str | None,
    listed: bool = True,
) -> PersonView:
    """What lists and checkouts say of a person now."""
    why = ""
    if not listed:
        why = "not on the site's list of people"
    elif not MAY_CHECK & set(of_roles):
        why = "no role here that checks instruments"
    elif trained_until and is_over(site, trained_until):
        why = f"training ended on {trained_until}"
    return PersonView(person_id, label, name, initials, tuple(of_roles), why)


def measures(site: Site, state: InstrumentState) -> tuple[str, ...]:
    """The radiations that an instrument is for, by its profile in force; none without one."""
    import tomllib

    adopted = site.journal.profile_now(str(state.fields.get("profile", ""))).in_force
    try:
        head = tomllib.loads(adopted.text).get("instrument", {}) if adopted else {}
    except tomllib.TOMLDecodeError:
        head = {}
    return tuple(str(each) for each in head.get("measures", ()))


def given_up(site: Site, *, but: str = "") -> Mapping[str, str]:
    """Labels, folded, that things other than `but` carried before they were given another one, and the thing's id."""
    changes, _ = site.journal.happened(("described",), limit=-1)
    return {
        folded(str(event.body["was"])): event.about[0]
        for event in changes
        if event.body.get("was") and event.about and but not in event.about
    }


def folded(label: str) -> str:
    """A label as the journal compares it: upper and lower case of ASCII alike."""
    return "".join(c.lower() if c.isascii() else c for c in label)


def as_sentences(said: Sequence[str]) -> str:
    """Several things said, as sentences one after the other, each once."""
    return " ".join(dict.fromkeys(f"{each.rstrip('.')}." for each in said))


def is_over(site: Site, day: str) -> bool:
    """Whether a date, good on the day itself by the site's local time, has passed."""
    zone = zone_of(site_state(site).zone)
    return site.clock.now().utc >= end_of_day(date.fromisoformat(day), zone)


def open_checkouts(site: Site) -> tuple[OpenCheckout, ...]:
    """Every checkout of this station that has not ended, as lists show it."""
    now = site.clock.now()
    station = site.journal.station
    return tuple(_open_row(site, row, now) for row in site.journal.open_checkouts() if row.station == station)


def _open_row(site: Site, row: CheckoutState, now: Instant) -> OpenCheckout:
    instrument = site.journal.instrument_row(row.instrument)
    phase: Phase = "asking"
    remaining = None
    if row.phase == "paused":
        phase = "paused"
    elif _session(site, row.checkout) != now.session:
        phase = "left open"
    elif row.wait is not None:
        remaining = max(0.0, row.wait.seconds - max(0.0, now.ticks - row.wait.ticks))
        phase = "waiting" if remaining > 0 else "wait over"
    return OpenCheckout(
        checkout=row.checkout,
        instrument=row.instrument,
        label=instrument.label if instrument else "",
        person=person(site, row.person).name if row.person else "",
        step=row.step.replace("-", " ").capitalize(),
        phase=phase,
        remaining=remaining,
        failed=row.failed,
    )


def _session(site: Site, checkout: str) -> str:
    """The start of the program that a checkout was last gone on with in; "" when no event of it says so.

    A source scanned back from the list (it names no step) is no going on with the checkout.
    """
    events = reversed(site.journal.checkout_events(checkout))
    return next(
        (str(event.body["session"]) for event in events if event.body.get("session") and event.body.get("step") != ""),
        "",
    )


def sources_out(site: Site) -> tuple[SourceOut, ...]:
    """Every check source that is out of its store, and with which checkout."""
    rows = []
    zone = zone_of(site_state(site).zone)
    for row in site.journal.sources_out():
        events = site.journal.checkout_events(row.out_with or "")
        instrument = site.journal.instrument_row(events[0].body["instrument"]) if events else None
        since: datetime = max((event.utc for event in events if row.id in event.about), default=site.clock.now().utc)
        label = instrument.label if instrument else ""
        rows.append(SourceOut(row.id, row.label, row.out_with or "", label, since.astimezone(zone)))
    return tuple(rows)
