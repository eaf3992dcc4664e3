"""Rehearsals: answers from a file, the rules of real checkouts, and clear words for whatever is missing or wrong."""

from __future__ import annotations

import tomllib
from datetime import UTC
from pathlib import Path
from typing import Any

import pytest
import tomli_w
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from procedures.profile.compile import procedure_of
from procedures.profile.load import load_profile
from procedures.site.rehearsal import RehearsalResult, rehearse
from procedures.site.rehearsal_file import AnswersErrors, read_answers
from procedures.site.rehearsal_run import run
from procedures.trouble import Trouble

DEMO = Path(__file__).parents[2] / "demo_profiles"
VENTED = DEMO / "vented_chamber.toml"
GOOD_DAY = (DEMO / "answers" / "vented_chamber-pass.toml").read_text()


def rehearsed(tmp_path: Path, text: str, profile: Path = VENTED) -> RehearsalResult:
    path = tmp_path / "answers.toml"
    path.write_text(text)
    return rehearse(profile, path)


def with_answers(*rows: str, instead_of: str = "") -> str:
    """The good day with one row (named by its `step`) taken out and others put in its place."""
    head, *tables = GOOD_DAY.split("[[answer]]\n")
    kept = [table for table in tables if not instead_of or not table.startswith(f'step = "{instead_of}"')]
    return "[[answer]]\n".join([head, *rows, *kept])


def answer_rows() -> list[dict[str, object]]:
    return tomllib.loads(GOOD_DAY)["answer"]


# --- what a rehearsal tells


def test_a_good_day_says_for_what_until_when_and_by_which_factor(tmp_path: Path) -> None:
    """A writer of profiles must see the whole verdict that a technician would see."""
    result = rehearsed(tmp_path, GOOD_DAY)

    assert (result.ending, result.matches) == ("fit for use", True)
    assert dict(result.scales) == {"x1": "source", "x10": "not shown", "x100": "not shown"}
    assert result.ready_until is not None
    assert result.ready_until_why == "the shift ends"
    # 20 °C and 101.325 kPa are the reference conditions of IAEA practice (memory): (290.65/293.15)·(101.325/100.8).
    assert float(result.factor) == pytest.approx(290.65 / 293.15 * 101.325 / 100.8, abs=5e-5)
    assert result.seconds > 60 + 8 + 8 + 10 + 10  # warm-up, hold, and the settling waits


def test_result_is_ready_for_json(tmp_path: Path) -> None:
    """The command line prints the result as one JSON object; a value that JSON lacks would break it there."""
    import json

    result = rehearsed(tmp_path, GOOD_DAY)

    again = json.loads(json.dumps(result.to_json()))
    assert again["ending"] == result.ending
    assert [each["step"] for each in again["findings"]] == [each.finding.step for each in result.findings]


def test_same_files_same_result(tmp_path: Path) -> None:
    """Nothing of the day, the machine or chance may come into a rehearsal."""
    assert rehearsed(tmp_path, GOOD_DAY) == rehearsed(tmp_path, GOOD_DAY)


def test_expectation_not_met_is_said_and_nothing_is_raised(tmp_path: Path) -> None:
    """A profile that ends otherwise than its author thought is the reason to rehearse at all."""
    result = rehearsed(tmp_path, GOOD_DAY.replace('ending = "fit for use"', 'ending = "locked out"'))

    assert result.ending == "fit for use"
    assert result.matches is False


def test_without_expectation_there_is_nothing_to_match(tmp_path: Path) -> None:
    """A first try expects nothing, and must not be called right or wrong."""
    result = rehearsed(tmp_path, GOOD_DAY.partition("[expect]")[0])

    assert result.matches is None


def test_answers_never_reached_are_named_with_their_line(tmp_path: Path) -> None:
    """An answer that nothing asked for shows that the checkout went another way than its author thought."""
    row = '[[answer]]\nstep = "desiccant"\ngive = "amber"\n'
    text = GOOD_DAY.replace("[expect]", f"{row}\n[expect]")

    result = rehearsed(tmp_path, text)

    line = text.splitlines().index('step = "desiccant"')
    assert result.unused == (f"answers.toml:{line}",)


# --- what happens in one


def test_let_go_too_early_breaks_the_hold(tmp_path: Path) -> None:
    """A hold that was broken is asked for again and costs its time; it never counts."""
    text = with_answers(
        'step = "zero"\ngive = ["all away", "0.05"]\n\n',
        'step = "zero"\nlet_go = "3 s"\n\n',
        'step = "zero"\ngive = ["on zero", "0"]\n\n',
        instead_of="zero",
    )

    broken = rehearsed(tmp_path, text)

    assert broken.ending == "fit for use"
    assert broken.seconds == pytest.approx(rehearsed(tmp_path, GOOD_DAY).seconds + 3.0)


