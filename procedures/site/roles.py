"""What the profile of an instrument wants of its check sources: which roles there are, and what each is used for."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from procedures.journal.states import InstrumentState
    from procedures.site.opening import Site


def roles_wanted(site: Site, state: InstrumentState) -> Mapping[str, tuple[str, ...]]:
    """Each role of the profile in force, with what a source in it is used for, a line each; none without a profile.

    The text was proved when it was adopted, so it is read as plain TOML: nothing heavy is loaded for it.
    """
    adopted = site.journal.profile_now(str(state.fields.get("profile", ""))).in_force
    if adopted is None:
        return {}
    try:
        steps = tomllib.loads(adopted.text).get("step", [])
    except tomllib.TOMLDecodeError:
        return {}
    found: dict[str, list[str]] = {}
    for step in steps:
        for role, use in _uses(step):
            if use not in found.setdefault(role, []):
                found[role].append(use)
    return {role: tuple(uses) for role, uses in found.items()}


def _uses(step: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    name = str(step.get("id", "")).replace("-", " ")
    if step.get("source"):
        yield str(step["source"]), _reading(name, step)
    ratio = step.get("ratio")
    if isinstance(ratio, Mapping) and ratio.get("source"):
        yield str(ratio["source"]), f"{name}: read on {ratio.get('scale', '')} with the window closed, then open"
    if step.get("clicks"):
        yield str(step["clicks"]), f"{name}: its clicks quicken near it"


def _reading(name: str, step: Mapping[str, Any]) -> str:
    parts = [f"{name}: read on {step.get('scale', '')}"]
    if step.get("geometry"):
        parts.append(str(step["geometry"]))
    limits = step.get("limits")
    if isinstance(limits, Mapping):
        parts.append(f"has to lie within {limits.get('low', '')} and {limits.get('high', '')} of what is expected")
    if step.get("smallest_over_background"):
        parts.append(f"at least {step['smallest_over_background']} times background")
    if step.get("minimum_net"):
        parts.append(f"at least {step['minimum_net']} net counts")
    return ", ".join(parts)
