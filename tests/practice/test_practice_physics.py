"""The physics without noise, against formulae and published values."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.air import IAEA, density_factor
from procedures.practice.cells import Cells, CellsModel, open_circuit, regulated, under_load
from procedures.practice.chamber import ChamberModel, air_response
from procedures.practice.counter import Counter, awake, registered, true_rate
from procedures.practice.electrometer import DesiccantModel, Electrometer, ZeroModel, leakage, offset
from procedures.practice.needle import Needle, NeedleModel
from procedures.practice.noise import stream
from procedures.practice.sources import SourceModel, arriving, inverse_square

FRACTIONS = [(1.0, 0.63212), (2.302585, 0.9), (4.605170, 0.99), (5.0, 0.99326)]
"""1 − e^(−t/τ) at t in units of τ: 63.212 %, 90 %, 99 %, 99.326 % (computed)."""

CELLS = CellsModel(9.4, 6.2, 0.15, 1.1, 0.6, 6.0, 720_000.0, 5.6, 4.0, light=1.2, test=1.0)


def source(**changes: object) -> SourceModel:
    """A check source of Co-60 with the half-life of a textbook exercise, 5.3 y."""
    values: dict[str, object] = {
        "role": "daily",
        "nuclide": "Co-60",
        "half_life_days": 5.3 * 365.2422,
        "reading": 1.0,
        "unit": "mR/h",
        "scale": "x1",
        "geometry": "",
        "age_days": 0.0,
        "temperature_c": 20.0,
        "pressure_kpa": 101.325,
        "relative_u": 0.01,
        "distance_mm": 100.0,
        "placing_mm": 0.0,
    }
    return SourceModel(**{**values, **changes})  # type: ignore[arg-type]


@pytest.mark.parametrize(("times", "fraction"), FRACTIONS)
def test_an_electrometer_settles_to_first_order(times: float, fraction: float) -> None:
    """Fraction reached 1 − e^(−t/τ) (computed): a wait of the profile rests on it."""
    electrometer = Electrometer(ZeroModel())
    electrometer.advance(times * 2.2, 1.66, 2.2)
    assert electrometer.followed / 1.66 == pytest.approx(fraction, abs=5e-6)


@pytest.mark.parametrize(("times", "fraction"), FRACTIONS)
@pytest.mark.parametrize("step", [0.01, 0.05, 0.1])
def test_a_ratemeter_settles_to_first_order(times: float, fraction: float, step: float) -> None:
    """The same for pulses that come evenly, in steps of any length: 1 − e^(−t/τ) (computed)."""
    counter = Counter(stream(0, "pulses"), quiet=True)
    tau = 5.0
    steps = round(times * tau / step)
    for _ in range(steps):
        counter.advance(step, 57.0, 0.0, tau)
    reached = -math.expm1(-steps * step / tau)
    assert counter.rate / 57 == pytest.approx(reached, rel=1e-9)
    assert reached == pytest.approx(fraction, abs=0.02)


def test_the_kick_of_the_zero_button_fades_with_its_time_constant() -> None:
    """63.212 % of it are gone after one time constant (computed), and a slower fault stretches that."""
    for slow in (1.0, 4.0):
        electrometer = Electrometer(ZeroModel(kick=0.7, kick_fades=1.5, button=True))
        electrometer.press()
        assert electrometer.kick == 0
        electrometer.let_go()
        electrometer.advance(1.5 * slow, 0.0, 2.2, slow)
        assert electrometer.kick / 0.7 == pytest.approx(1 - 0.63212, abs=5e-6)


def test_warming_up_fades_and_temperature_moves_zero() -> None:
    """So many °C away from calibration move zero in proportion, when it is warm."""
    model = ZeroModel(offset=0.01, warm_up=0.35, warms=14, per_degree=0.002, at_degrees=20)
    assert offset(model, 0, 20) == pytest.approx(0.36)
    assert offset(model, math.inf, 25) == pytest.approx(0.02)
    assert offset(model, 14, 20) == pytest.approx(0.01 + 0.35 * (1 - 0.63212), abs=1e-5)


def test_damp_leaks_more_and_turns_the_gel() -> None:
    """Dampness makes a false reading that only rises, and the gel goes through its colours in order."""
    gel = DesiccantModel(0.45, 0.4, 0.6, 21_600, "amber", "yellow", "green")
    damps = [n / 20 for n in range(21)]
    leaks = [leakage(gel, damp) for damp in damps]
    assert leaks == sorted(leaks)
    assert leaks[-1] == pytest.approx(0.45)
    assert list(dict.fromkeys(gel.colour(damp) for damp in damps)) == ["amber", "yellow", "green"]
    assert leakage(None, 1.0) == 0


@pytest.mark.parametrize(
    ("temperature", "pressure", "factor"), [(0, 101.325, 0.931776), (40, 101.325, 1.068224), (20, 83.427577, 1.214526)]
)
def test_a_vented_chamber_follows_the_density_of_air(temperature: float, pressure: float, factor: float) -> None:
    """k at 20 °C and 101.325 kPa (formula of the practice; computed): what it shows times k is what it showed then."""
    chamber = ChamberModel(True, IAEA.temperature_c, IAEA.pressure_kpa, 2.0, 0.0, 0.0)
    assert air_response(chamber, temperature, pressure) == pytest.approx(1 / factor, rel=1e-6)
    assert air_response(chamber, temperature, pressure) * density_factor(temperature, pressure, IAEA) == pytest.approx(
        1
    )


def test_a_sealed_chamber_does_not() -> None:
    """Sealed chambers get no correction (read), so the simulated one must not need one."""
    assert air_response(ChamberModel(False, 20, 101.325, 2.0, 0.0, 0.0), 40, 70) == 1


def test_a_source_decays() -> None:
    """Co-60, T = 5.3 y, 26.5 y → 1/32 (textbook exercise, read); Cs-137 after 10 y 79.471697 % (library)."""
    old = source(age_days=26.5 * 365.2422)
    assert arriving(old, 0, 0, 0) == pytest.approx(1 / 32, rel=1e-12)
    caesium = source(half_life_days=30.1671 * 365.2422)
    assert arriving(caesium, 10 * 365.2422, 0, 0) == pytest.approx(0.79471697, abs=5e-9)


@given(st.floats(5, 1000), st.floats(0, 1000))
def test_a_source_follows_the_inverse_square(distance: float, further: float) -> None:
    """(d/(d + x))²: twice as far is a quarter (formula of a point source, common knowledge; computed)."""
    assert inverse_square(distance, distance) == pytest.approx(0.25)
    assert inverse_square(distance, further) == pytest.approx((distance / (distance + further)) ** 2)
    assert inverse_square(distance, further) <= 1


def test_a_slide_keeps_betas_back() -> None:
    """Opened, the reading rises by what the betas add, and closed it is the reference reading itself."""
    strong = source(beta=0.8)
    assert arriving(strong, 0, 0, 0) == pytest.approx(1)
    assert arriving(strong, 0, 0, 1) == pytest.approx(1.8)


@given(st.floats(0, 5000), st.floats(0, 1e-4))
def test_dead_time_there_and_back(rate: float, dead: float) -> None:
    """m = n/(1 + nτ) and n = m/(1 − mτ) (Knoll, chapter 4, from memory) undo each other."""
    assert true_rate(registered(rate, dead), dead) == pytest.approx(rate, rel=1e-9, abs=1e-9)
    assert registered(rate, dead) <= rate


def test_a_tube_falls_silent_beyond_its_range() -> None:
    """Near a very strong source clicks fall away, where they should rise (common practice, no source)."""
    rates = [100.0, 1_000.0, 5_000.0, 20_000.0, 100_000.0]
    given_out = [registered(rate, 9e-5) * awake(rate, 20_000) for rate in rates]
    assert given_out[0] < given_out[1] < given_out[2]
    assert given_out[-1] < 1
    assert awake(100, 20_000) == pytest.approx(1, abs=1e-9)


def test_spent_cells_look_good_until_they_are_loaded() -> None:
    """A load that lasts shows what an open circuit hides; without it they recover."""
    low = Cells(CELLS, charge=0.04)
    unloaded = low.volts(0)
    first = low.volts(2)
    low.advance(60, 2)
    held = low.volts(2)
    assert unloaded > first > held
    assert held == pytest.approx(under_load(CELLS, low.charge, 2), rel=1e-3)
    low.advance(60, 0)
    assert low.volts(0) == pytest.approx(open_circuit(CELLS, low.charge), abs=1e-3)


@given(st.floats(0, 1), st.floats(0, 1), st.floats(0, 5))
def test_more_charge_gives_more_and_more_load_gives_less(a: float, b: float, load: float) -> None:
    """No charge in between is better than a fuller one, and the high voltage never rises as the cells sink."""
    less, more = sorted((a, b))
    assert under_load(CELLS, less, load) <= under_load(CELLS, more, load) + 1e-12
    assert under_load(CELLS, more, load) <= open_circuit(CELLS, more) + 1e-12
    assert regulated(CELLS, under_load(CELLS, less, load)) <= regulated(CELLS, under_load(CELLS, more, load)) + 1e-12


@given(st.lists(st.floats(0.01, 0.5), min_size=1, max_size=8), st.floats(-0.03, 1.03))
def test_a_needle_does_not_mind_how_time_is_cut(cuts: list[float], target: float) -> None:
    """Second order, exact for a target that stays: many steps come to where one does."""
    model = NeedleModel(0.6, 0.7, -2, 2)
    once, often = Needle(model), Needle(model)
    once.advance(sum(cuts), target)
    for cut in cuts:
        often.advance(cut, target)
    assert often.position == pytest.approx(once.position, abs=1e-12)
    assert often.speed == pytest.approx(once.speed, abs=1e-10)


def test_a_needle_overshoots_as_its_damping_says() -> None:
    """First overshoot e^(−πζ/√(1−ζ²)): 4.6 % at ζ = 0.7 (second-order step response, textbook formula; computed)."""
    needle = Needle(NeedleModel(0.6, 0.7, -2, 2))
    highest = 0.0
    for _ in range(2000):
        needle.advance(0.001, 0.5)
        highest = max(highest, needle.position)
    assert highest / 0.5 - 1 == pytest.approx(math.exp(-math.pi * 0.7 / math.sqrt(1 - 0.49)), abs=1e-4)


def test_a_sticking_needle_stops_short_and_its_stops_hold() -> None:
    """A target within what holds it does not move it; one beyond its stops does not carry it further."""
    model = NeedleModel(0.6, 0.7)
    needle = Needle(model, 0.5)
    for _ in range(200):
        needle.advance(0.05, 0.55, sticks=0.08)
    assert needle.position == 0.5
    for _ in range(200):
        needle.advance(0.05, 9.0, sticks=0.08)
    assert needle.position == pytest.approx(model.high_stop, abs=0.081)
    free = Needle(model)
    free.advance(10, -3)
    assert free.position == pytest.approx(model.low_stop)
