"""Where each key of a TOML file stands: line and column of every key, value and table.

The values themselves come from the standard reader; this only finds places. Columns are counted in characters, as
editors show them, not in bytes.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from tree_sitter import Node, Parser, Tree

Point: TypeAlias = tuple[int, int]
"""Line and column, both from 1. (0, 0): nowhere."""

Part: TypeAlias = str | int


@dataclass(slots=True)
class Spot:
    """One key, table or element of an array: where its name and its value begin, and what lies inside it.

    `elements` counts the tables of an array of tables so far.
    """

    key: Point = (0, 0)
    value: Point = (0, 0)
    inside: dict[Part, Spot] = field(default_factory=dict)
    elements: int = 0

    def child(self, part: Part) -> Spot:
        return self.inside.setdefault(part, Spot())

    def find(self, path: Sequence[Part]) -> Spot:
        """The spot at `path`, or the nearest one around it that exists."""
        spot = self
        for part in path:
            if part not in spot.inside:
                break
            spot = spot.inside[part]
        return spot


@dataclass(frozen=True, slots=True)
class Twice:
    """A key or table that stands twice: where the second is, where the first was."""

    key: str
    at: Point
    first: Point
    is_table: bool
    lines: tuple[int, int]


@lru_cache(maxsize=1)
def _parser() -> Parser:
    import tree_sitter_toml
    from tree_sitter import Language, Parser

    return Parser(Language(tree_sitter_toml.language()))


def parse(text: str) -> Tree:
    """The syntax tree, whatever the text holds."""
    return _parser().parse(text.encode())


class Places:
    """The places of one text: `root` holds the spots, `twice` what is defined twice."""

    def __init__(self, text: str) -> None:
        self._lines = text.encode().split(b"\n")
        self.root = Spot(key=(1, 1), value=(1, 1))
        self.twice: list[Twice] = []
        self._headers: set[int] = set()
        self._table_keys: list[str] = []
        top = self.root
        for node in parse(text).root_node.children:
            if node.type == "pair":
                self._pair(top, node)
            elif node.type in ("table", "table_array_element"):
                self._table(node)

    def point(self, node: Node) -> Point:
        row, column = node.start_point
        return row + 1, len(self._lines[row][:column].decode(errors="replace")) + 1

    def _table(self, node: Node) -> None:
        name = next((child for child in node.children if child.is_named), None)
        keys = list(_keys(name)) if name is not None else []
        if not keys:
            return
        at = self.point(node)
        self._table_keys = keys
        spot = self.root
        for key in keys[:-1]:
            spot = _newest(spot.child(key))
        spot = spot.child(keys[-1])
        if node.type == "table_array_element":
            spot.elements += 1
            spot = spot.child(spot.elements - 1)
        elif id(spot) in self._headers:
            self._note_twice(".".join(keys), node, at, spot.key, is_table=True)
            spot = Spot()
        self._headers.add(id(spot))
        spot.key = spot.value = at
        for child in node.children:
            if child.type == "pair":
                self._pair(spot, child)

    def _pair(self, spot: Spot, node: Node) -> None:
        children = [child for child in node.children if child.is_named and not child.is_error]
        keys = list(_keys(children[0])) if children else []
        if not keys:
            return
        at = self.point(node)
        for key in keys[:-1]:
            spot = spot.child(key)
            if spot.key == (0, 0):
                spot.key = spot.value = at
        if keys[-1] in spot.inside and spot.inside[keys[-1]].key != (0, 0):
            name = ".".join([*self._table_keys, *keys])
            self._note_twice(name, node, at, spot.inside[keys[-1]].key, is_table=False)
            return
        spot = spot.child(keys[-1])
        spot.key = at
        if len(children) > 1:
            self._value(spot, children[1])

    def _value(self, spot: Spot, node: Node) -> None:
        waiting = [(spot, node)]
        while waiting:
            spot, node = waiting.pop()
            spot.value = self.point(node)
            if node.type == "inline_table":
                for child in node.children:
                    if child.type == "pair":
                        self._inline_pair(spot, child, waiting)
            elif node.type == "array":
                inner = [child for child in node.children if child.is_named and child.type != "comment"]
                for place, child in enumerate(inner):
                    element = spot.child(place)
                    element.key = self.point(child)
                    waiting.append((element, child))

    def _inline_pair(self, spot: Spot, node: Node, waiting: list[tuple[Spot, Node]]) -> None:
        children = [child for child in node.children if child.is_named and not child.is_error]
        keys = list(_keys(children[0])) if children else []
        for place, key in enumerate(keys, 1):
            if place == len(keys) and key in spot.inside:
                self._note_twice(".".join(keys), node, self.point(node), spot.inside[key].key, is_table=False)
                return
            spot = spot.child(key)
            spot.key = self.point(node)
        if len(children) > 1:
            waiting.append((spot, children[1]))

    def _note_twice(self, key: str, node: Node, at: Point, first: Point, *, is_table: bool) -> None:
        rows = (node.start_point[0] + 1, node.end_point[0] + 1)
        self.twice.append(Twice(key, at, first, is_table, rows))


def _newest(spot: Spot) -> Spot:
    return spot.inside[spot.elements - 1] if spot.elements else spot


def _keys(node: Node) -> Iterator[str]:
    """The parts of a key, dotted or not, as text."""
    waiting = [node]
    while waiting:
        each = waiting.pop()
        if each.type == "dotted_key":
            waiting.extend(reversed(each.children))
        elif each.type in ("bare_key", "quoted_key"):
            yield _plain(each)


def _plain(node: Node) -> str:
    raw = (node.text or b"").decode(errors="replace")
    if node.type == "bare_key":
        return raw
    try:
        return next(iter(tomllib.loads(f"{raw} = 0")))
    except ValueError:
        return raw.strip("\"'")
