"""The process is ended with SIGKILL at random moments; nothing acknowledged is lost and the same ask is due again.

A sample runs always; `CHECKLIST_KILLS=200 pytest tests/test_kill.py` is the whole campaign.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import signal
import sqlite3
import sys
import time
from pathlib import Path

import pytest
from desk_walk import START, id_of, sensible, small_site, step_on

from procedures.asks import Ask, Choice, ReadingAsk
from procedures.clock import ManualClock
from procedures.site import clearing
from procedures.site.checkouts import Desk
from procedures.site.opening import JOURNAL, open_site
from procedures.site.views import CheckoutView

KILLS = int(os.environ.get("CHECKLIST_KILLS", "12"))

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")


def _erratic(dice: random.Random):
    """Mostly sensible, now and then an instrument that fails."""

    def answer(ask: Ask, view: CheckoutView) -> str:
        if isinstance(ask, Choice) and dice.random() < 0.05:
            return ask.options[-1].value
        if isinstance(ask, ReadingAsk) and dice.random() < 0.05:
            return "0.4"
        return sensible(ask, view)

    return answer


def _child(folder: Path, acknowledged: int, seed: int) -> None:
    """Run checkouts until killed; after every commit say which ask is due now."""
    dice = random.Random(seed)
    with open_site(folder, ManualClock(START)) as before:
        at = before.journal.last_time()
    clock = ManualClock(at, session=f"run-{seed}")
    clock.advance(5)
    with open_site(folder, clock) as site:
        desk = Desk(site)
        person = id_of(site, "P-1")
        instrument = id_of(site, "C-1")
        answer = _erratic(dice)
        while True:
            rows = desk.open_checkouts()
            if rows:
                view = desk.resume(rows[0].checkout, person, switched_off=False)
            else:
                for lockout in site.journal.instrument_now(instrument).lockouts:
                    if lockout.status == "open":
                        clearing.clear(site, instrument, person, lockouts=[lockout.id], cause="cause", action="mended")
                view = desk.start(instrument, person)
            while view.ending is None:
                view = step_on(desk, view, clock, answer)
                line = {"checkout": view.checkout, "head": site.journal.head(), "ask": _due(view)}
                os.write(acknowledged, json.dumps(line).encode() + b"\n")


def _due(view: CheckoutView) -> list[str]:
    if view.ending is not None:
        return ["ending", view.ending.ending]
    if view.remedy is not None:
        return ["remedy", view.remedy.say]
    assert view.ask is not None
    return [view.step_title, view.ask.key]


def _chain_holds(path: Path) -> set[str]:
    """Every event's hash fits its bytes and its place in the chain; the hashes come back."""
    db = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    seen: set[str] = set()
    before: dict[str, str] = {}
    for raw, stored in db.execute("SELECT raw, hash FROM events ORDER BY id"):
        body = json.loads(raw)
        hashed = hashlib.sha256(raw).hexdigest()
        assert stored.hex() == hashed
        assert body["prev"] == before.get(body["station"], "")
        before[body["station"]] = hashed
        seen.add(hashed)
    db.close()
    return seen


def _run_and_kill(folder: Path, seed: int, delay: float) -> list[dict]:
    """What the child had acknowledged when it was killed."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(reading)
            _child(folder, writing, seed)
        except BaseException as fault:
            os.write(2, f"child: {fault!r}\n".encode())
        finally:
            os._exit(1)
    os.close(writing)
    time.sleep(delay)  # the moment of the kill is what is under test
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status), "the child ended by itself: see its message above"
    said = b""
    while chunk := os.read(reading, 65536):
        said += chunk
    os.close(reading)
    whole = said[: said.rfind(b"\n") + 1]
    return [json.loads(line) for line in whole.splitlines()]


def test_a_kill_at_any_moment_loses_nothing_and_the_same_ask_is_due(tmp_path: Path) -> None:
    """Whatever a person saw acknowledged is in the journal, and the checkout reopens where it stood or just after."""
    with small_site(tmp_path, ManualClock(START)):
        pass
    dice = random.Random(20260601)
    resumed = 0
    for seed in range(KILLS):
        acknowledged = _run_and_kill(tmp_path, seed, dice.uniform(0.02, 0.4))
        hashes = _chain_holds(tmp_path / JOURNAL["real"])
        for line in acknowledged:
            assert line["head"][2] in hashes
        with open_site(tmp_path, ManualClock(START)) as site:
            clock = ManualClock(site.journal.last_time(), session=f"look-{seed}")
            site.clock = clock
            desk = Desk(site)
            rows = desk.open_checkouts()
            if not rows or not acknowledged:
                continue
            last = acknowledged[-1]
            looked = desk.view(rows[0].checkout)
            assert looked.paused == "left open"
            if last["checkout"] == rows[0].checkout and site.journal.head()[2] == last["head"][2]:
                view = desk.resume(rows[0].checkout, looked.person, switched_off=False)
                assert _due(view) == last["ask"]
                resumed += 1
    if KILLS >= 12 and sys.platform == "linux":
        assert resumed > 0
