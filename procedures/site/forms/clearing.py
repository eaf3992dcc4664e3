"""Forms about lockouts: locking out by hand, clearing with what was done, striking what was entered in error."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from procedures.asks import Option
from procedures.reasons import reason
from procedures.sheets import Deed, Done, Form, FormField, Look
from procedures.site import clearing, lookups, naming, obstacles, people
from procedures.site.entries import thing, words
from procedures.site.forms.common import Taken, meant, pin_field, second_fields, yes
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from collections.abc import Sequence

    from procedures.journal.states import Lockout
    from procedures.site.forms import Entered
    from procedures.site.opening import Site

NOTHING: Final = "nothing"
REPAIRED: Final = (Option("repaired", "It was repaired"), Option(NOTHING, "Nothing was repaired"))
ALL: Final = "All that stood when this was shown"
AFTERWARDS: Final = "It stays locked out: then a complete checkout must pass."
TAG_FIELD: Final = FormField(
    "tag", "number of the tag", needed=False, more="Of the tag that hangs on it.", example="17"
)


def _standing(site: Site, instrument: str) -> tuple[Lockout, ...]:
    state = site.journal.instrument_now(instrument)
    return tuple(each for each in state.lockouts if each.status != "closed")


def _said(lockouts: Sequence[Lockout]) -> str:
    reasons = [each.say or reason(each.code).say for one in lockouts for each in one.reasons]
    return lookups.as_sentences(reasons)


def _label(site: Site, instrument: str) -> str:
    return str(thing(site, instrument, "instrument").fields.get("label", ""))


class LockOut:
    """Locking an instrument out by hand: anyone, at any time."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        """Why, in a common reason and own words, and the tag. Raises Trouble for no instrument."""
        del person, entered, page
        return Form(
            "lock-out",
            f"Lock {_label(site, about)} out",
            "Say what is wrong with it.",
            (
                FormField("reason", "what is wrong", "choice", options=clearing.HAND_REASONS),
                FormField("say", "in your words", needed=False, more="What you saw, heard or smelled."),
                TAG_FIELD,
            ),
            about=about,
            says=("Nobody can use it from then on. A site lead clears it, and then a complete checkout must pass.",),
            keep="Lock it out",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        """What will be recorded."""
        del person
        taken, say, _ = self._read(site, about, entered)
        lines = [f"Recorded: {say}"] if say else []
        if taken.text("reason") == clearing.CONTAMINATED:
            lines.append(reason(clearing.CONTAMINATED).do)
        return taken.look(*lines)

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        """Lock it out. Raises Trouble when it is not said why."""
        taken, say, tag = self._read(site, about, entered)
        taken.whole()
        code = taken.text("reason")
        clearing.lock_by_hand(site, about, person, say or "", code, tag or "")
        return Done(
            f"{_label(site, about)} is locked out.", reason(code).do, Deed("Lockouts", "sheet", "lockout", about)
        )

    def _read(self, site: Site, about: str, entered: Entered) -> tuple[Taken, str | None, str | None]:
        taken = Taken(entered)
        taken.check("reason", lambda: _label(site, about))
        code = taken.text("reason")
        taken.check("reason", lambda: clearing.hand_reason(code, "anything"))
        say = (
            taken.read("say", lambda line: clearing.hand_reason(code, line)) if "reason" not in taken.troubles else None
        )
        tag = taken.read("tag", lambda line: words("tag", line, clearing.LONGEST_TAG, needed=False))
        return taken, say, tag


class Clear:
    """Clearing: the corrective action by somebody entitled. A complete checkout that passes comes after it."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        """Cause, action, who repaired it, and a second person where wanted. Raises Trouble where no lockout stands."""
        del entered, page
        label = _label(site, about)
        standing = _standing(site, about)
        if not standing:
            raise Trouble(
                f"no lockout of {label} stands",
                allowed="an instrument that is locked out",
                do="There is nothing to clear.",
            )
        if person:
            people.entitled(site, person, "clear")
        state = site.journal.instrument_now(about)
        told = tuple(dict.fromkeys(line for each in standing for line in obstacles.needs(site, state, each)))
        waits = all(each.status == "awaiting check" for each in standing)
        again = ("It was cleared already, and waits for its check. Another clearing is kept beside that one.",) * waits
        return Form(
            "clear",
            f"Clear {label}",
            "Say what was wrong, and what was done about it.",
            _clear_fields(site, standing),
            about=about,
            says=(f"It is locked out: {_said(standing)}", *again, *told),
            keep="Clear it",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        """What stands in the way, and what is needed afterwards."""
        taken, named = self._read(site, about, person, entered)
        if not named:
            return taken.look()
        lines = [f"Cleared: {_said(named)}", *_repaired(site, taken, person)]
        if taken.text("calibration").casefold() == "yes":
            lines.append("It has to be calibrated, and new reference readings are taken, before that check.")
        return taken.look(*lines, AFTERWARDS)

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        """Record the clearing. Raises Trouble when it may not be."""
        taken, named = self._read(site, about, person, entered)
        taken.whole()
        needed = taken.text("calibration").casefold() == "yes"
        clearing.clear(
            site,
            about,
            person,
            lockouts=[each.id for each in named],
            cause=taken.text("cause"),
            action=taken.text("action"),
            parts=taken.text("parts"),
            calibration_needed=needed,
            pin=entered.get("pin"),
            repaired_by=taken.text("repaired_by"),
            nothing_repaired=taken.text("repaired") == NOTHING,
            second=_second(site, taken),
            second_pin=entered.get("second_pin"),
        )
        first = "Have it calibrated, take the reference readings, and then check" if needed else "Check"
        return Done(
            f"{_label(site, about)} is cleared. It is still locked out.",
            f"{first} it: a complete checkout must pass.",
            Deed("Lockouts", "sheet", "lockout", about),
        )

    def _read(self, site: Site, about: str, person: str, entered: Entered) -> tuple[Taken, tuple[Lockout, ...]]:
        taken = Taken(entered)
        named = taken.read("lockouts", lambda line: _meant(site, about, line)) or ()
        taken.read("cause", clearing.reason_text)
        taken.read("action", clearing.reason_text)
        settings = site.settings()
        repairer = ""
        taken.optional("repaired", _whether_repaired)
        if taken.text("repaired") == NOTHING:
            taken.check("repaired", lambda: obstacles.has_no_repair(taken.text("repaired_by"), taken.text("parts")))
        else:
            repairer = (
                taken.read("repaired_by", lambda line: obstacles.who_repaired(site, person, line, settings)) or ""
            )
        needed = taken.read("calibration", yes)
        second = taken.optional("second", lambda line: meant(site, line, "person"))
        if second:
            taken.check("second", lambda: obstacles.is_second(site, second, person, repairer))
        else:
            taken.check("second", lambda: obstacles.has_two(settings, named))
        taken.check("lockouts", lambda: people.entitled(site, person, "clear"))
        taken.check("lockouts", lambda: obstacles.has_lasted(site, [each.id for each in named]))
        if needed is False:
            wanted = obstacles.codes(settings["calibration_for"])
            taken.check("calibration", lambda: obstacles.is_calibrated(site, about, named, wanted))
        return taken, named


def _clear_fields(site: Site, standing: Sequence[Lockout]) -> tuple[FormField, ...]:
    settings = site.settings()
    two = obstacles.two_wanted(settings, standing)
    own = settings["repairer_may_clear"] == "yes"
    not_own = "" if own else " Whoever repaired it does not clear it."
    return (
        _which(standing),
        FormField("cause", "cause", example="the window was torn"),
        FormField("action", "corrective action", example="window replaced, light leak looked for"),
        FormField("repaired", "was it repaired", "choice", needed=not own, options=REPAIRED),
        FormField("parts", "parts", needed=False),
        FormField(
            "repaired_by",
            "who repaired it",
            # A label that is scanned takes the place of what stands there, and never goes behind it.
            "scan",
            needed=False,
            more=f"Where it was repaired: a badge or initials, or the name of a workshop.{not_own}",
        ),
        FormField("calibration", "does it need a calibration now", "yes-no"),
        *second_fields(site, "Two people have to clear this." if two else "Only if there is one.", needed=two),
        *pin_field(site),
    )


def _repaired(site: Site, taken: Taken, person: str) -> tuple[str, ...]:
    """Who is understood to have repaired it: whoever is on the list by name, anybody else as a workshop."""
    text = taken.text("repaired_by")
    if taken.text("repaired") == NOTHING:
        return ("Nothing was repaired.",)
    if not text:
        return ()
    who = obstacles.on_the_list(site, text, person)
    if who != text:
        return (f"Repaired by {naming.name(site, who)}.",)
    return (f"Repaired by nobody on the site's list: the workshop “{text}”.",)


def _whether_repaired(line: str) -> str:
    if line not in [each.value for each in REPAIRED]:
        raise Trouble(
            "it is not said whether it was repaired", allowed="; ".join(each.say for each in REPAIRED), do="Choose one."
        )
    return line


def _which(standing: Sequence[Lockout]) -> FormField:
    """The field that says which lockouts are meant: the one there is, or a choice."""
    if len(standing) == 1:
        only = (Option(standing[0].id, _said(standing)),)
        return FormField("lockouts", "lockout", "choice", standing[0].id, options=only, fixed=True)
    every = ",".join(each.id for each in standing)
    options = (Option(every, ALL), *(Option(each.id, _said([each])) for each in standing))
    return FormField("lockouts", "which lockout", "choice", every, options=options)


def _meant(site: Site, instrument: str, line: str) -> tuple[Lockout, ...]:
    thing(site, instrument, "instrument")
    standing = [each.id for each in _standing(site, instrument)]
    # Without a word only one can be meant: what was locked out since the form was shown is cleared by nobody unseen.
    meant_now = standing if not line and len(standing) == 1 else [each.strip() for each in line.split(",") if each]
    return obstacles.named(site, instrument, meant_now)


def _second(site: Site, taken: Taken) -> str:
    return meant(site, taken.text("second"), "person") if taken.text("second") else ""


class Strike:
    """Striking a lockout that was entered in error. `about` is "instrument,lockout"."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        """Why, and the second person. Raises Trouble when there is no such lockout."""
        del entered, page
        instrument, lockout = _parts(about)
        label = _label(site, instrument)
        named = obstacles.named(site, instrument, [lockout])
        if person:
            people.entitled(site, person, "clear")
        return Form(
            "strike",
            f"Strike a lockout of {label}",
            "Say why this lockout was entered in error.",
            (
                FormField("why", "why it was an error", example="meant for C-102, which hangs beside it"),
                *second_fields(site, "A second person stands for it."),
                *pin_field(site),
            ),
            about=about,
            says=(
                f"The lockout: {_said(named)}",
                "The entry is kept, and shown as struck.",
                AFTERWARDS,
            ),
            keep="Strike it",
            dangerous="Only for an entry that was never true of this instrument. Is it?",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        """What will be recorded."""
        taken = self._read(site, about, person, entered)
        return taken.look("The entry is kept, and shown as struck.", AFTERWARDS)

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        """Record it. Raises Trouble when it may not be."""
        taken = self._read(site, about, person, entered)
        taken.whole()
        instrument, lockout = _parts(about)
        clearing.strike(
            site,
            instrument,
            person,
            lockout=lockout,
            why=taken.text("why"),
            second=_second(site, taken),
            pin=entered.get("pin"),
            second_pin=entered.get("second_pin"),
        )
        return Done(
            f"The lockout of {naming.label(site, instrument)} is struck. It is still locked out.",
            "Check it: a complete checkout must pass.",
            Deed("Lockouts", "sheet", "lockout", instrument),
        )

    def _read(self, site: Site, about: str, person: str, entered: Entered) -> Taken:
        taken = Taken(entered)
        instrument, lockout = _parts(about)
        taken.read("why", clearing.reason_text)
        second = taken.read("second", lambda line: meant(site, line, "person"))
        if second:
            taken.check("second", lambda: obstacles.is_second(site, second, person, ""))
        taken.check("why", lambda: obstacles.named(site, instrument, [lockout]))
        taken.check("why", lambda: people.entitled(site, person, "clear"))
        taken.check("why", lambda: obstacles.has_lasted(site, [lockout]))
        return taken


def _parts(about: str) -> tuple[str, str]:
    instrument, _, lockout = about.partition(",")
    return instrument, lockout
