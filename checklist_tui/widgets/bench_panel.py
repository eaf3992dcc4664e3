"""The instrument of practice: its face, and every control with a key and a button."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final, Protocol

from textual.app import ComposeResult
from textual.containers import Grid, Vertical
from textual.events import Key
from textual.message import Message

from checklist_tui.widgets.bench_face import BenchFace
from checklist_tui.widgets.press import Press
from procedures.site.practising.views import BATTERY, Face
from procedures.trouble import Trouble

FRAME: Final = 0.1
"""Seconds between two looks at the instrument."""

KEYS: Final = {
    "power": ("p", "power"),
    "selector": ("r", "range"),
    "battery": ("b", "battery"),
    "zero": ("z", "zero"),
    "zero-knob": ("k", "knob"),
    "light": ("l", "light"),
    "speaker": ("s", "speaker"),
    "slide": ("d", "slide"),
    "source": ("o", "source"),
    "cover": ("c", "shade"),
    "place": ("m", "place"),
    "case": ("a", "case"),
    "test": ("t", "test"),
    "tap": ("y", "tap it"),
    "seat": ("e", "seat source"),
    "reset": ("n", "reset"),
    "count": ("u", "count"),
    "alarm": ("g", "alarm"),
    "further": ("f", "further off"),
}
"""Each control: its key, and what stands on its button."""

HELD: Final = frozenset({"battery", "zero", "test"})
FINE, COARSE = 0.02, 0.25
"""Turns of the knob for one press."""


class Works(Protocol):
    """What the panel asks of the desk."""

    def face(self, checkout: str) -> Face: ...
    def controls(self, checkout: str) -> Mapping[str, tuple[str, ...]]: ...
    def work(self, checkout: str, control: str, value: str | float) -> Face: ...
    def turn(self, checkout: str, turns: float) -> Face: ...


class BenchPanel(Vertical, can_focus=True):
    """Letters work the controls while it has the focus; buttons always do."""

    help_text = (
        "Each control has a letter. A button that is held down stays down until its letter is pressed again. "
        "+ and - turn the zero knob a little, > and < a lot. F7 goes back to the checkout."
    )

    class Asked(Message):
        """Something that is answered elsewhere: "look", "hands", or a control that takes a number."""

        def __init__(self, what: str) -> None:
            self.what = what
            super().__init__()

    class Refused(Message):
        """The instrument does not do that."""

        def __init__(self, trouble: Trouble) -> None:
            self.trouble = trouble
            super().__init__()

    def __init__(self, desk: Works, session: str) -> None:
        super().__init__()
        self._desk = desk
        self._session = session
        self._controls = dict(desk.controls(session))
        self._set: dict[str, str] = {"light": "off", "speaker": "on"}
        self._face = desk.face(session)
        self._screen = BenchFace()

    def compose(self) -> ComposeResult:
        yield self._screen
        with Grid(classes="controls"):
            for name in KEYS:
                if name in self._controls and name != "zero-knob":
                    yield Press(self._label(name), f"work:{name}")
            if "zero-knob" in self._controls:
                yield Press("+ - knob", "work:zero-knob")
            yield Press("v look closely", "ask:look")
            yield Press("h by hand …", "ask:hands")

    def on_mount(self) -> None:
        for press in self.query(Press):
            press.can_focus = False
        self.set_interval(FRAME, self.frame)
        self.frame()

    def frame(self) -> None:
        """One look at the instrument."""
        try:
            self._seen(self._desk.face(self._session))
        except Trouble as trouble:
            self.post_message(self.Refused(trouble))

    def _seen(self, face: Face) -> None:
        before, self._face = self._face, face
        self._screen.show(face)
        if (
            before.on,
            before.held,
            before.slide,
            before.cover,
            before.place,
            before.case,
            before.source,
            before.selector,
        ) != (
            face.on,
            face.held,
            face.slide,
            face.cover,
            face.place,
            face.case,
            face.source,
            face.selector,
        ):
            self.relabel()

    def relabel(self) -> None:
        """Every button says where its control stands."""
        for press in self.query(Press):
            kind, _, name = press.value.partition(":")
            if kind == "work" and name != "zero-knob":
                press.relabel(self._label(name))

    def _label(self, name: str) -> str:
        key, say = KEYS[name]
        stands = self._stands(name)
        words = self._controls[name]
        if name in HELD:
            return f"{key} {say}{' HELD' if stands == 'down' else ''}"
        return f"{key} {say}: {stands}" if len(words) > 1 else f"{key} {say}{' …' if not words else ''}"

    def _stands(self, name: str) -> str:
        face = self._face
        match name:
            case "power":
                return "on" if face.on else "off"
            case "selector":
                return face.selector.name if face.selector is not None else BATTERY
            case "source":
                return face.source or "away"
            case "slide" | "cover" | "place" | "case":
                return str(getattr(face, name))
            case _ if name in HELD:
                return "down" if name in face.held else "up"
        return self._set.get(name, "")

    # -- working it

    def on_key(self, event: Key) -> None:
        character = event.character or ""
        turns = {"+": FINE, "-": -FINE, ">": COARSE, "<": -COARSE}.get(character)
        name = next((name for name, (key, _) in KEYS.items() if key == character.lower()), "")
        if turns is not None and "zero-knob" in self._controls:
            self._do(lambda: self._desk.turn(self._session, turns))
        elif character in ("v", "h"):
            self.post_message(self.Asked("look" if character == "v" else "hands"))
        elif name in self._controls and name != "zero-knob":
            self.work(name, backwards=character.isupper())
        else:
            return
        event.stop()
        event.prevent_default()

    def on_press_pressed(self, event: Press.Pressed) -> None:
        event.stop()
        kind, _, name = event.press.value.partition(":")
        if kind == "ask":
            self.post_message(self.Asked(name))
        elif name == "zero-knob":
            self._do(lambda: self._desk.turn(self._session, FINE))
        else:
            self.work(name)

    def work(self, name: str, *, backwards: bool = False) -> None:
        """Works a control: to its other position, or to the next; one that takes a number asks for it."""
        words = self._controls[name]
        if not words:
            self.post_message(self.Asked(name))
            return
        stands = self._stands(name)
        at = words.index(stands) if stands in words else -1
        value = words[(at + (-1 if backwards else 1)) % len(words)]
        self._do(lambda: self._desk.work(self._session, name, value))
        self._set[name] = value
        self.relabel()

    def _do(self, act: Callable[[], Face]) -> None:
        try:
            self._seen(act())
        except Trouble as trouble:
            self.post_message(self.Refused(trouble))
