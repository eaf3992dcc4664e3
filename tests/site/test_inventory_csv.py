"""Tables of what a site owns: what goes out comes in as the same, and one bad row keeps everything out."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import sys
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from desk_walk import START, id_of, small_site
from hypothesis import given, settings
from hypothesis import strategies as st

from checklist_tui.cli import main
from procedures.answers import clean_line
from procedures.clock import ManualClock
from procedures.site import clearing, inventory, inventory_csv, people, source_keeping
from procedures.site.demo import make_demo
from procedures.site.inventory_csv import BadRows
from procedures.site.inventory_tables import COLUMNS
from procedures.site.opening import Site, create_site
from procedures.trouble import Trouble

GOOD = {
    "people": "label,name,initials,roles,trained_until\nP-7,Ansa Quellby,AQ,technician trainer,2027-01-31\n",
    "jigs": "label\nJ-7\n",
    "sources": "label,serial,nuclide,activity,activity_on,emits,strength\n"
    'S-7,4411,Cs-137,340 kBq,2024-03-01,"beta, gamma",\n',
    "instruments": "label,serial,type,profile,detector,cable\nC-7,107,Vent one,mini,,K-7\n",
    "bindings": "instrument,role,source,jig\nC-7,daily,S-7,J-7\n",
}


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    made = small_site(tmp_path / "site", ManualClock(START))
    yield made
    made.close()


def empty_site(folder: Path) -> tuple[Site, str]:
    """A site with nobody but whoever takes things in."""
    site = create_site(folder, ManualClock(START), station="two", name="Two", zone="Etc/UTC")
    return site, inventory.register_person(site, label="importer", name="I", initials="I", roles=["lead"])


def write(folder: Path, **tables: str | bytes) -> Path:
    folder.mkdir(exist_ok=True)
    for name, text in tables.items():
        (folder / f"{name}.csv").write_bytes(text if isinstance(text, bytes) else text.encode())
    return folder


def taken(site: Site, folder: Path) -> dict[str, int]:
    return dict(inventory_csv.take(site, inventory_csv.read(site, folder, id_of(site, "P-1"))))


def exported(site: Site, folder: Path) -> dict[str, str]:
    inventory_csv.export(site, folder)
    return {name: (folder / f"{name}.csv").read_text("utf-8") for name in COLUMNS}


def without(text: str, label: str) -> str:
    return "".join(line for line in text.splitlines(keepends=True) if not line.startswith(f"{label},"))


# --- out and in ----------------------------------------------------------------------------------------------------


def test_good_tables_are_taken_in(site: Site, tmp_path: Path) -> None:
    """All five, in one go; a binding names what stands in the tables beside it."""
    assert taken(site, write(tmp_path / "in", **GOOD)) == dict.fromkeys(COLUMNS, 1)
    state = site.journal.instrument_now(id_of(site, "C-7"))
    assert (state.fields["type"], state.fields["cable"]) == ("Vent one", "K-7")
    assert (state.bindings["daily"].source, state.bindings["daily"].jig) == (id_of(site, "S-7"), id_of(site, "J-7"))
    assert site.journal.thing_now(id_of(site, "P-7")).fields["roles"] == ["technician", "trainer"]


def test_each_file_is_recorded_in_one_transaction(site: Site, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A kill leaves whole files, never half of one."""
    many = "label\n" + "".join(f"J-{number}\n" for number in range(100, 160))
    folder = write(tmp_path / "in", jigs=many, people=GOOD["people"])
    plan = inventory_csv.read(site, folder, id_of(site, "P-1"))
    appended: list[int] = []
    append = site.journal.append
    monkeypatch.setattr(site.journal, "append", lambda drafts, now: (appended.append(len(drafts)), append(drafts, now)))
    inventory_csv.take(site, plan)
    assert appended == [1, 60]


