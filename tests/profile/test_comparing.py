"""Two revisions compared: no dangerous edit of a demo profile goes unflagged, and no harmless one is."""

from __future__ import annotations

import re
from importlib.resources import files

import pytest

from procedures import steps
from procedures.profile.comparing import Comparison, compare
from procedures.profile.load import Loaded, read_adopted, read_profile
from procedures.profile.looseness import rows_for
from procedures.steps.base import StepParameters

DEMOS = {
    each.name: each.read_text(encoding="utf-8")
    for each in sorted(files("demo_profiles").iterdir(), key=lambda each: each.name)
    if each.name.endswith(".toml")
}

REMEDY = '\n  [[step.remedy]]\n  action = "{}"\n  say = "Do it."\n  repeat_from = "look-over"\n'

# Each is (name, pattern, replacement) on the text of a profile; invented, after what a hurried writer might do.
DANGEROUS = (
    ("pass lasts longer", r'lasts = "(8|12) h"', 'lasts = "20 h"'),
    ("longer pause", r'longest_pause = "\d+ min"', 'longest_pause = "3 h"'),
    ("warm-up shortened", r'since_on = ".*?"', 'since_on = "2 s"'),
    ("settling shortened", r'settle = "\d+ s"', 'settle = "1 s"'),
    ("settling dropped from response", r'(kind = "response"(?:.|\n)*?)settle = "\d+ s"\n', r"\1"),
    ("hold shortened", r'hold = "8 s"', 'hold = "2 s"'),
    ("zero tolerance widened", r'\bwithin = "0.05 mR/h"', 'within = "0.1 mR/h"'),
    ("as-found tolerance widened", r'as_found_within = "0.1 mR/h"', 'as_found_within = "0.3 mR/h"'),
    ("low limit widened", r'low = "-\d+ %"', 'low = "-45 %"'),
    ("high limit widened", r'high = "\d+ %"', 'high = "45 %"'),
    ("high level widened", r'high = "260 µSv/h"', 'high = "300 µSv/h"'),
    ("warning band widened", r'warn = "\d+ %"', 'warn = "19.5 %"'),
    ("warning band dropped", r', warn = "\d+ %"', ""),
    ("spread widened", r'spread = "\d+ %"', 'spread = "40 %"'),
    ("spread dropped", r'spread = "\d+ %"\n', ""),
    ("fewer readings", r"readings = [235]", "readings = 1"),
    ("guarded rule dropped", r'decision = \{ rule = "guarded".*\}\n', ""),
    ("larger chance of a wrong pass", r"false_accept = 0.05", "false_accept = 0.3"),
    ("lower battery", r'minimum = "\d', 'minimum = "2'),
    ("higher battery", r'maximum = "\d', 'maximum = "9'),
    ("more places good", r'good = \["in the band"\]', 'good = ["in the band", "below the band"]'),
    ("more answers good at return", r'good = \["no"\]', 'good = ["no", "yes"]'),
    ("question at return dropped", r"\[\[return\]\](?:.|\n)*?\n\n", ""),
    ("background higher", r'highest = "\d+ cpm"', 'highest = "400 cpm"'),
    ("ratio to background dropped", r"smallest_over_background = 10.0\n", ""),
    ("fewer counts", r"minimum_net = 400", "minimum_net = 10"),
    ("count shortened", r"readings = 1\ncount_time = \"30 s\"", 'readings = 1\ncount_time = "3 s"'),
    ("light leak wider", r'light_within = "10 cpm"', 'light_within = "90 cpm"'),
    ("light leak not tried", r'light_scale = "scaler"\nlight_within = "10 cpm"\n', ""),
    ("dimples pass", r'(kind = "window"\n)(say = .*\n)(lockout)', r'\1\2dimpled = "warn"\n\3'),
    ("cable not looked at", r"cable = true\n", ""),
    ("outside not surveyed", r'outside = "survey"\n', ""),
    ("label not looked at", r'kind = "look-over"\n(?!label)', 'kind = "look-over"\nlabel = "none"\n'),
    ("alarm set higher", r'set_point = "25 µSv/h"', 'set_point = "90 µSv/h"'),
    ("fewer signals", r'signals = \["sound", "light"\]', 'signals = ["sound"]'),
    ("pressure not taken", r'pressure = "barometer"', 'pressure = "none"'),
    ("humidity not taken", r"humidity = true\n", ""),
    ("used colder", r'temperature = \["-?\d+ degC"', 'temperature = ["-40 degC"'),
    ("soak dropped", r', soak = "\d+ min"', ""),
    ("used for more", r"measures = \[", 'measures = ["anything", '),
    ("not for less", r'not_for = \[".*?", ', "not_for = ["),
    ("warning dropped", r"warnings = .*\n", ""),
    ("scale said to be shown less", r'shown_by = "source"', 'shown_by = "nothing"'),
    ("lockout of desiccant shorter", r'not_before = "24 h"', 'not_before = "1 h"'),
    ("battery step removed", r'\[\[step\]\]\nid = "battery"(?:.|\n)*?(?=\[\[step\]\])', ""),
    ("window step removed", r'\[\[step\]\]\nid = "window"(?:.|\n)*?(?=\[\[step\]\])', ""),
    ("warm-up step removed", r'\[\[step\]\]\nid = "warm-up"(?:.|\n)*?(?=\[\[step\]\])', ""),
    ("scan of the instrument dropped", r'\[\[step\]\]\nid = "look-over"(?:.|\n)*?(?=\[\[step\]\])', ""),
    ("battery only when sent", r'(kind = "battery"\n)', r"\1only_when_sent = true\n"),
    (
        "steps swapped",
        r'(\[\[step\]\]\nid = "battery"(?:.|\n)*?)(\[\[step\]\]\nid = "warm-up"(?:.|\n)*?)(?=\[\[step\]\])',
        r"\2\1",
    ),
    ("remedy added", r'(id = "window"(?:.|\n)*?lockout = .*\n)', r"\1" + REMEDY.format("detector-cleaned")),
    ("remedy added to look-over", r'(lockout = "case-damaged"\n)', r"\1" + REMEDY.format("controls-set")),
    ("more attempts", r"attempts = 1", "attempts = 2"),
    ("remedy goes back less", r'(fresh-cells(?:.|\n)*?)repeat_from = "look-over"', r'\1repeat_from = "battery"'),
    ("caution dropped", r"(\n *)caution = .*", r"\1"),
    ("another source", r'source = "\w+"', 'source = "other"'),
    ("another reason code", r'lockout = "battery-low"', 'lockout = "response-out"'),
)

