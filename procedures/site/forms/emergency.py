"""The form for an unchecked instrument in an emergency: by whose authority, and when to turn back. Never called fit."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING, Final

from procedures.asks import Option
from procedures.journal.states import fitness
from procedures.sheets import Deed, Done, Form, FormField, Look
from procedures.site import emergency, handouts, local_time, naming
from procedures.site.emergency import Reported
from procedures.site.forms.common import Taken, meant, yes
from procedures.site.handouts import instrument_here, words_of
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.site.forms import Entered
    from procedures.site.opening import Site

BEFORE_OR_AFTER: Final = (
    Option("before", "It goes out now"),
    Option("after", "It was used already; this is reported afterwards"),
)
LOCKED: Final = (
    "It is LOCKED OUT: it is never taken, not in an emergency either. Only a use that has happened already is recorded "
    "here, and the radiation safety officer is told of it."
)
UNCHECKED: Final = "NOT CHECKED. What is done with it is in doubt until a complete check after the use has passed."
WORDS: Final = (
    ("job", "what it is for"),
    ("place", "where it goes"),
    ("authority", "by whose authority it is used"),
    ("why", "why it cannot be checked first"),
    ("turn_back", "when to turn back"),
)


class EmergencyUse:
    """Recording the use of an instrument without a check that counts."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        """Who, why, by whose authority. One that is locked out is never offered; its use is recorded afterwards."""
        del page
        state = instrument_here(site, about)
        label = str(state.fields.get("label", ""))
        locked = fitness(state, site.clock.now().utc).word == "locked out"
        reported: Reported = "after" if locked or entered.get("reported") == "after" else "before"
        emergency.state_for(site, about, reported)
        return Form(
            "emergency",
            f"Emergency use of {label}, which is not checked",
            "Say who uses it, why, and by whose authority.",
            _fields(site, person, reported, locked),
            about=about,
            says=(LOCKED,) if locked else (UNCHECKED,),
            caution=emergency.CAUTION,
            keep="Record this use",
            dangerous="It is not shown to work. Is there no checked instrument?" if reported == "before" else "",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        """What this means for whoever goes."""
        taken, reported, _ = self._read(site, about, person, entered)
        look = taken.look(
            "NOT CHECKED: nothing shows that it works."
            if reported == "before"
            else "Recorded as used without a check that counts.",
            f"Turn back: {taken.text('turn_back') or 'not said yet'}.",
            "Check it as soon as it is back. Until a complete check has passed, this use is in doubt.",
        )
        return Look(look.lines, look.troubles, "bad")

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        """Record the use. Raises Trouble when it may not be taken, or anything is not said."""
        taken, reported, back_by = self._read(site, about, person, entered)
        taken.whole()
        emergency.record_use(
            site,
            about,
            person,
            to=meant(site, taken.text("to"), "person"),
            **{field: taken.text(field) for field, _ in WORDS},
            second=meant(site, taken.text("second"), "instrument") if taken.text("second") else "",
            back_by=back_by,
            reported=reported,
            is_back=taken.text("is_back").casefold() == "yes",
        )
        label = naming.label(site, about)
        if reported == "after":
            return Done(
                f"The use of {label} is recorded. It is in doubt.",
                "Tell the radiation safety officer. Keep it here until it is cleared and checked.",
                Deed("Uses in doubt", "sheet", "doubt", about),
            )
        return Done(
            f"{label} is out, NOT CHECKED.",
            f"Turn back: {taken.text('turn_back')}. Check it as soon as it is back.",
        )

    def _read(self, site: Site, about: str, person: str, entered: Entered) -> tuple[Taken, Reported, datetime | None]:
        taken = Taken(entered)
        reported: Reported = taken.read("reported", _reported) or "before"
        taken.check("reported", lambda: emergency.state_for(site, about, reported))
        taken.read("to", lambda line: meant(site, line, "person"))
        taken.check("to", lambda: handouts.taker_meant(site, person) if person else _nobody())
        for field, what in WORDS:
            taken.check(field, partial(words_of, taken.text(field), what))
        taken.optional("second", lambda line: emergency.second_meant(site, about, meant(site, line, "instrument")))
        if reported == "after":
            taken.read("is_back", yes)
        back_by = taken.optional("back_by", lambda line: handouts.back_by_meant(site, local_time.meant(site, line)))
        return taken, reported, back_by


def _reported(line: str) -> Reported:
    if line == "before":
        return "before"
    if line == "after":
        return "after"
    raise Trouble(
        "it is not said when this is recorded",
        allowed="; ".join(each.say for each in BEFORE_OR_AFTER),
        do="Choose one.",
    )


def _nobody() -> None:
    raise Trouble("nobody has said who does this", allowed="a person on the list", do="Scan your badge first.")


def _fields(site: Site, person: str, reported: Reported, locked: bool) -> tuple[FormField, ...]:
    badge = str(site.journal.thing_now(person).fields.get("label", "")) if person else ""
    after = reported == "after"
    return (
        FormField("reported", "when", "choice", reported, options=BEFORE_OR_AFTER, fixed=locked),
        FormField("to", "who used it" if after else "who takes it", "scan", badge, example="badge or initials"),
        FormField("authority", "by whose authority", example="the radiation safety officer, by telephone"),
        FormField("why", "why it is not checked first", example="release alarm, no time for a check"),
        FormField("job", "what for", example="find people and bring them out"),
        FormField("place", "where", example="hall 2"),
        FormField(
            "turn_back",
            "when to turn back",
            more="What it must not go beyond, and what to do when it reads nothing.",
            example="at twice the expected reading, or when it reads nothing",
        ),
        FormField("second", "a second instrument, where there is one", "scan", needed=False),
        *((FormField("is_back", "is it back", "yes-no"),) if after else ()),
        FormField("back_by", "back by", value="" if after else _soon(site), needed=False, example="16:30"),
    )


def _soon(site: Site) -> str:
    return local_time.said(site, handouts.usual_back_by(site))
