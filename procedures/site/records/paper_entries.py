"""Forms that were filled in on paper and typed in later: the list of them, and each with everything it was found by."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from procedures.answers import clean_line
from procedures.findings import finding_from_json
from procedures.journal.events import body_of
from procedures.journal.fields import is_hash
from procedures.journal.moments import utc_moment
from procedures.sheets import Column, Deed, Grid, Lines, Listing, Pairs, Query, Row, Section, Sheet
from procedures.site import naming, paper, paper_form
from procedures.site.forms.common import meant
from procedures.site.found_words import ENDING_TONES, ENDING_WORDS, title, value_words
from procedures.site.records.checkout import finding_pairs, findings_grid, use_grid
from procedures.site.records.telling import label_of, reasons_said, subject, who
from procedures.site.site_days import SiteDays
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.envelope import Event
    from procedures.site.opening import Site

_PAPERS: Final = (
    Column("observed", least=16),
    Column("instrument", least=8),
    Column("form", least=11),
    Column("filled in by", gives_way=2),
    Column("ending", least=12),
    Column("reasons", gives_way=1),
    Column("typed in", gives_way=3, least=16),
)


def papers(site: Site, about: str, _person: str, query: Query) -> Listing:
    """Forms that were typed in, the last one first; of an instrument, where `about` is its id."""
    days = SiteDays.of(site)
    found, total = _entries(site, clean_line(about), clean_line(query.search), query)
    deeds = [Deed("Type a form in", "form", "paper-enter", about), Deed("Blank form", "sheet", "paper-form", about)]
    return Listing(
        "papers",
        f"Checks on paper of {label_of(site, about)}" if about else "Checks on paper",
        _PAPERS,
        tuple(_entered(site, days, each) for each in found),
        total,
        query.offset,
        about=about,
        line="A check on paper that passed makes nothing ready. Search by a form's number or an instrument's label.",
        deeds=tuple(deeds) if about else (),
        empty="No form was typed in.",
    )


def _entries(site: Site, about: str, search: str, query: Query) -> tuple[tuple[Event, ...], int]:
    if search:
        try:
            number = paper_form.read_number(search)
        except Trouble:
            about = meant(site, search, "instrument")
        else:
            about = paper.pseudo_id(number)
    if not about:
        return site.journal.happened(("paper-entered",), limit=query.limit, offset=query.offset)
    every = site.journal.about(about, kinds=("paper-entered",), limit=-1)
    return every[query.offset : query.offset + query.limit], len(every)


def _entered(site: Site, days: SiteDays, event: Event) -> Row:
    body = body_of(event)
    opens = Deed("Open it", "sheet", "paper-entry", event.hash)
    if body is None:
        return Row((days.written(event.utc), *([""] * 3), "cannot be read", "", ""), opens, "warn", event.hash)
    return Row(
        (
            days.written(utc_moment(body["observed"])),
            subject(site, event)[1],
            str(body["form"]),
            who(site, body["observed_by"]),
            str(body["ending"]),
            reasons_said(body),
            days.written(event.utc),
        ),
        opens,
        ENDING_TONES.get(body["ending"], ""),
        event.hash,
    )


_ANSWERS: Final = (Column("step", least=8), Column("what", least=10), Column("observed", least=10))


def entry(site: Site, about: str, _person: str) -> Sheet:
    """A form as it was typed in, with everything it was found by."""
    event = site.journal.by_hash(about) if is_hash(about) else None
    body = body_of(event) if event is not None and event.kind == "paper-entered" else None
    if event is None or body is None:
        raise Trouble("no form was typed in under that record", do="Look for it in the list of checks on paper.")
    days = SiteDays.of(site)
    instrument, label = subject(site, event)
    findings = [finding_from_json(each) for each in body.get("findings", ())]
    sections: list[Section] = [
        Lines(
            (_ending_words(body), "A check on paper makes nothing ready."),
            tone=ENDING_TONES.get(body["ending"], "warn"),
        ),
        *_twice(site, event, body),
        _entry_pairs(site, days, event, body),
        findings_grid(findings),
        *(finding_pairs(each) for each in findings),
        _answers(body),
    ]
    if body.get("unused"):
        rows = tuple(f"{each['ask']}: {each['text']}" for each in body["unused"])
        sections.append(
            Lines(rows, title="On the paper, and not asked by the procedure after what came before", tone="warn")
        )
    caused = [each for each in site.journal.uses_in_doubt(instrument) if each.cause == event]
    if uses := {use.hash: use for each in caused for use in each.uses}:
        sections.append(use_grid(site, days, uses.values(), instrument))
    return Sheet(
        "paper-entry",
        f"Check on paper of {label}",
        tuple(sections),
        about=about,
        line=f"form {body['form']}, observed {days.written(utc_moment(body['observed']))}",
        deeds=(
            Deed(f"Instrument {label}", "sheet", "instrument", instrument),
            Deed("Its lockouts", "sheet", "lockout", instrument),
            Deed("Other checks on paper of it", "listing", "papers", instrument),
        ),
    )


def _twice(site: Site, event: Event, body: Mapping[str, Any]) -> tuple[Lines, ...]:
    """Two laptops that had not met may each have typed in the same paper."""
    every = site.journal.about(paper.pseudo_id(str(body["form"])), kinds=("paper-entered",), limit=-1)
    if all(each == event for each in every):
        return ()
    say = (
        f"The form {body['form']} was typed in {len(every)} times, on laptops that had not met. Compare with the paper."
    )
    return (Lines((say,), tone="warn"),)


def _ending_words(body: Mapping[str, Any]) -> str:
    return "PASSED on paper" if body["ending"] == "fit for use" else ENDING_WORDS.get(body["ending"], body["ending"])


def _entry_pairs(site: Site, days: SiteDays, event: Event, body: Mapping[str, Any]) -> Pairs:
    ran = body["profile"]
    rows = [
        ("form number", str(body["form"])),
        ("observed", days.exact(utc_moment(body["observed"]))),
        ("filled in by", who(site, body["observed_by"])),
        ("typed in", days.exact(event.utc)),
        ("typed in by", naming.name(site, event.person)),
        ("procedure", f"{ran['id']}, revision {ran['revision']}"),
        ("SHA-256 of the revision", ran["sha256"]),
        ("waits", str(body.get("waits", paper.NOT_TIMED))),
        ("record", event.hash),
    ]
    rows += [(f"reason {each['code']}", str(each["say"])) for each in body.get("reasons", ())]
    rows += [("missing", str(each)) for each in body.get("missing", ())]
    if body.get("stop"):
        ended = "judged unfit by whoever did it" if body["stop"] == "judged" else "the paper ends before its last step"
        rows.append((ended, str(body.get("why", ""))))
    return Pairs(tuple(rows))


def _answers(body: Mapping[str, Any]) -> Grid:
    rows = tuple(Row((title(each["step"]), title(each["ask"]), value_words(each["value"]))) for each in body["answers"])
    return Grid(_ANSWERS, rows, title="What stood on the form, in the order of the procedure")
