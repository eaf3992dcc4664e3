"""Rehearsing a profile: its checkout run through with answers from a file, by the rules that real checkouts run by.

Nothing is recorded and no instrument is checked by it: a writer of profiles sees where a set of answers leads.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from procedures.findings import finding_to_json
from procedures.site.picture import finding_view, reason_view
from procedures.site.views import FindingView, ReasonView

if TYPE_CHECKING:
    from procedures.procedure import Procedure
    from procedures.site.rehearsal_file import AnswersFile
    from procedures.site.rehearsal_run import Ran


@dataclass(frozen=True, slots=True)
class RehearsalResult:
    """Where the answers led.

    `seconds` is how long the checkout would have taken and `asks` how often it asked. `unused` are places of answers
    that were never reached. `matches` says whether ending and reason codes are those the file expects, None when it
    expects nothing. `ready_until_why` names the rule that set the end of readiness.
    """

    profile: str
    revision: int
    sha256: str
    title: str
    answers: str
    about: str
    ending: str
    reasons: tuple[ReasonView, ...]
    missing: tuple[str, ...]
    ready_until: datetime | None
    ready_until_why: str
    fit_for: tuple[str, ...]
    not_for: tuple[str, ...]
    scales: tuple[tuple[str, str], ...]
    factor: str
    warnings: tuple[str, ...]
    tell: tuple[str, ...]
    sources_out: tuple[str, ...]
    findings: tuple[FindingView, ...]
    started: datetime
    seconds: float
    asks: int
    unused: tuple[str, ...]
    expected_ending: str = ""
    expected_reasons: tuple[str, ...] = ()

    @property
    def codes(self) -> tuple[str, ...]:
        """The reason codes, each once."""
        return tuple(dict.fromkeys(reason.code for reason in self.reasons))

    @property
    def matches(self) -> bool | None:
        if not self.expected_ending:
            return None
        return self.ending == self.expected_ending and set(self.codes) == set(self.expected_reasons)

    def to_json(self) -> dict[str, Any]:
        """Plain JSON values; moments in UTC, lengths in seconds."""
        expected = {"ending": self.expected_ending, "reasons": list(self.expected_reasons), "matches": self.matches}
        return {
            "profile": {"id": self.profile, "revision": self.revision, "sha256": self.sha256, "title": self.title},
            "answers": self.answers,
            "about": self.about,
            "ending": self.ending,
            "reasons": [{"code": r.code, "say": r.say, "do": r.do, "step": r.step} for r in self.reasons],
            "missing": list(self.missing),
            "ready_until": self.ready_until.isoformat() if self.ready_until else None,
            "ready_until_why": self.ready_until_why,
            "fit_for": list(self.fit_for),
            "not_for": list(self.not_for),
            "scales": dict(self.scales),
            "factor": self.factor or None,
            "warnings": list(self.warnings),
            "tell": list(self.tell),
            "sources_out": list(self.sources_out),
            "findings": [
                {"at": each.at.isoformat(), "title": each.title, "counts": each.counts, **finding_to_json(each.finding)}
                for each in self.findings
            ],
            "started": self.started.isoformat(),
            "seconds": self.seconds,
            "asks": self.asks,
            "unused": list(self.unused),
            "expected": expected if self.expected_ending else None,
        }


def rehearse(profile: Path, answers: Path) -> RehearsalResult:
    """Run the profile in one file with the answers in another.

    Raises Trouble for mistakes in either file, naming file and line; for a question that the answers don't cover, with
    what is allowed and the lines to add; and for a rehearsal that does not end.
    """
    from procedures.profile.compile import procedure_of
    from procedures.profile.load import load_profile
    from procedures.site.rehearsal_file import read_answers
    from procedures.site.rehearsal_run import run

    loaded = load_profile(profile)
    procedure = procedure_of(loaded.profile, loaded.text)
    file = read_answers(answers, procedure)
    return _result(procedure, file, run(procedure, file))


def _result(procedure: Procedure, file: AnswersFile, ran: Ran) -> RehearsalResult:
    state = ran.state
    body = state.ending or {}
    expect = file.answers.expect
    until = body["ready_until"]
    labels = {source.id: source.label for source in state.facts.sources}
    return RehearsalResult(
        profile=procedure.id,
        revision=procedure.revision,
        sha256=procedure.sha256,
        title=procedure.title,
        answers=file.page.file,
        about=file.answers.about,
        ending=body["ending"],
        reasons=tuple(reason_view(procedure, row) for row in body["reasons"]),
        missing=tuple(body["missing"]),
        ready_until=datetime.fromisoformat(until) if until else None,
        ready_until_why=body["ready_until_why"],
        fit_for=tuple(body["fit_for"]["measures"]),
        not_for=tuple(body["fit_for"]["not_for"]),
        scales=tuple(body["fit_for"]["scales"].items()),
        factor=body["factor"] or "",
        warnings=tuple(dict.fromkeys(body["warnings"])),
        tell=tuple(dict.fromkeys(body["tell"])),
        sources_out=tuple(labels.get(each, each) for each in state.out),
        findings=tuple(finding_view(procedure, state, made) for made in state.made),
        started=state.opened.utc,
        seconds=(state.last.utc - state.opened.utc).total_seconds(),
        asks=ran.asks,
        unused=ran.unused,
        expected_ending=expect.ending if expect else "",
        expected_reasons=expect.reasons if expect else (),
    )
