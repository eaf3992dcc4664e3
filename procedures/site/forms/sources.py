"""Forms for check sources: taking one in, changing it, taking it out; leak tests, counting them, their condition."""
# ruff: noqa: ARG002  what a form is asked is the same for all of them: forms.Task

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from procedures.asks import Option
from procedures.sheets import Deed, Done, Form, FormField, Look, Tone
from procedures.site import inventory, source_keeping
from procedures.site.entries import words
from procedures.site.forms import source_text
from procedures.site.forms.common import Taken, day, may_open, one_of, pin_field
from procedures.site.forms.retiring import Retire
from procedures.site.forms.source_count import CountSources
from procedures.site.source_keeping import LEAK_TEST_LEAVES, LeakResult, leak_result, today
from procedures.site.source_outlook import worth
from procedures.site.source_trouble import LEAKS_FROM_BQ, next_leak_test, source_trouble
from procedures.trouble import Trouble

__all__ = ["AddSource", "CountSources", "EditSource", "LeakTest", "RetireSource", "SourceCondition"]

if TYPE_CHECKING:
    from procedures.journal.states import SourceState
    from procedures.site.forms import Entered
    from procedures.site.opening import Site

ASK: Final = (
    "Whether it counts as an exempt quantity: ask the radiation safety officer. Whether it may be shipped: ask a "
    "qualified shipper."
)
CAUTION: Final = "Never touch the face of a source. Use the tool made for a strong one. Local rules go first."


