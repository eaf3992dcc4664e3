"""Documents for people: what stands in a sheet stands in them, as text, and nothing in them reaches outside."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterator
from html.parser import HTMLParser

import pytest
from hypothesis import given
from report_samples import HEAD, LISTING, LONG, SHEET, circumstances, grids, sheets, texts, words

from procedures.reports import html, svg
from procedures.reports.text import css_text, shown
from procedures.sheets import Column, Grid, Lines, Listing, Pairs, Row, Sheet

READ = frozenset({"h1", "h2", "p", "th", "td", "li"})
TAGS = READ | {
    *("html", "head", "meta", "title", "style", "body", "header", "main", "footer", "section", "div", "span", "code"),
    *("table", "caption", "thead", "tbody", "tr", "ul"),
    *("svg", "desc", "rect", "line", "text", "polyline", "circle"),
}
ATTRIBUTES = {
    *("lang", "charset", "http-equiv", "content", "name", "class", "scope", "colspan", "id"),
    *("role", "aria-label", "aria-hidden", "aria-labelledby"),
    *("viewbox", "x", "y", "x1", "x2", "y1", "y2", "cx", "cy", "r", "points", "width", "height"),
    *("fill", "stroke", "stroke-width", "stroke-dasharray", "text-anchor", "paint-order"),
}


class Document(HTMLParser):
    """What a reader of HTML finds: elements, and the text of those that are read, outside the foot of the document."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.signs = 0
        self.found: list[tuple[str, str]] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.raw = ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag == "meta":
            return
        self.open.append("sign" if dict(attrs).get("class") == "sign" else tag)
        if tag in READ:
            self.found.append((tag, ""))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() in (tag, "sign"), "elements are nested as they are closed"

    def handle_data(self, data: str) -> None:
        if "style" in self.open:
            self.raw += data
        elif "sign" in self.open:
            self.signs += 1
        elif READ & set(self.open):
            tag, text = self.found[-1]
            self.found[-1] = (tag, text + data)

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.elements if name == tag]


def expected(sheet: Sheet) -> Iterator[tuple[str, str]]:
    """What has to be read in the document of a sheet, from its title to the foot."""
    yield "h1", sheet.title
    if sheet.line:
        yield "p", sheet.line
    for section in sheet.sections:
        match section:
            case Lines():
                yield from [("h2", section.title)] if section.title else []
                yield from (("p", line) for line in section.lines)
            case Pairs():
                yield from [("h2", section.title)] if section.title else []
                for name, value in section.rows:
                    yield from (("th", name), ("td", value))
            case Grid():
                yield from [("h2", section.title)] if section.title else []
                yield from (("th", column.heading) for column in section.columns)
                for row in section.rows:
                    yield from (("td" if number else "th", cell) for number, cell in enumerate(row.cells))
                yield from [] if section.rows else [("td", section.empty)]
            case _:
                yield from (("h2", section.title), ("p", svg.told(section)))
                yield from (("li", line) for line in svg.legend(section))
                yield from (("p", note) for note in section.notes)


def read(document: str) -> list[tuple[str, str]]:
    found = Document(document).found
    return found[: next(place for place, (_, text) in enumerate(found) if text.startswith("Site Test site, station"))]


@given(sheets(words))
def test_every_text_of_a_sheet_is_read_back_as_it_was(sheet: Sheet) -> None:
    """Ampersands, quotation marks, tags, any script: a record says what was recorded."""
    assert read(html.page(sheet, circumstances())) == list(expected(sheet))


@given(sheets(texts))
def test_text_that_cannot_be_seen_is_made_visible_and_nothing_else_changes(sheet: Sheet) -> None:
    """Control characters and turned writing could make a report show another thing than what is recorded."""
    assert read(html.page(sheet, circumstances())) == [(tag, shown(text)) for tag, text in expected(sheet)]


@given(sheets(texts))
def test_no_text_becomes_an_element_or_an_attribute(sheet: Sheet) -> None:
    """Whatever stands in a record, the document has only the elements and attributes that this program writes."""
    document = Document(html.page(sheet, circumstances(site="</title><b onclick=x>", marking="demo")))
    assert {tag for tag, _ in document.elements} <= TAGS
    assert {name for _, attributes in document.elements for name in attributes} <= ATTRIBUTES
    assert document.open == []


@pytest.mark.parametrize("marking", ["real", "demo", "practice"])
def test_a_document_has_nothing_that_could_be_fetched_or_run(marking: str) -> None:
    """No address, no script, no import: looked for in the text itself, not in what a parser makes of it."""
    text = html.page(SHEET, circumstances(marking=marking)).lower()
    text = text.replace("http-equiv", "").replace(re.findall(r"sha256-[a-z0-9+/=]+", text)[0], "")
    for forbidden in ("http", "//", "script", "@import", "url(", "href", "src=", "<link", "<img", "<iframe", "style="):
        assert forbidden not in text


