"""What came of bringing the records of several laptops together, and what somebody has to decide."""

from __future__ import annotations

from typing import TYPE_CHECKING

from procedures.sheets import Column, Deed, Grid, Lines, Row, Section, Sheet
from procedures.site import local_time, people
from procedures.site.exchange import adopted_apart, exchange_age, last_exchange

if TYPE_CHECKING:
    from procedures.site.opening import Site


def exchange(site: Site, _about: str, person: str) -> Sheet:
    """The last exchange with each laptop; records that wait; copies; shared labels; profiles adopted apart."""
    sections: list[Section] = [_heard(site)]
    last = last_exchange(site)
    if last is not None and last.given is not None:
        sections.append(Lines((f"Records were last written for another laptop {local_time.said(site, last.given)}.",)))
    sections += [*_waiting(site), *_forks(site), *_shared(site, person), *_apart(site, person)]
    return Sheet(
        "exchange",
        "Laptops of this site",
        tuple(sections),
        line=exchange_age(site) or "No other laptop is known.",
        deeds=(
            Deed("Write a file for another laptop", "form", "exchange-out"),
            Deed("Take a file of another laptop in", "form", "exchange-in"),
        ),
    )


def _heard(site: Site) -> Grid:
    last = last_exchange(site)
    now = site.clock.now().utc
    names = site.journal.stations()
    rows = [
        Row(
            (
                each.name or names.get(each.station, "") or each.station,
                local_time.said(site, each.written),
                local_time.said(site, each.taken),
                local_time.ago(each.written, now),
            ),
            key=each.station,
        )
        for each in (last.heard if last else ())
    ]
    columns = (
        Column("laptop", least=10),
        Column("its records as of", least=16),
        Column("taken in", gives_way=1, least=16),
        Column("age"),
    )
    return Grid(columns, tuple(rows), title="Last exchange with each", empty="No file was ever taken in here.")


def _waiting(site: Site) -> list[Section]:
    held = site.journal.held()
    if not held:
        return []
    names = site.journal.stations()
    gaps = sorted({names.get(one.station, "") or one.station for one in held if one.why == "gap"})
    future = sorted({names.get(one.station, "") or one.station for one in held if one.why == "future"})
    lines = [f"{len(held)} records wait. What they are about is not fit for use meanwhile."]
    if gaps:
        lines.append(f"Records before them are missing ({', '.join(gaps)}). Take the missing file in.")
    if future:
        lines.append(f"Some are of a time that has not come yet ({', '.join(future)}). Look which clock is wrong.")
    return [Lines(tuple(lines), title="Records that wait", tone="bad")]


def _forks(site: Site) -> list[Section]:
    forks = site.journal.forks()
    if not forks:
        return []
    names = site.journal.stations()
    lines = [
        f"The records of {names.get(each.station, '') or each.station} were copied and used twice." for each in forks
    ]
    lines.append("Nothing is lost. Use only one of the copies from now on, and tell the site lead.")
    return [Lines(tuple(dict.fromkeys(lines)), title="Copies", tone="warn")]


def _shared(site: Site, person: str) -> list[Section]:
    may_not = people.may(site, person, "register") if person else ""
    rows = []
    for label in site.journal.shared_labels():
        for each in site.journal.labelled(label):
            if each.living:
                fields = site.journal.thing_now(each.id).fields
                told = ", ".join(str(fields[key]) for key in ("name", "type", "nuclide", "serial") if fields.get(key))
                rows.append(
                    Row(
                        (each.label, each.what, told),
                        Deed(f"A new label for this {each.what}", "form", "label-new", each.id, may_not=may_not),
                        tone="bad",
                        key=each.id,
                    )
                )
    if not rows:
        return []
    columns = (Column("label"), Column("what"), Column("which", least=16))
    return [
        Grid(columns, tuple(rows), title="Labels that several things carry: none may be used until one has another")
    ]


def _apart(site: Site, person: str) -> list[Section]:
    may_not = people.may(site, person, "adopt") if person else ""
    rows = [
        Row(
            (each.profile, "; ".join(each.revisions)),
            Deed("Choose the one that counts", "form", "adoption-choice", each.profile, may_not=may_not),
            tone="bad",
            key=each.profile,
        )
        for each in adopted_apart(site.journal)
    ]
    if not rows:
        return []
    title = "Profiles adopted apart: none of them is in force until a site lead chooses"
    return [Grid((Column("profile"), Column("revisions", least=20)), tuple(rows), title=title)]
