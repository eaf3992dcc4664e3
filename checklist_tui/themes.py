"""Two themes of our own, light and dark, in which every text stands out from its ground by at least 7 to 1.

(Contrast as in WCAG 2.1, success criterion 1.4.6.) Good and bad differ in lightness as well as in hue, for eyes that
do not tell red from green.
"""

from __future__ import annotations

from typing import Final

from textual.theme import Theme

_VARIABLES: Final = {"block-cursor-text-style": "bold", "footer-background": "$background"}

DARK: Final = Theme(
    name="clear-dark",
    dark=True,
    background="#000000",
    surface="#000000",
    panel="#1c1c1c",
    foreground="#ffffff",
    primary="#8fd0ff",
    secondary="#c8c8c8",
    accent="#8fd0ff",
    success="#7df0a8",
    warning="#ffd75f",
    error="#ff9b8f",
    variables={
        **_VARIABLES,
        "input-cursor-background": "#ffffff",
        "input-cursor-foreground": "#000000",
        "input-selection-background": "#005f9f",
    },
)
LIGHT: Final = Theme(
    name="clear-light",
    dark=False,
    background="#ffffff",
    surface="#ffffff",
    panel="#ececec",
    foreground="#000000",
    primary="#00457c",
    secondary="#333333",
    accent="#00457c",
    success="#00502a",
    warning="#5c3d00",
    error="#8c0000",
    variables={
        **_VARIABLES,
        "input-cursor-background": "#000000",
        "input-cursor-foreground": "#ffffff",
        "input-selection-background": "#9fcfff",
    },
)
