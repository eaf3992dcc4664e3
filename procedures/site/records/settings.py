"""The settings of a site as a sheet: what each is, what it does, and whose rule it is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from procedures.sheets import Column, Deed, Grid, Lines, Row, Sheet
from procedures.site import people
from procedures.site.opening import DEFAULTS
from procedures.site.settings import GROUPS, SETTINGS, Setting

if TYPE_CHECKING:
    from procedures.site.opening import Site

_COLUMNS = (Column("setting", least=20), Column("is", least=13), Column("", least=20))


def settings(site: Site, about: str, person: str) -> Sheet:
    """Every setting, in its group, as it stands; those that differ from the program's own say so."""
    del about
    now = site.settings()
    may_not = people.may(site, person, "set up") if person else ""
    groups = tuple(
        Grid(
            _COLUMNS, tuple(_row(each, now[each.key], may_not) for each in SETTINGS if each.group == group), title=group
        )
        for group in GROUPS
    )
    return Sheet(
        "settings",
        f"Settings of {now['name']}",
        (
            Lines(
                (
                    "Figures are your site's rules: its licence, local law and its own program go first.",
                    "Open a row to change that setting.",
                )
            ),
            *groups,
        ),
        deeds=(Deed("Go through all settings, page by page", "form", "settings", may_not=may_not),),
    )


def _row(setting: Setting, value: str, may_not: str) -> Row:
    usual = DEFAULTS.get(setting.key, value)
    differs = f"Unless changed: {_words(setting, usual)}." if usual != value else ""
    more = " ".join(each for each in (setting.more, differs) if each)
    opens = Deed(f"Change: {setting.say}", "form", "settings", setting.key, may_not)
    return Row((setting.say, _words(setting, value), more), opens, key=setting.key)


def _words(setting: Setting, value: str) -> str:
    shown = next((option.say for option in setting.options if option.value == value), value) or "nothing"
    return f"{shown} {setting.unit}" if setting.unit and value else shown
