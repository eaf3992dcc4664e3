"""A check source replaced: read by turns with the old one, its reference carried over, one transaction, refusals."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from desk_walk import MINI, id_of, walk
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from reference_room import CORRECTED, PINS, Room

from procedures.journal.states import Binding
from procedures.site import clearing, inventory, records, replacing
from procedures.site.checkouts import Desk
from procedures.site.reference_readings import Rejected
from procedures.site.verification import verify_site
from procedures.trouble import Trouble

PAIRS = (
    ("1.60", "2.40"), ("1.62", "2.44"), ("1.61", "2.41"), ("1.63", "2.45"), ("1.59", "2.39"),
    ("1.61", "2.42"), ("1.60", "2.40"), ("1.62", "2.43"), ("1.61", "2.41"), ("1.61", "2.40"),
)  # fmt: skip
ENTERED = {
    "role": "daily",
    "old": "S-1",
    "new": "S-2",
    "place": "x1",
    "pairs": "\n".join(" | ".join(pair) for pair in PAIRS),
}
MORE_SCALES = (
    MINI.replace(
        "[ready]",
        '[[instrument.scale]]\nname = "x10"\nfull_scale = "30 mR/h"\ndivision = "1 mR/h"\nmultiplier = 10\n'
        'shown_by = "source"\n[ready]',
        1,
    )
    + '[[step]]\nid = "response-10"\nkind = "response"\nscale = "x10"\nsource = "daily"\ngeometry = "near"\n'
    'limits = { low = "-20 %", high = "20 %" }\nlockout = "response-10-out"\n'
)


class Bench(Room):
    """The room with a second source, 1.5 times as strong."""

    def __init__(self, folder: Path, profile: str = MINI) -> None:
        super().__init__(folder, profile)
        self.new = self.second_source()

    def pairs(self, **changes: Any) -> replacing.Given:
        made = replacing.Given(role="daily", old=self.source, new=self.new, jig=None, scale="x1", pairs=PAIRS)
        return replace(made, **changes)

    def swap(self, person: str = "", pin: str | None = None, **changes: Any) -> str:
        return replacing.replace(self.site, self.instrument, person or self.lead, self.pairs(**changes), pin=pin)

    def binding(self) -> Binding:
        return self.state.bindings["daily"]


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path / "site")
    yield made
    made.site.close()


def refused(bench: Bench, saying: str, **changes: Any) -> None:
    before = bench.site.journal.count()
    with pytest.raises(Trouble, match=saying) as trouble:
        bench.swap(**changes)
    assert trouble.value.do
    assert bench.site.journal.count() == before
    assert bench.binding().source == bench.source


# --- what is kept --------------------------------------------------------------------------------------------------


def test_the_reference_is_carried_over_and_the_role_with_it(bench: Bench) -> None:
    """Old expected · mean new/mean old: 1.65 · 2.415/1.61 = 2.475. The drift of the instrument stays out of it."""
    before = bench.site.journal.count()
    made = bench.swap(jig=bench.jig)
    assert bench.site.journal.count() == before + 2
    body = bench.event(made).body
    value = Decimal(body["value"].split()[0])
    assert float(value) == pytest.approx(1.65 * 2.415 / 1.61, rel=1e-6)
    assert bench.binding() == Binding(bench.new, bench.jig)
    assert body["calibration"] == bench.state.calibration.event  # type: ignore[union-attr]
    came = body["carried_from"]
    assert came["source"] == bench.source
    assert came["ratio"] == pytest.approx(2.415 / 1.61)
    assert came["readings"][0] == "1.60"
    assert came["old_over_expected"] == pytest.approx(1.61 / 1.65, rel=1e-6)


def test_its_uncertainty_holds_that_of_the_old_one(bench: Bench) -> None:
    """By hand: old reference (1.60, 1.65, 1.70): 0.05/√3/1.65 = 0.017496; divisions 0.1/√12 over 1.61 and 2.415."""
    body = bench.event(bench.swap()).body
    parts = body["relative_parts"]
    assert parts["reference"] == pytest.approx(0.0174955, abs=1e-7)
    assert parts["old_division"] == pytest.approx(0.0288675 / 1.61, abs=1e-6)
    assert parts["new_division"] == pytest.approx(0.0288675 / 2.415, abs=1e-6)
    assert body["relative_uncertainty"] == pytest.approx(sum(u * u for u in parts.values()) ** 0.5)
    assert body["relative_uncertainty"] > 0.0174955


def test_a_checkout_passes_with_the_new_source_and_is_judged_alike(bench: Bench) -> None:
    """All that matters: the next morning somebody checks with it."""
    bench.swap(jig=bench.jig)
    desk = Desk(bench.site)

    def answer(ask: Any, view: Any) -> str:
        from desk_walk import sensible

        typed = sensible(ask, view)
        return "2.45" if typed == "1.62" else typed

    view = walk(desk, desk.start(bench.instrument, bench.technician), bench.clock, answer)
    assert view.ending is not None
    assert view.ending.ending == "fit for use"
    assert verify_site(bench.site.folder).sound


def test_after_a_year_the_old_reference_is_brought_to_today_first(bench: Bench) -> None:
    """Cs-137: 97.728503 of 100 left after a year (ICRP-107 by a library). The calibration still runs here."""
    bench.calibrated(due=bench.clock.now().utc.date().replace(year=2028))
    bench.take()
    bench.clock.advance(365.2422 * 86400)
    weak = tuple((f"{Decimal(a) * Decimal('0.9772'):.3f}", f"{Decimal(b) * Decimal('0.9772'):.3f}") for a, b in PAIRS)
    body = bench.event(bench.swap(pairs=weak)).body
    assert float(body["value"].split()[0]) == pytest.approx(1.64 * 0.97728503 * 1.5, rel=1e-3)
    assert float(body["carried_from"]["expected"].split()[0]) == pytest.approx(1.64 * 0.97728503, rel=1e-6)


def test_a_corrected_chamber_carries_the_air_of_its_old_reference(tmp_path: Path) -> None:
    """Air is common to both readings and cancels in their ratio; only whether it reads right needs today's air."""
    bench = Bench(tmp_path, CORRECTED)
    try:
        bench.calibrated()
        second = {"reason": "the former has no air", "second": bench.technician}
        bench.take(temperature_c="20", pressure_kpa="101.325", **second)
        thin = tuple(
            (f"{Decimal(a) / Decimal('1.2145'):.4f}", f"{Decimal(b) / Decimal('1.2145'):.4f}") for a, b in PAIRS
        )
        with pytest.raises(Trouble, match="temperature and pressure"):
            bench.swap(pairs=thin)
        body = bench.event(bench.swap(pairs=thin, temperature_c="20", pressure_kpa="83.427577")).body
        assert (body["temperature_c"], body["pressure_kpa"]) == ("20", "101.325")
        assert float(body["value"].split()[0]) == pytest.approx(1.64 * 1.5, rel=1e-3)
        assert body["carried_from"]["old_over_expected"] == pytest.approx(1.61 / 1.64, rel=1e-3)
    finally:
        bench.site.close()