class AddSource:
    """Takes a check source into the inventory."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        may_open(site, person, "register")
        return Form(
            "source-add",
            "A new check source",
            "Enter what is marked on it, and what its certificate says.",
            source_text.fields(site, {name: entered.get(name, "") for name in source_text.IDS}),
            says=(ASK,),
            caution=CAUTION,
            keep="Take it in",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        taken, given = self._taken(site, entered)
        return taken.look(*_today(site, given)) if not taken.troubles else taken.look()

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        taken, given = self._taken(site, entered)
        taken.whole()
        made = source_keeping.add(site, person, taken.text("label"), given, pin=entered.get("pin"))
        return Done(
            f"{taken.text('label')} is in the inventory.",
            "Record its leak test, bind it to the instruments it serves, and take their reference readings.",
            Deed("look at it", "sheet", "source", made),
        )

    def _taken(self, site: Site, entered: Entered) -> tuple[Taken, dict[str, Any]]:
        taken = Taken(entered)
        taken.read("label", lambda text: inventory.free_label(site, text))
        return taken, source_text.read(taken)


class EditSource:
    """Changes what is recorded of a source."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        may_open(site, person, "register")
        known = source_keeping.source(site, about)
        return Form(
            "source-edit",
            f"Change what is recorded of {known.fields.get('label', '')}",
            "Change what is different.",
            source_text.fields(site, self._values(known, entered)),
            about=about,
            says=(
                "Another nuclide, share or date changes what instruments should read with it from now on.",
                "Another source is a new one: take it in under its own label.",
            ),
            caution=CAUTION,
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        try:
            taken, changed, given = self._changes(site, about, entered)
        except Trouble as trouble:
            return Look(troubles={"label": trouble})
        if taken.troubles:
            return taken.look()
        lines = [f"{name.replace('_', ' ')}: {_said(value)}" for name, value in changed.items()]
        return taken.look(*(lines or ["Nothing is changed."]), *_today(site, given))

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        taken, changed, given = self._changes(site, about, entered)
        taken.whole()
        source_keeping.describe(site, person, about, given, pin=entered.get("pin"))
        names = ", ".join(name.replace("_", " ") for name in changed)
        return Done(f"Changed: {names}.", opens=Deed("look at it", "sheet", "source", about))

    def _values(self, known: SourceState, entered: Entered) -> dict[str, str]:
        stands = source_text.stands_as(known.fields)
        return {name: entered.get(name, stands[name]) for name in source_text.IDS}

    def _changes(self, site: Site, about: str, entered: Entered) -> tuple[Taken, dict[str, Any], dict[str, Any]]:
        known = source_keeping.source(site, about)
        taken = Taken(self._values(known, entered))
        given = {"label": taken.text("label"), **source_text.read(taken)}
        changed: dict[str, Any] = {}
        if not taken.troubles:
            try:
                changed = source_keeping.changes_of(site, about, given)
            except Trouble as trouble:
                taken.troubles["label"] = trouble
        return taken, changed, given


class RetireSource(Retire):
    """Takes a source off the list for good."""

    name, sort = "source-retire", "source"
    says = ("Where it goes is for the radiation safety officer: a source is never thrown away.", ASK)


class LeakTest:
    """Records a leak test."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        known = source_keeping.source(site, about)
        label = known.fields.get("label", "")
        return Form(
            "leak-test",
            f"Leak test of {label}",
            "Enter what the test found.",
            (
                FormField("on", "tested on", "date", entered.get("on") or today(site).isoformat()),
                FormField(
                    "result",
                    "result",
                    value=entered.get("result", ""),
                    more="In Bq, or with its unit. Less than what the test can see: < and that figure.",
                    example="12, 0.003 µCi, < 10 Bq",
                ),
                FormField("by", "tested by", value=entered.get("by", ""), more="The person's name."),
                FormField(
                    "with",
                    "measured with",
                    value=entered.get("with", ""),
                    more="The instrument with its serial number, or the laboratory.",
                ),
                FormField("note", "note", value=entered.get("note", ""), needed=False),
                *pin_field(site),
            ),
            about=about,
            says=(
                f"{LEAKS_FROM_BQ} Bq or more withdraws it from use (10 CFR 35.67). Local rules go first.",
                "Anyone may record that it leaks. A test that it passed is recorded by a site lead.",
            ),
            caution=CAUTION,
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        taken, found = self._taken(site, about, person, entered)
        if found is None:
            return taken.look()
        tone: Tone = "bad" if found.leaks else ""
        on = taken.optional("on", day)
        due = next_leak_test(on, site.settings()) if on is not None else None
        lines = (
            (f"{found}: it leaks. It may not be used from now on. {LEAK_TEST_LEAVES}",)
            if found.leaks
            else (f"{found}: it passes.", *((f"The next leak test is due by {due.isoformat()}.",) if due else ()))
        )
        return Look(lines, dict(taken.troubles), tone)

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        taken, _ = self._taken(site, about, person, entered)
        taken.whole()
        found = source_keeping.leak_test(
            site,
            person,
            about,
            on=day(taken.text("on")),
            result=taken.text("result"),
            tested_by=taken.text("by"),
            measured_with=taken.text("with"),
            note=taken.text("note"),
            pin=entered.get("pin"),
        )
        label = source_keeping.source(site, about).fields.get("label", "")
        if found.leaks:
            return Done(f"{label} leaks: it is withdrawn from use.", LEAK_TEST_LEAVES, _open(about))
        return Done(f"The leak test of {label} is recorded: it passes.", opens=_open(about))

    def _taken(self, site: Site, about: str, person: str, entered: Entered) -> tuple[Taken, LeakResult | None]:
        taken = Taken(entered)
        on = taken.read("on", day)
        found = taken.read("result", leak_result)
        taken.read("by", lambda text: words("name of whoever tested it", text))
        taken.read("with", lambda text: words("instrument or laboratory", text))
        taken.read("note", lambda text: words("note", text, needed=False))
        if on is not None:
            taken.check("on", lambda: source_keeping.day_of_test(site, about, on))
        if person and found is not None:
            taken.check("result", lambda: source_keeping.may_test(site, person, found))
        return taken, found


class SourceCondition:
    """Records that a source is damaged, has slipped in its jig, or is good again."""

    options: Final = (
        Option("damaged", "damaged"),
        Option("slipped", "slipped in its jig, or the jig is bent"),
        Option("good", "good again"),
    )

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        label = source_keeping.source(site, about).fields.get("label", "")
        return Form(
            "source-condition",
            f"Condition of {label}",
            "Say what state it is in.",
            (
                FormField("condition", "it is", "choice", entered.get("condition", ""), options=self.options),
                FormField("say", "what was seen, or done", value=entered.get("say", ""), example="holder was loose"),
                *(_pin_of_a_lead(each) for each in pin_field(site)),
            ),
            about=about,
            says=("Anyone may say that it is damaged or slipped. That it is good again is said by a site lead.",),
            caution="A damaged source may be leaking: do not touch it. Keep others away and tell the radiation safety "
            "officer.",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        taken, found = self._taken(site, person, entered)
        if found is None or taken.troubles:
            return taken.look()
        rest = _speaks_against_it_besides(site, about)
        if found == "good" and rest:
            return Look((f"It may not be used all the same: {rest}.",), {}, "bad")
        if found == "good":
            return taken.look("It may be used again. Checks made since it was last good stay listed.")
        return Look(("It may not be used from now on.", "Checks that relied on it are listed."), {}, "bad")

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        taken, found = self._taken(site, person, entered)
        taken.whole()
        source_keeping.condition(site, person, about, found or "", taken.text("say"), pin=entered.get("pin"))
        label = source_keeping.source(site, about).fields.get("label", "")
        do = {
            "damaged": "Leave it in its store. Tell the radiation safety officer now.",
            "slipped": "Leave it in its store. The site lead has it seated and says that it is good again.",
        }.get(found or "", "Look at the checks that relied on it.")
        if rest := _speaks_against_it_besides(site, about):
            do = f"It may not be used: {rest}."
        return Done(f"{label} is recorded as {found}.", do, Deed("checks that relied on it", "sheet", "relied", about))

    def _taken(self, site: Site, person: str, entered: Entered) -> tuple[Taken, str | None]:
        taken = Taken(entered)
        found = taken.read("condition", one_of(self.options))
        taken.read("say", lambda text: words("reason", text))
        if person and found == "good":
            taken.check("condition", lambda: may_open(site, person, "register"))
        return taken, found


def _speaks_against_it_besides(site: Site, about: str) -> str:
    """Why this source may not be used whatever condition it is in; "" for no reason."""
    try:
        state = replace(source_keeping.source(site, about), condition="good")
    except Trouble as none:
        return none.what
    return source_trouble(state, site.clock.now().utc, site.settings())


def _pin_of_a_lead(field: FormField) -> FormField:
    """The PIN where only some answers take one."""
    return replace(field, needed=False, more="Only a site lead who says that it is good again needs it.")


def _open(about: str) -> Deed:
    return Deed("look at it", "sheet", "source", about)


def _said(value: Any) -> str:
    if isinstance(value, list):
        return source_text.stands_as({"components": value})["components"].replace("\n", ", ") or "none"
    return str(value) or "none"


def _today(site: Site, given: dict[str, Any]) -> tuple[str, ...]:
    """What a source as it was entered is worth today, where that can be worked out."""
    try:
        found = worth({**given, "activity_on": given["activity_on"].isoformat()}, site.clock.now().utc)
    except Trouble as trouble:
        return (f"What it is worth today cannot be worked out: {trouble.what}.",)
    return (f"Today it is worth {found.today}.",)
