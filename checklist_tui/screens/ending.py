"""The ending fills the screen: the word, fit for what and until when or the reasons, and what to do now."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from checklist_tui.actions import bindings_for
from checklist_tui.screens.base import BaseScreen
from checklist_tui.symbols import ENDING, sign
from checklist_tui.widgets.footer import ActionPress
from checklist_tui.widgets.press import Press
from checklist_tui.words import capital, plural, says_figure, scales_shown
from procedures.sheets import Deed
from procedures.site.views import CheckoutView, EndingView
from procedures.trouble import Trouble

READ = 1.0
"""Seconds on the screen before a key can leave it."""


class Words(VerticalScroll, can_focus=True, inherit_bindings=False):
    """What is to be read. The screen scrolls it, and goes on to what stands below when it is at its end."""


class EndingScreen(BaseScreen[None]):
    """Nothing here is left by a key pressed in haste: the first Enter goes to the button, the second leaves."""

    place = "ending"
    help_text = "How the checkout ended and what to do now. F2 shows all numbers. Enter goes to the button that leaves."
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings_for("ending"),
        Binding("enter", "to_button", show=False),
        Binding("up", "step(-1)", show=False),
        Binding("down", "step(1)", show=False),
        Binding("left", "step(-1)", show=False),
        Binding("right", "step(1)", show=False),
        Binding("pageup", "scroll_by(-6)", show=False),
        Binding("pagedown", "scroll_by(6)", show=False),
    ]

    def __init__(self, view: CheckoutView) -> None:
        super().__init__()
        assert view.ending is not None
        self.view = view
        self.checkout = view.checkout
        self.ending: EndingView = view.ending
        self._since = float("inf")
        self._next = _leads_to(view.instrument, view.ending)

    def content(self) -> ComposeResult:
        view, ending = self.view, self.ending
        mark = sign(ENDING, "withdrawn" if ending.withdrawn and ending.ending == "abandoned" else ending.ending)
        word = ending.ending.replace(" ", "-")
        yield Static(Content(f"{mark.symbol}  {mark.word}     {view.label}"), classes=f"verdict -{word}", markup=False)
        yield Static(
            Content(f"{view.type}  serial {view.serial}  checked by {view.person_name}"),
            classes="quiet fold aside",
            markup=False,
        )
        with Words(classes="body"):
            yield Static(Content("\n").join(_words(ending)), markup=False)
        with Horizontal(classes="what-next"):
            for deed in self._next:
                yield Press(deed.say, deed.name, classes="next", help_text="The same as F4.")
        yield Press("I have read it: back to the instruments", "read", classes="wide leave", help_text=self.help_text)

    def on_mount(self) -> None:
        self._since = self.now()
        self.query_one(Words).focus()

    def _read(self) -> bool:
        """Whether there was time to read it."""
        return self.now() - self._since >= READ

    def action_to_button(self) -> None:
        if self._read():
            self.query_one(".leave", Press).focus()

    def action_step(self, by: int) -> None:
        """Through the words line by line, then from one thing to press to the next, leaving out none."""
        words = self.query_one(Words)
        presses = [each for each in self.query(Press) if each.display and not isinstance(each, ActionPress)]
        stops: list[Widget] = [words, *presses]
        at = stops.index(self.focused) if self.focused in stops else 0
        if at == 0 and (words.scroll_y < words.max_scroll_y if by > 0 else True):
            self.action_scroll_by(by)
        else:
            stops[min(max(at + by, 0), len(stops) - 1)].focus()

    def reload(self) -> None:
        """What was done from here may leave nothing to do: what has been handed out is offered no second time."""
        if not self.is_mounted or not any(each.name == "hand-out" for each in self._next):
            return
        try:
            row = self.main.use_cases.instrument(self.view.instrument)
        except Trouble as trouble:
            self.trouble(trouble)
            return
        if row is None or row.whereabouts == "here":
            return
        self._next = tuple(each for each in self._next if each.name != "hand-out")
        for press in self.query(".next").results(Press):
            press.display = press.value in {each.name for each in self._next}
        self.action_to_button()

    def action_scroll_by(self, lines: int) -> None:
        self.query_one(Words).scroll_relative(y=lines, animate=False)

    def action_home(self) -> None:
        if self.ending.ending == "fit for use" and self._read():
            self._leave()
        else:
            self.action_to_button()

    def _leave(self) -> None:
        self.main.lookout.forget(self.checkout)
        self.main.to_home()

    def pressed(self, value: str) -> None:
        if value == "read" and self._read():
            self._leave()
        elif self._read():
            self._chosen(next((each for each in self._next if each.name == value), None))

    def action_what_next(self) -> None:
        if len(self._next) == 1:
            self.main.go(self._next[0])
        elif self._next:
            self.open("deeds:DeedsScreen", self._next, then=self._chosen)
        else:
            self.trouble(Trouble("This ending leads to nothing more.", do="Do what stands above."))

    def _chosen(self, deed: Deed | None) -> None:
        if deed is not None:
            self.main.go(deed)

    def instrument_in_front(self) -> tuple[str, str] | None:
        return self.view.instrument, self.view.label

    def action_numbers(self) -> None:
        self.open("numbers:NumbersScreen", self.view)

    def action_withdraw(self) -> None:
        def said(why: str | None) -> None:
            if why:
                try:
                    view = self.main.use_cases.desk.withdraw(self.checkout, why)
                except Trouble as trouble:
                    self.trouble(trouble)
                    return
                self.main.lookout.take(view)
                self.main.show_ending(view)

        self.open(
            "reason:ReasonScreen",
            f"Withdraw the checkout of {self.view.label}. Why?",
            what="The record is kept and struck through. It gives no readiness.",
            yes="Yes, withdraw it",
            example="wrong instrument",
            then=said,
        )


def _leads_to(instrument: str, ending: EndingView) -> tuple[Deed, ...]:
    """What is done next after this ending: each opens a sheet or a form and decides nothing by itself."""
    if ending.withdrawn:
        return ()
    deeds = []
    if ending.ending == "locked out":
        deeds.append(Deed("The tag", "sheet", "tag", instrument))
    if ending.doubt:
        deeds.append(Deed("The uses in doubt", "sheet", "doubt", instrument))
    if ending.ending == "fit for use":
        deeds.append(Deed("Hand it out", "form", "hand-out", instrument))
    return tuple(deeds)


def _words(ending: EndingView) -> list[Content]:
    """The ending in words: what decides first, what to do, what goes with it into the field."""
    lines: list[Content] = []
    for reason in ending.reasons:
        lines.append(Content.assemble((capital(reason.say), "bold"), f"  ({reason.code})"))
        lines += [Content(reason.do)] if reason.do else []
    lines += [Content.styled(f"! {each}", "bold $warning") for each in ending.suspects]
    lines += [Content.styled(f"? {capital(each)}", "bold") for each in ending.missing]
    if ending.withdrawn:
        lines.append(Content.styled(f"Withdrawn: {ending.withdrawn}", "bold"))
    if ending.fit_for:
        lines.append(Content.assemble(("Fit for ", "bold"), (", ".join(ending.fit_for), "bold"), (".", "bold")))
    if ending.until_local and ending.ending == "fit for use":
        lines.append(Content.styled(f"Until {ending.until_local}.", "bold"))
    lines += [Content(each) for each in ending.do]
    # A warning that has the factor in it says why as well, and stands for it.
    factors = [each for each in ending.warnings if ending.factor and says_figure(each, ending.factor)]
    lines += [Content.styled(f"! {each}", "bold $warning") for each in factors]
    if ending.factor and not factors:
        lines.append(Content.styled(f"! Multiply every reading by {ending.factor}.", "bold $warning"))
    lines += [Content.styled(f"! {each}", "$warning") for each in ending.warnings if each not in factors]
    if ending.scales:
        lines.append(Content(f"Scales: {'; '.join(scales_shown(ending.scales))}."))
    if ending.not_for:
        lines.append(Content(f"Not for {', '.join(ending.not_for)}."))
    if ending.doubt:
        lines.append(
            Content.styled(f"! {plural(ending.doubt, 'use')} since its last good check: now in doubt.", "bold $warning")
        )
    if ending.sources_out:
        lines.append(
            Content.styled(f"! Not back in store: {', '.join(ending.sources_out)}. Scan it back.", "bold $warning")
        )
    lines += [Content(f"Tell the site lead: {each}") for each in ending.tell]
    if ending.tag:
        lines.append(Content(f"Tag: {ending.tag}"))
    lines += [Content.styled(ending.exchanged, "$secondary")] if ending.exchanged else []
    # A reason and the ending may say the same of what to do now; once is enough.
    return list({line.plain: line for line in reversed(lines)}.values())[::-1]
