"""Checks on paper judged again: what was typed in holds, and what was recorded of it falsely is named."""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
from bulk_records import record_again
from desk_walk import START, id_of, sensible, small_site, walk

from checklist_tui.cli import main
from procedures.asks import Ask, Choice, Place, ReadingAsk, Scan
from procedures.clock import ManualClock
from procedures.journal.envelope import Event, digest
from procedures.site import paper, paper_form
from procedures.site.checkouts import Desk
from procedures.site.opening import Site
from procedures.site.paper import Entered, Head
from procedures.site.paper_run import REMEDY, Given, Stop
from procedures.site.verification import ByThisProgram, Judge, Verification, verify_site

Answer = Callable[[Ask], str]


def well(ask: Ask) -> str:
    """What somebody writes down whose instrument is in order."""
    return sensible(ask, None)  # type: ignore[arg-type]


def low(ask: Ask) -> str:
    """The form of an instrument that reads 30 % low."""
    return "1.13" if ask.key.startswith("reading-") else well(ask)


def enter(site: Site, number: int, answer: Answer, *, asks: int = 200, stop: Stop = "", why: str = "") -> Entered:
    """A form typed in that was filled in a minute ago, by answers to so many asks."""
    instrument, person, observed = id_of(site, "C-1"), id_of(site, "P-2"), site.clock.now().utc
    adoption = site.journal.profile_now("mini").in_force
    assert adoption is not None
    head = Head(paper_form.form_number(f"{number:016x}"), adoption, "mini", observed, person)
    answers: dict[str, str] = {}
    while len(answers) < asks and (due := paper.ran(site, instrument, head, Given(answers)).due) is not None:
        assert due.id not in answers, f"{due.id} was answered, and not understood"
        answers[due.id] = answer(due.ask)
    return paper.enter(site, instrument, person, head, Given(answers, stop if len(answers) == asks else "", why))


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock(START)


@pytest.fixture
def site(tmp_path: Path, clock: ManualClock) -> Iterator[Site]:
    """One checkout at the desk, one form that passed and one that locked the instrument out."""
    with small_site(tmp_path, clock) as made:
        clock.advance(60)
        desk = Desk(made)
        walk(desk, desk.start(id_of(made, "C-1"), id_of(made, "P-2")), clock)
        clock.advance(60)
        assert enter(made, 1, well).ending == "fit for use"
        clock.advance(60)
        assert enter(made, 2, low).locked
        yield made


