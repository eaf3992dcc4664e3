"""Checkouts judged again: what was really run holds to the last digit, what was recorded falsely is found."""

from __future__ import annotations

import datetime as dt
import random
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent.parent))

from bulk_records import Change, checkout_events, record_again
from desk_walk import START, id_of, sensible, small_site, step_on, walk

from procedures.asks import Ask, Choice, Hold, Place, ReadingAsk
from procedures.checkout import RULES, Happened
from procedures.clock import ManualClock
from procedures.journal.envelope import digest
from procedures.site import clearing
from procedures.site.checkouts import Desk
from procedures.site.demo import make_demo
from procedures.site.judging import Difference
from procedures.site.opening import Site
from procedures.site.verification import ByThisProgram, Judge, Verification, read_head, verify_site
from procedures.site.views import CheckoutView
from procedures.trouble import Trouble


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    """A site with one checkout that passed and one that locked out after a remedy that did not help."""
    clock = ManualClock(START)
    with small_site(tmp_path, clock) as made:
        desk, person, instrument = Desk(made), id_of(made, "P-1"), id_of(made, "C-1")
        passed = walk(desk, desk.start(instrument, person), clock)
        assert passed.ending is not None
        assert passed.ending.ending == "fit for use"
        failed = walk(desk, desk.start(instrument, person), clock, weak_cells)
        assert failed.ending is not None
        assert failed.ending.ending == "locked out"
        yield made


def weak_cells(ask: Ask, view: CheckoutView) -> str:
    return "below the band" if isinstance(ask, Place) else sensible(ask, view)


def test_every_checkout_of_the_demo_is_judged_again_as_recorded(tmp_path: Path) -> None:
    """All kinds of step, both endings, remedies and branches: rules, numbers and times are reproduced."""
    with make_demo(tmp_path, ManualClock(START)):
        found = verify_site(tmp_path, "demo")
    assert found.sound
    assert found.judged == 26
    assert found.compared


class Wild:
    """Somebody who breaks off holds, wanders away, sets the clock, gives up, and has an instrument that fails."""

    def __init__(self, folder: Path, seed: int) -> None:
        self.dice = random.Random(seed)
        self.clock = ManualClock(START)
        self.site = small_site(folder, self.clock)
        self.desk = Desk(self.site)
        self.people = [id_of(self.site, "P-1"), id_of(self.site, "P-2")]
        self.instrument = id_of(self.site, "C-1")
        self.view: CheckoutView | None = None

    def go(self, steps: int) -> None:
        for number in range(steps):
            try:
                self._one(number)
            except Trouble:
                self.clock.advance(200)
                if self.view is not None and self.view.ending is None:
                    with suppress(Trouble):
                        self.view = self.desk.resume(self.view.checkout, self.people[0], switched_off=False)

    def _one(self, number: int) -> None:
        dice, desk, clock, view = self.dice, self.desk, self.clock, self.view
        if view is None or view.ending is not None:
            self._start()
            return
        checkout, chance = view.checkout, dice.random()
        if chance < 0.02:
            self.view = desk.pause(checkout, "called away")
        elif chance < 0.03:
            clock.advance(dice.choice([10, 700, 1300]))
        elif chance < 0.035:
            clock.set_wall(clock.now().utc + dt.timedelta(seconds=dice.choice([-3, 5, -130, 200])))
        elif chance < 0.05:
            give_up = dice.choice([desk.fail_by_judgement, desk.abandon, desk.withdraw])
            self.view = give_up(checkout, "no time")
        elif chance < 0.06:
            clock.restart(f"session {number}")
            self.desk = Desk(self.site)
            self.view = self.desk.view(checkout)
        elif chance < 0.07:
            desk.note(checkout, "noted")
        elif chance < 0.08 and view.remedy is not None:
            self.view = desk.remedy(checkout, done=False)
        elif isinstance(view.ask, Hold) and chance < 0.3:
            desk.hold(checkout)
            clock.advance(dice.choice([0.5, 5]))
            self.view = desk.let_go(checkout) if dice.random() < 0.5 else desk.tick(checkout)
        elif view.paused:
            clock.advance(dice.choice([1, 60, 1300]))
            self.view = desk.resume(checkout, dice.choice(self.people), switched_off=dice.random() < 0.2)
        else:
            self.view = step_on(desk, view, clock, self._answer)

    def _start(self) -> None:
        if self.view is not None and self.dice.random() < 0.2:
            self.desk.withdraw(self.view.checkout, "the wrong one")
        for lockout in self.site.journal.instrument_now(self.instrument).lockouts:
            if lockout.status == "open":
                clearing.clear(
                    self.site, self.instrument, self.people[0], lockouts=[lockout.id], cause="cells", action="new ones"
                )
        self.clock.advance(self.dice.choice([1, 100]))
        self.view = self.desk.start(self.instrument, self.dice.choice(self.people))

    def _answer(self, ask: Ask, view: CheckoutView) -> str:
        if isinstance(ask, Choice) and self.dice.random() < 0.1:
            return ask.options[-1].value
        if isinstance(ask, Place) and self.dice.random() < 0.1:
            return ask.places[0]
        if isinstance(ask, ReadingAsk) and self.dice.random() < 0.1:
            return self.dice.choice(["0.4", "1.3", "1.95", "0.05", "0.06"])
        return sensible(ask, view)


