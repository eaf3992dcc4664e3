"""Text of people and files as it stands in reports: what cannot be seen is made visible, and nothing is markup."""

from __future__ import annotations

import re
from html import escape
from typing import Final

_UNSEEN: Final = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]")
"""Control characters, those that turn the direction of writing, halves of characters."""


def shown(text: str) -> str:
    """`text` with every character that would act and not be seen as a replacement character; line ends as "\\n"."""
    return _UNSEEN.sub("\N{REPLACEMENT CHARACTER}", text.replace("\r\n", "\n"))


def html_text(text: str) -> str:
    """`text` as it stands between tags and in attributes."""
    return escape(shown(text))


def css_text(text: str) -> str:
    """`text` as the inside of a string in a style sheet: whatever is not a plain letter or figure is escaped."""
    return "".join(c if c.isascii() and (c.isalnum() or c == " ") else f"\\{ord(c):x} " for c in shown(text))
