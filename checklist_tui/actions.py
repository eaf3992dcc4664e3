"""The one registry of what a person can do. Keys, footer, menu, command palette and help are all made from it.

An action's id is the name of the screen's method (`action_<id>`). No action has only a Ctrl key, and every one stands
in the menu, which Esc opens where there is nothing to go back to and F12 everywhere it is, and which arrows and Enter
work. F1, F10, F11 and Ctrl belong to some terminals: where they are
used, another key does the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from textual.binding import Binding, BindingType

Place = Literal["home", "instrument", "checkout", "ending", "dialog", "form", "sheet", "listing", "practice", "bench"]


@dataclass(frozen=True, slots=True)
class Action:
    """One thing a person can do. `label` fits a footer, `title` a menu; the first of `keys` is the one shown.

    `shown_there` are places where something else on the screen does it, so that the footer need not.
    """

    id: str
    label: str
    title: str
    help: str
    keys: tuple[str, ...]
    places: tuple[Place, ...]
    footer: bool = True
    shown_there: tuple[Place, ...] = ()


ACTIONS: Final[tuple[Action, ...]] = (
    Action(
        "person",
        "person",
        "Say who works here now",
        "Scan your badge or type your initials. Every answer is recorded under this name.",
        ("f2",),
        ("home", "instrument", "sheet", "listing", "practice"),
    ),
    Action(
        "numbers",
        "numbers",
        "Show all numbers",
        "Every finding of this checkout with the numbers it used and the rule it followed.",
        ("f2",),
        ("ending",),
    ),
    Action(
        "note",
        "note",
        "Write a note",
        "A line of your own in the record of this checkout. It changes no verdict.",
        ("f2",),
        ("checkout",),
        footer=False,
    ),
    Action(
        "home",
        "instruments",
        "Back to the instruments",
        "The list of instruments. A checkout stays open and its wait goes on.",
        ("f3",),
        ("instrument", "checkout", "ending", "sheet", "listing"),
    ),
    Action(
        "records",
        "records",
        "Instruments, sources, people, records",
        "What the site owns and who works here, and everything that is on record.",
        ("f3",),
        ("home",),
    ),
    Action(
        "everything",
        "about it",
        "Everything about this instrument",
        "Calibration, reference readings, lockouts, uses, its checkouts; and what can be done with it.",
        ("f4",),
        ("instrument",),
        shown_there=("instrument",),
    ),
    Action(
        "what_next",
        "what next",
        "What this ending leads to",
        "The tag of what is locked out, the uses in doubt, handing out what is fit for use.",
        ("f4",),
        ("ending",),
    ),
    Action(
        "deeds",
        "what to do",
        "What can be done here",
        "A numbered list. What you may not do now says why.",
        ("f4",),
        ("sheet", "listing"),
    ),
    Action(
        "keep",
        "keep",
        "Keep what was entered, or go on",
        "Looks at everything once more. Nothing is kept while something is wrong.",
        ("f4",),
        ("form",),
    ),
    Action(
        "pause",
        "pause",
        "Pause this checkout, or go on with it",
        "Everything answered is kept. Going on asks whether the instrument was switched off meanwhile.",
        ("f4",),
        ("checkout", "bench"),
    ),
    Action(
        "matters",
        "due",
        "What is due, what is out, what to know",
        "Calibrations and leak tests that run out, check sources that are not in their store, notices.",
        ("f4",),
        ("home",),
    ),
    Action(
        "others",
        "checkouts",
        "Go to another open checkout",
        "All checkouts that are open here. Those whose wait has ended come first.",
        ("f5",),
        ("home", "instrument", "checkout", "ending", "form", "sheet", "listing"),
        shown_there=("home", "listing"),
    ),
    Action(
        "fail",
        "it fails",
        "It fails, I say why",
        "Your own judgement fails it: locked out at once, with your reason. Nobody can pass a failed one.",
        ("f6",),
        ("checkout", "bench"),
    ),
    Action(
        "lock_out",
        "lock out",
        "Lock an instrument out, I say why",
        "Out of service at once, with your reason, until it is repaired, cleared and checked again.",
        ("f6",),
        ("home", "instrument", "ending"),
    ),
    Action(
        "end_readiness",
        "end ready",
        "End an instrument's readiness",
        "Dropped, wet, opened, fresh cells …: it needs a new checkout before anybody uses it.",
        ("f7",),
        ("home", "instrument", "checkout", "ending"),
    ),
    Action(
        "take_back",
        "remove last",
        "Reject the last reading, or remove the last row",
        "A rejected reading stays in the record with your reason. A row that is not kept yet can be typed anew.",
        ("f6",),
        ("form",),
    ),
    Action(
        "print",
        "to a file",
        "Write this to a file, for printing",
        "A page for the printer, a table, or data. The program says where the file is.",
        ("f6",),
        ("sheet", "listing"),
    ),
    Action(
        "narrow",
        "narrow",
        "Narrow the list",
        "Shows only what fits: by kind, by date, by state.",
        ("f7",),
        ("listing",),
    ),
    Action(
        "home",
        "beginning",
        "Back to the beginning",
        "Time at the instrument goes on. The session can be gone on with from there.",
        ("f3",),
        ("bench",),
    ),
    Action(
        "hint",
        "hint",
        "Ask for a hint",
        "One after another, and counted. An exam has none.",
        ("f2",),
        ("bench",),
    ),
    Action(
        "to_instrument",
        "instrument",
        "To the instrument, or back to the checkout",
        "At the instrument its letters work its controls. On a small screen one of both is shown.",
        ("f7",),
        ("bench",),
    ),
    Action(
        "keypad",
        "keypad",
        "Type with the mouse or a finger",
        "Letters and figures as buttons, for the field on this screen.",
        (),
        ("home", "checkout", "dialog", "form", "listing", "bench"),
    ),
    Action(
        "help",
        "help",
        "Help for what is in front of you",
        "What the marked field or button is for, and every key.",
        ("f8", "f1"),
        ("home", "instrument", "checkout", "ending", "dialog", "form", "sheet", "listing", "practice", "bench"),
    ),
    Action(
        "back",
        "back",
        "Back, nothing is done",
        "Leaves this. Nothing is recorded.",
        ("escape",),
        ("instrument", "dialog", "sheet", "listing"),
    ),
    Action(
        "leave_form",
        "back",
        "Back; asks before anything typed is thrown away",
        "On a later page it goes back to the one before.",
        ("escape",),
        ("form",),
    ),
    Action(
        "menu",
        "menu",
        "Everything that can be done here",
        "A list of all actions, worked by arrows and Enter.",
        ("escape", "f12"),
        ("home", "checkout", "ending", "practice", "bench"),
    ),
    Action(
        "menu",
        "menu",
        "Everything that can be done here",
        "A list of all actions, worked by arrows and Enter.",
        ("f12",),
        ("instrument",),
    ),
    Action(
        "abandon",
        "abandon",
        "Give this checkout up",
        "Ends it without a verdict: the instrument is not fit for use. After a failed finding this locks out.",
        (),
        ("checkout", "bench"),
        footer=False,
    ),
    Action(
        "withdraw",
        "withdraw",
        "Withdraw it: made on the wrong item",
        "The record is kept and struck through. It gives no readiness.",
        (),
        ("checkout", "ending"),
        footer=False,
    ),
    Action(
        "bell",
        "bell",
        "Bell on or off",
        "The terminal's bell rings when a wait ends.",
        (),
        ("home", "checkout", "practice", "bench"),
        footer=False,
    ),
    Action(
        "light_dark",
        "light/dark",
        "Light or dark screen",
        "Two themes of high contrast, for glare and for the dark.",
        (),
        ("home", "instrument", "checkout", "ending", "practice", "bench"),
        footer=False,
    ),
    Action(
        "leave",
        "leave",
        "Leave the program",
        "Open checkouts are paused first. They can be gone on with later.",
        ("f9", "f10", "ctrl+q"),
        ("home", "instrument", "checkout", "ending", "form", "sheet", "listing", "practice", "bench"),
        footer=False,
    ),
)


def actions_for(place: Place) -> tuple[Action, ...]:
    """The actions of a kind of screen, in the order of the registry."""
    return tuple(each for each in ACTIONS if place in each.places)


def footer_for(place: Place) -> tuple[Action, ...]:
    return tuple(each for each in actions_for(place) if each.footer and place not in each.shown_there)


def bindings_for(place: Place) -> list[BindingType]:
    """The keys of a kind of screen. Actions without a key are reached through the menu."""
    return [
        Binding(",".join(each.keys), each.id, each.title, show=False, id=f"{place}.{each.id}")
        for each in actions_for(place)
        if each.keys
    ]


_KEY_NAMES: Final = {"escape": "Esc"}


def key_name(key: str) -> str:
    """A key as it is written on the keyboard."""
    if key in _KEY_NAMES:
        return _KEY_NAMES[key]
    return key.replace("ctrl+", "Ctrl-").upper() if key.startswith("f") else key.replace("ctrl+", "Ctrl-")


def caption(action: Action) -> str:
    """What the footer says: the key and the short label."""
    return f"{key_name(action.keys[0])} {action.label}" if action.keys else action.label
