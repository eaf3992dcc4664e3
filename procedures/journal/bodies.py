"""What the parts of an event's body may be: small tests, each with the words for what it allows."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any, Final

from procedures.journal.fields import is_hash
from procedures.journal.moments import utc_moment

ENDINGS: Final = frozenset({"fit for use", "locked out", "not checked", "abandoned"})
OUTCOMES: Final = frozenset({"pass", "warn", "fail", "could not check", "not applicable"})
WHEREABOUTS: Final = frozenset(
    {"here", "at calibration", "in storage", "lent", "borrowed", "transferred", "missing", "disposed"},
)
THINGS: Final = frozenset({"instrument", "source", "jig", "person"})
Test = Callable[[Any], bool]
Allowed = tuple[Test, str]


def _text(value: Any) -> bool:
    return isinstance(value, str)


def _word(value: Any) -> bool:
    return isinstance(value, str) and value.strip() != ""


def _whole(value: Any) -> bool:
    return type(value) is int


def _number(value: Any) -> bool:
    return type(value) in (int, float)


def _date(value: Any) -> bool:
    try:
        return isinstance(value, str) and date.fromisoformat(value).isoformat() == value
    except ValueError:
        return False


def _utc(value: Any) -> bool:
    try:
        return utc_moment(value) is not None
    except ValueError:
        return False


def _hashes(value: Any) -> bool:
    return isinstance(value, list) and all(is_hash(one) for one in value)


def _words(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(one, str) for one in value)


def _reasons(value: Any) -> bool:
    return isinstance(value, list) and all(
        isinstance(one, dict) and _word(one.get("code")) and _text(one.get("say")) for one in value
    )


def _finding(value: Any) -> bool:
    if not isinstance(value, dict) or value.get("outcome") not in OUTCOMES:
        return False
    if not all(_text(value.get(key)) for key in ("code", "kind", "step")):
        return False
    as_found = value.get("as_found")
    return as_found is None or (isinstance(as_found, dict) and as_found.get("outcome") in OUTCOMES)


def _profile(value: Any) -> bool:
    return isinstance(value, dict) and _word(value.get("id")) and "revision" in value and is_hash(value.get("sha256"))


def _parent(value: Any) -> bool:
    return value is None or (
        isinstance(value, list) and len(value) == 3 and _word(value[0]) and _whole(value[1]) and is_hash(value[2])
    )


def _or_none(test: Test) -> Test:
    return lambda value: value is None or test(value)


def _one_of(words: frozenset[str]) -> tuple[Test, str]:
    return (lambda value: isinstance(value, str) and value in words), "one of " + ", ".join(sorted(words))


TEXT = (_text, "text")
WORD = (_word, "text that is not empty")
MAYBE_TEXT = (_or_none(_text), "text or null")
WHOLE = (_whole, "a whole number")
NUMBER = (_number, "a number")
MAYBE_NUMBER = (_or_none(_number), "a number or null")
FLAG = ((lambda value: isinstance(value, bool)), "true or false")
LIST = ((lambda value: isinstance(value, list)), "a list")
TABLE = ((lambda value: isinstance(value, dict)), "a table of keys and values")
ANYTHING = ((lambda _: True), "anything")
DATE = (_date, "a date such as 2026-03-12")
MAYBE_DATE = (_or_none(_date), "a date such as 2026-03-12, or null")
UTC = (_utc, "a time such as 2026-03-12T06:00:00.000000Z")
MAYBE_UTC = (_or_none(_utc), "a time such as 2026-03-12T06:00:00.000000Z, or null")
ID = (is_hash, "an id (64 hexadecimal digits)")
MAYBE_ID = (_or_none(is_hash), "an id (64 hexadecimal digits) or null")
IDS = (_hashes, "a list of ids")
WORDS = (_words, "a list of texts")
REASONS = (_reasons, "a list of reasons, each with code and say")
FINDING = (_finding, "a finding with outcome, code, kind, step and as_found")
PROFILE = (_profile, "a profile with id, revision and sha256")
PARENT = (_parent, "station, sequence and hash of the head it goes on from, or null")
ENDING = _one_of(ENDINGS)
WHERE = _one_of(WHEREABOUTS)
THING = _one_of(THINGS)
FINDINGS = (
    (lambda value: isinstance(value, list) and all(_finding(one) for one in value)),
    "a list of findings, each with outcome, code, kind, step and as_found",
)
CHECKED = _one_of(frozenset({"good", "bad", "not done"}))
CONDITION = _one_of(frozenset({"good", "damaged", "slipped"}))
AS_FOUND = _one_of(frozenset({"within", "outside", "not recorded"}))
