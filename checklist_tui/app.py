"""The terminal interface: one app, one watch over the open checkouts, screens brought in by name when they are used."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, cast

from textual.app import App, SystemCommand
from textual.screen import Screen

from checklist_tui import output, signals
from checklist_tui.actions import actions_for
from checklist_tui.screens.base import BaseScreen
from checklist_tui.themes import DARK, LIGHT
from checklist_tui.use_cases import SiteUseCases, UseCases
from checklist_tui.watch import Watch
from checklist_tui.words import ends_readiness
from procedures.site.views import CheckoutView, OpenCheckout, PersonView
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from checklist_tui.screens.checkout import CheckoutScreen
    from checklist_tui.screens.page import PageScreen
    from procedures.sheets import Deed, Done
    from procedures.site.opening import Site

_PAGES: Final = {"sheet": "sheet:SheetScreen", "listing": "listing:ListingScreen"}
QUIET_BEFORE_LOADING: Final = 1.5
"""Seconds without a key before a piece is loaded that the first sheet or checkout will need."""
TICK = 0.25
"""Seconds between two looks at the waits; what is left is computed from the clock, never counted."""


def screen(name: str, *given: Any, **named: Any) -> Screen[Any]:
    """The screen "module:Class", imported now: nothing is loaded for a screen that nobody opens."""
    module, _, kind = name.partition(":")
    made = getattr(import_module(f"checklist_tui.screens.{module}"), kind)(*given, **named)
    assert isinstance(made, Screen)
    return made


class ChecklistApp(App[None]):
    """Leads people through checkouts. Knows no rule of the trade: the site decides, this shows and asks."""

    CSS_PATH = Path(__file__).with_name("checklist_tui.tcss")
    TITLE = "checklist-tui"
    HORIZONTAL_BREAKPOINTS: list[tuple[int, str]] = [(0, "-narrow"), (72, "-normal"), (110, "-wide")]  # noqa: RUF012
    VERTICAL_BREAKPOINTS: list[tuple[int, str]] = [(0, "-short"), (24, "-usual"), (34, "-tall")]  # noqa: RUF012

    def __init__(
        self, use_cases: UseCases, *, bell: bool = True, light: bool = False, reports: Path | None = None
    ) -> None:
        """`reports` is where a fault is written down, the records' own folder by default."""
        super().__init__()
        self.last_words = ""
        self._reports = reports or use_cases.folder
        self.use_cases = use_cases
        self.lookout = Watch(use_cases)
        self.person: PersonView | None = None
        self.rings = bell
        self.register_theme(DARK)
        self.register_theme(LIGHT)
        # Set before the style sheet is read: a theme set later has it read a second time, and the start takes longer.
        self.set_reactive(App.theme, LIGHT.name if light else DARK.name)
        self.stylesheet.set_variables(self.get_css_variables())
        self._unlisten: Callable[[], None] = lambda: None
        self._places: dict[str, CheckoutScreen] = {}
        self._loading = use_cases.loading()
        self._begun = self.lookout.now()
        self.drafts: dict[tuple[str, str, str], dict[str, str]] = {}
        """What was typed into forms that were left for something else, by form, what it is about, and person."""

    def get_default_screen(self) -> Screen[Any]:
        return screen("home:HomeScreen")

    def on_mount(self) -> None:
        self._unlisten = signals.listen(self._stop)
        self.set_interval(TICK, self.look_at_waits)

    def on_unmount(self) -> None:
        self._unlisten()

    def _stop(self, code: int) -> None:
        self.exit(return_code=code)

    def _handle_exception(self, error: Exception) -> None:
        """A fault of the program: to a file, with one short message, and never with anybody's local variables."""
        from checklist_tui.crash import EXIT_CODE, crash_words, report

        if self._exception is None:
            # Lets a test's pilot raise it again, as Textual's own handler does.
            self._exception = error
            self._exception_event.set()
            path = report(self._reports, error, self.use_cases.clock.now().utc)
            at_work = any(view.ending is None for view in self.lookout.views.values())
            self.last_words = crash_words(path, checkout_open=at_work)
            self.exit(return_code=EXIT_CODE)

    # -- the waits

    @property
    def front(self) -> str:
        """The checkout on the screen, "" when something else is."""
        return (
            getattr(self.screen, "checkout", "") if getattr(self.screen, "place", "") in ("checkout", "bench") else ""
        )

    def look_at_waits(self) -> None:
        """One look at every wait and hold in progress; rings when one has ended."""
        if not self.screen_stack or not self.is_running:
            return  # the program is ending
        front = self.front
        ticked = self.lookout.tick(front)
        if ticked.ended and self.rings:
            self.bell()
        top = self.screen
        if isinstance(top, BaseScreen):
            top.call_line.show(tuple(self.lookout.calls.values()))
            if front in ticked.troubles:
                top.trouble(ticked.troubles[front])
            if top.is_mounted:
                top.on_tick()
            if self.lookout.now() - max(top.last_key, self._begun) > QUIET_BEFORE_LOADING:
                next(self._loading, None)

    # -- people

    def with_person(self, then: Callable[[PersonView], None]) -> None:
        """Calls `then` with whoever works here, asking first when nobody has said so yet."""
        if self.person is not None:
            then(self.person)
            return
        self.ask_person(then)

    def ask_person(self, then: Callable[[PersonView], None] | None = None) -> None:
        """Asks who works here now."""

        def known(person: PersonView | None) -> None:
            if person is not None:
                self.person = person
                if then is not None:
                    then(person)
                elif isinstance(self.screen, BaseScreen):
                    self.screen.reload()

        self.push_screen(screen("who:WhoScreen"), known)

    # -- checkouts side by side

    def live(self, known: Iterable[OpenCheckout]) -> list[OpenCheckout]:
        """Open checkouts as the watch knows them by now, without asking the site again."""
        return [self.lookout.live(each) for each in known]

    def begin_checkout(self, instrument: str) -> None:
        """Opens a checkout of an instrument by whoever works here; Trouble is shown where it was asked for.

        It ends the readiness that the instrument has, which is asked first.
        """

        def begin(person: PersonView, pin: str | None) -> None:
            try:
                view = self.use_cases.desk.start(instrument, person.id, pin)
            except Trouble as trouble:
                self.show_trouble(trouble)
                return
            self.lookout.take(view, answered=True)
            self.show_checkout(view.checkout)

        def meant() -> None:
            self.with_person(lambda person: self.with_pin(person, lambda pin: begin(person, pin)))

        try:
            row = self.use_cases.instrument(instrument)
        except Trouble as trouble:
            self.show_trouble(trouble)
            return
        loses = ends_readiness(row, self.use_cases.clock.now().utc) if row is not None else ""
        if not loses:
            meant()
            return
        question = screen("confirm:ConfirmScreen", loses, "Yes, begin a new checkout", safe=False)
        self.push_screen(question, lambda yes: meant() if yes else None)

    def with_pin(self, person: PersonView, then: Callable[[str | None], None], *, whose: str = "") -> None:
        """Calls `then` with the PIN of `person`, or with None where the site wants none for the checkout of `whose`."""
        if not self.use_cases.check_takes_pin(person.id, whose):
            then(None)
            return
        self.show_trouble(None)
        self.push_screen(screen("pin:PinScreen", person.name), lambda pin: then(pin) if pin is not None else None)

    def show_checkout(self, checkout: str) -> None:
        """Brings a checkout to the screen, just as it was left."""
        try:
            view = self.lookout.views.get(checkout) or self.lookout.take(self.use_cases.desk.view(checkout))
        except Trouble as trouble:
            self.show_trouble(trouble)
            return
        self.lookout.visited(checkout)
        self.to_home()
        if view.ending is not None:
            self.show_ending(view)
            return
        if checkout not in self._places:
            made = self.checkout_screen(view)
            self._places[checkout] = made
            self.install_screen(made, f"checkout-{checkout}")
        self.push_screen(f"checkout-{checkout}")
        if self.person is not None and self.person.id != view.person and not view.paused:
            self._whose(view, self.person)

    def checkout_screen(self, view: CheckoutView) -> CheckoutScreen:
        """The screen that a checkout is shown on."""
        from checklist_tui.screens.checkout import CheckoutScreen

        return CheckoutScreen(view)

    def put_away(self, checkout: str) -> None:
        """Back to the beginning; the screen of a checkout that has ended is no longer needed."""
        self.to_home()
        self.lookout.visited(checkout)
        if checkout in self._places:
            del self._places[checkout]
            self.uninstall_screen(f"checkout-{checkout}")

    def _whose(self, view: CheckoutView, person: PersonView) -> None:
        """Somebody else's checkout: nobody answers under another name."""
        place = self._places[view.checkout]

        def badge(shown: PersonView | None) -> None:
            if shown is not None and shown.id == view.person:
                self.person = shown
                return
            self.to_home()
            if shown is not None:
                self.show_trouble(
                    Trouble(f"this checkout is {view.person_name}'s", do="Scan that badge, or take it over.")
                )

        def chosen(whose: str | None) -> None:
            if whose == "mine":
                place.call_later(place.hand_over, person.name)
            elif whose == "theirs":
                self.push_screen(screen("who:WhoScreen", f"{view.person_name}: scan your badge."), badge)
            else:
                self.to_home()

        self.push_screen(screen("takeover:TakeOverScreen", view.label, view.person_name, person.name), chosen)

    def show_ending(self, view: CheckoutView) -> None:
        """Fills the screen with how a checkout ended."""
        self.put_away(view.checkout)
        self.push_screen(screen("ending:EndingScreen", view))

    # -- sheets, listings and forms

    def go(self, deed: Deed) -> None:
        """Goes to what a deed opens; Trouble is shown where it was asked for."""
        if deed.may_not:
            self.show_trouble(Trouble(f"Not now: {deed.may_not}"))
        elif deed.goes == "form":
            self.with_person(lambda person: self._show_form(deed, person))
        elif deed.goes == "checkout":
            self._go_to_checkout(deed.about)
        else:
            self._show_page(deed)

    def _show_form(self, deed: Deed, person: PersonView) -> None:
        try:
            draft = self.drafts.get((deed.name, deed.about, person.id), {})
            form = self.use_cases.form(deed.name, deed.about, person.id, draft, 1)
        except Trouble as trouble:
            self.show_trouble(trouble)
            return
        self.show_trouble(None)
        self.push_screen(screen("form:FormScreen", deed, person, form, draft))

    def form_kept(self, done: Done) -> None:
        """The form on the screen was kept: on to what comes next, which says what was done."""
        here = self.screen
        key = getattr(here, "key", None)
        if key is not None:
            self.drafts.pop(key, None)
        self.pop_screen()
        if done.opens is not None:
            self.go(done.opens)
        self.tell(done.what, done.do)

    def _show_page(self, deed: Deed) -> None:
        """A sheet or a listing. One that lies directly below is not opened twice."""
        here = getattr(self.screen, "deed", None)
        if here is not None and (here.goes, here.name, here.about) == (deed.goes, deed.name, deed.about):
            if isinstance(self.screen, BaseScreen):
                self.screen.reload()
            return
        try:
            made = cast("PageScreen", screen(_PAGES[deed.goes], deed))
            made.read(self)
        except Trouble as trouble:
            self.show_trouble(trouble)
            return
        self.show_trouble(None)
        self.push_screen(made)

    def _go_to_checkout(self, instrument: str) -> None:
        """The instrument's checkout that is open here, or a new one."""
        try:
            row = self.use_cases.instrument(instrument)
        except Trouble as trouble:
            self.show_trouble(trouble)
            return
        if row is not None and row.checkout:
            self.show_checkout(row.checkout)
        else:
            self.begin_checkout(instrument)

    def to_home(self) -> None:
        """Back to the instruments; checkouts stay as they are."""
        while len(self.screen_stack) > 1:
            if isinstance(self.screen, BaseScreen):
                self.screen.leaving()
            self.pop_screen()

    def show_trouble(self, trouble: Trouble | None) -> None:
        """Trouble goes to the screen that a person looks at."""
        if isinstance(self.screen, BaseScreen):
            self.screen.trouble(trouble)

    def tell(self, what: str, do: str = "") -> None:
        """Says on the screen that a person looks at that something was done."""
        if isinstance(self.screen, BaseScreen):
            self.screen.tell(what, do)

    # -- the same actions for the palette as for keys, footer and menu

    def get_system_commands(self, screen: Screen[Any]) -> Iterable[SystemCommand]:
        if isinstance(screen, BaseScreen):
            for action in actions_for(screen.place):
                yield SystemCommand(action.title, action.help, screen.runner(action.id))

    async def action_quit(self) -> None:
        """Whatever asks to quit gets the question first: a checkout may be open."""
        if isinstance(self.screen, BaseScreen):
            self.screen.action_leave()

    def action_help_quit(self) -> None:
        """Ctrl-C stops nothing in the middle of a checkout; it shows how to leave."""
        self.show_trouble(Trouble("Ctrl-C does nothing here.", do="F9 leaves the program."))


def run(site: Site, *, bell: bool = True, light: bool = False, reports: Path | None = None) -> int:
    """Runs the terminal interface on `site`; the process's exit code."""
    return run_app(ChecklistApp(SiteUseCases(site), bell=bell, light=light, reports=reports))


def run_app(app: ChecklistApp) -> int:
    """Runs this app to its end; the process's exit code."""
    app.run()
    if app.last_words:
        # Not by the app's own message on leaving, which breaks the name of a file at the edge of the terminal.
        output.complain([app.last_words])
    return app.return_code or 0
