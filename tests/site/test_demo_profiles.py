"""The demo profiles are proved, and their answers files end as they say they do."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from procedures.profile.compile import procedure_of
from procedures.profile.load import load_profile
from procedures.site.profiles import limit_chances
from procedures.site.rehearsal import rehearse

FOLDER = Path(__file__).parents[2] / "demo_profiles"
PROFILES = sorted(FOLDER.glob("*.toml"))
ANSWERS = sorted((FOLDER / "answers").glob("*.toml"))

DOCUMENT = Path(__file__).parents[2] / "docs" / "answers-file.md"

LONGEST_GOOD_DAY = 5 * 60
"""Seconds. A good day's checkout that takes longer would not be made twelve times before breakfast."""


def profile_of(answers: Path) -> Path:
    return FOLDER / f"{answers.stem.partition('-')[0]}.toml"


def test_there_are_five_profiles() -> None:
    """A profile that was dropped by mistake would make the tests below pass by having less to look at."""
    assert len(PROFILES) == 5


@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_profile_is_proved(path: Path) -> None:
    """What the demo shows as a profile has to be one that the program itself would adopt."""
    loaded = load_profile(path)

    procedure = procedure_of(loaded.profile, loaded.text)

    assert {step.id for step in procedure.plan.steps} == set(procedure.steps)
    assert "response" in procedure.plan.required


@pytest.mark.parametrize("path", ANSWERS, ids=lambda path: path.stem)
def test_answers_lead_to_the_ending_they_expect(path: Path) -> None:
    """The examples in the documents must be true, and no answer in them may stand there for nothing."""
    result = rehearse(profile_of(path), path)

    assert result.matches is True
    assert result.unused == ()


@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_each_profile_has_a_good_day_a_failure_and_one_not_checked(path: Path) -> None:
    """The three endings differ in what they ask of people, so each profile shows all of them."""
    results = [rehearse(path, answers) for answers in ANSWERS if profile_of(answers) == path]

    assert {result.ending for result in results} == {"fit for use", "locked out", "not checked"}


@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_a_good_day_is_short(path: Path) -> None:
    """A checkout that takes too long is not done; the demo must not teach long ones."""
    result = rehearse(path, FOLDER / "answers" / f"{path.stem}-pass.toml")

    assert result.ending == "fit for use"
    assert result.seconds < LONGEST_GOOD_DAY


def test_profiles_try_different_branches() -> None:
    """Together they show the kinds of step; a kind that none of them uses would go unseen in the demo."""
    kinds = {step.kind for path in PROFILES for step in load_profile(path).profile.step}

    assert kinds >= {
        "acknowledge",
        "alarm",
        "background",
        "battery",
        "desiccant",
        "environment",
        "look-over",
        "response",
        "timed-wait",
        "warm-up",
        "window",
        "zero",
    }


@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_no_limit_fails_many_healthy_instruments(path: Path) -> None:
    """Limits that reject good instruments teach people not to believe them. 1 in 100: a judgement, no source."""
    chances = {f"{row['step']}, {row['limit']}": float(row["chance"]) for row in limit_chances(path)}

    assert chances
    assert {limit: chance for limit, chance in chances.items() if chance > 0.01} == {}


@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_a_battery_box_is_never_opened_without_its_caution(path: Path) -> None:
    """It stands where the box is opened, and not where a needle is read: a caution out of place is soon not read."""
    steps = load_profile(path).profile.step
    cells = [each for step in steps for each in getattr(step, "remedy", ()) if each.action == "fresh-cells"]

    assert cells
    for remedy in cells:
        assert "Switch off before the battery box is opened" in remedy.caution
    assert [step.id for step in steps if "battery box" in step.caution] == []


def test_the_document_quotes_the_files() -> None:
    """Its examples must stand in the files that it names, and every file must be named there."""
    text = DOCUMENT.read_text()
    around, *examples = [tomllib.loads(block) for block in re.findall(r"```toml\n(.*?)```", text, re.DOTALL)]
    rows = [row for path in ANSWERS for row in tomllib.loads(path.read_text())["answer"]]

    assert around["profile"] == "vented-chamber-analog"
    assert len(examples) == len(PROFILES)
    assert [row for example in examples for row in example["answer"] if row not in rows] == []
    for path in ANSWERS:
        profile, _, case = path.stem.partition("-")
        part = text.partition(f"**`{profile}`**")[2].partition("**`")[0]
        assert f"-{case}`" in part or f"-{case}.toml`" in part, path.name
