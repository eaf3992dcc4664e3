"""`checklist-tui init`: a guided start, question by question, or from a file that answers them all."""

from __future__ import annotations

import argparse
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Any

from checklist_tui import output, plain_talk
from checklist_tui.at_site import folder_named
from checklist_tui.parsing import Parser
from checklist_tui.plain_talk import ask, choose, tell
from procedures.site.opening import JOURNAL
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.site.beginning import Beginning, Lead
    from procedures.site.beginning_file import BeginningErrors


def configure(parser: Parser) -> None:
    """Add the options."""
    parser.set_example("checklist-tui init --data site\nchecklist-tui init --data site --from site.toml --no-pin")
    parser.add_argument(
        "--data",
        metavar="DIR",
        default=argparse.SUPPRESS,
        help="folder for the site's records (default: this user's own)",
    )
    parser.add_argument("--from", metavar="FILE", dest="file", help="a TOML file that answers the questions")
    parser.add_argument(
        "--no-pin",
        action="store_true",
        help="do not ask for the lead's PIN; it is set later, before anything is cleared",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object on standard output; needs --from")
    parser.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Ask or read, then begin the site and say what to do next."""
    folder = folder_named(given.data)
    _must_be_free(folder)
    if given.json and not given.file:
        raise Trouble("questions cannot be answered with JSON", where="--json", do="Give a file with --from.")
    from procedures.site import beginning_file

    try:
        plan = beginning_file.read_beginning(Path(given.file)) if given.file else None
    except beginning_file.BeginningErrors as refused:
        return _refuse(given, refused)
    wants_pin = not given.no_pin and (plan is None or plan.settings["pins"] != "off")
    if wants_pin and not plain_talk.is_terminal():
        raise Trouble(
            "the lead's PIN is typed at a terminal, and standard input is none",
            allowed="a terminal; or --no-pin, and the lead sets it later with: checklist-tui people pin BADGE",
            do="Start it from a terminal, or add --no-pin.",
        )
    if plan is None:
        plan = questions()
        _must_be_meant(plan, folder)
    pin = _new_pin(plan.lead) if wants_pin else None
    return _begin(folder, plan, pin, as_json=given.json, named=given.data is not None)


def _must_be_free(folder: Path) -> None:
    """Before twelve questions are answered in vain."""
    if (folder / JOURNAL["real"]).exists():
        raise Trouble(
            "a site was begun here already",
            where=str(folder),
            allowed="a folder without one",
            do="Name another folder with --data, or look at this one: checklist-tui status",
        )
    if folder.exists() and not folder.is_dir():
        raise Trouble("this is a file, not a folder", where=str(folder), allowed="a folder", do="Name a folder.")


def _must_be_meant(plan: Beginning, folder: Path) -> None:
    """Everything that was answered, once more. Raises Trouble when it is not to be written like this."""
    lead, said = plan.lead, plan.settings
    until = f"trained until {lead.trained_until}" if lead.trained_until else "training without an end"
    tell(
        "",
        "This is what will be written:",
        f"  site       {plan.name}",
        f"  time       {plan.zone}; the day begins at {plan.day_starts}, shifts at {', '.join(plan.shifts)}",
        f"  lead       {lead.name} ({lead.initials}), badge {lead.label}, {until}",
        f"  tolerance  {said['tolerance']}, by {said['tolerance_source']}",
        f"  units      {said['units']}; air {said['air_reference']}",
        f"  profiles   {', '.join(plan.profiles) or 'none'}",
        f"  folder     {folder}",
    )
    if not plain_talk.agreed("Begin this site?"):
        raise Trouble("nothing was begun, as you said", do="Start again to answer the questions anew.")


def _begin(folder: Path, plan: Beginning, pin: str | None, *, as_json: bool, named: bool) -> int:
    from procedures.site import beginning
    from procedures.site.next_steps import next_steps
    from procedures.site.system import SystemClock, new_salt, new_station_id

    made = beginning.begin(folder, SystemClock(), plan, station=new_station_id(), salt=new_salt(), pin=pin)
    with made as site:
        station, todo = site.journal.station, next_steps(site)
    if as_json:
        output.write_json({"ok": True, "folder": str(folder), "station": station, "next": list(todo)})
        return output.OK
    tell(f"The site {plan.name} has begun in {folder}.")
    if plan.profiles:
        tell("The profiles adopted are examples with invented values: put your own in their place before real use.")
    tell(*todo)
    where = f" --data {quote(str(folder))}" if named else ""
    tell(f"Start the program: checklist-tui{where}")
    return output.OK


def _new_pin(lead: Lead) -> str:
    from procedures.site import secrets

    tell(f"The PIN of {lead.name}: {secrets.ALLOWED}. It is kept on this laptop alone, and nobody can read it there.")
    return plain_talk.new_pin(lambda pin: secrets.well_chosen(pin, (lead.label, lead.name, lead.initials)))


def _refuse(given: argparse.Namespace, refused: BeginningErrors) -> int:
    output.complain([*refused.lines(), f"Do: {refused.do}"])
    if given.json:
        errors: list[dict[str, Any]] = [
            {"file": given.file, "line": each.line, "column": each.column, "key": each.key, "message": _in_words(each)}
            for each in refused.errors
        ]
        output.write_json({"ok": False, "errors": errors})
    return output.BAD_INPUT


def _in_words(mistake: Any) -> str:
    more = (("found", mistake.found), ("allowed", mistake.allowed), ("example", mistake.example))
    return "\n".join([mistake.message, *(f"{name}: {text}" for name, text in more if text)])


# --- the questions -------------------------------------------------------------------------------------------------


def questions() -> Beginning:
    """Everything that is decided about a site, asked one after the other. Nothing is written meanwhile."""
    from procedures.site import beginning

    tell(
        "A new site. An empty line takes what stands in brackets; nothing is written before you have seen it all.",
        "What your licence, your radiation safety officer and local rules say goes before what is suggested here.",
    )
    name = ask("Name of the site", lambda typed: beginning.line("name", typed))
    zone = ask("Time zone, such as Europe/Vienna", beginning.zone_named, "Etc/UTC")
    day_starts = ask("When the site's day begins", beginning.time_named, "06:00")
    shifts = ask("When shifts begin", beginning.shifts_named, "06:00, 14:00, 22:00")
    lead = _lead()
    tolerance = ask(
        "Tolerance of a check against the reference reading, in your words",
        lambda typed: beginning.line("tolerance", typed),
        "20 %",
    )
    source = ask(
        "Whose rule that is, such as a condition of the licence", lambda typed: beginning.line("source", typed)
    )
    units = choose("Units", beginning.UNITS, "SI")
    air = choose("Air to which readings of vented chambers are brought", beginning.AIR, "iaea")
    return beginning.Beginning(
        name=name,
        zone=zone,
        day_starts=day_starts,
        shifts=shifts,
        lead=lead,
        settings={"tolerance": tolerance, "tolerance_source": source, "units": units, "air_reference": air},
        profiles=_profiles(),
    )


def _lead() -> Lead:
    from procedures.site import beginning, people

    def fits(field: str, typed: str) -> str:
        fields = {"label": "-", "name": "-", "initials": "-"} | {field: typed}
        return str(people.draft(**fields, roles=["lead"]).body[field])  # type: ignore[arg-type]

    tell("The first site lead: clears lockouts, adopts profiles, keeps the list of people.")
    return beginning.Lead(
        ask("Badge, as it is scanned", lambda typed: fits("label", typed)),
        ask("Name", lambda typed: fits("name", typed)),
        ask("Initials", lambda typed: fits("initials", typed)),
        ask("Training valid until, year-month-day, or nothing", beginning.date_named),
    )


def _profiles() -> tuple[str, ...]:
    from procedures.site import beginning

    shipped = beginning.shipped()
    tell(
        "Profiles that come with the program are examples with invented values, to be replaced by your own:",
        *(f"  {number}  {each.title}" for number, each in enumerate(shipped, 1)),
    )

    def read(typed: str) -> tuple[str, ...]:
        chosen = typed.replace(",", " ").split()
        numbers = {str(number): each.id for number, each in enumerate(shipped, 1)}
        if not all(each in numbers for each in chosen):
            raise Trouble("there is no profile of that number", allowed=f"1 to {len(shipped)}, or nothing")
        return tuple(dict.fromkeys(numbers[each] for each in chosen))

    return ask("Numbers of those to adopt as a start, or nothing", read)
