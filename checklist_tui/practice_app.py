"""The terminal interface of practice: the same checkout screens, with the simulated instrument beside them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from textual.screen import Screen

from checklist_tui.app import ChecklistApp, run_app, screen
from checklist_tui.practice_cases import PracticeUseCases
from checklist_tui.screens.checkout import CheckoutScreen
from procedures.sheets import Deed
from procedures.site.views import CheckoutView


class PracticeApp(ChecklistApp):
    """Everything else is that of the real program, so that nothing has to be learned twice."""

    TITLE = "checklist-tui practice"

    def get_default_screen(self) -> Screen[Any]:
        return screen("practice_home:PracticeHomeScreen")

    def checkout_screen(self, view: CheckoutView) -> CheckoutScreen:
        """The checkout with the instrument beside it."""
        from checklist_tui.screens.practice_checkout import PracticeCheckoutScreen

        return PracticeCheckoutScreen(view)

    def show_ending(self, view: CheckoutView) -> None:
        """What it came to stands in the debrief."""
        self.put_away(view.checkout)
        self.go(Deed("Debrief", "sheet", "practice-debrief", view.checkout))


def run(use_cases: PracticeUseCases, *, bell: bool = True, light: bool = False, reports: Path | None = None) -> int:
    """Runs practice; the process's exit code."""
    return run_app(PracticeApp(use_cases, bell=bell, light=light, reports=reports))
