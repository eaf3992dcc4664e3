"""What the journal's tests share: a clock moved by hand, a fresh journal, and the helpers beside this file."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from procedures.clock import ManualClock
from procedures.journal.store import Journal


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock(datetime(2031, 4, 5, 6, 0, tzinfo=UTC), offset=120)


@pytest.fixture
def journal(tmp_path: Path, clock: ManualClock) -> Iterator[Journal]:
    with Journal.create(tmp_path / "site.journal", station="north", name="North", now=clock.now()) as made:
        yield made


@pytest.fixture
def kills() -> int:
    """How often a writing program is killed; set CHECKLIST_KILLS for a longer trial."""
    return int(os.environ.get("CHECKLIST_KILLS", "10"))
