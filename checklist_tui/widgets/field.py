"""A field for typing or scanning: Enter and a scanner's Tab both send it, and no part of a paste is lost in silence."""

from __future__ import annotations

from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.events import Key, Paste
from textual.geometry import Size
from textual.message import Message
from textual.reactive import Reactive
from textual.widgets import Input

from checklist_tui.typing_in import LONGEST, checked, clean
from procedures.trouble import Trouble

_ROOM = LONGEST + 50


class Field(Input):
    """A text field. Posts `Sent` with cleaned text, or `Refused` with the trouble."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("tab", "tab", "Send, or next field", show=False)]

    # This field's place does not depend on its text, so a key need not have the whole screen laid out again.
    virtual_size = Reactive(Size(0, 0))

    class Sent(Message):
        """Text was sent by Enter, or by the Tab that some scanners put behind a label (`by_tab`)."""

        def __init__(self, field: Field, text: str, *, by_tab: bool) -> None:
            self.field = field
            self.text = text
            self.by_tab = by_tab
            super().__init__()

        @property
        def control(self) -> Field:
            return self.field

    class Refused(Message):
        """What was typed or pasted cannot be taken."""

        def __init__(self, field: Field, trouble: Trouble) -> None:
            self.field = field
            self.trouble = trouble
            super().__init__()

    class Edited(Message):
        """The text is another than it was."""

        def __init__(self, field: Field, text: str) -> None:
            self.field = field
            self.text = text
            super().__init__()

        @property
        def control(self) -> Field:
            return self.field

    def __init__(self, placeholder: str = "", *, value: str = "", help_text: str = "") -> None:
        super().__init__(value, placeholder, compact=True, select_on_focus=False)
        self.help_text = help_text or "Type or scan, then Enter. Control characters of a scanner are left out."
        self._dropped = 0
        self._sent = ""
        self._to_tell: Trouble | None = None

    def insert_text_at_cursor(self, text: str) -> None:
        """Takes text up to a limit and counts the rest: ten thousand characters must not be drawn one by one."""
        room = max(0, _ROOM - len(self.value))
        self._dropped += max(0, len(text) - room)
        if room:
            super().insert_text_at_cursor(text[:room])

    def _on_paste(self, event: Paste) -> None:
        event.stop()
        event.prevent_default()
        lines = [line for line in event.text.splitlines() if clean(line)]
        if not lines:
            return
        line = "".join(each for each in lines[0] if each == " " or clean(each))
        if len(lines) > 1:
            trouble = Trouble(
                f"{len(lines)} lines were pasted; only the first one was taken.",
                allowed="one line",
                do="Look at what stands in the field before you send it.",
            )
            self._to_tell = trouble
        self.insert_text_at_cursor(line)

    def on_key(self, event: Key) -> None:
        if event.key == "ctrl+u" or (event.key == "backspace" and self._dropped):
            self.reset()

    def on_input_changed(self, event: Input.Changed) -> None:
        event.stop()
        if not self.value:
            self._dropped = 0
        self._sent = ""
        self.post_message(self.Edited(self, self.value))
        if self._to_tell is not None:
            # After the change of text has been told, or that would take the words away again.
            self.post_message(self.Refused(self, self._to_tell))
            self._to_tell = None

    def on_input_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        self._send(by_tab=False)

    def action_tab(self) -> None:
        """A scanner's Tab sends; a hand's Tab with nothing new in the field goes to the next one."""
        if self.value and self.value != self._sent:
            self._send(by_tab=True)
        else:
            self.screen.focus_next()

    def send(self, text: str) -> None:
        """Takes `text` as if it had been typed and sent."""
        self.value = text
        self._send(by_tab=False)

    def taken(self) -> str:
        """What stands in the field, cleaned. Raises Trouble when it is longer than anything that is asked for."""
        return checked(self.value, dropped=self._dropped)

    def _send(self, *, by_tab: bool) -> None:
        try:
            text = self.taken()
        except Trouble as trouble:
            self.reset()
            self.post_message(self.Refused(self, trouble))
            return
        self._sent = self.value
        self.post_message(self.Sent(self, text, by_tab=by_tab))

    def reset(self) -> None:
        """Empties the field."""
        self.value = ""
        self._dropped = 0
        self._sent = ""
