"""The one error for whatever a person typed, scanned, pasted or wrote in a file.

It carries what a person needs to get on: what is wrong, where, what is allowed, what to do. One place in each front
end turns it into words; it never reaches anybody as a traceback.
"""

from __future__ import annotations


class Trouble(Exception):  # noqa: N818  it is trouble that a person can mend, not a fault of the program
    """Something a person can put right.

    `what` is wrong, `where` (file, line, field), what is `allowed`, what to `do`. Empty parts are left out.
    """

    def __init__(self, what: str, *, where: str = "", allowed: str = "", do: str = "") -> None:
        super().__init__(what)
        self.what = what
        self.where = where
        self.allowed = allowed
        self.do = do

    def lines(self) -> tuple[str, ...]:
        """The parts as sentences, one a line, in the order a person needs them."""
        first = f"{self.where}: {self.what}" if self.where else self.what
        parts = [first]
        if self.allowed:
            parts.append(f"Allowed: {self.allowed}")
        if self.do:
            parts.append(f"Do: {self.do}")
        return tuple(parts)

    def __str__(self) -> str:
        return "\n".join(self.lines())

    def __rich__(self) -> str:
        # An unhandled exception would otherwise print local variables, names and serial numbers among them.
        from rich.markup import escape

        return escape(str(self))
