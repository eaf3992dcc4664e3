"""The folds of sources, people, profiles, the site and a running checkout."""

from __future__ import annotations

from collections.abc import Callable

import journal_drafts as d
from hypothesis import given, settings
from hypothesis import strategies as st
from journal_histories import World, begin, play

from procedures.journal.envelope import Draft, Event
from procedures.journal.fold import fold_checkout, fold_person, fold_profile, fold_profiles, fold_site, fold_source
from procedures.journal.states import Wait


def of(world: World, what: str) -> str:
    return next(one.hash for one in world.everything() if one.body.get("what") == what)


def test_a_source_is_out_from_the_scan_that_took_it_to_the_one_that_put_it_back() -> None:
    """Home shows every source that is out of its store."""
    world = begin("north")
    (north,) = world.stations
    source = of(world, "source")
    opened = world.write(north, d.opened(of(world, "instrument")))
    assert fold_source(source, world.everything()).out_with is None
    world.write(north, d.scanned(opened.hash, source, "source-out"))
    world.write(north, d.scanned(opened.hash, source, None))
    assert fold_source(source, world.everything()).out_with == opened.hash
    world.write(north, d.withdrawn(opened.hash, of(world, "instrument")))
    assert fold_source(source, world.everything()).out_with == opened.hash
    world.write(north, d.scanned(opened.hash, source, "source-back"))
    assert fold_source(source, world.everything()).out_with is None


def test_a_source_found_and_placed_by_hand_is_no_longer_out() -> None:
    """Whoever finds it on a bench says where it is now."""
    world = begin("north")
    (north,) = world.stations
    source = of(world, "source")
    opened = world.write(north, d.opened(of(world, "instrument")))
    world.write(north, d.scanned(opened.hash, source, "source-out"))
    world.write(north, d.placed(source, "here", "safe"))
    state = fold_source(source, world.everything())
    assert (state.out_with, state.whereabouts, state.where) == (None, "here", "safe")


def test_a_leak_test_sets_the_next_one() -> None:
    """The newest record counts."""
    world = begin("north")
    source = of(world, "source")
    body = {"on": "2031-04-01", "due": "2031-10-01", "result_bq": "12"}
    world.write(world.stations[0], Draft("leak-tested", body, (source,)))
    state = fold_source(source, world.everything())
    assert (state.leak_tested, state.leak_due, state.leak_result) == ("2031-04-01", "2031-10-01", "12")


def test_the_leak_test_made_last_counts_whenever_it_was_recorded() -> None:
    """185 Bq or more withdraws a source (10 CFR 35.67, read): an older clean wipe must not hide it."""
    world = begin("north")
    source = of(world, "source")

    def tested(on: str, result: object) -> object:
        world.write(world.stations[0], Draft("leak-tested", {"on": on, "due": None, "result_bq": result}, (source,)))
        return fold_source(source, world.everything()).leak_result

    assert tested("2031-06-01", "500") == "500"
    assert tested("2031-05-01", "3") == "500"
    assert tested("2031-06-02", "3") == "3"


def test_a_source_that_is_not_there_when_they_are_counted_is_missing_until_it_is_found() -> None:
    """The inventory is held twice a year; what it does not find nobody may scan as if it were there."""
    world = begin("north")
    (north,) = world.stations
    source = of(world, "source")
    assert fold_source(source, world.everything()).counted_on is None
    world.write(north, d.counted(source, there=False, where=""))
    state = fold_source(source, world.everything())
    assert (state.whereabouts, state.counted_on, state.counted_found) == ("missing", "2031-04-05", False)
    world.write(north, d.counted(source, where="vault"))
    state = fold_source(source, world.everything())
    assert (state.whereabouts, state.where, state.counted_found) == ("here", "vault", True)
    world.write(north, d.counted(source, where=""))
    assert fold_source(source, world.everything()).where == "vault"


def test_counting_a_source_that_is_lent_does_not_bring_it_home() -> None:
    """It was counted where it is."""
    world = begin("north")
    (north,) = world.stations
    source = of(world, "source")
    world.write(north, d.placed(source, "lent", "the other site"))
    world.write(north, d.counted(source, where=""))
    state = fold_source(source, world.everything())
    assert (state.whereabouts, state.where) == ("lent", "the other site")


def test_the_condition_of_a_source_is_what_was_said_last() -> None:
    """Nobody has looked at a new one yet."""
    world = begin("north")
    (north,) = world.stations
    source = of(world, "source")
    assert fold_source(source, world.everything()).condition == ""
    world.write(north, d.condition(source, "damaged"))
    state = fold_source(source, world.everything())
    assert (state.condition, state.condition_say) == ("damaged", "it is damaged")
    world.write(north, d.condition(source, "good"))
    assert fold_source(source, world.everything()).condition == "good"


SOURCE_MOVES = st.lists(
    st.tuples(
        st.integers(0, 2),
        st.sampled_from(["count", "condition", "place", "tell", "tell all", "note", "scan", "wrong clock"]),
        st.integers(0, 10_000),
    ),
    max_size=25,
)


