"""What stands in the way of clearing a lockout: how long it must last, a second person, a calibration, who repaired."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Final

from procedures.answers import clean_line
from procedures.journal.envelope import Event
from procedures.journal.fields import is_hash
from procedures.journal.moments import utc_moment
from procedures.journal.states import InstrumentState, Lockout
from procedures.readiness import zone_of
from procedures.site import local_time, people
from procedures.site.entries import thing
from procedures.site.opening import Site
from procedures.trouble import Trouble

LONGEST_REASON: Final = 300
TWO_PEOPLE: Final = "a lead, and a second person on the list whose training is valid and who did not repair it"


def needs(site: Site, state: InstrumentState, lockout: Lockout) -> tuple[str, ...]:
    """What has to come before this instrument is back in service, in order, one sentence each; nothing once closed."""
    if lockout.status == "closed":
        return ()
    if lockout.status == "awaiting check":
        return (*_before_the_check(site, state, lockout), "A complete checkout has to pass.")
    settings = site.settings()
    said = []
    earliest = must_last_until(site, lockout.id)
    if earliest is not None and site.clock.now().utc < earliest:
        said.append(f"It must last until {local_time.said(site, earliest)}.")
    if two_wanted(settings, (lockout,)):
        said.append("Two people have to clear it.")
    if codes(settings["calibration_for"]) & all_codes((lockout,)) and not calibrated_since(site, state, lockout):
        said.append("It has to be calibrated, before it is cleared or before the check that follows.")
    who = "" if settings["repairer_may_clear"] == "yes" else ", but not whoever repaired it"
    return (*said, f"A site lead has to clear it{who}.", "Then a complete checkout has to pass.")


def _before_the_check(site: Site, state: InstrumentState, lockout: Lockout) -> tuple[str, ...]:
    said = []
    clearing = site.journal.by_hash(lockout.clearings[-1]) if lockout.clearings else None
    if clearing is None:
        return ()
    if clearing.body.get("calibration_needed"):
        made = site.journal.by_hash(state.calibration.event) if state.calibration else None
        if made is None or made.stamp < clearing.stamp:
            said.append("It has to be calibrated first, and new reference readings are taken.")
    not_before = clearing.body.get("not_before")
    if not_before and site.clock.now().utc < utc_moment(not_before):
        said.append(f"No check counts before {local_time.said(site, utc_moment(not_before))}.")
    return tuple(said)


def named(site: Site, instrument: str, lockouts: Sequence[str]) -> tuple[Lockout, ...]:
    """The lockouts of these ids. Raises Trouble unless each of them stands."""
    thing(site, instrument, "instrument")
    state = site.journal.instrument_now(instrument)
    open_now = {each.id: each for each in state.lockouts if each.status != "closed"}
    unknown = [each for each in lockouts if each not in open_now]
    if unknown or not lockouts:
        raise Trouble(
            "there is no such open lockout" if unknown else "no lockout is named",
            allowed="a lockout that stands" if open_now else "nothing: no lockout of this instrument stands",
            do="Look at the instrument's lockouts.",
        )
    return tuple(open_now[each] for each in lockouts)


def has_lasted(site: Site, lockouts: Sequence[str]) -> None:
    """Raises Trouble while one of these lockouts must last: what was changed needs that long to work."""
    now = site.clock.now().utc
    for each in lockouts:
        earliest = must_last_until(site, each)
        if earliest is not None and now < earliest:
            raise Trouble(
                f"this lockout must last until {local_time.said(site, earliest)}",
                allowed="a clearing after that",
                do="Wait: what was changed needs that long to work.",
            )


def must_last_until(site: Site, lockout: str) -> datetime | None:
    """Until when a lockout must last; None when nothing says so."""
    made = site.journal.by_hash(lockout)
    for event in (*site.journal.checkout_events(lockout), *((made,) if made is not None else ())):
        # A check on paper says it in the lockout that came with it.
        if event.kind in ("ended", "locked-out") and event.body.get("not_before"):
            return datetime.fromisoformat(event.body["not_before"])
    return None


def who_repaired(site: Site, person: str, repaired_by: str, settings: Mapping[str, str]) -> str:
    """Who repaired it: an id, or words. Raises Trouble where whoever repaired may not clear, and this one may have."""
    said = clean_line(repaired_by)[:LONGEST_REASON]
    repairer = repaired_by if is_hash(repaired_by) else on_the_list(site, said, person)
    if is_hash(repairer) and site.journal.thing_now(repairer).what != "person":
        raise Trouble("whoever is said to have repaired it is not known here", do="Name a person or a workshop.")
    if said and not is_hash(repairer):
        _is_a_workshop(site, said)
    if settings["repairer_may_clear"] != "yes":
        if not repairer:
            raise Trouble(
                "who repaired it is not said",
                allowed="a person on the list, or the name of a workshop",
                do="Say who repaired it: whoever repaired it does not clear it. If nothing was repaired, say that.",
            )
        if repairer == person:
            raise Trouble("whoever repaired it does not clear it", allowed="another site lead", do="Ask another lead.")
    return repairer


def _is_a_workshop(site: Site, said: str) -> None:
    """Raises Trouble for what looks like a badge or a label and is nobody's: a slip of it would name a workshop."""
    marked = " " not in said and any(letter.isdigit() for letter in said)
    if marked or site.journal.labelled(said):
        raise Trouble(
            f"nobody on the site's list has the badge “{said[:40]}”",
            allowed="the badge or initials of a person on the list, or the name of a workshop in words",
            do="Scan the badge again. Write a workshop as its name, such as “workshop, building 7”.",
        )