def test_checks_on_paper_are_judged_again_beside_the_checkouts(site: Site, capsys: pytest.CaptureFixture[str]) -> None:
    """Both are counted, in words and in JSON."""
    found = verify_site(site.folder)
    assert found.sound, (found.own, found.today, found.unjudged)
    assert (found.judged, found.judged_on_paper) == (1, 2)
    assert main(["verify", "--data", str(site.folder)]) == 0
    assert "Judged again: 1 checkout, 2 on paper, each as recorded." in capsys.readouterr().out
    assert main(["verify", "--data", str(site.folder), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["judged"], told["judged_on_paper"]) == (1, 2)


@pytest.mark.parametrize("seed", range(8))
def test_whatever_a_form_says_judging_it_again_comes_to_the_same(tmp_path: Path, clock: ManualClock, seed: int) -> None:
    """Failures, remedies, forms that end early or that a person failed by their own judgement: never a false alarm."""
    dice = random.Random(seed)

    def answer(ask: Ask) -> str:
        if ask.key == REMEDY:
            return dice.choice(["done", "not done"])
        if dice.random() < 0.85:
            return well(ask)
        match ask:
            case Choice():
                return dice.choice([option.value for option in ask.options])
            case Place():
                return dice.choice(ask.places)
            case ReadingAsk():
                return dice.choice(["0.4", "1.3", "1.95", "0.05", "0.06", *ask.beyond])
            case Scan():
                return dice.choice(["ANOTHER", ask.due or "C-1"])
        return well(ask)

    with small_site(tmp_path, clock) as site:
        for number in range(1, 7):
            clock.advance(60)
            stop: Stop = dice.choice(["judged", "ended"])
            enter(site, number, answer, asks=dice.choice([3, 9, 200]), stop=stop, why="It rattles.")
        found = verify_site(tmp_path)
    assert found.judged_on_paper == 6
    assert found.sound, (found.own, found.today, found.unjudged)


# --- what was recorded falsely -------------------------------------------------------------------------------------

Body = dict[str, Any]


def falsified(
    site: Site, number: int, change: Callable[[Body], Body], judges: Mapping[str, Judge] | None = None
) -> Verification:
    """A form recorded once more with one thing otherwise: hashes, chain and tables are all in order."""
    entry = paper.entry_of(site, paper_form.form_number(f"{number:016x}"))
    assert entry is not None
    known = site.journal.about(id_of(site, "C-1"), kinds=("locked-out",), limit=-1)
    events: tuple[Event, ...] = (entry, *(each for each in known if each.prev == entry.hash))
    record_again(site.journal, events, change=lambda kind, body: change(body) if kind == "paper-entered" else body)
    found = verify_site(site.folder, judges=judges)
    assert (found.changed, found.file, found.tables) == ((), (), ())
    return found


def in_finding(step: str, change: Callable[[Body], None]) -> Callable[[Body], Body]:
    def changed(body: Body) -> Body:
        rows = [{**row, "numbers": [dict(each) for each in row["numbers"]]} for row in body["findings"]]
        change(next(row for row in rows if row["step"] == step))
        return {**body, "findings": rows}

    return changed


def answered(key: str, **changes: Any) -> Callable[[Body], Body]:
    def changed(body: Body) -> Body:
        assert any(row["ask"] == key for row in body["answers"])
        rows = [{**row, **changes} if row["ask"] == key else row for row in body["answers"]]
        return {**body, "answers": rows}

    return changed


def times(factor: float) -> Callable[[Body], None]:
    def change(row: Body) -> None:
        row["numbers"][-1]["value"] = repr(float(row["numbers"][-1]["value"]) * factor)

    return change


READING = {"is": "reading", "selector": "x1", "figure": "1.6", "times": "1", "unit": "mR/h", "state": "on scale"}
FALSE: Mapping[str, tuple[int, Callable[[Body], Body]]] = {
    "a failure as a pass": (2, in_finding("response", lambda row: row.update(outcome="pass", code=""))),
    "a number": (1, in_finding("response", times(1 + 1e-7))),
    "as found": (2, in_finding("response", lambda row: row.update(as_found=None))),
    "a finding left out": (1, lambda body: {**body, "findings": body["findings"][:-1]}),
    "a finding too many": (1, lambda body: {**body, "findings": [*body["findings"], body["findings"][-1]]}),
    "an ending": (2, lambda body: {**body, "ending": "abandoned"}),
    "fit after all": (2, lambda body: {**body, "ending": "fit for use", "reasons": []}),
    "another reason": (2, lambda body: {**body, "reasons": [{**body["reasons"][0], "code": "x"}]}),
    "something missing": (1, lambda body: {**body, "missing": ["the window"]}),
    "a better reading": (2, answered("reading-1", value=READING, text="1.6")),
    "another place": (1, answered("battery", value="below the band", text="below the band")),
    "an answer left out": (1, lambda body: {**body, "answers": body["answers"][:-1]}),
    "an answer that was not asked": (1, lambda body: {**body, "answers": [*body["answers"], _unasked(body)]}),
    "a value that no ask takes": (1, answered("reading-1", value="much")),
    "another time": (1, lambda body: {**body, "observed": "2026-06-01T06:30:00.000000Z"}),
}


def _unasked(body: Body) -> Body:
    return {**body["answers"][-1], "ask": "colour"}


@pytest.mark.parametrize("what", FALSE)
def test_what_was_recorded_falsely_of_a_form_is_named(site: Site, what: str) -> None:
    """The chain is sealed anew and sound: only judging shows it, and says which form of which instrument."""
    number, change = FALSE[what]
    (row,) = falsified(site, number, change).own
    assert row.on_paper
    assert row.instrument == "C-1"
    assert row.what


def test_the_words_name_form_step_and_difference(site: Site, capsys: pytest.CaptureFixture[str]) -> None:
    """Whoever reads it finds the form, and what it says falsely."""
    falsified(site, 2, FALSE["a failure as a pass"][1])
    assert main(["verify", "--data", str(site.folder)]) == 1
    out = capsys.readouterr().out
    assert "NOT WHAT ITS OWN VERSION FINDS" in out
    assert "C-1, check on paper of 2026-06-01T0" in out
    assert "response: the outcome is recorded as “pass”, judged again it is “fail”" in out
    assert main(["verify", "--data", str(site.folder), "--json"]) == 1
    (row,) = json.loads(capsys.readouterr().out)["not_what_its_own_version_finds"]
    assert row["on_paper"] is True


def test_a_failing_form_without_its_lockout_is_named(site: Site) -> None:
    """Both are recorded together: a failure alone leaves an instrument in use."""
    entry = paper.entry_of(site, paper_form.form_number(f"{2:016x}"))
    assert entry is not None
    record_again(site.journal, (entry,))
    (row,) = verify_site(site.folder).own
    assert any("locked the instrument out" in line for line in row.what)


# --- versions of the rules, and records that cannot be read --------------------------------------------------------


def test_a_newer_rule_of_a_step_is_told_apart(site: Site) -> None:
    """Right by its own rules: what a newer rule makes of it, and of the ending, is of today."""

    def older(body: Body) -> Body:
        made = in_finding("response", lambda row: row.update(rule="response 0", outcome="warn"))(body)
        return {**made, "ending": "not checked"}

    found = falsified(site, 1, older)
    assert found.own == ()
    (row,) = found.today
    assert row.on_paper


def test_older_rules_of_all_are_told_apart(site: Site) -> None:
    """As for checkouts: right by the version that it names, otherwise today."""
    judges: dict[str, Judge] = {"0": lambda _text, _events: (), "1": ByThisProgram()}
    change = FALSE["a number"][1]
    found = falsified(site, 1, lambda body: {**change(body), "rules": "0"}, judges)
    assert (len(found.own), len(found.today)) == (0, 1)


def test_a_text_that_is_understood_otherwise_by_now_is_told(site: Site) -> None:
    """What it was understood as then is what it is judged by."""
    found = falsified(site, 1, answered("reading-1", text="1.60 somehow"))
    assert found.own == ()
    assert any("1.60 somehow" in line for line in found.today[0].what)


@pytest.mark.parametrize(
    "change",
    [
        lambda body: {**body, "rules": "99"},
        lambda body: {**body, "profile": {**body["profile"], "sha256": digest(b"another")}},
        lambda body: {**body, "facts": {}},
        lambda body: {key: value for key, value in body.items() if key != "rules"},
        lambda body: {**body, "answers": [3]},
    ],
    ids=["rules", "profile", "facts", "no rules", "answers"],
)
def test_a_form_that_cannot_be_judged_is_not_called_sound(site: Site, change: Callable[[Body], Body]) -> None:
    """A newer program, a revision that is not here, a record that says too little: said, and never passed over."""
    found = falsified(site, 1, change)
    assert len(found.unjudged) == 1
    assert found.judged_on_paper == 2
    assert not found.sound
