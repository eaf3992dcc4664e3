"""Faults: that each can be seen at the level of its case, and that look-alikes can be told apart."""

from __future__ import annotations

import pytest
from bench_walk import Walk, beside_the_source, differences

from procedures.practice.catalogue import Fault, effects_of, kinds, possible
from procedures.practice.effects import Effects
from procedures.practice.packaged import cases, models, profiles
from procedures.practice.pairs import ALIKE, CLASHES, Alike, look_alikes
from procedures.routing import ACTIONS
from procedures.trouble import Trouble

AT_RANDOM = ("noisy", "radio-pickup", "cable-intermittent")
"""Kinds that come and go: they are seen in the scatter of readings, not in their end."""

PACKAGED = [(name, fault) for name, case in cases().items() for fault in case.faults]

NOT_IN_A_CASE = {
    "vented-chamber-analog": [
        ("detector-dead", 0.0), ("response-high", 0.3), ("noisy", 8.0), ("radio-pickup", 0.4), ("contamination", 0.2),
        ("zero-knob-dead", 0.0), ("zero-button-dead", 0.0), ("cells-tired", 12.0), ("cells-wrong", 0.3),
        ("cells-half", 0.6), ("case-cracked", 0.0), ("case-loose", 0.0), ("window-dimpled", 0.0), ("window-loose", 0.0),
        ("slide-stuck", 0.0), ("needle-stuck", 0.0), ("label-worn", 0.0), ("slow-response", 5.0),
    ],
    "pancake-ratemeter": [("cable-cut", 0.0), ("speaker-dead", 0.0), ("clicks-faint", 0.0)],
    "sealed-chamber-digital": [("display-faded", 0.0), ("overload-stays", 0.0), ("alarm-dark", 0.0)],
}  # fmt: skip
OTHERS = [(profile, Fault(kind, level)) for profile, rows in NOT_IN_A_CASE.items() for kind, level in rows]


@pytest.fixture(scope="module")
def sound() -> dict[str, dict[str, float | str | None]]:
    """What a sound instrument of each type shows on the walk."""
    return {profile: Walk(model, ()).all_of_it() for profile, model in models().items()}


def seen_in(profile: str, fault: Fault, sound: dict[str, dict[str, float | str | None]]) -> list[str]:
    """Where on the walk this fault is seen: more than half a division, or something else that is visible."""
    model = models()[profile]
    if fault.kind in AT_RANDOM:
        spans = []
        for faults in ((), (fault,)):
            readings = beside_the_source(model, faults, 3, every=1.0, count=120)
            spans.append(max(readings) - min(readings))
        return ["scatter"] if spans[1] - spans[0] > 0.5 else []
    return differences(Walk(model, (fault,)).all_of_it(), sound[profile])


@pytest.mark.parametrize(("name", "fault"), PACKAGED, ids=[f"{name}:{fault.kind}" for name, fault in PACKAGED])
def test_each_fault_of_a_case_is_seen(name: str, fault: Fault, sound: dict[str, dict[str, float | str | None]]) -> None:
    """A fault nobody can see teaches nothing: half a division at least, or something visible."""
    assert seen_in(cases()[name].profile, fault, sound)


@pytest.mark.parametrize(("profile", "fault"), OTHERS, ids=[f"{profile}:{fault.kind}" for profile, fault in OTHERS])
def test_each_other_kind_is_seen(profile: str, fault: Fault, sound: dict[str, dict[str, float | str | None]]) -> None:
    """The rest of the catalogue, at a level a trainer would write."""
    assert seen_in(profile, fault, sound)


def test_every_kind_is_tried() -> None:
    """No kind of the catalogue is left without one of the two tests above."""
    tried = {fault.kind for _, fault in (*PACKAGED, *OTHERS)}
    assert tried == set(kinds())


def test_the_catalogue_is_what_it_says() -> None:
    """At least sixteen kinds; words for all; every effect, label and remedy it names exists."""
    labels = frozenset().union(*(model.labels for model in models().values()))
    fields = set(Effects.__dataclass_fields__)
    assert len([kind for kind in kinds().values() if kind.of == "instrument"]) >= 16
    for kind in kinds().values():
        assert kind.say.endswith(".")
        assert kind.seen.endswith(".")
        assert kind.needs <= labels
        assert kind.mended_by <= set(ACTIONS)
        assert set(kind.on) <= labels
        assert {*kind.level, *kind.sets, *(name for sets in kind.on.values() for name in sets)} <= fields
        assert set(kind.level.values()) <= {"set", "add", "multiply", "scale by"}
        assert (kind.range is not None) == bool(kind.level)
        assert kind.level or kind.sets or kind.remark


def test_what_is_set_is_set_by_its_own_type() -> None:
    """A word where the physics wants a figure would only be found at the bench."""
    plain = Effects()
    for kind in kinds().values():
        for name, value in (*kind.sets.items(), *(pair for sets in kind.on.values() for pair in sets.items())):
            assert isinstance(value, type(getattr(plain, name)))


@pytest.mark.parametrize("profile", list(models()))
def test_no_instrument_has_a_fault_it_cannot_have(profile: str) -> None:
    """Asked for, it is refused with those that it can have."""
    labels = models()[profile].labels
    for name in set(kinds()) - set(possible(labels)):
        with pytest.raises(Trouble) as told:
            effects_of((Fault(name),), labels)
        assert told.value.allowed


@pytest.mark.parametrize("pair", ALIKE, ids=[f"{each.one}/{each.other}" for each in ALIKE])
def test_look_alikes_are_kinds_that_one_instrument_can_have(pair: Alike) -> None:
    """A pair teaches only when one type can have both; what tells them apart is said."""
    assert pair.told_apart.endswith(".")
    assert any({pair.one, pair.other} <= set(possible(model.labels)) for model in models().values())
    assert pair in look_alikes(pair.one)
    assert pair in look_alikes(pair.other)


def test_clashes_name_kinds_that_exist() -> None:
    """A pair that is misspelt would be allowed silently."""
    for each in CLASHES:
        assert each.one | each.other <= set(kinds())
        assert each.why


def test_damp_and_drift_are_told_apart_by_waiting() -> None:
    """What damp makes stays; drift goes on. Both look like a zero that does not hold."""
    moved = {}
    for fault in (Fault("desiccant-spent", 0.8), Fault("zero-drift", 0.1)):
        seen = Walk(models()["vented-chamber-analog"], (fault,)).all_of_it()
        first, last = seen["away: figure"], seen["away at the end: figure"]
        assert isinstance(first, float)
        assert isinstance(last, float)
        moved[fault.kind] = last - first
    assert abs(moved["desiccant-spent"]) < 0.5 < 5 < moved["zero-drift"]


def test_the_cases_cover_all_types_and_some_that_are_sound() -> None:
    """Somebody who always finds something must be found out too."""
    written = cases()
    assert len(written) >= 20
    assert {case.profile for case in written.values()} == set(profiles())
    harmless = [c for c in written.values() if all(f.what.of == "nothing" for f in c.faults)]
    assert len(harmless) >= 4
    assert all(case.about and case.title for case in written.values())
