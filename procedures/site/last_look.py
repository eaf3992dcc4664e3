"""What is looked at before an event of a checkout is written: is it fit for use indeed, is the source nobody else's."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from procedures.asks import Scan
from procedures.checkout import State
from procedures.clock import Instant
from procedures.conduct import Said
from procedures.journal.envelope import Draft
from procedures.journal.events import JUDGES_INSTRUMENT
from procedures.journal.states import fitness
from procedures.site import opening_facts
from procedures.site.opening import Site
from procedures.trouble import Trouble
from procedures.verdict import not_checked_after_all


def drafts(site: Site, state: State, said: Sequence[Said], who: str, now: Instant) -> tuple[Draft, ...]:
    """What happened, as the journal will have it: an ending that says fit for use only where the journal agrees.

    Something may have come in since the opening, or a clearing may ask for more than this check.
    """
    made = tuple(_draft(state, each, who) for each in said)
    if not any(each.kind == "ended" and each.body["ending"] == "fit for use" for each in made):
        return made
    against = opening_facts.against_fitness(site, state, now)
    if not against:
        would_be = fitness(site.journal.trial(made, now, state.instrument), now.utc)
        if would_be.word == "ready":
            return made
        against = tuple(each.say or each.code for each in would_be.reasons) or (would_be.why,)
    return tuple(
        replace(each, body={**each.body, **not_checked_after_all(against)}) if each.kind == "ended" else each
        for each in made
    )


def _draft(state: State, said: Said, who: str) -> Draft:
    judged = (state.instrument,) if said.kind in JUDGES_INSTRUMENT else ()
    return Draft(said.kind, said.body, (state.checkout, *judged, *said.about), person=who)


def nobody_elses(site: Site, state: State, ask: Scan, text: str) -> None:
    """Raises Trouble when the source that was scanned is out with another checkout that is still open."""
    if not ask.subject or not ask.is_due(text):
        return
    out_with = site.journal.source_now(ask.subject).out_with
    if out_with is None or out_with == state.checkout:
        return
    other = site.journal.checkout_now(out_with)
    # From a checkout that has ended it may go straight to the next; from an open one nobody may take it.
    if other is not None and other.phase != "ended":
        raise Trouble(
            f"{ask.due} is out with another checkout that is still open",
            allowed="one checkout at a time with a source and its jig",
            do="Wait until it is scanned back into its store there.",
        )
