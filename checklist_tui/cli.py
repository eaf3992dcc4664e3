"""The command line: finds the command that was called, runs it, and turns whatever goes wrong into words.

This is the one place where trouble becomes lines on standard error and an exit code. A module of `commands` is imported
only when its command is called.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module
from pathlib import Path

from checklist_tui import __version__, crash, output
from checklist_tui.parsing import Configure, Parser, join_negative_values
from procedures.site.system import SystemClock, default_folder
from procedures.trouble import Trouble

COMMANDS = {
    "init": "begin a site: a guided start",
    "status": "every instrument: fitness, whereabouts, what is due",
    "people": "everybody on the list; set a PIN on this laptop",
    "inventory": "people, sources, instruments as tables, out and in",
    "profile": "check a profile, list its paths, rehearse it",
    "compute": "decay, air density, pressure, settling, acceptance, units",
    "report": "a sheet or a listing as a file: to print, as a table, as JSON",
    "verify": "are the records as they were written, and does each checkout hold",
    "exchange": "bring the records of several laptops together by a file",
    "backup": "write a copy of the records, verified",
    "restore": "begin anew from a backup",
    "demo": "try the program with an invented site",
    "practice": "practise on simulated instruments, apart from every real record",
}
"""The name of each command, which is also its module in `commands`, and a line about it."""

ABOUT = """Guided pre-use checkouts of radiation survey instruments.

Without a command the terminal interface opens; --plain puts the same questions line by line.
It does not replace calibration, the radiation safety officer, the licence or local rules."""

EXAMPLE = """checklist-tui demo
checklist-tui status --json
checklist-tui --plain --instrument C-101"""


def build_parser() -> Parser:
    """The whole command line. The commands' own arguments are filled in when they are called."""
    parser = Parser(prog="checklist-tui", description=ABOUT, example=EXAMPLE)
    parser.add_argument("--version", action="version", version=f"checklist-tui {__version__}")
    parser.add_argument("--data", metavar="DIR", help="folder of the site's records (default: this user's own)")
    parser.add_argument("--plain", action="store_true", help="line mode: numbered questions, no screen")
    parser.add_argument("--light", action="store_true", help="begin with the light screen, for glare")
    parser.add_argument("--no-bell", action="store_true", help="no bell when a wait ends")
    parser.add_argument("--instrument", metavar="LABEL", help="line mode: begin with this instrument")
    parser.add_argument("--person", metavar="BADGE", help="line mode: who does the checkout")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", dest="command", parser_class=Parser)
    for name, about in COMMANDS.items():
        commands.add_parser(name, help=about, description=about, configure=_configure(name))
    return parser


def _configure(name: str) -> Configure:
    def configure(parser: Parser) -> None:
        import_module(f"checklist_tui.commands.{name}").configure(parser)

    return configure


def main(argv: Sequence[str] | None = None) -> int:
    """Run the program with `argv` (the process's own by default) and return its exit code. Never raises."""
    words = join_negative_values(sys.argv[1:] if argv is None else argv)
    try:
        code = _run(words)
        if sys.stdout is not None:
            sys.stdout.flush()
    except KeyboardInterrupt:
        return output.INTERRUPTED
    except BrokenPipeError:
        output.let_go_of_stdout()
        return output.BROKEN_PIPE
    except Exception as error:  # the last resort: what is not foreseen must not end in a traceback
        return _fault(error, words)
    return code


def _run(words: list[str]) -> int:
    try:
        arguments = build_parser().parse_args(words)
        run = arguments.run if arguments.command else import_module("checklist_tui.commands.session").run
        return int(run(arguments))
    except Trouble as trouble:
        return _refuse(trouble, words)
    except SystemExit as done:  # --help and --version
        return int(done.code or 0)


def _refuse(trouble: Trouble, words: Sequence[str]) -> int:
    output.complain_of(trouble)
    if "--json" in words:
        output.write_json({"ok": False, "errors": [output.trouble_to_json(trouble)]})
    return output.BAD_INPUT


def _fault(error: Exception, words: Sequence[str]) -> int:
    if isinstance(error, OSError) and error.filename is None:
        output.complain([f"checklist-tui: what was asked for could not be written out: {error.strerror or error}"])
        output.let_go_of_stdout()
        return output.OUTPUT_LOST
    if isinstance(error, OSError):
        trouble = Trouble(
            f"{error.filename} cannot be used: {error.strerror}",
            allowed="a file or folder that this user may read, and write where records are kept",
            do="Check the path, its permissions and the space left on the disk.",
        )
        try:
            return _refuse(trouble, words)
        except OSError as lost:
            return _fault(OSError(lost.errno, lost.strerror), words)
    now = SystemClock().now().utc
    output.complain([crash.crash_words(crash.report(_data_folder(words), error, now))])
    return crash.EXIT_CODE


def _data_folder(words: Sequence[str]) -> Path:
    """The folder of the records in use, read without the parser since anything may have failed."""
    finder = argparse.ArgumentParser(add_help=False, exit_on_error=False)
    finder.add_argument("--data")
    finder.add_argument("--keep")
    with suppress(argparse.ArgumentError):
        named = finder.parse_known_args(words)[0]
        if named.keep or named.data:
            return Path(named.keep or named.data)
    return crash.passing_folder() if "demo" in words else default_folder()
