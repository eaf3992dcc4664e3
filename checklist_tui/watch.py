"""Keeps an eye on every checkout that is open here: which waits go on, and which have ended and call for a person.

Holds no screen, so that it can be tried without one. The desk decides when a wait is over; this only asks it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from checklist_tui.use_cases import UseCases
from procedures.site.views import CheckoutView, OpenCheckout, Phase
from procedures.trouble import Trouble


@dataclass(frozen=True, slots=True)
class Call:
    """Something that calls for a person: the instrument by name, and what has happened."""

    checkout: str
    label: str
    say: str


@dataclass(frozen=True, slots=True)
class Beside:
    """Another open checkout, as one glance takes it in."""

    label: str
    phase: Phase
    remaining: float | None


@dataclass(frozen=True, slots=True)
class Ticked:
    """What one look at the waits brought: checkouts whose wait moved on, and those whose wait ended just now."""

    moved: tuple[str, ...] = ()
    ended: tuple[str, ...] = ()
    troubles: dict[str, Trouble] = field(default_factory=dict)


class Watch:
    """The last view of every checkout seen here, and what calls."""

    def __init__(self, use_cases: UseCases) -> None:
        self._use_cases = use_cases
        self.views: dict[str, CheckoutView] = {}
        self.calls: dict[str, Call] = {}
        self._taken: dict[str, float] = {}
        self._shown: dict[str, tuple[object, float]] = {}

    def now(self) -> float:
        """Seconds of the site's clock that only goes forward."""
        return self._use_cases.clock.now().ticks

    def take(self, view: CheckoutView, *, answered: bool = False) -> CheckoutView:
        """Keeps `view` as the latest of its checkout, and when its ask was first shown (`answered`: just now)."""
        self.views[view.checkout] = view
        now = self.now()
        self._taken[view.checkout] = now
        due = (view.step, view.step_title, view.ask)
        if answered or self._shown.get(view.checkout, (None, 0.0))[0] != due:
            self._shown[view.checkout] = (due, now)
        return view

    def took(self, checkout: str) -> float:
        """Seconds since the ask now due in `checkout` was first handed out."""
        return max(0.0, self.now() - self._shown.get(checkout, (None, self.now()))[1])

    def seconds(self, checkout: str) -> float:
        """Seconds since the checkout was opened."""
        return self.views[checkout].seconds + max(0.0, self.now() - self._taken[checkout])

    def remaining(self, checkout: str) -> float | None:
        """Seconds left of the wait or hold in progress, None when there is none."""
        view = self.views.get(checkout)
        if view is None or view.wait is None:
            return None
        return max(0.0, view.wait.remaining - max(0.0, self.now() - self._taken[checkout]))

    def live(self, known: OpenCheckout) -> OpenCheckout:
        """An open checkout as the site told it, brought up to this moment."""
        view = self.views.get(known.checkout)
        if view is None:
            # Not begun by this start of the program: it has to be gone on with, and no wait of it goes on.
            return known if known.phase == "paused" else replace(known, phase="left open", remaining=None)
        remaining = self.remaining(known.checkout)
        return replace(
            known,
            phase=_phase(view, remaining, called=known.checkout in self.calls),
            remaining=remaining,
            step=view.step_title,
            failed=view.failed,
        )

    def beside(self, front: str) -> list[Beside]:
        """The checkouts of this start of the program that are open beside `front`."""
        return [
            Beside(
                view.label,
                _phase(view, self.remaining(checkout), called=checkout in self.calls),
                self.remaining(checkout),
            )
            for checkout, view in self.views.items()
            if checkout != front
        ]

    def visited(self, checkout: str) -> None:
        """A person looks at this checkout: it need not call any longer."""
        self.calls.pop(checkout, None)

    def forget(self, checkout: str) -> None:
        """The checkout has ended and its ending was seen."""
        for table in (self.views, self.calls, self._taken, self._shown):
            table.pop(checkout, None)

    def tick(self, front: str = "") -> Ticked:
        """Asks the desk about every wait and hold in progress. The checkout on the screen, `front`, need not call."""
        moved: list[str] = []
        ended: list[str] = []
        troubles: dict[str, Trouble] = {}
        for checkout, before in tuple(self.views.items()):
            if before.wait is None:
                continue
            try:
                after = self.take(self._use_cases.desk.tick(checkout))
            except Trouble as trouble:
                troubles[checkout] = trouble
                self.calls.setdefault(checkout, Call(checkout, before.label, trouble.what))
                continue
            moved.append(checkout)
            if after.wait is None or after.ask != before.ask:
                ended.append(checkout)
                if checkout != front:
                    self.calls[checkout] = Call(checkout, after.label, _what_happened(before, after))
        return Ticked(tuple(moved), tuple(ended), troubles)


def _what_happened(before: CheckoutView, after: CheckoutView) -> str:
    if after.ending is not None:
        return after.ending.ending
    if before.wait is not None and before.wait.kind == "hold":
        return after.notice or "the hold is over"
    return after.notice or "the wait is over"


def _phase(view: CheckoutView, remaining: float | None, *, called: bool) -> Phase:
    if view.ending is not None:
        return "ended"
    if view.paused:
        return "paused"
    if remaining is not None:
        return "waiting"
    if called:
        return "wait over"
    return "remedy" if view.remedy is not None else "asking"
