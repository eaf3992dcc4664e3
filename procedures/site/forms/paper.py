"""Typing in a form that was filled in on paper: its head, then step after step what the revision printed on it asks.

What the instrument comes to is said when it is kept, never before: a figure that was read cannot be bettered by then.
"""
# ruff: noqa: ARG002  what a form is asked is the same for all of them: forms.Task

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from procedures.asks import Acknowledge, Choice, DateAsk, Option, Place, QuantityAsk, ReadingAsk, Scan
from procedures.sheets import Deed, Done, Form, FormField, Look
from procedures.site import naming, paper, paper_form
from procedures.site.entries import thing
from procedures.site.forms.common import Taken, meant, pin_field
from procedures.site.paper import Head
from procedures.site.paper_run import Asked, Given, Page, Ran, Stop
from procedures.site.site_days import day_meant
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.site.opening import Site

HEAD: Final = ("form", "sha256", "day", "time", "by")
STOPS: Final = (
    Option("", "No, it goes on"),
    Option("ended", "Yes: the check was given up here"),
    Option("judged", "Yes: whoever did it judged it unfit here"),
)

NO_READINESS: Final = "It counts as a check that was done. Check it again here before the next use."


class EnterPaper:
    """Types in the form of one instrument."""

    def form(self, site: Site, about: str, person: str, entered: Mapping[str, str], page: int) -> Form:
        label = str(thing(site, about, "instrument").fields.get("label", ""))
        taken = _taken(site, about, entered)
        title = f"Type a form in: {label}"
        if page <= 1 or taken.ran is None:
            return _first(site, about, title, entered, taken)
        ran = taken.ran
        pages = len(ran.pages) + 2
        if page - 2 < len(ran.pages):
            return _step(about, title, ran.pages[page - 2], page, pages, entered)
        if not ran.state.over:
            return _step(about, title, ran.pages[-1], pages - 1, pages, entered)
        return Form(
            "paper-enter",
            title,
            "Compare what you typed with the paper once more. Then keep it.",
            pin_field(site),
            about=about,
            says=(
                "What it comes to is said when it is kept.",
                "A form that passed makes nothing ready. One that failed locks the instrument out at once.",
                "Keep the paper.",
            ),
            keep="Keep the form",
            page=pages,
            pages=pages,
            dangerous="A form is typed in once, and what is kept stays as it is.",
        )

    def look(self, site: Site, about: str, person: str, entered: Mapping[str, str]) -> Look:
        try:
            taken = _taken(site, about, entered)
        except Trouble as trouble:
            return Look((trouble.what,))
        return Look(tuple(_lines(site, taken)), dict(taken.troubles))

    def keep(self, site: Site, about: str, person: str, entered: Mapping[str, str]) -> Done:
        taken = _taken(site, about, entered)
        for trouble in taken.troubles.values():
            raise trouble
        if taken.head is None:
            raise Trouble("the head of the form is not typed in", do="Begin with its first page.")
        made = paper.enter(site, about, person, taken.head, taken.given, pin=entered.get("pin") or None)
        return _done(about, made, str(thing(site, about, "instrument").fields.get("label", "")))


@dataclass(frozen=True, slots=True)
class _Read:
    """What was typed so far: the head when it is whole and right, where the answers lead, and what is wrong."""

    head: Head | None
    given: Given
    ran: Ran | None
    troubles: Mapping[str, Trouble]


def _taken(site: Site, instrument: str, entered: Mapping[str, str]) -> _Read:
    """Reads everything. Raises Trouble only for what is no fault of what was typed."""
    thing(site, instrument, "instrument")
    stop: Stop = "judged" if entered.get("stop") == "judged" else "ended" if entered.get("stop") == "ended" else ""
    answers = {key: text for key, text in entered.items() if "." in key}
    given = Given(answers, stop, entered.get("why", ""))
    head, troubles = _head(site, instrument, entered)
    if head is None:
        return _Read(None, given, None, troubles)
    ran = paper.ran(site, instrument, head, given)
    if ran.due is not None and ran.trouble is not None:
        troubles = {ran.due.id: ran.trouble}
    elif stop == "judged" and not given.why.strip():
        troubles = {"why": Trouble("the reason is missing", allowed="1 to 300 characters", do="Say what was wrong.")}
    return _Read(head, given, ran, troubles)


def _head(site: Site, instrument: str, entered: Mapping[str, str]) -> tuple[Head | None, dict[str, Trouble]]:
    """The head of the form, or what is wrong with it by field."""
    taken = Taken(entered)
    profile = str(site.journal.instrument_now(instrument).fields.get("profile", ""))
    number = taken.read("form", paper_form.read_number)
    if number is not None:
        taken.check("form", lambda: paper.want_unused(site, number))
    adoption = taken.read("sha256", lambda text: paper.revision_printed(site, profile, text))
    day, by = taken.read("day", day_meant), taken.read("by", lambda text: meant(site, text, "person"))
    observed = taken.read("time", lambda text: paper.observed_at(site, day, text)) if day is not None else None
    if number is None or adoption is None or observed is None or by is None or taken.troubles:
        return None, taken.troubles
    head = Head(number, adoption, profile, observed, by)
    taken.check("day", lambda: paper.want_possible(site, instrument, head))
    return (None if taken.troubles else head), taken.troubles


