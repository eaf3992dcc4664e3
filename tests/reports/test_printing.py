"""Writing reports of a site: whole or not at all, never over another file, with the heads that vouch for them."""

from __future__ import annotations

import csv
import json
import re
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import pytest
from desk_walk import START, id_of, small_site
from report_samples import LISTING, SHEET

from procedures.asks import Option
from procedures.clock import ManualClock
from procedures.reports.printed import Head
from procedures.sheets import Column, Filter, Lines, Listing, Query, Row, Sheet
from procedures.site import backup, inventory, printing, printing_names, records, secrets, verification
from procedures.site.opening import Site, create_site
from procedures.trouble import Trouble

ROWS = 2 * printing.PAGE + 345


class Records(ModuleType):
    """A module of records that stands in for the real ones: one sheet, one listing of many rows."""

    def __init__(self) -> None:
        super().__init__("procedures.site.records.stand_in")
        self.asked: list[Query] = []
        self.meanwhile: Callable[[], object] = lambda: None

    def sheet(self, _site: Site, about: str, person: str) -> Sheet:
        self.meanwhile()
        return replace(SHEET, sections=(*SHEET.sections, Lines((f"about {about}, asked by {person or 'nobody'}",))))

    def listing(self, _site: Site, _about: str, _person: str, query: Query) -> Listing:
        self.meanwhile()
        self.asked.append(query)
        numbers = range(query.offset, min(ROWS, query.offset + query.limit))
        rows = tuple(Row((f"row {number}", str(number)), key=str(number)) for number in numbers)
        ending = Filter("ending", "ended", (Option("locked out", "locked out"), Option("", "any")))
        columns = (Column("what"), Column("number", figures=True))
        return replace(
            LISTING, columns=columns, rows=rows, total=ROWS, filters=(ending, Filter("from", "from the day"))
        )


@pytest.fixture
def stand_in(monkeypatch: pytest.MonkeyPatch) -> Records:
    made = Records()
    monkeypatch.setitem(sys.modules, made.__name__, made)
    monkeypatch.setitem(records.SHEETS, "instrument", "stand_in:sheet")  # type: ignore[arg-type]
    monkeypatch.setitem(records.LISTINGS, "checkouts", "stand_in:listing")  # type: ignore[arg-type]
    return made


@pytest.fixture
def site(tmp_path: Path, stand_in: Records) -> Iterator[Site]:
    assert stand_in.asked == []
    with small_site(tmp_path / "site", ManualClock(START), zone="Europe/Vienna") as made:
        yield made


def heads_in(path: Path) -> list[str]:
    return re.findall(r'<code class="head">([^<]*)</code>', path.read_text("utf-8"))


# --- heads ---------------------------------------------------------------------------------------------------------


def test_a_report_prints_the_heads_that_the_journal_has_and_verify_takes_them(site: Site) -> None:
    """What is kept on paper is what the records are held against."""
    printed = heads_in(printing.write(site, "instrument"))
    assert printed == [f"{station}:{seq}:{hashed}" for station, (seq, hashed) in site.journal.heads().items()]
    kept = [verification.read_head(each) for each in printed]
    found = verification.verify_site(site.folder, kept=kept)
    assert (found.sound, found.against) == (True, 1)


def test_the_head_on_a_report_shows_that_the_end_of_the_records_was_cut_off(site: Site, tmp_path: Path) -> None:
    """An older copy of the records, put in place of those that the report was made of."""
    older = tmp_path / "older"
    older.mkdir()
    backup.backup(site.folder, older / "site.journal")
    site.record("note", {"text": "later"}, about=[id_of(site, "C-1")])
    kept = [verification.read_head(each) for each in heads_in(printing.write(site, "instrument"))]
    assert verification.verify_site(older).sound
    assert not verification.verify_site(older, kept=kept).sound


def test_a_report_is_of_one_moment(site: Site, stand_in: Records) -> None:
    """What is recorded while it is made is in it or the heads do not say so: it is made again."""
    times = iter(range(1, 3))
    stand_in.meanwhile = lambda: site.record("note", {"text": "x"}, about=["site"]) if next(times, None) else None
    path = printing.write(site, "instrument")
    assert heads_in(path) == [str(Head(name, *head)) for name, head in site.journal.heads().items()]
    assert path.read_text("utf-8").count("<html") == 1


def test_a_report_that_never_comes_to_rest_is_given_up_and_leaves_nothing(site: Site, stand_in: Records) -> None:
    """Half a report must not lie there as a whole one."""
    stand_in.meanwhile = lambda: site.record("note", {"text": "x"}, about=["site"])
    with pytest.raises(Trouble) as refused:
        printing.write(site, "instrument", path=site.folder / "x.html")
    assert refused.value.do
    assert not list(site.folder.glob("*x.html*"))
    assert not list(site.folder.glob(".*part"))


