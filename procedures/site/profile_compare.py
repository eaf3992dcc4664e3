"""What a lead looks at before another revision of a profile is adopted, and the format for other programs."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.profile.comparing import Comparison
    from procedures.profile.load import Loaded


@dataclass(frozen=True, slots=True)
class Compared:
    """Two revisions held against each other: every difference in words, those to look at first."""

    lines: tuple[str, ...]
    flagged: int
    body: dict[str, Any]


def compare_files(before: Path, after: Path) -> Compared:
    """Compare two profiles by meaning. Both must hold: Trouble names the one that does not, and how to see why."""
    from procedures.profile.comparing import compare

    old, new = _loaded(before), _loaded(after)
    if old.procedure.id != new.procedure.id:
        raise Trouble(
            f"these are two profiles, {old.procedure.id} and {new.procedure.id}",
            allowed="two revisions of one profile",
            do="Name two files with the same id.",
        )
    return _in_words(compare(old, new))


def _loaded(path: Path) -> Loaded:
    from procedures.profile.errors import ProfileErrors
    from procedures.profile.load import load_profile

    try:
        return load_profile(path)
    except ProfileErrors as errors:
        raise Trouble(
            f"this profile cannot be used: {errors.errors[0].message}",
            where=str(path),
            do=f"See every mistake with: checklist-tui profile check {path}",
        ) from None


def _in_words(found: Comparison) -> Compared:
    body = {
        "harmless": found.harmless,
        "differences": [asdict(each) | {"flagged": each.flagged} for each in found.differences],
        "paths": [asdict(each) for each in found.paths],
    }
    flagged = sum(each.flagged for each in found.differences) + len(found.paths)
    return Compared(tuple(found.lines()), flagged, body)


def json_schema() -> dict[str, Any]:
    """The JSON Schema of the profile format, for editors that check TOML against one."""
    from procedures.profile import json_schema as made

    return made.json_schema()
