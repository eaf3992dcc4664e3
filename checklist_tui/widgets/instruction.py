"""The one thing to do now: alone, in large plain words, never folded away."""

from __future__ import annotations

from textual.content import Content
from textual.widgets import Static


class Instruction(Static):
    """The instruction, with "2 of 3" before it where there are parts."""

    def __init__(self, say: str = "", part: tuple[int, int] | None = None) -> None:
        super().__init__(markup=False)
        self.say(say, part)

    def say(self, say: str, part: tuple[int, int] | None = None) -> None:
        """Shows another instruction."""
        kicker = Content.styled(f"{part[0]} of {part[1]}\n", "not bold") if part else Content("")
        self.update(kicker + Content.styled(say, "bold"))
