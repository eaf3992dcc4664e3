"""The models and cases that come with the program, each with the demo profile that it belongs to."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from procedures.practice.cases import Case, read_case
from procedures.practice.model import Model
from procedures.practice.models import read_model
from procedures.profile.load import Loaded, read_adopted


@cache
def profiles() -> Mapping[str, Loaded]:
    """The demo profiles by id. They are proved by the program's tests, not again here."""
    found = (read_adopted(text) for text in _texts("").values())
    return MappingProxyType({each.procedure.id: each for each in found})


@cache
def models() -> Mapping[str, Model]:
    """The models by the id of their profile."""
    by_profile = {}
    for file, text in _texts("models").items():
        profile = file.removesuffix(".toml")
        by_profile[profile] = read_model(text, file, profiles()[profile])
    return MappingProxyType(by_profile)


@cache
def cases() -> Mapping[str, Case]:
    """The cases by the name of their file, without ".toml"."""
    return MappingProxyType(
        {file.removesuffix(".toml"): read_case(text, file, models()) for file, text in _texts("faults").items()}
    )


def _texts(folder: str) -> dict[str, str]:
    """The TOML files in a folder of the demo, by name."""
    root = files("demo_profiles")
    place = root / folder if folder else root
    listed = sorted((each for each in place.iterdir() if each.name.endswith(".toml")), key=lambda each: each.name)
    return {each.name: each.read_text(encoding="utf-8") for each in listed}
