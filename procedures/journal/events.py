"""The catalogue of events: which kinds there are, what each must say, and what each weighs for the state of things.

Kinds and bodies are checked when a draft is appended, because a record that is wrong cannot be put right later. Events
that come from elsewhere are kept whatever they say: a kind, version or body that this program cannot read leaves the
things it is about not fit for use.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, Final

from procedures.journal.bodies import (
    ANYTHING,
    AS_FOUND,
    CHECKED,
    CONDITION,
    DATE,
    ENDING,
    FINDING,
    FINDINGS,
    FLAG,
    ID,
    IDS,
    LIST,
    MAYBE_DATE,
    MAYBE_ID,
    MAYBE_NUMBER,
    MAYBE_TEXT,
    MAYBE_UTC,
    NUMBER,
    PARENT,
    PROFILE,
    REASONS,
    TABLE,
    TEXT,
    THING,
    UTC,
    WHERE,
    WHOLE,
    WORD,
    WORDS,
    Allowed,
)
from procedures.journal.envelope import Event, Malformed
from procedures.journal.moments import milliseconds

SUSPECT_AFTER_MS: Final = 120_000
"""A clock that stands this far behind what its own station had seen is not believed."""

SET_AS_ONE: Final = frozenset({"serial", "type", "detector", "cable", "profile"})
"""Fields of an instrument that were part of what a checkout showed: changing one ends its readiness."""


@dataclass(frozen=True, slots=True)
class Kind:
    """What the catalogue says of one kind of event."""

    body: Mapping[str, Allowed]
    """Key → test and the words for what is allowed."""
    may: Mapping[str, Allowed] = field(default_factory=dict)
    """The same for keys that may be left out."""
    version: int = 1
    about: tuple[str, ...] = ()
    """Keys of the body whose ids must stand in `about`."""
    weighs: bool = False
    """Whether the state of an instrument, source, person or profile is folded from it."""
    ends: bool = False
    """Whether it ends a fitness whatever it says."""


_ASKED = {"checkout": ID, "step": TEXT, "visit": WHOLE, "ask": TEXT}

REGISTERED: Final[Mapping[str, Mapping[str, Allowed]]] = {
    "instrument": {"serial": TEXT, "type": TEXT, "profile": TEXT, "detector": TEXT, "cable": TEXT},
    "source": {
        "serial": TEXT,
        "nuclide": TEXT,
        "activity": TEXT,
        "activity_on": TEXT,
        "emits": ANYTHING,
        "strength": TEXT,
    },
    "jig": {},
    "person": {"name": TEXT, "initials": TEXT, "roles": WORDS, "trained_until": MAYBE_DATE},
}
"""What a `registered` body must say besides what and label, for each sort of thing."""

CATALOGUE: Final[Mapping[str, Kind]] = {
    "station-begun": Kind({"name": TEXT, "parent": PARENT}),
    "site-begun": Kind({"name": TEXT, "zone": WORD, "day_starts": WORD, "shifts": WORDS, "settings": TABLE}),
    "settings-changed": Kind({"set": TABLE}),
    "registered": Kind({"what": THING, "label": WORD}, weighs=True),
    "described": Kind({"set": TABLE}, weighs=True),
    "retired": Kind({"why": TEXT}, weighs=True, ends=True),
    "profile-adopted": Kind(
        {"profile": WORD, "revision": WHOLE, "title": TEXT, "sha256": ID, "text": TEXT, "replaces": IDS},
        weighs=True,
    ),
    "source-bound": Kind({"role": WORD, "source": ID, "jig": MAYBE_ID}, about=("source",), weighs=True),
    "calibrated": Kind(
        {"on": DATE, "due": MAYBE_DATE, "by": TEXT, "certificate": TEXT, "as_found": AS_FOUND},
        may={"set": TABLE},
        weighs=True,
        ends=True,
    ),
    "reference-recorded": Kind(
        {
            "source": ID,
            "jig": MAYBE_ID,
            "role": WORD,
            "scale": TEXT,
            "geometry": TEXT,
            "value": WORD,
            "relative_uncertainty": ANYTHING,
            "n": WHOLE,
            "readings": LIST,
            "temperature_c": ANYTHING,
            "pressure_kpa": ANYTHING,
            "background": ANYTHING,
            "calibration": MAYBE_ID,
        },
        about=("source",),
        weighs=True,
    ),
    "leak-tested": Kind({"on": DATE, "due": MAYBE_DATE, "result_bq": ANYTHING}, weighs=True),
    "placed": Kind({"whereabouts": WHERE, "where": TEXT}, weighs=True),
    "handed-out": Kind(
        {"to": ID, "job": TEXT, "place": TEXT, "checkout": MAYBE_ID, "until": MAYBE_TEXT},
        may={"back_by": MAYBE_UTC},
        about=("to",),
        weighs=True,
    ),
    "returned": Kind({"by": MAYBE_TEXT, "condition": TEXT}, may={"check": CHECKED}, weighs=True),
    "contamination": Kind({"found": FLAG, "say": TEXT}, weighs=True),
    "locked-out": Kind({"reasons": REASONS, "tag": MAYBE_TEXT}, may={"by_hand": FLAG}, weighs=True, ends=True),
    "cleared": Kind(
        {
            "lockouts": IDS,
            "cause": TEXT,
            "action": TEXT,
            "parts": ANYTHING,
            "calibration_needed": FLAG,
            "not_before": MAYBE_UTC,
        },
        weighs=True,
    ),
    "repaired": Kind({"on": DATE, "by": TEXT, "what": TEXT, "voids_calibration": FLAG}, weighs=True, ends=True),
    "emergency-use": Kind(
        {"to": ID, "job": TEXT, "place": TEXT, "authority": TEXT, "why": TEXT, "second": MAYBE_ID, "turn_back": TEXT},
        may={"back_by": MAYBE_UTC, "used_at": MAYBE_UTC},
        about=("to",),
        weighs=True,
        ends=True,
    ),
    "use-reviewed": Kind({"cause": ID, "use": ID, "note": TEXT}, about=("cause", "use")),
    "counted": Kind({"on": DATE, "found": FLAG, "where": TEXT}, weighs=True),
    "source-condition": Kind({"condition": CONDITION, "say": TEXT}, weighs=True),
    "paper-entered": Kind(
        {"form": WORD, "profile": PROFILE, "observed": UTC, "observed_by": ID, "answers": LIST, "ending": ENDING},
        may={"findings": FINDINGS},
        about=("observed_by",),
        weighs=True,
        ends=True,
    ),
    "struck": Kind({"entry": ID, "why": TEXT, "second": ID}, about=("entry",)),
    "readiness-ended": Kind({"cause": TEXT, "say": TEXT}, weighs=True, ends=True),
    "pin-refused": Kind({"who": ID, "tries": WHOLE, "wait": WHOLE}, about=("who",)),
    "note": Kind({"text": TEXT}),
    "opened": Kind(
        {"instrument": ID, "profile": PROFILE, "rules": TEXT, "clearings": IDS, "facts": TABLE},
        about=("instrument",),
        weighs=True,
        ends=True,
    ),
    "answered": Kind({**_ASKED, "value": ANYTHING, "took": MAYBE_NUMBER, "hasty": FLAG, "mark": MAYBE_TEXT}),
    "scanned": Kind({**_ASKED, "text": TEXT, "is": MAYBE_ID, "mark": MAYBE_TEXT, "took": MAYBE_NUMBER}),
    "wait-begun": Kind({**_ASKED, "seconds": NUMBER, "ticks": NUMBER, "session": TEXT}),
    "wait-kept": Kind({**_ASKED, "elapsed": NUMBER}),
    "wait-broken": Kind({**_ASKED, "elapsed": MAYBE_NUMBER, "why": TEXT}),
    "paused": Kind({"checkout": ID, "why": TEXT}),
    "resumed": Kind({"checkout": ID, "gap": MAYBE_NUMBER, "same_person": FLAG, "switched_off": FLAG}),
    "found": Kind({"checkout": ID, "step": TEXT, "visit": WHOLE, "finding": FINDING}),
    "remedied": Kind({"checkout": ID, "step": TEXT, "remedy": WHOLE, "action": TEXT, "done": FLAG}),
    "failed-by-judgement": Kind({"checkout": ID, "step": TEXT, "code": WORD, "say": TEXT}, weighs=True, ends=True),
    "ended": Kind(
        {
            "checkout": ID,
            "ending": ENDING,
            "reasons": REASONS,
            "missing": WORDS,
            "fit_for": TABLE,
            "ready_until": MAYBE_UTC,
            "warnings": LIST,
            "factor": MAYBE_TEXT,
            "tag": MAYBE_TEXT,
        },
        weighs=True,
    ),
    "withdrawn": Kind({"checkout": ID, "why": TEXT}, weighs=True, ends=True),
    "clock-jumped": Kind({"checkout": ID, "seconds": NUMBER}),
    # Practice, in a journal of its own: no instrument's state is folded from any of it.
    "practice-begun": Kind(
        {
            "trainee": ID,
            "drill": TABLE,
            "papers": TABLE,
            "profile_sha256": ID,
            "model_sha256": ID,
            "exam": TEXT,
            "place": WHOLE,
        },
        about=("trainee",),
    ),
    "practice-moment": Kind({"session": ID, "moment": TABLE}, about=("session",)),
    "practice-hinted": Kind({"session": ID, "number": WHOLE}, about=("session",)),
    "practice-ended": Kind(
        {
            "session": ID,
            "trainee": ID,
            "profile": WORD,
            "case": TEXT,
            "sort": WORD,
            "speed": WHOLE,
            "hints": WHOLE,
            "seconds": NUMBER,
            "score": TABLE,
            "decision": TEXT,
            "first": TEXT,
            "faults": WORDS,
            "exam": TEXT,
            "place": WHOLE,
            "rubric": TABLE,
        },
        about=("session", "trainee"),
    ),
    "practice-exam": Kind({"paper": TABLE, "setter": ID}, about=("setter",)),
}
EDITION: Final = "13"
"""Raised whenever the catalogue or what an event weighs changes: indexes made under another edition are made anew."""

CHECKOUT_KINDS: Final = frozenset(name for name, kind in CATALOGUE.items() if "checkout" in kind.body) - {"handed-out"}
"""Kinds that belong to a checkout that was opened before."""

OFTEN: Final = frozenset({"answered", "scanned", "found", "wait-begun", "wait-kept", "wait-broken", "practice-moment"})
"""Kinds that come by the dozen in every checkout: they are not listed by when they happened."""

PRACTICE: Final = frozenset(name for name in CATALOGUE if name.startswith("practice-"))
"""Kinds that a journal of practice alone holds."""

JUDGES_INSTRUMENT: Final = frozenset({"found", "failed-by-judgement", "ended", "withdrawn"})
"""Kinds of a checkout that must be about its instrument as well."""

PAST, NOT_WEIGHTY, WEIGHTY, ODD, LATEST = range(-1, 4)
"""What an event weighs for the state of a thing: nothing any more, a later one has overtaken it; nothing; read it; read
it wherever in a checkout it stands; read it until a later one overtakes it (`journal/overtaken.py`)."""

ALWAYS_LASTING: Final = frozenset(name for name, kind in CATALOGUE.items() if kind.weighs) - {
    "opened",
    "ended",
    "handed-out",
    "returned",
}
"""Kinds that weigh whatever they say and are never overtaken."""


def check_body(kind: str, body: Mapping[str, Any]) -> None:
    """Raise Malformed unless a body of this known kind says all it must. Further keys are allowed."""
    if kind not in CATALOGUE:
        raise Malformed(f"there is no kind of event called {kind!r}")
    rules = CATALOGUE[kind].body
    if kind == "registered" and isinstance(body.get("what"), str):
        rules = {**rules, **REGISTERED.get(body["what"], {})}
    for key, (test, allowed) in rules.items():
        if key not in body:
            raise Malformed(f"{kind}: {key!r} is missing; wanted: {allowed}")
        if not test(body[key]):
            raise Malformed(f"{kind}: {key!r} is {body[key]!r}; wanted: {allowed}")
    for key, (test, allowed) in CATALOGUE[kind].may.items():
        if key in body and not test(body[key]):
            raise Malformed(f"{kind}: {key!r} is {body[key]!r}; wanted: {allowed}, or no such key")


def check_about(kind: str, body: Mapping[str, Any], about: tuple[str, ...]) -> None:
    """Raise Malformed unless `about` names what the body says it concerns: what is not indexed is never folded."""
    wanted = [body[key] for key in CATALOGUE[kind].about]
    if kind in CHECKOUT_KINDS:
        wanted.append(body["checkout"])
    if kind == "profile-adopted":
        wanted.append(f"profile:{body['profile']}")
    if kind in ("site-begun", "settings-changed"):
        wanted.append("site")
    missing = [one for one in wanted if one not in about]
    if missing:
        raise Malformed(f"{kind}: about must name {', '.join(missing)}")
    if CATALOGUE[kind].weighs and kind != "registered" and not about:
        raise Malformed(f"{kind}: about must name what it concerns")


def must_end_fitness(kind: str, body: Mapping[str, Any]) -> bool:
    """Whether an event of this kind that says this ends a fitness, whatever its writer said."""
    if kind == "found":
        return bool(body["finding"]["outcome"] == "fail")
    if kind == "ended":
        return bool(body["ending"] != "fit for use")
    return CATALOGUE[kind].ends


def upgrade(kind: str, version: int, body: Mapping[str, Any]) -> Mapping[str, Any]:
    """The body of an older version as the present version would say it. There is no older version yet."""
    del kind, version
    return body


@lru_cache(maxsize=256)
def body_of(event: Event) -> Mapping[str, Any] | None:
    """The body in its present form; None when this program cannot read it (kind, version or content unknown)."""
    kind = CATALOGUE.get(event.kind)
    if kind is None or event.version > kind.version:
        return None
    body = upgrade(event.kind, event.version, event.body)
    try:
        check_body(event.kind, body)
    except Malformed:
        return None
    return body


def clock_suspect(event: Event) -> bool:
    """Whether the writer's wall clock stood behind what its station had already seen by more than the allowance."""
    return event.hlc[0] - milliseconds(event.utc) > SUSPECT_AFTER_MS


def weight(event: Event) -> int:
    """What the fold of a state has to do with it when it comes in.

    Odd events (unreadable, or by a suspect clock) count even where their kind alone would not matter.
    """
    body = body_of(event)
    if body is None or clock_suspect(event):
        return ODD
    if event.ends_fitness:
        return WEIGHTY
    if event.kind == "scanned":
        return LATEST if body["mark"] in ("source-out", "source-back") else NOT_WEIGHTY
    if event.kind == "handed-out" or (event.kind == "returned" and body.get("check") != "bad"):
        return LATEST
    if CATALOGUE[event.kind].weighs:
        return WEIGHTY
    return WEIGHTY if event.kind == "found" and failed_as_found(body["finding"]) else NOT_WEIGHTY


def failed(finding: Mapping[str, Any]) -> bool:
    """Whether a finding locks the instrument out unless its checkout still ends fit for use."""
    return bool(finding["outcome"] == "fail")


def failed_as_found(finding: Mapping[str, Any]) -> bool:
    """Whether the instrument was found failing, be it put right afterwards or not: this opens uses in doubt."""
    as_found = finding.get("as_found")
    return failed(finding) or (as_found is not None and as_found["outcome"] == "fail")