def test_every_scale_of_the_role_is_carried_one_after_the_other(tmp_path: Path) -> None:
    """The role goes with the first; what still lacks a reference is said, and can still be carried over."""
    bench = Bench(tmp_path, MORE_SCALES)
    try:
        bench.calibrated()
        bench.take()
        bench.take(scale="x10", geometry="near")
        look = bench.look("source-replace", ENTERED)
        assert not look.troubles
        assert "Still without a reference then: role daily, scale x10, near" in "\n".join(look.lines)
        bench.swap()
        before = bench.site.journal.count()
        bench.swap(scale="x10", geometry="near")
        assert bench.site.journal.count() == before + 1
        assert bench.binding().source == bench.new
        assert len({event.body["scale"] for event in bench.state.references if event.body["source"] == bench.new}) == 2
    finally:
        bench.site.close()


# --- refusals ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "saying"),
    [
        ({"pairs": PAIRS[:2]}, "old source: 2 readings are too few"),
        ({"pairs": (*PAIRS, ("1.6", "dead"))}, "new source: reading 11"),
        ({"pairs": tuple((a, "0") for a, _ in PAIRS)}, "new source: the mean less background is not above zero"),
        ({"background": "1.61"}, "not above zero"),
        ({"background": "1.60"}, "is not above background"),
        ({"pairs": tuple((f"{Decimal(a) * Decimal('0.8'):.3f}", b) for a, b in PAIRS)}, "outside its limits"),
        ({"scale": "x9"}, "no scale x9"),
        ({"geometry": "far"}, "no reference reading that counts"),
        ({"role": "weekly"}, "no check source has the role"),
        ({"jig": "e" * 64}, "no jig of this site"),
        ({"rejected": (Rejected("1 and 2", ""),)}, "reason to reject"),
    ],
)
def test_what_cannot_be_carried_over_is_refused(bench: Bench, changes: dict[str, Any], saying: str) -> None:
    """A failing instrument carries its fault into the new reference, and nobody sees it again."""
    refused(bench, saying, **changes)


