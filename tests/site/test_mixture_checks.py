"""Checks with a source of several nuclides: judged by the closed form for each reference, and again the same."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from pathlib import Path

import pytest
from desk_walk import MINI, START, id_of, sensible, small_site, walk

from procedures.asks import Ask, ReadingAsk
from procedures.clock import ManualClock
from procedures.findings import Finding, finding_from_json
from procedures.site import opening_facts, paper, references, source_keeping
from procedures.site.checkouts import Desk
from procedures.site.opening import Site
from procedures.site.verification import verify_site
from procedures.site.views import CheckoutView

YEAR = 365.2422
CERTIFIED = dt.datetime(2024, 6, 1, tzinfo=dt.UTC)
CALIFORNIUM = {
    "nuclide": "Cf-252",
    "certified_as": "emission rate",
    "activity": "20000 /s",
    "activity_on": "2024-06-01",
    "components": [{"nuclide": "Cf-252", "share": "0.9"}, {"nuclide": "Cf-250", "share": "0.1"}],
}
TWO_SCALES = MINI.replace(
    "[ready]",
    '[[instrument.scale]]\nname = "x10"\nfull_scale = "30 mR/h"\ndivision = "1 mR/h"\nmultiplier = 10\n'
    'shown_by = "source"\n[ready]',
) + (
    '[[step]]\nid = "response-x10"\nkind = "response"\nscale = "x10"\nsource = "daily"\nreadings = 1\n'
    'limits = { low = "-50 %", high = "50 %" }\nlockout = "x10-out"\n'
)


def left(at: dt.datetime) -> float:
    """90 % Cf-252 (2.645 y: library, radioactivedecay 0.6.1), 10 % Cf-250 (13.08 y: memory), since the certificate."""
    days = (at - CERTIFIED).total_seconds() / 86400
    return 0.9 * math.exp(-math.log(2) * days / (2.645 * YEAR)) + 0.1 * math.exp(-math.log(2) * days / (13.08 * YEAR))


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock(START)


@pytest.fixture
def site(tmp_path: Path, clock: ManualClock) -> Iterator[Site]:
    """A reference on x1 of 1 June 2026 and one on x10 of half a year later; a calibration of the first day."""
    with small_site(tmp_path, clock, profile=TWO_SCALES) as made:
        source_keeping.describe(made, id_of(made, "P-1"), id_of(made, "S-1"), CALIFORNIUM)
        clock.advance(60)
        _calibrated(made)
        _referenced(made, "x1", ["1.60", "1.65", "1.70"])
        clock.advance(86400 * 182)
        _referenced(made, "x10", ["1.6", "1.7", "1.8"])
        yield made


def _calibrated(site: Site) -> None:
    today = site.clock.now().utc.date()
    references.calibrated(
        site,
        id_of(site, "C-1"),
        on=today,
        due=today + dt.timedelta(days=365),
        by="bench",
        certificate="K-2",
        person=id_of(site, "P-1"),
    )


def _referenced(site: Site, scale: str, readings: list[str]) -> None:
    state = site.journal.instrument_now(id_of(site, "C-1"))
    assert state.calibration is not None
    references.reference_reading(
        site,
        id_of(site, "C-1"),
        source=id_of(site, "S-1"),
        jig=id_of(site, "J-1"),
        role="daily",
        scale=scale,
        readings=readings,
        unit="mR/h",
        calibration=state.calibration.event,
    )


def _answer(ask: Ask, view: CheckoutView) -> str:
    if not isinstance(ask, ReadingAsk):
        return sensible(ask, view)
    beside_source = ask.key.startswith("reading-")
    return f"{ask.wanted} {('1.45' if ask.wanted == 'x1' else '0.16') if beside_source else '0.01'}"


def _checked(site: Site, clock: ManualClock) -> CheckoutView:
    desk = Desk(site)
    return walk(desk, desk.start(id_of(site, "C-1"), id_of(site, "P-2")), clock, _answer)


def _responses(site: Site, checkout: str) -> dict[str, Finding]:
    """By the scale that they show to work."""
    events = site.journal.about(checkout, kinds=("found",), limit=-1)
    found = [finding_from_json(event.body["finding"]) for event in events]
    return {each.shows[0][0]: each for each in found if each.kind == "response"}


def _figure(finding: Finding, name: str) -> float:
    number = finding.number(name)
    assert number is not None
    return float(number.value)


@pytest.mark.parametrize("days", [0.01, 1, 40, 180])
def test_every_reference_falls_by_the_closed_form_of_its_own_days(site: Site, clock: ManualClock, days: float) -> None:
    """Two references of half a year apart fall differently: both are exact, and neither keeps the check from ending."""
    clock.advance(86400 * days)
    view = _checked(site, clock)
    rows = sorted(site.journal.instrument_now(id_of(site, "C-1")).references, key=lambda each: each.utc)
    taken = {each.body["scale"]: each for each in rows}
    found = _responses(site, view.checkout)
    assert found.keys() == {"x1", "x10"}, view.ending
    for scale, finding in found.items():
        since = taken[scale].utc
        at = since + dt.timedelta(days=_figure(finding, "elapsed"))
        assert _figure(finding, "decay") == pytest.approx(left(at) / left(since), rel=1e-9)
        assert _figure(finding, "expected") == pytest.approx(
            _figure(finding, "reference") * left(at) / left(since), rel=1e-9
        )
        assert 2.645 * YEAR < _figure(finding, "half_life") < 13.08 * YEAR
    found_again = verify_site(site.folder)
    assert found_again.sound, (found_again.own, found_again.unjudged)


def test_what_is_said_of_the_source_later_changes_no_record(site: Site, clock: ManualClock) -> None:
    """The opening holds nuclides, shares and half-lives."""
    _checked(site, clock)
    source_keeping.describe(
        site,
        id_of(site, "P-1"),
        id_of(site, "S-1"),
        {"components": [], "nuclide": "Co-60", "activity_on": "2025-01-01"},
    )
    assert verify_site(site.folder).sound


def test_records_made_before_mixtures_were_stored_are_judged_by_their_one_half_life(
    site: Site, clock: ManualClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Their facts have no such keys: they were judged by the effective half-life that they hold, and still are."""
    with monkeypatch.context() as before:
        before.setattr(opening_facts, "_falling_apart", lambda _fields: ((), None))
        old = _checked(site, clock).checkout
    clock.advance(60)
    new = _checked(site, clock).checkout
    rows = [site.journal.checkout_events(each)[0].body["facts"]["sources"][0] for each in (old, new)]
    assert set(rows[1]) - set(rows[0]) == {"components", "shares_on"}
    found = verify_site(site.folder)
    assert found.judged == 2
    assert found.sound, (found.own, found.unjudged)


