"""Lockouts as sheets: an instrument's with what stands in the way of clearing, and the list of all that are locked."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from procedures.journal.moments import utc_moment
from procedures.journal.states import InstrumentState, Lockout, fitness
from procedures.reasons import reason
from procedures.sheets import Column, Deed, Grid, Lines, Listing, Pairs, Query, Row, Section, Sheet, Tone
from procedures.site import local_time, lookups, naming, obstacles, people, source_watch
from procedures.site.entries import thing

if TYPE_CHECKING:
    from procedures.site.opening import Site

STRUCK = "Entered in error; the entry is kept."
_CLOSED = (
    Column("since", least=16),
    Column("why", least=20),
    Column("cleared by", gives_way=2),
    Column("back after the check of", gives_way=1, least=16),
)


def lockout(site: Site, about: str, person: str) -> Sheet:
    """The lockouts of an instrument: those that stand with what has to be done, and those that are over."""
    thing(site, about, "instrument")
    state = site.journal.instrument_now(about)
    label = str(state.fields.get("label", ""))
    standing = [each for each in reversed(state.lockouts) if each.status != "closed"]
    found = fitness(state, site.clock.now().utc)
    sections: list[Section] = [*_suspects(site, state), *(_standing(site, state, each) for each in standing)]
    if not standing:
        sections.append(Lines(("No lockout of it stands.",), tone="quiet"))
    over = [each for each in reversed(state.lockouts) if each.status == "closed"]
    sections.append(Grid(_CLOSED, tuple(_closed(site, each) for each in over), title="Earlier lockouts"))
    return Sheet(
        "lockout",
        f"Lockouts of {label}",
        tuple(sections),
        about=about,
        line=f"{found.word}: {found.why}",
        deeds=deeds(site, state, person),
    )


def deeds(site: Site, state: InstrumentState, person: str) -> tuple[Deed, ...]:
    """What can be done about its lockouts, the most needed first; dimmed with the reason where not possible now."""
    standing = [each for each in state.lockouts if each.status != "closed"]
    may_not = people.may(site, person, "clear") if person else ""
    label = str(state.fields.get("label", ""))
    none = "" if standing else "No lockout of it stands."
    again = Deed(f"Lock {label} out{' for another reason' if standing else ''}", "form", "lock-out", state.id)
    of_state = [
        Deed("Clear", "form", "clear", state.id, may_not=none or may_not),
        Deed("Tag", "sheet", "tag", state.id, may_not=none),
        Deed("Uses in doubt", "sheet", "doubt", state.id),
    ]
    made = [*of_state, again] if standing else [again, *of_state]
    made += [
        Deed(f"Strike {_short(each)}: entered in error", "form", "strike", f"{state.id},{each.id}", may_not=may_not)
        for each in standing
        if not struck_why(site, each.id)
    ]
    return tuple(made)


def sections(site: Site, state: InstrumentState) -> tuple[Section, ...]:
    """What an instrument's sheet shows of its lockouts: those that stand."""
    standing = tuple(_standing(site, state, each) for each in reversed(state.lockouts) if each.status != "closed")
    return (*_suspects(site, state), *standing) if standing else ()


def _suspects(site: Site, state: InstrumentState) -> tuple[Section, ...]:
    """What points at a source of it: whoever would repair the instrument looks there first."""
    said = source_watch.suspects_of(site, state)
    return (Lines(said, title="Look at the source first", tone="warn"),) if said else ()


def lockouts(site: Site, _about: str, _person: str, query: Query) -> Listing:
    """Every instrument that is locked out: why, since when, by whom, its tag, and what stands in the way."""
    found, total = site.journal.locked(search=query.search.strip(), limit=query.limit, offset=query.offset)
    return Listing(
        name="lockouts",
        title="Locked out",
        columns=(
            Column("instrument", least=8),
            Column("why", least=20),
            Column("since", gives_way=2, least=16),
            Column("by", gives_way=4),
            Column("tag", gives_way=3),
            Column("in the way", gives_way=1, least=16),
        ),
        rows=tuple(_row(site, each.id, each.label) for each in found),
        total=total,
        offset=query.offset,
        line="Nobody uses these. A lockout ends with a clearing, and then a complete checkout that passes.",
        empty="Nothing is locked out." if not query.search.strip() else "Nothing that is locked out fits this.",
    )


def _row(site: Site, instrument: str, label: str) -> Row:
    state = site.journal.instrument_now(instrument)
    standing = [each for each in state.lockouts if each.status != "closed"]
    first = standing[0] if standing else None
    struck = bool(standing) and all(struck_why(site, each.id) for each in standing)
    in_the_way = list(dict.fromkeys(line for each in standing for line in obstacles.needs(site, state, each)))
    return Row(
        (
            label,
            f"{'STRUCK. ' if struck else ''}{why(standing) or 'locked out'}",
            since_said(site, first) if first else "",
            naming.name(site, first.by) if first else "",
            ", ".join(dict.fromkeys(each.tag for each in standing if each.tag)) or "none",
            in_the_way[0] if in_the_way else "",
        ),
        Deed(f"Lockouts of {label}", "sheet", "lockout", instrument),
        tone="warn" if state.standing.awaiting else "bad",
        key=instrument,
    )


