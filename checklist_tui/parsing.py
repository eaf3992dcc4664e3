"""Reading the command line: argparse, with the edges taken off that people cut themselves on."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable, Sequence
from typing import Any, NoReturn

from procedures.trouble import Trouble

Configure = Callable[["Parser"], None]

_NEGATIVE = re.compile(r"-\s?[0-9.,]")


class Parser(argparse.ArgumentParser):
    """A parser that raises Trouble instead of exiting, and that can be filled in when it is first used.

    `configure` adds the arguments of a command; it runs only when that command was called, so that the module of no
    other command is imported.
    """

    def __init__(self, *args: Any, configure: Configure | None = None, example: str = "", **kwargs: Any) -> None:
        kwargs.setdefault("formatter_class", argparse.RawDescriptionHelpFormatter)
        super().__init__(*args, **kwargs | {"allow_abbrev": False})
        self.color = False  # newer versions of argparse colour their help
        self.configure = configure
        if example:
            self.set_example(example)

    def set_example(self, example: str) -> None:
        """Lines that end the help: a command that can be copied."""
        lines = "\n".join(f"  {line}" for line in example.strip().splitlines())
        self.epilog = f"example:\n{lines}"

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        if self.configure is not None:
            configure, self.configure = self.configure, None
            configure(self)
        return super().parse_known_args(args, namespace)

    def error(self, message: str) -> NoReturn:
        raise Trouble(message, do=f"See {self.prog} --help")


def join_negative_values(argv: Sequence[str]) -> list[str]:
    """Tie a value that begins with a minus sign to its option: `--value -1` becomes `--value=-1`.

    argparse would take some such values ("-5%", "-1e3") for options. No option here begins with a figure.
    """
    joined: list[str] = []
    for word in argv:
        last = joined[-1] if joined else ""
        if _NEGATIVE.match(word) and last.startswith("--") and len(last) > 2 and "=" not in last:
            joined[-1] = f"{last}={word}"
        else:
            joined.append(word)
    return joined