ALL_AGAIN = """
[[answer]]
step = "look-over"
give = ["whole", "2032-01-15"]

[[answer]]
step = "air"
give = ["17.5", "100.8", "no"]

[[answer]]
step = "battery"
give = "in the band"

[[answer]]
step = "window"
give = "whole"

[[answer]]
step = "zero"
give = ["all away", "on zero", "0"]

[[answer]]
step = "warm-up"
ask = "stayed-on"
give = "was off"
"""
"""What is asked on the second way through: as found is asked once only."""


@pytest.mark.parametrize(
    ("pause", "again"),
    [
        ('pause = "5 min"', False),
        ('pause = "25 min"', True),
        ('pause = "1 min"\nswitched_off = true', True),
        ('pause = "1 min"\nanother_person = true', True),
    ],
)
def test_a_pause_sends_back_when_the_passes_are_stale(tmp_path: Path, pause: str, again: bool) -> None:
    """Longer than the profile allows, switched off, or another person: then everything is done again."""
    text = with_answers(f'step = "response"\nask = "source"\n{pause}\n\n')
    if again:
        text = text.replace("[expect]", f"{ALL_AGAIN}\n[expect]")

    result = rehearsed(tmp_path, text)

    look_overs = [each for each in result.findings if each.finding.step == "look-over"]
    assert (result.ending, result.unused) == ("fit for use", ())
    assert len(look_overs) == (2 if again else 1)


def test_judgement_locks_out_at_once(tmp_path: Path) -> None:
    """Anybody may fail any step; no remedy and no other step comes after it."""
    row = 'step = "window"\njudge = "There is a hair across the window."\n\n'
    result = rehearsed(tmp_path, with_answers(row, instead_of="window"))

    assert (result.ending, result.codes) == ("locked out", ("judged-unfit",))
    assert result.reasons[0].say == "There is a hair across the window."


def test_abandoned_without_a_failure_is_no_lockout(tmp_path: Path) -> None:
    """Giving up is not a failure, and it is not a pass either."""
    row = 'step = "window"\nabandon = "Called away."\n\n'
    result = rehearsed(tmp_path, with_answers(row, instead_of="window"))

    assert result.ending == "abandoned"


def test_remedy_that_cannot_be_done_locks_out(tmp_path: Path) -> None:
    """Without fresh cells the battery's failure stands."""
    rows = ('step = "battery"\ngive = "below the band"\n\n', 'step = "battery"\ndone = false\n\n')
    result = rehearsed(tmp_path, with_answers(*rows, instead_of="battery"))

    assert (result.ending, result.codes) == ("locked out", ("battery-low",))


@pytest.mark.parametrize("profile", ["vented_chamber-desiccant", "sealed_chamber-guarded"])
def test_fresh_cells_begin_the_warm_up_anew(profile: str) -> None:
    """The instrument was off while its cells were out: time before that warmed nothing up."""
    path = DEMO / f"{profile.partition('-')[0]}.toml"
    result = rehearse(path, DEMO / "answers" / f"{profile}.toml")
    findings = {each.finding.step: each for each in result.findings}  # the latest of each step

    since_battery = findings["warm-up"].at - findings["battery"].at
    on_for = findings["warm-up"].finding.number("since_on")

    assert on_for is not None
    assert float(on_for.value) >= 45.0
    assert since_battery.total_seconds() >= 40.0  # the answer on the battery was given just after switching on


def test_wrong_label_is_asked_again_and_passes_nothing(tmp_path: Path) -> None:
    """The neighbour's instrument on the bench must not lend its label."""
    row = 'step = "look-over"\nask = "instrument"\ngive = "QO-99"\n\n'
    result = rehearsed(tmp_path, with_answers(row))
    plain = rehearsed(tmp_path, GOOD_DAY)

    assert result.ending == "fit for use"
    assert result.asks == plain.asks + 1


# --- what is missing


@pytest.mark.parametrize("place", range(len(answer_rows())))
def test_no_observation_is_ever_made_up(tmp_path: Path, place: int) -> None:
    """Whichever answer is left out, the rehearsal stops and asks for it; it never goes on as if it had been given."""
    tables = tomllib.loads(GOOD_DAY)
    left_out = tables["answer"].pop(place)

    with pytest.raises(Trouble) as caught:
        rehearsed(tmp_path, tomli_w.dumps(tables))

    assert left_out["step"] in caught.value.what