@settings(max_examples=150, deadline=None)
@given(SOURCE_MOVES)
def test_what_is_said_against_a_source_stands_until_somebody_who_had_heard_of_it_answers(
    moves: list[tuple[int, str, int]],
) -> None:
    """Two laptops that have not met: “good”, or found on its shelf, answers only what its writer knew."""
    world = play(begin("north", "south", "west"), moves)
    source, events = of(world, "source"), world.everything()
    mine = [one for one in events if source in one.about]

    def standing(against: list[Event], answers: list[Event]) -> list[Event]:
        return [one for one in against if not any(one.hash in world.past[answer.hash] for answer in answers)]

    said = [one for one in mine if one.kind == "source-condition"]
    harmed = standing(*_parted(said, lambda one: one.body["condition"] != "good"))
    where = [one for one in mine if one.kind in ("placed", "counted")]
    lost = standing(
        *_parted(where, lambda one: one.body.get("whereabouts") == "missing" or not one.body.get("found", 1))
    )
    state = fold_source(source, events)
    assert (state.condition in ("damaged", "slipped")) == bool(harmed)
    assert (state.condition == "damaged") == any(one.body["condition"] == "damaged" for one in harmed)
    assert (state.whereabouts == "missing") == bool(lost)


def _parted(events: list[Event], bad: Callable[[Event], bool]) -> tuple[list[Event], list[Event]]:
    return [one for one in events if bad(one)], [one for one in events if not bad(one)]


def test_a_person_is_who_was_last_described() -> None:
    """Training and roles change; the id stays."""
    world = begin("north", "south")
    north, south = world.stations
    person = of(world, "person")
    world.write(north, d.described(person, roles=["lead"]))
    world.write(south, d.described(person, trained_until="2032-01-01"))
    state = fold_person(person, world.everything())
    assert state.fields["roles"] == ["lead"]
    assert state.fields["trained_until"] == "2032-01-01"
    assert not state.retired
    world.write(north, d.retired(person))
    assert fold_person(person, world.everything()).retired


def test_two_adoptions_made_apart_leave_none_in_force_until_one_replaces_both() -> None:
    """Neither lead had seen the other's choice."""
    world = begin("north", "south")
    north, south = world.stations
    first = world.write(north, d.adopted(revision=1))
    world.tell_all()
    state = fold_profile("chamber", world.everything())
    assert state.in_force is not None
    assert state.in_force.event == first.hash
    mine = world.write(north, d.adopted(revision=2, replaces=(first.hash,)))
    theirs = world.write(south, d.adopted(revision=3, replaces=(first.hash,)))
    world.tell_all()
    state = fold_profile("chamber", world.everything())
    assert state.in_force is None
    assert set(state.heads) == {mine.hash, theirs.hash}
    chosen = world.write(north, d.adopted(revision=4, replaces=(mine.hash, theirs.hash)))
    state = fold_profiles(world.everything())["chamber"]
    assert state.in_force is not None
    assert (state.in_force.event, state.in_force.revision) == (chosen.hash, 4)


def test_an_adoption_that_cannot_be_read_leaves_none_in_force() -> None:
    """A newer program adopted something: what is in force is not known here."""
    world = begin("north")
    world.write(world.stations[0], d.adopted())
    world.write(world.stations[0], Draft("profile-adopted", {"profile": "chamber"}, ("profile:chamber",)), version=2)
    assert fold_profile("chamber", world.everything()).in_force is None


def test_each_setting_of_the_site_has_its_own_last_writer() -> None:
    """Two leads who change different settings both get their way."""
    world = World("north", "south")
    north, south = world.stations
    assert fold_site(world.everything()) is None
    begun = {"name": "Site", "zone": "Etc/UTC", "day_starts": "06:00", "shifts": ["06:00"], "settings": {"a": 1}}
    world.write(north, Draft("site-begun", begun, ("site",)))
    world.tell_all()
    world.write(north, Draft("settings-changed", {"set": {"day_starts": "07:00"}}, ("site",)))
    world.write(south, Draft("settings-changed", {"set": {"a": 2, "b": 3}}, ("site",)))
    site = fold_site(world.everything())
    assert site is not None
    assert (site.day_starts, site.zone, site.settings) == ("07:00", "Etc/UTC", {"a": 2, "b": 3})


def test_a_running_checkout_shows_its_step_its_wait_and_its_failure() -> None:
    """The list of open checkouts is what a technician with twelve meters works from."""
    world = begin("north")
    (north,) = world.stations
    meter = of(world, "instrument")
    opened = world.write(north, d.opened(meter, person_id=of(world, "person")))
    about = (opened.hash,)
    asked = {"checkout": opened.hash, "step": "warm-up", "visit": 1, "ask": "wait"}
    world.write(north, Draft("wait-begun", {**asked, "seconds": 120, "ticks": 7.5, "session": "s"}, about))
    world.write(north, Draft("paused", {"checkout": opened.hash, "why": "called away"}, about))
    state = fold_checkout(world.everything())
    assert state is not None
    assert (state.phase, state.step, state.failed) == ("paused", "warm-up", False)
    assert state.wait == Wait("warm-up", "wait", 120, 7.5, "s")
    back = {"checkout": opened.hash, "gap": 30.5, "same_person": False, "switched_off": False}
    world.write(north, Draft("resumed", back, about, person="b" * 64))
    world.write(north, Draft("wait-kept", {**asked, "elapsed": 121.0}, about))
    last = world.write(north, d.found(opened.hash, meter, "fail"))
    state = fold_checkout(world.everything())
    assert state is not None
    assert (state.phase, state.wait, state.failed, state.person) == ("asking", None, True, "b" * 64)
    assert (state.last_event, state.last_utc, state.step) == (last.hash, last.utc, "battery")
    world.write(north, d.ended(opened.hash, meter, "locked out"))
    ended = fold_checkout(world.everything())
    assert ended is not None
    assert ended.phase == "ended"
