"""Check sources: what may not be used, what they are worth, what relied on them, and when one is to be suspected."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from desk_walk import MINI, START, id_of, small_site, walk
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from source_checks import ended, failed, found, opened, scanned

from procedures.asks import Ask, ReadingAsk
from procedures.clock import ManualClock
from procedures.findings import Finding, finding_from_json
from procedures.mixtures import factor_between, mixture
from procedures.nuclides import decay_factor, half_life
from procedures.site import inventory, opening_facts, references, source_keeping, source_watch
from procedures.site.checkouts import Desk
from procedures.site.foresight import obstacles
from procedures.site.judging import judge
from procedures.site.opening import Site
from procedures.site.profiles import adopted_procedure
from procedures.site.source_facts import half_life_since
from procedures.site.source_keeping import Counted
from procedures.site.source_outlook import outlooks, worth
from procedures.site.source_relied import relied, spans
from procedures.site.source_trouble import next_leak_test
from procedures.site.views import CheckoutView
from procedures.trouble import Trouble

YEAR = 365.2422
CERTIFICATE = {
    "nuclide": "Cf-252",
    "certified_as": "emission rate",
    "activity": "20000 /s",
    "activity_on": "2024-06-01",
}
CALIFORNIUM = [{"nuclide": "Cf-252", "share": "0.9"}, {"nuclide": "Cf-250", "share": "0.1"}]


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock(START)


@pytest.fixture
def site(tmp_path: Path, clock: ManualClock) -> Iterator[Site]:
    with small_site(tmp_path, clock) as made:
        clock.advance(60)
        yield made


def _trouble(site: Site) -> str:
    """What the opening of a checkout finds wrong with the only source."""
    now = site.clock.now()
    return opening_facts.gather(site, id_of(site, "C-1"), id_of(site, "P-2"), now).facts.sources[0].trouble


def _tested(site: Site, result: str, by: str = "P-1", on: dt.date = dt.date(2026, 5, 1)) -> None:
    source_keeping.leak_test(
        site, id_of(site, by), id_of(site, "S-1"), on=on, result=result, tested_by="TP", measured_with="well counter 4"
    )


# --- leak tests ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("result", "leaks"),
    [
        ("184.9", False),
        ("184.99999999", False),
        ("185", True),
        ("185.0", True),
        ("185.1", True),
        ("0.185 kBq", True),
        ("0.1849 kBq", False),
        ("0.005 µCi", True),
        ("0.004999 uCi", False),
        ("11100 dpm", True),
        ("11099 dpm", False),
        ("0", False),
        ("< 10 Bq", False),
        ("<184.9", False),
    ],
)
def test_185_becquerel_withdraws_a_source_and_less_does_not(site: Site, result: str, leaks: bool) -> None:
    """10 CFR 35.67 (read): 185 Bq or more. 0.005 µCi and 11,100 dpm are 185 Bq to the last figure."""
    _tested(site, result)
    assert ("leaks" in _trouble(site)) is leaks
    assert ("radiation safety officer" in _trouble(site)) is leaks


@pytest.mark.parametrize("result", ["", "-1", "-1 Bq", "five", "3 mR/h", "< 185", "< 1 kBq", "<", "1e400", "NaN"])
def test_what_is_no_result_is_not_recorded(site: Site, result: str) -> None:
    """A test that cannot see 185 Bq shows nothing, and is no passed test (10 CFR 35.67, read)."""
    with pytest.raises(Trouble):
        _tested(site, result)
    assert site.journal.source_now(id_of(site, "S-1")).leak_tested is None


def test_the_record_holds_what_an_inspector_asks_for(site: Site) -> None:
    """Model, serial, nuclide, activity, result in becquerel, date, name: 10 CFR 35.2067 (read in part)."""
    source_keeping.describe(site, id_of(site, "P-1"), id_of(site, "S-1"), {"model": "button"})
    _tested(site, "0.003 µCi")
    body = site.journal.about(id_of(site, "S-1"), kinds=("leak-tested",), limit=1)[0].body
    wanted = {"model": "button", "serial": "7", "nuclide": "Cs-137", "activity": "37 kBq", "activity_on": "2024-01-01"}
    assert wanted.items() <= body.items()
    assert (body["on"], Decimal(body["result_bq"]), body["by"]) == ("2026-05-01", 111, "TP")
    assert body["due"] == "2026-11-01"


def test_an_older_result_does_not_stand_for_a_newer_one(site: Site) -> None:
    """Typing in last year's good test must not bring a leaking source back."""
    _tested(site, "200")
    with pytest.raises(Trouble, match="a later leak test"):
        _tested(site, "3", on=dt.date(2026, 4, 30))
    with pytest.raises(Trouble, match="still to come"):
        _tested(site, "3", on=dt.date(2026, 6, 2))
    assert "leaks" in _trouble(site)