def test_the_wrong_sources_are_refused(bench: Bench) -> None:
    """Identity before figures."""
    other = bench.second_source("S-3")
    refused(bench, "that is the old source", new=bench.source)
    refused(bench, "neither of these is the source of the role", old=other)
    refused(bench, "no source of this site", new=bench.jig)
    inventory.place(bench.site, bench.new, "missing", person=bench.lead)
    refused(bench, "missing")


def no_calibration(bench: Bench) -> None:
    inventory.describe(bench.site, bench.instrument, {"detector": "D-9"})


@pytest.mark.parametrize(
    ("happens", "saying"),
    [
        (no_calibration, "no calibration in force"),
        (lambda bench: bench.calibrated(), "no reference reading that counts"),
        (lambda bench: clearing.lock_by_hand(bench.site, bench.instrument, bench.lead, "rattles"), "locked out"),
        (lambda bench: Desk(bench.site).start(bench.instrument, bench.technician), "checkout of C-1 is open"),
        (lambda bench: bench.clock.advance(340 * 86400), "ended on 2027-05-01"),
    ],
)
def test_what_stands_in_the_way_is_said(bench: Bench, happens: Callable[[Bench], object], saying: str) -> None:
    """As for any reference reading."""
    happens(bench)
    refused(bench, saying)


def test_pairs_that_scatter_too_much_are_refused_and_never_lost(bench: Bench) -> None:
    """What was read stays in a note; the role stays with the old source."""
    wild = ENTERED | {"pairs": "1.6 | 2.4\n1.6 | 1.4\n1.7 | 2.9\n1.6 | 2.4 | the new one slipped"}
    look = bench.look("source-replace", wild)
    assert not look.troubles
    assert look.tone == "bad"
    assert bench.form("source-replace", wild, 3).keep == "Note that it is refused"
    for _ in range(2):
        with pytest.raises(Trouble, match="ratios of the pairs scatter too much"):
            bench.keep("source-replace", wild)
    (note,) = bench.site.journal.about(bench.instrument, kinds=("note",))
    assert "1.6 and 1.4" in note.body["text"]
    assert "1.6 and 2.4 (the new one slipped)" in note.body["text"]
    assert bench.binding().source == bench.source


def test_there_is_one_reference_for_each_calibration(bench: Bench) -> None:
    """Back to the first source under the same calibration: it has its reference already."""
    bench.swap()
    with pytest.raises(Trouble, match="there is a reference reading"):
        bench.swap(old=bench.new, new=bench.source, pairs=tuple((b, a) for a, b in PAIRS))