def test_a_whole_site_comes_in_as_the_same(tmp_path: Path) -> None:
    """The demo's twelve instruments, its sources, jigs, people and bindings, at an empty site."""
    with make_demo(tmp_path / "demo", ManualClock(START)) as demo:
        first = exported(demo, tmp_path / "one")
    site, lead = empty_site(tmp_path / "two")
    with site:
        inventory_csv.take(site, inventory_csv.read(site, tmp_path / "one", lead))
        second = exported(site, tmp_path / "three")
    second["people"] = without(second["people"], "importer")
    assert second == first


words = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), min_size=1, max_size=12).filter(
    lambda text: clean_line(text) == text
)
risky = st.builds(lambda begins, text: clean_line(begins + text), st.sampled_from("=+-@'＝"), words)
labels = st.lists(
    words.map(lambda text: "L" + text) | risky, unique_by=lambda text: text.casefold(), min_size=4, max_size=12
)
days = st.dates(dt.date(1950, 1, 1), dt.date(2150, 1, 1))


@given(st.data())
@settings(max_examples=20, deadline=None)
def test_any_site_comes_in_as_the_same(data: st.DataObject) -> None:
    """Whatever letters, signs, quotes and separators its words are made of."""
    drawn = data.draw(labels)
    with TemporaryDirectory() as folder:
        one, lead = empty_site(Path(folder) / "one")
        with one:
            for place, label in enumerate(drawn):
                made = (_person, _source, _instrument, lambda _, site, label: inventory.register_jig(site, label=label))
                made[place % 4](data, one, label)
            inventory.bind_source(
                one, id_of(one, drawn[2]), data.draw(words), id_of(one, drawn[1]), id_of(one, drawn[3])
            )
            inventory.retire(one, lead, "so that only the others go out")
            first, was = exported(one, Path(folder) / "out"), recorded(one, drawn)
        two, lead = empty_site(Path(folder) / "two")
        with two:
            inventory_csv.take(two, inventory_csv.read(two, Path(folder) / "out", lead))
            second, now = exported(two, Path(folder) / "again"), recorded(two, drawn)
    second["people"] = without(second["people"], "importer")
    assert second == first
    assert now == was
    for text in first.values():
        for cell in (cell for row in csv.reader(io.StringIO(text, newline="")) for cell in row):
            assert not cell.startswith(("=", "@", "\t", "＝")), cell


def recorded(site: Site, labels: list[str]) -> list[dict[str, object]]:
    """What is recorded of each, whatever the tables made of it."""
    return [dict(site.journal.thing_now(id_of(site, label)).fields) for label in labels]


def _person(data: st.DataObject, site: Site, label: str) -> None:
    roles = data.draw(st.lists(st.sampled_from(people.ROLES), min_size=1, unique=True))
    inventory.register_person(
        site, label=label, name=data.draw(words), initials=data.draw(words), roles=roles,
        trained_until=data.draw(st.none() | days),
    )  # fmt: skip


def _source(data: st.DataObject, site: Site, label: str) -> None:
    """As certified by its activity or its emission rate, of one nuclide or two, with or without what may be missing."""
    figure = data.draw(st.decimals("0.001", "5000", places=3))
    rate = data.draw(st.booleans())
    given = {
        "serial": data.draw(words),
        "nuclide": data.draw(st.sampled_from(["Cs-137", "Am-241"])),
        "activity": f"{figure} {'/s' if rate else data.draw(st.sampled_from(['Bq', 'kBq', 'MBq', 'nCi']))}",
        "activity_on": data.draw(days),
        "emits": data.draw(words),
        "strength": data.draw(st.sampled_from(["", "strong"])),
        "certified_as": "emission rate" if rate else "activity",
        "components": data.draw(st.sampled_from([[], [["Cs-137", "0.6"], ["Am-241", "0.4"]]])),
        "model": data.draw(words | st.just("")),
        "uncertainty": data.draw(st.sampled_from(["", "5 %", "2.5 %"])),
        "leak_test_exempt": data.draw(st.sampled_from(["", "gas", "stored"])),
        "leak_test_exempt_note": data.draw(words | st.just("")),
    }
    given["components"] = [{"nuclide": nuclide, "share": share} for nuclide, share in given["components"]]
    source_keeping.add(site, id_of(site, "importer"), label, given)


