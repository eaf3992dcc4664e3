"""What is folded from a part of a long history is what all of it says."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import journal_drafts as d
from hypothesis import given, settings
from hypothesis import strategies as st

from procedures.clock import ManualClock
from procedures.journal import log
from procedures.journal.envelope import Draft
from procedures.journal.fold import fold_person, fold_source
from procedures.journal.store import Journal

START = datetime(2030, 1, 1, tzinfo=UTC)
DEEDS = ("out", "back", "place", "miss", "test", "other")


def _draft(deed: str, source: str, checkout: str) -> Draft:
    match deed:
        case "out" | "back":
            return d.scanned(checkout, source, f"source-{deed}")
        case "place":
            return Draft("placed", {"whereabouts": "here", "where": "store"}, (source,))
        case "miss":
            return Draft("counted", {"on": "2030-02-01", "found": False, "where": ""}, (source,))
        case "test":
            return Draft("leak-tested", {"on": "2030-02-01", "due": None, "result_bq": "3"}, (source,))
    return d.answered(checkout)


@settings(max_examples=40, deadline=None)
@given(deeds=st.lists(st.sampled_from(DEEDS), min_size=1, max_size=60))
def test_a_source_is_where_its_whole_history_says(deeds: list[str], tmp_path_factory: object) -> None:
    """Only the newest of its scans are read: ten thousand checkouts must not make the next one slower."""
    folder: Path = tmp_path_factory.mktemp("long")  # type: ignore[attr-defined]
    clock = ManualClock(START)
    with Journal.create(folder / "j", station="one", name="one", now=clock.now()) as journal:
        source, meter = (journal.append((each,), clock.now())[0].hash for each in (d.source(), d.instrument()))
        checkout = journal.append((d.opened(meter),), clock.now())[0].hash
        for deed in deeds:
            clock.advance(5)
            journal.append((_draft(deed, source, checkout),), clock.now())
        whole = fold_source(source, log.about(journal._db, source, weighty=True))
        assert journal.source_now(source) == whole
        assert bool(journal.sources_out()) == (whole.out_with is not None)


def test_a_person_is_who_they_are_however_often_they_took_something(tmp_path: Path) -> None:
    """What somebody was handed is not what they are."""
    clock = ManualClock(START)
    with Journal.create(tmp_path / "j", station="one", name="one", now=clock.now()) as journal:
        person, meter = (journal.append((each,), clock.now())[0].hash for each in (d.person(), d.instrument()))
        out = {"to": person, "job": "", "place": "", "checkout": None, "until": None}
        for _ in range(30):
            journal.append((Draft("handed-out", out, (meter, person)),), clock.now())
        journal.append((Draft("described", {"set": {"name": "B. Person"}}, (person,)),), clock.now())
        everything = log.about(journal._db, person, weighty=True)
        assert len(everything) == 32
        assert journal.thing_now(person) == fold_person(person, everything)