def test_only_who_is_entitled_and_the_pin_comes_last(bench: Bench) -> None:
    """The same right as for any reference reading."""
    bench.pins()
    with pytest.raises(Trouble, match="only a site lead"):
        bench.swap(bench.technician, PINS["P-2"])
    with pytest.raises(Trouble, match="too few"):
        bench.swap(pin="wrong", pairs=PAIRS[:1])
    with pytest.raises(Trouble, match="not the PIN"):
        bench.swap(pin="wrong")
    bench.clock.advance(10)
    bench.swap(pin=PINS["P-1"])


# --- the form and the sheet ----------------------------------------------------------------------------------------


def test_the_pages_lead_through_it_and_say_everything(bench: Bench) -> None:
    """Which, the pairs, what they come to; looking writes nothing."""
    before = bench.site.journal.count()
    pages = [bench.form("source-replace", ENTERED, page) for page in (1, 2, 3)]
    assert [each.id for each in pages[0].fields] == ["role", "old", "new", "jig", "place"]
    assert pages[1].fields[1].columns == ("old source", "new source", "rejected because")
    said = "\n".join(bench.look("source-replace", ENTERED).lines)
    assert "Old source S-1: read 1.610 mR/h, 97.6 % of what was expected. Within its limits." in said
    assert "Ratio new to old 1.5000, from 10 pairs." in said
    assert "Its new reference: 2.475 mR/h" in said
    assert bench.site.journal.count() == before
    done = bench.keep("source-replace", ENTERED)
    assert "S-2 has the role daily" in done.what
    assert done.opens is not None
    sheet = records.sheet(bench.site, "reference", done.opens.about)
    grids = [section for section in sheet.sections if getattr(section, "title", "") == "Pairs"]
    assert len(grids[0].rows) == 10  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("field", "typed", "saying"),
    [
        ("role", "", "nothing is chosen"),
        ("old", "S-2", "that is the old source"),
        ("new", "", "no source is named"),
        ("new", "J-1", "no source here"),
        ("jig", "S-1", "no jig here"),
        ("place", "x9", "not one of the choices"),
        ("pairs", "", "no pair was entered"),
        ("pairs", "1.6 | ", "pair 1"),
        ("pairs", "1.6 | 2.4\n1.6 | abc", "pair 2"),
        ("pairs", "1.6 | 2.4\n" * 101, "too many"),
        ("pairs", "1.6 | 2.4", "too few"),
        ("pairs", "1.0 | 2.4\n1.0 | 2.4\n1.0 | 2.4", "outside its limits"),
        ("background", "none", "no number"),
        ("temperature", "20", "one is missing"),
    ],
)
def test_each_mistake_is_said(bench: Bench, field: str, typed: str, saying: str) -> None:
    """What is wrong, where, what to do."""
    look = bench.look("source-replace", ENTERED | {field: typed})
    assert saying in " ".join(map(str, look.troubles.values()))
    with pytest.raises(Trouble):
        bench.keep("source-replace", ENTERED | {field: typed})
    assert bench.binding().source == bench.source


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    st.dictionaries(
        st.sampled_from([*ENTERED, "jig", "background", "temperature", "pressure", "pin"]),
        st.text(max_size=30) | st.sampled_from(["S-1", "S-2", "x1", "1 | 1\n1 | 1\n1 | 1", "1e9 | 2", "|"]),
    )
)
def test_looking_never_raises_whatever_was_typed(bench: Bench, typed: dict[str, str]) -> None:
    """Nor does any page."""
    for entered in (typed, ENTERED | typed):
        bench.look("source-replace", entered)
        for page in (1, 2, 3):
            bench.form("source-replace", entered, page)


def test_without_a_reference_the_form_cannot_be_opened(bench: Bench) -> None:
    """There is nothing to carry over."""
    bench.calibrated()
    with pytest.raises(Trouble, match="no reference reading that could be carried over"):
        bench.form("source-replace")
    assert id_of(bench.site, "S-2") == bench.new
