"""The rubric: how much each line of a score is worth. Read strictly from a file; the packaged one is the default."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from procedures.practice.pages import Mistakes, read_page, text_of
from procedures.steps.base import Strict

Points = Annotated[float, Field(ge=0, le=1_000, allow_inf_nan=False)]


class Line(Strict):
    """A line of the score."""

    points: Annotated[Points, Field(examples=[5], description="What the line is worth. Required.")]


class DecisionLine(Line):
    """The decision."""

    cautious: Annotated[Points, Field(examples=[20], description="For stopping short of locking it out. Required.")]
    needless: Annotated[Points, Field(examples=[10], description="For not passing a sound one. Required.")]


class FaultLine(Line):
    """The fault, where there is one."""

    later: Annotated[Points, Field(examples=[8], description="For finding it at another step. Required.")]


class ReadingsLine(Line):
    """Readings."""

    within: Annotated[float, Field(gt=0, le=5, examples=[0.5], description="Divisions that are allowed. Required.")]
    display: Annotated[
        float, Field(ge=0, le=10, examples=[2], description="Seconds for which a display's figure counts. Required.")
    ]


class TimeLine(Line):
    """Time, in multiples of the perfect observer's."""

    enough: Annotated[float, Field(ge=1, le=100, examples=[3], description="All the points up to here. Required.")]
    most: Annotated[float, Field(gt=1, le=1_000, examples=[10], description="No points from here. Required.")]


class Rubric(Strict):
    """All lines."""

    format: Annotated[Literal[1], Field(examples=[1], description="Format of the file: 1. Required.")]
    pass_at: Annotated[float, Field(ge=0, le=100, examples=[70], description="% that pass. Required.")]
    decision: Annotated[DecisionLine, Field(description="The decision. Required.")]
    fault: Annotated[FaultLine, Field(description="The fault, found or missed. Required.")]
    seen: Annotated[Line, Field(description="What was seen. Required.")]
    readings: Annotated[ReadingsLine, Field(description="Readings. Required.")]
    waits: Annotated[Line, Field(description="Waits kept. Required.")]
    order: Annotated[Line, Field(description="Done before it was said. Required.")]
    care: Annotated[Line, Field(description="No answer faster than a look. Required.")]
    time: Annotated[TimeLine, Field(description="Time. Required.")]


def read_rubric(text: str, file: str = "rubric.toml") -> Rubric:
    """The rubric in a text. Raises PracticeErrors with all mistakes."""
    page, read = read_page(text, file, Rubric)
    mistakes = Mistakes(page)
    lines = {name: getattr(read, name) for name in ("fault", "seen", "readings", "waits", "order", "care", "time")}
    whole = read.decision.points
    for name, line in lines.items():
        if line.points >= whole:
            said = "no line is worth as much as the decision"
            mistakes.add((name, "points"), said, found=f"{line.points:g}", allowed=f"less than {whole:g}")
    for name, part in (("decision", "cautious"), ("decision", "needless"), ("fault", "later")):
        most = getattr(read, name).points
        if getattr(getattr(read, name), part) > most:
            mistakes.add((name, part), "a part is more than the whole", allowed=f"at most {most:g}")
    if read.time.most <= read.time.enough:
        mistakes.add(("time", "most"), "no points before all points", allowed=f"more than {read.time.enough:g}")
    mistakes.raise_any()
    return read


def load_rubric(path: Path) -> Rubric:
    """The rubric in a file."""
    return read_rubric(text_of(path), path.name)


@cache
def rubric() -> Rubric:
    """The packaged rubric."""
    return read_rubric(files(__package__).joinpath("rubric.toml").read_text(encoding="utf-8"))