def test_anyone_may_say_that_it_leaks_and_only_a_lead_that_it_does_not(site: Site) -> None:
    """Anyone may end trust; few may restore it."""
    with pytest.raises(Trouble, match="only a site lead"):
        _tested(site, "3", by="P-2")
    _tested(site, "185", by="P-2")
    with pytest.raises(Trouble, match="only a site lead"):
        _tested(site, "3", by="P-2")
    _tested(site, "3", by="P-1")
    assert _trouble(site) == ""


@pytest.mark.parametrize(
    ("on", "months", "due"),
    [
        (dt.date(2026, 8, 31), "6", dt.date(2027, 2, 28)),
        (dt.date(2027, 8, 31), "6", dt.date(2028, 2, 29)),
        (dt.date(2026, 5, 1), "3", dt.date(2026, 8, 1)),
        (dt.date(2026, 5, 1), "0", None),
        (dt.date(2026, 5, 1), "often", dt.date(2026, 11, 1)),
    ],
)
def test_the_next_leak_test_never_falls_after_the_month(on: dt.date, months: str, due: dt.date | None) -> None:
    """By the calendar; an interval that cannot be read is the strict one of 10 CFR 35.67."""
    assert next_leak_test(on, {"leak_test_interval_months": months}) == due


def test_a_leak_test_counts_until_local_midnight(tmp_path: Path) -> None:
    """Due dates end with the day on the site, not with that of a clock elsewhere."""
    clock = ManualClock(dt.datetime(2026, 6, 1, 6, 5, tzinfo=dt.UTC))
    with small_site(tmp_path, clock, zone="America/New_York") as site:
        _tested(site, "3", on=dt.date(2026, 2, 1))
        clock.advance((dt.datetime(2026, 8, 2, 3, 59, tzinfo=dt.UTC) - clock.now().utc).total_seconds())
        assert _trouble(site) == ""
        clock.advance(60)
        assert "leak test" in _trouble(site)


def test_an_exemption_is_claimed_by_a_lead_and_never_by_itself(site: Site, clock: ManualClock) -> None:
    """37 kBq of a gamma emitter need no test by 10 CFR 35.67, but the licence may ask for one all the same."""
    source = id_of(site, "S-1")
    _tested(site, "3", on=dt.date(2025, 10, 1))
    clock.advance(1)
    assert "leak test" in _trouble(site)
    claim = {"leak_test_exempt": "small beta or gamma"}
    with pytest.raises(Trouble, match="only a site lead"):
        source_keeping.describe(site, id_of(site, "P-2"), source, claim)
    source_keeping.describe(site, id_of(site, "P-1"), source, claim)
    assert _trouble(site) == ""
    _tested(site, "185", by="P-2")
    assert "leaks" in _trouble(site)


def test_a_stored_source_is_tested_before_it_is_used(site: Site) -> None:
    """10 CFR 35.67 (memory): stored sources need no test, but one before use."""
    _tested(site, "3", on=dt.date(2025, 10, 1))
    source_keeping.describe(site, id_of(site, "P-1"), id_of(site, "S-1"), {"leak_test_exempt": "stored"})
    assert "leak test" in _trouble(site)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"leak_test_exempt": "short-lived"}, "half-life of 30.1671 y"),
        ({"leak_test_exempt": "small alpha or neutron", "activity": "0.38 MBq"}, "certificate says 0.38 MBq"),
        ({"leak_test_exempt": "small beta or gamma", "activity": "101 µCi"}, "certificate says 101 µCi"),
        ({"leak_test_exempt": "small beta or gamma", "emits": "Alpha, gamma"}, "it emits alpha"),
        ({"leak_test_exempt": "local rule"}, "which local rule"),
        ({"leak_test_exempt": "because"}, "no reason not to leak-test"),
    ],
)
def test_an_exemption_that_the_certificate_speaks_against_is_refused(
    site: Site, changes: dict[str, Any], says: str
) -> None:
    """3.7 MBq beta or gamma, 0.37 MBq alpha or neutron, half-life up to 30 d: 10 CFR 35.67 (read)."""
    with pytest.raises(Trouble, match=says):
        source_keeping.describe(site, id_of(site, "P-1"), id_of(site, "S-1"), changes)


