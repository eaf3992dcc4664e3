"""Keys and scores: computed, never written by hand; the decision weighs most, and what was done well counts."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from procedures.practice.answer_key import FIT, STEP_S, Key, key_of
from procedures.practice.bench import Bench
from procedures.practice.cases import Case
from procedures.practice.catalogue import Fault
from procedures.practice.clumsy import CARELESS, GIVES_UP, HASTY, RISING, WISHFUL
from procedures.practice.drills import drawn_drill, sound
from procedures.practice.evidence import Evidence
from procedures.practice.kit import Kit, kits
from procedures.practice.moments import Give, Judge, LetGo, Press, Remedied, Work
from procedures.practice.observer import PERFECT, Observer, Skill, observe
from procedures.practice.packaged import cases
from procedures.practice.pages import PracticeErrors
from procedures.practice.rubric import read_rubric, rubric
from procedures.practice.scoring import Score, score, score_to_json
from procedures.practice.session import session_of

START = datetime(2031, 5, 6, 6, 12, tzinfo=UTC)
VENTED, SEALED, PANCAKE, ALPHA = "vented-chamber-analog", "sealed-chamber-digital", "pancake-ratemeter", "alpha-scaler"
SAMPLE = int(os.environ.get("PRACTICE_CLUMSY", "25"))
"""Drills on which clumsy observers are tried; a campaign names more, such as PRACTICE_CLUMSY=1000."""

Doing = Callable[[Observer], bool]
"""Something done in place of the observer; True when it was."""


def with_faults(profile: str, *faults: Fault) -> Case:
    return replace(sound(kits()[profile]), faults=faults, notes=("",) * len(faults))


def kit_of(case: Case) -> Kit:
    return kits()[case.profile]


def worked(case: Case, doing: Doing, skill: Skill = PERFECT, seed: str = "1") -> tuple[Score, Evidence, Key]:
    """A session of an observer in whose place something else is done now and then."""
    bench = Bench(kit_of(case), case, seed, START, step=STEP_S)
    observer = Observer(bench, skill, seed)
    for _ in range(400):
        if bench.over:
            break
        if not doing(observer):
            observer.go_on()
    key = key_of(kit_of(case), case, seed, START)
    made, evidence = score(session_of(bench), kit_of(case), key)
    return made, evidence, key


def nothing(_observer: Observer) -> bool:
    return False


def asked(observer: Observer, key: str) -> bool:
    ask = observer.bench.ask()
    return ask is not None and ask.key == key


# --- keys ----------------------------------------------------------------------------------------------------------


def test_a_hole_in_the_profile_is_named() -> None:
    """x10 is out of adjustment and the source is read on x1 alone: faulty, and fit for use with the best hands."""
    key = key_of(kits()[VENTED], cases()["vented-middle-scale"], 1, START)
    assert key.hole
    assert key.before.verdict == "faulty"
    assert {each.ending for each in key.observed} == {FIT}


def test_the_key_follows_the_remedies_of_the_profile() -> None:
    """Faulty as it came, sound with fresh cells: passing is right then, and the battery step shows it first."""
    key = key_of(kits()[PANCAKE], cases()["pancake-old-cells"], 1, START)
    assert (key.before.verdict, key.after.verdict) == ("faulty", "sound")
    assert key.own.remedies == ("fresh-cells",)
    assert key.first == "battery"
    assert key.passing_is_right
    assert not key.hole


def test_a_source_at_fault_is_not_the_instruments() -> None:
    """It is sound, and its checkout locks it out: both stand in the key."""
    key = key_of(kits()[VENTED], cases()["vented-weak-source"], 1, START)
    assert key.after.verdict == "sound"
    assert key.before.outside == ("The source is weaker than its papers say.",)
    assert key.failing_is_right
    assert not key.passing_is_right


def test_near_a_limit_nothing_is_decided() -> None:
    """Half a division about −20 %: whoever passes it and whoever fails it are told so, and neither loses."""
    case = with_faults(VENTED, Fault("response-low", -0.21))
    assert not key_of(kits()[VENTED], case, 1, START).scored
    for doing in (nothing, judged_at("look-over")):
        made, _, _ = worked(case, doing)
        assert made.line("decision").possible == 0
        assert not made.worst


def test_chance_is_known_as_such() -> None:
    """A radio that is keyed now and then shows with some seeds and not with others."""
    assert any(key_of(kits()[SEALED], cases()["sealed-radio"], seed, START, seeds=6).chance for seed in range(3))


# --- the decision --------------------------------------------------------------------------------------------------


def judged_at(step: str) -> Doing:
    def doing(observer: Observer) -> bool:
        if observer.bench.run.step != step:
            return False
        observer.bench.do(Judge("It is not right."))
        return True

    return doing


@pytest.mark.parametrize("name", sorted(cases()))
def test_the_perfect_observer_gets_everything(name: str) -> None:
    """Every line is whole for who does all that is called for: so no line asks for what cannot be done."""
    made, _, _ = worked(cases()[name], nothing)
    assert [(line.name, line.why) for line in made.lines if line.gained != line.possible] == []
    assert made.passed


@pytest.mark.parametrize("name", ["alpha-pinhole", "vented-low-response", "pancake-torn-window", "sealed-silent-alarm"])
def test_passing_a_faulty_instrument_fails_the_drill(name: str) -> None:
    """Whatever else was done well."""
    made, _, _ = worked(cases()[name], nothing, Skill(wishes=1.0))
    assert made.ending == FIT
    assert made.worst
    assert not made.passed
    assert made.percent == 0
    assert made.line("decision").gained == 0


def test_failing_by_judgement_what_the_profile_does_not_show_costs_nothing() -> None:
    """A trainee who tries x10 and finds it wrong is right, though the profile would have passed it."""
    made, _, key = worked(cases()["vented-middle-scale"], judged_at("response"))
    assert key.hole
    assert made.line("decision").gained == rubric().decision.points
    assert made.line("fault").gained == rubric().fault.points
    assert made.percent == 100


def test_declining_a_remedy_of_a_faulty_instrument_is_right() -> None:
    """With its old cells it is faulty as it stands, and it is locked out."""

    def doing(observer: Observer) -> bool:
        if observer.bench.offer() is None:
            return False
        observer.bench.do(Remedied(False))
        return True

    made, _, _ = worked(cases()["pancake-old-cells"], doing)
    assert made.ending == "locked out"
    assert made.line("decision").gained == rubric().decision.points


def test_saying_a_remedy_was_done_is_seen_through() -> None:
    """Nothing was done to the instrument, and its battery is as it was: worst if it is then wished away."""

    def doing(observer: Observer) -> bool:
        if observer.bench.offer() is None:
            observer.skill = Skill(wishes=1.0) if observer.bench.run.state.made else PERFECT
            return False
        observer.bench.do(Remedied(True))
        return True

    made, evidence, _ = worked(cases()["vented-spent-cells"], doing)
    if made.ending == FIT:
        assert made.worst
    assert all(each.good for each in evidence.shown if each.ask == "fresh-cells") or made.line("order").gained < 5


def test_a_needless_lockout_is_told() -> None:
    """It harms nobody, and an instrument is missing in the field."""
    made, _, _ = worked(with_faults(VENTED), judged_at("window"))
    assert made.line("decision").gained == rubric().decision.needless
    assert not made.passed
    assert not made.worst


def test_giving_up_on_a_faulty_one_is_better_than_passing_it_and_worse_than_locking_it_out() -> None:
    """Whoever stops short carries nothing off."""
    gave_up = Skill(gives_up=1.0)
    made, _, _ = worked(cases()["vented-low-response"], nothing, gave_up)
    assert made.ending == "abandoned"
    assert made.line("decision").gained == rubric().decision.cautious


# --- lines ---------------------------------------------------------------------------------------------------------


def test_a_reading_that_the_needle_did_not_show_is_told() -> None:
    """Three divisions off: one of its readings is wrong, with what there was."""

    def doing(observer: Observer) -> bool:
        observer.skill = Skill(misreads=9.0) if asked(observer, "reading-2") else PERFECT
        return False

    made, evidence, _ = worked(with_faults(VENTED), doing)
    wrong = [each.ask for each in evidence.shown if each.sort == "readings" and not each.good]
    assert wrong == ["reading-2"]
    assert made.line("readings").gained < made.line("readings").possible


def test_a_button_let_go_in_the_hand_is_told_though_the_screen_heard_nothing_of_it() -> None:
    """The checkout's wait was kept; the instrument's was not."""

    def doing(observer: Observer) -> bool:
        bench = observer.bench
        if not asked(observer, "hold") or bench.run.state.waiting is not None:
            return False
        bench.do(Work("zero", "down"))
        bench.do(Press("hold"))
        bench.advance(2)
        bench.do(Work("zero", "up"))
        return True

    made, evidence, _ = worked(with_faults(VENTED), doing)
    assert [each.ask for each in evidence.shown if each.sort == "waits" and not each.good] == ["hold"]
    assert made.line("waits").gained < made.line("waits").possible


def test_a_hold_broken_on_the_screen_counts_against_the_waits() -> None:
    """It is asked again, and this is told."""
    broken: list[bool] = []

    def doing(observer: Observer) -> bool:
        bench = observer.bench
        if broken or not asked(observer, "hold"):
            return False
        bench.do(Work("zero", "down"))
        bench.do(Press("hold"))
        bench.advance(2)
        bench.do(LetGo())
        broken.append(True)
        return True

    made, _, _ = worked(with_faults(VENTED), doing)
    assert made.ending == FIT
    assert made.line("waits").gained < made.line("waits").possible


def test_what_is_said_to_be_done_is_looked_at() -> None:
    """“All are away” with the source in its jig, “it is on” with the switch off."""

    def doing(observer: Observer) -> bool:
        if not asked(observer, "switched-on"):
            return False
        observer.bench.advance(2)
        observer.bench.do(Give("switched-on", True))
        return True

    made, _, _ = worked(with_faults(VENTED), doing)
    assert made.line("order").gained < made.line("order").possible
    assert made.line("order").step == "battery"


def test_haste_costs_care_alone() -> None:
    """Answers in half the time that a look takes are told as such."""
    made, _, _ = worked(with_faults(PANCAKE), nothing, HASTY)
    assert made.line("care").gained < made.line("care").possible


def test_the_sum_is_shown() -> None:
    """Every line with its points and its reason, and the sum of them."""
    made, _, _ = worked(with_faults(SEALED), nothing, CARELESS)
    words = made.in_words()
    assert len(words) == len(made.lines) + 1
    assert words[-1].startswith(f"Sum: {made.gained:g} of {made.possible:g}")
    body = score_to_json(made)
    assert sum(each["gained"] for each in body["lines"]) == pytest.approx(body["gained"])


# --- clumsy observers ----------------------------------------------------------------------------------------------


def drills(count: int) -> list[tuple[Case, str, Key]]:
    found = []
    for n in range(count):
        drill = drawn_drill(kits(), f"clumsy {n}", START)
        found.append((drill.case, drill.seed, key_of(kits()[drill.profile], drill.case, drill.seed, START)))
    return found


def percent(case: Case, seed: str, key: Key, skill: Skill) -> float:
    bench = Bench(kit_of(case), case, seed, START, step=STEP_S)
    observe(bench, skill, seed)
    return score(session_of(bench), kit_of(case), key)[0].percent


def test_the_clumsy_get_less_than_the_perfect_on_every_drill() -> None:
    """No drill rewards haste, wishes, or giving up."""
    for n, (case, seed, key) in enumerate(drills(SAMPLE)):
        best = percent(case, seed, key, PERFECT)
        assert best == 100
        for skill in (CARELESS, WISHFUL, GIVES_UP)[n % 3 :][:1]:
            assert percent(case, seed, key, skill) < best, (case.faults, skill)


def test_scores_rise_with_skill() -> None:
    """In the mean over a sample, each that is better in everything has more points."""
    sample = drills(max(25, SAMPLE // 4))
    means = [sum(percent(*each, skill) for each in sample) / len(sample) for skill in RISING]
    assert means == sorted(means)
    assert means[-1] == 100
    assert len(set(means)) == len(means)


# --- the rubric ----------------------------------------------------------------------------------------------------


def packaged_rubric() -> str:
    from importlib.resources import files

    return files("procedures.practice").joinpath("rubric.toml").read_text(encoding="utf-8")


def test_each_line_of_the_packaged_rubric_is_documented() -> None:
    """A table stands under a comment that says what it is for."""
    lines = packaged_rubric().splitlines()
    tables = [n for n, line in enumerate(lines) if line.startswith("[")]
    assert len(tables) == 8
    assert all(lines[n - 1].startswith("# ") for n in tables)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("points = 50", "points = 10"), "as much as the decision"),
        (("needless = 10", "needless = 60"), "more than the whole"),
        (("most = 10", "most = 2"), "before all points"),
        (("pass_at = 70", "pass_at = 170"), "170"),
        (("[care]", "[manners]"), "manners"),
        (("points = 8", 'points = "many"'), "many"),
    ],
)
def test_a_rubric_is_read_strictly(change: tuple[str, str], says: str) -> None:
    """A trainer's own file says what is wrong in it, and where."""
    with pytest.raises(PracticeErrors) as caught:
        read_rubric(packaged_rubric().replace(*change, 1), "mine.toml")
    assert says in str([(each.message, each.found, each.key) for each in caught.value.errors])
