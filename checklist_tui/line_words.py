"""What line mode says: views as lines of text, in the words of the use cases. Pure: nothing is printed here.

A line says its most important word first, for people who listen to it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Final

from checklist_tui.words import BEYOND, capital, day_time
from procedures.asks import Acknowledge, Ask, Choice, DateAsk, Hold, Option, Place, QuantityAsk, ReadingAsk, Scan, Wait
from procedures.site.views import (
    CheckoutView,
    Home,
    InstrumentRow,
    Mark,
    OpenCheckout,
    RemedyView,
)

MARK_WORDS: Final[dict[Mark, str]] = {
    "real": "",
    "demo": "DEMO. Nothing here is a real instrument.",
    "practice": "PRACTICE. Nothing here is a real instrument.",
}

CLEARED: Final = "CLEARED, CHECK IT FIRST"
"""Neither locked out any longer nor fit for use."""

HELP_HOME: Final = (
    "Type the number of an instrument in the list, or scan or type its label, to check it.",
    "A word alone on a line is a command:",
    "  list     read the instruments again; more: the next ones; find WORDS: those that fit",
    "  open     the checkouts that stand open",
    "  person   say who is doing the checkouts",
    "  about 3  everything about instrument 3 of the list (or its label), and what else can be done with it",
    "  records  instruments, check sources, people, lockouts, hand-outs, records, settings",
    "  end 3    something happened to instrument 3 of the list (or its label): its readiness ends",
    "  lock 3   lock instrument 3 of the list (or its label) out: what is wrong, your words, the tag",
    "  quit     leave; what is open is paused, and nothing is lost",
    "  ?        this help",
    "A list number that is also a label is settled by typing: row 3, or: label 3.",
)

HELP_CHECKOUT: Final = (
    "Answer the question. What you typed is repeated before it is kept: Enter keeps it, anything else replaces it.",
    "A word alone on a line is a command:",
    "  again    read the question once more; where: the steps and where you are",
    "  left     how much time is left in a wait",
    "  pause    keep everything and stop here; home: leave it open and go to the other instruments",
    "  fail     it fails in your judgement: you give the reason",
    "  numbers  the numbers behind the findings so far",
    "  note     write a remark into the record; abandon: give this checkout up",
    "  wrong    it was made on the wrong instrument or by the wrong person: it is withdrawn",
    "  ?        this help",
    'To answer with one of these words itself, put quotation marks round it: "left".',
)


def duration(seconds: float) -> str:
    """Seconds in words, rounded up so that it never promises an end too early."""
    whole = int(-(-seconds // 1))
    figures = (whole // 3600, "h"), (whole // 60 % 60, "min"), (whole % 60, "s")
    return " ".join(f"{figure} {unit}" for figure, unit in figures if figure) or "0 s"


def sentence(*parts: str) -> str:
    """Parts that say something, each ended with a full stop."""
    return " ".join(part if part[-1] in ".:?!" else f"{part}." for part in (p.strip() for p in parts) if part)


# --- home ----------------------------------------------------------------------------------------------------------


def home_head(home: Home) -> list[str]:
    """Site and station, sources out, what waits, and what is due beside the page's instruments: read once, first."""
    lines = [sentence(MARK_WORDS[home.marking], f"Site {home.site}, station {home.station}")]
    lines += [sentence(notice) for notice in home.notices]
    lines += [sentence(f"Out of its store: source {out.label}") for out in home.sources_out]
    lines += [sentence(f"Waits: {each}") for each in home.waiting]
    told_below = tuple(f"{row.label}: " for row in home.instruments)
    lines += [sentence(f"Due: {due}") for due in home.due if not due.startswith(told_below)]
    return [*lines, sentence(home.exchanged)] if home.exchanged else lines


def instrument_line(row: InstrumentRow, now: datetime) -> str:
    """One instrument: fitness first, then which, why or until when, and where it is when not here."""
    until = f"Until {day_time(row.until, now)}" if row.until and row.fitness == "ready" else ""
    where = row.whereabouts + (f", {row.holder}" if row.holder else "")
    return sentence(
        f"{CLEARED if row.awaiting else row.fitness.upper()}: {row.label}, {row.type}",
        until,
        capital(row.why),
        "" if row.whereabouts == "here" and not row.holder else capital(where),
        "CONTAMINATED" if row.contaminated else "",
        *map(capital, row.due),
        "A checkout is open" if row.checkout else "",
    )


def obstacle_lines(obstacles: Sequence[str]) -> list[str]:
    """What stands in the way of fit for use before a checkout is begun."""
    return [sentence(f"It cannot become fit for use now: {'; '.join(obstacles)}")] if obstacles else []


def open_line(row: OpenCheckout) -> str:
    """One open checkout: its instrument, its step, and its wait."""
    if row.remaining is None:
        time = ""
    elif row.remaining > 0:
        time = f"{duration(row.remaining)} left to wait"
    else:
        time = "The wait is over"
    return sentence(f"{row.label}, {row.person}: {row.step}, {row.phase}", time, "A step has failed" * row.failed)


# --- a checkout ----------------------------------------------------------------------------------------------------