def _instrument(data: st.DataObject, site: Site, label: str) -> None:
    inventory.register_instrument(
        site, label=label, serial=label, type=data.draw(words), profile=data.draw(words),
        detector=data.draw(words | st.just("")), cable=data.draw(words | st.just("")),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("label", "cell"),
    [
        ("=1+1", "'=1+1"), ("@home", "'@home"), ("-x", "'-x"), ("+49 x", "'+49 x"), ("'=1", "''=1"), ("''", "'''"),
        ("'7", "''7"), ("-5", "-5"), ("L'", "L'"),
    ],
)  # fmt: skip
def test_what_a_spreadsheet_would_work_out_goes_out_guarded(tmp_path: Path, label: str, cell: str) -> None:
    """OWASP, CSV injection (memory): cells that begin with = + - @ or a tab. An apostrophe of its own stays."""
    with small_site(tmp_path / "one", ManualClock(START)) as site:
        inventory.register_jig(site, label=label)
        jigs = exported(site, tmp_path / "out")["jigs"]
    assert cell in jigs.splitlines()
    site, lead = empty_site(tmp_path / "two")
    with site:
        inventory_csv.take(site, inventory_csv.read(site, write(tmp_path / "in", jigs=jigs), lead))
        assert [each.label for each in site.journal.labelled(label)] == [label]


def test_a_spreadsheets_habits_are_understood(site: Site, tmp_path: Path) -> None:
    """A byte order mark, semicolons, columns in another order, heading in capitals, blanks, empty lines, CR LF."""
    text = "\ufeffName;LABEL;initials;roles;trained_until\r\n\r\nAnsa  Quellby ;P-7;AQ;lead, trainer;\r\n;;;;\r\n"
    assert taken(site, write(tmp_path / "in", people=text)) == {"people": 1}
    fields = site.journal.thing_now(id_of(site, "P-7")).fields
    assert (fields["name"], fields["roles"], fields["trained_until"]) == ("Ansa Quellby", ["trainer", "lead"], None)


# --- what is refused -----------------------------------------------------------------------------------------------

BAD = [
    ("people", "P-8,,AQ,lead,", "name", "empty"),
    ("people", "P-8,A,AQ,boss,", "roles", "not a role"),
    ("people", "P-8,A,AQ,lead,31.1.2027", "trained_until", "no date"),
    ("people", "P-8,A,ABCDEFGHIJKLM,lead,", "initials", "too long; allowed: 1 to 12 characters"),
    ("people", "p-1,A,A,lead,", "label", "in use at the site"),
    ("people", "P-7,A,A,lead,", "label", "stands in people.csv:2 already"),
    ("people", "P-\u200b8,A,A,lead,", "label", "cannot be seen"),
    ("people", "P-8,A,A,lead", "", "4 cells"),
    ("jigs", "S-1", "label", "in use at the site"),
    ("jigs", "p-7", "label", "stands in people.csv:2 already"),
    ("jigs", "x" * 121, "label", "longer than 120"),
    ("sources", "S-8,1,Xx-137,1 kBq,2024-03-01,,", "nuclide", "Xx-137"),
    ("sources", "S-8,1,Cs-137,1 mR/h,2024-03-01,,", "activity", "activity"),
    ("sources", "S-8,1,Cs-137,0 kBq,2024-03-01,,", "activity", "is none; allowed: more than 0"),
    ("sources", "S-8,1,Cs-137,1 kBq,2024-02-30,,", "activity_on", "no date"),
    ("sources", "S-8,1,Cs-137,1 kBq,2024-03-01,,weak", "strength", "no strength of a source"),
    ("instruments", "C-8,101,vent ONE,mini,,", "serial", "as C-1 at the site"),
    ("instruments", "C-8,107,Vent one,mini,,", "serial", "in instruments.csv:2"),
    ("instruments", "C-8,1,,mini,,", "type", "empty"),
    ("bindings", "C-9,daily,S-7,J-7", "instrument", "no instrument C-9"),
    ("bindings", "C-7,daily,J-7,", "source", "no source J-7"),
    ("bindings", "C-7,daily,S-7,S-1", "jig", "no jig S-1"),
]


