"""Adopting revisions of a profile: which text may take the place of which."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from desk_walk import MINI, START, id_of, small_site, walk

from procedures.clock import ManualClock
from procedures.site import profiles
from procedures.site.checkouts import Desk
from procedures.site.opening import Site, open_site
from procedures.trouble import Trouble

FIVE = MINI.replace("revision = 1", "revision = 5")


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    """A site in which revision 1 and then 5 were adopted."""
    with small_site(tmp_path, ManualClock(START)) as made:
        profiles.adopt(made, FIVE, id_of(made, "P-1"))
        yield made


def in_force(site: Site) -> str:
    state = site.journal.profile_now("mini")
    assert state.in_force is not None
    return state.in_force.text


@pytest.mark.parametrize("revision", [1, 2, 4, 5])
def test_another_text_needs_a_higher_number_than_any_adopted_one(site: Site, revision: int) -> None:
    """Wider limits under an old number would look like the revision that everybody knows."""
    text = MINI.replace("revision = 1", f"revision = {revision}").replace('low = "-20 %"', 'low = "-40 %"')
    with pytest.raises(Trouble, match="revision 5 of the profile mini was adopted already") as caught:
        profiles.adopt(site, text, id_of(site, "P-1"))
    assert "6 or more" in caught.value.allowed
    assert in_force(site) == FIVE


def test_going_back_is_adopting_the_very_text_of_an_older_revision(site: Site) -> None:
    """A revision that turned out wrong is left for the one before, and a later one still counts up from the highest."""
    profiles.adopt(site, MINI, id_of(site, "P-1"))
    assert in_force(site) == MINI
    with pytest.raises(Trouble, match="adopted already"):
        profiles.adopt(site, MINI.replace("revision = 1", "revision = 3"), id_of(site, "P-1"))
    six = MINI.replace("revision = 1", "revision = 6")
    profiles.adopt(site, six, id_of(site, "P-1"))
    assert in_force(site) == six


def test_an_adopted_text_that_todays_proof_refuses_opens_nothing_and_still_judges(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A proof that became stricter must not make an old checkout unreadable, nor let a new one begin."""
    from procedures.profile import load
    from procedures.profile.edges import ProofProblem
    from procedures.site.verification import verify_site

    clock = ManualClock(START)
    with small_site(tmp_path, clock) as site:
        desk = Desk(site)
        walk(desk, desk.start(id_of(site, "C-1"), id_of(site, "P-1")), clock)
    monkeypatch.setattr(load, "prove", lambda *_: (ProofProblem("zero", "step", "stricter by now"),))
    with open_site(tmp_path, clock) as site:
        with pytest.raises(Trouble, match="does not hold") as refused:
            Desk(site).start(id_of(site, "C-1"), id_of(site, "P-1"))
        assert refused.value.do
        assert Desk(site).view(site.journal.about(id_of(site, "C-1"), kinds=("opened",))[0].hash).ending is not None
    assert verify_site(tmp_path).sound