def test_exemptions_on_their_limits_stand(site: Site) -> None:
    """100 µCi are 3.7 MBq, and 10 µCi 0.37 MBq: the limits themselves are exempt (10 CFR 35.67, read)."""
    lead, source = id_of(site, "P-1"), id_of(site, "S-1")
    source_keeping.describe(site, lead, source, {"leak_test_exempt": "small beta or gamma", "activity": "100 µCi"})
    source_keeping.describe(site, lead, source, {"leak_test_exempt": "small alpha or neutron", "activity": "10 µCi"})


# --- condition and counts ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("condition", ["damaged", "slipped"])
def test_a_source_that_is_not_good_is_not_used_until_a_lead_says_so(site: Site, condition: str) -> None:
    """Anyone may say it; the words say what to do."""
    source, tech, lead = (id_of(site, label) for label in ("S-1", "P-2", "P-1"))
    source_keeping.condition(site, tech, source, condition, "holder is bent")
    assert condition in _trouble(site)
    assert "holder is bent" in _trouble(site)
    with pytest.raises(Trouble, match="only a site lead"):
        source_keeping.condition(site, tech, source, "good", "bent back")
    with pytest.raises(Trouble, match="reason is missing"):
        source_keeping.condition(site, lead, source, "good", " ")
    source_keeping.condition(site, lead, source, "good", "seated anew")
    assert _trouble(site) == ""


def test_a_source_not_found_is_missing_and_takes_a_lead_to_come_back(site: Site, clock: ManualClock) -> None:
    """A count is the moment at which a lost source is noticed."""
    source, tech, lead = (id_of(site, label) for label in ("S-1", "P-2", "P-1"))
    source_keeping.count(site, tech, [Counted(source, found=False)])
    assert "missing: tell the radiation safety officer now" in _trouble(site)
    clock.advance(1)
    with pytest.raises(Trouble, match="only a site lead"):
        source_keeping.count(site, tech, [Counted(source, found=True, where="shelf 2")])
    source_keeping.count(site, lead, [Counted(source, found=True, where="shelf 2")])
    assert _trouble(site) == ""


def test_a_count_is_kept_whole_or_not_at_all(site: Site) -> None:
    """One thing wrong keeps everything out: nobody knows what half a count was."""
    source = id_of(site, "S-1")
    before = site.journal.count()
    for wrong in ([], [Counted(source, found=True), Counted(id_of(site, "C-1"), found=False)]):
        with pytest.raises(Trouble):
            source_keeping.count(site, id_of(site, "P-2"), wrong)
    with pytest.raises(Trouble, match="on the list"):
        source_keeping.count(site, "", [Counted(source, found=False)])
    assert site.journal.count() == before


def test_an_overdue_count_keeps_a_source_from_being_used(site: Site, clock: ManualClock) -> None:
    """Six months: 10 CFR 35.67(g) (read in part). The day itself still counts; 0 months asks for none."""
    source_keeping.count(site, id_of(site, "P-2"), [Counted(id_of(site, "S-1"), found=True)])
    clock.advance((dt.datetime(2026, 12, 1, 23, 59, tzinfo=dt.UTC) - clock.now().utc).total_seconds())
    assert _trouble(site) == ""
    clock.advance(60)
    assert "counted by 2026-12-01" in _trouble(site)
    assert any("counted" in line for line in obstacles(site, id_of(site, "C-1")))
    site.record("settings-changed", {"set": {"source_count_interval_months": "0"}}, about=("site",))
    assert _trouble(site) == ""


def test_a_check_with_a_bad_source_is_not_checked_and_locks_nothing(site: Site, clock: ManualClock) -> None:
    """The instrument is not at fault: no lockout, nothing in doubt, and the ending says what was missing."""
    source_keeping.condition(site, id_of(site, "P-2"), id_of(site, "S-1"), "slipped", "it rattles")
    desk = Desk(site)
    view = walk(desk, desk.start(id_of(site, "C-1"), id_of(site, "P-2")), clock)
    assert view.ending is not None
    assert view.ending.ending == "not checked"
    assert site.journal.instrument_now(id_of(site, "C-1")).lockouts == ()