def test_lines_to_add_are_an_answer(tmp_path: Path) -> None:
    """What the program tells people to write must be what it then understands."""
    tables = tomllib.loads(GOOD_DAY)
    tables["answer"] = [row for row in tables["answer"] if row["step"] != "battery"]
    with pytest.raises(Trouble) as caught:
        rehearsed(tmp_path, tomli_w.dumps(tables))
    assert "below the band" in caught.value.allowed

    (added,) = tomllib.loads(caught.value.do.partition("\n\n")[2])["answer"]
    tables["answer"].append(added | {"give": "in the band"})

    assert rehearsed(tmp_path, tomli_w.dumps(tables)).ending == "fit for use"


def test_remedy_on_offer_asks_for_a_decision(tmp_path: Path) -> None:
    """Whether a remedy was carried out is never assumed."""
    text = GOOD_DAY.replace('give = "in the band"', 'give = "below the band"')

    with pytest.raises(Trouble, match="offers a remedy") as caught:
        rehearsed(tmp_path, text)

    (added,) = tomllib.loads(caught.value.do.partition("\n\n")[2])["answer"]
    assert added == {"step": "battery", "done": True, "after": "2 min"}


def test_answer_not_understood_names_its_line(tmp_path: Path) -> None:
    """An answer is read as typing is read, and refused in the same words, with the place in the file."""
    text = GOOD_DAY.replace('"1.62"', '"1.6Z"')

    with pytest.raises(Trouble) as caught:
        rehearsed(tmp_path, text)

    row = text.splitlines().index('step = "response"')
    assert caught.value.where == f"answers.toml:{row}"
    assert "reading-2" in caught.value.what


def test_answer_for_another_ask_is_said_to_wait(tmp_path: Path) -> None:
    """Answers of a step are used in their order; one that names another ask shows where the order broke."""
    row = 'step = "battery"\nask = "charge"\ngive = "80 %"\n\n'

    with pytest.raises(Trouble, match="it is not for this"):
        rehearsed(tmp_path, with_answers(row, instead_of="battery"))


def test_rehearsal_is_bounded(tmp_path: Path) -> None:
    """However the files are written, a rehearsal comes to an end."""
    path = tmp_path / "answers.toml"
    path.write_text(GOOD_DAY)
    loaded = load_profile(VENTED)
    procedure = procedure_of(loaded.profile, loaded.text)
    file = read_answers(path, procedure)
    needed = run(procedure, file).asks

    assert run(procedure, file, most_asks=needed).state.over
    with pytest.raises(Trouble, match="had not ended"):
        run(procedure, file, most_asks=needed - 1)


# --- mistakes in the file


@pytest.mark.parametrize(
    ("found", "instead", "key", "says"),
    [
        ('profile = "vented-chamber-analog"', 'profile = "pancake-ratemeter"', "profile", "another profile"),
        ('step = "battery"', 'step = "batery"', "answer[4].step", "did you mean battery"),
        ('nuclide = "Cs-137"', 'nuclide = "Cs-138"', "source[1].nuclide", "no nuclide"),
        ('scale = "x1"', 'scale = "x7"', "reference[1].scale", "no such scale"),
        ('after = "6 s"', 'after = "6"', "answer[4].after", ""),
        ('after = "6 s"', 'after = "6 m"', "answer[4].after", ""),
        ('after = "6 s"', "afer = 6", "answer[4].afer", "did you mean after"),
        ('give = "in the band"', "give = 3", "answer[4].give", "no answer as a person would type it"),
        ('give = "in the band"', "give = []", "answer[4].give", "no answer as a person would type it"),
        ('give = "in the band"', "done = true\npause = '3 s'", "answer[4].pause", "one thing that happens"),
        ('give = "in the band"', "give = 'x'\nswitched_off = true", "answer[4].switched_off", "without a pause"),
        ("start = 2031-05-06T06:12:00Z", "start = 2031-05-06T06:12:00", "start", ""),
        ('ending = "fit for use"', 'ending = "fit"', "expect.ending", ""),
        ('label = "QO-01"', "", "instrument.label", "missing"),
        ("[expect]", "[settings]\nzone = 'Orchard/Quillmere'\n[expect]", "settings.zone", "no time zone"),
        ("[expect]", "[settings]\nshifts = '6 o clock'\n[expect]", "settings.shifts", "no time of day"),
        ("[expect]", "[settings]\nready_ends = 'never'\n[expect]", "settings.ready_ends", "ends no readiness"),
        ("[expect]", "[settings]\nshift = '06:00'\n[expect]", "settings.shift", "did you mean shifts"),
        ('label = "QS-1"', 'label = "QS  1"', "source[1].label", "no scanner"),
        ("start = 2031-05-06T06:12:00Z", "start = 9999-12-31T23:59:59Z", "start", "such a year"),
        ("calibration_due = 2032-01-15", "calibration_due = 9999-12-31", "instrument.calibration_due", "such a year"),
        ("[expect]", "[expectation]", "expectation", "did you mean expect"),
        ("format = 1", "format = 2", "format", ""),
    ],
)
def test_mistake_is_told_with_its_line(tmp_path: Path, found: str, instead: str, key: str, says: str) -> None:
    """Whatever a person writes gets its place and what is allowed, never a traceback."""
    assert found in GOOD_DAY
    text = GOOD_DAY.replace(found, instead, 1)

    with pytest.raises(AnswersErrors) as caught:
        rehearsed(tmp_path, text)

    (error,) = caught.value.errors
    assert error.key == key
    assert says in error.message
    assert 0 < error.line <= len(text.splitlines())


