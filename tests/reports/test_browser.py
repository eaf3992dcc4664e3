"""Reports in a browser: what comes out of the printer, and that nothing is fetched or run.

They need a Chromium (`chromium`, `chromium-browser`, `google-chrome` on the path, or CHECKLIST_BROWSER) and are skipped
without one.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest
from headless import Browser, Pages, find
from report_samples import PLOT, SHEET, circumstances

from procedures.reports import html, style
from procedures.sheets import Column, Grid, Lines, Listing, Row, Section, Sheet

PAPERS = {"A4": (595, 842), "letter": (612, 792)}
"""In points: 210 mm by 297 mm (ISO 216; memory), 8.5 by 11 inches."""


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Browser:
    found = find()
    if not found:
        pytest.skip("no Chromium on this computer (set CHECKLIST_BROWSER, or put one on the path)")
    return Browser(found, tmp_path_factory.mktemp("browser"))


def on(paper: str, document: str) -> str:
    """The document as if somebody had chosen this paper in the printer's dialog."""
    (sheet,) = re.findall(r"<style>(.*?)</style>", document, re.DOTALL)
    chosen = f"{sheet}@page {{ size: {paper}; }}"
    before, after = (html.html_text(style.policy(each)) for each in (sheet, chosen))
    assert before in document
    return document.replace(before, after).replace(sheet, chosen)


@pytest.mark.parametrize("paper", PAPERS)
def test_a_sheet_with_two_breaks_prints_three_pages_each_of_which_says_what_it_is(browser: Browser, paper: str) -> None:
    """Breaks, page numbers, title and marking, on either paper; so the style sheet counts under the policy."""
    pages = browser.print(on(paper, html.page(SHEET, circumstances(marking="demo"))))
    assert [tuple(map(round, size)) for size in pages.sizes] == [PAPERS[paper]] * 3
    assert pages.of("How it stands") == [0]
    assert pages.of("Readings") == [1]
    assert pages.of(PLOT.title) == [2]
    for number, texts in enumerate(pages.texts, 1):
        assert "DEMO: nothing here is real" in texts
        assert "DEMO" in texts
        foot = " ".join(texts)
        assert "C-101: an invented chamber, Test site, 2026-06-01 08:30" in foot
        assert f"{number} of 3" in foot
    assert pages.of(f"station-a:17:{'0123456789abcdef' * 4}") == [2]


def _long() -> Sheet:
    """Headings and heads of tables at every height of a page, and a table of rows of several lines."""
    short: list[Section] = []
    for number in range(60):
        lines = tuple(f"line {line} of {number}" for line in range(1 + number % 7))
        small = tuple(Row((f"top {number}" if row == 0 else "more", "x", "y")) for row in range(1 + number % 3))
        short += [Lines(lines, f"heading {number}"), Grid((Column("a"), Column("b")), small, f"table {number}")]
    rows = tuple(
        Row((f"row {number}", f"begins {number} {'and goes on ' * (4 + number % 9)}", f"{'also here ' * 5}"))
        for number in range(90)
    )
    return Sheet("x", "Long", (*short, Grid((Column("which"), Column("what"), Column("more")), rows, "Rows")))


@pytest.fixture(scope="module")
def pages(browser: Browser) -> Pages:
    return browser.print(on("A4", html.page(_long(), circumstances())))


def test_a_heading_stays_with_what_follows(pages: Pages) -> None:
    """None stands alone at the foot of a page, that of a table neither."""
    assert len(pages) > 5
    for number in range(60):
        assert pages.of(f"heading {number}") == pages.of(f"line 0 of {number}") != []
        assert pages.of(f"table {number}") == pages.of(f"top {number}") != []
    assert pages.of("Rows") == pages.of("row 0")


def test_the_head_of_a_table_stands_on_each_of_its_pages(pages: Pages) -> None:
    """Figures without their heading are read wrongly."""
    with_rows = [number for number, texts in enumerate(pages.texts) if any(re.fullmatch(r"row \d+", t) for t in texts)]
    assert len(with_rows) > 2
    assert pages.of("which") == pages.of("what") == with_rows