@pytest.mark.parametrize("seed", range(6))
def test_whatever_people_do_judging_again_comes_to_the_same(tmp_path: Path, seed: int) -> None:
    """Pauses, gaps, broken holds, other people, set clocks, crashes, remedies, giving up: never a false alarm."""
    wild = Wild(tmp_path, seed)
    with wild.site:
        wild.go(150)
        found = verify_site(tmp_path)
    assert found.judged > 3
    assert found.sound, (found.own, found.unjudged, found.tables, found.changed)


# --- what was recorded falsely -------------------------------------------------------------------------------------


def within(kind: str, change: Callable[[dict[str, Any]], dict[str, Any] | None], *, nth: int = 0) -> Change:
    """Change the body of the nth event of a kind."""
    count = -1

    def changed(found: str, body: dict[str, Any]) -> dict[str, Any] | None:
        nonlocal count
        count += found == kind
        return change(body) if found == kind and count == nth else body

    return changed


def in_finding(step: str, change: Callable[[dict[str, Any]], None]) -> Change:
    """Change the finding of one step."""

    def changed(kind: str, body: dict[str, Any]) -> dict[str, Any]:
        if kind != "found" or body["step"] != step:
            return body
        finding = {**body["finding"], "numbers": [dict(each) for each in body["finding"]["numbers"]]}
        change(finding)
        return {**body, "finding": finding}

    return changed


def times(factor: float) -> Callable[[dict[str, Any]], None]:
    def change(finding: dict[str, Any]) -> None:
        assert finding["numbers"]
        finding["numbers"][-1]["value"] = repr(float(finding["numbers"][-1]["value"]) * factor)

    return change


def outcome(word: str) -> Callable[[dict[str, Any]], None]:
    return lambda finding: finding.update(outcome=word)


PASSED: Mapping[str, Change] = {
    "an outcome": in_finding("response", outcome("warn")),
    "a number": in_finding("response", times(1 + 1e-7)),
    "a code": in_finding("battery", lambda finding: finding.update(code="other")),
    "as found": in_finding("battery", lambda finding: finding.update(as_found=None)),
    "the scales shown": in_finding("response", lambda finding: finding.update(shows=[])),
    "a factor": in_finding("response", lambda finding: finding.update(factor="1.5")),
    "an answer": within("answered", lambda body: {**body, "value": "below the band"}),
    "a finding left out": within("found", lambda _: None, nth=1),
    "an answer left out": within("answered", lambda _: None, nth=2),
    "a wait left out": within("wait-kept", lambda _: None),
    "a wait cut short": within("wait-kept", lambda body: {**body, "elapsed": 1.0}),
    "a wait made shorter": within("wait-begun", lambda body: {**body, "seconds": 1.0}),
    "a scan of something else": within("scanned", lambda body: {**body, "text": "C-2"}),
    "until when": within("ended", lambda body: {**body, "ready_until": "2026-06-09T00:00:00.000000Z"}),
    "for what": within("ended", lambda body: {**body, "fit_for": {**body["fit_for"], "not_for": []}}),
    "an ending": within("ended", lambda body: {**body, "ending": "abandoned", "missing": ["no time"]}),
    "an ending left out": within("ended", lambda _: None),
}
LOCKED_OUT: Mapping[str, Change] = {
    "fit after all": within("ended", lambda body: {**body, "ending": "fit for use", "reasons": []}),
    "given up instead": within("ended", lambda body: {**body, "ending": "abandoned", "reasons": []}),
    "another reason": within("ended", lambda body: {**body, "reasons": [{"code": "x", "say": "", "step": "battery"}]}),
    "a failure as a pass": in_finding("battery", outcome("pass")),
    "a remedy not on offer": within("remedied", lambda body: {**body, "action": "case-opened"}),
    "a tag": within("ended", lambda body: {**body, "tag": ""}),
}


def falsified(site: Site, ending: str, change: Change, judges: Mapping[str, Judge] | None = None) -> Verification:
    """A checkout recorded once more with one thing otherwise, whole chain and tables in order."""
    record_again(site.journal, checkout_events(site.journal, ending), change=change)
    found = verify_site(site.folder, judges=judges)
    assert (found.changed, found.file, found.tables) == ((), (), ())
    return found


@pytest.mark.parametrize("what", PASSED)
def test_a_pass_that_its_answers_do_not_justify_is_found(site: Site, what: str) -> None:
    """Hashes say that nobody changed a record; this says that the record was right when it was made."""
    found = falsified(site, "fit for use", PASSED[what])
    assert len(found.own) == 1, found
    assert found.today == ()


