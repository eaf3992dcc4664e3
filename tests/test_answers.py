"""Whatever is typed, scanned or pasted gives an answer or a clear refusal, and an answer is kept as it was given."""

from __future__ import annotations

import json
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from procedures.answers import clean_line, understand, value_from_json, value_to_json
from procedures.asks import (
    Acknowledge,
    Ask,
    Choice,
    DateAsk,
    Hold,
    Option,
    Place,
    QuantityAsk,
    Reading,
    ReadingAsk,
    Scan,
    Selector,
    TextAsk,
    Wait,
)
from procedures.trouble import Trouble

X1 = Selector("x1", Decimal(1), "mR/h", Decimal(5), Decimal("0.1"))
X10 = Selector("x10", Decimal(10), "mR/h", Decimal(5), Decimal("0.1"))
COUNTS = Selector("count", Decimal(1), "counts")

READING = ReadingAsk(key="r", say="Read.", selectors=(X1, X10))
ONE_SCALE = ReadingAsk(key="r", say="Read.", selectors=(X1,))
ON_X10 = ReadingAsk(key="r", say="Read.", selectors=(X1, X10), wanted="x10")
COUNT = ReadingAsk(key="r", say="Count.", selectors=(COUNTS,), whole=True, beyond=("no response",))
SCAN = Scan(key="s", say="Scan.", of="source", due="CS-7")
TEXT = TextAsk(key="t", say="Say why.")
DATE = DateAsk(key="d", say="Calibration due?", absent="no label")
PRESSURE = QuantityAsk(key="q", say="Pressure?", units=("kPa", "hPa"), low=Decimal(60), high=Decimal(110))
CHOICE = Choice(key="c", say="Sound?", options=(Option("sound", "Sound"), Option("torn", "Torn or wrinkled")))
PLACE = Place(key="p", say="Where?", places=("below the band", "in the band"))
DONE = Acknowledge(key="a", say="Switch on.", done="Switched on")
ASKS = (READING, ONE_SCALE, ON_X10, COUNT, SCAN, TEXT, DATE, PRESSURE, CHOICE, PLACE, DONE)

BAD = {
    "not a number": "nan",
    "infinite": "inf",
    "beyond sense": "1e400",
    "nothing": "",
    "blank": " \t ",
    "control characters": "\x00\x1b",
    "markup that closes": "[/]",
    "markup that closes something": "[x/]",
    "figures of another script": "٤٫٢",
    "two points": "4.2.1",
    "a thousands comma": "4,200",
    "a space within": "4 2",
    "a sign alone": "-",
    "hexadecimal": "0x1A",
    "underscores": "1_0",
    "no figure": "about four",
    "very long": "4" * 10_000,
    "many lines": "4.2\n4.3",
}


def refused(ask: Ask, text: str, **parts: str) -> Trouble:
    with pytest.raises(Trouble) as caught:
        understand(ask, text, **parts)
    assert caught.value.what
    return caught.value


@pytest.mark.parametrize("text", BAD.values(), ids=BAD.keys())
@pytest.mark.parametrize("ask", [ONE_SCALE, COUNT, PRESSURE], ids=["reading", "count", "pressure"])
def test_what_is_no_figure_is_refused(ask: Ask, text: str) -> None:
    """Nothing is guessed into a figure, whichever way it is asked for."""
    refused(ask, text)


@pytest.mark.parametrize("text", ["4.2 mSv/h", "4.2 cps", "4.2 mGy/h", "4.2 µC", "4.2 mR"])
def test_another_quantity_is_refused_where_an_exposure_rate_is_due(text: str) -> None:
    """No silent conversion: 1 R/h of Cs-137 is 10.6 mSv/h of H*(10), of Am-241 about 15 (check values: computed)."""
    assert refused(ONE_SCALE, text).allowed


def test_a_unit_shown_beside_the_figure_is_compared_too() -> None:
    """Figure and unit may come in two parts; neither part gets by."""
    assert understand(ONE_SCALE, "4.2", unit="mR/h")[0].figure == Decimal("4.2")
    refused(ONE_SCALE, "4.2", unit="mSv/h")
    refused(READING, "4.2", selector="x10", unit="µR/h")
    refused(ONE_SCALE, "4.2", unit="[/]")


def test_a_reading_is_echoed_with_its_sum() -> None:
    """The program multiplies, and the person sees what was understood before it is final."""
    reading, echo = understand(READING, "4.2", selector="x10")
    assert reading == Reading("x10", Decimal("4.2"), Decimal(10), "mR/h")
    assert reading.value == 42
    assert echo == "4.2 on x10 = 42.0 mR/h"
    assert understand(READING, "x10 4,2")[1] == echo
    assert understand(ONE_SCALE, "4.20")[1] == "4.20 mR/h"
    assert understand(ONE_SCALE, "4200 µR/h")[1] == "4200 µR/h = 4.2 mR/h"


