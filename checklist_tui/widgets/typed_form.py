"""Forms in which something is typed: first Enter shows what was understood, second Enter keeps it."""

from __future__ import annotations

from checklist_tui.widgets.ask import AskWidget
from checklist_tui.widgets.echo import Echo
from checklist_tui.widgets.field import Field
from procedures.site.views import Typed
from procedures.trouble import Trouble


class TypedForm(AskWidget):
    """Holds the echo. What was understood and what is kept are the same `Typed`, so nothing slips in between."""

    def __init__(self, *given: object) -> None:
        super().__init__(*given)  # type: ignore[arg-type]
        self._understood: Typed | None = None
        self._at = 0.0

    def now(self) -> float:
        """Seconds of the site's clock, so that a key held down does not keep what nobody has read."""
        return float(getattr(self.screen, "now", lambda: 0.0)())

    def propose(self, typed: Typed) -> None:
        """Shows what the program makes of `typed`, or why it makes nothing of it."""
        try:
            words = self.understand(typed)
        except Trouble as trouble:
            self.forget()
            # Marked, so that what is typed or scanned next takes its place.
            self.query_one(Field).select_all()
            self.post_message(self.Troubled(trouble))
            return
        self._understood, self._at = typed, self.now()
        self.query_one(Echo).show(words)
        self.post_message(self.Troubled(None))
        self.call_after_refresh(self.query_one(Echo).scroll_visible, animate=False)

    def keep(self) -> None:
        """Keeps what was shown, unless it cannot have been read yet."""
        if self._understood is not None and self.now() - self._at >= QUIET:
            self.post_message(self.Given(self._understood))

    def forget(self) -> None:
        """Something was changed: what was understood no longer holds."""
        if self._understood is not None:
            self._understood = None
            self.query_one(Echo).show("")

    def on_echo_kept(self, event: Echo.Kept) -> None:
        event.stop()
        self.keep()

    def on_field_edited(self, event: Field.Edited) -> None:
        event.stop()
        self.forget()

    def on_field_refused(self, event: Field.Refused) -> None:
        event.stop()
        self.post_message(self.Troubled(event.trouble))


QUIET = 0.15
"""Seconds. A key held down repeats faster than this, a finger does not."""
