"""Forms that say where something is, and that an instrument is contaminated or clean again."""
# ruff: noqa: ARG002  what a form is asked is the same for all of them: forms.Task

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from procedures.asks import Option
from procedures.reasons import reason
from procedures.sheets import Done, Form, FormField, Look
from procedures.site import inventory
from procedures.site.entries import thing, words
from procedures.site.forms.common import Taken, one_of, pin_field
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.states import ThingState
    from procedures.site.forms import Entered
    from procedures.site.opening import Site

PLACES: Final = (
    Option("here", "here"),
    Option("in storage", "in storage"),
    Option("at calibration", "at calibration"),
    Option("lent", "lent to somebody else"),
    Option("borrowed", "here, borrowed from somebody else"),
    Option("transferred", "transferred to another licence or owner"),
    Option("missing", "missing"),
    Option("disposed", "disposed of"),
)
TELL_NOW: Final = "TELL THE RADIATION SAFETY OFFICER NOW."
DONT_SEARCH_ALONE: Final = "Your local rules and the licence say what else has to be done, and how soon."


class Place:
    """Says where an instrument, source or jig is. That it is missing may be said by anyone."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        known = thing(site, about, "instrument", "source", "jig")
        now, where = _now(site, known)
        source = known.what == "source"
        return Form(
            "place",
            f"Where {known.fields['label']} is",
            "Say where it is.",
            (
                FormField(
                    "whereabouts",
                    "it is",
                    "choice",
                    entered.get("whereabouts", ""),
                    options=PLACES,
                    more=f"So far: {now}.",
                ),
                FormField(
                    "where",
                    "where, or with whom",
                    value=entered.get("where", where),
                    needed=False,
                    example="north store, shelf 2",
                ),
                *_pin_unless(site, "Not needed to say that it is missing."),
            ),
            about=about,
            says=("Anyone may say that it is missing. The rest takes a site lead.",),
            caution=f"If a source is missing: {TELL_NOW}" if source else "",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        taken = Taken(entered)
        whereabouts = taken.read("whereabouts", one_of(PLACES))
        taken.read("where", lambda text: words("place", text, needed=False))
        try:
            known = thing(site, about, "instrument", "source", "jig")
        except Trouble as trouble:
            return Look(troubles={"whereabouts": trouble})
        if whereabouts not in (None, "missing"):
            taken.check("whereabouts", lambda: inventory.not_handed_out(site, known))
        lines = _lost_or_found(site, known, whereabouts or "")
        return Look(lines, dict(taken.troubles), "bad" if lines else "")

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        taken = Taken(entered)
        whereabouts = taken.read("whereabouts", one_of(PLACES)) or ""
        taken.whole()
        known = thing(site, about, "instrument", "source", "jig")
        then = " ".join(_lost_or_found(site, known, whereabouts))
        where = taken.text("where")
        inventory.place(site, about, whereabouts, where, person=person, pin=entered.get("pin"))
        said = f"{known.fields['label']} is recorded as {whereabouts}"
        return Done(f"{said}, {where}." if where else f"{said}.", then)


def _now(site: Site, known: ThingState) -> tuple[str, str]:
    """Where a thing is recorded to be now."""
    if known.what == "instrument":
        state = site.journal.instrument_now(known.id)
        return state.whereabouts, "" if state.handed else state.where
    if known.what == "source":
        source = site.journal.source_now(known.id)
        return source.whereabouts, source.where
    placed = site.journal.about(known.id, kinds=("placed",), limit=1)
    return (str(placed[0].body["whereabouts"]), str(placed[0].body["where"])) if placed else ("here", "")


def _lost_or_found(site: Site, known: ThingState, whereabouts: str) -> tuple[str, ...]:
    """What a missing source takes, and one that turned up again."""
    if known.what != "source" or not whereabouts:
        return ()
    if whereabouts == "missing":
        return (TELL_NOW, DONT_SEARCH_ALONE)
    if _now(site, known)[0] == "missing":
        return (
            "Tell the radiation safety officer that it was found.",
            "It may be damaged: have it looked over and leak-tested before it is used.",
        )
    return ()


def _pin_unless(site: Site, more: str) -> tuple[FormField, ...]:
    return tuple(FormField(each.id, each.say, each.kind, needed=False, more=more) for each in pin_field(site))


FOUND: Final = (
    Option("found", "it is contaminated"),
    Option("clean", "it was shown to be clean again"),
)


class Contamination:
    """Says that an instrument was found contaminated, by anyone, or that it is clean again, by a lead."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        known = thing(site, about, "instrument")
        contaminated = site.journal.instrument_now(about).contaminated
        return Form(
            "contamination",
            f"Contamination of {known.fields['label']}",
            "Say what was found.",
            (
                FormField(
                    "found",
                    "what was found",
                    "choice",
                    entered.get("found", ""),
                    options=FOUND,
                    more="So far it is recorded as contaminated." if contaminated else "So far none is recorded.",
                ),
                FormField(
                    "say",
                    "where on it, or by what it was shown to be clean",
                    value=entered.get("say", ""),
                    needed=False,
                    example="wipe of the handle, 4 Bq",
                ),
                *_pin_unless(site, "Not needed to say that it is contaminated."),
            ),
            about=about,
            says=("Anyone may say that it is contaminated. That it is clean again takes a site lead.",),
            caution=reason("contaminated").do,
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        taken, found = self._taken(site, about, entered)
        return Look((reason("contaminated").do,) if found else (), dict(taken.troubles), "bad" if found else "")

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        taken, found = self._taken(site, about, entered)
        taken.whole()
        inventory.contamination(
            site, about, found=bool(found), say=taken.text("say"), person=person, pin=entered.get("pin")
        )
        label = site.journal.thing_now(about).fields["label"]
        if found:
            return Done(f"{label} is recorded as contaminated.", reason("contaminated").do)
        return Done(f"{label} is recorded as clean again.")

    def _taken(self, site: Site, about: str, entered: Entered) -> tuple[Taken, bool | None]:
        taken = Taken(entered)
        taken.check("found", lambda: thing(site, about, "instrument"))
        said = None if taken.troubles else taken.read("found", one_of(FOUND))
        found = None if said is None else said == "found"
        needed = found is False
        taken.read(
            "say", lambda text: words("way it was shown to be clean" if needed else "remark", text, needed=needed)
        )
        if needed and not site.journal.instrument_now(about).contaminated:
            taken.check("found", _was_clean)
        return taken, found


def _was_clean() -> None:
    raise Trouble(
        "no contamination of it is recorded", allowed="that it is contaminated", do="Nothing is needed if it is clean."
    )