def test_a_source_damaged_during_the_check_is_seen_at_its_end(site: Site, clock: ManualClock) -> None:
    """A checkout may be hours old when it ends."""
    desk = Desk(site)
    view = desk.start(id_of(site, "C-1"), id_of(site, "P-2"))
    source_keeping.condition(site, id_of(site, "P-2"), id_of(site, "S-1"), "damaged", "dropped")
    ending = walk(desk, view, clock).ending
    assert ending is not None
    assert ending.ending == "not checked"


# --- ages of references --------------------------------------------------------------------------------------------


def test_a_reference_too_old_by_the_sites_rule_is_left_out_and_said(site: Site, clock: ManualClock) -> None:
    """Taken on 1 June 2026 it counts to the end of 1 March 2027; the run then ends as not checked."""
    site.record("settings-changed", {"set": {"highest_reference_age_months": "9"}}, about=("site",))
    clock.advance((dt.datetime(2027, 3, 1, 23, 59, tzinfo=dt.UTC) - clock.now().utc).total_seconds())
    assert _trouble(site) == ""
    clock.advance(60)
    assert "older than 9 months" in _trouble(site)
    assert any("older than 9 months" in line for line in obstacles(site, id_of(site, "C-1")))
    state = site.journal.instrument_now(id_of(site, "C-1"))
    assert [(each.old, each.old_on) for each in outlooks(site, state)] == [(True, dt.date(2027, 3, 1))]
    facts = opening_facts.gather(site, id_of(site, "C-1"), id_of(site, "P-2"), clock.now()).facts
    assert facts.references == ()
    desk = Desk(site)
    ending = walk(desk, desk.start(id_of(site, "C-1"), id_of(site, "P-2")), clock).ending
    assert ending is not None
    assert ending.ending == "not checked"
    assert any("older than 9 months" in line for line in ending.missing)


def test_one_old_reference_of_two_leaves_the_other_usable(tmp_path: Path) -> None:
    """The source is not at fault where another scale has a reference that counts."""
    two = MINI.replace(
        "[ready]",
        '[[instrument.scale]]\nname = "x10"\nfull_scale = "30 mR/h"\ndivision = "1 mR/h"\nmultiplier = 10\n'
        'shown_by = "nothing"\n[ready]',
    )
    clock = ManualClock(START)
    with small_site(tmp_path, clock, profile=two) as site:
        instrument = id_of(site, "C-1")
        clock.advance(86400 * 90)
        state = site.journal.instrument_now(instrument)
        assert state.calibration is not None
        references.reference_reading(
            site,
            instrument,
            source=id_of(site, "S-1"),
            jig=id_of(site, "J-1"),
            role="daily",
            scale="x10",
            readings=["1.6", "1.7", "1.8"],
            unit="mR/h",
            calibration=state.calibration.event,
        )
        site.record("settings-changed", {"set": {"highest_reference_age_months": "2"}}, about=("site",))
        facts = opening_facts.gather(site, instrument, id_of(site, "P-2"), clock.now()).facts
        assert [each.scale for each in facts.references] == ["x10"]
        assert facts.sources[0].trouble == ""
        assert any("scale x1 is older" in line for line in obstacles(site, instrument))


# --- mixtures in a check -------------------------------------------------------------------------------------------


def _californium(site: Site) -> str:
    """The bound source becomes a mixture, certified two years before."""
    source = id_of(site, "S-1")
    changes = {**CERTIFICATE, "components": CALIFORNIUM}
    source_keeping.describe(site, id_of(site, "P-1"), source, changes)
    return source


def _reads(figure: str) -> Any:
    def answer(ask: Ask, view: CheckoutView) -> str:
        from desk_walk import sensible

        return figure if isinstance(ask, ReadingAsk) and ask.key.startswith("reading-") else sensible(ask, view)

    return answer


def _response(site: Site, checkout: str) -> Finding:
    events = site.journal.about(checkout, kinds=("found",), limit=-1)
    return next(
        finding_from_json(event.body["finding"]) for event in events if event.body["finding"]["kind"] == "response"
    )


