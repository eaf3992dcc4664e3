"""The closed list of what can be set at a site: words, what is allowed, and whose rule each figure is.

What a setting is when nobody has said anything stands in `opening.DEFAULTS`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

from procedures.asks import Option

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
        "badge_is_enough",
        "a badge or initials are enough to run a checkout",
        "choice",
        "who may do what",
        _YES_NO,
        more="No: whoever begins a checkout or takes one over gives their PIN, where PINs are asked for.",
        then="Where a badge is not enough, whoever has no PIN on this laptop begins no checkout on it.",
        policy=True,
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
