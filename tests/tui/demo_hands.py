"""Hands at the demo site: they look at what is due and press the keys that a technician would press for it.

What the invented instruments show stands here once for each profile, as somebody standing before them would read it;
the figures are invented like the demo itself.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any, Final

from screen_text import screen_text
from textual.containers import VerticalScroll
from textual.events import Key

from checklist_tui.actions import Place as ScreenPlace
from checklist_tui.actions import caption, footer_for
from checklist_tui.app import ChecklistApp
from checklist_tui.use_cases import SiteUseCases
from procedures.asks import Acknowledge, Ask, Choice, DateAsk, Hold, Place, QuantityAsk, ReadingAsk, Scan, TextAsk, Wait
from procedures.clock import ManualClock
from procedures.site.opening import Site
from procedures.site.views import CheckoutView

Seen = Mapping[str, str]
"""What is seen or read, by "step/ask" or by ask. A figure is as the scale prints it; "x10 20" names the selector
too, "x10 no-movement" what no figure can say."""

AT_A_HUMAN_PACE: Final = 4.0
"""Seconds that somebody looks before answering."""

BETWEEN_KEYS: Final = 0.4
BEAT: Final = 0.5
ROUNDS: Final = 4
"""Times that everybody on the screen works off all messages. Nothing is waited for by the clock."""
_MOST_ASKS: Final = 120
_BUTTONS: Final = ("no-movement", "off-the-end", "below-zero")


@dataclass(frozen=True, slots=True)
class Good:
    """A profile's instrument on the demo site, and what it shows when it is in order.

    `label_says` is which date its calibration label carries; `fit` are words of a good ending.
    """

    instrument: str
    seen: Seen
    fit: tuple[str, ...]
    label_says: str = "due"


LOOKS_WHOLE: Final = {"case": "whole", "cable": "whole", "outside": "below limit", "window/window": "whole"}

GOOD: Final[Mapping[str, Good]] = {
    "vented": Good(
        "QO-01",
        {
            **LOOKS_WHOLE,
            "temperature": "21.0",
            "pressure": "99.4",
            "soak": "no",
            "battery": "in the band",
            "stowed": "all away",
            "as-found": "x1 0.05",
            "adjust": "on zero",
            "zero/zero": "x1 0",
            "seated": "in place",
            "reading-1": "x1 1.64",
            "reading-2": "x1 1.66",
            "reading-3": "x1 1.66",
            "returned": "x1 0",
        },
        ("photon exposure rate", "beta, slide open", "Not for alpha, neutron", "x1 shown with the source", "Damp air"),
    ),
    "sealed": Good(
        "QO-04",
        {
            **LOOKS_WHOLE,
            "temperature": "19.5",
            "humidity": "52",
            "soak": "no",
            "battery": "82",
            "test-button": "both",
            "set-point": "25",
            "seated": "in place",
            **{f"reading-{n}": f"42.{n}" for n in range(1, 6)},
            "returned": "0.1",
        },
        ("photon dose rate", "Not for alpha, beta, neutron", "auto shown with the source"),
    ),
    "pancake": Good(
        "QO-06",
        {
            **LOOKS_WHOLE,
            "battery": "6.1",
            "stowed": "all away",
            **{f"background-{n}": "x1 40" for n in (1, 2, 3)},
            "seated": "in place",
            **{f"reading-{n}": "x10 340" for n in (1, 2, 3)},
            "returned": "x10 4",
        },
        ("beta count rate, photon count rate", "Not for neutron, dose rate, tritium", "leave"),
    ),
    "alpha": Good(
        "QO-08",
        {
            **LOOKS_WHOLE,
            "battery": "5.9",
            "dark": "2",
            "bright-reading": "3",
            "stowed": "all away",
            "background-1": "2",
            "seated": "in place",
            "reading-1": "15620",
            "returned": "3",
        },
        ("alpha count rate", "wet or dusty surfaces", "scaler shown with the source", "a pinhole"),
    ),
    "neutron": Good(
        "QO-10",
        {
            **LOOKS_WHOLE,
            "battery": "right of the mark",
            "seated": "in place",
            "reading-1": "x10 20.5",
            "reading-2": "x10 21",
            "returned": "x10 0",
        },
        ("neutron dose equivalent rate", "x10 shown with the source", "carry it with both hands"),
        label_says="calibrated",
    ),
}


@dataclass(slots=True)
class Hands:
    """One person at the keyboard of one running program. Looks only at what the site and the screen say."""

    app: ChecklistApp
    pilot: Any
    site: Site
    clock: ManualClock
    asked: list[str] = field(default_factory=list)
    """Every ask met, as "step/ask", in order."""

    # -- fingers

    async def press(self, *keys: str) -> None:
        """Presses keys one after another, as far apart as fingers are."""
        for key in keys:
            self.clock.advance(BETWEEN_KEYS)
            # Not the pilot's own press, which waits twice for each key.
            self.app.post_message(_key(key))
            await self.settle()

    async def type(self, text: str, *then: str) -> None:
        """Types `text`, key by key but faster than a tick, then presses `then` at a human's pace."""
        self.clock.advance(BETWEEN_KEYS)
        for character in text:
            self.app.post_message(_key(character))
        await self.press(*then)

    async def later(self, seconds: float) -> None:
        """Time goes by and the program looks at its waits."""
        self.clock.advance(seconds)
        self.app.look_at_waits()
        await self.settle()

    async def settle(self) -> None:
        """Lets the program take in what has happened: a key leads to a message, that to an answer, that to a screen."""
        for _ in range(ROUNDS):
            await self.pilot.pause(0)

    # -- eyes

    @property
    def seen(self) -> str:
        """The words of the screen, wrapped lines joined."""
        return " ".join(screen_text(self.app).split())

    @property
    def view(self) -> CheckoutView:
        """The checkout on the screen, as the desk hands it out."""
        return self.app.use_cases.desk.view(self.app.front)

    # -- a whole checkout

    async def say_who(self, badge: str) -> None:
        await self.type(badge, "enter")
        assert self.app.person is not None, self.seen

    async def begin(self, label: str) -> str:
        """From home: scan the instrument, Enter on its button; the checkout's id. What is ready is checked anew."""
        await self.type(label, "enter")
        assert self.app.screen.place == "instrument", self.seen  # type: ignore[attr-defined]
        if "▸Begin its checkout" not in self.seen:
            await self.press("up")
        await self.press("enter")
        if "A new checkout ends that." in self.seen:
            await self.press("up", "enter")
        assert self.app.front, self.seen
        return self.app.front

    async def to_ending(self, good: Good, otherwise: Seen | None = None) -> CheckoutView:
        """Answers whatever is due until the checkout on the screen has ended."""
        checkout = self.app.front
        await self.to(checkout, "", good, otherwise)
        return self.app.use_cases.desk.view(checkout)

    async def to(self, checkout: str, until: str, good: Good, otherwise: Seen | None = None) -> None:
        """Answers whatever is due until the ask "step/ask" is on the screen, or the checkout has ended."""
        sees = {**good.seen, **(otherwise or {})}
        for _ in range(_MOST_ASKS):
            view = self.app.use_cases.desk.view(checkout)
            if view.ending is not None or (until and due(view) == until):
                return
            self.asked.append(due(view))
            in_full(self.app, view)
            await self.one(view, good, sees)
        raise AssertionError(f"no end after {self.asked}")

    async def leave_ending(self) -> None:
        """Reads the ending, then Enter to its button and Enter again."""
        await self.later(AT_A_HUMAN_PACE)
        await self.press("enter", "enter")
        assert self.app.screen.place == "home", self.seen  # type: ignore[attr-defined]

    async def one(self, view: CheckoutView, good: Good, sees: Seen) -> None:
        """Does the one thing that is due."""
        ask = view.ask
        if view.remedy is not None:
            await self.press("1" if sees.get(f"{here(view)}/remedy", "done") == "done" else "2", "enter")
        elif isinstance(ask, Wait):
            await self.wait(view)
        elif isinstance(ask, Hold):
            await self.hold(view.checkout)
        else:
            assert ask is not None, self.seen
            self.clock.advance(max(AT_A_HUMAN_PACE, ask.look))
            await self.answer(ask, self._what(view, ask, good, sees))

    async def wait(self, view: CheckoutView) -> None:
        """Half a second before it is over nothing has happened; then it ends by itself."""
        assert view.wait is not None
        if view.wait.remaining > BEAT:
            await self.later(view.wait.remaining - BEAT)
            assert self.view.ask == view.ask, "a wait is never over early"
        await self.later(BEAT)

    async def hold(self, checkout: str) -> None:
        """Presses and keeps it down; the program watches all the while."""
        await self.press("enter")
        view = self.app.use_cases.desk.view(checkout)
        assert view.wait is not None, self.seen
        for _ in range(round(view.wait.remaining / BEAT) + 1):
            self.clock.advance(BEAT)
            self.app.look_at_waits()
        await self.settle()

    async def answer(self, ask: Ask, what: str) -> None:
        """The keys that answer `ask` with `what`."""
        if isinstance(ask, Choice):
            await self.press(str([each.value for each in ask.options].index(what) + 1), "enter")
        elif isinstance(ask, Place):
            await self.press(*["right"] * (ask.places.index(what) + 1), "enter")
        elif isinstance(ask, ReadingAsk):
            await self._reading(ask, what)
        elif isinstance(ask, Scan):
            # Half of all scanners end a label with Tab.
            await self.type(what, "tab" if len(self.asked) % 2 else "enter")
        elif isinstance(ask, TextAsk | DateAsk | QuantityAsk):
            await self.type(what, "enter", "enter")
        else:
            assert isinstance(ask, Acknowledge), ask
            await self.press("enter")

    async def _reading(self, ask: ReadingAsk, what: str) -> None:
        selector, _, shown = what.rpartition(" ") if len(ask.selectors) > 1 else ("", "", what)
        if selector:
            await self.press(*["down"] * ([each.name for each in ask.selectors].index(selector) + 1))
        if shown in _BUTTONS:
            await self.to_button(shown.replace("-", " "))
            await self.press("enter", "enter")
        else:
            await self.type(shown, "enter", "enter")

    async def to_button(self, label: str) -> None:
        """Tab until the button has the focus."""
        for _ in range(12):
            if getattr(self.app.focused, "label", "").strip().startswith(label):
                return
            await self.press("tab")
        raise AssertionError(f"Tab does not reach “{label}”:\n{screen_text(self.app)}")

    def _what(self, view: CheckoutView, ask: Ask, good: Good, sees: Seen) -> str:
        step = here(view)
        for key in (f"{step}/{ask.key}", ask.key):
            if key in sees:
                return sees[key]
        if isinstance(ask, Scan):
            return ask.due
        if isinstance(ask, DateAsk):
            return self.label_date(view.instrument, good)
        if isinstance(ask, Acknowledge):
            return "yes"
        raise KeyError(f"{step}/{ask.key}: {ask.say}")

    def label_date(self, instrument: str, good: Good) -> str:
        """The date on the calibration label; the demo calibrates for a year."""
        calibration = self.site.journal.instrument_now(instrument).calibration
        assert calibration is not None
        due_on = next(row for row in self.app.use_cases.home().instruments if row.id == instrument).calibration_due
        assert due_on is not None
        return (due_on - timedelta(days=365 if good.label_says == "calibrated" else 0)).isoformat()


