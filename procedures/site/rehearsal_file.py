"""Reading an answers file: all its mistakes at once, each with its line, as a profile's are."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import time
from functools import partial
from pathlib import Path
from typing import Final

from pydantic import ValidationError

from procedures.air import reference_air
from procedures.nuclides import half_life
from procedures.procedure import Procedure
from procedures.profile.errors import ProfileError, ProfileErrors, nearest
from procedures.profile.load import as_tuples
from procedures.profile.spots import Part, Places
from procedures.profile.text import read_bytes, read_values
from procedures.profile.words import Page, told
from procedures.readiness import zone_of
from procedures.site.rehearsal_schema import Answers
from procedures.trouble import Trouble
from procedures.units import shown

READY_ENDS: Final = ("shift", "day", "profile")


class AnswersErrors(ProfileErrors):
    """An answers file that cannot be used, with every mistake found in it, in file order."""

    def __init__(self, errors: Iterable[ProfileError]) -> None:
        super().__init__(errors)
        if len(self.errors) > 1:
            self.what = f"{len(self.errors)} mistakes stand in this answers file"
        self.do = "Put right what is listed, then rehearse again."


@dataclass(frozen=True, slots=True)
class AnswersFile:
    """An answers file that was read; `page` knows where each key stands."""

    answers: Answers
    page: Page

    def place(self, row: int) -> str:
        """Where an answer stands: `file:line`."""
        return f"{self.page.file}:{self.page.point(('answer', row), 'key')[0]}"


def read_answers(path: Path, procedure: Procedure) -> AnswersFile:
    """The answers in a file, for a rehearsal of `procedure`. Raises AnswersErrors with all mistakes."""
    text, errors = read_bytes(path)
    if errors:
        raise AnswersErrors(errors)
    values = read_values(text, path.name)
    if values.data is None or values.errors:
        raise AnswersErrors(values.errors)
    page = Page(path.name, values.data, Places(values.text).root)
    mistakes = list(_unknown_tables(page))
    answers = None
    try:
        answers = Answers.model_validate(as_tuples({k: v for k, v in page.data.items() if k in Answers.model_fields}))
    except ValidationError as refused:
        mistakes += told(page, refused, Answers, ())
    if answers is not None:
        mistakes += _at_odds(page, answers, procedure)
    if answers is None or mistakes:
        raise AnswersErrors(mistakes)
    return AnswersFile(answers, page)


def _unknown_tables(page: Page) -> Iterator[ProfileError]:
    known = tuple(Answers.model_fields)
    for key in page.data:
        if key not in known:
            near = nearest(key, known)
            message = f"there is no such key; did you mean {near}?" if near else "there is no such key"
            yield page.error((key,), message, at="key", found=key, allowed=", ".join(known))


def _at_odds(page: Page, answers: Answers, procedure: Procedure) -> Iterator[ProfileError]:
    """Where the file and the profile, or two parts of the file, do not belong together."""
    if answers.profile != procedure.id:
        yield page.error(
            ("profile",), "these answers are for another profile", found=answers.profile, allowed=procedure.id
        )
        return
    steps = tuple(step.id for step in procedure.plan.steps)
    for place, row in enumerate(answers.answer):
        if row.step not in steps:
            yield _not_among(page, ("answer", place, "step"), "there is no such step", row.step, steps)
    scales = tuple(scale.selector.name for scale in procedure.scales)
    roles = tuple(source.role for source in answers.source)
    for place, reference in enumerate(answers.reference):
        if reference.scale not in scales:
            yield _not_among(page, ("reference", place, "scale"), "there is no such scale", reference.scale, scales)
        if reference.role not in roles:
            yield _not_among(page, ("reference", place, "role"), "no source has this role", reference.role, roles)
    for place, source in enumerate(answers.source):
        yield from _refused(page, ("source", place, "nuclide"), partial(half_life, source.nuclide))
    for key, value in answers.settings.items():
        if key in _SETTINGS:
            yield from _refused(page, ("settings", key), partial(_SETTINGS[key], value))
        else:
            yield _not_among(page, ("settings", key), "a rehearsal knows no such setting", key, tuple(_SETTINGS))


def _times(text: str) -> None:
    """Times of day, apart by spaces."""
    try:
        moments = [time.fromisoformat(each) for each in text.split()]
    except ValueError:
        moments = []
    if not moments or any(each.tzinfo is not None for each in moments):
        raise Trouble(f"“{shown(text)}” is no time of day", allowed='such as "06:00", or "06:00 14:00 22:00"')


def _ready_ends(text: str) -> None:
    if text not in READY_ENDS:
        raise Trouble(f"“{shown(text)}” ends no readiness", allowed=", ".join(READY_ENDS))


_SETTINGS: Final[Mapping[str, Callable[[str], object]]] = {
    "zone": zone_of,
    "day_starts": _times,
    "shifts": _times,
    "ready_ends": _ready_ends,
    "air_reference": reference_air,
}
"""Settings of a site that a checkout is judged by, with what refuses a wrong one."""


def _not_among(page: Page, path: tuple[Part, ...], message: str, found: str, known: tuple[str, ...]) -> ProfileError:
    near = nearest(found, known)
    message = f"{message}; did you mean {near}?" if near else message
    return page.error(path, message, found=found, allowed=", ".join(known) or "none: the file names no source")


def _refused(page: Page, path: tuple[Part, ...], read: Callable[[], object]) -> Iterator[ProfileError]:
    try:
        read()
    except Trouble as trouble:
        yield page.error(path, trouble.what, allowed=trouble.allowed)
