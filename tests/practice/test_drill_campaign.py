"""Seeded drills, run headless by the perfect observer: each ends in the verdict that its faults call for.

The suite runs 300. `PRACTICE_DRILLS=10000 python -m pytest tests/practice/test_drill_campaign.py` runs a campaign in
two processes. A drill that ends otherwise is named: a hole in its profile (faulty, and no step shows it), a limit that
is nearer than can be read, chance (other seeds come to another end), or something beside the instrument.
"""

from __future__ import annotations

import os
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from datetime import UTC, datetime
from multiprocessing import get_context

from procedures.practice.answer_key import FIT, observation, truth_after
from procedures.practice.drills import Drill, drawn_drill
from procedures.practice.kit import Kit, kits

START = datetime(2031, 5, 6, 6, 12, tzinfo=UTC)
DRILLS = int(os.environ.get("PRACTICE_DRILLS", "300"))
IN_ONE_PROCESS = 1_000
PIECE = 250
OTHER_SEEDS = 8
HOLE_SEEDS = 3


def ended(seed: int) -> str:
    """How a drill ended, in a word; "UNEXPLAINED …" when its faults call for something else."""
    drill = drawn_drill(kits(), seed, START)
    kit = kits()[drill.profile]
    found = observation(kit, drill.case, drill.seed, drill.start)
    truth = truth_after(kit, drill.case, found.remedies)
    fit = found.ending == FIT
    if truth.near_limit:
        return "near its limit"
    if truth.verdict == "faulty":
        return _passed_all_the_same(drill, kit) if fit else "faulty, and not fit"
    if fit:
        return "sound, and fit"
    if truth.outside:
        return "sound, and something beside it is at fault"
    others = (observation(kit, drill.case, f"{drill.seed}/{n}", drill.start) for n in range(OTHER_SEEDS))
    if any(each.ending == FIT for each in others):
        return "sound, and chance decides"
    kinds = [(each.kind, each.level) for each in drill.case.faults]
    return f"UNEXPLAINED {seed} {drill.profile} {kinds} {found.ending} {found.say}"


def _passed_all_the_same(drill: Drill, kit: Kit) -> str:
    """A faulty one called fit for use: its profile never shows it, or not with this seed."""
    others = (observation(kit, drill.case, f"{drill.seed}/{n}", drill.start) for n in range(HOLE_SEEDS))
    return "faulty, and chance decides" if any(each.ending != FIT for each in others) else "a hole in the profile"


def ended_all(seeds: range) -> list[str]:
    return [ended(seed) for seed in seeds]


def all_endings() -> list[str]:
    if DRILLS <= IN_ONE_PROCESS:
        return ended_all(range(DRILLS))
    pieces = [range(first, min(first + PIECE, DRILLS)) for first in range(0, DRILLS, PIECE)]
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        return [each for some in pool.map(ended_all, pieces) for each in some]


def test_every_drill_ends_in_the_verdict_its_faults_call_for() -> None:
    """No sound instrument is locked out without a reason, and most faulty ones are caught."""
    endings = Counter(all_endings())
    print(dict(endings))
    assert [each for each in endings if each.startswith("UNEXPLAINED")] == []
    assert endings["sound, and chance decides"] <= DRILLS / 100
    assert endings["faulty, and not fit"] >= 5 * (
        endings["a hole in the profile"] + endings["faulty, and chance decides"]
    )
    assert sum(endings.values()) == DRILLS