def program(site: Site) -> ChecklistApp:
    """The program on this site, as `run` makes it."""
    return ChecklistApp(SiteUseCases(site))


def here(view: CheckoutView) -> str:
    """The id of the step being done."""
    return next((each.id for each in view.trail if each.state == "now"), "")


def due(view: CheckoutView) -> str:
    """What is due, as "step/ask"."""
    return f"{here(view)}/{'remedy' if view.remedy is not None else view.ask.key if view.ask else 'nothing'}"


def in_full(app: ChecklistApp, view: CheckoutView) -> None:
    """Fails unless all that has to be read before the answer stands on the screen: nothing is scrolled away or cut."""
    seen = " ".join(screen_text(app).split())
    for words in _must_read(view):
        assert " ".join(words.split()) in seen, f"“{words}” is not on the screen in full:\n{screen_text(app)}"
    if isinstance(view.ask, ReadingAsk):
        assert "expected" not in seen, f"it says what to read before it is read:\n{screen_text(app)}"
    always_in_sight(app, "checkout")


def _must_read(view: CheckoutView) -> list[str]:
    ask, remedy = view.ask, view.remedy
    if remedy is not None:
        return [view.label, remedy.say, remedy.caution, "It is done", "It cannot be done"]
    assert ask is not None
    words = [view.label, ask.say, ask.caution, ask.notice]
    if isinstance(ask, Choice):
        words += [each.say for each in ask.options]
    if isinstance(ask, Place):
        words += ask.places
    if isinstance(ask, Acknowledge):
        words.append(ask.done)
    return words


def always_in_sight(app: ChecklistApp, place: ScreenPlace) -> None:
    """Fails unless the mark of the demo stands at the top and every button of the foot is on the screen whole."""
    lines = screen_text(app).splitlines()
    assert "DEMO: nothing here is real" in lines[0], screen_text(app)
    seen = " ".join(" ".join(lines).split())
    for action in footer_for(place):
        assert caption(action) in seen, f"“{caption(action)}” is not on the screen:\n{screen_text(app)}"


async def read_ending(app: ChecklistApp, pilot: Any) -> str:
    """All words of the ending screen, read by paging down as far as it goes."""
    body = app.screen.query_one(VerticalScroll)
    pages = [" ".join(screen_text(app).split())]
    while body.scroll_offset.y < body.max_scroll_y:
        app.post_message(_key("pagedown"))
        await pilot.pause()
        pages.append(" ".join(screen_text(app).split()))
    return "\n".join(pages)


def _key(key: str) -> Key:
    return Key("space" if key == " " else key, key if len(key) == 1 else None)
