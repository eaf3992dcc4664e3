"""Everything that can be done on a screen, as a list for arrows and Enter: for terminals that keep the F keys."""

from __future__ import annotations

from textual.app import ComposeResult

from checklist_tui.actions import Place, actions_for, key_name
from checklist_tui.screens.dialog import DialogScreen
from checklist_tui.widgets.choice_list import ChoiceList


class MenuList(ChoiceList):
    """Actions are chosen and then done; here a tap does it at once, since every action asks before it acts."""

    help_text = "Arrows choose, Enter does it. Esc closes the menu."

    def on_mount(self) -> None:
        self.query_one(".hint").display = False


class MenuScreen(DialogScreen[str]):
    """Hands back the id of the action chosen, None for none."""

    help_text = MenuList.help_text

    def __init__(self, about: Place) -> None:
        super().__init__()
        self._about = about

    def question(self) -> str:
        return "What do you want to do?"

    def body(self) -> ComposeResult:
        pairs = []
        for action in actions_for(self._about):
            if action.id != "menu":
                key = f"  [{key_name(action.keys[0])}]" if action.keys else ""
                pairs.append((action.id, f"{action.title}{key}"))
        yield MenuList(pairs)

    def on_mount(self) -> None:
        self.query_one(MenuList).focus()

    def on_choice_list_kept(self, event: ChoiceList.Kept) -> None:
        event.stop()
        self.dismiss(event.value)
