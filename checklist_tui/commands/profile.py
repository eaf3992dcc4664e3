"""`checklist-tui profile`: check profiles, list the paths through one, rehearse one, print a form for a dead laptop."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from checklist_tui import line_results, output
from checklist_tui.at_site import open_named
from checklist_tui.line_words import duration, sentence
from checklist_tui.parsing import Parser

if TYPE_CHECKING:
    from procedures.site.profiles import FileError
    from procedures.site.rehearsal import RehearsalResult
    from procedures.site.rehearsal_file import AnswersErrors

Run = Callable[[argparse.Namespace], int]


def configure(parser: Parser) -> None:
    """Add what can be done with a profile."""
    parser.set_example("checklist-tui profile check chamber.toml\nchecklist-tui profile paths chamber.toml")
    kinds = parser.add_subparsers(title="actions", metavar="ACTION", dest="action", required=True, parser_class=Parser)

    def add(name: str, about: str, example: str, run: Run) -> argparse.ArgumentParser:
        one: argparse.ArgumentParser = kinds.add_parser(name, help=about, description=about, example=example)
        one.add_argument("--json", action="store_true", help="one JSON object on standard output")
        one.set_defaults(run=run)
        return one

    check = add("check", "read and prove profiles", "checklist-tui profile check chamber.toml counter.toml", run_check)
    check.add_argument("file", metavar="FILE", nargs="+", help="a profile, TOML")
    about = "every path through a profile, and how often a healthy instrument would fail each limit"
    paths = add("paths", about, "checklist-tui profile paths chamber.toml --json", run_paths)
    paths.add_argument("file", metavar="FILE", help="a profile, TOML")
    about = "run a profile against scripted answers in virtual time; nothing is recorded"
    rehearse = add(
        "rehearse", about, "checklist-tui profile rehearse chamber.toml --answers good-day.toml", run_rehearse
    )
    rehearse.add_argument("file", metavar="FILE", help="a profile, TOML")
    rehearse.add_argument("--answers", metavar="FILE", required=True, help="scripted answers, TOML")
    about = "what is different in another revision of a profile, by meaning; what is loosened is marked"
    compare = add("compare", about, "checklist-tui profile compare chamber-1.toml chamber-2.toml", run_compare)
    compare.add_argument("before", metavar="BEFORE", help="the revision in use, TOML")
    compare.add_argument("after", metavar="AFTER", help="the other revision, TOML")
    schema = kinds.add_parser(
        "schema",
        help="the format of profiles as a JSON Schema, for editors that check TOML",
        description="the format of profiles as a JSON Schema, for editors that check TOML",
        example="checklist-tui profile schema > profile.schema.json",
    )
    schema.set_defaults(run=run_schema)
    about = "a blank form of the profile in force, to be filled in on paper when the laptop cannot be used"
    blank = add(
        "print", about, "checklist-tui profile print C-101 --html form.html --expected expected.html", run_print
    )
    blank.add_argument(
        "what", metavar="LABEL-or-PROFILE", help="an instrument's label, or the id of an adopted profile"
    )
    blank.add_argument(
        "--data",
        metavar="DIR",
        default=argparse.SUPPRESS,
        help="folder of the site's records (default: this user's own)",
    )
    blank.add_argument("--html", metavar="FILE", required=True, help="write the form here")
    blank.add_argument("--expected", metavar="FILE", help="write what an instrument is expected to show here")


def run_check(given: argparse.Namespace) -> int:
    """Exit 0 when every profile can be used, else 2 with every mistake."""
    from procedures.site import profiles

    reports = [profiles.check_file(Path(file)) for file in given.file]
    errors = [error for report in reports for error in report.errors]
    if errors:
        return _refuse(errors, as_json=given.json)
    if given.json:
        files = [{"file": report.file, "summary": list(report.summary)} for report in reports]
        output.write_json({"ok": True, "files": files})
    else:
        output.write("\n".join(line for report in reports for line in (f"{report.file}: ok", *report.summary)))
    return output.OK


def run_paths(given: argparse.Namespace) -> int:
    """Print the path table of one profile."""
    from procedures.site import profiles

    path = Path(given.file)
    report = profiles.check_file(path)
    if not report.ok:
        return _refuse(report.errors, as_json=given.json)
    rows, chances = profiles.path_table(path), profiles.limit_chances(path)
    if given.json:
        output.write_json({"ok": True, "file": report.file, "paths": rows, "limits": chances})
    else:
        output.write("\n".join(_table_lines(rows, chances)))
    return output.OK


def run_rehearse(given: argparse.Namespace) -> int:
    """Print findings and ending. Exit 1 when the answers file expects another ending than it leads to."""
    from procedures.site import profiles, rehearsal
    from procedures.site.rehearsal_file import AnswersErrors

    report = profiles.check_file(Path(given.file))
    if not report.ok:
        return _refuse(report.errors, as_json=given.json)
    try:
        result = rehearsal.rehearse(Path(given.file), Path(given.answers))
    except AnswersErrors as refused:
        return _refuse(_in_answers(given.answers, refused), as_json=given.json)
    as_expected = result.matches is not False
    if given.json:
        output.write_json({"ok": True, **result.to_json()})
    else:
        output.write("\n".join(_rehearsal_lines(result)))
    return output.OK if as_expected else output.NOT_AS_EXPECTED


def run_compare(given: argparse.Namespace) -> int:
    """Print every difference. Exit 1 when something is loosened, cannot be weighed, or leads to fit for use anew."""
    from procedures.site import profile_compare

    found = profile_compare.compare_files(Path(given.before), Path(given.after))
    if given.json:
        output.write_json({"ok": True, **found.body})
    else:
        marked = f"{found.flagged} marked with “!”: look at each before it is adopted." if found.flagged else ""
        output.write("\n".join(line for line in (*found.lines, marked) if line))
    return output.NOT_AS_EXPECTED if found.flagged else output.OK


def run_schema(given: argparse.Namespace) -> int:
    """Print the JSON Schema of the profile format."""
    del given
    import json

    from procedures.site import profile_compare

    output.write(json.dumps(profile_compare.json_schema(), indent=2, ensure_ascii=False))
    return output.OK


def run_print(given: argparse.Namespace) -> int:
    """Write a blank form with a number of its own, and on a sheet apart the values that are expected."""
    from procedures.site import paper, printing
    from procedures.site.paper_form import form_number
    from procedures.site.system import new_station_id

    with open_named(given.data) as site:
        about = paper.form_meant(site, given.what)
        number = form_number(new_station_id())
        files = {}
        if given.expected is not None:
            files["expected"] = printing.write(site, "paper-expected", about, path=Path(given.expected))
        files["html"] = printing.write(site, "paper-form", f"{about},{number}", path=Path(given.html))
    if given.json:
        output.write_json({"ok": True, "form": number, **{name: str(path) for name, path in files.items()}})
        return output.OK
    output.write("\n".join([*(f"Written: {path}" for path in files.values()), f"Form number: {number}"]))
    return output.OK


def _in_answers(file: str, refused: AnswersErrors) -> list[FileError]:
    """The mistakes of an answers file by their place, as those of a profile are given."""
    from procedures.site.profiles import FileError

    def in_words(mistake: Any) -> str:
        more = (("found", mistake.found), ("allowed", mistake.allowed), ("example", mistake.example))
        return "\n".join([mistake.message, *(f"{name}: {text}" for name, text in more if text)])

    return [FileError(file, each.line, each.column, each.key, in_words(each)) for each in refused.errors]


def _refuse(errors: Iterable[FileError], *, as_json: bool) -> int:
    errors = list(errors)
    output.complain(line for error in errors for line in _error_lines(error))
    if as_json:
        output.write_json({"ok": False, "errors": [error.to_json() for error in errors]})
    return output.BAD_INPUT


def _error_lines(error: FileError) -> list[str]:
    place = f"{error.file}:{error.line}:{error.column}" if error.line else error.file
    first, *rest = error.message.splitlines() or [""]
    return [": ".join(part for part in (place, error.key, first) if part), *(f"  {line.strip()}" for line in rest)]


# --- the path table ------------------------------------------------------------------------------------------------


def _table_lines(rows: Iterable[Mapping[str, Any]], chances: Iterable[Mapping[str, Any]]) -> list[str]:
    lines: list[str] = []
    for row in rows:
        ending = ", ".join([row["ending"], *row["codes"]])
        times = f"{duration(row['shortest_seconds'])} to {duration(row['longest_seconds'])}"
        lines.append(f"{row['shows']}: {ending}. {times}.")
        lines.append(f"  {' > '.join(_hop(hop) for hop in row['hops']) or 'nothing is done'}")
    lines.append("How often a healthy instrument would fail a limit:")
    for row in chances:
        lines.append(f"{row['step']}, {row['limit']}: {_chance(row['chance'])}.")
        lines.append(f"  Assumed: {row['assumed']}.")
    return lines


def _hop(hop: Mapping[str, Any]) -> str:
    """A step that passed by its name alone; whatever else happened in words."""
    if hop["action"]:
        return f"({hop['action']} {hop['outcome']})"
    return str(hop["step"]) if hop["outcome"] == "pass" else f"{hop['step']} {hop['outcome'].upper()}"


def _chance(chance: float) -> str:
    return "less than 1 in a million" if chance < 1e-6 else f"{chance:.2g}"


# --- a rehearsal ---------------------------------------------------------------------------------------------------


def _rehearsal_lines(result: RehearsalResult) -> list[str]:
    lines = [sentence(f"REHEARSAL of {result.title}, revision {result.revision}. Nothing is recorded")]
    if result.about:
        lines.append(sentence(result.about))
    for made in result.findings:
        lines += line_results.finding_lines(made)
    lines.append(f"Ending: {result.ending}.")
    lines += [sentence(f"Reason {reason.code}: {reason.say}") for reason in result.reasons]
    lines += [sentence(f"Missing: {missing}") for missing in result.missing]
    lines += [sentence(f"Tell the site lead: {line}") for line in result.tell]
    lines += [f"Source {label} was not scanned back." for label in result.sources_out]
    lines.append(f"{result.asks} questions, {duration(result.seconds)}.")
    lines += [f"Never asked for: {place}." for place in result.unused]
    if result.matches is False:
        expected = ", ".join([result.expected_ending, *result.expected_reasons])
        lines.append(f"NOT AS EXPECTED: the answers file expects {expected}.")
    elif result.matches:
        lines.append("As the answers file expects.")
    return lines
