"""What happened, in words: one event as a row of a day, of a history, of a binder."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from procedures.journal.doubts import when_used
from procedures.journal.events import body_of
from procedures.sheets import Deed, Tone
from procedures.site import local_time, lookups, naming
from procedures.site.clearing import NOTHING_REPAIRED
from procedures.site.found_words import ENDING_TONES, OUTCOME_TONES, OUTCOME_WORDS, title
from procedures.site.records.lockout import struck_why

if TYPE_CHECKING:
    from procedures.journal.envelope import Event
    from procedures.site.opening import Site


@dataclass(frozen=True, slots=True)
class Told:
    """An event in words: `what` it is, and what it says; what opens its record; how much it matters."""

    what: str
    say: str = ""
    opens: Deed | None = None
    tone: Tone = ""


def who(site: Site, person: str | None) -> str:
    """The name of whoever did something; "" for nobody."""
    return naming.name(site, person) if person else ""


def label_of(site: Site, thing: Any) -> str:
    """The label of a thing, whatever it is; "" for none."""
    return naming.label(site, str(thing)) if thing else ""


def subject(site: Site, event: Event) -> tuple[str, str]:
    """The registered thing that an event is about first, as its id and label; ("", "") for none."""
    for each in (*event.about, event.hash):
        known = naming.thing(site, each) if len(each) == 64 else None
        if known is not None and known.registered:
            return each, str(known.fields.get("label", ""))
    return "", ""


def told(site: Site, event: Event) -> Told:
    """An event in words. One that this program cannot read says so."""
    body = body_of(event)
    teller = _TELLERS.get(event.kind)
    if body is None:
        return Told("something this program cannot read", f"{event.kind}, written by a newer program", tone="warn")
    if teller is None:
        return Told(title(event.kind), str(body.get("text") or body.get("say") or body.get("why") or ""))
    return teller(site, event, body)


Body = Mapping[str, Any]


def _sheet(event: Event, say: str, name: str) -> Deed:
    return Deed(say, "sheet", name, event.hash)


def _first(event: Event) -> str:
    return event.about[0] if event.about else ""


def _opened(_site: Site, event: Event, body: Body) -> Told:
    ran = body["profile"]
    return Told("checkout begun", f"{ran['id']}, revision {ran['revision']}", _checkout(event.hash))


def _checkout(checkout: str) -> Deed:
    return Deed("Open the checkout", "sheet", "checkout", checkout)


def _found(_site: Site, _event: Event, body: Body) -> Told:
    found = body["finding"]
    words = OUTCOME_WORDS[found["outcome"]]
    say = f"{words}: {found.get('say', '')}"
    return Told(title(found["step"]), say, _checkout(body["checkout"]), OUTCOME_TONES[found["outcome"]])


def reasons_said(body: Body) -> str:
    """The reasons of a lockout or an ending, in words."""
    return lookups.as_sentences([str(each.get("say") or each["code"]) for each in body.get("reasons", ())])


def _ended(site: Site, event: Event, body: Body) -> Told:
    say = reasons_said(body) or lookups.as_sentences(list(body["missing"]))
    opens = _checkout(body["checkout"])
    struck = struck_why(site, body["checkout"]) or struck_why(site, event.hash)
    if struck and body["ending"] == "locked out":
        return Told("checkout: locked out, STRUCK", f"{say} {struck}", opens, "quiet")
    return Told(f"checkout: {body['ending']}", say, opens, ENDING_TONES.get(body["ending"], ""))


def _judged(_site: Site, _event: Event, body: Body) -> Told:
    return Told("failed by judgement", f"{title(body['step'])}: {body['say']}", _checkout(body["checkout"]), "bad")


def _withdrawn(_site: Site, _event: Event, body: Body) -> Told:
    return Told("checkout withdrawn", body["why"], _checkout(body["checkout"]), "warn")


def _locked(site: Site, event: Event, body: Body) -> Told:
    tag = f" Tag {body['tag']}." if body["tag"] else ""
    say, opens = reasons_said(body) + tag, Deed("Open", "sheet", "lockout", _first(event))
    if struck := struck_why(site, event.hash):
        return Told("locked out, STRUCK", f"{say} {struck}", opens, "quiet")
    return Told("locked out", say, opens, "bad")


def _cleared(site: Site, event: Event, body: Body) -> Told:
    say = lookups.as_sentences([*(each for each in (body["cause"], body["action"]) if each), *_of_repair(site, body)])
    return Told("cleared, waits for its check", say, Deed("Open", "sheet", "lockout", _first(event)), "warn")


def _of_repair(site: Site, body: Body) -> list[str]:
    """What a clearing says of the repair: by whom, with what, and whether a calibration has to follow."""
    parts, by = str(body.get("parts") or ""), body.get("repaired_by")
    repairer = f"Repaired by {who(site, by)}" if by else "Who repaired it is not said"
    if body.get("by_repairer") == NOTHING_REPAIRED:
        repairer = "Nothing was repaired"
    elif body.get("by_repairer") == "yes":
        repairer += ", who cleared it too"
    return [
        repairer,
        *([f"Parts: {parts}"] if parts else []),
        "It has to be calibrated before its check" if body.get("calibration_needed") else "No calibration was needed",
        *([f"Second person: {who(site, body.get('second'))}"] if body.get("second") else []),
    ]


def _struck(_site: Site, event: Event, body: Body) -> Told:
    return Told("entry struck, made in error", body["why"], Deed("Open", "sheet", "lockout", _first(event)), "warn")


def _handed(site: Site, _event: Event, body: Body) -> Told:
    return Told("handed out", f"to {who(site, body['to'])}: {body['job']}, {body['place']}")


def _emergency(site: Site, event: Event, body: Body) -> Told:
    at = f"used {local_time.said(site, when_used(event))}, reported afterwards; " if body.get("used_at") else ""
    say = (
        f"{at}to {who(site, body['to'])}: {body['job']}, {body['place']}. Authority: {body['authority']}. {body['why']}"
    )
    return Told("EMERGENCY USE without a check that counts", say, tone="bad")


def _returned(site: Site, _event: Event, body: Body) -> Told:
    looked = body.get("check")
    say = [body["condition"], f"looked at: {looked}" if looked else ""]
    brought = who(site, body["by"]) if body["by"] else ""
    words = ", ".join(each for each in say if each)
    return Told("came back", f"{brought}: {words}" if brought else words, tone="bad" if looked == "bad" else "")


def _calibrated(_site: Site, event: Event, body: Body) -> Told:
    due = f", due {body['due']}" if body["due"] else ""
    say = f"on {body['on']}{due}, by {body['by']}, certificate {body['certificate']}; as found: {body['as_found']}"
    tone: Tone = "bad" if body["as_found"] == "outside" else ""
    return Told("calibrated", say, _sheet(event, "Open the calibration", "calibration"), tone)


def _repaired(_site: Site, _event: Event, body: Body) -> Told:
    void = ". This ended its calibration" if body["voids_calibration"] else ""
    return Told("repaired", f"on {body['on']}, by {body['by']}: {body['what']}{void}")


def _reference(site: Site, event: Event, body: Body) -> Told:
    where = ", ".join(each for each in (body["scale"], body["geometry"]) if each)
    say = f"{body['value']} with source {label_of(site, body['source'])}, {where}"
    return Told("reference reading", say, _sheet(event, "Open the reference reading", "reference"))


def _bound(site: Site, _event: Event, body: Body) -> Told:
    jig = f" in jig {label_of(site, body['jig'])}" if body["jig"] else ""
    return Told("source bound", f"{body['role']}: source {label_of(site, body['source'])}{jig}")


def _leak(_site: Site, _event: Event, body: Body) -> Told:
    due = f", next due {body['due']}" if body["due"] else ""
    return Told("leak test", f"on {body['on']}: {_result(body['result_bq'])}{due}")


def _result(result: Any) -> str:
    return "no figure recorded" if result is None else f"{result} Bq"


def _counted(_site: Site, _event: Event, body: Body) -> Told:
    found = "found" if body["found"] else "NOT FOUND"
    where = f", {body['where']}" if body["where"] else ""
    return Told("physical inventory", f"on {body['on']}: {found}{where}", tone="" if body["found"] else "bad")


def _condition(_site: Site, _event: Event, body: Body) -> Told:
    say = f"{body['condition']}: {body['say']}" if body["say"] else body["condition"]
    return Told("condition of the source", say, tone="" if body["condition"] == "good" else "bad")


def _placed(_site: Site, _event: Event, body: Body) -> Told:
    say = ", ".join(each for each in (body["whereabouts"], body["where"]) if each)
    return Told("whereabouts", say, tone="bad" if body["whereabouts"] == "missing" else "")


def _contamination(_site: Site, _event: Event, body: Body) -> Told:
    return Told("contaminated" if body["found"] else "clean again", body["say"], tone="bad" if body["found"] else "")


def _readiness(_site: Site, _event: Event, body: Body) -> Told:
    return Told("readiness ended", ": ".join(each for each in (title(body["cause"]), body["say"]) if each))


def _reviewed(site: Site, event: Event, body: Body) -> Told:
    use = site.journal.by_hash(body["use"])
    of = f"use by {who(site, use.body.get('to'))}: " if use is not None else ""
    return Told("use in doubt reviewed", f"{of}{body['note']}", Deed("Open", "sheet", "doubt", _first(event)))


def _paper(site: Site, event: Event, body: Body) -> Told:
    say = f"form {body['form']}, filled in by {who(site, body['observed_by'])}: {body['ending']}"
    more = reasons_said(body)
    deed = _sheet(event, "Open what was typed in", "paper-entry")
    return Told("checked on paper", f"{say}. {more}" if more else say, deed, ENDING_TONES.get(body["ending"], ""))


def _registered(_site: Site, _event: Event, body: Body) -> Told:
    return Told(f"{body['what']} registered", body["label"])


def _described(_site: Site, _event: Event, body: Body) -> Told:
    said = "; ".join(
        f"{_NAMED.get(key, key.replace('_', ' '))}: {_value(body['set'][key])}" for key in sorted(body["set"])
    )
    return Told("changed", said)


_NAMED: Final = {
    "trained_until": "training good until",
    "activity": "certified value",
    "activity_on": "certified on",
    "leak_test_exempt": "no leak test, because",
    "leak_test_exempt_note": "no leak test, note",
}
"""What people call fields whose names in the records say less."""


def _value(value: Any) -> str:
    """A value of a field in words."""
    if isinstance(value, Mapping):
        return " ".join(str(each) for each in value.values())
    if isinstance(value, list):
        return ", ".join(_value(each) for each in value) or "none"
    return str(value) if value not in (None, "") else "none"


def _begun(_site: Site, _event: Event, body: Body) -> Told:
    return Told("a laptop was set up for this site", body["name"])


def _site_begun(_site: Site, _event: Event, body: Body) -> Told:
    return Told("the site's records begin", body["name"])


def _pin_refused(site: Site, _event: Event, body: Body) -> Told:
    wait = f"; the next try after {body['wait']} s" if body["wait"] else ""
    return Told("wrong PIN", f"typed for {who(site, body['who'])}, {body['tries']} in a row{wait}", tone="warn")


def _retired(_site: Site, _event: Event, body: Body) -> Told:
    return Told("taken out of service for good", body["why"])


def _adopted(_site: Site, _event: Event, body: Body) -> Told:
    return Told("profile adopted", f"{body['title']} ({body['profile']}), revision {body['revision']}")


def _settings(_site: Site, _event: Event, body: Body) -> Told:
    return Told("settings changed", ", ".join(f"{key} = {value}" for key, value in sorted(body["set"].items())))


def _scanned(_site: Site, _event: Event, body: Body) -> Told:
    went = {"source-out": "taken from its store", "source-back": "back in its store"}.get(body["mark"] or "", "scanned")
    return Told(went, "", _checkout(body["checkout"]))


def _note(_site: Site, _event: Event, body: Body) -> Told:
    checkout = body.get("checkout")
    return Told("note", body["text"], _checkout(checkout) if isinstance(checkout, str) else None)


_TELLERS: Final[Mapping[str, Callable[[Site, Event, Body], Told]]] = {
    "opened": _opened,
    "found": _found,
    "ended": _ended,
    "failed-by-judgement": _judged,
    "withdrawn": _withdrawn,
    "locked-out": _locked,
    "cleared": _cleared,
    "struck": _struck,
    "handed-out": _handed,
    "emergency-use": _emergency,
    "returned": _returned,
    "calibrated": _calibrated,
    "repaired": _repaired,
    "reference-recorded": _reference,
    "source-bound": _bound,
    "leak-tested": _leak,
    "counted": _counted,
    "source-condition": _condition,
    "placed": _placed,
    "contamination": _contamination,
    "readiness-ended": _readiness,
    "use-reviewed": _reviewed,
    "paper-entered": _paper,
    "registered": _registered,
    "described": _described,
    "retired": _retired,
    "profile-adopted": _adopted,
    "settings-changed": _settings,
    "station-begun": _begun,
    "site-begun": _site_begun,
    "pin-refused": _pin_refused,
    "scanned": _scanned,
    "note": _note,
}
