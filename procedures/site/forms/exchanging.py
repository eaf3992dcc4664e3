"""Forms for bringing the records of several laptops together by a file. Anybody may carry the stick."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Final

from procedures.sheets import Deed, Done, Form, FormField, Look
from procedures.site import exchange, local_time
from procedures.site.exchange import Coming, Received
from procedures.site.forms.common import Taken
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.site.forms import Entered
    from procedures.site.opening import Site

SHEET: Final = Deed("Laptops of this site", "sheet", "exchange")
LONGEST_PATH: Final = 1000


def path_of(text: str) -> Path:
    """A path as it was typed or pasted, quotes and a leading ~ understood. Raises Trouble for none.

    Nothing inside it is cleaned away as in other fields: a file may have two spaces in its name.
    """
    line = text.strip(" \t\r\n").strip("\"'")
    if not line or len(line) > LONGEST_PATH or not line.isprintable():
        raise Trouble(
            "no file is named" if not line else "that is no path",
            allowed="where the file is, such as /media/stick/north.exchange",
            do="Enter the path of the file.",
        )
    try:
        return Path(line).expanduser()
    except RuntimeError:
        raise Trouble("that is no path", allowed="a path without ~, or one's own ~", do="Enter it again.") from None


def coming(site: Site, text: str) -> Coming:
    """What a file says of itself. Raises Trouble when it may not be taken in here."""
    path = path_of(text)
    try:
        return exchange.look_at(site, path)
    except (OSError, ValueError) as fault:
        raise Trouble(
            f"the file cannot be read ({fault})", where=str(path), allowed="an exchange file", do="Look at the path."
        ) from None


class Out:
    """Writing a file for another laptop."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        """Where to, and since which file."""
        del about, person, entered, page
        age = exchange.exchange_age(site)
        return Form(
            "exchange-out",
            "Write a file for another laptop",
            "Say where the file goes.",
            (
                FormField("path", "file", example="/media/stick/north.exchange"),
                FormField(
                    "since",
                    "any file of the other laptop",
                    needed=False,
                    more="What it had then is left out. Empty: everything is written.",
                    example="/media/stick/south.exchange",
                ),
            ),
            says=(age,) if age else (),
            keep="Write it",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        """What is going to be written."""
        del about, person
        taken = Taken(entered)
        taken.read("path", lambda _: path_of(entered.get("path", "")))
        named = entered.get("since", "").strip(" ")
        since = taken.read("since", lambda _: coming(site, named)) if named else None
        if since is not None:
            said = f"Only what {since.station_name or since.station} had not on {local_time.said(site, since.written)}."
        else:
            said = "All records of this site."
        return taken.look(said)

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        """Write the file. Raises Trouble when it cannot be."""
        del about, person
        taken = Taken(entered)
        path = taken.read("path", lambda _: path_of(entered.get("path", "")))
        named = entered.get("since", "").strip(" ")
        since = taken.read("since", lambda _: path_of(named)) if named else None
        taken.whole()
        assert path is not None
        try:
            made = exchange.exchange_out(site, path, since=since)
        except (OSError, ValueError) as fault:
            raise Trouble(
                f"the file cannot be written ({fault})",
                where=str(path),
                allowed="a path you may write to",
                do="Look at it.",
            ) from None
        return Done(
            f"Written: {made.path}, {_number(made.events, 'record')}.",
            "Let the stick finish, then take the file in on the other laptop.",
            SHEET,
        )


class In:
    """Taking a file of another laptop in."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        """Which file."""
        del about, person, entered, page
        age = exchange.exchange_age(site)
        return Form(
            "exchange-in",
            "Take a file of another laptop in",
            "Say where the file is.",
            (FormField("path", "file", example="/media/stick/south.exchange"),),
            says=("It is looked at whole before anything of it is taken.", *((age,) if age else ())),
            keep="Take it in",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        """Whose file it is, of when, and how much is in it."""
        del about, person
        taken = Taken(entered)
        found = taken.read("path", lambda _: coming(site, entered.get("path", "")))
        if found is None:
            return taken.look()
        return taken.look(
            f"Of {found.site}, by {found.station_name or found.station}, {local_time.said(site, found.written)}.",
            f"{_number(found.events, 'record')} in it{'' if found.whole else ', what another laptop had not'}.",
        )

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        """Take it in: all of it or nothing. Raises Trouble when it may not be."""
        del about, person
        taken = Taken(entered)
        path = taken.read("path", lambda _: path_of(entered.get("path", "")))
        taken.check("path", lambda: coming(site, entered.get("path", "")))
        taken.whole()
        assert path is not None
        received = exchange.exchange_in(site, path)
        return Done(f"Taken in: {_number(received.added, 'new record')}.", " ".join(told(received)), SHEET)


def told(received: Received) -> Iterator[str]:
    """What came of a file, in the order in which somebody must act on it."""
    if received.locked:
        yield f"LOCKED OUT now: {', '.join(received.locked)}."
    yield from (each.words for each in received.call_back)
    yield from (f"WITHDRAWN now: {each}." for each in received.withdrawn)
    for each in received.doubts:
        uses = f"{each.uses} {'use' if each.uses == 1 else 'uses'}"
        yield f"IN DOUBT now: {uses} of {each.label}."
    gaps = sum(one.why == "gap" for one in received.waiting)
    if gaps:
        yield f"WAITING: {_number(gaps, 'record')}, for others that are missing. Take that file in too."
    if len(received.waiting) > gaps:
        early = _number(len(received.waiting) - gaps, "record")
        yield f"WAITING: {early}, of a time that has not come. Look which laptop's clock is wrong."
    if received.forks:
        yield "A laptop's records were copied and used twice: tell the site lead."
    if received.shared:
        labels = ", ".join(each.label for each in received.shared)
        yield f"Labels that several things carry: {labels}. None may be used."
    if received.apart:
        yield f"Adopted apart, so not in force: {', '.join(each.profile for each in received.apart)}."
    if received.lacking:
        yield f"That laptop lacks {_number(received.lacking, 'record')} of those here: write a file for it too."


def _number(count: int, what: str) -> str:
    return f"{count:,} {what}{'' if count == 1 else 's'}"