@pytest.mark.parametrize(("table", "row", "column", "why"), BAD)
def test_a_bad_row_is_named_and_nothing_is_taken(
    site: Site, tmp_path: Path, table: str, row: str, column: str, why: str
) -> None:
    """File, line, column and why; not one row of any table is recorded."""
    tables = GOOD | {table: f"{GOOD[table]}{row}\n"}
    before = site.journal.count()
    with pytest.raises(BadRows) as refused:
        taken(site, write(tmp_path / "in", **tables))
    (bad,) = refused.value.rows
    assert (bad.file, bad.line, bad.column) == (f"{table}.csv", 3, column)
    assert why in bad.why
    assert site.journal.count() == before


MORE = "label,serial,nuclide,activity,activity_on,emits,strength,certified_as,components,leak_test_exempt\n"


@pytest.mark.parametrize(
    ("row", "column", "why"),
    [
        ("S-8,1,Cf-252,20 kBq,2024-03-01,neutron,,emission rate,,", "activity", "no emission rate"),
        ("S-8,1,Cf-252,20 kBq,2024-03-01,neutron,,guess,,", "certified_as", "activity, emission rate"),
        ("S-8,1,Cf-252,20 kBq,2024-03-01,neutron,,,Cf-252,", "components", "no components"),
        ("S-8,1,Cf-252,20 kBq,2024-03-01,neutron,,,Cf-252 half,", "components", "half"),
        ("S-8,1,Cs-137,20 kBq,2024-03-01,neutron,,,Cf-252 0.9 + Cf-250 0.1,", "components", "not among"),
        ("S-8,1,Cs-137,20 kBq,2024-03-01,gamma,,,,short-lived", "leak_test_exempt", "half-life"),
    ],
)
def test_what_a_certificate_cannot_say_is_named(site: Site, tmp_path: Path, row: str, column: str, why: str) -> None:
    """Columns that may be missing are read as strictly as the others where they are there."""
    before = site.journal.count()
    with pytest.raises(BadRows) as refused:
        taken(site, write(tmp_path / "in", sources=f"{MORE}{row}\n"))
    (bad,) = refused.value.rows
    assert (bad.line, bad.column) == (2, column)
    assert why in bad.why
    assert site.journal.count() == before


def test_a_label_that_was_given_up_or_registered_meanwhile_is_refused(site: Site, tmp_path: Path) -> None:
    """Another label on a jig leaves the old sticker somewhere; and tables may have lain open for an hour."""
    inventory.describe(site, id_of(site, "J-1"), {"label": "J-2"})
    with pytest.raises(BadRows, match="J-1 is in use at the site, or was once"):
        taken(site, write(tmp_path / "in", jigs="label\nJ-1\n"))
    plan = inventory_csv.read(site, write(tmp_path / "in", jigs="label\nJ-7\nJ-8\n"), id_of(site, "P-1"))
    inventory.register_jig(site, label="J-8")
    before = site.journal.count()
    with pytest.raises(Trouble, match="J-8 was registered meanwhile"):
        inventory_csv.take(site, plan)
    assert site.journal.count() == before


def test_every_bad_row_of_every_table_is_named_at_once(site: Site, tmp_path: Path) -> None:
    """One round of putting right, not twenty."""
    tables = dict(GOOD)
    for table, row, _, _ in BAD:
        tables[table] += f"{row}\n"
    with pytest.raises(BadRows) as refused:
        inventory_csv.read(site, write(tmp_path / "in", **tables), id_of(site, "P-1"))
    assert {(bad.file, bad.column) for bad in refused.value.rows} >= {
        (f"{table}.csv", column) for table, _, column, _ in BAD
    }


