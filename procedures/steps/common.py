"""Pieces that kinds of step share: a step written as a script, asking again, readings on a scale, and findings.

A step is written as a generator that yields asks and is sent their answers, and returns its finding; `replay` turns it
into the pure function a kind must have. Each call starts the script anew and feeds it the answers so far, so the same
answers always lead to the same ask.
"""

from __future__ import annotations

from collections.abc import Callable, Generator
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final, TypeVar
from zoneinfo import ZoneInfo

from procedures.asks import (
    SWITCHED_ON,
    Acknowledge,
    Answer,
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
    TextAsk,
    Wait,
)
from procedures.facts import Facts
from procedures.findings import Finding, Outcome
from procedures.routing import POWER_OFF
from procedures.steps.base import InstrumentSpec, Need, StepParameters
from procedures.trouble import Trouble
from procedures.units import Quantity, number_in, shown

T = TypeVar("T")
P = TypeVar("P", bound=StepParameters)
Script = Generator[Ask, Answer, T]

CANNOT_SEE: Final = "cannot see it"

MEASURING: Final = POWER_OFF | {"controls-set", "calibration-adjusted"}
"""Remedy actions after which what the electronics show may have changed."""

DETECTING: Final = MEASURING | {"detector-cleaned", "moved-away", "surface-wiped"}
"""Remedy actions after which what the detector sees may have changed too."""

LOOK_AT_SCALE: Final = 1.5
"""Seconds in which nobody has read a needle. A judgement, no source; it only marks an answer as hasty."""
LOOK_AT_PART: Final = 2.0
LOOK_AT_WORDS: Final = 1.0

_ASK_SHORTEST = 1.0
_ASK_LONGEST = 60.0


# --- a step as a script


def replay(script: Callable[[P, Facts], Script[Finding]]) -> Callable[[P, Facts, tuple[Answer, ...]], Ask | Finding]:
    """The pure function of a step that is written as a script.

    It raises Trouble for an answer to another ask than the one that is due, or of a form the ask does not take: the
    answers of a visit are then not what this step was told, and no finding may come of them.
    """

    kept: list[_Kept] = []

    def following(parameters: P, facts: Facts, answers: tuple[Answer, ...]) -> Ask | Finding:
        start, left = _as_at_start(facts, answers), iter(answers)
        # Taken out while it runs, so that nobody else goes on with it; it comes back only where it can go on.
        last = kept.pop() if kept else None
        try:
            if last is not None and last.leads_to(parameters, start, answers):
                running, ask, left = last.running, last.ask, iter(answers[len(last.answers) :])
            else:
                running = script(parameters, start)
                ask = next(running)
            for answer in left:
                _want_fitting(ask, answer)
                ask = running.send(answer)
        except StopIteration as stop:
            if next(left, None) is not None:
                raise Trouble(f"step {parameters.id} was answered after it had come to its finding") from None
            found: Finding = stop.value
            return found
        kept[:] = [_Kept(parameters, start, answers, running, ask)]
        return ask

    return following


@dataclass(frozen=True, slots=True)
class _Kept:
    """A script as far as it was led by `answers`, with the ask that is due, so that the next answer need not lead it
    there again. What a script does depends on nothing but parameters, facts and answers."""

    parameters: object
    facts: Facts
    answers: tuple[Answer, ...]
    running: Generator[Ask, Answer, Finding]
    ask: Ask

    def leads_to(self, parameters: object, facts: Facts, answers: tuple[Answer, ...]) -> bool:
        """Whether these answers go on from where it stands."""
        return self.parameters is parameters and answers[: len(self.answers)] == self.answers and self.facts == facts


def _as_at_start(facts: Facts, answers: tuple[Answer, ...]) -> Facts:
    """The facts without the marks that answers of this visit fixed: the script must meet what it met at its start.

    For this an ask that fixes a mark which a script looks at has the mark for its key.
    """
    fixed_here = {answer.ask for answer in answers} & facts.marks.keys()
    if not fixed_here:
        return facts
    return replace(facts, marks={name: at for name, at in facts.marks.items() if name not in fixed_here})


def _want_fitting(ask: Ask, answer: Answer) -> None:
    if answer.ask != ask.key:
        raise Trouble(f"an answer to “{answer.ask}” came where “{ask.key}” was asked")
    if not _fits(ask, answer.value):
        raise Trouble(f"{answer.value!r} is no answer to “{ask.key}”", do="Answer as the ask says.")


def _fits(ask: Ask, value: object) -> bool:
    match ask:
        case Choice():
            return value in tuple(option.value for option in ask.options)
        case Place():
            return value in ask.places
        case ReadingAsk():
            return isinstance(value, Reading) and _reading_fits(ask, value)
        case TextAsk():
            return isinstance(value, str) and 0 < len(value) <= ask.longest
        case Scan():
            return isinstance(value, str) and bool(value)
        case DateAsk():
            absent = value is None and bool(ask.absent)
            return absent or (isinstance(value, date) and not isinstance(value, datetime))
        case QuantityAsk():
            return isinstance(value, tuple) and len(value) == 2 and _quantity_fits(ask, *value)
        case Wait() | Hold():
            return isinstance(value, int | float) and ask.seconds <= value < float("inf")
    return value is True


def _reading_fits(ask: ReadingAsk, value: Reading) -> bool:
    selector = next((each for each in ask.selectors if each.name == value.selector), None)
    if selector is None or value.times != selector.times or not value.figure.is_finite():
        return False
    if value.state != "on scale" and value.state not in ask.beyond:
        return False
    if selector.top is not None and value.figure > selector.top:
        return False
    return value.unit == selector.unit and not (ask.whole and value.figure % 1)


