"""A checkout as the front ends show it: state in, view out. No rule is decided here, only put into words."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Final

from procedures import settling
from procedures.asks import Ask, Reading
from procedures.checkout import Made, State
from procedures.clock import Instant
from procedures.due import due_ask
from procedures.findings import COUNTS_AS_PASS
from procedures.readiness import zone_of
from procedures.reasons import SHELF, reason
from procedures.routing import ACTIONS
from procedures.site import lookups, source_watch
from procedures.site.exchange_age import exchange_age
from procedures.site.opening import Site
from procedures.site.views import (
    CheckoutView,
    EndingView,
    FindingView,
    OpenCheckout,
    Phase,
    ReasonView,
    RemedyView,
    TrailStep,
    WaitView,
)
from procedures.units import Quantity
from procedures.verdict import not_checked_after_all

if TYPE_CHECKING:
    from procedures.procedure import Procedure

WHAT_NOW: Final[Mapping[str, tuple[str, ...]]] = {
    "fit for use": (
        "Take it. If it is dropped, gets wet, or behaves oddly, stop: end its readiness and check it again.",
    ),
    "not checked": (
        "Do not take it into the field: nothing shows that it works.",
        "Tell the site lead what is missing.",
    ),
    "abandoned": ("Do not take it into the field: no finished check speaks for it.",),
    "locked out": ("Hang a tag on it, put it on the out-of-service shelf, and tell the site lead.",),
}


def view(site: Site, procedure: Procedure, state: State, hold: settling.Hold | None, now: Instant) -> CheckoutView:
    """The whole view of a checkout at `now`."""
    person = lookups.person(site, state.person)
    left_open = not state.over and state.last.session != now.session
    paused = state.paused or ("left open" if left_open else "")
    ask = None if state.over or paused else due_ask(procedure, state)
    required = procedure.plan.required
    step = state.track.step
    place = (
        required.index(step) + 1 if step in required else len([s for s in required if s in state.track.counting]) + 1
    )
    return CheckoutView(
        checkout=state.checkout,
        marking=site.marking,
        instrument=state.instrument,
        label=state.facts.instrument.label,
        serial=state.facts.instrument.serial,
        type=state.facts.instrument.type,
        person=state.person,
        person_name=person.name,
        title=procedure.title,
        trail=_trail(procedure, state),
        step=min(place, len(required)),
        steps=len(required),
        step_title=procedure.titles[step],
        seconds=max(0.0, (now.utc - state.opened.utc).total_seconds()),
        ask=ask,
        remedy=None if state.over or paused else _remedy(procedure, state),
        wait=_wait(procedure, state, ask, hold, now),
        ending=_ending(site, procedure, state) if state.over else None,
        paused=paused,
        notice=state.notice,
        result=_result(procedure, state),
        failed=bool(state.track.ever_failed),
        readings=tuple(_reading_words(a.value) for a in state.answers if isinstance(a.value, Reading)),
    )


def open_row(site: Site, procedure: Procedure, state: State, hold: settling.Hold | None, now: Instant) -> OpenCheckout:
    """A checkout as home lists it."""
    waiting = _wait(procedure, state, None, hold, now)
    phase: Phase = "asking"
    if state.paused:
        phase = "paused"
    elif state.last.session != now.session:
        phase = "left open"
    elif waiting is not None:
        phase = "waiting" if waiting.remaining > 0 else "wait over"
    elif state.track.offer is not None:
        phase = "remedy"
    return OpenCheckout(
        checkout=state.checkout,
        instrument=state.instrument,
        label=state.facts.instrument.label,
        person=lookups.person(site, state.person).name,
        step=procedure.titles[state.track.step],
        phase=phase,
        remaining=waiting.remaining if waiting and phase in ("waiting", "wait over") else None,
        failed=bool(state.track.ever_failed),
    )


def _trail(procedure: Procedure, state: State) -> tuple[TrailStep, ...]:
    counting = state.counting()
    failed = {each.step for each in state.track.standing}
    seen = {made.finding.step for made in state.made}
    here = "" if state.over else state.track.step
    rows = []
    for step in procedure.plan.steps:
        if not step.required and step.id != state.track.step and step.id not in seen:
            continue
        made = counting.get(step.id)
        if step.id == here:
            rows.append(TrailStep(step.id, procedure.titles[step.id], "now"))
        elif step.id in failed:
            rows.append(TrailStep(step.id, procedure.titles[step.id], "failed"))
        elif made is not None:
            passed = "warned" if made.finding.outcome == "warn" else "passed"
            rows.append(TrailStep(step.id, procedure.titles[step.id], "warned" if passed == "warned" else "passed"))
        else:
            again = step.id in seen and step.required
            rows.append(TrailStep(step.id, procedure.titles[step.id], "again" if again else "to come"))
    return tuple(rows)


def _remedy(procedure: Procedure, state: State) -> RemedyView | None:
    offer = state.track.offer
    if offer is None:
        return None
    step = state.track.step
    remedy = procedure.plan.step(step).remedies[offer]
    back = procedure.plan.first if state.track.from_start else remedy.repeat_from
    return RemedyView(
        failed=next(made.finding for made in reversed(state.made) if made.finding.step == step),
        say=remedy.say,
        caution=remedy.caution,
        action=ACTIONS[remedy.action],
        attempt=state.track.attempts(step, offer) + 1,
        attempts=remedy.attempts,
        back_to=procedure.titles[back],
    )


def _wait(
    procedure: Procedure, state: State, ask: Ask | None, hold: settling.Hold | None, now: Instant
) -> WaitView | None:
    waiting = state.waiting
    if waiting is None or state.over:
        return None
    asked = ask or due_ask(procedure, state)
    meanwhile = str(getattr(asked, "meanwhile", ""))
    if hold is not None:
        left = max(0.0, hold.seconds - settling.held(hold))
        return WaitView("hold", hold.seconds, left, meanwhile)
    wait = settling.Wait(waiting.seconds, waiting.begun, waiting.credit)
    return WaitView("wait", waiting.seconds, settling.remaining(wait, now), meanwhile)


def _result(procedure: Procedure, state: State) -> FindingView | None:
    # Shown until the next step's first answer is in, so that nobody misses how the last one went.
    if not state.made or state.answers or state.made[-1].visit != state.visit - 1:
        return None
    return finding_view(procedure, state, state.made[-1])


def finding_view(procedure: Procedure, state: State, made: Made) -> FindingView:
    """A finding with the title of its step, and whether it still counts as a pass."""
    latest = state.counting().get(made.finding.step)
    counts = made.finding.outcome in COUNTS_AS_PASS and latest == made
    return FindingView(procedure.titles.get(made.finding.step, made.finding.step), made.at, made.finding, counts)


def _reading_words(reading: Reading) -> str:
    if reading.state != "on scale":
        return reading.state
    return str(Quantity(reading.value, reading.unit))


def _ending(site: Site, procedure: Procedure, state: State) -> EndingView:
    body: Mapping[str, Any] = state.ending or {}
    if state.withdrawn:
        body = _struck_through(body)
    reasons = tuple(reason_view(procedure, row) for row in body["reasons"])
    until = _moment(body["ready_until"])
    zone = zone_of(state.facts.settings.get("zone", "Etc/UTC"))
    own = dict.fromkeys(each.do for each in reasons)
    # What a reason says itself is nearer than the general words, which would only repeat it or speak against it.
    special = [do for do in own if do != SHELF]
    steps_to_take = special or list(own) or list(WHAT_NOW.get(body["ending"], ()))
    labels = {source.id: source.label for source in state.facts.sources}
    out = tuple(labels.get(each, each[:8]) for each in state.out)
    off = [f"Take tag {tag} off it." for tag in _tags_done_with(site, state)] if body["ending"] == "fit for use" else []
    do = (*off, *steps_to_take, *(f"Put source {label} back into its store and scan it there." for label in out))
    return EndingView(
        ending=body["ending"],
        reasons=reasons,
        missing=tuple(body["missing"]),
        fit_for=tuple(body["fit_for"].get("measures", ())),
        not_for=tuple(body["fit_for"].get("not_for", ())),
        scales=tuple(body["fit_for"].get("scales", {}).items()),
        until=until,
        until_local=f"{until.astimezone(zone):%H:%M on %d %b %Y}{_why_until(body)}" if until else "",
        factor=body["factor"] or "",
        warnings=tuple(dict.fromkeys(body["warnings"])),
        tell=tuple(body.get("tell", ())),
        do=do,
        tag=body["tag"] or "",
        doubt=_in_doubt(site, state),
        sources_out=out,
        findings=tuple(finding_view(procedure, state, made) for made in state.made),
        withdrawn=state.withdrawn,
        suspects=_suspects(site, state) if body["ending"] == "locked out" else (),
        exchanged="" if state.withdrawn else exchange_age(site),
    )


def _tags_done_with(site: Site, state: State) -> tuple[str, ...]:
    """The tags of the lockouts that this checkout has closed: an instrument that is fit hangs under none."""
    lockouts = site.journal.instrument_now(state.instrument).lockouts
    standing = {each.tag for each in lockouts if each.status != "closed"}
    closed = (each.tag for each in lockouts if each.closed_by == state.checkout)
    return tuple(dict.fromkeys(tag for tag in closed if tag and tag not in standing))


def _suspects(site: Site, state: State) -> tuple[str, ...]:
    return source_watch.suspects_of(site, site.journal.instrument_now(state.instrument))


def _why_until(body: Mapping[str, Any]) -> str:
    """What ends it then, in words."""
    why = body.get("ready_until_why")
    return f": {why}" if why else ""


def _struck_through(body: Mapping[str, Any]) -> Mapping[str, Any]:
    """An ending as a withdrawn checkout has it: a failure in it stands, and nothing of a pass goes into the field."""
    if body["ending"] != "fit for use":
        return body
    return {**body, **not_checked_after_all(()), "ending": "abandoned"}


def _in_doubt(site: Site, state: State) -> int:
    if not state.track.ever_failed and all(
        made.finding.as_found is None or made.finding.as_found.outcome != "fail" for made in state.made
    ):
        return 0
    uses = {
        use.hash
        for doubt in site.journal.uses_in_doubt(state.instrument)
        if doubt.cause.body.get("checkout") == state.checkout
        for use in doubt.uses
    }
    return len(uses)


def reason_view(procedure: Procedure, row: Mapping[str, Any]) -> ReasonView:
    """A reason of an `ended` event, with what to do with the instrument now."""
    known = reason(row["code"], procedure.reasons)
    say = row.get("say") or known.say
    return ReasonView(row["code"], say, known.do, procedure.titles.get(row.get("step", ""), ""))


def _moment(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text).astimezone(UTC)