def test_taking_in_twice_records_nothing_twice(site: Site, tmp_path: Path) -> None:
    """What is recorded already is passed over and said: a lead stands in the very table that the lead takes in."""
    folder = write(tmp_path / "in", **GOOD)
    taken(site, folder)
    before = site.journal.count()
    plan = inventory_csv.read(site, folder, id_of(site, "P-1"))
    assert plan.same == dict.fromkeys(COLUMNS, 1)
    assert inventory_csv.take(site, plan) == dict.fromkeys(COLUMNS, 0)
    assert site.journal.count() == before


@pytest.mark.parametrize("name", [name for name in GOOD if name not in ("jigs", "bindings")])
def test_a_row_that_says_something_else_of_what_is_here_is_refused(site: Site, tmp_path: Path, name: str) -> None:
    """It may be another thing with the same label, or a change that nobody meant: tables change nothing."""
    taken(site, write(tmp_path / "in", **GOOD))
    other = {
        "people": GOOD["people"].replace("Ansa", "Anna"),
        "sources": GOOD["sources"].replace("340 kBq", "350 kBq"),
        "instruments": GOOD["instruments"].replace("K-7", "K-8"),
    }[name]
    with pytest.raises(BadRows) as refused:
        inventory_csv.read(site, write(tmp_path / "other", **{name: other}), id_of(site, "P-1"))
    assert next((bad.file, bad.column) for bad in refused.value.rows) == (f"{name}.csv", "label")


def test_what_was_retired_is_not_taken_in_again(site: Site, tmp_path: Path) -> None:
    """A label is never used again, whatever the table says."""
    folder = write(tmp_path / "in", **GOOD)
    taken(site, folder)
    inventory.retire(site, id_of(site, "J-7"), "bent")
    before = site.journal.count()
    with pytest.raises(BadRows) as refused:
        taken(site, folder)
    assert "jigs.csv" in [bad.file for bad in refused.value.rows if bad.column == "label"]
    assert site.journal.count() == before


