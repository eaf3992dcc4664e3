"""What the first screen and `status` show, and what a scanned or typed text turns out to be. Light."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Final, Literal

from procedures.answers import clean_line
from procedures.journal.states import BEHIND, fitness
from procedures.readiness import zone_of
from procedures.site import lookups, source_due, source_watch
from procedures.site.exchange_age import exchange_age
from procedures.site.views import Found, Home, InstrumentRow, OpenCheckout, PersonView
from procedures.site.waiting import waiting
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.rows import InstrumentRow as Row
    from procedures.site.opening import Site

LONGEST_SEARCH: Final = 200
MOST_DUE: Final = 200


def home(site: Site, *, search: str = "", limit: int = 50, offset: int = 0) -> Home:
    """Everything the first screen shows: a page of instruments, open checkouts, sources out, what is due or waits."""
    now = site.clock.now()
    settings = site.settings()
    found, total = site.journal.instruments_found(clean_line(search[:LONGEST_SEARCH]), limit=limit, offset=offset)
    checkouts = lookups.open_checkouts(site)
    today = source_due.today(site)
    rows = tuple(_row(site, row, settings, today, checkouts) for row in found)
    return Home(
        site=settings["name"],
        marking=site.marking,
        station=site.journal.station,
        now=now.utc.astimezone(zone_of(settings["zone"])),
        instruments=rows,
        total=total,
        checkouts=checkouts,
        sources_out=lookups.sources_out(site),
        due=_instruments_due(site, settings, today) + source_due.sources_due(site),
        notices=_notices(site) + source_watch.notices(site),
        waiting=waiting(site),
        exchanged=exchange_age(site),
    )


def status(site: Site) -> list[InstrumentRow]:
    """Every instrument that is not retired, by label."""
    return list(_matching(site, "", limit=-1))


def _matching(site: Site, search: str, *, limit: int = 50) -> tuple[InstrumentRow, ...]:
    settings = site.settings()
    checkouts = lookups.open_checkouts(site)
    found, _ = site.journal.instruments_found(search, limit=limit)
    today = source_due.today(site)
    return tuple(_row(site, row, settings, today, checkouts) for row in found)


def instrument(site: Site, instrument: str) -> InstrumentRow | None:
    """How one instrument stands now; None when there is none of that id, or no longer."""
    row = site.journal.instrument_row(instrument)
    settings = site.settings()
    return None if row is None else _row(site, row, settings, source_due.today(site), lookups.open_checkouts(site))


def _notices(site: Site) -> tuple[str, ...]:
    said = []
    now = site.clock.now().utc
    newest = site.journal.last_time()
    if now < newest - BEHIND:
        said.append(
            f"The laptop's clock stands before the newest record ({newest:%Y-%m-%d %H:%M} UTC). Set it: "
            "until then nothing is fit for use."
        )
    if site.journal.forks():
        said.append("This journal was copied and used twice. Tell the site lead.")
    return tuple(said)


def _row(
    site: Site, row: Row, settings: dict[str, str], today: date, checkouts: tuple[OpenCheckout, ...]
) -> InstrumentRow:
    now = fitness(row.standing, site.clock.now().utc)
    holder = lookups.person(site, row.handed_to).name if row.handed_to else row.where
    reasons = lookups.as_sentences([each.say or each.code for each in now.reasons])
    awaiting = row.standing.awaiting
    why = reasons or now.why
    return InstrumentRow(
        id=row.id,
        label=row.label,
        serial=row.serial,
        type=row.type,
        fitness=now.word,
        why="" if now.word == "ready" else why,
        reasons=tuple(reason.code for reason in now.reasons),
        until=now.until.astimezone(zone_of(settings["zone"])) if now.until else None,
        whereabouts=row.whereabouts,
        holder=holder,
        contaminated=row.contaminated,
        calibration_due=date.fromisoformat(row.calibration_due) if row.calibration_due else None,
        due=_due(today, row.calibration_due, "calibration", int(settings["calibration_warning_days"]), missing=True),
        checkout=next((each.checkout for each in checkouts if each.instrument == row.id), ""),
        awaiting=awaiting,
        may_begin=_why_not_begun(row, now.word, awaiting),
    )


def _why_not_begun(row: Row, word: str, awaiting: bool) -> str:
    if word == "locked out" and not awaiting:
        return "It is locked out: the site lead has to clear it first."
    if row.whereabouts in lookups.AWAY:
        return f"It is recorded as {row.whereabouts}."
    return ""


def _due(today: date, day: str | None, what: str, warn_days: int, *, missing: bool = False) -> tuple[str, ...]:
    if not day:
        return (f"no {what} is recorded",) if missing else ()
    left = (date.fromisoformat(day) - today).days
    if left < 0:
        return (f"{what} ended on {day}",)
    if left > warn_days:
        return ()
    return (f"{what} ends today" if left == 0 else f"{what} ends in {left} day{'' if left == 1 else 's'}",)


def _instruments_due(site: Site, settings: dict[str, str], today: date) -> tuple[str, ...]:
    """What is due of all instruments of the site, whatever page of them is shown."""
    warn = int(settings["calibration_warning_days"])
    rows = site.journal.calibrations_due(today + timedelta(days=warn), limit=MOST_DUE)
    return tuple(
        f"{label}: {line}" for label, day in rows for line in _due(today, day, "calibration", warn, missing=True)
    )


def people(site: Site) -> tuple[PersonView, ...]:
    """Everybody on the list, by label."""
    return tuple(
        lookups.person_view(
            site,
            row.id,
            label=row.label,
            name=row.name,
            initials=row.initials,
            of_roles=row.roles,
            trained_until=row.trained_until,
        )
        for row in site.journal.people(limit=-1)
    )


def who(site: Site, text: str) -> PersonView:
    """The person whose badge, initials or name this is. Raises Trouble when it fits nobody, or several."""
    line = clean_line(text[:LONGEST_SEARCH]).casefold()
    if not line:
        raise Trouble(
            "nothing was entered", allowed="a badge, initials or a name", do="Scan the badge, or type the initials."
        )
    everybody = people(site)
    for field in ("label", "initials", "name"):
        fits = [each for each in everybody if str(getattr(each, field)).casefold() == line]
        if len(fits) == 1:
            return fits[0]
        if fits:
            raise Trouble(
                f"{clean_line(text[:40])!r} fits {len(fits)} people",
                allowed=", ".join(f"{each.label} ({each.name})" for each in fits),
                do="Scan the badge.",
            )
    raise Trouble(
        f"nobody here has the badge, initials or name {clean_line(text[:40])!r}",
        allowed="the badge of a person on the site's list, or their initials",
        do="Scan the badge again, or type the initials.",
    )


def find(site: Site, text: str) -> Found:
    """What a scanned or typed text means: a thing by its label, or the instruments that match a search."""
    line = clean_line(text[: 20 * LONGEST_SEARCH])
    if not line:
        return Found("nothing", say="Nothing was entered.")
    if len(text) > LONGEST_SEARCH:
        return Found("nothing", say=f"{len(text):,} characters came in. Scan one label, once.")
    marked = site.journal.labelled(line)
    living = [each for each in marked if each.living]
    if len(living) == 1:
        kind: Literal["instrument", "source", "person", "jig"] = living[0].what  # type: ignore[assignment]
        return Found(kind, living[0].id, living[0].label)
    if len(living) > 1:
        return Found(
            "nothing", say=f"{len(living)} things carry the label {line}. None may be used: tell the site lead."
        )
    if marked:
        return Found("nothing", say=f"{marked[0].label} was taken out of service for good.")
    rows = _matching(site, line)
    if len(rows) == 1:
        return Found("instrument", rows[0].id, rows[0].label, rows=rows)
    if rows:
        return Found("several", say=f"{len(rows)} instruments match.", rows=rows)
    once = lookups.given_up(site).get(lookups.folded(line))
    if once is not None:
        now = str(site.journal.thing_now(once).fields.get("label", ""))
        return Found("nothing", say=f"{line[:40]} is the old label of {now}. Take it off, and scan the new one.")
    return Found("nothing", say=f"Nothing here is called {line[:40]!r}. Scan the label, or type part of it.")
