"""From a profile to a procedure: scales as printed, plan, and the hash by which it is adopted."""

from __future__ import annotations

import hashlib
import subprocess
import sys
from decimal import Decimal

import pytest

from procedures.asks import Acknowledge
from procedures.profile.load import read_profile

pytestmark = pytest.mark.usefixtures("kinds_of_the_tests")


def test_scales_are_as_printed(good: str) -> None:
    """A person reads the printed figure and the selector; the program multiplies, so x10 prints 0 to 3, not 0 to 30."""
    x1, x10 = read_profile(good).procedure.scales
    assert (x1.selector.top, x1.selector.division, x1.selector.times) == (Decimal(3), Decimal("0.1"), Decimal(1))
    assert (x10.selector.top, x10.selector.division, x10.selector.times) == (Decimal(3), Decimal("0.1"), Decimal(10))
    assert x10.full_scale == x10.selector.top * x10.selector.times
    assert x10.selector.unit == "mR/h"


def test_a_division_in_another_unit_of_the_kind_is_converted(good: str) -> None:
    """Makers print what they like; one scale has one unit in the program."""
    scale = read_profile(good.replace('"0.1 mR/h"', '"100 µR/h"')).procedure.scales[0]
    assert (scale.selector.division, scale.selector.unit) == (Decimal("0.1"), "mR/h")


def test_a_multiplier_below_one_stays_exact(good: str) -> None:
    """0.1 in binary is not a tenth, and readings are compared exactly."""
    text = good.replace('full_scale = "30 mR/h"', 'full_scale = "0.3 mR/h"').replace('"1 mR/h"', '"0.01 mR/h"')
    scale = read_profile(text.replace("multiplier = 10", "multiplier = 0.1")).procedure.scales[1]
    assert (scale.selector.times, scale.selector.top, scale.selector.division) == (
        Decimal("0.1"),
        Decimal(3),
        Decimal("0.1"),
    )


def test_the_hash_is_of_the_bytes_of_the_text(good: str) -> None:
    """A checkout names this hash; a changed comment is another text."""
    assert read_profile(good).sha256 == hashlib.sha256(good.encode()).hexdigest()
    assert read_profile(good + "# later\n").sha256 != read_profile(good).sha256


def test_the_procedure_holds_what_a_checkout_needs(good: str) -> None:
    """Times are in seconds, bounds in °C, and each step answers as its kind does with its own parameters."""
    procedure = read_profile(good).procedure
    assert procedure.plan.required == ("label", "battery", "warm-up", "window", "zero", "response")
    assert not procedure.plan.step("desiccant").required
    assert (procedure.lasts, procedure.longest_pause, procedure.soak_seconds) == (43200, 1200, 1200)
    assert procedure.operating == {"temperature": (Decimal(-10), Decimal(45))}
    assert procedure.not_before == {"desiccant": 86400}
    assert procedure.reasons["window-damaged"] == ("The window is torn.", "Send it to be repaired.")
    assert procedure.titles["warm-up"] == "Warm up"
    ask = procedure.steps["battery"](None, ())  # type: ignore[arg-type]
    assert isinstance(ask, Acknowledge)
    assert ask.say == "Where does the needle rest?"


@pytest.mark.parametrize(
    ("extra", "needs_zero", "has_window"),
    [
        ('detector = "vented ion chamber"', True, True),
        ('detector = "sealed ion chamber"', True, False),
        ('detector = "sealed ion chamber"\nzero = false\nwindow = true', False, True),
        ('detector = "Geiger-Müller tube"', False, True),
        ('detector = "moderated neutron detector"', False, False),
    ],
)
def test_window_and_zero_follow_the_detector_unless_stated(
    good: str, extra: str, needs_zero: bool, has_window: bool
) -> None:
    """Common practice, no source: a needle on an ion chamber drifts; in doubt there is a window to look at."""
    instrument = read_profile(good.replace('detector = "vented ion chamber"', extra)).profile.instrument
    assert (instrument.needs_zero, instrument.has_window) == (needs_zero, has_window)


def test_a_procedure_needs_no_schema_to_exist() -> None:
    """A front end that runs a checkout must not wait for the models that read a profile."""
    code = "import sys, procedures.procedure; print('pydantic' in sys.modules, 'tree_sitter' in sys.modules)"
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert shown.split() == ["False", "False"]