# --- pages ---------------------------------------------------------------------------------------------------------


def _first(site: Site, about: str, title: str, entered: Mapping[str, str], taken: _Read) -> Form:
    def stands(key: str) -> str:
        return entered.get(key, "")

    fields = (
        FormField("form", "form number", "scan", stands("form"), example="7K3-M92-QXA"),
        FormField(
            "sha256",
            "check code of the revision",
            "scan",
            stands("sha256"),
            more="At the head of the form.",
            example="3f2a 91bc 04de",
        ),
        FormField("day", "day of the check", "date", stands("day"), example="2026-11-25"),
        FormField("time", "time it was begun", "text", stands("time"), more=site.settings()["zone"], example="06:40"),
        FormField("by", "filled in by", "scan", stands("by"), more="Badge or initials on the form."),
    )
    pages = len(taken.ran.pages) + 2 if taken.ran is not None else 2
    return Form(
        "paper-enter",
        title,
        "Type in what stands at the head of the form.",
        fields,
        about=about,
        says=("You are named as who typed it in. The form is judged by the revision printed on it.",),
        page=1,
        pages=pages,
    )


def _step(about: str, title: str, page: Page, number: int, pages: int, entered: Mapping[str, str]) -> Form:
    fields = [_field(asked, entered.get(asked.id, "")) for asked in page.asked]
    fields.append(
        FormField(
            "stop", "Does the paper end on this page?", "choice", entered.get("stop", ""), needed=False, options=STOPS
        )
    )
    fields.append(FormField("why", "If so: why", "text", entered.get("why", ""), needed=False))
    cautions = dict.fromkeys(asked.ask.notice for asked in page.asked if asked.ask.notice)
    return Form(
        "paper-enter",
        title,
        f"{page.title}: type in what stands on the paper, as it stands there.",
        tuple(fields),
        about=about,
        says=(*cautions, "Leave empty what stands empty on the paper."),
        page=number,
        pages=pages,
    )


def _field(asked: Asked, stands: str) -> FormField:
    """A place for one observation. None is needed at once: a paper may end before it."""
    ask = asked.ask
    part = f"{ask.part[0]} of {ask.part[1]}: " if ask.part else ""
    say = f"{part}{ask.say}"
    match ask:
        case Choice():
            return FormField(asked.id, say, "choice", stands, needed=False, more=ask.more, options=ask.options)
        case Place():
            places = tuple(Option(place, place) for place in ask.places)
            return FormField(asked.id, say, "choice", stands, needed=False, more=ask.more, options=places)
        case Acknowledge():
            more = f"Is its box ticked: {ask.done}?"
            return FormField(asked.id, say, "yes-no", stands, needed=False, more=more)
        case ReadingAsk():
            chosen = next((each for each in ask.selectors if each.name == ask.wanted), ask.selectors[0])
            more = "Or: " + ", ".join(ask.beyond) if ask.beyond else ""
            return FormField(asked.id, say, "text", stands, needed=False, more=more, unit=chosen.unit)
        case QuantityAsk():
            return FormField(asked.id, say, "text", stands, needed=False, more=ask.more, unit=ask.units[0])
        case DateAsk():
            more = f"Or: {ask.absent}" if ask.absent else ""
            return FormField(asked.id, say, "text", stands, needed=False, more=more, example="2027-03-12")
        case Scan():
            more = "The label as it was written down."
            return FormField(asked.id, say, "scan", stands, needed=False, more=more)
    return FormField(asked.id, say, "text", stands, needed=False, more=ask.more)


# --- words ---------------------------------------------------------------------------------------------------------


def _lines(site: Site, taken: _Read) -> list[str]:
    """What was understood, never what it comes to."""
    if taken.head is None or taken.ran is None:
        return []
    head, ran = taken.head, taken.ran
    lines = [
        f"Form {head.number}, revision {head.adoption.revision}, filled in by {naming.name(site, head.observed_by)}"
    ]
    lines += [f"{each.asked.ask.say} {each.echo}" for each in ran.taken]
    known = {asked.id: asked for page in ran.pages for asked in page.asked}
    if ran.state.over:
        lines += [
            f"Not asked after what came before, kept as a remark: {_name(known, key)} {taken.given.answers[key]}"
            for key in ran.unused
        ]
        lines.append("The form is typed in to its end.")
    return lines


def _name(known: Mapping[str, Asked], key: str) -> str:
    return known[key].ask.say if key in known else key


def _done(instrument: str, made: paper.Entered, label: str) -> Done:
    reasons = " ".join(made.reasons)
    doubt = f" In doubt now: {made.doubt} use{'s' * (made.doubt != 1)} since the last good check." if made.doubt else ""
    if made.locked:
        return Done(
            f"{label} FAILED on paper and is LOCKED OUT. {reasons}{doubt}",
            f"Hang a tag on it ({made.tag}), put it on the out-of-service shelf, and tell the site lead.",
            Deed("The tag", "sheet", "tag", instrument),
        )
    opens = Deed("What was typed in", "sheet", "paper-entry", made.event)
    if made.ending == "fit for use":
        return Done(f"{label} passed its check on paper.{doubt}", NO_READINESS, opens)
    missing = "; ".join(made.missing)
    return Done(f"{label}: {made.ending} on paper. {missing}{doubt}", "Check it here before the next use.", opens)
