"""Checkouts in use: opening, answering, waiting, pausing, ending; several of them open side by side.

Every call commits what happened to the journal before it returns, so a kill at any moment loses nothing that a person
was shown. The rules are in `procedures.conduct`; this module brings the facts, the clock and the journal to them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Final

from procedures import conduct, settling
from procedures.answers import understand
from procedures.asks import Hold, Scan
from procedures.checkout import RULES, State, apply, fold, from_the_list, opened
from procedures.clock import Instant
from procedures.conduct import Said
from procedures.due import due_ask
from procedures.facts import facts_to_json
from procedures.journal.envelope import Draft, Event
from procedures.journal.fields import is_hash
from procedures.journal.store import Overtaken
from procedures.site import last_look, lookups, opening_facts, picture, rights
from procedures.site.clearing import reason_text
from procedures.site.entries import words
from procedures.site.opening import Site
from procedures.site.profiles import adopted_procedure, procedure_for
from procedures.site.views import CheckoutView, OpenCheckout, Typed, Understood
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.procedure import Procedure

JUDGED: Final = "judged-unfit"


@dataclass(slots=True)
class Live:
    """A checkout held in memory: its procedure, the fold of its events, and the hold being watched."""

    procedure: Procedure
    state: State
    hold: settling.Hold | None = None


class Desk:
    """The checkouts open on this station. One desk for each running program."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self._live: dict[str, Live] = {}

    # --- opening ---------------------------------------------------------------------------------------------------

    def start(self, instrument: str, person: str, pin: str | None = None) -> CheckoutView:
        """Open a checkout of an instrument. What readiness it had ends with this.

        Raises Trouble when it may not be opened: locked out, already being checked, away, no profile in force, the
        person not entitled, or the clock in doubt; and, where a badge is not enough here, without the person's `pin`,
        which is looked at last.
        """
        now = self.site.clock.now()
        opening = opening_facts.gather(self.site, instrument, person, now)
        procedure = procedure_for(self.site, opening.profile)
        self._identified(person, pin)
        body = {
            "instrument": instrument,
            "profile": {"id": procedure.id, "revision": procedure.revision, "sha256": procedure.sha256},
            "rules": RULES,
            "clearings": list(opening.clearings),
            "facts": facts_to_json(opening.facts),
            "ticks": now.ticks,
            "session": now.session,
        }
        event = self._open(instrument, opening.expect, Draft("opened", body, (instrument,), person=person), now)
        live = Live(procedure, opened(procedure, event))
        self._live[event.hash] = live
        self._record(live, conduct.begin(procedure, live.state, now), now)
        return self.view(event.hash)

    # --- looking ---------------------------------------------------------------------------------------------------

    def view(self, checkout: str) -> CheckoutView:
        """The checkout as a front end shows it; one left open by a crash is shown as such until it is resumed."""
        live = self._get(checkout)
        now = self.site.clock.now()
        return picture.view(self.site, live.procedure, live.state, live.hold, now)

    def open_checkouts(self) -> tuple[OpenCheckout, ...]:
        """All checkouts of this station that have not ended, with the time left of their waits."""
        now = self.site.clock.now()
        return tuple(
            picture.open_row(self.site, live.procedure, live.state, live.hold, now)
            for row in lookups.open_checkouts(self.site)
            if not (live := self._get(row.checkout)).state.over
        )

    def understand(self, checkout: str, ask: str, typed: Typed) -> Understood:
        """What the program makes of a typed answer. Nothing is kept. Raises Trouble when it is not understood."""
        live = self._get(checkout)
        asked = conduct.check_due_is_ask(due_ask(live.procedure, live.state), ask)
        _, echo = understand(asked, typed.text, selector=typed.selector, unit=typed.unit, state=typed.state)
        return Understood(echo)

    # --- answering -------------------------------------------------------------------------------------------------

    def answer(self, checkout: str, ask: str, typed: Typed, *, took: float) -> CheckoutView:
        """Keep an answer; it is final when this returns. `took` are seconds since the ask was first shown."""
        live = self._going_on(checkout)
        asked = conduct.check_due_is_ask(due_ask(live.procedure, live.state), ask)
        value, _ = understand(asked, typed.text, selector=typed.selector, unit=typed.unit, state=typed.state)
        if isinstance(asked, Scan):
            last_look.nobody_elses(self.site, live.state, asked, str(value))
        now = self.site.clock.now()
        said = conduct.answer(live.procedure, live.state, asked, value, now, took=_seconds(took))
        self._record(live, said, now)
        return self.view(checkout)

    def remedy(self, checkout: str, *, done: bool) -> CheckoutView:
        """The remedy on offer was carried out, or cannot be."""
        live = self._going_on(checkout)
        now = self.site.clock.now()
        self._record(live, conduct.answer_remedy(live.procedure, live.state, now, done=done), now)
        return self.view(checkout)

    # --- waiting ---------------------------------------------------------------------------------------------------

    def hold(self, checkout: str) -> CheckoutView:
        """The person presses the instrument's button now. tick() watches from here on."""
        live = self._going_on(checkout)
        asked = due_ask(live.procedure, live.state)
        now = self.site.clock.now()
        if isinstance(asked, Hold) and live.hold is None:
            self._record(live, conduct.begin_hold(live.procedure, live.state, asked, now), now)
            if live.state.waiting is not None:
                live.hold = settling.Hold(asked.seconds, now, now)
        return self.view(checkout)

    def let_go(self, checkout: str) -> CheckoutView:
        """The person let go of the button. Too early is asked again."""
        live = self._get(checkout)
        if live.hold is not None:
            self._break_hold(live, settling.held(live.hold), "The button came up too early. Hold it down again.")
        return self.view(checkout)

    def tick(self, checkout: str) -> CheckoutView:
        """Look at the clock: end a wait that is over, break a hold that nobody watched. Call about 4 times a second."""
        live = self._get(checkout)
        now = self.site.clock.now()
        state = live.state
        if live.hold is not None:
            self._tick_hold(live, live.hold, now)
        elif isinstance(due_ask(live.procedure, state), Hold):
            if state.waiting is not None and not self._left_open(live, now):
                # Begun at another desk: whoever reads a hold from the journal cannot vouch for the finger.
                self._break_hold(live, 0.0, "Nobody here watched the button. Hold it down again.")
        elif state.waiting is not None and not self._left_open(live, now):
            wait = settling.Wait(state.waiting.seconds, state.waiting.begun, state.waiting.credit)
            if settling.is_over(wait, now):
                self._record(live, conduct.keep_wait(live.procedure, state, settling.elapsed(wait, now), now), now)
        return self.view(checkout)

    def _tick_hold(self, live: Live, hold: settling.Hold, now: Instant) -> None:
        beaten = settling.beat(hold, now)
        if isinstance(beaten, settling.Broken):
            self._break_hold(live, beaten.held, f"The hold does not count: {beaten.why}. Hold the button down again.")
            return
        live.hold = beaten
        if settling.is_kept(beaten):
            live.hold = None
            self._record(live, conduct.keep_wait(live.procedure, live.state, settling.held(beaten), now), now)

    def _break_hold(self, live: Live, held: float, why: str) -> None:
        live.hold = None
        now = self.site.clock.now()
        self._record(live, conduct.break_wait(live.procedure, live.state, held, why, now), now)

    # --- pausing and ending ----------------------------------------------------------------------------------------

    def pause(self, checkout: str, why: str = "") -> CheckoutView:
        """Set the checkout aside. Everything is kept; a pause longer than the profile allows makes passes stale."""
        live = self._going_on(checkout)
        why = words("reason", why, needed=False)
        live.hold = None
        now = self.site.clock.now()
        self._record(live, conduct.pause(live.procedure, live.state, why, now), now)
        return self.view(checkout)

    def resume(self, checkout: str, person: str, *, switched_off: bool, pin: str | None = None) -> CheckoutView:
        """Go on after a pause, a crash or a power cut. Another person takes it over, where wanted with their `pin`."""
        live = self._get(checkout)
        now = self.site.clock.now()
        if live.state.over or not (live.state.paused or self._left_open(live, now)):
            return self.view(checkout)
        opening_facts.may_check(self.site, person)
        self._identified(person, pin, live.state.person)
        live.hold = None
        said = conduct.resume(live.procedure, live.state, person, now, switched_off=switched_off)
        self._record(live, said, now, person)
        return self.view(checkout)

    def fail_by_judgement(self, checkout: str, say: str) -> CheckoutView:
        """The person fails the step being done, with their reason. Locks out at once."""
        live = self._get(checkout)
        live.hold = None
        now = self.site.clock.now()
        if live.state.over:
            raise Trouble(
                "this checkout has ended, and a judgement of it would change nothing",
                do="Lock the instrument out, and say why.",
            )
        said = conduct.fail_by_judgement(live.procedure, live.state, JUDGED, reason_text(say), now)
        self._record(live, said, now)
        return self.view(checkout)

    def abandon(self, checkout: str, why: str = "") -> CheckoutView:
        """Give the checkout up. After any failed finding that locks the instrument out."""
        live = self._get(checkout)
        why = words("reason", why, needed=False)
        live.hold = None
        now = self.site.clock.now()
        if not live.state.over:
            self._record(live, conduct.abandon(live.procedure, live.state, why, now), now)
        return self.view(checkout)

    def withdraw(self, checkout: str, why: str) -> CheckoutView:
        """The checkout was made on the wrong item: kept, struck through, no readiness. A failure in it stands."""
        live = self._get(checkout)
        now = self.site.clock.now()
        why = reason_text(why)
        said = conduct.withdraw(live.state, why, now)
        if not live.state.over:
            said = (*said, *conduct.abandon(live.procedure, live.state, why, now))
        self._record(live, said, now)
        return self.view(checkout)

    def note(self, checkout: str, text: str) -> None:
        """Write a note into the record of this checkout."""
        live = self._get(checkout)
        now = self.site.clock.now()
        self._record(live, (Said("note", {"checkout": checkout, "text": reason_text(text)}),), now)

    def _identified(self, person: str, pin: str | None, whose: str = "") -> None:
        if rights.check_takes_pin(self.site, person, whose):
            rights.confirm(self.site, person, pin)

    # --- within ----------------------------------------------------------------------------------------------------

    def _get(self, checkout: str) -> Live:
        live = self._live.get(checkout)
        if live is not None:
            self._catch_up(live)
        else:
            events = self.site.journal.checkout_events(checkout) if is_hash(checkout) else ()
            if not events or events[0].kind != "opened" or events[0].hash != checkout:
                raise Trouble("there is no such checkout in the journal", do="Go back to the instruments.")
            ran = events[0].body["profile"]
            procedure = adopted_procedure(self.site, ran["id"], ran["sha256"])
            live = self._live[checkout] = Live(procedure, fold(procedure, events))
        return live

    def _catch_up(self, live: Live) -> None:
        """Take in what was recorded beside the run: a source scanned back from the list, a remark.

        What another window did within the run is left for `_record` to stumble over: whoever answers has not seen it.
        """
        journal, state = self.site.journal, live.state
        if journal.last_about(state.checkout) == state.last_hash:
            return
        events = journal.checkout_events(state.checkout)
        known = next((place for place, event in enumerate(events) if event.hash == state.last_hash), len(events))
        later = events[known + 1 :]
        if all(event.kind == "note" or from_the_list(event) for event in later):
            for event in later:
                live.state = apply(live.procedure, live.state, event)

    def _open(self, instrument: str, expect: str, draft: Draft, now: Instant) -> Event:
        try:
            return self.site.journal.append((draft,), now, expect=(instrument, expect))[0]
        except Overtaken:
            raise Trouble(
                "something about this instrument was recorded at the same moment", do="Look again, then start anew."
            ) from None

    def _left_open(self, live: Live, now: Instant) -> bool:
        return live.state.last.session != now.session

    def _going_on(self, checkout: str) -> Live:
        live = self._get(checkout)
        if live.state.over:
            raise Trouble("this checkout has ended", do="Start a new one from the list of instruments.")
        if live.state.paused or self._left_open(live, self.site.clock.now()):
            raise Trouble("this checkout is set aside", do="Resume it first.")
        return live

    def _record(self, live: Live, said: Sequence[Said], now: Instant, person: str | None = None) -> None:
        """Commit in one transaction, then move on. Raises Trouble when another program was faster."""
        if not said:
            return
        state = live.state
        who = person or state.person
        drafts = last_look.drafts(self.site, state, said, who, now)
        try:
            events = self.site.journal.append(drafts, now, expect=(state.checkout, state.last_hash))
        except Overtaken:
            del self._live[state.checkout]
            raise Trouble(
                "another window went on with this checkout meanwhile; what you just did was not kept",
                do="Look at where it stands now and go on from there.",
            ) from None
        for event in events:
            live.state = apply(live.procedure, live.state, event)
        if live.state.waiting is None:
            live.hold = None


def _seconds(took: float) -> float:
    """How long an answer took. What cannot be is no time at all, so that the answer counts as hasty."""
    return max(0.0, took) if isfinite(took) else 0.0