def _quantity_fits(ask: QuantityAsk, figure: object, unit: object) -> bool:
    if not isinstance(figure, Decimal) or not figure.is_finite() or unit not in ask.units:
        return False
    size = number_in(Quantity(figure, str(unit)), ask.units[0])
    return (ask.low is None or size >= ask.low) and (ask.high is None or size <= ask.high)


# --- findings


@dataclass(frozen=True, slots=True)
class Concluding:
    """Makes the findings of one step. `code` is the reason code of its own failure."""

    step: str
    kind: str
    rule: str
    code: str = ""

    @classmethod
    def of(cls, parameters: StepParameters, rule: str, code: str = "") -> Concluding:
        """`code` stands in where the profile declares no `lockout`."""
        return cls(parameters.id, parameters.kind, rule, parameters.lockout or code)

    def finding(self, outcome: Outcome, say: str, **rest: Any) -> Finding:
        return Finding(step=self.step, kind=self.kind, outcome=outcome, say=say, rule=self.rule, **rest)

    def passed(self, say: str, **rest: Any) -> Finding:
        return self.finding("pass", say, **rest)

    def warned(self, say: str, *tell: str, **rest: Any) -> Finding:
        return self.finding("warn", say, tell=tell or (say,), **rest)

    def failed(self, say: str, *, code: str = "", **rest: Any) -> Finding:
        return self.finding("fail", say, code=code or self.code, **rest)

    def could_not_check(self, missing: str, **rest: Any) -> Finding:
        return self.finding("could not check", f"Could not check: {missing}.", missing=missing, **rest)


# --- asking


def choose(key: str, say: str, *options: tuple[str, str], look: float = LOOK_AT_PART, **rest: Any) -> Script[str]:
    """One of a few observations, each (value, words)."""
    answer = yield Choice(key=key, say=say, options=tuple(Option(*each) for each in options), look=look, **rest)
    return str(answer.value)


def acknowledge(key: str, say: str, done: str = "Done", *, look: float = LOOK_AT_WORDS, **rest: Any) -> Script[Answer]:
    return (yield Acknowledge(key=key, say=say, done=done, look=look, **rest))


def scan_until(ask: Scan) -> Script[Answer]:
    """Scans until the label is the one that is due: a wrong one is asked again, with what is wrong, and passes nothing.

    However often a wrong label comes, it is only asked again: it may be the neighbour's instrument on the bench.
    """
    first, count = ask.key, 1
    while True:
        answer = yield ask
        if ask.is_due(str(answer.value)):
            return answer
        count += 1
        wrong = f"That was {shown(str(answer.value))}. It has to be {ask.due}. Nothing is passed by a wrong label."
        ask = replace(ask, key=f"{first}-{count}", notice=wrong)


def switch_on(facts: Facts, say: str = "", caution: str = "") -> Script[None]:
    """Asks to switch on, unless this checkout already knows the moment."""
    if SWITCHED_ON not in facts.marks:
        words = say or "Switch the instrument on."
        yield Acknowledge(key=SWITCHED_ON, say=words, done="It is on", mark=SWITCHED_ON, caution=caution)


def stow_sources(key: str = "stowed") -> Script[bool]:
    """Whether every source is away; asked twice at most."""
    options = (("all away", "All are in their store"), ("one is out", "One is still out"))
    say = "Put every source back into its store. Are all of them away?"
    if (yield from choose(key, say, *options)) == "all away":
        return True
    notice = "A source that is near makes this reading worthless. Put it away first."
    return (yield from choose(f"{key}-2", say, *options, notice=notice)) == "all away"


# --- what the proof is told


IS_ON: Final = Need(frozenset({"switched-on", "warm-up"}), "nothing can be read before the instrument was switched on")


IDENTIFIED: Final = Need(
    frozenset({"identity"}),
    "the instrument itself is scanned before a source is tried on it: identity is observed, not assumed",
    add='a required step of kind "look-over" before it',
)


def switched_on_first(_parameters: object, _spec: InstrumentSpec) -> tuple[Need, ...]:
    """The needs of a step that reads the instrument, and nothing else."""
    return (IS_ON,)


# --- figures and words


def with_unit(figure: Decimal | float, unit: str, digits: int = 3) -> str:
    """A figure in words for people: so many figures that count, and its unit."""
    return f"{plain(figure, digits)} {unit}".rstrip()


def plain(figure: Decimal | float, digits: int = 3) -> str:
    """A figure to so many figures that count, without a power of ten where people read it: 1.64, 0.021, 1240.

    A decimal that has fewer is said as it is: 0.05 was read as 0.05, and no more is known of it.
    """
    value = Decimal(str(figure)) if isinstance(figure, float) else figure
    if value == 0:
        return "0"
    if isinstance(figure, Decimal) and len(figure.as_tuple().digits) <= digits:
        return f"{figure:f}"
    places = max(0, digits - 1 - value.adjusted())
    return f"{value:.{places}f}"


def local_date(moment: datetime, facts: Facts) -> date:
    """The calendar date of a moment at the site (its zone is among the facts' settings), else in UTC."""
    zone = facts.settings.get("zone", "")
    try:
        return moment.astimezone(ZoneInfo(zone)).date() if zone else moment.date()
    except (KeyError, ValueError, OSError):
        return moment.date()


def on_date(day: date) -> str:
    return f"{day.day} {day:%b %Y}"


def span(fewest: int, most: int, *waits: float) -> tuple[float, float]:
    """Shortest and longest seconds of a visit with so many asks and these waits.

    Nobody can bound a person: an ask is reckoned at 1 s at least and at 60 s at most.
    """
    return fewest * _ASK_SHORTEST + sum(waits), most * _ASK_LONGEST + sum(waits)
