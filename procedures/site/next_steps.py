"""What a site that was just begun still lacks, and the command for it. Light: `status` asks it."""

from __future__ import annotations

from shlex import quote

from procedures.site import secrets
from procedures.site.opening import Site


def next_steps(site: Site) -> tuple[str, ...]:
    """What to do next, in order, each as a sentence; empty once there are instruments to check."""
    if site.journal.instruments_found("", limit=1)[1]:
        return ()
    where = f"--data {quote(str(site.folder))}"
    everybody = site.journal.people(limit=-1)
    leads = [row for row in everybody if "lead" in row.roles]
    said = []
    if secrets.pins_wanted(site) and leads and not any(secrets.has_pin(site, row.id) for row in leads):
        said.append(f"Set the lead's PIN: checklist-tui people pin {leads[0].label} {where}")
    if not any(row.adoption for row in site.journal.profiles(limit=-1)):
        said.append("Write a profile for each type of instrument, and check it: checklist-tui profile check FILE")
    said.append(
        "Write the lists of people, jigs, sources and instruments, and take them in: "
        f"checklist-tui inventory import FOLDER {where}"
    )
    return tuple(said)
