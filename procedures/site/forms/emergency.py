"""The form for an unchecked instrument in an emergency: by whose authority, and when to turn back. Never called fit."""

from __future__ import annotations

from dataclasses import dataclass
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
)
TURN_BACK: Final = ("turn_back", "when to turn back")


class EmergencyUse:
    """Recording the use of an instrument without a check that counts."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        """Who, why, by whose authority. One that is locked out is never offered; its use is recorded afterwards.

        Whether it goes out now or was used already is said on the first page: the second asks for what fits that.
        """
        state = instrument_here(site, about)
        label = str(state.fields.get("label", ""))
        locked = fitness(state, site.clock.now().utc).word == "locked out"
        reported: Reported = "after" if locked or entered.get("reported") == "after" else "before"
        emergency.state_for(site, about, reported)
        after = reported == "after"
        return Form(
            "emergency",
            f"Emergency use of {label}, which is not checked",
            "Say where it was used, and when." if page > 1 and after else _INSTRUCTIONS[page > 1],
            _fields(site, person, reported, locked)[page > 1],
            about=about,
            says=(LOCKED,) if locked else (UNCHECKED,),
            caution="" if after else emergency.CAUTION,
            keep="Record this use",
            dangerous="" if after else "It is not shown to work. Is there no checked instrument?",
            page=min(max(page, 1), 2),
            pages=2,
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        """What this means for whoever goes."""
        read = self._read(site, about, person, entered)
        lines: tuple[str, ...] = (
            "NOT CHECKED: nothing shows that it works.",
            f"Turn back: {read.taken.text('turn_back') or 'not said yet'}.",
            "Check it as soon as it is back. Until a complete check has passed, this use is in doubt.",
        )
        if read.reported == "after":
            when = f"Used {local_time.said(site, read.used_at)}. " if read.used_at else ""
            lines = (
                f"{when}Recorded as used without a check that counts.",
                "This use is in doubt until a complete check has passed.",
            )
        look = read.taken.look(*lines)
        return Look(look.lines, look.troubles, "bad")

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        """Record the use. Raises Trouble when it may not be taken, or anything is not said."""
        read = self._read(site, about, person, entered)
        taken, after = read.taken, read.reported == "after"
        taken.whole()
        is_back = taken.text("is_back").casefold() == "yes"
        emergency.record_use(
            site,
            about,
            person,
            to=meant(site, taken.text("to"), "person"),
            **{field: taken.text(field) for field, _ in WORDS},
            turn_back="" if after else taken.text("turn_back"),
            second=meant(site, taken.text("second"), "instrument") if taken.text("second") else "",
            back_by=read.back_by,
            reported=read.reported,
            is_back=is_back,
            used_at=read.used_at,
        )
        label = naming.label(site, about)
        if after:
            here = "Keep it here until it is cleared and checked."
            out = "It is recorded as out: take it back as soon as it is here, then check it."
            return Done(
                f"The use of {label} is recorded. It is in doubt.",
                f"Tell the radiation safety officer. {here if is_back else out}",
                Deed("Uses in doubt", "sheet", "doubt", about),
            )
        return Done(
            f"{label} is out, NOT CHECKED.",
            f"Turn back: {taken.text('turn_back')}. Check it as soon as it is back.",
        )

    def _read(self, site: Site, about: str, person: str, entered: Entered) -> _Read:
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
            used_at = taken.read("used_at", lambda line: _used_at(site, line))
            return _Read(taken, reported, used_at=used_at)
        taken.check(TURN_BACK[0], lambda: words_of(taken.text(TURN_BACK[0]), TURN_BACK[1]))
        back_by = taken.optional("back_by", lambda line: handouts.back_by_meant(site, local_time.meant(site, line)))
        return _Read(taken, reported, back_by=back_by)


@dataclass(frozen=True, slots=True)
class _Read:
    """What was entered so far: `back_by` of one that goes out now, `used_at` of one that was used already."""

    taken: Taken
    reported: Reported
    back_by: datetime | None = None
    used_at: datetime | None = None


def _used_at(site: Site, line: str) -> datetime:
    return emergency.used_at_meant(site, local_time.been(site, line) if line else None)


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


_INSTRUCTIONS: Final = ("Say who uses it, why, and by whose authority.", "Say what for, where, and when to turn back.")


def _fields(
    site: Site, person: str, reported: Reported, locked: bool
) -> tuple[tuple[FormField, ...], tuple[FormField, ...]]:
    """The fields of both pages."""
    badge = str(site.journal.thing_now(person).fields.get("label", "")) if person else ""
    after = reported == "after"
    first = (
        FormField("reported", "when", "choice", reported, options=BEFORE_OR_AFTER, fixed=locked),
        FormField("to", "who uses it, or used it", "scan", badge, example="badge or initials"),
        FormField("authority", "by whose authority", example="the radiation safety officer, by telephone"),
        FormField("why", "why it is not checked first", example="release alarm, no time for a check"),
    )
    where = (
        FormField("job", "what for", example="find people and bring them out"),
        FormField("place", "where", example="hall 2"),
    )
    second = FormField("second", "a second instrument, where there is one", "scan", needed=False)
    if after:
        when = FormField("used_at", "when it was used", more="A time, or a day and a time.", example="2026-11-25 07:40")
        return first, (when, *where, second, FormField("is_back", "is it back", "yes-no"))
    turn_back = FormField(
        *TURN_BACK,
        more="What it must not go beyond, and what to do when it reads nothing.",
        example="at twice the expected reading, or when it reads nothing",
    )
    back_by = FormField("back_by", "back by", value=_soon(site), needed=False, example="16:30")
    return first, (*where, turn_back, second, back_by)


def _soon(site: Site) -> str:
    return local_time.said(site, handouts.usual_back_by(site))