def test_the_own_station_comes_first(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is the one that whoever made the report can be asked about."""
    heads = {"a": (3, "a" * 64), "station-a": (4, "b" * 64), "z": (5, "c" * 64)}
    monkeypatch.setattr(type(site.journal), "heads", lambda _: heads)
    assert [head.station for head in printing.printed(site).heads] == ["station-a", "a", "z"]


# --- the file ------------------------------------------------------------------------------------------------------


def test_without_a_path_it_goes_to_the_reports_of_the_site_under_a_name_that_says_what_it_is(site: Site) -> None:
    """Kind, label, local time (06:05 UTC is 08:05 in Vienna in June); a second one does not replace the first."""
    about = id_of(site, "C-1")
    first = printing.write(site, "instrument", about)
    second = printing.write(site, "instrument", about)
    assert first == site.folder / "reports" / "instrument-C-1-2026-06-01-080500.html"
    assert second.name == "instrument-C-1-2026-06-01-080500-2.html"
    assert first.read_bytes() == second.read_bytes()
    assert sorted(each.name for each in first.parent.iterdir()) == sorted([first.name, second.name])


def test_the_name_of_a_file_holds_no_surprises(site: Site) -> None:
    """Whatever a label holds, it leads into no other folder."""
    made = inventory.register_instrument(site, label="../../C 7:\\x", serial="9", type="Vent one", profile="mini")
    path = printing.write(site, "instrument", f"{made},2026-01-01")
    assert path.name == "instrument-C-7-x-2026-01-01-2026-06-01-080500.html"
    assert path.parent == site.folder / "reports"


def test_a_file_is_never_written_over_unless_that_is_asked_for(site: Site, tmp_path: Path) -> None:
    """And then only a report is: nothing else that lies there."""
    path = tmp_path / "kept.html"
    path.write_text("kept")
    with pytest.raises(Trouble):
        printing.write(site, "instrument", path=path)
    assert path.read_text() == "kept"
    assert printing.write(site, "instrument", path=path, overwrite=True) == path
    assert path.read_text("utf-8").startswith("<!DOCTYPE html>")
    journal = site.folder / "site.journal"
    before = journal.read_bytes()
    with pytest.raises(Trouble):
        printing.write(site, "instrument", path=journal, overwrite=True)
    assert journal.read_bytes() == before


@pytest.mark.parametrize("bad", [".", "file/x.html", "no/such/x.html", "x\0.html", "x" * 300 + ".html", "loose.html"])
def test_a_bad_place_is_said_in_words(site: Site, tmp_path: Path, bad: str) -> None:
    """A folder, below a file, in no folder, no name at all, too long a name, a link that leads nowhere."""
    (tmp_path / "file").write_text("x")
    (tmp_path / "loose.html").symlink_to(tmp_path / "nowhere")
    with pytest.raises(Trouble) as refused:
        printing.write(site, "instrument", path=tmp_path / bad)
    assert refused.value.where
    assert refused.value.do


def test_reports_that_cannot_lie_in_the_site_say_so(site: Site) -> None:
    """Somebody made a file of that name."""
    (site.folder / "reports").write_text("x")
    with pytest.raises(Trouble) as refused:
        printing.write(site, "instrument")
    assert refused.value.where.endswith("reports")


# --- listings ------------------------------------------------------------------------------------------------------


def test_all_rows_of_a_listing_are_written_a_page_at_a_time(site: Site, stand_in: Records) -> None:
    """However long it is, one page of it is in memory."""
    path = printing.write(site, "checkouts", goes="listing", kind="csv", query=Query(limit=3, offset=7))
    with path.open(encoding="utf-8", newline="") as file:
        found = list(csv.reader(file))
    assert found[0] == ["what", "number"]
    assert [line[1] for line in found[1:]] == [str(number) for number in range(ROWS)]
    assert [(query.offset, query.limit) for query in stand_in.asked] == [
        (offset, printing.PAGE) for offset in range(0, ROWS, printing.PAGE)
    ]


def test_a_listing_as_html_and_json_holds_all_rows_too(site: Site) -> None:
    """And JSON says how many there are."""
    html = printing.write(site, "checkouts", goes="listing").read_text("utf-8")
    assert html.count('<th scope="row">') == ROWS
    found = json.loads(printing.write(site, "checkouts", goes="listing", kind="json").read_text("utf-8"))
    assert (len(found["rows"]), found["total"]) == (ROWS, ROWS)


def test_a_narrowed_listing_says_by_what(site: Site, stand_in: Records) -> None:
    """In words on paper, by id for programs; and the query arrives as it was asked."""
    query = Query("C-1", {"ending": "locked out", "from": "2026-01-01"})
    html = printing.write(site, "checkouts", goes="listing", query=query).read_text("utf-8")
    assert "<p>Only ended: locked out.</p>" in html
    assert "<p>Only from the day: 2026-01-01.</p>" in html
    assert "<p>Only what fits the search “C-1”.</p>" in html
    found = json.loads(printing.write(site, "checkouts", goes="listing", kind="json", query=query).read_text("utf-8"))
    assert found["narrowed"] == {"ending": "locked out", "from": "2026-01-01", "search": "C-1"}
    assert all((each.search, each.filters) == (query.search, query.filters) for each in stand_in.asked)


@pytest.mark.parametrize("filters", [{"endnig": "locked out"}, {"ending": "lockedout"}])
def test_a_filter_that_there_is_not_is_refused(site: Site, filters: dict[str, str]) -> None:
    """A slip must not give the whole list, nor an empty one, as the answer."""
    with pytest.raises(Trouble) as refused:
        printing.write(site, "checkouts", goes="listing", query=Query(filters=filters))
    assert refused.value.allowed


# --- marking, copies -----------------------------------------------------------------------------------------------


@pytest.mark.usefixtures("stand_in")
@pytest.mark.parametrize("kind", ["html", "csv", "json"])
def test_a_demo_says_so_in_every_kind_of_file_and_in_its_name(tmp_path: Path, kind: printing.FileKind) -> None:
    """Printed or sent on, it cannot pass for real."""
    with create_site(
        tmp_path, ManualClock(START), station="demo-1", name="Demo", zone="Etc/UTC", marking="demo"
    ) as site:
        path = printing.write(site, "instrument", kind=kind)
    assert path.name.startswith("demo-instrument-")
    assert re.search("DEMO|demo", path.read_text("utf-8"))


@pytest.mark.parametrize("kind", ["html", "csv", "json"])
def test_a_copy_is_what_a_file_would_be(site: Site, kind: printing.FileKind) -> None:
    """Standard output gets the same bytes."""
    blocks: list[bytes] = []
    printing.copy(site, "instrument", "", blocks.append, kind=kind)
    assert b"".join(blocks) == printing.write(site, "instrument", kind=kind).read_bytes()


def test_nothing_of_a_report_goes_out_before_it_is_whole(site: Site) -> None:
    """What fails at its end has not begun."""
    blocks: list[bytes] = []
    query = Query(filters={"none": "x"})
    with pytest.raises(Trouble):
        printing.copy(site, "checkouts", "", blocks.append, goes="listing", query=query)
    assert blocks == []


@pytest.mark.parametrize("kind", ["html", "json"])
@pytest.mark.parametrize("name", ["people", "person", "site"])
def test_no_report_shows_a_pin_or_what_is_kept_of_it(tmp_path: Path, name: str, kind: printing.FileKind) -> None:
    """Who may read a report is not who may act for somebody."""
    with small_site(tmp_path / "site", ManualClock(START)) as site:
        person = id_of(site, "P-1")
        secrets.set_pin(site, person, "739164", salt=bytes(range(32)), cost=secrets.Cost(n=16))
        kept = re.findall(r'"([0-9a-f]{64,})"', (site.folder / "site.pins").read_text())
        goes = printing_names.kind_of(name)
        path = printing.write(site, name, person if name == "person" else "", goes=goes, kind=kind)
        text = path.read_text("utf-8")
    assert "739164" not in text
    assert kept
    assert not [word for word in kept if word != person and word in text]


# --- names ---------------------------------------------------------------------------------------------------------


def test_every_sheet_and_listing_has_its_line() -> None:
    """Whoever adds one says in a line what it is; and none is called as another."""
    assert set(printing_names.ABOUT) == set(records.SHEETS) | set(records.LISTINGS)
    assert not set(records.SHEETS) & set(records.LISTINGS)


@pytest.mark.parametrize(
    ("name", "text", "label"),
    [
        ("instrument", "C-1", "C-1"),
        ("instrument", " c-1 ", "C-1"),
        ("source", "S-1", "S-1"),
        ("jig", "J-1", "J-1"),
        ("person", "P-2", "P-2"),
        ("person", "tp", "P-2"),
        ("person", "Tech Person", "P-2"),
        ("uses", "LP", "P-1"),
    ],
)
def test_labels_badges_and_names_become_ids(site: Site, name: str, text: str, label: str) -> None:
    """As they are marked, in any case."""
    assert printing_names.resolve(site, name, text) == id_of(site, label)


def test_more_than_one_thing_and_ids_and_days(site: Site) -> None:
    """An id is taken as it is, and so is what follows a label."""
    chamber = id_of(site, "C-1")
    assert printing_names.resolve(site, "instrument", chamber.upper()) == chamber
    assert printing_names.resolve(site, "drift", "C-1, daily") == f"{chamber},daily"
    assert printing_names.resolve(site, "binder", "2026-01-01, 2026-02-01") == "2026-01-01,2026-02-01"
    assert printing_names.resolve(site, "day", "") == ""


def test_what_is_retired_is_found(site: Site) -> None:
    """Records stay when a thing goes."""
    chamber = id_of(site, "C-1")
    site.record("retired", {"why": "broken"}, about=[chamber])
    assert printing_names.resolve(site, "history", "C-1") == chamber


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("instrument", ""),
        ("instrument", "S-1"),
        ("instrument", "C-2"),
        ("instrument", "x" * 5000),
        ("person", "Nobody"),
        ("settings", "C-1"),
        ("checkout", ""),
        ("nothing", "C-1"),
        ("drift", "daily,C-1"),
    ],
)
def test_what_cannot_be_meant_is_refused_in_words(site: Site, name: str, text: str) -> None:
    """Nothing named, another sort of thing, an unknown label, too much, something where nothing can be named."""
    with pytest.raises(Trouble) as refused:
        printing_names.resolve(site, name, text)
    assert refused.value.do
