"""From events to the state of sources, people, jigs, profiles, the site, and of a checkout as lists show it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, Final

from procedures.journal.envelope import Event
from procedures.journal.events import CHECKOUT_KINDS, body_of, failed
from procedures.journal.lineage import UNFORKED, Lineage
from procedures.journal.states import (
    Adoption,
    CheckoutState,
    ProfileState,
    SiteState,
    SourceState,
    ThingState,
    Wait,
)

Readable = tuple[Event, Mapping[str, Any]]


def _readable(events: Iterable[Event]) -> list[Readable]:
    found = []
    for event in sorted(set(events), key=lambda one: one.stamp):
        body = body_of(event)
        if body is not None:
            found.append((event, body))
    return found


def fold_thing(thing: str, events: Iterable[Event]) -> ThingState:
    """What all registered things have: sort, fields by their last writer, and whether it was retired."""
    state = ThingState(thing, False, "", {})
    for event, body in _readable(events):
        if event.kind == "registered" and event.hash == thing:
            fields = {key: value for key, value in body.items() if key != "what"}
            state = replace(state, registered=True, what=body["what"], fields=fields | dict(state.fields))
        elif event.kind == "described" and thing in event.about:
            state = replace(state, fields={**state.fields, **body["set"]})
        elif event.kind == "retired" and thing in event.about:
            state = replace(state, retired=True)
    return state


def fold_person(person: str, events: Iterable[Event]) -> ThingState:
    """A person: fields label, name, initials, roles, trained_until."""
    return fold_thing(person, events)


def fold_source(source: str, events: Iterable[Event], *, lineage: Lineage = UNFORKED) -> SourceState:
    """A check source. It is out with a checkout from the scan that took it until a scan or a person puts it back.

    That it is missing, damaged or has slipped stands until somebody who knew of that says otherwise.
    """
    known = list(events)
    thing = fold_thing(source, known)
    state = SourceState(source, thing.registered, thing.fields, retired=thing.retired)
    lost: list[Readable] = []
    harmed: list[Readable] = []
    for event, body in _readable(known):
        if event.kind in ("placed", "counted"):
            missing = not body["found"] if event.kind == "counted" else body["whereabouts"] == "missing"
            lost = [*lost, (event, body)] if missing else _unanswered(lost, event, lineage)
        elif event.kind == "source-condition":
            harmed = [*harmed, (event, body)] if body["condition"] != "good" else _unanswered(harmed, event, lineage)
        match event.kind:
            case "placed":
                state = replace(state, whereabouts=body["whereabouts"], where=body["where"], out_with=None)
            case "scanned" if source in event.about and body["mark"] in ("source-out", "source-back"):
                state = replace(state, out_with=body["checkout"] if body["mark"] == "source-out" else None)
            case "leak-tested" if body["on"] >= (state.leak_tested or ""):
                # The one made last counts, whenever and wherever an older one was typed in.
                state = replace(state, leak_tested=body["on"], leak_due=body["due"], leak_result=body["result_bq"])
            case "counted":
                state = _counted(state, body)
            case "source-condition":
                state = replace(state, condition=body["condition"], condition_say=body["say"])
    if lost:
        state = replace(state, whereabouts="missing", where=lost[-1][1]["where"])
    if harmed:
        # Damage outweighs a seat that it slipped out of: that one is put right at the bench.
        worst = next((body for _, body in reversed(harmed) if body["condition"] == "damaged"), harmed[-1][1])
        state = replace(state, condition=worst["condition"], condition_say=worst["say"])
    return state


def _unanswered(said: list[Readable], answer: Event, lineage: Lineage) -> list[Readable]:
    """What is left of all that was said against a source after an answer whose writer had not heard of everything."""
    return [one for one in said if not lineage.saw(answer, one[0])]


def _counted(state: SourceState, body: Mapping[str, Any]) -> SourceState:
    """An inventory says where a source is: one that was missing and is found is here again, one that is lent is not."""
    state = replace(state, counted_on=body["on"], counted_found=body["found"])
    if not body["found"]:
        return replace(state, whereabouts="missing", where=body["where"])
    whereabouts = "here" if state.whereabouts == "missing" else state.whereabouts
    return replace(state, whereabouts=whereabouts, where=body["where"] or state.where)


def fold_site(events: Iterable[Event]) -> SiteState | None:
    """The site and its settings; None before any `site-begun`."""
    base: dict[str, Any] = {}
    settings: dict[str, Any] = {}
    for event, body in _readable(events):
        if event.kind == "site-begun":
            base.update({key: body[key] for key in ("name", "zone", "day_starts", "shifts")})
            settings.update(body["settings"])
        elif event.kind == "settings-changed":
            for key, value in body["set"].items():
                (base if key in ("name", "zone", "day_starts", "shifts") else settings)[key] = value
    if "zone" not in base:
        return None
    return SiteState(base["name"], base["zone"], base["day_starts"], tuple(base["shifts"]), settings)


def fold_profile(profile: str, events: Iterable[Event]) -> ProfileState:
    """The adoptions of one profile. In force is the one that no other replaces; two of those, or anything unreadable,
    leave none in force."""
    known = set(events)
    adoptions = tuple(
        Adoption(
            event.hash,
            body["revision"],
            body["title"],
            body["sha256"],
            body["text"],
            tuple(body["replaces"]),
            event.utc,
            event.person,
        )
        for event, body in _readable(known)
        if event.kind == "profile-adopted" and body["profile"] == profile
    )
    replaced = {old for one in adoptions for old in one.replaces}
    heads = tuple(one for one in adoptions if one.event not in replaced)
    clear = len(heads) == 1 and all(body_of(event) is not None for event in known)
    return ProfileState(profile, adoptions, tuple(one.event for one in heads), heads[0] if clear else None)


def fold_profiles(events: Iterable[Event]) -> dict[str, ProfileState]:
    """Every profile that these events adopt, by id."""
    known = list(events)
    ids = sorted(
        {name.removeprefix("profile:") for event in known for name in event.about if name.startswith("profile:")}
    )
    return {one: fold_profile(one, [event for event in known if f"profile:{one}" in event.about]) for one in ids}


OVER: Final = ("ended", "withdrawn")
SETS_PHASE: Final = ("wait-begun", "wait-kept", "wait-broken", "paused", "resumed", *OVER)
"""Kinds of event that say in which phase a checkout is."""


def fold_checkout(events: Iterable[Event]) -> CheckoutState | None:
    """One checkout as the list of open checkouts shows it; None where its opening is not among the events."""
    state = None
    for event in sorted(set(events), key=lambda one: one.stamp):
        state = after(state, event)
    return state


def after(state: CheckoutState | None, event: Event) -> CheckoutState | None:
    """The checkout one event later. An event that cannot be read still is its last one; what only names it is not."""
    body = body_of(event)
    if state is None:
        if event.kind != "opened" or body is None:
            return None
        return CheckoutState(
            event.hash,
            body["instrument"],
            event.person,
            event.station,
            "",
            "asking",
            None,
            False,
            event.hash,
            event.utc,
        )
    if body is not None and (event.kind not in CHECKOUT_KINDS or body["checkout"] != state.checkout):
        return state
    change: dict[str, Any] = {"last_event": event.hash, "last_utc": event.utc}
    if body is not None:
        leads_to = body.get("next", body.get("step"))
        if isinstance(leads_to, str) and leads_to:
            change["step"] = leads_to
        change |= _change(state, event, body)
    return replace(state, **change)


def _change(state: CheckoutState, event: Event, body: Mapping[str, Any]) -> dict[str, Any]:
    """What one event of a checkout changes in it besides its last event and step."""
    match event.kind:
        case "wait-begun":
            wait = Wait(body["step"], body["ask"], body["seconds"], body["ticks"], body["session"])
            return {"phase": "waiting", "wait": wait}
        case "wait-kept" | "wait-broken":
            return {"phase": "asking", "wait": None}
        case "paused":
            return {"phase": "paused"}
        case "resumed":
            person = state.person if body["same_person"] else event.person
            # A wait begins anew and says so; a hold waits for its button.
            return {"phase": "asking", "wait": None, "person": person}
        case "found" if failed(body["finding"]):
            return {"failed": True}
        case "failed-by-judgement":
            return {"failed": True}
        case kind if kind in OVER:
            return {"phase": "ended", "wait": None}
    return {}
