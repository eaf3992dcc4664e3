"""The path table: a witness for each ending, failure and remedy, and bounds that hold for every run."""

from __future__ import annotations

import pytest

from procedures.profile.load import read_profile
from procedures.profile.paths import PathRow, bounds, path_table
from procedures.routing import Plan, Track, advance, begin, remedied

CELLS = """\
  [[step.remedy]]
  action = "desiccant-changed"
  say = "Change it."
  repeat_from = "zero"
  attempts = 2

"""


def table(text: str) -> dict[str, PathRow]:
    return {row.shows: row for row in path_table(read_profile(text).profile)}


@pytest.mark.usefixtures("kinds_of_the_tests")
class TestTable:
    """With kinds of known durations: look 1 to 60 s, rest 120 to 180 s, zero 10 to 120 s, response 30 to 300 s."""

    def test_each_ending_has_a_witness(self, good: str) -> None:
        """The lead sees at a glance that the profile can end in every way a checkout may."""
        endings = {row.ending for row in table(good).values()}
        assert endings == {"fit for use", "locked out", "not checked", "abandoned"}

    def test_each_failure_and_each_remedy_has_a_witness(self, good: str) -> None:
        """A failure nobody looked at when the profile was written is one that surprises a technician."""
        rows = table(good)
        for step in ("battery", "window", "zero", "response", "desiccant"):
            assert rows[f"{step} fails"].ending == "locked out"
        assert rows["battery fails, fresh-cells helps"].ending == "fit for use"
        assert "warm-up fails" not in rows

    def test_a_row_says_what_is_done_and_how_it_ends(self, good: str) -> None:
        """Steps, remedies, ending and codes, and the times of exactly those visits."""
        rows = table(good)
        helped = rows["battery fails, fresh-cells helps"]
        assert helped.steps == ("label", "battery", "battery", "warm-up", "window", "zero", "response")
        assert helped.remedies == ("fresh-cells",)
        assert (helped.shortest, helped.longest) == (
            1 + 1 + 1 + 120 + 1 + 10 + 30,
            60 + 60 + 60 + 180 + 60 + 120 + 300,
        )
        assert rows["battery fails"].codes == ("battery-low",)
        assert rows["response fails"].codes == ("response-out",)
        assert rows["response fails"].steps[-1] == "desiccant"

    def test_a_diagnostic_step_that_finds_the_cause_leaves_both_codes(self, good: str) -> None:
        """A lockout carries all codes that stand."""
        assert table(good)["desiccant fails"].codes == ("zero-off", "desiccant-spent")

    def test_a_remedy_of_a_diagnostic_step(self, good: str) -> None:
        """It goes back to the sender, and then everything passes."""
        row = table(good.replace('not_before = "24 h"\n', CELLS))["desiccant fails, desiccant-changed helps"]
        assert row.steps[-4:] == ("zero", "desiccant", "zero", "response")
        assert row.ending == "fit for use"

    def test_an_action_that_voids_the_calibration_ends_in_lockout(self, good: str) -> None:
        """Its row says so; it must not read as if it helped."""
        rows = table(good.replace('not_before = "24 h"\n', CELLS.replace("desiccant-changed", "repaired")))
        row = rows["desiccant fails, repaired ends it"]
        assert (row.ending, "calibration-void" in row.codes) == ("locked out", True)

    def test_bounds_of_a_profile(self, good: str) -> None:
        """At least the required steps once; at most every step once more for each attempt."""
        profile = read_profile(good).profile
        assert bounds(profile) == (1 + 1 + 120 + 1 + 10 + 30, (60 + 60 + 180 + 60 + 120 + 300 + 60) * 2)

    def test_no_run_takes_longer_than_the_bound(self, good: str) -> None:
        """The bound is for planning a morning: every run of every outcome stays below it, attempts used up."""
        loaded = read_profile(good.replace('not_before = "24 h"\n', CELLS))
        longest = {
            "label": 60,
            "battery": 60,
            "warm-up": 180,
            "window": 60,
            "zero": 120,
            "response": 300,
            "desiccant": 60,
        }
        slowest = _slowest(loaded.plan, begin(loaded.plan), longest)
        assert sum(longest.values()) < slowest <= bounds(loaded.profile)[1]


def _slowest(plan: Plan, track: Track, longest: dict[str, int]) -> int:
    """Seconds of the slowest run from here on, by trying all of them."""
    if track.stop is not None:
        return 0
    if track.offer is not None:
        return max(_slowest(plan, remedied(plan, track, done=done), longest) for done in (True, False))
    after = (advance(plan, track, "pass"), advance(plan, track, "fail", "x"))
    following = after if plan.step(track.step).can_fail else after[:1]
    return longest[track.step] + max(_slowest(plan, each, longest) for each in following)
