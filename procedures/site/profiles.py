"""Profiles: checking a file, adopting a revision, and the procedure that an instrument is checked by."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from procedures.site import people
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.states import Adoption, ProfileState
    from procedures.procedure import Procedure
    from procedures.profile.errors import ProfileError
    from procedures.site.opening import Site


@dataclass(frozen=True, slots=True)
class FileError:
    """One thing wrong in a file: line and column count from 1; 0 when the whole file is meant."""

    file: str
    line: int
    column: int
    key: str
    message: str

    def to_json(self) -> dict[str, Any]:
        """As `profile check --json` prints it."""
        return {
            "file": self.file,
            "line": self.line,
            "column": self.column,
            "key": self.key,
            "message": self.message,
        }


@dataclass(frozen=True, slots=True)
class ProfileReport:
    """What checking a profile's file came to: every error, or a summary in lines."""

    file: str
    errors: tuple[FileError, ...]
    summary: tuple[str, ...]

    @property
    def ok(self) -> bool:
        return not self.errors


def check_file(path: Path) -> ProfileReport:
    """Read and prove the profile in a file. Mistakes are in the report; nothing is raised for them."""
    from procedures.profile.describe import summary_of
    from procedures.profile.errors import ProfileErrors
    from procedures.profile.load import load_profile

    try:
        made = summary_of(load_profile(path))
    except ProfileErrors as refused:
        errors = tuple(
            FileError(str(path), each.line, each.column, each.key, _in_words(each)) for each in refused.errors
        )
        return ProfileReport(str(path), errors, ())
    required = sum(step.required for step in made.steps)
    return ProfileReport(
        str(path),
        (),
        (
            f"{made.title} ({made.id}), revision {made.revision}, for: {made.detector}",
            f"{required} required steps, {len(made.steps) - required} only when sent, proved",
            f"{len(made.paths)} paths in its table, from {made.shortest:.0f} s to at most {made.longest:.0f} s",
            f"SHA-256 {made.sha256}",
        ),
    )


def _in_words(error: ProfileError) -> str:
    parts = [("path", error.path), ("found", error.found), ("allowed", error.allowed), ("example", error.example)]
    return "\n".join([error.message, *(f"{name}: {text}" for name, text in parts if text)])


def path_table(path: Path) -> list[dict[str, Any]]:
    """The path table of the profile in a file, as rows ready for JSON. Raises Trouble for a profile with mistakes."""
    from procedures.profile.load import load_profile
    from procedures.profile.paths import path_table as table

    return [row.to_json() for row in table(load_profile(path).profile)]


def limit_chances(path: Path) -> list[dict[str, Any]]:
    """For each limit of the profile the chance that a healthy instrument fails it, as rows ready for JSON."""
    from procedures.profile.load import load_profile
    from procedures.profile.paths import limit_chances as chances

    rows = chances(load_profile(path).profile)
    return [
        {"step": row.step, "limit": row.limit.name, "chance": row.limit.chance, "assumed": row.limit.assumed}
        for row in rows
    ]


def adopt(site: Site, text: str, person: str) -> str:
    """Adopt a revision: its whole text goes into the journal; the adoption's id comes back.

    Only adopted revisions check real instruments. Raises Trouble unless a lead adopts a profile whose proof holds, and
    whose revision is newer than every adopted one; the very text of an adopted one may be adopted again.
    """
    from procedures.profile.load import read_profile

    people.entitled(site, person, "adopt")
    procedure = read_profile(text).procedure
    before = site.journal.profile_now(procedure.id)
    _newer_or_the_same(procedure, before)
    body = {
        "profile": procedure.id,
        "revision": procedure.revision,
        "title": procedure.title,
        "sha256": procedure.sha256,
        "text": text,
        "replaces": list(before.heads),
    }
    site.procedures[procedure.sha256] = procedure
    site.proved.add(procedure.sha256)
    return site.record("profile-adopted", body, about=(f"profile:{procedure.id}",), person=person).hash


def _newer_or_the_same(procedure: Procedure, before: ProfileState) -> None:
    """Two texts of one revision could not be told apart by anybody who reads only its number."""
    newest = max((each.revision for each in before.adoptions), default=0)
    if procedure.revision > newest or any(each.sha256 == procedure.sha256 for each in before.adoptions):
        return
    raise Trouble(
        f"revision {newest} of the profile {procedure.id} was adopted already, and this is another text with the "
        f"number {procedure.revision}",
        where="revision",
        allowed=f"{newest + 1} or more; or the very text of an adopted revision, to go back to it",
        do="Count the revision up in the file.",
    )


def procedure_for(site: Site, profile: str) -> Procedure:
    """The procedure of the adopted revision in force. Raises Trouble when there is none."""
    state = site.journal.profile_now(profile)
    if state.in_force is None:
        raise Trouble(
            f"two revisions of the profile {profile} were adopted apart"
            if len(state.heads) > 1
            else f"no revision of the profile {profile} is adopted here",
            allowed="an adopted revision",
            do="The site lead chooses the revision that counts.",
        )
    _holds(site, state.in_force)
    return _procedure(site, state.in_force.sha256, state.in_force.text)


def _holds(site: Site, adoption: Adoption) -> None:
    """A revision that today's proof refuses opens no new checkout, though it judges those that it ran."""
    from procedures.profile.errors import ProfileErrors
    from procedures.profile.load import read_profile

    if adoption.sha256 in site.proved:
        return
    try:
        read_profile(adoption.text)
    except ProfileErrors as refused:
        first, *more = refused.errors
        raise Trouble(
            f"revision {adoption.revision} of {adoption.title} does not hold by what this program proves: "
            f"{first.message}{f', and {len(more)} more' if more else ''}",
            allowed="a revision whose proof holds",
            do="The site lead corrects the profile and adopts it as a new revision.",
        ) from None
    site.proved.add(adoption.sha256)


def adopted_procedure(site: Site, profile: str, sha256: str) -> Procedure:
    """The procedure of an adopted revision, in force or not, by the hash its checkouts name."""
    if sha256 in site.procedures:
        return site.procedures[sha256]
    for adoption in site.journal.profile_now(profile).adoptions:
        if adoption.sha256 == sha256:
            return _procedure(site, sha256, adoption.text)
    raise Trouble(
        f"the profile {profile} that this checkout ran is not in the journal",
        do="Bring the records together with those of the laptop where it was adopted.",
    )


def _procedure(site: Site, sha256: str, text: str) -> Procedure:
    from procedures.profile.load import read_adopted

    if sha256 not in site.procedures:
        procedure = read_adopted(text).procedure
        if procedure.sha256 != sha256:
            raise Trouble("the text of an adopted profile does not match its hash", do="Verify the journal.")
        site.procedures[sha256] = procedure
    return site.procedures[sha256]
