"""Names, labels and texts that people and files supply are shown as they are: never markup, never a crash."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from screen_text import screen_text

from checklist_tui.app import ChecklistApp
from procedures.asks import Ask
from procedures.trouble import Trouble

NASTY = ("[/]", "[x/]", "[@click=x]", "$a\\[b]")


def _nasty_asks(prefix: str) -> Any:
    from fake_asks import every_ask

    def asks(label: str) -> tuple[tuple[str, Ask], ...]:
        made = []
        for title, ask in every_ask(label):
            words: dict[str, Any] = {"say": f"{prefix}{ask.say}", "more": f"{prefix}more", "caution": f"{prefix}mind"}
            words["notice"] = f"{prefix}again"
            for name in ("meanwhile", "done", "absent"):
                if hasattr(ask, name):
                    words[name] = f"{prefix}{name}"
            if hasattr(ask, "options"):
                words["options"] = tuple(replace(each, say=f"{prefix}{each.say}") for each in ask.options)
            if hasattr(ask, "places"):
                words["places"] = tuple(f"{prefix}{each}" for each in ask.places)
            if hasattr(ask, "selectors"):
                words["selectors"] = tuple(
                    replace(s, name=f"{prefix}{s.name}", unit=f"{prefix}u") for s in ask.selectors
                )
            made.append((f"{prefix}{title}", replace(ask, **words)))
        return tuple(made)

    return asks


@pytest.mark.parametrize("prefix", NASTY)
async def test_names_are_shown_as_they_are(tmp_path: Any, prefix: str, press: Any) -> None:
    """Home, every ask, trouble, calls, help, menu and endings stand with such a name in every field."""
    from fake_site import FakeSite

    site = FakeSite(tmp_path, prefix=prefix, asks=_nasty_asks(prefix))
    site.rows[1] = replace(site.rows[1], fitness="needs check", until=None)
    app = ChecklistApp(site)
    async with app.run_test(size=(120, 40), notifications=True) as pilot:
        await pilot.pause()
        seen = screen_text(app)
        assert f"{prefix}North Site" in seen
        assert f"{prefix}C-101" in seen
        app.person = site.people["p1"]
        for instrument in ("i1", "i2"):
            app.begin_checkout(instrument)
            await pilot.pause()
        run = site.desk.runs["checkout-i2"]
        for at, (_, ask) in enumerate(_nasty_asks(prefix)(run.label)):
            run.at, run.begun, run.notice = at, None, f"{prefix}notice"
            app.lookout.take(site.desk.view("checkout-i2"))
            app.look_at_waits()
            await pilot.pause()
            seen = screen_text(app)
            assert ask.say in seen
            assert f"{prefix}mind" in seen
            assert f"{prefix}Ada" in seen
        app.show_trouble(Trouble(f"{prefix}what", allowed=f"{prefix}allowed", do=f"{prefix}do"))
        await press(pilot, "f5")
        assert f"{prefix}C-101"[:13] in screen_text(app)
        await press(pilot, "escape", "f7")
        assert f"{prefix}dropped" in screen_text(app)
        await press(pilot, "escape")
        site.desk._end(run, "locked out", f"{prefix}why")
        app.lookout.take(site.desk.view("checkout-i2"))
        app.look_at_waits()
        await pilot.pause()
        await pilot.pause()
        assert f"{prefix}why" in screen_text(app)
