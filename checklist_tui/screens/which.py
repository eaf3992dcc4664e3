"""Which instrument a dialog is about: the one in front, or another whose label is scanned."""

from __future__ import annotations

from checklist_tui.use_cases import UseCases
from procedures.trouble import Trouble


def which_instrument(use_cases: UseCases, text: str) -> tuple[str, str]:
    """Id and label of the instrument that `text` names; Trouble when it names none."""
    found = use_cases.find(text)
    if found.kind != "instrument":
        raise Trouble(
            found.say or f"“{text}” is not an instrument here.",
            allowed="the label of one instrument",
            do="Scan the label on the instrument.",
        )
    return found.id, found.label
