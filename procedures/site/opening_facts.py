"""Whether a checkout may be opened, and the facts it will be judged by: folded afresh, never taken from a table."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

from procedures.checkout import State
from procedures.clock import Instant
from procedures.facts import ComponentFacts, Facts, InstrumentFacts, SourceFacts
from procedures.journal.events import body_of
from procedures.journal.fold_instrument import NEWER, ends_readiness
from procedures.journal.states import BEHIND, InstrumentState
from procedures.journal.tables import INDEX_DAMAGED
from procedures.mixtures import one_half_life
from procedures.nuclides import HalfLife
from procedures.site import lookups
from procedures.site.lookups import as_sentences
from procedures.site.opening import Site
from procedures.site.source_facts import certified_on, composition, half_life_since
from procedures.site.source_trouble import day, source_trouble
from procedures.site.usable_references import UsableReferences, usable_references
from procedures.trouble import Trouble

__all__ = [
    "Opening",
    "against_fitness",
    "clock_is_believed",
    "gather",
    "instrument_facts",
    "may_check",
    "source_facts_of",
    "source_trouble",
]

if TYPE_CHECKING:
    from procedures.journal.states import Binding, Lockout, SourceState, ThingState

NO_HALF_LIFE: Final = HalfLife("", Decimal(0), "d", 0.0, None, "")
"""Of a source that these records do not hold: it may not be used, so nothing is worked out with it."""


@dataclass(frozen=True, slots=True)
class Opening:
    """What an `opened` event will say. `expect` is the last event about the instrument that this was decided by."""

    profile: str
    clearings: tuple[str, ...]
    facts: Facts
    expect: str


def gather(site: Site, instrument: str, person: str, now: Instant) -> Opening:
    """The facts for a new checkout of this instrument by this person.

    Raises Trouble when it may not be opened, saying why and what to do.
    """
    clock_is_believed(site, now)
    may_check(site, person)
    expect = site.journal.last_about(instrument)
    state = site.journal.instrument_now(instrument)
    _may_be_opened(site, state)
    settings = site.settings()
    references = usable_references(state, now.utc, settings)
    facts = Facts(
        instrument=instrument_facts(state),
        scales=(),
        opened=now.utc,
        sources=source_facts_of(site, state, now, settings, references),
        references=references.usable,
        settings={name: settings[name] for name in ("zone", "day_starts", "shifts", "ready_ends", "air_reference")},
    )
    clearings = tuple(dict.fromkeys(each for lockout in _standing(state) for each in lockout.clearings))
    return Opening(str(state.fields["profile"]), clearings, facts, expect)


def clock_is_believed(site: Site, now: Instant) -> None:
    """Raises Trouble when the laptop's clock stands before the newest record."""
    newest = site.journal.last_time()
    if now.utc < newest - BEHIND:
        raise Trouble(
            f"the laptop's clock says {now.utc:%Y-%m-%d %H:%M} UTC, before the newest record ({newest:%Y-%m-%d %H:%M})",
            allowed="a clock that is right",
            do="Set the laptop's clock: nothing can be called fit for use before. If it is right now and stood far "
            "ahead when that record was made, go on from the last backup before that, or join from another laptop.",
        )


def may_check(site: Site, person: str) -> None:
    """Raises Trouble when this person may not run a checkout."""
    known = lookups.person(site, person)
    if known.may_check:
        raise Trouble(
            f"{known.name or 'this person'} may not run a checkout: {known.may_check}",
            allowed="a technician, trainer or lead whose training is valid",
            do="Somebody else has to do it, or the site lead renews the training.",
        )


def _standing(state: InstrumentState) -> tuple[Lockout, ...]:
    return tuple(each for each in state.lockouts if each.status != "closed")


def _may_be_opened(site: Site, state: InstrumentState) -> None:
    label = str(state.fields.get("label", "this instrument"))
    if not state.registered or state.retired:
        raise Trouble(f"{label} is not in service here", do="Look at the label again.")
    if state.whereabouts in lookups.AWAY:
        raise Trouble(
            f"{label} is recorded as {state.whereabouts}",
            allowed="an instrument that is here",
            do="If you hold it in your hands, the site lead records first that it came back.",
        )
    unfinished = [row for row in lookups.open_checkouts(site) if row.instrument == state.id]
    if unfinished:
        raise Trouble(
            f"a checkout of {label} is open already",
            allowed="one checkout of an instrument at a time",
            do="Go on with that one, or abandon it.",
        )
    still_open = [each for each in state.lockouts if each.status == "open"]
    if still_open:
        say = as_sentences([reason.say or reason.code for each in still_open for reason in each.reasons])
        raise Trouble(
            f"{label} is locked out. {say}",
            allowed="a checkout after the site lead has cleared it",
            do=f"Leave it on the out-of-service shelf{_tag(still_open[0].tag)}.",
        )
    unreadable = [problem for problem in state.standing.problems if problem in (NEWER, INDEX_DAMAGED)]
    if unreadable:
        newer = unreadable[0] == NEWER
        raise Trouble(
            unreadable[0],
            do="Use the newer program for this instrument." if newer else "Tell the site lead: checklist-tui verify",
        )


def _tag(tag: str) -> str:
    return f" with its tag {tag}" if tag else ""