def test_one_site_goes_into_a_fresh_one_whose_lead_is_in_the_table(
    site: Site, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Out, a new site begun by the same lead, in: the lead's own row is passed over; what is lost is said."""
    lead = dict(site.journal.thing_now(id_of(site, "P-1")).fields)
    clearing.lock_by_hand(site, id_of(site, "C-1"), id_of(site, "P-1"), "It fell.")
    source_keeping.condition(site, id_of(site, "P-1"), id_of(site, "S-1"), "damaged", "its rim is bent")
    data = ("--data", str(site.folder))
    assert main(["inventory", "export", str(tmp_path / "out"), *data]) == 0
    said = capsys.readouterr().out
    assert "NOT IN THESE TABLES" in said
    assert "C-1 is locked out." in said
    assert "its rim is bent" in said
    fresh = create_site(tmp_path / "fresh", ManualClock(START), station="two", name="Two", zone="Etc/UTC")
    inventory.register_person(
        fresh, label=lead["label"], name=lead["name"], initials=lead["initials"], roles=lead["roles"],
        trained_until=lead.get("trained_until"),
    )  # fmt: skip
    fresh.close()
    words = ["inventory", "import", str(tmp_path / "out"), "--data", str(tmp_path / "fresh"), "--person", "P-1"]
    assert main(words) == 0
    said = capsys.readouterr().out
    assert "Passed over: people.csv, 1 row: the same is recorded here already." in said
    assert "say nothing of lockouts" in said


RAW = {
    "no text": b"label\n\xff\n",
    "empty": b"",
    "no heading": b"J-7\nJ-8\n",
    "a column too many": b"label,colour\nJ-7,red\n",
    "a column twice": b"label,label\nJ-7,J-7\n",
    "an open quote": b'label\n"J-7\n',
    "zero bytes": b"label\n\0\n",
    "a cell without end": b"label\n" + b"x" * 200_000,
}


@pytest.mark.parametrize("raw", RAW.values(), ids=RAW)
def test_what_is_no_such_table_is_said(site: Site, tmp_path: Path, raw: bytes) -> None:
    """Whatever bytes a file holds: words, and nothing taken."""
    with pytest.raises(BadRows) as refused:
        inventory_csv.read(site, write(tmp_path / "in", jigs=raw), id_of(site, "P-1"))
    assert refused.value.rows[0].file == "jigs.csv"


@given(raw=st.binary(max_size=80) | st.text(st.sampled_from('label,;"\r\n x'), max_size=60).map(str.encode))
@settings(max_examples=80)
def test_any_bytes_are_rows_or_words(raw: bytes) -> None:
    """Never a traceback."""
    with TemporaryDirectory() as folder:
        site, lead = empty_site(Path(folder) / "site")
        with site, suppress(Trouble):
            inventory_csv.take(site, inventory_csv.read(site, write(Path(folder) / "in", jigs=raw), lead))


def test_only_a_lead_takes_things_in(site: Site, tmp_path: Path) -> None:
    """A technician's spreadsheet makes nobody a lead."""
    with pytest.raises(Trouble, match="only a site lead"):
        inventory_csv.read(site, write(tmp_path / "in", **GOOD), id_of(site, "P-2"))


def test_export_writes_over_nothing(site: Site, tmp_path: Path) -> None:
    """A list that somebody is editing is not lost, and nothing is left by halves."""
    folder = write(tmp_path / "out", sources="mine")
    with pytest.raises(Trouble):
        inventory_csv.export(site, folder)
    assert [path.name for path in folder.iterdir()] == ["sources.csv"]
    assert (folder / "sources.csv").read_bytes() == b"mine"


# --- the command ---------------------------------------------------------------------------------------------------


def test_the_command_takes_out_and_in(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Counts by table; what was taken in shows in the status."""
    empty_site(tmp_path / "site")[0].close()
    data = ("--data", str(tmp_path / "site"))
    assert main(["inventory", "import", str(write(tmp_path / "in", **GOOD)), *data, "--person", "importer"]) == 0
    assert "Taken in: instruments.csv, 1 row." in capsys.readouterr().out
    assert main(["inventory", "export", str(tmp_path / "out"), *data, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["rows"]["people"] == 2
    assert main(["status", *data]) == 0
    assert "NEEDS CHECK: C-7" in capsys.readouterr().out


def test_the_command_names_every_bad_row(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """On standard error in words, and by place for programs; exit 2."""
    empty_site(tmp_path / "site")[0].close()
    folder = write(tmp_path / "in", jigs="label\nJ-1\nj-1\n\x07\n")
    words = ["inventory", "import", str(folder), "--data", str(tmp_path / "site"), "--person", "importer", "--json"]
    assert main(words) == 2
    out, err = capsys.readouterr()
    assert [(bad["file"], bad["line"], bad["column"]) for bad in json.loads(out)["errors"]] == [
        ("jigs.csv", 3, "label"), ("jigs.csv", 4, "label")
    ]  # fmt: skip
    assert "jigs.csv:3: label: j-1 stands in jigs.csv:2 already" in err
    assert "Nothing was taken" in err


def test_without_a_terminal_a_lead_and_a_pin_are_missed_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A script is told what it lacks; nothing is taken."""
    monkeypatch.setattr(sys, "stdin", io.StringIO("importer\n285914\n"))
    site, _ = empty_site(tmp_path / "site")
    with site:
        site.record("settings-changed", {"set": {"pins": "on"}}, about=("site",))
        before = site.journal.count()
    words = ["inventory", "import", str(write(tmp_path / "in", **GOOD)), "--data", str(tmp_path / "site")]
    for more, said in (([], "--person"), (["--person", "importer"], "terminal")):
        assert main([*words, *more]) == 2
        assert said in capsys.readouterr().err
    from procedures.site.opening import open_site

    with open_site(tmp_path / "site", ManualClock(START)) as site:
        assert site.journal.count() == before
