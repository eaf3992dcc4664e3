"""What the practice package loads: the bench itself needs no schema, no clock and no randomness of its own."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import procedures.practice

FOLDER = Path(procedures.practice.__file__).parent


def test_the_bench_loads_no_schema() -> None:
    """A face on a screen must not wait for pydantic or pint: models and cases alone are read with them."""
    code = (
        "import sys, procedures.practice.instrument, procedures.practice.observing;"
        "print([name for name in ('pydantic', 'pint', 'tree_sitter', 'procedures.steps') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_nothing_reads_a_clock_or_shared_randomness() -> None:
    """Moments and seeds come in from outside, or nothing could be played again."""
    for path in FOLDER.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                assert not {alias.name for alias in node.names} & {"time", "random", "secrets"}, path.name
            if isinstance(node, ast.ImportFrom) and node.module in ("random", "time"):
                assert {alias.name for alias in node.names} == {"Random"}, path.name
            if isinstance(node, ast.Attribute) and not _of_a_given_clock(node):
                assert node.attr not in ("now", "utcnow", "today"), path.name


def _of_a_given_clock(node: ast.Attribute) -> bool:
    """`….clock.now`: the virtual clock of a run, which was handed in."""
    return isinstance(node.value, ast.Attribute) and node.value.attr == "clock"
