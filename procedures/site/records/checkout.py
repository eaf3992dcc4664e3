"""One checkout in full: who, what by which revision, every answer as it was observed, every number, what it led to."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, Final

from procedures.figures import SHOWN
from procedures.findings import Finding, finding_from_json
from procedures.journal.fields import is_hash
from procedures.journal.moments import utc_moment
from procedures.reasons import reason
from procedures.sheets import Column, Deed, Grid, Lines, Pairs, Row, Section, Sheet, Tone
from procedures.site import naming
from procedures.site.found_words import (
    ENDING_TONES,
    ENDING_WORDS,
    OUTCOME_TONES,
    OUTCOME_WORDS,
    finding_rows,
    number_words,
    title,
)
from procedures.site.records.run_log import log_rows
from procedures.site.records.telling import who
from procedures.site.site_days import SiteDays
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.envelope import Event
    from procedures.site.opening import Site

_FINDINGS: Final = (
    Column("step", least=8),
    Column("outcome", least=8),
    Column("observed", figures=True),
    Column("expected", figures=True),
    Column("lowest", figures=True, gives_way=3),
    Column("highest", figures=True, gives_way=3),
    Column("ratio", figures=True, gives_way=1),
    Column("margin", figures=True, gives_way=2),
    Column("uncertainty", figures=True, gives_way=4),
    Column("chance outside", figures=True, gives_way=5),
)
_NUMBERS: Final = ("observed", "expected", "low", "high", "ratio", "margin", "uncertainty", "chance_outside")

_LOG: Final = (
    Column("time", least=8),
    Column("step", gives_way=2),
    Column("what", least=10),
    Column("observed", least=10),
    Column("took", figures=True, gives_way=3),
    Column("remark", gives_way=1),
)

_USES: Final = (
    Column("used", least=16),
    Column("by", least=10),
    Column("job", least=10),
    Column("place", gives_way=1),
)


def checkout(site: Site, about: str, _person: str) -> Sheet:
    """The record of one checkout. Raises Trouble when there is none of that id."""
    events = site.journal.checkout_events(about) if is_hash(about) else ()
    if not events or events[0].kind != "opened" or events[0].hash != about:
        raise Trouble("there is no such checkout in the records", do="Look for it in the list of checkouts.")
    opened, days = events[0], SiteDays.of(site)
    ended = next((each for each in reversed(events) if each.kind == "ended"), None)
    instrument = str(opened.body["instrument"])
    findings = [each for each in events if each.kind == "found"]
    body = ended.body if ended is not None else {}
    sections: list[Section] = [
        _outcome(events, body),
        *_ending(days, body),
        _which(site, days, opened, ended),
        _judged_by(opened.body["facts"]),
        findings_grid(finding_from_json(each.body["finding"]) for each in findings),
        *_numbers(findings),
        Grid(_LOG, tuple(log_rows(site, days, events)), title="What was done and observed, in order"),
        *_doubts(site, days, instrument, about),
    ]
    label = naming.label(site, instrument)
    return Sheet(
        "checkout",
        f"Checkout of {label}",
        tuple(sections),
        about=about,
        line=f"{days.written(opened.utc)}, {who(site, opened.person)}: {ENDING_WORDS.get(body.get('ending', ''), '')}",
        deeds=(
            *(() if ended is not None else (Deed("Go on with it", "checkout", "checkout", about),)),
            Deed(f"Instrument {label}", "sheet", "instrument", instrument),
            Deed("Its lockouts", "sheet", "lockout", instrument),
            Deed("Its drift", "sheet", "drift", instrument),
            Deed("Its other checkouts", "listing", "checkouts", instrument),
            Deed("The log of that day", "sheet", "day", days.day_of(opened.utc).isoformat()),
        ),
    )


def _outcome(events: Iterable[Event], body: Mapping[str, Any]) -> Lines:
    """The ending first. One that was withdrawn is struck: it speaks for nothing, and a failure in it stands."""
    ending = str(body.get("ending", ""))
    words = ENDING_WORDS.get(ending, ending)
    struck = [str(each.body["why"]) for each in events if each.kind == "withdrawn"]
    if not struck:
        return Lines(
            (words if ending else "NOT ENDED: it is open or was left open",), tone=ENDING_TONES.get(ending, "warn")
        )
    lines = [f"WITHDRAWN, STRUCK: it had ended {words}. It speaks for no fitness for use; a failure in it stands."]
    return Lines((*lines, *(f"Why it was withdrawn: {why}" for why in struck)), tone="warn")


def _ending(days: SiteDays, body: Mapping[str, Any]) -> Iterable[Section]:
    if not body:
        return
    rows = [(f"reason {each['code']}", _reason(each)) for each in body["reasons"]]
    rows += [("missing", each) for each in body["missing"]]
    fit_for = body["fit_for"]
    rows += [("fit for", ", ".join(fit_for["measures"]))] if fit_for.get("measures") else []
    rows += [("not for", ", ".join(fit_for["not_for"]))] if fit_for.get("not_for") else []
    rows += [(f"scale {scale}", SHOWN.get(how, how)) for scale, how in fit_for.get("scales", {}).items()]
    rows += [("until", _until(days, body))] if body["ready_until"] else []
    rows += [("factor", f"multiply every reading by {body['factor']}")] if body["factor"] else []
    rows += [("warning", each) for each in dict.fromkeys(body["warnings"])]
    rows += [("tell the site lead", each) for each in dict.fromkeys(body.get("tell", ()))]
    rows += [("no clearing before", days.exact(utc_moment(body["not_before"])))] if body.get("not_before") else []
    rows += [("tag", body["tag"])] if body["tag"] else []
    if rows:
        yield Pairs(tuple(rows), title="How it ended")


def _until(days: SiteDays, body: Mapping[str, Any]) -> str:
    why = body.get("ready_until_why")
    return days.exact(utc_moment(body["ready_until"])) + (f": {why}" if why else "")


def _reason(row: Mapping[str, Any]) -> str:
    step = f" ({title(row['step'])})" if row.get("step") else ""
    return f"{row.get('say') or reason(row['code']).say}{step}"


def _which(site: Site, days: SiteDays, opened: Event, ended: Event | None) -> Pairs:
    made, ran = opened.body["facts"]["instrument"], opened.body["profile"]
    adoptions = site.journal.profile_now(ran["id"]).adoptions
    named = next((each.title for each in adoptions if each.sha256 == ran["sha256"]), "not in these records")
    rows = [
        ("instrument", made["label"]),
        ("serial", made["serial"]),
        ("type", made["type"]),
        ("detector", made["detector"]),
        ("cable", made["cable"]),
        ("calibrated on", made["calibrated_on"] or "no calibration on record"),
        ("calibration due", made["calibration_due"] or ""),
        ("checked by", who(site, opened.person)),
        ("begun", days.exact(opened.utc)),
        ("ended", days.exact(ended.utc) if ended is not None else "not ended"),
        ("station", opened.station),
        ("procedure", f"{named} ({ran['id']}), revision {ran['revision']}"),
        ("SHA-256 of the revision", ran["sha256"]),
        ("version of the rules", str(opened.body["rules"])),
        ("record", opened.hash),
    ]
    return Pairs(tuple(row for row in rows if row[1]), title="What was checked, by whom, by which procedure")


def _judged_by(facts: Mapping[str, Any]) -> Pairs:
    """What the checkout was judged by, as it was stored when it was opened."""
    rows: list[tuple[str, str]] = []
    for source in facts["sources"]:
        jig = f" in jig {source['jig']}" if source["jig"] else ""
        trouble = f"; {source['trouble']}" if source["trouble"] else ""
        half_life = f"half-life {source['half_life_days']:.6g} d ({source['half_life_source']})"
        rows.append((f"source, {source['role']}", f"{source['label']}{jig}, {source['nuclide']}, {half_life}{trouble}"))
    for each in facts["references"]:
        where = ", ".join(part for part in (each["scale"], each["geometry"]) if part)
        share = f"{100 * float(each['relative_u']):.2g} %"
        rows.append(
            (f"reference, {each['role']}", f"{each['value']} {each['unit']} on {where}, standard uncertainty {share}")
        )
    rows += [(title(name).lower(), str(value)) for name, value in sorted(facts["settings"].items()) if value]
    return Pairs(tuple(rows), title="What it was judged by")


def findings_grid(findings: Iterable[Finding]) -> Grid:
    """Findings in a table: what was observed against what was expected."""
    return Grid(_FINDINGS, tuple(_finding(each) for each in findings), title="Findings", empty="nothing was found yet")


def _finding(finding: Finding) -> Row:
    outcome = OUTCOME_WORDS[finding.outcome]
    adjusted = finding.as_found is not None and finding.as_found.outcome == "fail" and finding.outcome != "fail"
    words = f"{outcome}; as found it FAILED" if adjusted else outcome
    numbers = (number_words(finding.number(name)) for name in _NUMBERS)
    tone: Tone = "bad" if adjusted else OUTCOME_TONES[finding.outcome]
    return Row((title(finding.step), words, *numbers), tone=tone)


def finding_pairs(finding: Finding, time: int = 1) -> Pairs:
    """Everything one finding says; `time` counts how often the step had come to one."""
    again = f", done again ({time})" if time > 1 else ""
    return Pairs(finding_rows(finding), title=f"{title(finding.step)}{again}: {OUTCOME_WORDS[finding.outcome]}")


def _numbers(events: Iterable[Event]) -> Iterable[Pairs]:
    times: Counter[str] = Counter()
    for event in events:
        finding = finding_from_json(event.body["finding"])
        times[finding.step] += 1
        yield finding_pairs(finding, times[finding.step])


def _doubts(site: Site, days: SiteDays, instrument: str, checkout: str) -> Iterable[Section]:
    """The uses that this checkout put in doubt."""
    caused = [each for each in site.journal.uses_in_doubt(instrument) if each.cause.body.get("checkout") == checkout]
    uses = {use.hash: use for each in caused for use in each.uses}
    if not uses:
        return
    yield use_grid(site, days, uses.values(), instrument)


def use_grid(site: Site, days: SiteDays, uses: Iterable[Event], instrument: str) -> Grid:
    """Uses in doubt as a table."""
    opens = Deed("Uses in doubt of it", "sheet", "doubt", instrument)
    rows = tuple(
        Row(
            (days.written(use.utc), who(site, use.body["to"]), str(use.body["job"]), str(use.body["place"])),
            opens,
            tone="warn",
            key=use.hash,
        )
        for use in sorted(uses, key=lambda use: use.stamp)
    )
    return Grid(_USES, rows, title="Uses in doubt by what was found here")
