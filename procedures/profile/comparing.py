"""Two revisions of a profile compared by what they mean: what a lead looks at before the later one is adopted.

Layout, comments and spellings of a quantity are no difference. What lets more instruments pass, asks less or waits less
is flagged, and so is what cannot be weighed: a change is harmless only when it is known to be.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Any, Final, Literal

from pydantic import BaseModel

from procedures.profile.load import Loaded
from procedures.profile.looseness import HEAD, REASON, REMEDY, RETURN, SCALE, Effect, Row, effect_of, rows_for, same
from procedures.profile.paths import PathRow, path_table
from procedures.profile.schema import Profile
from procedures.steps.base import StepParameters
from procedures.units import Quantity

Sort = Literal["changed", "added", "removed", "moved"]

_UNKNOWN: Final = Row("", "other")


def _scales(profile: Profile) -> Mapping[str, BaseModel]:
    return {each.name: each for each in profile.instrument.scale}


def _reasons(profile: Profile) -> Mapping[str, BaseModel]:
    return {each.code: each for each in profile.reason}


def _questions(profile: Profile) -> Mapping[str, BaseModel]:
    return _numbered((each.lockout, each) for each in profile.at_return)


_LISTS: Final[
    tuple[tuple[str, Mapping[str, Row], Callable[[Profile], Mapping[str, BaseModel]], Effect, Effect], ...]
] = (
    ("scale", SCALE, _scales, "look at it", "look at it"),
    ("reason", REASON, _reasons, "wording", "wording"),
    ("question at return", RETURN, _questions, "tightened", "loosened"),
)
"""The lists above the steps: what each is called, its rows, its elements by name, what one added and removed does."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One difference. `where` is what it is about, such as "step zero"; `key` its parameter, "" for the whole.

    `was` and `now` are values in words, "" where there was none or is none. `words` are the whole of it to show.
    """

    sort: Sort
    where: str
    key: str
    was: str
    now: str
    effect: Effect
    words: str

    @property
    def flagged(self) -> bool:
        """Whether a person has to look at it before the revision is adopted."""
        return self.effect in ("loosened", "look at it")


@dataclass(frozen=True, slots=True)
class PathChange:
    """A way to fit for use that asks less than before, or that there was not. `lacking` are steps it leaves out."""

    shows: str
    steps: tuple[str, ...]
    lacking: tuple[str, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """All differences between two revisions, in the order of the file, and the paths to fit for use that are new."""

    differences: tuple[Difference, ...]
    paths: tuple[PathChange, ...]

    @property
    def flagged(self) -> tuple[Difference, ...]:
        return tuple(each for each in self.differences if each.flagged)

    @property
    def harmless(self) -> bool:
        """Whether nothing was loosened, nothing is unclear, and no path to fit for use is new."""
        return not self.flagged and not self.paths

    def lines(self) -> tuple[str, ...]:
        """The comparison in words, flagged lines marked by an exclamation mark."""
        if not self.differences and not self.paths:
            return ("The two revisions mean the same.",)
        told = (f"{'! ' if each.flagged else '  '}{each.words}" for each in self.differences)
        return (*told, *(f"! {each.words}" for each in self.paths))


def compare(before: Loaded, after: Loaded) -> Comparison:
    """What is different in `after`. Both are read; `after` is proved, so its runs end."""
    differences = (*_heads(before.profile, after.profile), *_steps(before.profile, after.profile))
    return Comparison(differences, tuple(_paths(path_table(before.profile), path_table(after.profile))))


def in_words(value: Any) -> str:
    """A value of a parameter as people read it."""
    if value is None or value == "" or value == ():
        return "nothing stated"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple | list):
        return ", ".join(in_words(each) for each in value)
    return str(value)


def _heads(before: Profile, after: Profile) -> Iterator[Difference]:
    yield from _changes("profile", _of_head(before), _of_head(after), HEAD)
    for what, rows, of, added, removed in _LISTS:
        yield from _named(what, rows, of(before), of(after), added=added, removed=removed)


def _of_head(profile: Profile) -> Mapping[str, Any]:
    """What stands above scales and steps, with what is left out put in its place."""
    instrument = profile.instrument
    flat = _flat(profile, but={"step", "reason", "return", "instrument"}) | _flat(instrument, but={"scale"})
    return flat | {"window": instrument.has_window, "zero": instrument.needs_zero}


def _named(
    what: str,
    rows: Mapping[str, Row],
    before: Mapping[str, BaseModel],
    after: Mapping[str, BaseModel],
    *,
    added: Effect,
    removed: Effect,
) -> Iterator[Difference]:
    for name in before:
        if name not in after:
            yield _whole("removed", f"{what} {name}", removed)
    for name, model in after.items():
        where = f"{what} {name}"
        if name not in before:
            yield _whole("added", where, added)
        else:
            but = {"name", "code", "action"} | ({"lockout"} if rows is RETURN else set())
            was, now = _flat(before[name], but=but), _flat(model, but=but)
            if rows is SCALE:
                was, now = ({**each, "multiplier": each["multiplier"] or 1} for each in (was, now))
            yield from _changes(where, was, now, rows)


def _steps(before: Profile, after: Profile) -> Iterator[Difference]:
    old, new = ({each.id: each for each in one.step} for one in (before, after))
    kept = {name for name in old if name in new and old[name].kind == new[name].kind}
    for name, step in old.items():
        if name not in kept:
            yield _whole("removed", f"step {name}", "loosened", f", of kind {step.kind}")
    moved = _moved([name for name in old if name in kept], [name for name in new if name in kept])
    orders = (tuple(old), tuple(new))
    for name, step in new.items():
        where = f"step {name}"
        if name not in kept:
            yield _whole("added", where, "look at it" if step.only_when_sent else "tightened", f", of kind {step.kind}")
            continue
        if name in moved:
            yield _whole("moved", where, "look at it", ": it now comes " + _after(name, tuple(new)))
        yield from _changes(where, _of_step(old[name]), _of_step(step), rows_for(step.kind))
        yield from _remedies(where, old[name], step, orders)


def _moved(before: Sequence[str], after: Sequence[str]) -> frozenset[str]:
    """The fewest names that have to be moved to bring one order into the other."""
    blocks = SequenceMatcher(None, before, after, autojunk=False).get_matching_blocks()
    stay = {name for block in blocks for name in before[block.a : block.a + block.size]}
    return frozenset(after) - stay


def _after(name: str, order: tuple[str, ...]) -> str:
    place = order.index(name)
    return f"after {order[place - 1]}" if place else "first"


def _of_step(step: StepParameters) -> Mapping[str, Any]:
    """The parameters of a step, with what is left out put in its place where another key stands for it."""
    flat = _flat(step, but={"id", "kind", "remedy"})
    if "as_found_within" in flat and flat["as_found_within"] is None:
        flat["as_found_within"] = flat["within"]
    for passing, warned in (("good", "marginal"), ("fresh", "turning")):
        if passing in flat and warned in flat:
            # What passes with a warning is weighed together with what passes: to move one there is to tighten.
            flat[warned] = (*flat[passing], *flat[warned])
    return flat


def _remedies(
    where: str, before: StepParameters, after: StepParameters, orders: tuple[tuple[str, ...], ...]
) -> Iterator[Difference]:
    old, new = (_numbered((each.action, each) for each in step.remedy) for step in (before, after))
    for each in _named(f"{where}, remedy", REMEDY, old, new, added="loosened", removed="tightened"):
        if each.key == "repeat_from":
            yield _change(
                each.where, each.key, each.was, each.now, REMEDY, _effect_of_places(each.was, each.now, orders)
            )
        else:
            yield each
    if list(old) != list(new) and set(old) == set(new):
        yield _whole("moved", f"{where}, remedies", "look at it", ": they come in another order")


def _effect_of_places(was: str, now: str, orders: tuple[tuple[str, ...], ...]) -> Effect:
    """To go back less far is to do less again. The two revisions may disagree about which step is the later."""
    later = {order.index(now) > order.index(was) for order in orders if was in order and now in order}
    return "look at it" if len(later) != 1 else "loosened" if True in later else "tightened"


def _numbered(pairs: Iterable[tuple[str, Any]]) -> Mapping[str, Any]:
    """By name; a name that comes again is counted on."""
    found: dict[str, Any] = {}
    for name, value in pairs:
        again, key = 1, name
        while key in found:
            again += 1
            key = f"{name} ({again})"
        found[key] = value
    return found


def _changes(
    where: str, before: Mapping[str, Any], after: Mapping[str, Any], rows: Mapping[str, Row]
) -> Iterator[Difference]:
    for key in dict.fromkeys((*before, *after)):
        was, now = before.get(key), after.get(key)
        row = rows.get(key, _UNKNOWN)
        if row.way in ("more", "fewer") and frozenset(was or ()) == frozenset(now or ()):
            continue
        if not same(was, now):
            yield _change(where, key, was, now, rows, effect_of(row, was, now))


def _change(where: str, key: str, was: Any, now: Any, rows: Mapping[str, Row], effect: Effect) -> Difference:
    row = rows.get(key, _UNKNOWN)
    how: str = effect
    if row.wait and effect != "look at it":
        how = "shortened" if effect == "loosened" else "lengthened"
    named = row.words or key.replace("_", " ").replace(".", " ")
    told = f"{where}: {named} ({key}) was {in_words(was)} and is {in_words(now)}: {how}"
    return Difference("changed", where, key, in_words(was), in_words(now), effect, told)


def _whole(sort: Sort, where: str, effect: Effect, more: str = "") -> Difference:
    end = "" if effect == "wording" else f" — {effect}"
    told = f"{where}: {sort}{more}{end}"
    return Difference(
        sort, where, "", "" if sort == "added" else where, "" if sort == "removed" else where, effect, told
    )


def _flat(model: BaseModel, *, but: set[str] | frozenset[str] = frozenset()) -> dict[str, Any]:
    """The fields of a model by name, those of tables in it as "table.field", two bounds as lowest and highest."""
    flat: dict[str, Any] = {}
    for name in type(model).model_fields:
        if name in but:
            continue
        value = getattr(model, name)
        if isinstance(value, BaseModel):
            flat |= {f"{name}.{key}": inner for key, inner in _flat(value).items()}
        elif isinstance(value, tuple) and value and all(isinstance(each, Quantity) for each in value):
            flat |= {f"{name}.lowest": value[0], f"{name}.highest": value[-1]}
        else:
            flat[name] = value
    return flat


def _paths(before: tuple[PathRow, ...], after: tuple[PathRow, ...]) -> Iterator[PathChange]:
    """Ways to fit for use that are new, leave out what every way before had, or do less of it again."""
    fit = [row for row in before if row.ending == "fit for use"]
    always = [
        step for step in dict.fromkeys(step for row in fit for step in row.steps) if all(step in r.steps for r in fit)
    ]
    known = {row.shows: row for row in fit}
    for row in after:
        if row.ending != "fit for use":
            continue
        lacking = tuple(step for step in always if step not in row.steps)
        old = known.get(row.shows)
        if lacking:
            told = f"a way to fit for use without {', '.join(lacking)}: {row.shows}"
        elif old is None:
            told = f"a new way to fit for use: {row.shows}"
        elif len(row.steps) < len(old.steps):
            told = f"a way to fit for use does {len(row.steps)} checks where it did {len(old.steps)}: {row.shows}"
        else:
            continue
        yield PathChange(row.shows, row.steps, lacking, told)