def test_a_comma_is_a_decimal_comma_or_refused() -> None:
    """ "4,2" can mean one thing only; "4,200" can mean two, a thousandfold apart."""
    assert understand(ONE_SCALE, "4,2")[0].figure == Decimal("4.2")
    assert "4.200" in refused(ONE_SCALE, "4,200").do


@pytest.mark.parametrize("ask", [READING, ONE_SCALE, ON_X10])
def test_off_the_end_is_an_observation(ask: ReadingAsk) -> None:
    """A pegged needle is recorded as pegged, at the end of the scale, and is never mistaken for a figure."""
    reading, echo = understand(ask, "off the end", selector=ask.wanted or "x1")
    assert (reading.state, reading.figure) == ("pegged", 5)
    assert "off the end" in echo


@pytest.mark.parametrize("figure", ["5.01", "-5.01", "50", "1e3"])
def test_a_figure_beyond_the_scale_is_refused(figure: str) -> None:
    """A scale to 5 shows no 50: the person multiplied already, or slipped."""
    assert "0 to 5" in refused(READING, figure, selector="x10").allowed


def test_below_zero_is_an_observation_where_a_needle_can_rest_there() -> None:
    """−1 is a valid observation of zero or background on a meter, and none on a counter."""
    assert understand(ONE_SCALE, "-1")[0] == Reading("x1", Decimal(-1), Decimal(1), "mR/h", "below zero")
    assert understand(ONE_SCALE, "below zero")[0].state == "below zero"
    refused(COUNT, "-1")
    refused(COUNT, "pegged")
    refused(COUNT, "12.5")


def test_no_response_is_an_observation() -> None:
    """An instrument that is dead is a finding, not a slip of typing."""
    assert understand(COUNT, "no response")[0].state == "no response"
    assert understand(ONE_SCALE, "", state="no response")[0].state == "no response"


def test_the_wrong_selector_position_is_refused() -> None:
    """A tenfold difference: it must be said which position is due and which was given."""
    trouble = refused(ON_X10, "4.2", selector="x1")
    assert "x1" in trouble.what
    assert "x10" in trouble.do
    refused(ON_X10, "x1 4.2")
    assert "x1, x10" in refused(READING, "4.2", selector="x100").allowed
    assert "x1, x10" in refused(READING, "4.2").allowed


@pytest.mark.parametrize(
    "text",
    [
        "03/04/2027",
        "03-04-2027",
        "3.4.2027",
        "27-03-12",
        "3 4 2027",
        "2027-02-30",
        "2027-02-29",
        "May 2027",
        "20270312",
    ],
)
def test_a_date_that_can_be_read_in_two_ways_is_refused(text: str) -> None:
    """The third of April, or the fourth of March: a calibration must not live a month longer by it."""
    assert "2027-03-12" in refused(DATE, text).allowed


@pytest.mark.parametrize("text", ["2027-03-12", "12 Mar 2027", "12 March 2027", "Mar 12, 2027", "12. mar 2027"])
def test_a_date_that_can_be_read_in_one_way_is_taken(text: str) -> None:
    """And echoed with the month in letters."""
    assert understand(DATE, text) == (date(2027, 3, 12), "12 Mar 2027")


def test_no_date_is_an_answer_only_where_it_is_offered() -> None:
    """An instrument without a calibration label must be told apart from a label not read."""
    assert understand(DATE, "no label")[0] is None
    refused(DateAsk(key="d", say="Due?"), "none")


def test_a_scan_is_one_line_of_what_is_marked() -> None:
    """Scanners send a carriage return or a tab after it, some repeat; a pasted page is no label."""
    assert understand(SCAN, "CS-7\r")[0] == understand(SCAN, "\tCS-7\t")[0] == "CS-7"
    assert "10,000" in refused(SCAN, "x" * 10_000).what
    refused(SCAN, "x" * 121)
    assert understand(SCAN, "[/]")[0] == "[/]"


def test_a_choice_takes_its_word_or_its_value() -> None:
    """In any case of letters; anything else is refused with what is allowed."""
    assert understand(CHOICE, "SOUND") == ("sound", "Sound")
    assert understand(CHOICE, "torn or wrinkled")[0] == "torn"
    assert "Torn or wrinkled" in refused(CHOICE, "fine").allowed
    assert understand(PLACE, "In The Band")[0] == "in the band"
    assert "below the band" in refused(PLACE, "above").allowed


@pytest.mark.parametrize("ask", [Wait(key="w", say="Wait.", seconds=1), Hold(key="h", say="Hold.", seconds=1)])
def test_a_wait_is_never_typed_away(ask: Ask) -> None:
    """It is measured."""
    refused(ask, "done")