def test_a_row_is_never_split(pages: Pages) -> None:
    """All lines of all its cells stand on one page."""
    wanted = {number: 4 + number % 9 for number in range(90)}
    found: dict[int, int] = {}
    for texts in pages.texts:
        begun = [int(text.split()[1]) for text in texts if re.fullmatch(r"row \d+", text)]
        said = " ".join(" ".join(texts).split())
        for number in begun:
            cell = re.search(rf"begins {number} ((and goes on ?)+)", said)
            assert cell
            found[number] = cell[1].count("and goes on")
    assert found == wanted


def test_a_wide_listing_is_printed_across(browser: Browser) -> None:
    """The paper is turned; which paper is the printer's affair."""
    columns = tuple(Column(f"column {number}", least=14) for number in range(9))
    listing = Listing("x", "Wide", columns, (), 90)
    rows = [Row(tuple(f"{row} in {column}" for column in range(9))) for row in range(90)]
    pages = browser.print("".join(html.listing_pieces(listing, rows, circumstances())))
    assert all(width > height for width, height in pages.sizes)
    for row in range(90):
        assert len({*pages.of(f"{row} in 0"), *pages.of(f"{row} in 8")}) == 1


def test_the_plot_is_there_with_its_dots(browser: Browser) -> None:
    """As the browser understood the document, not as it was written."""
    dom = browser.dom(html.page(SHEET, circumstances()))
    assert dom.count("<svg ") == 1
    assert len(re.findall(r'<circle class="dot[ "]', dom)) == len(PLOT.dots)
    assert len(re.findall(r'<line class="level ', dom)) == len(PLOT.lines)


class _Calls(BaseHTTPRequestHandler):
    """Notes whatever is asked for."""

    asked: list[str]

    def do_GET(self) -> None:
        self.asked.append(self.path)
        self.send_response(200)
        self.end_headers()

    def log_message(self, *_said: object) -> None:
        """Nothing on standard error."""


@pytest.fixture
def listening() -> Iterator[tuple[int, list[str]]]:
    """A server on this computer alone, and what it was asked for."""
    asked: list[str] = []
    server = ThreadingHTTPServer(("127.0.0.1", 0), type("Calls", (_Calls,), {"asked": asked}))
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield server.server_port, asked
    server.shutdown()
    thread.join()
    server.server_close()


def test_even_smuggled_markup_fetches_and_runs_nothing(browser: Browser, listening: tuple[int, list[str]]) -> None:
    """Were some text not escaped, the policy still holds. Without it the same document does call: the test can fail."""
    port, asked = listening
    at = f"http://127.0.0.1:{port}"
    smuggled = (
        f'<img src="{at}/img"><link rel="stylesheet" href="{at}/css"><script src="{at}/js"></script>'
        f'<style>@import url("{at}/import");</style><iframe src="{at}/frame"></iframe>'
        f'<svg><image href="{at}/svg" width="9" height="9"></image></svg><script>document.body.id = "ran"</script>'
        f'<p style="background: url({at}/style)" onclick="x()">x</p><object data="{at}/object"></object>'
    )
    document = html.page(SHEET, circumstances()).replace("</main>", f"{smuggled}</main>")
    dom = browser.dom(document, reaches="127.0.0.1")
    assert asked == []
    assert 'id="ran"' not in dom
    open_to_all = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", document)
    assert 'id="ran"' in browser.dom(open_to_all, reaches="127.0.0.1")
    assert {"/img", "/css", "/js"} <= set(asked)


def test_hostile_text_is_shown_as_it_is(browser: Browser) -> None:
    """What a browser makes of it, not only what a parser does: tags, entities, halves of tags."""
    hostile = (
        "<script>document.title='x'</script>",
        "&lt;b&gt; &amp;amp;",
        "</p></main><h1>",
        "]]><!-- -->",
        "a\tb  c",
    )
    dom = browser.dom(html.page(Sheet("x", "x", (Lines(hostile),)), circumstances()))
    main = dom.split("<main>")[1].split("</main>")[0]
    shown = re.findall(r"<p>(.*?)</p>", main, re.DOTALL)
    assert [re.sub("&lt;", "<", re.sub("&gt;", ">", line)).replace("&amp;", "&") for line in shown] == list(hostile)
