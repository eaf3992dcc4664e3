"""Names within a profile that must lead somewhere: ids that are doubled, steps and scales that do not exist."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from procedures.profile.errors import ProfileError, nearest
from procedures.profile.spots import Part
from procedures.profile.words import Page
from procedures.routing import SENDER_STANDS


def unresolved(page: Page) -> Iterator[ProfileError]:
    """Every doubled id and every name of a step that does not exist, whatever else is wrong with the file."""
    steps = _tables(page.data.get("step"))
    yield from _doubled(page, steps, ("step",), "id", "step")
    yield from _doubled(page, _tables(page.data.get("reason")), ("reason",), "code", "reason")
    instrument = page.data.get("instrument")
    if isinstance(instrument, dict):
        yield from _doubled(page, _tables(instrument.get("scale")), ("instrument", "scale"), "name", "scale")
    ids = tuple(row["id"] for _, row in steps if isinstance(row.get("id"), str))
    for place, row in steps:
        yield from _step(page, place, row, ids)


def _tables(value: Any) -> list[tuple[int, dict[str, Any]]]:
    rows = value if isinstance(value, list) else []
    return [(place, row) for place, row in enumerate(rows) if isinstance(row, dict)]


def _doubled(
    page: Page, rows: list[tuple[int, dict[str, Any]]], path: tuple[Part, ...], key: str, what: str
) -> Iterator[ProfileError]:
    first: dict[str, int] = {}
    for place, row in rows:
        name = row.get(key)
        if not isinstance(name, str):
            continue
        if name in first:
            line = page.point((*path, first[name], key))[0]
            yield page.error(
                (*path, place, key),
                f"another {what} has this {key} already",
                found=name[:60],
                allowed=f"{'an' if key == 'id' else 'a'} {key} of its own; the other is in line {line}",
            )
        first.setdefault(name, place)


def _step(page: Page, place: int, row: dict[str, Any], ids: tuple[str, ...]) -> Iterator[ProfileError]:
    base: tuple[Part, ...] = ("step", place)
    yield from _known(page, (*base, "on_fail"), row.get("on_fail"), ids)
    yield from _known(page, (*base, "on_pass"), row.get("on_pass"), (*ids, SENDER_STANDS))
    for number, remedy in _tables(row.get("remedy")):
        yield from _known(page, (*base, "remedy", number, "repeat_from"), remedy.get("repeat_from"), ids)


def _known(page: Page, path: tuple[Part, ...], name: Any, known: tuple[str, ...]) -> Iterator[ProfileError]:
    if not isinstance(name, str) or not name or name in known:
        return
    near = nearest(name, known)
    yield page.error(
        path,
        f"there is no such step; did you mean {near}?" if near else "there is no such step",
        found=name[:60],
        allowed=", ".join(known),
    )
