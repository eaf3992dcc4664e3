"""Packaged tables: reads `<name>.toml` beside this file once and keeps it.

The tables belong to the program, not to the site; a fault in one is a fault of the program and is raised as it comes.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any


@cache
def table(name: str) -> Mapping[str, Any]:
    """The packaged table `name` (without ".toml"), as TOML reads it. Callers must not change what is inside."""
    text = files(__name__).joinpath(f"{name}.toml").read_text(encoding="utf-8")
    return MappingProxyType(tomllib.loads(text))
