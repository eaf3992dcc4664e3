"""Reading a file of practice strictly: all its mistakes at once, each with line and column, as a profile's are."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel, ValidationError

from procedures.profile.errors import ProfileError, ProfileErrors, nearest
from procedures.profile.load import as_tuples
from procedures.profile.spots import Part, Places
from procedures.profile.text import read_bytes, read_values, unseen
from procedures.profile.words import Page, told
from procedures.trouble import Trouble

M = TypeVar("M", bound=BaseModel)
T = TypeVar("T")


class PracticeErrors(ProfileErrors):
    """A file of practice that cannot be used, with every mistake found in it, in file order."""

    def __init__(self, errors: Iterable[ProfileError]) -> None:
        super().__init__(errors)
        if len(self.errors) > 1:
            self.what = f"{len(self.errors)} mistakes stand in this file"
        self.do = "Put right what is listed, then read the file again."


def text_of(path: Path) -> str:
    """The text of a file. Raises PracticeErrors when it cannot be had."""
    text, errors = read_bytes(path)
    if errors:
        raise PracticeErrors(errors)
    return text


def read_page(text: str, file: str, model: type[M]) -> tuple[Page, M]:
    """The file as its model, with the page that knows where each key stands. Raises PracticeErrors."""
    values = read_values(text, file)
    if values.data is None or values.errors:
        raise PracticeErrors(values.errors)
    page = Page(file, values.data, Places(values.text).root)
    mistakes = list(_unseen(page, page.data, ()))
    try:
        read = model.model_validate(as_tuples(dict(page.data)))
    except ValidationError as refused:
        raise PracticeErrors([*mistakes, *told(page, refused, model, ())]) from None
    if mistakes:
        raise PracticeErrors(mistakes)
    return page, read


def _unseen(page: Page, value: object, path: tuple[Part, ...]) -> Iterator[ProfileError]:
    """Text that nobody could see on a screen has no place in what people read."""
    if isinstance(value, str) and (character := unseen(value)):
        said = "one line of characters that can be printed"
        found = f"U+{ord(character):04X}"
        yield page.error(path, "a character that cannot be seen", found=found, allowed=said)
    elif isinstance(value, dict):
        for key, each in value.items():
            yield from _unseen(page, each, (*path, key))
    elif isinstance(value, list):
        for place, each in enumerate(value):
            yield from _unseen(page, each, (*path, place))


class Mistakes:
    """Mistakes of one page, gathered while its values are turned into others."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.found: list[ProfileError] = []

    def add(self, path: tuple[Part, ...], message: str, **rest: str) -> None:
        self.found.append(self.page.error(path, message, **rest))

    def among(self, path: tuple[Part, ...], name: str, known: Iterable[str], message: str) -> bool:
        """Whether `name` is one of `known`; noted with the nearest when it is not."""
        names = tuple(known)
        if name in names:
            return True
        near = nearest(name, names)
        said = f"{message}; did you mean {near}?" if near else message
        self.add(path, said, found=name, allowed=", ".join(names))
        return False

    def tried(self, path: tuple[Part, ...], read: Callable[[], T], instead: T) -> T:
        """What `read` gives, or `instead` with the trouble noted."""
        try:
            return read()
        except Trouble as trouble:
            self.add(path, trouble.what, allowed=trouble.allowed)
            return instead

    def raise_any(self) -> None:
        if self.found:
            raise PracticeErrors(self.found)