def test_a_quantity_stays_within_what_can_be_true() -> None:
    """A pressure of 1013 is in hPa; in kPa no place on earth has it."""
    assert understand(PRESSURE, "1013 hPa") == ((Decimal(1013), "hPa"), "1013 hPa")
    assert understand(PRESSURE, "101,3")[0] == (Decimal("101.3"), "kPa")
    assert "60 to 110 kPa" in refused(PRESSURE, "1013").allowed
    assert "kPa, hPa" in refused(PRESSURE, "760 mmHg").allowed


_PIECES = ["4.2", "4", ",", ".", "-", "−", "e", "E9", "1e400", "x1", "x10", "mR/h", "µSv/h", "kPa", "hPa", "/", "[/]"]
_PIECES += ["[", "count", "nan", "٤", "²", "½", "Mar", "2027", "12", "none", "pegged"]
_PIECES += [" ", "\t", "\n", "\x00", "no label", "in the band"]
_STATES = ("", "", "on scale", "below zero", "pegged", "no response", "asleep")
_TYPED = st.text(max_size=80) | st.lists(st.sampled_from(_PIECES), max_size=8).map("".join)


@given(
    st.sampled_from(ASKS),
    _TYPED,
    st.sampled_from(["", "x1", "x10", "[/]"]),
    st.just("") | _TYPED,
    st.sampled_from(_STATES),
)
@settings(max_examples=500, deadline=None)
def test_any_text_gets_an_answer_or_trouble(ask: Ask, text: str, selector: str, unit: str, state: str) -> None:
    """Never a traceback. An answer has an echo and survives being written down; trouble says what and what to do."""
    trouble = None
    try:
        value, echo = understand(ask, text, selector=selector, unit=unit, state=state)
    except Trouble as raised:
        trouble = raised
    if trouble is not None:
        assert trouble.what
        assert trouble.allowed or trouble.do
        assert all("\n" not in line for line in trouble.lines())
        return
    assert echo
    assert "\n" not in echo
    assert value_from_json(json.loads(json.dumps(value_to_json(value), allow_nan=False))) == value


_FIGURES = st.decimals(-10, 10, allow_nan=False, allow_infinity=False, places=3)
_VALUES = st.one_of(
    st.text(),
    st.booleans(),
    st.floats(0, 1e6),
    st.none(),
    st.dates(),
    st.tuples(_FIGURES, st.sampled_from(["kPa", "°C"])),
    st.builds(
        Reading,
        selector=st.text(),
        figure=_FIGURES,
        times=st.sampled_from([Decimal(1), Decimal("0.1"), Decimal(1000)]),
        unit=st.just("mR/h"),
        state=st.sampled_from(["on scale", "below zero", "pegged", "no response"]),
    ),
)


@given(_VALUES)
@settings(max_examples=200, deadline=None)
def test_a_value_comes_back_from_the_record_as_it_was(value: Any) -> None:
    """To the last figure, "1.60" with its nought: a verdict is judged again from it years later."""
    back = value_from_json(json.loads(json.dumps(value_to_json(value), allow_nan=False)))
    assert back == value
    assert repr(back) == repr(value)


@given(st.text(max_size=60))
@settings(max_examples=200, deadline=None)
def test_a_clean_line_is_one_line_and_stays_clean(text: str) -> None:
    """Cleaning twice is cleaning once, and nothing that moves a cursor is left."""
    line = clean_line(text)
    assert clean_line(line) == line
    assert line == line.strip()
    assert not any(c in line for c in "\r\n\t\x00\x1b\x7f\u202e\u200b")


def test_nothing_typed_is_dropped() -> None:
    """What stands after many blanks was typed too."""
    refused(ONE_SCALE, "4.2" + " " * 2000 + "9")


def test_a_selector_name_that_grows_when_folded_takes_no_figure_with_it() -> None:
    """ "ß" folds to two letters, and the figure lost its first one: 42 was read as 2."""
    names = (Selector("Maß-groß", Decimal(1), "mR/h"), Selector("klein", Decimal(1), "mR/h"))
    ask = ReadingAsk(key="r", say="Read.", selectors=names)
    assert understand(ask, "Maß-groß 42")[0].figure == 42


@pytest.mark.parametrize("text", ["no", "not done", "n", "cannot", "CS-7"])
def test_a_no_is_not_an_acknowledgement(text: str) -> None:
    """In doubt it was not done."""
    refused(DONE, text)


@pytest.mark.parametrize("ask", [SCAN, TEXT], ids=["scan", "text"])
def test_half_a_character_is_refused_or_dropped(ask: Ask) -> None:
    """A terminal can hand on a byte that is no text; the record is UTF-8."""
    value, _ = understand(ask, "CS-7\udce9")
    value.encode("utf-8")


def test_every_refusal_says_what_to_do() -> None:
    """A unit like none that is known."""
    assert refused(ONE_SCALE, "0x1").do