HARMLESS = (
    ("comment", r"^", "# A comment.\n"),
    ("spacing", r"\n\n", "\n\n\n"),
    ("wording", r'say = "(?=[A-Z])', 'say = "Now: '),
    ("caution in other words", r'caution = "', 'caution = "Mind: '),
    ("title", r'title = "', 'title = "The '),
    ("revision", r"revision = 1", "revision = 2"),
    ("another spelling of a time", r'"12 h"', '"720 min"'),
    ("another spelling of a wait", r'"1 min"', '"60 s"'),
    ("warm-up longer", r'since_on = ".*?"', 'since_on = "3 min"'),
    ("limit narrower", r'high = "(15|20) %"', 'high = "14 %"'),
    ("default written out", r'(kind = "alarm"\n)', r"\1only_when_sent = false\n"),
    ("scatter for printed chances", r"scatter = .*\n", 'scatter = "1 %"\n'),
)


def edited(demo: str, pattern: str, replacement: str) -> Loaded | None:
    """The demo after the edit, not proved: what the proof would refuse has to be flagged too. None: nothing to edit."""
    text, count = re.subn(pattern, replacement, DEMOS[demo])
    if 'id = "look-over"' not in text:
        text = text.replace('repeat_from = "look-over"', 'repeat_from = "battery"')
    return read_adopted(text) if count and text != DEMOS[demo] else None


def compared(pattern: str, replacement: str) -> dict[str, Comparison]:
    pairs = ((demo, edited(demo, pattern, replacement)) for demo in DEMOS)
    return {demo: compare(read_profile(DEMOS[demo]), now) for demo, now in pairs if now is not None}


@pytest.mark.parametrize("demo", DEMOS)
def test_a_profile_against_itself(demo: str) -> None:
    """A difference that is none teaches people to read past those that are."""
    loaded = read_profile(DEMOS[demo])
    assert compare(loaded, loaded) == Comparison((), ())
    assert compare(loaded, loaded).lines() == ("The two revisions mean the same.",)


