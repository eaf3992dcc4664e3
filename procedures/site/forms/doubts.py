"""The form for looking into a use that is in doubt. `about` is "instrument,cause,use"."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from procedures.asks import Option
from procedures.sheets import Deed, Done, Form, FormField, Look
from procedures.site import doubtful, local_time, naming
from procedures.site.doubt_counts import not_reviewed
from procedures.site.forms.common import Taken, pin_field
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.site.doubtful import Doubted
    from procedures.site.forms import Entered
    from procedures.site.opening import Site


class ReviewUse:
    """Saying that a use in doubt was looked into, and what was decided."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        """The use, why it is in doubt, and a note. Raises Trouble when it is not in doubt, or not for this person."""
        del entered, page
        instrument, cause, use = _parts(about)
        why, one = doubtful.in_doubt(site, instrument, cause, use)
        if person:
            _entitled(site, person)
        return Form(
            "review-use",
            f"A use of {naming.label(site, instrument)} in doubt",
            "Say what was looked into, and what was decided.",
            (
                *_reasons(site, about),
                FormField("note", "note", example="surveyed again with C-2: below the limit everywhere"),
                *pin_field(site),
            ),
            about=about,
            says=(
                f"{local_time.said(site, one.when)}, {naming.name(site, one.to)}: {one.job}, {one.place}.",
                f"In doubt because: {_because(site, why)}",
                *(
                    f"Looked into by {naming.name(site, each.person)}, {local_time.said(site, each.when)}: {each.note}"
                    for each in one.reviews
                ),
            ),
            caution="What was released, posted or entered on its word is for the radiation safety officer to decide.",
            keep="Keep this note",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        """What will be recorded."""
        return self._read(site, about, person, entered).look("The use stays on the list, as looked into by you.")

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        """Record it. Raises Trouble unless this person may."""
        self._read(site, about, person, entered).whole()
        instrument, _, use = _parts(about)
        causes, note = _causes(about, entered), entered.get("note", "")
        doubtful.review(site, instrument, person, causes=causes, use=use, note=note, pin=entered.get("pin"))
        waiting = not_reviewed(site, instrument)
        left = f"Still to be looked into, of this instrument: {waiting.words}." if waiting.entries else ""
        return Done("The use is recorded as looked into.", left, Deed("Uses in doubt", "sheet", "doubt", instrument))

    def _read(self, site: Site, about: str, person: str, entered: Entered) -> Taken:
        taken = Taken(entered)
        instrument, _, use = _parts(about)
        taken.read("note", doubtful.note_of)
        for cause in _causes(about, entered):
            taken.check("note", partial(doubtful.in_doubt, site, instrument, cause, use))
        taken.check("note", lambda: _entitled(site, person))
        return taken


def _entitled(site: Site, person: str) -> None:
    why_not = doubtful.may_review(site, person)
    if why_not:
        raise Trouble(why_not, allowed=doubtful.REVIEWER, do="Ask the site lead.")


def _because(site: Site, why: Doubted) -> str:
    return f"{why.what} ({local_time.said(site, why.found_at)})"


def _reasons(site: Site, about: str) -> tuple[FormField, ...]:
    """Whether the note is for all failures that put this use in doubt; nothing to choose where there is one.

    A choice names the failures that are shown: what comes to light later is looked into by itself.
    """
    instrument, cause, use = _parts(about)
    found: dict[str, list[str]] = {}
    for why, _ in (doubtful.in_doubt(site, instrument, cause, use), *doubtful.causes_open(site, instrument, use)):
        said = found.setdefault(why.cause, [])
        said += [] if _because(site, why) in said else [_because(site, why)]
    if len(found) < 2:
        return ()
    every = ",".join(found)
    options = (
        Option(every, f"All {len(found)} reasons for which it is in doubt"),
        *(Option(each, f"Only: {' '.join(said)}") for each, said in found.items()),
    )
    return (FormField("causes", "the note is for", "choice", every, options=options),)


def _causes(about: str, entered: Entered) -> tuple[str, ...]:
    """The failures that the note is for: those chosen, else the one that the form was opened for."""
    chosen = tuple(each.strip() for each in entered.get("causes", "").split(",") if each.strip())
    return chosen or (_parts(about)[1],)


def _parts(about: str) -> tuple[str, str, str]:
    instrument, _, rest = about.partition(",")
    cause, _, use = rest.partition(",")
    return instrument, cause, use
