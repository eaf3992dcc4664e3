"""What forms share: reading what was typed so that every mistake is found at once, PINs, labels of things."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, TypeVar

from procedures.answers import clean_line
from procedures.asks import Option
from procedures.sheets import FormField, Look
from procedures.site import rights, secrets
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.site.opening import Site

T = TypeVar("T")


class Taken:
    """What was typed, read field by field. Mistakes are collected by field; `whole` raises the first."""

    def __init__(self, entered: Mapping[str, str]) -> None:
        self.entered = entered
        self.troubles: dict[str, Trouble] = {}

    def text(self, field: str) -> str:
        """The cleaned line in a field, "" for nothing."""
        return clean_line(self.entered.get(field, ""))

    def read(self, field: str, reader: Callable[[str], T]) -> T | None:
        """What `reader` makes of a field; None when it raises Trouble, which is kept under the field."""
        try:
            return reader(self.text(field))
        except Trouble as trouble:
            self.troubles.setdefault(field, trouble)
            return None

    def optional(self, field: str, reader: Callable[[str], T]) -> T | None:
        """As `read`, and None for a field left empty."""
        return self.read(field, reader) if self.text(field) else None

    def check(self, field: str, test: Callable[[], object]) -> None:
        """Runs a test that concerns a field, unless something is wrong with it already."""
        if field not in self.troubles:
            try:
                test()
            except Trouble as trouble:
                self.troubles[field] = trouble

    def whole(self) -> None:
        """Raises the first Trouble there is."""
        for trouble in self.troubles.values():
            raise trouble

    def look(self, *lines: str) -> Look:
        """What comes of it so far."""
        return Look(lines, dict(self.troubles))


def day(text: str) -> date:
    """A date. Raises Trouble for what is none."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Trouble(
            f"“{text[:40]}” is no date" if text else "a date is missing",
            allowed="year-month-day, such as 2026-11-25",
            do="Enter it again.",
        ) from None


def yes(text: str) -> bool:
    """Whether a yes-no field says yes. Raises Trouble for anything but yes and no."""
    if text.casefold() not in ("yes", "no"):
        raise Trouble("this is not answered", allowed="yes or no", do="Choose one.")
    return text.casefold() == "yes"


def one_of(options: Sequence[Option]) -> Callable[[str], str]:
    """A reader of a choice: the value of the option that was chosen. Raises Trouble for anything else."""

    def read(text: str) -> str:
        for option in options:
            if text.casefold() in (option.value.casefold(), option.say.casefold()):
                return option.value
        raise Trouble(
            f"“{text[:40]}” is not one of the choices" if text else "nothing is chosen",
            allowed="; ".join(option.say for option in options) or "nothing at present",
            do="Choose one.",
        )

    return read


def may_open(site: Site, person: str, action: rights.Action) -> None:
    """Raises Trouble where whoever opens a form could not keep it; nobody yet may look at it."""
    if person:
        rights.entitled(site, person, action)


def meant(site: Site, text: str, *sorts: str) -> str:
    """The id of the one living thing of these sorts that carries this label. Raises Trouble for none or several.

    A person may also be meant by initials or name, as everywhere.
    """
    line = clean_line(text)
    wanted = " or ".join(sorts)
    living = [each for each in site.journal.labelled(line) if each.living and each.what in sorts] if line else []
    if len(living) == 1:
        return living[0].id
    if len(living) > 1:
        raise Trouble(f"{len(living)} things carry the label {line}", do="Tell the site lead: none may be used.")
    if line and sorts == ("person",):
        from procedures.site import status

        return status.who(site, line).id
    raise Trouble(
        f"no {wanted} here is called {line[:40]!r}" if line else f"no {wanted} is named",
        allowed=f"the label of a {wanted} on the list",
        do="Scan its label.",
    )


def pin_field(site: Site) -> tuple[FormField, ...]:
    """The field for the PIN of whoever fills the form in, where the site wants PINs. Its id is "pin"."""
    if not secrets.pins_wanted(site):
        return ()
    return (FormField("pin", "your PIN", "secret", more="The PIN that was set for you on this laptop."),)


def pin_is_missing(site: Site, person: str) -> tuple[str, ...]:
    """What a person who has no PIN on this laptop is told before they fill in a form that will want it."""
    if not person or not secrets.pins_wanted(site) or secrets.has_pin(site, person):
        return ()
    return (
        "You have no PIN on this laptop, and this is not kept without one. Set it first, with a lead present: "
        "F3, My PIN; or F3, People, your name, Set a PIN.",
    )


def second_fields(site: Site, why: str, *, needed: bool = True) -> tuple[FormField, ...]:
    """Fields for a second person ("second") and that person's PIN ("second_pin")."""
    asked = FormField("second", "second person", "scan", needed=needed, more=why, example="badge or initials")
    if not secrets.pins_wanted(site):
        return (asked,)
    return (asked, FormField("second_pin", "second person's PIN", "secret", needed=needed))
