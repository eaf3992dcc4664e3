"""What a session of practice came to: worked out once when it ends, and told again from what was done."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from procedures.practice.answer_key import key_of
from procedures.practice.debrief import debrief_of, sheet_of
from procedures.practice.rubric import Rubric, rubric
from procedures.practice.scoring import score
from procedures.practice.session import replay
from procedures.sheets import Lines
from procedures.site.practising import keeping
from procedures.site.practising.room import kit_of, rubric_of
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.sheets import Sheet
    from procedures.site.opening import Site
    from procedures.site.practising.keeping import Kept


def finish(site: Site, kept: Kept) -> None:
    """Score a session that has just ended, and write that down."""
    kit = kit_of(kept.drill.profile)
    by = rubric_of(site)
    key = key_of(kit, kept.drill.case, kept.drill.seed, kept.drill.start)
    found, evidence = score(kept.session, kit, key, by)
    told = debrief_of(found, evidence, kit, key)
    faults = tuple(each.kind for each in kept.drill.case.faults)
    keeping.end(site, kept, found, told.decision, key.own.first, faults, by)


def debrief_sheet(site: Site, session: str) -> Sheet:
    """The debrief of a session that is over, worked out again from what was done."""
    kept = keeping.read(site, session)
    if kept.ended is None and replay(kept.session, kit_of(kept.drill.profile)).over:
        # It could not be scored when it ended: the rubric was no good then.
        finish(site, kept)
        kept = keeping.read(site, session)
    if kept.ended is None:
        raise Trouble("this session is not over yet", do="End it first: go on with it, or give it up.")
    kit = kit_of(kept.drill.profile)
    key = key_of(kit, kept.drill.case, kept.drill.seed, kept.drill.start)
    by = Rubric.model_validate(kept.ended.body["rubric"])
    found, evidence = score(kept.session, kit, key, by)
    made = sheet_of(debrief_of(found, evidence, kit, key), evidence, kit, key)
    own = () if by == rubric() else (Lines(("Scored by the rubric of this room.",), tone="quiet"),)
    return replace(made, about=session, sections=(*made.sections, *own))
