"""The envelope: what is hashed is what is stored, and nothing that is not an event passes for one."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.journal.envelope import Altered, Draft, Event, Malformed, decode, encode, reread, seal
from procedures.journal.events import CATALOGUE, check_about, check_body
from procedures.journal.moments import COUNTS, clock_number, milliseconds, step_clock, utc_moment, utc_text
from procedures.trouble import Trouble

NOON = datetime(2031, 4, 5, 12, 0, 0, 123456, tzinfo=UTC)

plain = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**62), 2**62)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=6), inner, max_size=4),
    max_leaves=12,
)


def event(body: dict[str, Any] | None = None) -> Event:
    return seal(
        Draft("note", {"text": "well"} if body is None else body, ("site",)),
        version=1,
        ends_fitness=False,
        station="north",
        seq=2,
        utc=NOON,
        offset=120,
        hlc=(milliseconds(NOON), 0),
        prev="a" * 64,
        seen=None,
    )


@given(st.dictionaries(st.text(max_size=8), plain, max_size=5))
def test_a_body_comes_back_as_it_went_in(body: dict[str, Any]) -> None:
    """A record that reads back differently is a changed record."""
    sealed = event(body)
    assert decode(sealed.raw, foreign=True).body == body
    assert reread(sealed.raw, bytes.fromhex(sealed.hash)).body == body


def test_the_encoding_is_the_one_that_is_written_down() -> None:
    """Other programs must be able to make and check the same bytes: sorted keys, no spaces, UTF-8 unescaped."""
    assert encode({"b": [1, 2.5, None], "a": "µSv/h"}) == '{"a":"µSv/h","b":[1,2.5,null]}'.encode()
    sealed = event()
    assert sealed.hash == hashlib.sha256(sealed.raw).hexdigest()
    assert json.loads(sealed.raw)["utc"] == "2031-04-05T12:00:00.123456Z"


@pytest.mark.parametrize(
    "value",
    [float("nan"), float("inf"), {1: "a"}, {"a": {1, 2}}, b"raw", NOON, "half \ud800", object()],
    ids=repr,
)
def test_what_json_cannot_keep_is_refused_before_it_is_written(value: object) -> None:
    """What would come back changed, or not at all, must not be written down in the first place."""
    with pytest.raises(Malformed):
        event({"value": value})


@given(st.data())
def test_any_changed_byte_is_noticed(data: st.DataObject) -> None:
    """The hash covers the whole envelope, so no byte of it can be changed unseen."""
    sealed = event()
    place = data.draw(st.integers(0, len(sealed.raw) - 1))
    other = data.draw(st.integers(0, 255).filter(lambda byte: byte != sealed.raw[place]))
    changed = sealed.raw[:place] + bytes([other]) + sealed.raw[place + 1 :]
    with pytest.raises(Altered):
        reread(changed, bytes.fromhex(sealed.hash))


@given(st.binary(max_size=200))
def test_bytes_that_are_no_event_are_trouble_in_words(raw: bytes) -> None:
    """Whatever stands in a file somebody brings, the answer is words, never a traceback."""
    with pytest.raises(Trouble):
        decode(raw, foreign=True)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("seq", 0),
        ("seq", True),
        ("seq", 1),
        ("utc", "2031-04-05 12:00:00Z"),
        ("utc", "2031-02-30T12:00:00.000000Z"),
        ("offset", 99999),
        ("hlc", [1]),
        ("hlc", [-1, 0]),
        ("hlc", [1, COUNTS]),
        ("station", "a#2"),
        ("prev", "zz"),
        ("about", ["", "x"]),
        ("about", "site"),
        ("seen", {"b": [0, "a" * 64]}),
        ("kind", ""),
        ("kind", "opened"),
        ("version", 1.0),
        ("body", []),
        ("ends_fitness", 1),
        ("person", ""),
    ],
)
def test_each_field_of_the_envelope_is_checked(key: str, value: object) -> None:
    """A field of another type would be read as something nobody wrote."""
    fields = json.loads(event().raw)
    fields[key] = value
    with pytest.raises(Altered):
        decode(encode(fields), foreign=True)


def test_an_envelope_of_a_later_format_says_update_the_program() -> None:
    """An older program must not guess at a newer envelope, and must say what helps."""
    fields = json.loads(event().raw)
    fields["format"] = 2
    with pytest.raises(Trouble, match="Update this program"):
        decode(encode(fields), foreign=True)


def test_foreign_bytes_must_be_canonical() -> None:
    """Two spellings of one event would have two hashes and stand in the journal twice."""
    fields = json.loads(event().raw)
    with pytest.raises(Altered, match="canonical"):
        decode(json.dumps(fields).encode(), foreign=True)
    for poison in (b'"\\ud800"', b"1e999", b"[" * 5000 + b"]" * 5000):
        with pytest.raises(Altered):
            decode(event().raw.replace(b'"well"', poison), foreign=True)
    doubled = event().raw.replace(b'"seq":2', b'"seq":2,"seq":2')
    with pytest.raises(Altered):
        decode(doubled, foreign=True)


@given(st.tuples(st.integers(0, 2**40), st.integers(0, COUNTS - 1)), st.integers(0, 2**40))
def test_the_logical_clock_only_goes_forward(last: tuple[int, int], now_ms: int) -> None:
    """Order by the logical clock must never put an event before one that its writer had seen."""
    after = step_clock(last, now_ms)
    assert after > last
    assert after[0] >= now_ms
    assert clock_number(after) > clock_number(last)


@given(st.datetimes(min_value=datetime(1970, 1, 1), max_value=datetime(2200, 1, 1), timezones=st.just(UTC)))
def test_times_keep_their_microseconds(moment: datetime) -> None:
    """Ready-until is compared with the clock: a rounded time would lengthen somebody's readiness."""
    assert utc_moment(utc_text(moment)) == moment


GOOD: dict[str, Any] = {"checkout": "a" * 64, "step": "zero", "visit": 1}


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("no-such-kind", {}),
        ("note", {}),
        ("note", {"text": 3}),
        ("found", {**GOOD, "finding": {"outcome": "fine", "code": "", "kind": "zero", "step": "zero"}}),
        ("found", {**GOOD, "finding": {"outcome": "fail", "code": "", "kind": "zero"}}),
        ("placed", {"whereabouts": "handed out", "where": ""}),
        ("locked-out", {"reasons": [{"code": ""}], "tag": None}),
        ("calibrated", {"on": "2031-2-1", "due": None, "by": "", "certificate": "", "as_found": "within"}),
        ("registered", {"what": "person", "label": "P-1"}),
        ("registered", {"what": "ship", "label": "P-1"}),
        ("opened", {"instrument": "C-101", "profile": {}, "rules": "1", "clearings": [], "facts": {}}),
    ],
)
def test_a_body_that_does_not_say_all_it_must_is_refused(kind: str, body: dict[str, Any]) -> None:
    """A record written wrong can never be put right, so it is refused while its writer can still be told."""
    with pytest.raises(Malformed):
        check_body(kind, body)


def test_an_event_must_be_about_what_it_concerns() -> None:
    """The fold finds events by what they are about: one that is not would be lost to it."""
    check_about("ended", {"checkout": "a" * 64}, ("a" * 64, "b" * 64))
    with pytest.raises(Malformed):
        check_about("ended", {"checkout": "a" * 64}, ("b" * 64,))
    with pytest.raises(Malformed):
        check_about("locked-out", {}, ())


def test_every_kind_of_the_catalogue_refuses_an_empty_body() -> None:
    """No kind is without a check."""
    for kind in CATALOGUE:
        with pytest.raises(Malformed):
            check_body(kind, {})
