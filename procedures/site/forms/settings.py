"""The form for the site's settings: one of them on one page, or a page for each group, all changed at once."""
# ruff: noqa: ARG002  what a form is asked is the same for all of them: forms.Task

from __future__ import annotations

from typing import TYPE_CHECKING

from procedures.sheets import Done, Form, FormField, Look
from procedures.site import settings
from procedures.site.forms.common import may_open, pin_field
from procedures.site.settings import GROUPS, SETTINGS, Setting
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.site.forms import Entered
    from procedures.site.opening import Site


class Settings:
    """Changes settings. What was entered on any page counts; what was not stays as it is.

    `about` is the key of the one setting to change, or "" for all of them.
    """

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        may_open(site, person, "set up")
        if about:
            return _alone(site, _named(about), entered)
        page = min(max(page, 1), len(GROUPS))
        group = GROUPS[page - 1]
        now = site.settings()
        fields = tuple(_field(each, entered.get(each.key, now[each.key])) for each in SETTINGS if each.group == group)
        last = page == len(GROUPS)
        return Form(
            "settings",
            f"Settings: {group}",
            "Change what is different.",
            (*fields, *(pin_field(site) if last else ())),
            says=(
                "Settings count from now on. What is recorded stays as it was judged then.",
                *(settings.consequences(site, settings.read(site, _texts(entered, about))[0]) if last else ()),
            ),
            page=page,
            pages=len(GROUPS),
            dangerous=_dangerous(site, entered) if last else "",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        made, troubles = settings.read(site, _texts(entered, about))
        now = site.settings()
        lines = [
            f"{settings.KEYS[key].say}: {now[key] or 'nothing'} → {settings.as_text(value) or 'nothing'}"
            for key, value in made.items()
        ]
        says = settings.consequences(site, made)
        return Look((*(lines or ["Nothing is changed."]), *says), troubles, "warn" if says else "")

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        made = settings.change(site, person, entered.get("pin"), _texts(entered, about))
        return Done(f"Changed: {', '.join(settings.KEYS[key].say for key in made)}.")


def _named(key: str) -> Setting:
    if key not in settings.KEYS:
        raise Trouble(
            f"there is no setting {key[:40]!r}", allowed=", ".join(settings.KEYS), do="Choose one of these settings."
        )
    return settings.KEYS[key]


def _alone(site: Site, setting: Setting, entered: Entered) -> Form:
    """One setting and the PIN, on one page."""
    field = _field(setting, entered.get(setting.key, site.settings()[setting.key]))
    return Form(
        "settings",
        f"Setting: {setting.say}",
        "Change it.",
        (field, *pin_field(site)),
        about=setting.key,
        says=("It counts from now on. What is recorded stays as it was judged then.",),
        dangerous=_dangerous(site, _texts(entered, setting.key)),
    )


def _texts(entered: Entered, about: str = "") -> dict[str, str]:
    """What was entered of all settings, or of the one that the form is about."""
    return {key: text for key, text in entered.items() if key in settings.KEYS and about in ("", key)}


def _field(setting: Setting, value: str) -> FormField:
    policy = "Your site's rule: ask whoever made it." if setting.policy else ""
    more = " ".join(each for each in (setting.more, policy) if each)
    if setting.kind == "choice":
        return FormField(setting.key, setting.say, "choice", value, more=more, options=setting.options)
    if setting.kind == "whole":
        more = f"{setting.low} to {setting.high}. {more}".strip()
        return FormField(setting.key, setting.say, "figure", value, more=more, unit=setting.unit)
    return FormField(setting.key, setting.say, value=value, needed=setting.needed, more=more)


def _dangerous(site: Site, entered: Entered) -> str:
    """What is asked once more: what lets anybody restore trust, and what moves every due date."""
    made, _ = settings.read(site, _texts(entered))
    grave = {key: value for key, value in made.items() if key in ("zone", "pins")}
    return " ".join(settings.consequences(site, grave))
