"""A session done again is the same session: same faces, same findings; and what is no session says why."""

from __future__ import annotations

import json
from copy import deepcopy
from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from procedures.findings import finding_to_json
from procedures.practice.bench import Bench
from procedures.practice.case_values import case_from_json, case_to_json
from procedures.practice.cases import Case
from procedures.practice.face import Face
from procedures.practice.kit import kits
from procedures.practice.moments import Deed, Entry, Give, Judge, LetGo, Moment, Pause, Press, Resume, Turn, Work
from procedures.practice.observer import Observer, Skill, observe
from procedures.practice.packaged import cases
from procedures.practice.session import Session, replay, session_from_json, session_of, session_to_json
from procedures.trouble import Trouble

START = datetime(2031, 5, 6, 6, 12, tzinfo=UTC)
VENTED = "vented-chamber-analog"


BESIDES = [Work("cover", "bright"), Work("power", "off"), Work("tap", "once"), Pause()]


class Watched(Bench):
    """A bench that keeps the face at each moment, and lets time pass in pieces as a screen does."""

    pieces = 0.1

    def do(self, what: Deed | Entry) -> None:
        face = self.face()
        super().do(what)
        self.faces.append(face)

    def advance_to(self, moment: int) -> None:
        piece = round(self.pieces * 1_000_000)
        while moment - self.passed > piece:
            super().advance_to(self.passed + piece)
        super().advance_to(moment)


def watched(name: str, seed: str, pieces: float) -> Watched:
    case = cases()[name]
    bench = Watched(kits()[case.profile], case, seed, START, step=0.2)
    bench.pieces, bench.faces = pieces, []
    return bench


def found(bench: Bench) -> tuple[list[dict[str, Any]], Any]:
    state = bench.run.state
    return [finding_to_json(made.finding) for made in state.made], state.ending


@settings(max_examples=30, deadline=None)
@given(
    st.sampled_from(sorted(cases())),
    st.integers(0, 10**6),
    st.floats(0.03, 7.0),
    st.builds(
        Skill,
        misreads=st.floats(0, 3),
        patience=st.floats(0.3, 1),
        skips=st.floats(0, 0.5),
        wishes=st.floats(0, 0.5),
        gives_up=st.sampled_from([0.0, 0.02]),
    ),
    st.lists(
        st.sampled_from([Work("cover", "bright"), Work("power", "off"), Work("tap", "once"), Pause()]), max_size=2
    ),
)
def test_the_same_session_gives_the_same_faces_and_findings(
    name: str, seed: int, pieces: float, skill: Skill, besides: list[Deed | Entry]
) -> None:
    """However time was cut when it was lived through, and whatever was done besides what is asked."""
    bench = watched(name, str(seed), pieces)
    observer = Observer(bench, skill, seed)
    for turn in range(200):
        if bench.over:
            break
        if besides and turn % 5 == 4:
            what = besides.pop()
            bench.do(what)
            if isinstance(what, Pause):
                bench.advance(30)
                bench.do(Resume())
        observer.go_on()
    session = session_from_json(json.loads(json.dumps(session_to_json(session_of(bench)))), kits())
    faces: list[Face] = []
    again = replay(session, kits()[session.profile], lambda at, _moment: faces.append(at.face()))
    assert faces == bench.faces
    assert found(again) == found(bench)
    assert again.face() == bench.face()
    assert again.moments == bench.moments
    assert session_of(again) == session


def a_session() -> Session:
    bench = watched("vented-damp-desiccant", "7", 60.0)
    observe(bench)
    return session_of(bench, speed=4, hints=1)


def test_a_session_comes_back_from_plain_values_whole() -> None:
    """Speed and hints are marks of it and come along."""
    session = a_session()
    assert session_from_json(json.loads(json.dumps(session_to_json(session))), kits()) == session