LEAVES = [
    (*path, key)
    for path, table in (
        [((), tomllib.loads(GOOD_DAY)), (("instrument",), tomllib.loads(GOOD_DAY)["instrument"])]
        + [((name, 0), tomllib.loads(GOOD_DAY)[name][0]) for name in ("source", "reference")]
        + [(("answer", place), row) for place, row in enumerate(answer_rows())]
    )
    for key in table
]
ODD_TEXT = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=12) | st.sampled_from(
    ["", " ", "0", "-1", "1e30", "1e-30 mR/h", "-5 mR/h", "5 mR/h", "1 Bq", "NaN", "x10 3", "no response", "9999-12-31"]
)
ODD = (
    ODD_TEXT
    | st.integers(-(10**18), 10**18)
    | st.floats()
    | st.booleans()
    | st.dates()
    | st.datetimes(timezones=st.just(UTC))
    | st.lists(ODD_TEXT, max_size=3)
    | st.dictionaries(st.sampled_from(["a", "step"]), ODD_TEXT, max_size=2)
)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(place=st.sampled_from(LEAVES), value=ODD)
def test_whatever_stands_in_the_file_gets_an_ending_or_words(
    tmp_path: Path, place: tuple[str | int, ...], value: object
) -> None:
    """One value of a good file is replaced by anything: never a traceback, and never another profile's verdict."""
    tables = tomllib.loads(GOOD_DAY)
    inner: Any = tables
    for part in place[:-1]:
        inner = inner[part]
    inner[place[-1]] = value

    try:
        result = rehearsed(tmp_path, tomli_w.dumps(tables))
    except Trouble:
        return

    assert result.profile == "vented-chamber-analog"
    assert result.ending in ("fit for use", "locked out", "not checked", "abandoned")


def test_all_mistakes_come_at_once(tmp_path: Path) -> None:
    """Mending a file one mistake a run is a way to give it up."""
    text = GOOD_DAY.replace('step = "battery"', 'step = "batery"').replace('nuclide = "Cs-137"', 'nuclide = "Xy-1"')

    with pytest.raises(AnswersErrors) as caught:
        rehearsed(tmp_path, text)

    assert caught.value.what == "2 mistakes stand in this answers file"
    assert [error.line for error in caught.value.errors] == sorted(error.line for error in caught.value.errors)


@pytest.mark.parametrize("raw", [b"", b"\xff\xfe\x00", b"answer = 3", b"[[answer]]\n", b"[[[", b"\x00"])
def test_files_that_are_no_answers_are_refused(tmp_path: Path, raw: bytes) -> None:
    """Any bytes may be handed over."""
    path = tmp_path / "answers.toml"
    path.write_bytes(raw)

    with pytest.raises(AnswersErrors):
        rehearse(VENTED, path)


def test_files_that_are_not_there_are_said_to_be_missing(tmp_path: Path) -> None:
    """A mistyped path is the most common mistake of all."""
    with pytest.raises(Trouble, match="no such file"):
        rehearse(VENTED, tmp_path / "nowhere.toml")
    with pytest.raises(Trouble, match="no such file"):
        rehearse(tmp_path / "nowhere.toml", tmp_path / "nowhere.toml")
