"""Forms for handing an instrument out, and for taking it back with the look that its profile asks for."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING, Final

from procedures.asks import Option
from procedures.reasons import SHELF
from procedures.sheets import Deed, Done, Form, FormField, Look
from procedures.site import exchange_age, handouts, local_time, lookups, naming, returning
from procedures.site.entries import words
from procedures.site.forms.common import Taken, meant
from procedures.site.found_words import field_words
from procedures.site.handouts import Offer, instrument_here
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.site.forms import Entered
    from procedures.site.opening import Site

AFTER_ITS_CHECK: Final = "It is to be back only after its check has ended: it must be checked again before use then."
AS_LOOKED_AT: Final = "good by the look at its return"
"""Stands for its condition where every question was answered as good and nothing more was said."""
ANSWER: Final = "answer-"


class HandOut:
    """Handing out an instrument that is fit for use now, for what it was checked for."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        """To whom, for what, where, until when. Raises Trouble unless it may go out now."""
        del entered, page
        instrument_here(site, about)
        offered = handouts.offer(site, about)
        options = tuple(Option(each, each) for each in offered.radiations)
        back_by = handouts.usual_back_by(site, offered.until)
        return Form(
            "hand-out",
            f"Hand {offered.label} out",
            "Scan the badge of whoever takes it.",
            (
                FormField("to", "who takes it", "scan", _badge(site, person), example="badge or initials"),
                FormField("job", "what for", example="survey after unloading"),
                FormField("place", "where", example="hall 2"),
                FormField("radiation", "what it is to measure", "choice", _only(offered.radiations), options=options),
                FormField(
                    "back_by",
                    "back by",
                    value=local_time.said(site, back_by),
                    more="A time, or a day and a time.",
                    example="16:30",
                ),
            ),
            about=about,
            says=_goes_with_it(site, offered),
            keep="Hand it out",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        """Whether it may go out, and what the taker has to know."""
        taken, offered, back_by = self._read(site, about, person, entered)
        if offered is None:
            return taken.look()
        again = AFTER_ITS_CHECK if back_by and back_by > offered.until else ""
        look = taken.look(*(line for line in (again, *_training(site, taken)) if line))
        return Look(look.lines, look.troubles, "warn" if again else "")

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        """Hand it out. Raises Trouble unless it may go out now."""
        taken, offered, back_by = self._read(site, about, person, entered)
        taken.whole()
        assert offered is not None
        to = meant(site, taken.text("to"), "person")
        handouts.hand_out(
            site,
            about,
            to=to,
            job=taken.text("job"),
            place=taken.text("place"),
            person=person,
            radiation=taken.text("radiation"),
            back_by=back_by,
        )
        told = (
            _not_shown(offered),
            *field_words(offered.factor, offered.warnings),
            handouts.check_again(site, offered.until, back_by),
            "If it is dropped, gets wet or behaves oddly, stop and bring it back.",
        )
        what = f"{offered.label} is handed out to {naming.name(site, to)}."
        return Done(what, " ".join(line for line in told if line))

    def _read(
        self, site: Site, about: str, person: str, entered: Entered
    ) -> tuple[Taken, Offer | None, datetime | None]:
        taken = Taken(entered)
        offered = taken.read("to", lambda _: _offer(site, about))
        if offered is not None:
            taken.read("to", lambda line: meant(site, line, "person"))
            taken.check("to", lambda: handouts.taker_meant(site, person) if person else _nobody())
            taken.read("radiation", lambda line: handouts.radiation_meant(offered, line))
        taken.read("job", lambda line: handouts.words_of(line, "what it is for"))
        taken.read("place", lambda line: handouts.words_of(line, "where it goes"))
        back_by = taken.read("back_by", lambda line: handouts.back_by_meant(site, local_time.meant(site, line)))
        return taken, offered, back_by


def _offer(site: Site, instrument: str) -> Offer:
    instrument_here(site, instrument)
    return handouts.offer(site, instrument)


def _nobody() -> None:
    raise Trouble("nobody has said who does this", allowed="a person on the list", do="Scan your badge first.")


def _badge(site: Site, person: str) -> str:
    return str(site.journal.thing_now(person).fields.get("label", "")) if person else ""


def _only(radiations: tuple[str, ...]) -> str:
    return radiations[0] if len(radiations) == 1 else ""


def _training(site: Site, taken: Taken) -> list[str]:
    """What is to be known of whoever takes it."""
    if "to" in taken.troubles:
        return []
    taker = lookups.person(site, meant(site, taken.text("to"), "person"))
    return [f"{taker.name}: {taker.may_check}."] if "training" in taker.may_check else []


def _not_shown(offered: Offer) -> str:
    """The scales that nothing has shown to work; "" for none."""
    if not offered.not_shown:
        return ""
    one = len(offered.not_shown) == 1
    return f"NOT SHOWN to work by its check: {'scale' if one else 'scales'} {', '.join(offered.not_shown)}."


def _goes_with_it(site: Site, offered: Offer) -> tuple[str, ...]:
    not_for = ", ".join(offered.not_for)
    return tuple(
        line
        for line in (
            f"Fit for use until {local_time.said(site, offered.until)}. After that it is checked again before use.",
            _not_shown(offered),
            *field_words(offered.factor, offered.warnings),
            f"It is NOT for: {not_for}." if not_for else "",
            exchange_age.exchange_age(site),
        )
        if line
    )


class TakeBack:
    """Taking an instrument back, with the look that its profile asks for."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        """Who brings it, in what condition, and the profile's questions. Raises Trouble when it is not out."""
        del person, entered, page
        state = instrument_here(site, about)
        handouts.is_out(state)
        out = state.handed
        assert out is not None
        label = str(state.fields.get("label", ""))
        asked = returning.questions(site, state)
        said = [
            f"Out since {local_time.said(site, out.when)} with {naming.name(site, out.to)}: {out.job}, {out.place}.",
        ]
        if out.back_by is not None and out.back_by < site.clock.now().utc:
            said.append(f"It was to be back by {local_time.said(site, out.back_by)}.")
        if out.emergency:
            said.append("It was an emergency use, in doubt until a complete check after it has passed: check it now.")
        if not asked:
            said.append("Its profile asks for no look at its return.")
        return Form(
            "take-back",
            f"Take {label} back",
            "Look at it while whoever brings it is still here.",
            (
                FormField("by", "who brings it", "scan", _badge(site, out.to), example="badge or initials"),
                *(
                    FormField(
                        f"{ANSWER}{number}",
                        question.say,
                        "choice",
                        options=tuple(Option(each, each) for each in question.choices),
                    )
                    for number, question in enumerate(asked, 1)
                ),
                FormField(
                    "condition",
                    "anything else about its condition" if asked else "its condition, in words",
                    needed=not asked,
                    example="sound and clean" if not asked else "its strap is worn",
                ),
                *((FormField("tag", "number of the tag, if you hang one on it", needed=False),) if asked else ()),
            ),
            about=about,
            says=tuple(said),
            caution="Don't touch a window. Survey it for contamination as your site does before it is put away.",
            keep="Take it back",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        """What its answers come to."""
        del person
        taken, answered = self._read(site, about, entered)
        bad = [each for each in answered if each.code]
        lines = [f"LOCKED OUT by this: {each.say} {each.answer}." for each in bad]
        if any(each.contaminated for each in answered):
            lines.append("Recorded as contaminated. Don't carry it about; tell radiation protection now.")
        look = taken.look(*lines)
        return Look(look.lines, look.troubles, "bad" if bad else "")

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        """Take it back. Raises Trouble when it is not out, or a question is not answered."""
        taken, answered = self._read(site, about, entered)
        taken.whole()
        asked = bool(answered)
        emergency = site.journal.instrument_now(about).handed
        handouts.take_back(
            site,
            about,
            by=meant(site, taken.text("by"), "person"),
            condition=taken.text("condition") or AS_LOOKED_AT,
            person=person,
            answers=[each.answer for each in answered] if asked else None,
            tag=taken.text("tag"),
        )
        label = naming.label(site, about)
        if returning.outcome(answered) == "bad":
            return Done(
                f"{label} is back, and LOCKED OUT.",
                f"{SHELF} What was measured with it since it went out may be wrong.",
                Deed("Lockouts", "sheet", "lockout", about),
            )
        if emergency is not None and emergency.emergency:
            return Done(f"{label} is back.", "Check it now: its emergency use is in doubt until then.")
        return Done(f"{label} is back.", "If anything happened to it outside, end its readiness.")

    def _read(self, site: Site, about: str, entered: Entered) -> tuple[Taken, list[returning.Answered]]:
        taken = Taken(entered)
        taken.check("by", lambda: handouts.is_out(instrument_here(site, about)))
        answered: list[returning.Answered] = []
        if "by" not in taken.troubles:
            taken.read("by", lambda line: meant(site, line, "person"))
            for number, question in enumerate(returning.questions(site, site.journal.instrument_now(about)), 1):
                one = taken.read(f"{ANSWER}{number}", partial(returning.answer_to, question))
                answered += [one] if one else []
        if taken.text("condition") or not answered or any(each.code for each in answered):
            taken.read("condition", lambda line: handouts.words_of(line, "its condition"))
        taken.read("tag", lambda line: words("tag", line, handouts.LONGEST_TAG, needed=False))
        return taken, answered
