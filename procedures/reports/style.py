"""The style sheet of a report: dark on light, for a screen and for paper of any size. Nothing is fetched.

On paper: margins in millimetres, headings kept with what follows, rows whole, heads of tables on every page. What a
page is of, and that it shows no real records, stands on each: in its margins, and across it for browsers that print
nothing in margins.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable
from typing import Final

from procedures.reports.printed import Printed
from procedures.reports.text import css_text

LONGEST_FOOT: Final = 80
WIDEST_UPRIGHT: Final = 104
"""Characters that columns may want before the paper is turned: some 178 mm at 9 points."""
WIDEST_LEAST: Final = 16

_BASE: Final = """
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 1.5rem auto; max-width: 62rem; padding: 0 1rem; background: #fff; color: #111;
  font: 11pt/1.4 system-ui, sans-serif; }
header { border-bottom: 2px solid #111; margin-bottom: 1rem; }
h1 { font-size: 17pt; line-height: 1.2; margin: 0 0 .3rem; }
h2 { font-size: 12.5pt; line-height: 1.25; margin: 1.1rem 0 .3rem; }
p { margin: .25rem 0; orphans: 3; widows: 3; }
h1, h2, p, li, th, td, code { white-space: pre-wrap; }
h1, h2, p, li, code, .long { overflow-wrap: anywhere; }
.marking { border: 3px double #111; font-size: 22pt; font-weight: bold; line-height: 1.2; margin: 0 0 .6rem;
  padding: .3rem .6rem; text-align: center; }
.watermark { display: none; }
.sign { display: inline-block; font-weight: bold; min-width: 1.2em; }
.bad { border-left: 6px double #8a0f0f; padding-left: .6rem; }
.warn { border-left: 3px dashed #6a4a00; padding-left: .6rem; }
.good { border-left: 3px solid #0b4d1c; padding-left: .6rem; }
.quiet { color: #444; }
tr.bad, tr.warn, tr.good { border-left: 0; }
table { border-collapse: collapse; font-size: 9.5pt; margin: .4rem 0 1rem; width: 100%; }
caption { text-align: left; }
caption h2 { margin-top: .8rem; }
th, td { border-bottom: 1px solid #999; padding: .18rem .45rem .18rem 0; text-align: left; vertical-align: top; }
thead th { border-bottom: 2px solid #111; vertical-align: bottom; white-space: normal; }
tbody th { font-weight: normal; }
tr.bad td, tr.bad th { font-weight: bold; }
.pairs tbody th { width: 34%; }
.figures { text-align: right; padding-right: .7rem; font-variant-numeric: tabular-nums; }
.dense { font-size: 8.5pt; }
.dense td, .dense th { padding-right: .4rem; }
.sheet-tag h1 { border: 6px solid #111; font-size: 34pt; margin: .4rem 0; padding: .2rem; text-align: center; }
.sheet-tag .bad p { font-size: 15pt; font-weight: bold; line-height: 1.25; }
.sheet-paper-form td, .sheet-paper-form tbody th { padding-bottom: .45rem; padding-top: .45rem; }
svg { display: block; height: auto; max-width: 100%; }
svg text { fill: #111; font: 12px system-ui, sans-serif; }
ul { margin: .25rem 0; padding-left: 1.2rem; }
footer { border-top: 1px solid #111; font-size: 8.5pt; margin-top: 1.5rem; padding-top: .4rem; }
code { font: 8pt monospace; }
@media print {
  body { font-size: 10pt; margin: 0; max-width: none; padding: 0; }
  h1, h2, caption, thead { break-after: avoid; }
  tbody tr:first-child { break-before: avoid; }
  h1, h2, caption, tr, svg, li, header, footer { break-inside: avoid; }
  thead { display: table-header-group; }
  .new-page { break-before: page; }
  .new-page > h2:first-child { margin-top: 0; }
  .watermark { color: #e6e6e6; display: block; font-size: 90pt; font-weight: bold; left: 0; position: fixed; right: 0;
    text-align: center; top: 38%; transform: rotate(-30deg); z-index: -1; }
}
"""


def style(title: str, printed: Printed, leasts: Iterable[int] = (), *, wide: bool = False) -> str:
    """The style sheet of the report of this title.

    `leasts` are the characters that columns need at least; `wide` turns the paper, of whatever size it is.
    """
    foot = f"{title}, {printed.site}"
    foot = foot if len(foot) <= LONGEST_FOOT else f"{foot[: LONGEST_FOOT - 1]}…"
    foot = css_text(f"{foot}, {printed.made:%Y-%m-%d %H:%M}")
    rules = [
        "@page {",
        "  margin: 18mm 15mm 18mm 17mm;",
        *(["  size: landscape;"] if wide else []),
        f'  @bottom-left {{ content: "{foot}"; font-size: 8pt; width: 80%; }}',
        '  @bottom-right { content: counter(page) " of " counter(pages); font-size: 8pt; }',
    ]
    if printed.warning:
        rules.append(f'  @top-center {{ content: "{css_text(printed.warning)}"; font-size: 13pt; font-weight: bold; }}')
    rules.append("}")
    rules += [f".least-{least} {{ min-width: {least}ch; }}" for least in sorted(set(leasts))]
    return f"{_BASE}{chr(10).join(rules)}\n"


def policy(sheet: str) -> str:
    """The Content-Security-Policy of a document with this style sheet: nothing is fetched, run, sent or framed.

    Only this very style sheet counts, by its SHA-256 (Content Security Policy Level 3, W3C; memory).
    """
    made = base64.b64encode(hashlib.sha256(sheet.encode()).digest()).decode()
    return f"default-src 'none'; style-src 'sha256-{made}'; base-uri 'none'; form-action 'none'"
