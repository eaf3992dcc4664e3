"""Keeping check sources: registering and describing them, leak tests, counting them, and the state they are found in.

Anyone on the list may end trust in a source, without a PIN: say that it is damaged, has slipped, leaks, or is not where
it should be. That it is good, found again, or needs no leak test takes a site lead.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

from procedures.answers import clean_line
from procedures.journal.envelope import Draft
from procedures.journal.store import Overtaken
from procedures.site import inventory, rights
from procedures.site.describing import read_fields
from procedures.site.entries import thing, words
from procedures.site.source_due import today as today
from procedures.site.source_facts import FIELDS, certified_value, composition, exemption_fits
from procedures.site.source_trouble import LEAKS_FROM_BQ, leaks, next_leak_test
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.states import SourceState
    from procedures.site.opening import Site

CONDITIONS: Final = ("good", "damaged", "slipped")
LEAK_TEST_LEAVES: Final = "Do not touch it again. Tell the radiation safety officer now."
_COMMON: Final = ("serial", "nuclide", "activity_on", "emits", "strength")
_ALL: Final = ("label", "activity", *_COMMON, *FIELDS)


def source(site: Site, source_id: str) -> SourceState:
    """The state of a source in use. Raises Trouble for what is none, or is out of use."""
    thing(site, source_id, "source")
    state = site.journal.source_now(source_id)
    if state.retired:
        raise Trouble(
            f"source {state.fields.get('label', '')} is out of use",
            allowed="a source that is in use",
            do="Scan the label of the source.",
        )
    return state


# --- registering and describing ------------------------------------------------------------------------------------


def fields_of(given: Mapping[str, Any]) -> dict[str, Any]:
    """All describing fields of a source as the journal keeps them, but its label. Raises Trouble for what cannot be."""
    made = read_fields("source", {name: given.get(name, "") for name in _COMMON})
    made |= {name: reader(given[name]) for name, reader in FIELDS.items() if given.get(name)}
    made["certified_as"] = made.get("certified_as") or "activity"
    made["activity"] = certified_value(made["certified_as"], str(given.get("activity", "")))
    parts = composition(made)
    if made["nuclide"] not in [each.nuclide for each in parts]:
        raise Trouble(
            f"{made['nuclide']} is not among the nuclides that it holds",
            allowed=", ".join(each.nuclide for each in parts),
            do="Enter the share of the main nuclide too.",
        )
    if made.get("leak_test_exempt"):
        exemption_fits(made["leak_test_exempt"], made)
    return made


def add(site: Site, by: str, label: str, given: Mapping[str, Any], *, pin: str | None = None) -> str:
    """Take a source into the inventory; its id comes back. `by` is a lead, `pin` theirs."""
    rights.entitled(site, by, "register")
    body = {"what": "source", "label": inventory.free_label(site, label), **fields_of(given)}
    rights.confirm(site, by, pin)
    return site.record("registered", body, person=by).hash


def changes_of(site: Site, source_id: str, given: Mapping[str, Any]) -> dict[str, Any]:
    """What of `given` is otherwise than recorded, as the journal keeps it. Raises Trouble for what cannot be."""
    known = source(site, source_id).fields
    unknown = [name for name in given if name not in _ALL]
    if unknown:
        raise Trouble(
            f"{', '.join(unknown)} is not what is said of a source",
            allowed=", ".join(_ALL),
            do="Name what is to be changed.",
        )
    made = fields_of({**known, **given})
    for name in FIELDS:
        if name in given and name not in made:
            made[name] = FIELDS[name](given[name] or ([] if name == "components" else ""))
    if "label" in given:
        made["label"] = inventory.its_label(site, site.journal.thing_now(source_id), str(given["label"]))
    return {name: value for name, value in made.items() if value != known.get(name, _unsaid(name))}


def _unsaid(name: str) -> Any:
    return {"certified_as": "activity", "components": []}.get(name, "")


def describe(site: Site, by: str, source_id: str, given: Mapping[str, Any], *, pin: str | None = None) -> None:
    """Change what is recorded of a source; fields not `given` stay. `by` is a lead, `pin` theirs."""
    rights.entitled(site, by, "register")
    made = changes_of(site, source_id, given)
    if not made:
        raise Trouble("nothing is changed", allowed="another value in one of the fields", do="Change it, or go back.")
    own = str(source(site, source_id).fields.get("label", ""))
    body: dict[str, Any] = {"set": made}
    if "label" in made and inventory.folded(made["label"]) != inventory.folded(own):
        body["was"] = own  # a label that was given up is never used again
    rights.confirm(site, by, pin)
    site.record("described", body, about=(source_id,), person=by)


# --- leak tests ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class LeakResult:
    """What a leak test found, in becquerel. `below`: the laboratory says only that it is less than this."""

    bq: Decimal
    below: bool

    @property
    def leaks(self) -> bool:
        return not self.below and leaks(self.bq)

    def __str__(self) -> str:
        return f"{'less than ' if self.below else ''}{self.bq:f} Bq"


def leak_result(text: str) -> LeakResult:
    """A result such as "12", "0.003 µCi" or "< 10 Bq"; a bare figure is in Bq.

    Raises Trouble for none, and for less than 185 Bq or more: such a test does not tell 185 Bq from nothing (10 CFR
    35.67 asks for one that detects it; read).
    """
    from procedures.units import number_in, read_number, read_quantity

    line = clean_line(text)
    below = line.startswith("<")
    figure = line.lstrip("<").strip()
    try:
        result = read_number(figure)
    except Trouble:
        result = number_in(read_quantity(figure, like="Bq"), "Bq")
    if result < 0:
        raise Trouble(f"{result:f} Bq is no activity", allowed="0 or more", do="Enter the result again.")
    if below and result >= LEAKS_FROM_BQ:
        raise Trouble(
            f"a test that sees nothing below {result:f} Bq does not show whether it leaks",
            allowed="a test that can detect 185 Bq (10 CFR 35.67): a figure, or less than one below 185 Bq",
            do="Have it tested again.",
        )
    return LeakResult(result, below)


def leak_test(
    site: Site,
    by: str,
    source_id: str,
    *,
    on: date,
    result: str,
    tested_by: str,
    measured_with: str,
    note: str = "",
    pin: str | None = None,
) -> LeakResult:
    """Record a leak test, with what a record of one has to hold (10 CFR 35.2067, read in part).

    185 Bq or more withdraws the source; anyone on the list may record that. Raises Trouble for a day to come, for one
    before the newest test recorded (an old result must not stand for a new one), and for what is no result.
    """
    state = source(site, source_id)
    found = leak_result(result)
    may_test(site, by, found)
    day_of_test(site, source_id, on)
    due = next_leak_test(on, site.settings())
    fields = state.fields
    body = {
        "on": on.isoformat(),
        "due": due.isoformat() if due else None,
        "result_bq": f"{found.bq:f}",
        "below": found.below,
        "by": words("name of whoever tested it", tested_by),
        "measured_with": words("instrument or laboratory", measured_with),
        "note": words("note", note, needed=False),
        **{name: str(fields.get(name, "")) for name in ("model", "serial", "nuclide", "activity", "activity_on")},
    }
    if not found.leaks:
        rights.confirm(site, by, pin)
    site.record("leak-tested", body, about=(source_id,), person=by)
    return found


def may_test(site: Site, by: str, found: LeakResult | None) -> None:
    """Raises Trouble unless this person may record a leak test that found this (None: not known yet)."""
    if found is not None and found.leaks:
        on_the_list(site, by)
    else:
        rights.entitled(site, by, "register")


def day_of_test(site: Site, source_id: str, on: date) -> None:
    """Raises Trouble for a leak test of a day to come, or of one before the newest that is recorded."""
    state = source(site, source_id)
    if on > today(site):
        raise Trouble(f"{on.isoformat()} is still to come", allowed="today or before", do="Enter the day of the test.")
    if state.leak_tested and on.isoformat() < state.leak_tested:
        raise Trouble(
            f"a later leak test is recorded, of {state.leak_tested}",
            allowed=f"{state.leak_tested} or later",
            do="An older result changes nothing: keep its paper with the records.",
        )


def on_the_list(site: Site, person: str) -> None:
    """Raises Trouble unless this is a person on the list, whatever their role or training."""
    known = site.journal.thing_now(person) if person else None
    if known is None or not known.registered or known.retired or known.what != "person":
        raise Trouble("nobody on the list has said who does this", allowed="a person on the list", do="Scan a badge.")


# --- counting ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Counted:
    """What became of looking for one source: found or not, and where."""

    source: str
    found: bool
    where: str = ""


def count(site: Site, by: str, looked_for: Sequence[Counted], *, pin: str | None = None) -> None:
    """Record a physical inventory of these sources, in one transaction; one not found is missing from then on.

    Anyone on the list may count. That a source recorded as missing is there again takes a lead.
    """
    if not looked_for:
        raise Trouble("no source was counted", allowed="at least one", do="Scan a source, or say that it is not there.")
    on_the_list(site, by)
    drafts = []
    for each in looked_for:
        state = source(site, each.source)
        if each.found and state.whereabouts == "missing":
            rights.entitled(site, by, "register")
        body = {
            "on": today(site).isoformat(),
            "found": each.found,
            "where": words("place", each.where, needed=False),
        }
        drafts.append(Draft("counted", body, (each.source,), person=by))
    if any(each.found for each in looked_for):
        rights.confirm(site, by, pin)
    site.journal.append(drafts, site.clock.now())


# --- condition -----------------------------------------------------------------------------------------------------


def condition(site: Site, by: str, source_id: str, found: str, say: str, *, pin: str | None = None) -> None:
    """Record that a source is damaged, or has slipped in its jig (anyone on the list); or is good again (a lead).

    `say` is what was seen, or was done about it.
    """
    source(site, source_id)
    last = site.journal.last_about(source_id)
    if found not in CONDITIONS:
        raise Trouble("that is no state of a source", allowed=", ".join(CONDITIONS), do="Choose one.")
    body = {"condition": found, "say": words("reason", say)}
    if found == "good":
        rights.require(site, by, "register", pin)
    else:
        on_the_list(site, by)
    draft = Draft("source-condition", body, (source_id,), person=by)
    try:
        # That it is good answers what was known: not what came in while the PIN was typed.
        site.journal.append((draft,), site.clock.now(), expect=(source_id, last) if found == "good" else None)
    except Overtaken:
        raise Trouble(
            "something about this source came in meanwhile; nothing was recorded",
            do="Look at it again, then say how it is.",
        ) from None
