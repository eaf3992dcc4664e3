"""Random histories of several stations: what they write, what they learn of each other, and when they believe it is.

A `World` writes events as stations would, without any file, and remembers for each event exactly what its writer knew:
the tests' oracles judge by that, never by the `seen` that the events carry.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta

import journal_drafts as d
from hypothesis import strategies as st

from procedures.journal.envelope import Draft, Event, seal
from procedures.journal.events import CATALOGUE, must_end_fitness
from procedures.journal.fields import MAY_SEE, SEES
from procedures.journal.moments import milliseconds, step_clock, utc_moment, utc_text

START = datetime(2031, 4, 5, 6, 0, tzinfo=UTC)


@dataclass
class Station:
    """One laptop: the name it writes under, what it knows, and how wrong its wall clock is."""

    name: str
    known: dict[str, Event] = field(default_factory=dict)
    own: list[Event] = field(default_factory=list)
    wrong_by: timedelta = timedelta()


class World:
    """Stations that share one true time."""

    def __init__(self, *names: str) -> None:
        self.now = START
        self.past: dict[str, frozenset[str]] = {}
        self.stations = [Station(name) for name in names]
        for station in self.stations:
            self.write(station, Draft("station-begun", {"name": station.name, "parent": None}))

    def write(self, station: Station, draft: Draft, *, version: int | None = None) -> Event:
        """One event as this station would write it. Kinds outside the catalogue are those of a newer program."""
        heads: dict[str, Event] = {}
        for event in station.known.values():
            if event.station != station.name and event.seq > (
                heads[event.station].seq if event.station in heads else 0
            ):
                heads[event.station] = event
        last = station.own[-1] if station.own else None
        utc = self.now + station.wrong_by
        clock = max((event.hlc for event in station.known.values()), default=(0, 0))
        known_kind = draft.kind in CATALOGUE
        event = seal(
            draft,
            version=version or 1,
            ends_fitness=draft.ends_fitness or (known_kind and must_end_fitness(draft.kind, draft.body)),
            station=station.name,
            seq=1 if last is None else last.seq + 1,
            utc=utc,
            offset=0,
            hlc=step_clock(clock, milliseconds(utc)),
            prev="" if last is None else last.hash,
            seen={name: (head.seq, head.hash) for name, head in heads.items()}
            if draft.kind in SEES | MAY_SEE
            else None,
        )
        self.past[event.hash] = frozenset(station.known)
        station.known[event.hash] = event
        station.own.append(event)
        self.now += timedelta(seconds=1)
        return event

    def tell(self, teller: Station, listener: Station) -> None:
        """One station gives another everything it knows."""
        listener.known.update(teller.known)

    def tell_all(self) -> None:
        """Everybody learns everything."""
        for teller in self.stations:
            for listener in self.stations:
                self.tell(teller, listener)

    def everything(self) -> list[Event]:
        return list({event.hash: event for station in self.stations for event in station.known.values()}.values())


Choice = Callable[[Sequence[Event], random.Random], Draft | None]


def _pick(chance: random.Random, events: Iterable[Event]) -> Event | None:
    found = list(events)
    return chance.choice(found) if found else None


def _registered(known: Sequence[Event], what: str) -> list[Event]:
    return [one for one in known if one.kind == "registered" and one.body["what"] == what]


def _checkouts(known: Sequence[Event], *, running: bool = True) -> list[Event]:
    over = {one.body["checkout"] for one in known if one.kind in ("ended", "withdrawn")}
    return [one for one in known if one.kind == "opened" and (one.hash not in over or not running)]


def _until(known: Sequence[Event]) -> str:
    return utc_text(max(one.utc for one in known) + timedelta(hours=12))


def _open(known: Sequence[Event], chance: random.Random) -> Draft | None:
    meter = _pick(chance, _registered(known, "instrument"))
    if meter is None:
        return None
    clearings = [one.hash for one in known if one.kind == "cleared" and meter.hash in one.about]
    return d.opened(meter.hash, clearings=tuple(clearings) if chance.random() < 0.8 else ())


def _in_checkout(make: Callable[[str, str, random.Random, Sequence[Event]], Draft], *, running: bool = True) -> Choice:
    def choose(known: Sequence[Event], chance: random.Random) -> Draft | None:
        opened = _pick(chance, _checkouts(known, running=running))
        return None if opened is None else make(opened.hash, opened.body["instrument"], chance, known)

    return choose


def _about(what: str, make: Callable[[str, random.Random], Draft]) -> Choice:
    def choose(known: Sequence[Event], chance: random.Random) -> Draft | None:
        thing = _pick(chance, _registered(known, what))
        return None if thing is None else make(thing.hash, chance)

    return choose


def _clear(known: Sequence[Event], chance: random.Random) -> Draft | None:
    meter = _pick(chance, _registered(known, "instrument"))
    if meter is None:
        return None
    failed = {one.body["checkout"] for one in known if one.kind in ("found", "failed-by-judgement", "ended")}
    lockouts = [
        one.hash
        for one in known
        if meter.hash in one.about and (one.kind == "locked-out" or (one.kind == "opened" and one.hash in failed))
    ]
    if not lockouts:
        return None
    named = lockouts if chance.random() < 0.8 else [chance.choice(lockouts)]
    return d.cleared(meter.hash, *named, calibration_needed=chance.random() < 0.2)


def _hand_out(known: Sequence[Event], chance: random.Random) -> Draft | None:
    meter, who = _pick(chance, _registered(known, "instrument")), _pick(chance, _registered(known, "person"))
    return None if meter is None or who is None else d.handed_out(meter.hash, who.hash)


def _emergency(known: Sequence[Event], chance: random.Random) -> Draft | None:
    meter, who = _pick(chance, _registered(known, "instrument")), _pick(chance, _registered(known, "person"))
    return None if meter is None or who is None else d.emergency_use(meter.hash, who.hash)


def _paper(known: Sequence[Event], chance: random.Random) -> Draft | None:
    """Entered now; observed shortly before or after something that is known, or after now by a slip."""
    meter, who = _pick(chance, _registered(known, "instrument")), _pick(chance, _registered(known, "person"))
    near = _pick(chance, (one for one in known if one.kind in (*USES, "opened", "found", "paper-entered")))
    if meter is None or who is None or near is None:
        return None
    when = utc_moment(near.body["observed"]) if near.kind == "paper-entered" else near.utc
    observed = utc_text(when + timedelta(seconds=chance.choice([-0.5, 0, 0, 0.5, 3, 3000])))
    outcomes = [(kind, chance.choice(["pass", "pass", "fail", "as found", "could not check"])) for kind in KINDS]
    chance.shuffle(outcomes)
    ending = chance.choice(["fit for use", "fit for use", "locked out", "not checked"])
    return d.paper_entered(meter.hash, who.hash, observed, *outcomes[: chance.randrange(3)], ending=ending)


def _review(known: Sequence[Event], chance: random.Random) -> Draft | None:
    causes = [one for one in known if one.kind in ("found", "emergency-use", "paper-entered", "returned", "calibrated")]
    cause, use = _pick(chance, causes), _pick(chance, (one for one in known if one.kind in USES))
    meter = _pick(chance, _registered(known, "instrument"))
    if cause is None or use is None or meter is None:
        return None
    made = d.reviewed(meter.hash, cause.hash, use.hash)
    return made if chance.random() < 0.7 else replace(made, about=(cause.hash, use.hash))


def _scan(known: Sequence[Event], chance: random.Random) -> Draft | None:
    opened, source = _pick(chance, _checkouts(known)), _pick(chance, _registered(known, "source"))
    if opened is None or source is None:
        return None
    return d.scanned(opened.hash, source.hash, chance.choice(["source-out", "source-back", None]))


def _adopt(known: Sequence[Event], chance: random.Random) -> Draft | None:
    adopted = [one for one in known if one.kind == "profile-adopted"]
    replaced = {old for one in adopted for old in one.body["replaces"]}
    heads = tuple(one.hash for one in adopted if one.hash not in replaced)
    return d.adopted(revision=len(adopted) + 1, replaces=heads if chance.random() < 0.8 else ())


def _wait(checkout: str, chance: random.Random) -> Draft:
    body = {"checkout": checkout, "step": "warm-up", "visit": 1, "ask": "wait"}
    kind = chance.choice(["wait-begun", "wait-kept", "wait-broken", "paused", "resumed"])
    more: dict[str, dict[str, object]] = {
        "wait-begun": {**body, "seconds": 120, "ticks": 3.5, "session": "s1"},
        "wait-kept": {**body, "elapsed": 120.25},
        "wait-broken": {**body, "elapsed": 1.5, "why": "gap"},
        "paused": {"checkout": checkout, "why": "called away"},
        "resumed": {"checkout": checkout, "gap": 4.0, "same_person": chance.random() < 0.5, "switched_off": False},
    }
    return Draft(kind, more[kind], (checkout,), person="b" * 64)


KINDS = ("battery", "response")
USES = ("handed-out", "emergency-use")
END = {
    "end fit": "fit for use",
    "end locked out": "locked out",
    "end not checked": "not checked",
    "abandon": "abandoned",
}
CHOICES: dict[str, Choice] = {
    "open": _open,
    "pass": _in_checkout(lambda c, i, *_: d.found(c, i)),
    "fail": _in_checkout(lambda c, i, *_: d.found(c, i, "fail", as_found="fail")),
    "pass response": _in_checkout(lambda c, i, *_: d.found(c, i, kind="response")),
    "fail response": _in_checkout(lambda c, i, *_: d.found(c, i, "fail", kind="response")),
    "fail as found": _in_checkout(lambda c, i, *_: d.found(c, i, "pass", as_found="fail")),
    "judge": _in_checkout(lambda c, i, *_: d.judged(c, i)),
    **{
        name: _in_checkout(
            lambda c, i, _, known, ending=ending: d.ended(  # type: ignore[misc]
                c, i, ending, until=_until(known), code="zero-off" if ending == "locked out" else ""
            )
        )
        for name, ending in END.items()
    },
    "end again": _in_checkout(
        lambda c, i, chance, known: d.ended(c, i, chance.choice(list(END.values())), until=_until(known)),
        running=False,
    ),
    "withdraw": _in_checkout(lambda c, i, *_: d.withdrawn(c, i), running=False),
    "answer": _in_checkout(lambda c, *_: d.answered(c)),
    "wait": _in_checkout(lambda c, _i, chance, _k: _wait(c, chance)),
    "scan": _scan,
    "lock out": _about("instrument", lambda i, _: d.locked_out(i)),
    "clear": _clear,
    "end readiness": _about("instrument", lambda i, _: d.readiness_ended(i)),
    "calibrate": _about("instrument", lambda i, c: d.calibrated(i, on=c.choice(["2031-04-01", "2031-04-05"]))),
    "calibrate outside": _about("instrument", lambda i, _: d.calibrated(i, on="2031-04-05", as_found="outside")),
    "repair": _about("instrument", lambda i, chance: d.repaired(i, voids_calibration=chance.random() < 0.5)),
    "emergency": _emergency,
    "paper": _paper,
    "review": _review,
    "count": _about("source", lambda i, chance: d.counted(i, there=chance.random() < 0.5)),
    "condition": _about(
        "source", lambda i, chance: d.condition(i, chance.choice(["good", "good", "damaged", "slipped"]))
    ),
    "change cable": _about("instrument", lambda i, chance: d.described(i, cable=str(chance.randrange(3)))),
    "rename": _about("instrument", lambda i, chance: d.described(i, label=f"C-{chance.randrange(3)}")),
    "retire": _about("instrument", lambda i, _: d.retired(i)),
    "place": _about("source", lambda i, chance: d.placed(i, chance.choice(["here", "lent", "missing"]))),
    "place meter": _about("instrument", lambda i, chance: d.placed(i, chance.choice(["here", "lent"]))),
    "hand out": _hand_out,
    "return": _about("instrument", lambda i, chance: d.returned(i, chance.choice([None, "good", "not done"]))),
    "return bad": _about("instrument", lambda i, _: d.returned(i, "bad")),
    "contaminate": _about("instrument", lambda i, chance: d.contamination(i, chance.random() < 0.5)),
    "train": _about("person", lambda i, _: d.described(i, trained_until="2032-01-01")),
    "adopt": _adopt,
    "note": _about("instrument", lambda i, _: d.note(i)),
}
"""Name of a thing a station may do → what it writes then, from what it knows; None where it cannot."""

USUAL = (
    "check",
    "check",
    "check",
    "clear",
    "clear",
    "lock out",
    "open",
    "fail",
    "end fit",
    "withdraw",
    "tell",
    "tell all",
)
MOVES = st.lists(
    st.tuples(
        st.integers(0, 2),
        st.one_of(st.sampled_from(USUAL), st.sampled_from((*CHOICES, "wrong clock", "newer program"))),
        st.integers(0, 10_000),
    ),
    max_size=30,
)
"""Moves of three stations: which, what, and the seed of the choices that it makes."""


DOUBTING = (
    "check",
    "check",
    "bad check",
    "bad check",
    "hand out",
    "hand out",
    "hand out",
    "emergency",
    "lock out",
    "paper",
    "paper",
    "paper",
    "open",
    "pass",
    "pass response",
    "fail",
    "fail response",
    "fail as found",
    "judge",
    "end fit",
    "end again",
    "end not checked",
    "withdraw",
    "return",
    "return bad",
    "calibrate",
    "calibrate outside",
    "review",
    "tell",
    "tell all",
    "wrong clock",
)
DOUBTS = st.lists(
    st.tuples(st.integers(0, 2), st.sampled_from(DOUBTING), st.integers(0, 10_000)), min_size=12, max_size=40
)
"""Moves that put uses in doubt and take them out of it."""


def begin(*names: str, meters: int = 1) -> World:
    """A site that every station knows: instruments, a source, a person."""
    world = World(*names)
    first = world.stations[0]
    for number in range(meters):
        world.write(first, d.instrument(f"C-{number}"))
    world.write(first, d.source())
    world.write(first, d.person())
    world.tell_all()
    return world


def play(world: World, moves: Iterable[tuple[int, str, int]]) -> World:
    """Let the stations make these moves; those that cannot be made are left out."""
    for number, move, seed in moves:
        station = world.stations[number % len(world.stations)]
        chance = random.Random(seed)
        if move == "tell":
            world.tell(station, world.stations[seed % len(world.stations)])
        elif move == "tell all":
            world.tell_all()
        elif move == "check":
            _check(world, station, chance)
        elif move == "bad check":
            _bad_check(world, station, chance)
        elif move == "wrong clock":
            station.wrong_by = timedelta(seconds=chance.choice([0, -60, -600, 600]))
        elif move == "newer program":
            meter = _pick(chance, _registered(list(station.known.values()), "instrument"))
            if meter is not None and chance.random() < 0.2:
                world.write(station, Draft("weighed", {"grams": 3}, (meter.hash,)))
        else:
            draft = CHOICES[move](list(station.known.values()), chance)
            if draft is not None:
                world.write(station, draft)
    return world


def _check(world: World, station: Station, chance: random.Random) -> None:
    """A whole checkout that passes, naming every clearing its station knows."""
    known = list(station.known.values())
    meter = chance.choice(_registered(known, "instrument")).hash
    clearings = [one.hash for one in known if one.kind == "cleared" and meter in one.about]
    opened = world.write(station, d.opened(meter, clearings=tuple(clearings)))
    world.write(station, d.found(opened.hash, meter))
    world.write(station, d.ended(opened.hash, meter, until=_until([*known, opened])))


def _bad_check(world: World, station: Station, chance: random.Random) -> None:
    """A checkout with a finding of each kind, any of which may fail, and any ending."""
    known = list(station.known.values())
    meter = chance.choice(_registered(known, "instrument")).hash
    opened = world.write(station, d.opened(meter))
    for kind in chance.sample(KINDS, len(KINDS)):
        outcome, as_found = chance.choice([("pass", None), ("warn", None), ("fail", "fail"), ("pass", "fail")])
        world.write(station, d.found(opened.hash, meter, outcome, kind=kind, as_found=as_found))
    if chance.random() < 0.2:
        world.write(station, d.judged(opened.hash, meter))
    if chance.random() < 0.8:
        ending = chance.choice(list(END.values()))
        world.write(station, d.ended(opened.hash, meter, ending, until=_until([*known, opened])))


def instruments(world: World) -> list[str]:
    """Ids of the instruments."""
    return [one.hash for one in _registered(world.everything(), "instrument")]