def why(standing: list[Lockout]) -> str:
    """The reasons of these lockouts as sentences, each once."""
    return lookups.as_sentences([_words(each.code, each.say) for one in standing for each in one.reasons])


def _words(code: str, say: str) -> str:
    return say or reason(code).say


def since(site: Site, lockout: Lockout) -> datetime:
    """Since when it is locked out: of a check on paper, when that was made, not when somebody typed it in."""
    event = site.journal.by_hash(lockout.id)
    form = event.body.get("form") if event is not None and event.kind == "locked-out" else None
    if event is None or not form:
        return lockout.when
    papers = site.journal.about(event.about[0], kinds=("paper-entered",), limit=-1)
    made = [utc_moment(each.body["observed"]) for each in papers if each.body.get("form") == form]
    return min(lockout.when, *made)


def since_said(site: Site, lockout: Lockout) -> str:
    """The same in words; both times where the check was on paper."""
    then = since(site, lockout)
    said = local_time.said(site, then)
    return said if then == lockout.when else f"{said} (on paper; typed in {local_time.said(site, lockout.when)})"


def _short(lockout: Lockout) -> str:
    return " and ".join(dict.fromkeys(each.code for each in lockout.reasons))


def _standing(site: Site, state: InstrumentState, lockout: Lockout) -> Pairs:
    """One lockout that stands, with what became of it so far."""
    struck = struck_why(site, lockout.id)
    rows = [
        ("why", lookups.as_sentences([_words(each.code, each.say) for each in lockout.reasons])),
        ("since", since_said(site, lockout)),
        ("by", naming.name(site, lockout.by)),
        ("tag", lockout.tag or "none recorded"),
        ("what to do now", lookups.as_sentences([reason(each.code).do for each in lockout.reasons])),
    ]
    if struck:
        rows.append(("struck", struck))
    for event in lockout.clearings:
        rows += [] if struck else _clearing(site, event)
    rows += [("in the way", each) for each in obstacles.needs(site, state, lockout)]
    waits = lockout.status == "awaiting check"
    heading = "CLEARED, waits for its check" if waits else "LOCKED OUT"
    return Pairs(tuple(rows), title=f"{'STRUCK. ' if struck else ''}{heading}: {_short(lockout)}")


def _clearing(site: Site, clearing: str) -> list[tuple[str, str]]:
    event = site.journal.by_hash(clearing)
    if event is None:
        return []
    body = event.body
    rows = [
        ("cleared", f"{local_time.said(site, event.utc)} by {naming.name(site, event.person)}"),
        ("cause", str(body["cause"])),
        ("action", str(body["action"])),
    ]
    if body.get("parts"):
        rows.append(("parts", str(body["parts"])))
    if body.get("repaired_by"):
        rows.append(("repaired by", naming.name(site, body["repaired_by"])))
    if body.get("by_repairer") == "nothing was repaired":
        rows.append(("repair", "nothing was repaired"))
    if body.get("by_repairer") == "yes":
        rows.append(("note", "Whoever repaired it cleared it; the site's settings allow that."))
    if body.get("second"):
        rows.append(("second person", naming.name(site, body["second"])))
    return rows


def _closed(site: Site, lockout: Lockout) -> Row:
    clearing = site.journal.by_hash(lockout.clearings[-1]) if lockout.clearings else None
    passed = site.journal.by_hash(lockout.closed_by) if lockout.closed_by else None
    struck = struck_why(site, lockout.id)
    said = why([lockout])
    tone: Tone = "quiet" if struck else ""
    return Row(
        (
            since_said(site, lockout),
            f"STRUCK ({struck}) {said}" if struck else said,
            naming.name(site, clearing.person) if clearing else "",
            local_time.said(site, passed.utc) if passed else "",
        ),
        Deed("The checkout that closed it", "sheet", "checkout", lockout.closed_by) if lockout.closed_by else None,
        tone=tone,
        key=lockout.id,
    )


def struck_why(site: Site, lockout: str) -> str:
    """Why and by whom a lockout was struck as entered in error; "" when it was not."""
    events = site.journal.about(lockout, kinds=("struck",), limit=1)
    if not events:
        return ""
    event = events[0]
    by = f"{naming.name(site, event.person)} with {naming.name(site, str(event.body['second']))}"
    return f"{STRUCK} {event.body['why']} ({by}, {local_time.said(site, event.utc)})"