def checkout_head(view: CheckoutView) -> list[str]:
    """Which instrument and which person: said at the beginning and after coming back."""
    return [
        sentence(
            MARK_WORDS[view.marking],
            f"{view.label}, serial {view.serial}, {view.type}. {view.title}. Checked by {view.person_name}",
        )
    ]


def step_head(view: CheckoutView) -> str:
    mark = "" if view.marking == "real" else f"{view.marking.upper()} "
    return f"{mark}{view.label}, step {view.step} of {view.steps}: {view.step_title}."


def trail(view: CheckoutView) -> list[str]:
    return [f"{step.title}: {step.state}." for step in view.trail]


def ask_lines(ask: Ask) -> list[str]:
    """The question itself: why it comes again, caution, instruction, the quieter line, and what may be answered."""
    lines = []
    if ask.notice:
        lines.append(sentence(ask.notice))
    if ask.caution:
        lines.append(sentence(f"CAUTION: {ask.caution}"))
    lines.append(sentence(f"{ask.part[0]} of {ask.part[1]}" if ask.part else "", ask.say))
    if ask.more:
        lines.append(sentence(ask.more))
    return [*lines, *answer_lines(ask)]


def options_of(ask: Ask) -> tuple[Option, ...]:
    """What may be chosen in an ask that is answered by choosing; nothing for other kinds."""
    if isinstance(ask, Choice):
        return ask.options
    if isinstance(ask, Place):
        return tuple(Option(place, place) for place in ask.places)
    if isinstance(ask, Acknowledge):
        return (Option("yes", ask.done),)
    return ()


def option_marks(options: tuple[Option, ...]) -> tuple[str, ...]:
    """What to type for each option: 1, 2, 3; letters where an option is itself a figure, so that no figure is two."""
    if any(option.say.strip()[:1].isdigit() or option.value.strip()[:1].isdigit() for option in options):
        return tuple(chr(ord("a") + place) for place in range(len(options)))
    return tuple(str(place + 1) for place in range(len(options)))


def option_lines(options: tuple[Option, ...]) -> list[str]:
    """The options, each after what to type for it."""
    return [f"  {mark}  {option.say}" for mark, option in zip(option_marks(options), options, strict=True)]


def answer_lines(ask: Ask) -> list[str]:
    """How to answer this kind of ask."""
    options = options_of(ask)
    if options:
        return option_lines(options)
    if isinstance(ask, ReadingAsk):
        return _reading_lines(ask)
    if isinstance(ask, QuantityAsk):
        return [f"Type a number, in {' or '.join(ask.units)}. Without a unit it is {ask.units[0] or 'a plain number'}."]
    if isinstance(ask, DateAsk):
        absent = f" Or type: {ask.absent}." if ask.absent else ""
        return [f"Type the date as year-month-day, such as 2027-03-12.{absent}"]
    if isinstance(ask, Scan):
        return [] if "scan" in ask.say.casefold() else ["Scan the label, or type it as marked."]
    if isinstance(ask, Hold):
        length = duration(ask.seconds)
        return [f"Press Enter and keep the button down for {length}. Any line typed meanwhile breaks it."]
    if isinstance(ask, Wait):
        return []
    return ["Type a few words."]


def _reading_lines(ask: ReadingAsk) -> list[str]:
    lines = []
    first = next((each for each in ask.selectors if each.name == ask.wanted), ask.selectors[0])
    if ask.wanted:
        lines.append(f"It is taken on selector position {ask.wanted}.")
    elif len(ask.selectors) > 1:
        lines.append(f"Selector positions: {', '.join(each.name for each in ask.selectors)}.")
    position = f"{first.name} " if len(ask.selectors) > 1 else ""
    wanted = "selector position and the figure" if position else "the figure"
    lines.append(f"Type {wanted} as printed, in this form: {position}0.00 {first.unit}.")
    if ask.beyond:
        beyond = [BEYOND[each] for each in ask.beyond]
        lines.append(f"Or type {position}and one of: {', '.join(beyond)}." if position else _or(beyond))
    return lines


def _or(words: Iterable[str]) -> str:
    return f"Or type: {', or '.join(words)}."


def wait_lines(view: CheckoutView) -> list[str]:
    """A wait or hold that has begun: how long, and what goes on meanwhile. The time left is said when asked."""
    if view.wait is None:
        return []
    if view.wait.kind == "hold":
        return [sentence(f"Holding for {duration(view.wait.remaining)}. Keep the button down", view.wait.meanwhile)]
    return [
        sentence(f"Wait {duration(view.wait.remaining)}", view.wait.meanwhile),
        "It ends by itself. Type left for the time left, home for the other instruments.",
    ]


def remedy_lines(remedy: RemedyView) -> list[str]:
    """A remedy on offer, with its own caution."""
    lines = [sentence(f"CAUTION: {remedy.caution}")] if remedy.caution else []
    lines.append(sentence(f"Attempt {remedy.attempt} of {remedy.attempts}", remedy.say))
    if remedy.back_to:
        lines.append(sentence(f"The checkout then goes on from: {remedy.back_to}"))
    return lines


REMEDY_OPTIONS: Final = (Option("done", "I have done this"), Option("not done", "This is not done"))