@given(sheets(texts), texts)
def test_the_policy_allows_this_style_sheet_and_nothing_else(sheet: Sheet, site: str) -> None:
    """The hash is that of the very text between the tags (CSP Level 3, W3C, `sha256-` source; memory)."""
    document = Document(html.page(sheet, circumstances(site=site)))
    (policy,) = [
        each["content"] for each in document.all("meta") if each.get("http-equiv") == "Content-Security-Policy"
    ]
    made = base64.b64encode(hashlib.sha256(document.raw.encode()).digest()).decode()
    assert policy == f"default-src 'none'; style-src 'sha256-{made}'; base-uri 'none'; form-action 'none'"


@given(texts)
def test_text_in_the_style_sheet_ends_no_string(text: str) -> None:
    """A title stands in the margin of each page. CSS Syntax Level 3 (W3C; memory): a backslash, up to six hexadecimal
    figures, one blank that belongs to them."""
    made = css_text(text)
    assert re.fullmatch(r"([A-Za-z0-9 ]|\\[0-9a-f]{1,6} )*", made)
    back = re.sub(r"\\([0-9a-f]{1,6}) ", lambda found: chr(int(found[1], 16)), made)
    assert back == shown(text)


@given(grids(words))
def test_tables_say_what_their_heads_are_heads_of(grid: Grid) -> None:
    """Whoever hears a table hears the heading with each cell: every th has its scope, every table its caption."""
    document = Document(html.page(Sheet("x", "x", (grid,)), circumstances()))
    scopes = [each["scope"] for each in document.all("th")]
    assert scopes == ["col"] * len(grid.columns) + ["row"] * len(grid.rows)
    assert len(document.all("caption")) == (1 if grid.title else 0)


def test_a_tone_is_a_sign_with_a_name_and_no_mere_colour() -> None:
    """On a black and white print, and read aloud, what is bad still is."""
    for tone, (sign, word) in html.SIGNS.items():
        sheet = Sheet("x", "x", (Lines(("A", "B"), tone=tone), Grid((Column("c"),), (Row(("C",), tone=tone),))))
        text = html.page(sheet, circumstances())
        assert text.count(f'<span class="sign" role="img" aria-label="{word}">{sign}</span>') == 3


def test_a_break_begins_a_page_and_none_before_the_first_section() -> None:
    """A break at 0 would leave the title alone on a page; one beyond the end says nothing."""
    lines = Lines(("A",))
    text = html.page(Sheet("x", "x", (lines,) * 4, breaks=(0, 2, 9)), circumstances())
    sections = [each.get("class") for each in Document(text).all("section")]
    assert sections == [None, None, "new-page", None]


def test_the_foot_says_where_when_and_which_head() -> None:
    """Local time, zone and offset; the head in the form that `verify --head` takes."""
    text = html.page(SHEET, circumstances(zone="Asia/Kolkata"))
    assert "Site Test site, station first laptop (station-a). Made 2026-06-01 08:30, Asia/Kolkata, UTC+02:00." in text
    assert f'<code class="head">station-a:17:{HEAD.hash}</code>' in text
    assert "checklist-tui verify --head STATION:SEQ:HASH" in text


@pytest.mark.parametrize(("marking", "word"), [("demo", "DEMO"), ("practice", "PRACTICE"), ("other", "NOT REAL")])
def test_what_is_not_real_says_so_in_the_head_and_on_every_page(marking: str, word: str) -> None:
    """Large at the top, in the margin of every page, and across it; and a marking not known here is not real either."""
    document = Document(html.page(SHEET, circumstances(marking=marking)))
    assert document.found[0][0] == "p"
    assert document.found[0][1].startswith(word)
    assert re.search(rf'@top-center {{ content: "{word}', document.raw)
    assert "watermark" in [each.get("class") for each in document.all("div")]


def test_real_records_carry_no_marking() -> None:
    """Its absence is what real looks like."""
    text = html.page(SHEET, circumstances())
    assert '<p class="marking">' not in text
    assert "@top-center" not in text
    assert '<div class="watermark"' not in text


def test_a_listing_is_one_table_of_all_its_rows_and_says_what_it_leaves_out() -> None:
    """A narrowed list that does not say so passes for the whole one."""
    text = "".join(html.listing_pieces(LISTING, iter(LONG.rows), circumstances(), ["Only ending: locked out."]))
    document = Document(text)
    assert len(document.all("tr")) == 1 + len(LONG.rows)
    assert ("p", "Only ending: locked out.") in document.found
    empty = "".join(html.listing_pieces(LISTING, (), circumstances()))
    assert ("td", LISTING.empty) in Document(empty).found


def test_a_listing_of_many_columns_turns_the_paper() -> None:
    """Whatever its size: no size is named."""
    many = Listing("x", "x", tuple(Column(f"column {number}", least=14) for number in range(9)), (), 0)
    assert "size: landscape;" in "".join(html.listing_pieces(many, (), circumstances()))
    assert "size:" not in re.sub("font-size|box-sizing", "", html.page(SHEET, circumstances()))


def test_a_row_with_too_few_cells_fills_up() -> None:
    """Cells must not move under other headings."""
    sheet = Sheet("x", "x", (Grid((Column("a"), Column("b")), (Row(("1",)),)),))
    assert read(html.page(sheet, circumstances()))[-2:] == [("th", "1"), ("td", "")]