@pytest.mark.parametrize(("name", "pattern", "replacement"), DANGEROUS, ids=[each[0] for each in DANGEROUS])
def test_a_dangerous_edit_is_flagged(name: str, pattern: str, replacement: str) -> None:
    """What lets more through is seen by the lead before it is adopted, on every demo that it can be done to."""
    found = compared(pattern, replacement)
    assert found, f"{name}: no demo profile can be edited like this"
    missed = {demo: each.lines() for demo, each in found.items() if each.harmless}
    assert missed == {}


@pytest.mark.parametrize(("name", "pattern", "replacement"), HARMLESS, ids=[each[0] for each in HARMLESS])
def test_a_harmless_edit_is_not_flagged(name: str, pattern: str, replacement: str) -> None:
    """A flag on a comma makes the next flag worthless."""
    found = compared(pattern, replacement)
    assert found, f"{name}: no demo profile can be edited like this"
    assert {demo: each.lines() for demo, each in found.items() if not each.harmless} == {}


@pytest.mark.parametrize("demo", DEMOS)
def test_at_least_twenty_dangers_apply(demo: str) -> None:
    """The list of dangers is not one for a single demo."""
    assert sum(edited(demo, pattern, new) is not None for _, pattern, new in DANGEROUS) >= 20


@pytest.mark.parametrize("name", steps.kind_names())
def test_every_parameter_has_a_row(name: str) -> None:
    """A parameter without a row is flagged whatever becomes of it; one with a row is weighed."""
    rows = rows_for(name)
    own = set(steps.kind(name).parameters.model_fields) - {"id", "kind", "remedy"}
    assert {key for key in own if key not in rows and not any(row.startswith(f"{key}.") for row in rows)} == set()
    assert {row.partition(".")[0] for row in rows} <= own | set(StepParameters.model_fields)


def test_the_words_say_what_was_and_is() -> None:
    """The lead reads a sentence, not a patch."""
    found = compared(r'\bwithin = "0.05 mR/h"', 'within = "0.1 mR/h"')["vented_chamber.toml"]
    assert "! step zero: how far off zero may be (within) was 0.05 mR/h and is 0.1 mR/h: loosened" in found.lines()


def test_paths_with_fewer_checks_are_told() -> None:
    """A step left out, or a remedy that goes back less far, shows in the ways to fit for use."""
    gone = compared(r'\[\[step\]\]\nid = "battery"(?:.|\n)*?(?=\[\[step\]\])', "")["vented_chamber.toml"]
    assert ("battery",) in [path.lacking for path in gone.paths]
    added = compared(r'(lockout = "case-damaged"\n)', r"\1" + REMEDY.format("controls-set"))["vented_chamber.toml"]
    assert any("controls-set" in path.words for path in added.paths)


def test_a_moved_step_is_told_once() -> None:
    """Two steps swapped are one move, and nothing is said of the rest."""
    swap = next(each for each in DANGEROUS if each[0] == "steps swapped")
    found = compared(swap[1], swap[2])["neutron_moderated.toml"]
    assert [each.sort for each in found.differences] == ["moved"]


@pytest.mark.parametrize(("name", "pattern", "replacement"), DANGEROUS, ids=[each[0] for each in DANGEROUS])
def test_the_way_back_tightens(name: str, pattern: str, replacement: str) -> None:
    """What is loose one way is strict the other: a row that says both would hide one of them."""
    opposite = {"loosened": {"tightened", "wording"}, "tightened": {"loosened"}, "wording": {"wording", "loosened"}}
    for demo in DEMOS:
        now = edited(demo, pattern, replacement)
        if now is None:
            continue
        before = read_profile(DEMOS[demo])
        there = {(d.where, d.key): d.effect for d in compare(before, now).differences if d.sort == "changed"}
        back = {(d.where, d.key): d.effect for d in compare(now, before).differences if d.sort == "changed"}
        assert there.keys() == back.keys(), name
        wrong = {key for key, effect in there.items() if back[key] not in opposite.get(effect, {"look at it"})}
        assert wrong == set(), name


def test_a_parameter_that_nobody_weighed_is_flagged(monkeypatch: pytest.MonkeyPatch) -> None:
    """A new kind of step, or a new key, is not harmless for want of a row."""
    monkeypatch.setattr("procedures.profile.comparing.rows_for", lambda _kind: {})
    found = compared(r'since_on = "1 min"', 'since_on = "5 min"')["vented_chamber.toml"]
    assert [each.effect for each in found.differences] == ["look at it"]