def test_shares_that_were_changed_in_the_record_come_out_otherwise(site: Site, clock: ManualClock) -> None:
    """The stored shares are what judging again reckons with, not only something that is printed."""
    from bulk_records import checkout_events, record_again

    view = _checked(site, clock)
    assert view.ending is not None
    ending = view.ending.ending

    def more(kind: str, body: dict) -> dict:  # type: ignore[type-arg]
        if kind != "opened":
            return body
        (source,) = body["facts"]["sources"]
        rows = [{**each, "share": "0.5"} for each in source["components"]]
        return {**body, "facts": {**body["facts"], "sources": [{**source, "components": rows}]}}

    record_again(site.journal, checkout_events(site.journal, ending), change=more)
    found = verify_site(site.folder)
    assert len(found.own) == 1
    assert any("Left after decay" in line for line in found.own[0].what)


def test_a_single_nuclide_is_opened_without_shares(site: Site) -> None:
    """Also a daughter that falls with her mother: one half-life holds for both."""
    parts = [{"nuclide": "Sr-90", "share": "0.2"}, {"nuclide": "Y-90", "share": "0.8"}]
    changed = {"nuclide": "Sr-90", "components": parts, "certified_as": "activity", "activity": "3 kBq"}
    source_keeping.describe(site, id_of(site, "P-1"), id_of(site, "S-1"), changed)
    (source,) = paper.facts_at(site, id_of(site, "C-1"), site.clock.now().utc).sources
    assert (source.nuclide, source.components, source.shares_on) == ("Sr-90", (), None)
    assert source.half_life_days == pytest.approx(28.79 * YEAR)
