"""The site's settings: how each answer is read, the one call that changes them, and what a change does.

A setting changes what happens from now on; what is recorded stays as it was judged then.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from difflib import get_close_matches
from typing import Any

from procedures.answers import clean_line
from procedures.readiness import end_of_day, zone_of
from procedures.reasons import KNOWN
from procedures.site import rights, secrets_file
from procedures.site.entries import words
from procedures.site.lookups import roles
from procedures.site.opening import Site
from procedures.site.setting_list import GROUPS, KEYS, SETTINGS, Setting
from procedures.trouble import Trouble
from procedures.units import shown

__all__ = [
    "GROUPS",
    "KEYS",
    "SETTINGS",
    "BadSettings",
    "Setting",
    "allowed",
    "as_text",
    "change",
    "consequences",
    "known_codes",
    "read",
]


class BadSettings(Trouble):
    """Settings of which none was changed, with everything that is wrong, by key."""

    def __init__(self, troubles: Mapping[str, Trouble]) -> None:
        self.troubles = dict(troubles)
        key, first = next(iter(self.troubles.items()))
        one = len(self.troubles) == 1
        super().__init__(
            first.what if one else f"{len(self.troubles)} settings cannot be so",
            where=_say(key) if one else "",
            allowed=first.allowed if one else "",
            do=first.do if one else "Put right what is listed. Nothing was changed.",
        )

    def lines(self) -> tuple[str, ...]:
        if len(self.troubles) == 1:
            return super().lines()
        each = [f"{_say(key)}: {one.what}. Allowed: {one.allowed}" for key, one in self.troubles.items()]
        return (self.what, *each, f"Do: {self.do}")


def _say(key: str) -> str:
    return KEYS[key].say if key in KEYS else key[:40]


# --- reading -------------------------------------------------------------------------------------------------------


def allowed(setting: Setting) -> str:
    """What may be entered, in words."""
    if setting.kind == "choice":
        return ", ".join(option.value for option in setting.options)
    if setting.kind == "whole":
        return f"a whole number from {setting.low} to {setting.high} ({setting.unit})"
    return {
        "codes": "reason codes, apart by commas, or nothing",
        "text": f"{1 if setting.needed else 0} to 300 characters",
        "zone": "a name of the tz database, such as Etc/UTC",
        "time": "a time of day such as 06:00",
        "times": "one time of day or more, such as 06:00 14:00 22:00",
    }[setting.kind]


def read(site: Site, texts: Mapping[str, str]) -> tuple[dict[str, Any], dict[str, Trouble]]:
    """What of these texts would change, as it is recorded, and what is wrong with the others, each by its key."""
    now = site.settings()
    made: dict[str, Any] = {}
    troubles: dict[str, Trouble] = {}
    for key, text in texts.items():
        try:
            if key not in KEYS:
                raise Trouble(
                    f"there is no setting {shown(key)}", allowed=", ".join(KEYS), do="Choose one of these settings."
                )
            value = _read(site, KEYS[key], str(text), now[key])
        except Trouble as trouble:
            troubles[key] = trouble
            continue
        if as_text(value) != now[key]:
            made[key] = value
    return made, troubles


def as_text(value: Any) -> str:
    """A value of a setting as `Site.settings` gives it."""
    return " ".join(value) if isinstance(value, list) else str(value)


def _read(site: Site, setting: Setting, text: str, now: str) -> Any:
    line = clean_line(text)
    if line == now:
        return now.split() if setting.kind == "times" else now
    match setting.kind:
        case "choice":
            return _chosen(setting, line)
        case "whole":
            return _whole(setting, line)
        case "codes":
            return _codes(site, line, now)
        case "text":
            return words(setting.say, line, needed=setting.needed)
    from procedures.site import beginning

    try:
        if setting.kind == "zone":
            return beginning.zone_named(line)
        return list(beginning.shifts_named(line)) if setting.kind == "times" else beginning.time_named(line)
    except Trouble as trouble:
        raise Trouble(
            trouble.what, allowed=trouble.allowed or allowed(setting), do=trouble.do or "Enter it again."
        ) from None


def _chosen(setting: Setting, line: str) -> str:
    for option in setting.options:
        if line.casefold() in (option.value.casefold(), option.say.casefold()):
            return option.value
    raise Trouble(f"{shown(line)} is not one of the choices", allowed=allowed(setting), do="Choose one.")


def _whole(setting: Setting, line: str) -> str:
    line = line.removesuffix(setting.unit).rstrip()
    # At most six digits: a longer one is no interval, and int() of thousands of digits is refused by Python.
    if line.isascii() and line.isdigit() and len(line) <= 6 and setting.low <= int(line) <= setting.high:
        return str(int(line))
    raise Trouble(
        f"{shown(line)} cannot be" if line else "a number is missing", allowed=allowed(setting), do="Enter it again."
    )


def _codes(site: Site, line: str, now: str) -> str:
    """Reason codes as they are kept. A code that no instrument can be locked out for would guard nothing, silently."""
    wanted = list(dict.fromkeys(code for part in line.split(",") if (code := part.strip())))
    known = [*known_codes(site), *(part.strip() for part in now.split(","))]
    unknown = [code for code in wanted if code not in known]
    if unknown:
        near = get_close_matches(unknown[0][:80], known, n=1)
        raise Trouble(
            f"{', '.join(shown(code) for code in unknown[:5])}: nothing here is locked out for that",
            allowed=", ".join(known_codes(site)),
            do=f"Did you mean {near[0]}?" if near else "Name reason codes, or leave it empty.",
        )
    return ", ".join(wanted)


def known_codes(site: Site) -> tuple[str, ...]:
    """Every reason code that an instrument of this site can be locked out for, by name."""
    from procedures.site import profiles

    found = set(KNOWN)
    for row in site.journal.profiles(limit=-1):
        if row.adoption is not None:
            procedure = profiles.procedure_for(site, row.profile)
            found |= {*procedure.reasons, *(step.lockout for step in procedure.plan.steps if step.lockout)}
    return tuple(sorted(found))


# --- changing ------------------------------------------------------------------------------------------------------


def change(site: Site, person: str, pin: str | None, texts: Mapping[str, str]) -> tuple[str, ...]:
    """Change settings, each given as text by its key; the keys that changed come back. One record holds them all.

    `pin` is that of `person`, who has to be entitled to set up the site. Raises BadSettings with everything that is
    wrong in any of them, and then changes none; raises Trouble when nothing would change.
    """
    rights.entitled(site, person, "set up")
    made, troubles = read(site, texts)
    if troubles:
        raise BadSettings(troubles)
    if not made:
        raise Trouble(
            "every setting stands like this already", allowed="at least one that is different", do="Nothing is needed."
        )
    rights.confirm(site, person, pin)
    site.record("settings-changed", {"set": made}, about=("site",), person=person)
    return tuple(made)


def consequences(site: Site, changes: Mapping[str, Any]) -> tuple[str, ...]:
    """What these changes do to what is there already, in sentences."""
    said = []
    if "zone" in changes:
        said.append(_other_midnight(site, str(changes["zone"])))
    if not {"day_starts", "shifts", "ready_ends", "zone"}.isdisjoint(changes):
        said.append("A check that was passed already keeps the end it has; the next ones end by the new times.")
    if not {"day_starts", "shifts"}.isdisjoint(changes):
        said.append("Due dates stay as they are: they end at midnight, whenever the day or a shift starts.")
    if changes.get("pins") == "on":
        said.append("From now on whoever changes or clears something gives their PIN.")
        if not any("lead" in roles(site, each) for each in secrets_file.read(site)):
            said.append("No lead has a PIN on this laptop yet: set a lead's first, at once.")
    if changes.get("pins") == "off":
        said.append("From now on anybody can clear or set up under the name of any lead: nobody proves who they are.")
    said += [KEYS[key].then for key in changes if KEYS[key].then]
    return tuple(dict.fromkeys(said))


def _other_midnight(site: Site, zone: str) -> str:
    old = zone_of(site.settings()["zone"])
    today = site.clock.now().utc.astimezone(old).date()
    before, after = end_of_day(today, old), end_of_day(today, zone_of(zone))
    if before == after:
        return "Due dates end at the same moment as before today; on other days it may differ."
    hours = abs((after - before).total_seconds()) / 3600
    return (
        f"Due dates end at midnight of the new zone: what is due on {today} ends {hours:g} h "
        f"{'later' if after > before else 'earlier'} than before ({_utc(after)} instead of {_utc(before)})."
    )


def _utc(moment: datetime) -> str:
    return f"{moment:%Y-%m-%d %H:%M} UTC"