def _set(path: tuple[Any, ...], value: Any) -> Any:
    def change(body: dict[str, Any]) -> None:
        place: Any = body
        for key in path[:-1]:
            place = place[key]
        place[path[-1]] = value

    return change


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (_set(("more",), 1), "no such key"),
        (lambda body: body.pop("seed"), "missing"),
        (_set(("format",), 2), "cannot be"),
        (_set(("profile",), "nobody-has-it"), "cannot be"),
        (_set(("speed",), 3), "no speed"),
        (_set(("start",), "2031-05-06T06:12:00"), "cannot be"),
        (_set(("start",), None), "cannot be"),
        (_set(("ended",), 0), "before what stands above"),
        (_set(("ended",), float("nan")), "cannot be"),
        (_set(("moments", 2, "at"), 1e5), "before what stands above"),
        (_set(("moments", 0), {"at": 0, "does": "fly"}), "nothing that can be done"),
        (_set(("moments", 0), 5), "nothing that can be done"),
        (_set(("moments", 0), {"at": 0, "does": "work", "control": "power", "value": True}), "no value"),
        (_set(("moments", 0), {"at": 0, "does": "work", "control": "wings", "value": "on"}), "no control"),
        (_set(("moments", 0), {"at": 0, "does": "mend", "action": "hammer"}), "cannot be"),
        (_set(("moments", 0), {"at": 0, "does": "give", "ask": "case", "value": {"is": "reading"}}), "no answer"),
        (_set(("case", "faults", 0, "kind"), "light-leak"), "cannot be"),
        (_set(("case", "faults", 0, "level"), 30.0), "no level"),
        (_set(("case", "room", "humidity"), 130), "cannot be"),
        (_set(("papers", "sources"), [{"role": "weekly", "label": "a", "jig": ""}]), "cannot be"),
        (_set(("moments",), "none"), "cannot be"),
    ],
)
def test_what_is_no_session_says_why(change: Any, says: str) -> None:
    """Whoever sends a file that was cut or written by hand gets an answer, and never half a session."""
    body = deepcopy(session_to_json(a_session()))
    change(body)
    with pytest.raises(Trouble, match=says):
        session_from_json(body, kits())


def test_a_session_of_another_revision_is_not_replayed() -> None:
    """By another profile it would come to other findings."""
    body = session_to_json(a_session())
    body["profile_sha256"] = "0" * 64
    session = session_from_json(body, kits())
    with pytest.raises(Trouble, match="another revision"):
        replay(session, kits()[VENTED])


@pytest.mark.parametrize("name", sorted(cases()))
def test_a_case_comes_back_from_plain_values(name: str) -> None:
    """Levels, room, words and all."""
    case = cases()[name]
    again = case_from_json(json.loads(json.dumps(case_to_json(case))), kits()[case.profile].model)
    assert again == case


def bare(profile: str = VENTED) -> Bench:
    kit = kits()[profile]
    return Bench(kit, Case("", "", (), profile, kit.model.room, (), ()), "1", START, step=0.2)


def test_what_cannot_be_done_changes_nothing() -> None:
    """An answer to another question, a button that is none, a reading of the wrong form."""
    bench = bare()
    before = bench.run.state
    wrong: tuple[Entry, ...] = (Give("case", "whole"), Press("instrument"), LetGo(), Resume(), Give("instrument", ""))
    for entry in wrong[:3]:
        with pytest.raises(Trouble):
            bench.do(entry)
    assert bench.run.state is before
    assert bench.moments == []


def test_a_wait_ends_by_itself_to_the_microsecond() -> None:
    """Whoever looks four times a second and whoever looks once find the wait kept at the same moment."""
    ends = []
    for pieces in (0.25, 300.0):
        bench = watched("vented-sound", "1", pieces)
        observer = Observer(bench)
        while bench.run.step != "window":
            observer.go_on()
        ends.append([made.at for made in bench.run.state.made])
    assert ends[0] == ends[1]


def test_a_judgement_ends_it() -> None:
    """A trainee may fail it at any time, and it is locked out at once."""
    bench = bare()
    bench.do(Turn(0.5))
    bench.do(Judge("It smells burnt."))
    assert bench.over
    assert bench.run.state.ending is not None
    assert bench.run.state.ending["ending"] == "locked out"
    assert bench.moments[-1] == Moment(0, Judge("It smells burnt."))
    with pytest.raises(Trouble, match="over"):
        bench.do(Pause())