def has_no_repair(repaired_by: str, parts: str) -> None:
    """Raises Trouble where it is said that nothing was repaired, and by whom or with what."""
    if clean_line(repaired_by) or clean_line(parts):
        raise Trouble(
            "nothing was repaired, and yet it is said who repaired it or with which parts",
            allowed="a repair with who did it, or no repair and no parts",
            do="Say that it was repaired, or empty those fields.",
        )


def on_the_list(site: Site, said: str, person: str) -> str:
    """The id of the person who is meant by these words, if anybody on the list is; else the words.

    What may mean `person`, who is about to clear, means them: initials that several share, or their name among more.
    """
    meant = _plain(said)
    rows = site.journal.people(limit=-1)
    fits = [row.id for row in rows if meant in {_plain(each) for each in (row.label, row.initials, row.name)}]
    own = next((_plain(row.name) for row in rows if row.id == person), "")
    if person in fits or (own and f" {own} " in f" {meant} "):
        return person
    return fits[0] if len(fits) == 1 else said


def _plain(text: str) -> str:
    """A name or label without what keyboards write differently: width, case, and marks between words."""
    kept = (c if c.isalnum() else " " for c in unicodedata.normalize("NFKC", text).casefold())
    return " ".join("".join(kept).split())


def is_second(site: Site, second: str, person: str, repaired_by: str) -> None:
    """Raises Trouble unless `second` may stand beside this person for a clearing."""
    if second in (person, repaired_by):
        raise Trouble("the second person is one of the two already", allowed=TWO_PEOPLE, do="Ask somebody else.")
    why_not = people.may(site, second, "check")
    if why_not:
        raise Trouble(f"the second person may not stand for this: {why_not}", allowed=TWO_PEOPLE, do="Ask another.")


def has_two(settings: Mapping[str, str], lockouts: Sequence[Lockout]) -> None:
    """Raises Trouble where the site wants two people for one of these reasons; called when there is no second."""
    if two_wanted(settings, lockouts):
        raise Trouble("two people have to clear this", allowed=TWO_PEOPLE, do="Ask a second person to be present.")


def two_wanted(settings: Mapping[str, str], lockouts: Sequence[Lockout]) -> bool:
    """Whether the site wants two people for one of the reasons of these lockouts."""
    return bool(codes(settings["two_people_for"]) & all_codes(lockouts))


def codes(setting: str) -> frozenset[str]:
    """The reason codes that a setting lists."""
    return frozenset(code.strip() for code in setting.split(",") if code.strip())


def all_codes(lockouts: Sequence[Lockout]) -> frozenset[str]:
    """Every reason code of these lockouts."""
    return frozenset(reason.code for lockout in lockouts for reason in lockout.reasons)


def is_calibrated(site: Site, instrument: str, lockouts: Sequence[Lockout], wanted: frozenset[str]) -> None:
    """Raises Trouble unless a calibration was recorded since each lockout for a reason that needs one.

    Only what this station wrote one after the other is known to be so; for the lockout of another one the clearing has
    to ask for a calibration itself.
    """
    needing = [each for each in lockouts if wanted & all_codes([each])]
    if not needing:
        return
    state = site.journal.instrument_now(instrument)
    if not all(calibrated_since(site, state, each) for each in needing):
        raise Trouble(
            "for this reason the instrument has to be calibrated first",
            allowed="a calibration recorded here after the lockout, or a clearing that says one is needed",
            do="Record the calibration, then clear.",
        )


def calibrated_since(site: Site, state: InstrumentState, lockout: Lockout) -> bool:
    """Whether the calibration in force was made, and recorded here, after the last of what made this lockout."""
    calibrated = site.journal.by_hash(state.calibration.event) if state.calibration else None
    made = _last_of(site, lockout.id)
    if calibrated is None or made is None:
        return False
    locked_out = made.utc.astimezone(zone_of(site.settings()["zone"])).date().isoformat()
    return made.station == calibrated.station and made.seq <= calibrated.seq and calibrated.body["on"] >= locked_out


def _last_of(site: Site, lockout: str) -> Event | None:
    """The last event of a lockout: it was made by hand in one, or by a checkout in several."""
    events = [event for event in site.journal.checkout_events(lockout) if event.body.get("checkout") == lockout]
    return events[-1] if events else site.journal.by_hash(lockout)