def test_a_mixture_is_judged_by_all_it_holds(site: Site, clock: ManualClock) -> None:
    """Against the closed form at the moment of the last reading; by Cf-252 alone it would be 9 % off after 5 years."""
    _californium(site)
    site.record("settings-changed", {"set": {"calibration_warning_days": "30"}}, about=("site",))
    referenced = site.journal.instrument_now(id_of(site, "C-1")).references[0].utc
    clock.advance(86400 * 300)
    desk = Desk(site)
    view = walk(desk, desk.start(id_of(site, "C-1"), id_of(site, "P-2")), clock, _reads("1.35"))
    assert view.ending is not None
    assert view.ending.ending == "fit for use", view.ending
    response = _response(site, view.checkout)
    elapsed, decay = (response.number(name) for name in ("elapsed", "decay"))
    assert elapsed is not None
    assert decay is not None
    first = (referenced - dt.datetime(2024, 6, 1, tzinfo=dt.UTC)).total_seconds() / 86400
    days = float(elapsed.value)

    def left(day: float) -> float:
        return 0.9 * 0.5 ** (day / (2.645 * YEAR)) + 0.1 * 0.5 ** (day / (13.08 * YEAR))

    assert float(decay.value) == pytest.approx(left(first + days) / left(first), rel=1e-6)
    assert float(decay.value) != pytest.approx(decay_factor(half_life("Cf-252").days, days), rel=1e-2)


def test_the_record_of_a_mixture_is_judged_again_by_itself(site: Site, clock: ManualClock) -> None:
    """The opening holds the half-life it was judged by, whatever is said of the source later."""
    _californium(site)
    clock.advance(86400 * 200)
    desk = Desk(site)
    checkout = walk(desk, desk.start(id_of(site, "C-1"), id_of(site, "P-2")), clock, _reads("1.45")).checkout
    source_keeping.describe(site, id_of(site, "P-1"), id_of(site, "S-1"), {"components": [], "nuclide": "Co-60"})
    events = site.journal.checkout_events(checkout)
    ran = events[0].body["profile"]
    assert judge(adopted_procedure(site, ran["id"], ran["sha256"]), events) == ()


def test_a_single_nuclide_is_judged_as_it_always_was(site: Site) -> None:
    """The facts of an opening are those of its nuclide, to the last bit."""
    (source,) = opening_facts.gather(site, id_of(site, "C-1"), id_of(site, "P-2"), site.clock.now()).facts.sources
    known = half_life("Cs-137")
    assert (source.nuclide, source.half_life_days, source.half_life_relative_u, source.half_life_source) == (
        known.nuclide,
        known.days,
        known.relative_uncertainty,
        known.source,
    )


def test_strontium_with_its_daughter_is_judged_by_strontium() -> None:
    """In equilibrium Y-90 falls as Sr-90 does (28.79 y, ICRP-107), not within days."""
    parts = [{"nuclide": "Sr-90", "share": "0.2"}, {"nuclide": "Y-90", "share": "0.8"}]
    fields = {"nuclide": "Sr-90", "components": parts, "activity_on": "2024-01-01"}
    assert half_life_since(fields, [START], START + dt.timedelta(days=500)) == (half_life("Sr-90"), "")


@settings(max_examples=60)
@given(st.integers(0, 3000), st.integers(0, 3000), st.integers(0, 3000))
def test_references_of_different_days_are_one_only_where_they_fall_alike(one: int, two: int, more: int) -> None:
    """One half-life stands for both to a thousandth, or the check says that it cannot be done."""
    fields = {"nuclide": "Cf-252", "components": CALIFORNIUM, "activity_on": "2024-06-01"}
    start = dt.datetime(2024, 6, 1, tzinfo=dt.UTC)
    days = sorted((one, two))
    now = days[1] + more
    taken = [start + dt.timedelta(days=day) for day in days]
    known, trouble = half_life_since(fields, taken, start + dt.timedelta(days=now))
    assert known is not None
    parts = mixture([(row["nuclide"], Decimal(row["share"])) for row in CALIFORNIUM])
    off = [abs(decay_factor(known.days, now - day) / factor_between(parts, day, now) - 1) for day in days]
    assert off[1] < 1e-8
    if not trouble:
        assert off[0] <= 1.01e-3
    else:
        assert "anew" in trouble
        assert off[0] >= 0.99e-3


@pytest.mark.parametrize(
    "components",
    [
        [{"nuclide": "Cf-250", "share": "0.1"}],
        [{"nuclide": "Cf-250"}],
        "Cf-250",
        [3],
        [{"nuclide": "Xy-9", "share": "1"}],
        [{"nuclide": "Cs-137", "share": "lots"}],
    ],
)
def test_what_another_program_wrote_of_its_nuclides_is_not_guessed_at(site: Site, components: Any) -> None:
    """A share that is not understood is no reason to take the source for pure: it cannot be checked with."""
    site.record("described", {"set": {"components": components}}, about=(id_of(site, "S-1"),))
    assert "not known well enough" in _trouble(site)


