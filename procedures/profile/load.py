"""From a profile's file to a profile that may be run, or to every mistake in it.

The order is: is it a file, is it TOML, does it say what a profile says, do its names lead somewhere, is it proved. All
mistakes of the first three kinds come out at once; a profile is proved when it has none of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from pydantic import BaseModel, ValidationError

from procedures import steps
from procedures.procedure import Procedure
from procedures.profile.compile import plan_of, procedure_of
from procedures.profile.edges import ProofProblem
from procedures.profile.errors import ProfileError, ProfileErrors, listed, nearest
from procedures.profile.proof import prove
from procedures.profile.references import unresolved
from procedures.profile.schema import Head, Profile
from procedures.profile.spots import Part, Places
from procedures.profile.text import read_bytes, read_values, unseen
from procedures.profile.words import MISSING, Page, told
from procedures.routing import Plan
from procedures.steps.base import StepParameters

MOST_STEPS: Final = 100
MOST_REMEDIES: Final = 60
"""Steps and remedies of one profile: beyond these the proof would take longer than a person waits."""


@dataclass(frozen=True, slots=True)
class Loaded:
    """A profile that was read and proved, with what it compiles to. `text` is its file."""

    profile: Profile
    plan: Plan
    procedure: Procedure
    text: str

    @property
    def sha256(self) -> str:
        """By this an adoption names it."""
        return self.procedure.sha256


def load_profile(path: Path | str) -> Loaded:
    """The profile in a file. Raises ProfileErrors with all mistakes."""
    path = Path(path)
    text, errors = read_bytes(path)
    if errors:
        raise ProfileErrors(errors)
    return read_profile(text, path.name)


def read_profile(text: str, file: str = "") -> Loaded:
    """The profile in a text, proved; `file` is named in its mistakes. Raises ProfileErrors with all of them."""
    page, loaded = _compiled(text, file)
    problems = prove(loaded.plan, loaded.profile)
    if problems:
        raise ProfileErrors(_placed(page, problem) for problem in problems)
    return loaded


def read_adopted(text: str) -> Loaded:
    """The profile in a text that was proved when it was adopted, by the proof of that day.

    For checkouts that ran by it: a proof that has become stricter since must not make their record unreadable.
    """
    return _compiled(text, "")[1]


def _compiled(text: str, file: str) -> tuple[Page, Loaded]:
    values = read_values(text, file)
    if values.data is None:
        raise ProfileErrors(values.errors)
    page = Page(file, values.data, Places(values.text).root)
    profile, mistakes = _read(page)
    if values.errors:
        # A key may only seem to be missing: its line was left out because it could not be read.
        mistakes = [each for each in mistakes if each.message != MISSING]
    if profile is None or values.errors or mistakes:
        raise ProfileErrors([*values.errors, *mistakes])
    return page, Loaded(profile, plan_of(profile), procedure_of(profile, text), text)


def _placed(page: Page, problem: ProofProblem) -> ProfileError:
    """What the proof found, at the key that is to be put right."""
    keys: tuple[Part, ...] = tuple(int(part) if part.isdigit() else part for part in problem.key.split("."))
    if problem.step:
        ids = [row.get("id") for row in page.data["step"]]
        keys = ("step", ids.index(problem.step), *keys)
    return page.error(keys, problem.message, allowed=problem.allowed, path=problem.path)


def _read(page: Page) -> tuple[Profile | None, list[ProfileError]]:
    raw = {key: value for key, value in page.data.items() if key != "step"}
    errors = list(_unseen(page, page.data, ()))
    head = None
    try:
        head = Head.model_validate(as_tuples(raw))
    except ValidationError as refused:
        errors += told(page, refused, Head, ())
    read = list(_steps(page, errors))
    errors += unresolved(page)
    if head is None or errors:
        return None, errors
    return Profile(**{name: getattr(head, name) for name in Head.model_fields}, step=tuple(read)), errors


def as_tuples(value: Any) -> Any:
    """Lists become tuples: the models are strict and keep values that never change."""
    if isinstance(value, list):
        return tuple(as_tuples(each) for each in value)
    if isinstance(value, dict):
        return {key: as_tuples(each) for key, each in value.items()}
    return value


def _unseen(page: Page, value: Any, path: tuple[Part, ...]) -> Iterator[ProfileError]:
    """Text is data for people; what they could not see has no place in it."""
    if isinstance(value, str) and (character := unseen(value)):
        yield page.error(
            path,
            "a character that cannot be seen",
            found=f"U+{ord(character):04X}",
            allowed="one line of characters that can be printed",
        )
    elif isinstance(value, dict):
        for key, each in value.items():
            if unseen(key):
                yield page.error(path, "a key with a character that cannot be seen", allowed="letters, figures, _")
            else:
                yield from _unseen(page, each, (*path, key))
    elif isinstance(value, list):
        for place, each in enumerate(value):
            yield from _unseen(page, each, (*path, place))


def _steps(page: Page, errors: list[ProfileError]) -> Iterator[StepParameters]:
    """The steps that can be read; what is wrong with the others goes to `errors`."""
    rows = page.data.get("step")
    if not isinstance(rows, list) or not rows or not all(isinstance(row, dict) for row in rows):
        errors.append(
            page.error(
                ("step",) if rows is not None else (),
                "a profile has steps, each a table of its own",
                allowed=f"1 to {MOST_STEPS} steps",
                example="[[step]]",
            )
        )
        return
    remedies = sum(len(row["remedy"]) for row in rows if isinstance(row.get("remedy"), list))
    for count, most, what in ((len(rows), MOST_STEPS, "steps"), (remedies, MOST_REMEDIES, "remedies")):
        if count > most:
            errors.append(page.error(("step",), f"too many {what}", found=str(count), allowed=f"at most {most} {what}"))
            return
    for place, row in enumerate(rows):
        model = _model(page, place, row, errors)
        if model is None:
            continue
        try:
            yield model.model_validate(as_tuples(row))
        except ValidationError as refused:
            errors += told(page, refused, model, ("step", place))


def _model(page: Page, place: int, row: dict[str, Any], errors: list[ProfileError]) -> type[StepParameters] | None:
    """The parameters that a step of this kind takes, or None with an error."""
    names = steps.kind_names()
    name = row.get("kind")
    if name is None:
        line, column = page.point(("step", place), "key")
        errors.append(
            ProfileError(
                message=MISSING,
                file=page.file,
                line=line,
                column=column,
                key=page.name(("step", place, "kind")),
                allowed=listed(names),
                example='kind = "battery"',
            )
        )
        return None
    if not isinstance(name, str) or name not in names:
        near = nearest(name, names) if isinstance(name, str) else ""
        errors.append(
            page.error(
                ("step", place, "kind"),
                f"there is no such kind of step; did you mean {near}?" if near else "there is no such kind of step",
                found=str(name)[:60],
                allowed=listed(names),
            )
        )
        return None
    model: type[BaseModel] = steps.kind(name).parameters
    assert issubclass(model, StepParameters)
    return model
