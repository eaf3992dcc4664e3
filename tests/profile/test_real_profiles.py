"""Profiles with the real kinds of step: the demonstration profiles are proved, and slips in them are told in words."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import demo_profiles
from procedures.profile.describe import summary_of
from procedures.profile.errors import ProfileErrors
from procedures.profile.load import load_profile, read_profile
from procedures.profile.paths import limit_chances

EXAMPLES = int(os.environ.get("CHECKLIST_LOAD_CAMPAIGN", "60"))
"""The campaign: CHECKLIST_LOAD_CAMPAIGN=100000, and this file."""

DEMO = sorted(Path(demo_profiles.__file__).parent.glob("*.toml"))
TEXTS = {path.stem: path.read_bytes().decode() for path in DEMO}

VALUES = ("1", "0", "-1", "1e400", "nan", '""', '"x"', "[]", "{}", "true", '["a", "a"]', "1979-05-27", "{ low = 1 }")
QUANTITIES = ("0 mR/h", "-20 %", "20 %", "1e9 mR/h", "1e30 s", "0 s", "4 h", "1 s", "0 V", "3 cpm", "1 mSv/h", "1e-6 %")


@pytest.mark.parametrize("path", DEMO, ids=lambda path: path.stem)
def test_the_demonstration_profiles_are_proved_and_described(path: Path) -> None:
    """They are the first profiles anybody reads."""
    loaded = load_profile(path)
    summary = summary_of(loaded)
    assert json.loads(json.dumps(summary.to_json()))["sha256"] == loaded.sha256
    assert 0 < summary.shortest < summary.longest
    failing = {step.id for step in loaded.plan.steps if step.can_fail}
    assert {f"{step} fails" for step in failing} <= {row.shows for row in summary.paths}
    assert all(row.codes for row in summary.paths if row.ending == "locked out")
    assert all(0 <= row.limit.chance <= 1 for row in limit_chances(loaded.profile))


def test_a_lenient_spelling_of_a_unit_is_said_back_as_units_are_written() -> None:
    """A slip of case or "/hr" has one meaning only; whatever repeats the figure says which it was taken for."""
    text = TEXTS["vented_chamber"]
    slips = text.replace('"0.05 mR/h"', '"0.05 mr/hr"').replace('"3 mR/h"', '"3 mr/hour"')
    plain, lenient = read_profile(text), read_profile(slips)
    assert slips != text
    assert lenient.procedure.scales == plain.procedure.scales
    assert [row.limit for row in limit_chances(lenient.profile)] == [row.limit for row in limit_chances(plain.profile)]
    assert "0.05 mR/h" in " ".join(row.limit.name for row in limit_chances(lenient.profile))


def _described_or_refused(text: str) -> bool:
    try:
        summary_of(read_profile(text, "slip.toml"))
    except ProfileErrors as refusal:
        return all(error.message and str(error) for error in refusal.errors)
    return True


@pytest.mark.skipif(not DEMO, reason="there are no demonstration profiles")
@settings(max_examples=EXAMPLES, deadline=None)
@given(data=st.data())
def test_a_slip_in_a_real_profile_is_told_in_words(data: st.DataObject) -> None:
    """Every kind of step sees odd parameters here: whatever they are, the writer gets words and never a traceback."""
    lines = TEXTS[data.draw(st.sampled_from(sorted(TEXTS)))].split("\n")
    for _ in range(data.draw(st.integers(1, 3))):
        place = data.draw(st.integers(0, len(lines) - 1))
        key = lines[place].partition("=")[0]
        quantities = (f'{key}= "{each}"' for each in QUANTITIES)
        lines[place] = data.draw(st.sampled_from(["", *quantities, *(f"{key}= {each}" for each in VALUES)]))
    assert _described_or_refused("\n".join(lines))