# --- what it is worth, and until when ------------------------------------------------------------------------------


def test_what_a_source_is_worth_today() -> None:
    """After 5 y: Cs-137 89.146899 %, Cf-252 with a tenth Cf-250 24.2766 % and 7.6723 % (radioactivedecay, library)."""
    after = dt.datetime(2024, 6, 1, tzinfo=dt.UTC) + dt.timedelta(days=5 * YEAR)
    caesium = {"nuclide": "Cs-137", "activity": "37 kBq", "activity_on": "2024-06-01"}
    assert worth(caesium, after).left == pytest.approx(0.89146899, abs=1e-8)
    assert worth(caesium, after).today == "33 kBq"
    mixed = {**CERTIFICATE, "components": CALIFORNIUM}
    assert worth(mixed, after).left == pytest.approx((24.276590755007913 + 7.672331720286247) / 100, rel=1e-9)
    assert worth(mixed, after).parts[1][1] == pytest.approx(7.672331720286247 / 31.94892247529416, rel=1e-9)
    with pytest.raises(Trouble, match="after now"):
        worth(caesium, dt.datetime(2024, 5, 31, tzinfo=dt.UTC))


def _day_below(site: Site, expected: float, least: float) -> dt.date:
    """The first day on which Co-60 (5.2713 y, ICRP-107) has come down to the least: a search day by day."""
    days = next(n for n in range(40_000) if expected * 0.5 ** (n / (5.2713 * YEAR)) <= least)
    return (site.clock.now().utc + dt.timedelta(days=days)).date()


def test_where_the_profile_says_nothing_a_reading_too_small_to_read_is_warned_of(site: Site) -> None:
    """Five divisions of 0.1 mR/h are more than a tenth of 3 mR/h (common practice, no source)."""
    source_keeping.describe(site, id_of(site, "P-1"), id_of(site, "S-1"), {"nuclide": "Co-60"})
    (row,) = outlooks(site, site.journal.instrument_now(id_of(site, "C-1")))
    assert (row.practice, row.weak) == (True, False)
    assert row.weak_on is not None
    assert abs(row.weak_on - _day_below(site, 1.65, 0.5)) <= dt.timedelta(days=1)


@pytest.mark.parametrize(
    ("wanted", "least", "says"),
    [
        ({"smallest_over_background": "20"}, 0.2, "20 times background"),
        ({"limits": '{ low = "1.1 mR/h", high = "2 mR/h" }'}, 1.1, "nothing below 1.1 mR/h"),
        ({"smallest_over_background": "130", "limits": '{ low = "1.1 mR/h", high = "2 mR/h" }'}, 1.3, "130 times"),
    ],
)
def test_the_day_on_which_it_is_too_weak_follows_the_profile(
    tmp_path: Path, wanted: dict[str, str], least: float, says: str
) -> None:
    """What asks for the largest reading decides. The background is that of the reference, 0.01 mR/h."""
    with small_site(tmp_path, ManualClock(START), profile=_with_background(wanted)) as site:
        instrument = id_of(site, "C-1")
        source_keeping.describe(site, id_of(site, "P-1"), id_of(site, "S-1"), {"nuclide": "Co-60"})
        calibration = references.calibrated(
            site, instrument, on=dt.date(2026, 5, 30), due=dt.date(2027, 5, 30), by="bench", certificate="K-2"
        )
        references.reference_reading(
            site,
            instrument,
            source=id_of(site, "S-1"),
            jig=id_of(site, "J-1"),
            role="daily",
            scale="x1",
            readings=["1.65", "1.66", "1.67"],
            unit="mR/h",
            background="0.01",
            calibration=calibration,
        )
        (row,) = outlooks(site, site.journal.instrument_now(instrument))
        assert row.expected == pytest.approx(1.65, rel=1e-9)
        assert row.practice is False
        assert says in row.why
        assert row.weak_on is not None
        assert abs(row.weak_on - _day_below(site, 1.65, least)) <= dt.timedelta(days=1)


def _with_background(wanted: dict[str, str]) -> str:
    """The small profile with a background step, and a response step that wants this as well."""
    step = '[[step]]\nid = "response"'
    background = (
        '[[step]]\nid = "background"\nkind = "background"\nscale = "x1"\nhighest = "0.2 mR/h"\nlockout = "bg"\n'
    )
    lines = [line for line in MINI.splitlines() if not any(line.startswith(f"{key} =") for key in wanted)]
    made = "\n".join(lines).replace(step, background + step)
    return made + "\n" + "\n".join(f"{key} = {value}" for key, value in wanted.items()) + "\n"


