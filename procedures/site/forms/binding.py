"""The form that says which real source, in which jig, serves a role of an instrument's profile."""
# ruff: noqa: ARG002  what a form is asked is the same for all of them: forms.Task

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from procedures.asks import Option
from procedures.sheets import Deed, Done, Form, FormField, Look
from procedures.site import inventory, lookups
from procedures.site.entries import thing
from procedures.site.forms.common import Taken, may_open, meant, one_of, pin_field
from procedures.site.roles import roles_wanted
from procedures.site.source_trouble import source_trouble
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.states import InstrumentState
    from procedures.site.forms import Entered
    from procedures.site.opening import Site


class Bind:
    """Binds a source, and the jig it sits in, to a role."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        may_open(site, person, "register")
        thing(site, about, "instrument")
        state = site.journal.instrument_now(about)
        wanted = _wanted(site, state)
        first = next(iter(wanted))
        role = entered.get("role") or (first if len(wanted) == 1 else "")
        bound = state.bindings.get(role)
        source, jig = (_label(site, each) for each in ((bound.source, bound.jig) if bound else (None, None)))
        return Form(
            "bind",
            f"Check source of {state.fields['label']}",
            "Scan the source, then its jig.",
            (
                FormField("role", "used for", "choice", role, options=_options(wanted)),
                FormField("source", "source", "scan", entered.get("source", source)),
                FormField(
                    "jig",
                    "jig",
                    "scan",
                    entered.get("jig", jig),
                    needed=False,
                    more="Empty where the source sits in none.",
                ),
                *pin_field(site),
            ),
            about=about,
            says=(
                *(f"{name}: {'; '.join(uses)}." for name, uses in wanted.items()),
                f"The instrument measures: {', '.join(lookups.measures(site, state)) or 'not known'}.",
                "Reference readings of this very source in this very jig are needed before a check can pass.",
            ),
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        try:
            taken, _, source, _ = self._taken(site, about, entered)
        except Trouble as refused:
            return Look(troubles={"role": refused})
        lines = []
        tone = False
        if source:
            state = site.journal.source_now(source)
            fields = state.fields
            lines.append(
                f"{fields['label']}: {fields['nuclide']}, {fields['activity']}, emits {fields['emits'] or '?'}."
            )
            trouble = source_trouble(state, site.clock.now().utc, site.settings())
            tone = bool(trouble)
            lines += [f"It may not be used now: {trouble}."] if trouble else []
        return Look(tuple(lines), dict(taken.troubles), "warn" if tone else "")

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        taken, role, source, jig = self._taken(site, about, entered)
        taken.whole()
        inventory.bind_source(site, about, role, source, jig or None, person=person, pin=entered.get("pin"))
        label = site.journal.thing_now(about).fields["label"]
        return Done(
            f"{taken.text('source')} is bound to {label} for: {role}.",
            "Take its reference readings, unless they were taken with this source and jig since the calibration.",
            Deed("look at it", "sheet", "instrument", about),
        )

    def _taken(self, site: Site, about: str, entered: Entered) -> tuple[Taken, str, str, str]:
        thing(site, about, "instrument")
        wanted = _wanted(site, site.journal.instrument_now(about))
        only = {"role": next(iter(wanted))} if len(wanted) == 1 else {}
        taken = Taken({**only, **{field: text for field, text in entered.items() if text}})
        role = taken.read("role", one_of(_options(wanted)))
        source = taken.read("source", lambda text: meant(site, text, "source"))
        jig = taken.optional("jig", lambda text: meant(site, text, "jig"))
        return taken, role or "", source or "", jig or ""


def _wanted(site: Site, state: InstrumentState) -> Mapping[str, tuple[str, ...]]:
    wanted = roles_wanted(site, state)
    if not wanted:
        profile = str(state.fields.get("profile", ""))
        in_force = site.journal.profile_now(profile).in_force is not None
        raise Trouble(
            f"the profile {profile} uses no check source" if in_force else f"no revision of {profile} is in force",
            allowed="an instrument whose profile is in force and uses a check source",
            do="Nothing has to be bound." if in_force else "Adopt a profile, or choose the revision that counts.",
        )
    return wanted


def _options(wanted: Mapping[str, tuple[str, ...]]) -> tuple[Option, ...]:
    return tuple(Option(role, role) for role in wanted)


def _label(site: Site, thing_id: str | None) -> str:
    return str(site.journal.thing_now(thing_id).fields.get("label", "")) if thing_id else ""