def instrument_facts(state: InstrumentState) -> InstrumentFacts:
    """What is marked on the instrument, and its calibration in force, as this state of it says."""
    fields = state.fields
    calibration = state.calibration
    return InstrumentFacts(
        id=state.id,
        label=str(fields.get("label", "")),
        serial=str(fields.get("serial", "")),
        type=str(fields.get("type", "")),
        detector=str(fields.get("detector", "")),
        cable=str(fields.get("cable", "")),
        calibrated_on=day(calibration.on) if calibration else None,
        calibration_due=day(calibration.due) if calibration else None,
    )


def source_facts_of(
    site: Site, state: InstrumentState, now: Instant, settings: Mapping[str, str], references: UsableReferences
) -> tuple[SourceFacts, ...]:
    """The sources bound to this instrument, by role, each with what speaks against its use at that moment."""
    return tuple(_source(site, role, binding, now, settings, references) for role, binding in state.bindings.items())


def _source(
    site: Site, role: str, binding: Binding, now: Instant, settings: Mapping[str, str], references: UsableReferences
) -> SourceFacts:
    source = site.journal.source_now(binding.source)
    fields = source.fields
    taken = [each.at for each in references.usable if each.source == binding.source and each.at <= now.utc]
    newest = (max(taken),) if taken else ()
    known, unsure = half_life_since(fields, newest, now.utc) if source.registered else (None, "")
    components, shares_on = _falling_apart(fields) if known else ((), None)
    known = known or NO_HALF_LIFE
    jig = site.journal.thing_now(binding.jig) if binding.jig else None
    return SourceFacts(
        role=role,
        id=binding.source,
        label=str(fields.get("label", "")),
        nuclide=known.nuclide,
        half_life_days=float(known.days),
        half_life_relative_u=known.relative_uncertainty,
        half_life_source=known.source,
        jig=str(jig.fields.get("label", "")) if jig else "",
        emits=str(fields.get("emits", "")),
        strong=fields.get("strength") == "strong",
        trouble=source_trouble(source, now.utc, settings)
        or _label_trouble(site, source, jig)
        or unsure
        or references.trouble_with(binding.source),
        components=components,
        shares_on=shares_on,
    )


def _falling_apart(fields: Mapping[str, Any]) -> tuple[tuple[ComponentFacts, ...], date | None]:
    """The nuclides of a source that fall differently, and the day of their shares; nothing where one half-life holds.

    Raises Trouble where `half_life_since` finds no half-life.
    """
    parts = composition(fields)
    if one_half_life(parts) is not None:
        return (), None
    rows = tuple(ComponentFacts(each.nuclide, each.share, each.half_life.days) for each in parts)
    return rows, certified_on(fields).date()


def _label_trouble(site: Site, *things: SourceState | ThingState | None) -> str:
    """A scan of a label that two living things carry does not say which of them it was."""
    labels = (str(thing.fields.get("label", "")) for thing in things if thing is not None)
    twice = [label for label in labels if sum(each.living for each in site.journal.labelled(label)) > 1]
    return f"the label {twice[0]} is on two things: tell the site lead" if twice else ""


def _ended_since(site: Site, state: State) -> bool:
    for event in site.journal.about(state.instrument, limit=1000):
        if event.hash == state.checkout:
            return False
        # An event that cannot be read is one that may end it.
        body = body_of(event)
        own = body is not None and body.get("checkout") == state.checkout
        if not own and event.kind != "locked-out" and (body is None or ends_readiness(event, body)):
            return True
    return True


def _sources_since(site: Site, state: State, fresh: InstrumentState, now: Instant) -> Iterator[str]:
    """What is wrong now with the sources of the opening: what each may be used for, and whether it is still bound."""
    settings = site.settings()
    for source in state.facts.sources:
        bound = fresh.bindings.get(source.role)
        jig = site.journal.thing_now(bound.jig) if bound and bound.jig else None
        if bound is None or bound.source != source.id or str(jig.fields.get("label", "") if jig else "") != source.jig:
            yield f"another source or jig was bound to the role {source.role} during the check"
        held = site.journal.source_now(source.id)
        trouble = source_trouble(held, now.utc, settings) or _label_trouble(site, held, jig)
        if trouble and not source.trouble:
            yield trouble


def against_fitness(site: Site, state: State, now: Instant) -> tuple[str, ...]:
    """What has come in since the opening that speaks against fitness: the instrument is folded afresh.

    The person and the sources are looked at again as well: a checkout may be days old when it ends.
    """
    fresh = site.journal.instrument_now(state.instrument)
    found = []
    for lockout in fresh.lockouts:
        answered = set(lockout.clearings) & set(state.clearings)
        if lockout.status != "closed" and lockout.id != state.checkout and not answered:
            words = as_sentences([reason.say or reason.code for reason in lockout.reasons])
            found.append(f"it was locked out meanwhile: {words}")
    found.extend(_sources_since(site, state, fresh, now))
    known = lookups.person(site, state.person)
    if known.may_check:
        found.append(f"{known.name or 'whoever did it'} may not run a checkout: {known.may_check}")
    if fresh.retired or fresh.whereabouts in lookups.AWAY:
        found.append("it was taken out of service meanwhile")
    if _ended_since(site, state):
        found.append("its readiness was ended during the check")
    if now.utc < site.journal.last_time() - BEHIND:
        found.append("the clock stands before the newest record")
    return tuple(found)