@pytest.mark.parametrize("what", LOCKED_OUT)
def test_a_failure_that_was_talked_away_is_found(site: Site, what: str) -> None:
    """By whatever program it was recorded."""
    assert len(falsified(site, "locked out", LOCKED_OUT[what]).own) == 1


@pytest.mark.parametrize(
    "change",
    [
        lambda _kind, body: body,
        in_finding("response", times(1 + 1e-12)),
        in_finding("response", lambda finding: finding.update(say="In other words.", tell=["as well"])),
    ],
    ids=["nothing", "the last digit", "words"],
)
def test_rounding_and_words_are_no_difference(site: Site, change: Change) -> None:
    """Another processor may round otherwise, and a release may word a sentence better."""
    found = falsified(site, "fit for use", change)
    assert found.sound
    assert found.judged == 3


def test_words_of_a_difference_say_where_and_what(site: Site) -> None:
    """Instrument, event, step, what is recorded and what it should be."""
    (row,) = falsified(site, "fit for use", in_finding("response", outcome("warn"))).own
    assert row.instrument == "C-1"
    assert row.station == "station-a"
    assert any("response" in line and "“warn”" in line and "“pass”" in line for line in row.what)


# --- versions of the rules -----------------------------------------------------------------------------------------


def as_it_was(_text: str, _events: Sequence[Happened]) -> tuple[Difference, ...]:
    """Rules of long ago, by which all of it is right."""
    return ()


def older_rules(change: Change) -> Change:
    def changed(kind: str, body: dict[str, Any]) -> dict[str, Any] | None:
        made = change(kind, body)
        return {**made, "rules": "0"} if kind == "opened" and made is not None else made

    return changed


def test_what_was_right_by_its_own_rules_but_not_by_todays_is_told_apart(site: Site) -> None:
    """A changed rule does not make old records false; who relies on them has to know all the same."""
    judges: dict[str, Judge] = {"0": as_it_was, RULES: ByThisProgram()}
    found = falsified(site, "fit for use", older_rules(PASSED["an outcome"]), judges)
    assert found.own == ()
    assert len(found.today) == 1
    assert not found.sound


def test_older_rules_that_come_to_the_same_are_nothing_to_tell(site: Site) -> None:
    """Most changes of rules change nothing for most checkouts."""
    judges: dict[str, Judge] = {"0": as_it_was, RULES: ByThisProgram()}
    assert falsified(site, "fit for use", older_rules(lambda _kind, body: body), judges).sound


def test_an_older_rule_of_one_step_is_told_apart_too(site: Site) -> None:
    """Each kind of step has a version of its own."""

    def older(finding: dict[str, Any]) -> None:
        finding["rule"] = "response 0"
        times(1.25)(finding)

    found = falsified(site, "fit for use", in_finding("response", older))
    assert found.own == ()
    assert len(found.today) == 1


@pytest.mark.parametrize(
    "change",
    [
        within("opened", lambda body: {**body, "rules": "99"}),
        within("opened", lambda body: {**body, "profile": {**body["profile"], "sha256": digest(b"another")}}),
        within("opened", lambda body: {**body, "facts": {}}),
        in_finding("battery", lambda finding: finding.pop("rule")),
    ],
    ids=["rules", "profile", "facts", "finding"],
)
def test_what_cannot_be_judged_is_not_called_sound(site: Site, change: Change) -> None:
    """A newer program, a revision that is not here, a record that says too little: said, and never passed over."""
    found = falsified(site, "fit for use", change)
    assert len(found.unjudged) == 1
    assert found.judged == 2
    assert not found.sound


# --- heads and folders ---------------------------------------------------------------------------------------------


def test_heads_are_read_back_as_they_are_printed(site: Site) -> None:
    """What somebody copied from paper is the head again, whatever its case."""
    ((station, (seq, hashed)),) = verify_site(site.folder).heads.items()
    kept = read_head(f" {station}:{seq}:{hashed.upper()} ")
    assert (kept.station, kept.seq, kept.hash) == (station, seq, hashed)
    assert verify_site(site.folder, kept=[kept]).sound


@pytest.mark.parametrize("text", ["", "a", "a:1", "a:x:" + "0" * 64, "a:0:" + "0" * 64, "a:1:123", "ä:1:" + "0" * 64])
def test_what_is_no_head_is_refused_in_words(text: str) -> None:
    """A head with a slip in it must not look like a cut chain."""
    with pytest.raises(Trouble, match="no head") as trouble:
        read_head(text)
    assert trouble.value.allowed


def test_a_folder_without_records_is_trouble(tmp_path: Path) -> None:
    """Nothing verified is not the same as nothing found."""
    with pytest.raises(Trouble, match="no site"):
        verify_site(tmp_path)


def test_records_that_lost_their_marking_are_not_verified_as_others(site: Site) -> None:
    """Practice records renamed to look like real ones."""
    (site.folder / "demo.journal").write_bytes((site.folder / "site.journal").read_bytes())
    site.journal.close()
    (site.folder / "demo.journal").write_bytes((site.folder / "site.journal").read_bytes())
    with pytest.raises(Trouble, match="real records"):
        verify_site(site.folder, "demo")
