"""The demo: an invented site with a few weeks behind it, made with the same calls that a real site is made with.

Its journal is marked as a demonstration, so that it can never be opened as real records. Nothing in it is real.
"""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from procedures.clock import Clock, ManualClock
from procedures.site import demo_things
from procedures.site.demo_history import WEEKS_BACK, History
from procedures.site.opening import Site, create_site


def make_demo(folder: Path, clock: Clock) -> Site:
    """A demo site in this folder whose past ends at the present moment; it goes on with `clock`.

    Raises Trouble when the folder holds one already or cannot be written to.
    """
    now = clock.now()
    past = ManualClock(now.utc - WEEKS_BACK, offset=now.offset, session="the demo's past")
    site = create_site(
        folder,
        past,
        station=demo_things.STATION,
        name=demo_things.NAME,
        zone="Etc/UTC",
        # By shifts, a demo begun a minute before a shift's end would show everything stale a minute later.
        settings={"ready_ends": "profile"},
        marking="demo",
        station_name=demo_things.STATION_NAME,
    )
    try:
        things = demo_things.register(site, now.utc.date())
        with site.journal.made_up():
            History(site, past, now.utc, things, profile_texts()).write()
    except BaseException:
        site.close()
        raise
    site.clock = clock
    return site


def profile_texts() -> dict[str, str]:
    """The demo's profiles by file name."""
    folder = files("demo_profiles")
    return {kind.file: (folder / kind.file).read_bytes().decode() for kind in demo_things.KINDS}
