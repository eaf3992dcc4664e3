"""The site's settings: the closed list of what can be set, how each answer is read, and the one call that changes them.

What a setting is when nobody has said anything stands in `opening.DEFAULTS`. A setting changes what happens from now
on; what is recorded stays as it was judged then.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from difflib import get_close_matches
from typing import Any, Final, Literal

from procedures.answers import clean_line
from procedures.asks import Option
from procedures.readiness import end_of_day, zone_of
from procedures.reasons import KNOWN
from procedures.site import rights, secrets_file
from procedures.site.entries import words
from procedures.site.lookups import roles
from procedures.site.opening import Site
from procedures.trouble import Trouble
from procedures.units import shown

Kind = Literal["choice", "whole", "codes", "text", "zone", "time", "times"]
Group = Literal["the site", "who may do what", "how often", "reference readings", "handing out", "policy and records"]

GROUPS: Final[tuple[Group, ...]] = (
    "the site",
    "who may do what",
    "how often",
    "reference readings",
    "handing out",
    "policy and records",
)
"""In the order in which people are asked; each is a page of the form."""


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting. `more` says what it does; `then` what a change of it does to what is there already.

    A whole number lies from `low` to `high`, in `unit`. `policy` says that the figure is somebody's rule: of the
    licence, of local law, of the site's own program, and not the program's to know.
    """

    key: str
    say: str
    kind: Kind
    group: Group
    options: tuple[Option, ...] = ()
    low: int = 0
    high: int = 0
    unit: str = ""
    more: str = ""
    then: str = ""
    policy: bool = False
    needed: bool = True


_YES_NO: Final = (Option("yes", "yes"), Option("no", "no"))
_LATER: Final = "What is recorded already keeps its due date."

SETTINGS: Final[tuple[Setting, ...]] = (
    Setting("name", "name of the site", "text", "the site"),
    Setting("zone", "time zone", "zone", "the site", more="A name of the tz database, such as Etc/UTC."),
    Setting("day_starts", "the site's day starts at", "time", "the site", more="Local time, such as 06:00."),
    Setting("shifts", "shifts begin at", "times", "the site", more="Local times, such as 06:00 14:00 22:00."),
    Setting(
        "ready_ends",
        "a passed check counts until",
        "choice",
        "the site",
        (
            Option("shift", "the end of the shift"),
            Option("day", "the end of the site's day"),
            Option("profile", "the time that the profile says, and no earlier"),
        ),
        more="Never longer than the profile says, and never past the end of the calibration.",
    ),
    Setting(
        "pins",
        "PINs",
        "choice",
        "who may do what",
        (Option("on", "are asked for"), Option("off", "are not asked for")),
        more="Each laptop has its own.",
    ),
    Setting(
        "repairer_may_clear",
        "whoever repaired an instrument may clear it",
        "choice",
        "who may do what",
        _YES_NO,
        policy=True,
    ),
    Setting(
        "two_people_for",
        "two people clear",
        "codes",
        "who may do what",
        more="Reason codes, apart by commas.",
        policy=True,
        needed=False,
    ),
    Setting(
        "calibration_for",
        "a calibration comes before clearing",
        "codes",
        "who may do what",
        more="Reason codes, apart by commas.",
        policy=True,
        needed=False,
    ),
    Setting(
        "calibration_interval_months",
        "calibrate every",
        "whole",
        "how often",
        low=1,
        high=60,
        unit="months",
        more="12 months where 10 CFR 35.61 holds. The due date of a new calibration is offered by it.",
        then=_LATER,
        policy=True,
    ),
    Setting(
        "calibration_warning_days",
        "say that a calibration ends",
        "whole",
        "how often",
        low=0,
        high=365,
        unit="days before",
    ),
    Setting(
        "leak_test_interval_months",
        "leak-test sealed sources every",
        "whole",
        "how often",
        low=1,
        high=60,
        unit="months",
        more="6 months at most where 10 CFR 35.67 holds.",
        then=_LATER,
        policy=True,
    ),
    Setting(
        "leak_test_warning_days",
        "say that a leak test is due",
        "whole",
        "how often",
        low=0,
        high=365,
        unit="days before",
    ),
    Setting(
        "leak_test_exempt",
        "sources exempt from leak tests",
        "text",
        "how often",
        more="A note of what the site claims, and under which rule. Each source says its own.",
        policy=True,
        needed=False,
    ),
    Setting(
        "source_count_interval_months",
        "count all sources every",
        "whole",
        "how often",
        low=1,
        high=60,
        unit="months",
        more="6 months where 10 CFR 35.67 holds.",
        policy=True,
    ),
    Setting(
        "reference_within_days",
        "a reference reading is taken within",
        "whole",
        "reference readings",
        low=1,
        high=365,
        unit="days",
        more="Of a calibration or repair. Later the instrument may have drifted already.",
        policy=True,
    ),
    Setting(
        "highest_reference_age_months",
        "a reference reading counts for",
        "whole",
        "reference readings",
        low=0,
        high=120,
        unit="months",
        more="0: until the next calibration.",
        then="An instrument whose reference reading is older ends its check as not checked.",
        policy=True,
    ),
    Setting(
        "reference_cv_percent",
        "readings of a reference may scatter by",
        "whole",
        "reference readings",
        low=1,
        high=100,
        unit="%",
        more="Coefficient of variation: standard deviation over mean.",
        policy=True,
    ),
    Setting(
        "reference_change_percent",
        "a reference may differ from the one before by",
        "whole",
        "reference readings",
        low=1,
        high=100,
        unit="%",
        more="More has to be explained: decay is taken into account first.",
        policy=True,
    ),
    Setting(
        "air_reference",
        "air that readings are brought to",
        "choice",
        "reference readings",
        (Option("iaea", "20 °C and 101.325 kPa"), Option("aapm", "22 °C and 101.33 kPa")),
        then="References and readings are both brought to it: what was judged stays as it was.",
        policy=True,
    ),
    Setting(
        "back_by_hours",
        "an instrument comes back within",
        "whole",
        "handing out",
        low=1,
        high=24 * 365,
        unit="hours",
        more="Offered at a hand-out; after it the instrument is called overdue.",
        then="What is out already keeps its time.",
        policy=True,
    ),
    Setting(
        "exchange_limit_hours",
        "hand out only when records were exchanged within",
        "whole",
        "handing out",
        low=0,
        high=24 * 365,
        unit="hours",
        more="0: no limit. For sites with several laptops: another one may have locked it out.",
        policy=True,
    ),
    Setting(
        "tolerance_policy",
        "tolerance, and whose policy it is",
        "text",
        "policy and records",
        more="Such as: 20 % of the reference reading, our licence, condition 7. Profiles hold the limits themselves.",
        policy=True,
        needed=False,
    ),
    Setting(
        "units",
        "units people write in",
        "choice",
        "policy and records",
        (Option("SI", "Sv, Gy, Bq"), Option("conventional", "R, rem, rad, Ci")),
        more="Nothing is converted by it.",
    ),
    Setting(
        "retention_years",
        "records are kept at hand for",
        "whole",
        "policy and records",
        low=1,
        high=100,
        unit="years",
        more="3 years where 10 CFR 35.2061 and 35.2070 hold.",
        then="Nothing is ever deleted: the program only says what may be put into an archive.",
        policy=True,
    ),
)

KEYS: Final[Mapping[str, Setting]] = {each.key: each for each in SETTINGS}


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