def test_what_is_expected_today_is_what_the_check_expects(site: Site, clock: ManualClock) -> None:
    """The sheet and the verdict must not differ."""
    clock.advance(86400 * 100)
    state = site.journal.instrument_now(id_of(site, "C-1"))
    (row,) = outlooks(site, state)
    desk = Desk(site)
    checkout = walk(desk, desk.start(id_of(site, "C-1"), id_of(site, "P-2")), clock).checkout
    expected = _response(site, checkout).number("expected")
    assert expected is not None
    assert row.expected == pytest.approx(float(expected.value), rel=1e-6)
    assert row.unit == expected.unit


# --- what relied on a source ---------------------------------------------------------------------------------------

OUTCOMES = ["pass", "fail", "could not check", "", "warn"]
"""Of one step that took a source out; "": it came to no finding."""

WHAT = st.one_of(
    st.tuples(
        st.just("check"),
        st.integers(0, 1),
        st.lists(
            st.tuples(st.integers(0, 1), st.sampled_from(["pass", "fail", "could not check", "", "warn"])), max_size=3
        ),
    ),
    st.tuples(st.just("say"), st.integers(0, 1), st.sampled_from(["good", "damaged", "slipped"])),
)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(history=st.lists(WHAT, max_size=9))
def test_what_relied_on_a_source_is_what_a_plain_reading_of_everything_finds(
    tmp_path_factory: pytest.TempPathFactory, history: list[tuple[str, int, Any]]
) -> None:
    """Against an oracle that goes through the history in order and asks nothing of the journal."""
    clock = ManualClock(START)
    with small_site(tmp_path_factory.mktemp("relied"), clock) as site:
        instrument = id_of(site, "C-1")
        sources = [id_of(site, "S-1"), _another(site, "S-2")]
        told: list[tuple[str, int, Any]] = []
        for kind, which, what in history:
            clock.advance(1)
            if kind == "say":
                source_keeping.condition(site, id_of(site, "P-1"), sources[which], what, "said")
                told.append(("say", which, what))
                continue
            checkout = opened(site, instrument)
            for visit, (source, outcome) in enumerate(what):
                scanned(site, checkout, sources[source], f"step-{visit}", 1)
                if outcome:
                    found(site, checkout, instrument, f"step-{visit}", 1, outcome)
                scanned(site, checkout, sources[source], f"step-{visit}", 1, "source-back")
            told.append((checkout, which, what))
        for which, source in enumerate(sources):
            made = [[row.checkout for row in relied(site, source, span, limit=100)[0]] for span in spans(site, source)]
            assert made == _by_hand(told, which)
            for span, whole in zip(spans(site, source), made, strict=True):
                pages = [relied(site, source, span, limit=1, offset=n) for n in range(len(told) + 1)]
                last = [further for _, further in pages].index(False)
                rows = [row for page, _ in pages[: last + 1] for row in page]
                assert [row.checkout for row in rows] == whole


def _by_hand(told: list[tuple[str, int, Any]], which: int) -> list[list[str]]:
    """Checks since the last good; and, where that ended a bad time, those between the good before and it."""
    relying: list[str] = []
    earlier: list[str] | None = None
    was = ""
    for kind, source, what in told:
        if kind == "say":
            if source == which:
                if what == "good":
                    earlier = relying if was in ("damaged", "slipped") else None
                    relying = []
                was = what
        elif any(used == which and outcome in ("pass", "fail", "warn") for used, outcome in what):
            relying = [kind, *relying]
    return [relying] if earlier is None else [relying, earlier]


def _another(site: Site, label: str) -> str:
    return inventory.register_source(
        site,
        label=label,
        serial=label,
        nuclide="Cs-137",
        activity="37 kBq",
        activity_on=dt.date(2024, 1, 1),
        emits="gamma",
    )


# --- pointing at the source ----------------------------------------------------------------------------------------


def _instruments(site: Site, *labels: str) -> list[str]:
    return [
        inventory.register_instrument(site, label=label, serial=label, type="Vent one", profile="mini")
        for label in labels
    ]


