"""A form in line mode: its fields one after the other, what comes of them, one confirmation."""

from __future__ import annotations

from typing import Final

from checklist_tui.line_talk import Talk
from checklist_tui.line_words import sentence
from procedures.asks import Option
from procedures.sheets import Done, Form, FormField, Look
from procedures.trouble import Trouble

STOP: Final = "stop"
"""The word that leaves a form with nothing kept."""
EMPTY: Final = "-"
"""What empties a field that has something in it."""
YES_NO: Final = (Option("yes", "yes"), Option("no", "no"))
REJECTED: Final = " ! "
"""Stands between a rejected reading and the reason for it."""


class Left(Exception):  # noqa: N818  control flow
    """The person leaves the form."""


class FormTalk:
    """One form, from its first field until it is kept or left."""

    def __init__(self, talk: Talk, name: str, about: str, person: str) -> None:
        self._talk, self._cases = talk, talk.use_cases
        self._name, self._about, self._person = name, about, person
        self._entered: dict[str, str] = {}

    def run(self) -> Done | None:
        """What was kept; None when it was left. Raises Trouble when it cannot be opened."""
        try:
            while True:
                form = self._fill()
                if not self._agreed(form):
                    continue
                try:
                    return self._cases.keep(self._name, self._about, self._person, dict(self._entered))
                except Trouble as trouble:
                    self._talk.tell_trouble(trouble)
                    self._talk.tell("Nothing was kept. The fields are asked again; Enter leaves one as it is.")
                finally:
                    # A PIN is typed for one try, and never stands in a field that Enter sends again.
                    for field in form.fields:
                        if field.kind == "secret":
                            self._entered.pop(field.id, None)
        except Left:
            self._talk.tell("Left. Nothing was kept.")
            return None

    def _fill(self) -> Form:
        page = 1
        while True:
            form = self._cases.form(self._name, self._about, self._person, dict(self._entered), page)
            of = f" (page {form.page} of {form.pages})" if form.pages > 1 else ""
            caution = [f"Caution: {form.caution}"] if form.caution else []
            self._talk.tell("", f"{form.title}{of}", form.instruction, *form.says, *caution)
            if page == 1:
                self._talk.tell(f"Type {STOP} to leave it with nothing kept.")
            for field in form.fields:
                self._ask(field)
            if page >= form.pages:
                return form
            page += 1

    def _ask(self, field: FormField) -> None:
        standing = self._entered.get(field.id, field.value)
        if field.fixed:
            options = YES_NO if field.kind == "yes-no" else field.options
            shown = next((each.say for each in options if each.value == standing), standing)
            self._talk.tell(f"{field.say}: {shown or 'nothing'}")
            self._entered[field.id] = standing
            return
        while True:
            if field.kind == "secret":
                self._entered[field.id] = self._talk.ask_secret(field.say)
                return
            self._entered[field.id] = (
                self._several(field, standing) if field.kind in ("readings", "rows") else self._one(field, standing)
            )
            trouble = self._look().troubles.get(field.id)
            if trouble is None:
                return
            self._talk.tell_trouble(trouble)

    def _one(self, field: FormField, standing: str) -> str:
        options = YES_NO if field.kind == "yes-no" else field.options
        self._talk.tell(*_helps(field), *(f"  {number}  {each.say}" for number, each in enumerate(options, 1)))
        shown = next((each.say for each in options if each.value == standing), standing)
        while True:
            text = self._line(f"{field.say}{f' [{shown}]' if shown else ''}")
            if not text:
                text = standing
            elif text == EMPTY and not field.needed:
                text = ""
            elif options:
                found = _chosen(options, text)
                if found is None:
                    self._talk.tell(f"Not taken: type 1 to {len(options)}.")
                    continue
                text = found
            if text or not field.needed:
                return text
            self._talk.tell("Not taken: this is needed.")

    def _several(self, field: FormField, standing: str) -> str:
        """Readings or rows, one after the other, until an empty line. A reading is never taken back, only rejected."""
        lines = standing.splitlines()
        readings = field.kind == "readings"
        how = "An empty line ends it." + (
            " To reject the last one type: reject, and why." if readings else " To take the last one back type: undo."
        )
        self._talk.tell(
            *_helps(field), field.say, *([f"Each: {' | '.join(field.columns)}"] if field.columns else []), how
        )
        while True:
            good = sum(REJECTED not in line for line in lines)
            of = f" of {field.wanted}" if field.wanted else ""
            text = self._line(f"{'Reading' if readings else 'Row'} {good + 1}{of}")
            word, _, why = text.partition(" ")
            if not text:
                return "\n".join(lines)
            if readings and word.casefold() == "reject":
                if not lines or REJECTED in lines[-1] or not why.strip():
                    self._talk.tell("Not taken: say reject and why, right after the reading.")
                else:
                    lines[-1] += f"{REJECTED}{why.strip()}"
                    self._talk.tell(f"Rejected, and kept in the record: {lines[-1].partition(REJECTED)[0]}.")
            elif not readings and text.casefold() == "undo":
                self._talk.tell(f"Taken back: {lines.pop()}." if lines else "There is none.")
            elif self._understood(field, text):
                lines.append(text)

    def _understood(self, field: FormField, text: str) -> bool:
        """Whether this reading can be one; says what it comes to, or what is wrong with it."""
        try:
            if field.reads is not None:
                self._talk.tell(f"That is {field.reads(text)}.")
        except Trouble as trouble:
            self._talk.tell_trouble(trouble)
            return False
        return True

    def _agreed(self, form: Form) -> bool:
        """Whether the person wants it kept, knowing what comes of it. False asks the fields again."""
        look = self._look()
        self._talk.tell("", *look.lines)
        for trouble in look.troubles.values():
            self._talk.tell_trouble(trouble)
        if look.troubles:
            self._talk.tell("The fields are asked again; Enter leaves one as it is.")
            return False
        if form.dangerous:
            self._talk.tell(sentence(form.dangerous))
        answer = self._line(f"{form.keep}? yes, or no to change something")
        return answer.casefold() in ("yes", "y")

    def _look(self) -> Look:
        return self._cases.look(self._name, self._about, self._person, dict(self._entered))

    def _line(self, prompt: str) -> str:
        text = self._talk.ask(prompt)
        if text.casefold() == STOP:
            raise Left
        return text


def _helps(field: FormField) -> list[str]:
    example = f"such as {field.example}" if field.example else ""
    unit = f"in {field.unit}" if field.unit else ""
    optional = "" if field.needed else "may be left empty"
    return [sentence(each) for each in (field.more, "; ".join(filter(None, (example, unit, optional)))) if each]


def _chosen(options: tuple[Option, ...], text: str) -> str | None:
    if text.isascii() and text.isdigit() and 1 <= int(text[:6]) <= len(options):
        return options[int(text[:6]) - 1].value
    word = text.casefold()
    return next((each.value for each in options if word in (each.value.casefold(), each.say.casefold())), None)
