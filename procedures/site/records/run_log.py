"""The events of one checkout as rows in order: answers as observed, waits with their time, breaks, pauses, remedies."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

from procedures.journal.events import body_of
from procedures.routing import ACTIONS
from procedures.sheets import Row, Tone
from procedures.site.found_words import OUTCOME_TONES, OUTCOME_WORDS, duration, title, value_words
from procedures.site.records.telling import who
from procedures.site.site_days import SiteDays

if TYPE_CHECKING:
    from procedures.journal.envelope import Event
    from procedures.site.opening import Site

HASTY: Final = "HASTY: faster than it can be looked at"

Told = tuple[str, str, str, str, Tone]
"""What, what was observed, how long it took, a remark, and how much it matters."""


def log_rows(site: Site, days: SiteDays, events: Sequence[Event]) -> Iterator[Row]:
    """A row for every event of a checkout, its opening first."""
    person = events[0].person if events else None
    for event in events:
        body = body_of(event)
        what, observed, took, remark, tone = _told(event.kind, body)
        if event.person != person:
            remark = "; ".join(part for part in (remark, f"by {who(site, event.person)}") if part)
            person = event.person
        step = title(str(body.get("step") or "")) if body is not None else ""
        at = f"{days.local(event.utc):%H:%M:%S}"
        yield Row((at, step, what, observed, took, remark), tone=tone, key=event.hash)


def _told(kind: str, body: Mapping[str, Any] | None) -> Told:
    if body is None:
        return "cannot be read", kind, "", "written by a newer program", "warn"
    teller = _TELLERS.get(kind)
    return teller(body) if teller is not None else (title(kind), "", "", "", "")


def _took(body: Mapping[str, Any], key: str = "took") -> str:
    return "" if body.get(key) is None else f"{float(body[key]):.1f} s"


def _opened(body: Mapping[str, Any]) -> Told:
    named = len(body["clearings"])
    return "begun", "", "", f"names {named} clearing{'s' * (named > 1)}" if named else "", ""


def _answered(body: Mapping[str, Any]) -> Told:
    return (
        title(body["ask"]),
        value_words(body["value"]),
        _took(body),
        *((HASTY, "warn") if body["hasty"] else ("", "")),
    )


def _scanned(body: Mapping[str, Any]) -> Told:
    marks = {"source-out": "source taken from its store", "source-back": "source back in its store"}
    what = title(body["ask"]) if body["ask"] else "scanned"
    return what, body["text"], _took(body), marks.get(body["mark"] or "", ""), ""


def _wait_begun(body: Mapping[str, Any]) -> Told:
    credit = float(body.get("credit", 0.0))
    remark = f"{duration(credit)} of it had passed already" if credit >= 1 else ""
    return title(body["ask"]), f"wait of {duration(body['seconds'])} begun", "", remark, "quiet"


def _wait_kept(body: Mapping[str, Any]) -> Told:
    return title(body["ask"]), f"wait kept: {float(body['elapsed']):.1f} s", "", "", ""


def _wait_broken(body: Mapping[str, Any]) -> Told:
    return title(body["ask"]), "wait BROKEN", _took(body, "elapsed"), str(body["why"]), "warn"


def _paused(body: Mapping[str, Any]) -> Told:
    return "paused", "", "", str(body["why"]), "quiet"


def _resumed(body: Mapping[str, Any]) -> Told:
    said = [] if body["same_person"] else ["another person"]
    said += ["it was switched off"] if body["switched_off"] else []
    gap = "" if body["gap"] is None else duration(max(0.0, body["gap"]))
    return "gone on with", "", gap, ", ".join(said), "quiet"


def _found(body: Mapping[str, Any]) -> Told:
    finding = body["finding"]
    return (
        "FOUND",
        OUTCOME_WORDS[finding["outcome"]],
        "",
        str(finding.get("say", "")),
        OUTCOME_TONES[finding["outcome"]],
    )


def _remedied(body: Mapping[str, Any]) -> Told:
    action = ACTIONS.get(body["action"], body["action"])
    return "remedy", action if body["done"] else f"NOT done: {action}", "", str(body.get("say", "")), ""


def _judged(body: Mapping[str, Any]) -> Told:
    return "FAILED BY JUDGEMENT", body["code"], "", str(body["say"]), "bad"


def _ended(body: Mapping[str, Any]) -> Told:
    return "ENDED", str(body["ending"]).upper(), "", "", ""


def _withdrawn(body: Mapping[str, Any]) -> Told:
    return "WITHDRAWN", "", "", str(body["why"]), "warn"


def _jumped(body: Mapping[str, Any]) -> Told:
    return "the clock was set", f"by {float(body['seconds']):.0f} s", "", "", "warn"


def _note(body: Mapping[str, Any]) -> Told:
    return "note", str(body["text"]), "", "", ""


_TELLERS: Final[Mapping[str, Callable[[Mapping[str, Any]], Told]]] = {
    "opened": _opened,
    "answered": _answered,
    "scanned": _scanned,
    "wait-begun": _wait_begun,
    "wait-kept": _wait_kept,
    "wait-broken": _wait_broken,
    "paused": _paused,
    "resumed": _resumed,
    "found": _found,
    "remedied": _remedied,
    "failed-by-judgement": _judged,
    "ended": _ended,
    "withdrawn": _withdrawn,
    "clock-jumped": _jumped,
    "note": _note,
}