def test_two_instruments_that_read_low_with_one_source_point_at_it(site: Site, clock: ManualClock) -> None:
    """One alone is its own fault; two within a week, and with no other source, are not."""
    one, two = _instruments(site, "C-2", "C-3")
    source = id_of(site, "S-1")
    failed(site, one, source, 0.5)
    assert source_watch.suspect(site, source) == ""
    failed(site, one, source, 0.5)
    assert source_watch.suspect(site, source) == ""
    clock.advance(86400 * 6)
    failed(site, two, source, 0.79)
    said = source_watch.suspect(site, source)
    assert "C-2, C-3 read low with source S-1" in said
    assert source_watch.notices(site) == (said,)
    inventory.bind_source(site, one, "daily", source)
    assert source_watch.suspects_of(site, site.journal.instrument_now(one)) == (said,)
    clock.advance(86400 * 2)
    assert source_watch.notices(site) == ()


def test_opposite_sides_do_not_point_at_the_source(site: Site) -> None:
    """A source that slipped reads low everywhere."""
    one, two = _instruments(site, "C-2", "C-3")
    source = id_of(site, "S-1")
    failed(site, one, source, 0.5)
    failed(site, two, source, 1.5)
    assert source_watch.notices(site) == ()


def test_no_response_is_low_and_off_the_end_is_high(site: Site) -> None:
    """Neither has a figure that could be held against limits."""
    one, two, three, four = _instruments(site, "C-2", "C-3", "C-4", "C-5")
    first, second = id_of(site, "S-1"), _another(site, "S-2")
    failed(site, one, first, None, code="no-response")
    failed(site, two, first, 0.1)
    failed(site, three, second, None)
    failed(site, four, second, 3.0)
    assert "read low with source S-1" in source_watch.suspect(site, first)
    assert "read high with source S-2" in source_watch.suspect(site, second)


def test_what_all_sources_show_is_not_the_fault_of_one(site: Site) -> None:
    """Air, or a wrong factor, moves them all; and an instrument that is low with two sources is low itself."""
    one, two, three, four = _instruments(site, "C-2", "C-3", "C-4", "C-5")
    first, second = id_of(site, "S-1"), _another(site, "S-2")
    failed(site, one, first, 0.5)
    failed(site, two, first, 0.5)
    failed(site, two, second, 0.5)
    assert source_watch.notices(site) == ()
    failed(site, three, first, 0.5)
    assert "C-2, C-4" in source_watch.suspect(site, first)
    failed(site, four, second, 0.5)
    failed(site, id_of(site, "C-1"), second, 0.5)
    assert source_watch.notices(site) == ()


def test_a_source_said_to_be_good_since_is_no_longer_suspected(site: Site, clock: ManualClock) -> None:
    """Somebody looked: what failed before it says nothing of it now."""
    one, two = _instruments(site, "C-2", "C-3")
    source = id_of(site, "S-1")
    failed(site, one, source, 0.5)
    failed(site, two, source, 0.5)
    assert source_watch.notices(site) != ()
    clock.advance(1)
    source_keeping.condition(site, id_of(site, "P-1"), source, "good", "seated anew")
    assert source_watch.notices(site) == ()
    failed(site, one, source, 0.5)
    assert source_watch.notices(site) == ()


def test_other_findings_do_not_point_at_a_source(site: Site) -> None:
    """A window, unsteady readings, a reading that does not come back, a withdrawn check: none says it is off."""
    one, two = _instruments(site, "C-2", "C-3")
    source = id_of(site, "S-1")
    failed(site, one, source, 0.5)
    failed(site, two, source, 0.5, kind="window")
    failed(site, two, source, 1.0, code="not-returning")
    withdrawn = failed(site, two, source, 0.5)
    site.record("withdrawn", {"checkout": withdrawn, "why": "wrong item"}, about=(withdrawn, two))
    assert source_watch.notices(site) == ()


def test_a_failure_still_open_counts(site: Site) -> None:
    """A checkout that failed and was left open failed all the same."""
    one, two = _instruments(site, "C-2", "C-3")
    source = id_of(site, "S-1")
    failed(site, one, source, 0.5)
    checkout = opened(site, two)
    scanned(site, checkout, source, "response", 1)
    found(site, checkout, two, "response", 1, "fail", observed=0.5)
    assert "C-2, C-3" in source_watch.suspect(site, source)


def test_an_ending_without_a_reading_of_the_source_is_passed_over(site: Site) -> None:
    """Locked out for a battery: no source was out."""
    checkout = opened(site, id_of(site, "C-1"))
    found(site, checkout, id_of(site, "C-1"), "battery", 1, "fail", kind="battery")
    ended(site, checkout, id_of(site, "C-1"), "locked out")
    assert source_watch.notices(site) == ()
