"""The tag that hangs on an instrument which is out of service: to be printed, and read from a step away."""

from __future__ import annotations

from typing import TYPE_CHECKING

from procedures.reasons import reason
from procedures.sheets import Deed, Lines, Pairs, Section, Sheet
from procedures.site import lookups, naming, obstacles
from procedures.site.entries import thing
from procedures.site.records.lockout import since, since_said
from procedures.site.site_days import SiteDays
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.states import InstrumentState, Lockout
    from procedures.site.opening import Site

OUT_OF_SERVICE = "OUT OF SERVICE"

FORBIDS = (
    "DO NOT USE THIS INSTRUMENT.",
    "DO NOT TAKE THIS TAG OFF. It comes off when a complete check has passed, and whoever did that check takes it off.",
    "Questions: ask the site lead. Local rules apply besides.",
)


def tag(site: Site, about: str, _person: str) -> Sheet:
    """The tag of an instrument, for all its lockouts that stand. Raises Trouble when none does."""
    instrument = about.partition(",")[0]
    label = str(thing(site, instrument, "instrument").fields.get("label", ""))
    state = site.journal.instrument_now(instrument)
    standing = [each for each in state.lockouts if each.status != "closed"]
    if not standing:
        raise Trouble(
            f"{label} is not locked out, and no tag hangs on it",
            allowed="an instrument that is out of service",
            do="Lock it out first, if it must not be used.",
        )
    days = SiteDays.of(site)
    sections: list[Section] = [Lines((label,), tone="bad"), Lines(FORBIDS, tone="bad")]
    sections += [_why(site, each) for each in standing]
    sections.append(Lines(_before_use(site, state, standing), title="Before it is used again"))
    fields = state.fields
    which = (("instrument", label), ("serial", str(fields.get("serial", ""))), ("type", str(fields.get("type", ""))))
    sections.append(Pairs(which))
    return Sheet(
        "tag",
        OUT_OF_SERVICE,
        tuple(sections),
        about=instrument,
        line=f"{label}, out of service since {days.written(min(since(site, each) for each in standing))}",
        deeds=(Deed("Lockouts of it", "sheet", "lockout", instrument),),
    )


def _why(site: Site, lockout: Lockout) -> Pairs:
    said = lookups.as_sentences([each.say or reason(each.code).say for each in lockout.reasons])
    return Pairs(
        (
            ("why", said),
            ("tag number", lockout.tag or f"none was given; record {lockout.id[:8]}"),
            ("locked out by", naming.name(site, lockout.by)),
            ("since", since_said(site, lockout)),
        ),
        title="Why",
    )


def _before_use(site: Site, state: InstrumentState, standing: list[Lockout]) -> tuple[str, ...]:
    needs = list(dict.fromkeys(need for each in standing for need in obstacles.needs(site, state, each)))
    steps = ["The cause is found and put right.", *needs, "Only then this tag comes off."]
    return tuple(f"{number}. {step}" for number, step in enumerate(steps, 1))
