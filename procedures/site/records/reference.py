"""A reference reading as a sheet, and the references of an instrument as sections of the instrument's own."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from procedures.sheets import Column, Deed, Grid, Lines, Pairs, Row, Section, Sheet, Tone
from procedures.site.records.calibration import event_of, may_not, recorded_rows
from procedures.site.reference_figures import part_name, said
from procedures.site.reference_former import brought_to
from procedures.site.reference_places import wanted
from procedures.site.references import in_force, key_of, reference_too_old
from procedures.site.usable_references import since_calibration
from procedures.trouble import Trouble
from procedures.units import read_quantity

if TYPE_CHECKING:
    from procedures.journal.envelope import Event
    from procedures.journal.states import InstrumentState
    from procedures.site.opening import Site

LATEST: Final = 20
"""Rows of the history on an instrument's sheet."""


def reference(site: Site, about: str, person: str) -> Sheet:
    """One reference reading, by its event: every figure of it, and how it stands to the former one."""
    event = event_of(site, about, "reference-recorded", "reference reading")
    body = event.body
    instrument = event.about[0]
    state = site.journal.instrument_now(instrument)
    why = _why_not(site, state, event)
    label = str(state.fields.get("label", ""))
    return Sheet(
        "reference",
        f"Reference reading of {label}",
        (
            Pairs((*_what(site, body), *recorded_rows(site, event))),
            Pairs(_figures(site, event), "What it comes to"),
            Grid(
                (Column("number", figures=True), Column("reading", figures=True), Column("does not count because")),
                _readings(body),
                "Readings",
            ),
            *_former(site, body),
            *_carried(site, body),
        ),
        about=about,
        line=f"Checkouts do not compare with it: {why}." if why else "Checkouts compare with it.",
        deeds=(
            Deed("The instrument", "sheet", "instrument", instrument),
            Deed("The check source", "sheet", "source", str(body["source"])),
            *_calibration_deed(body),
            Deed(
                "replace the check source",
                "form",
                "source-replace",
                instrument,
                may_not(site, person, "reference") or why,
            ),
        ),
    )


def sections(site: Site, state: InstrumentState) -> tuple[Section, ...]:
    """What the instrument's sheet says of its references: those that count, what is missing, and the ratios so far."""
    settings, now = site.settings(), site.clock.now()
    counting = in_force(state, now.utc, settings)
    has = {(str(e.body["role"]), str(e.body["scale"]), str(e.body["geometry"])) for e in counting}
    missing = [each for each in wanted(site, state) if (each.role, each.scale, each.geometry) not in has]
    columns = (
        Column("role"),
        Column("source"),
        Column("scale"),
        Column("geometry", gives_way=2),
        Column("reference", figures=True),
        Column("taken", gives_way=1),
        Column("expected today", figures=True),
    )
    found: list[Section] = [
        Grid(
            columns,
            tuple(_in_force_row(site, event) for event in counting),
            "Reference readings that count",
            "none: it cannot become fit for use",
        )
    ]
    if missing:
        found.append(Lines(tuple(f"There is no reference reading for: {each}." for each in missing), tone="bad"))
    rows = tuple(_history_row(site, event, event in counting) for event in state.references[:LATEST])
    if rows:
        found.append(
            Grid(
                (
                    Column("taken"),
                    Column("source"),
                    Column("scale"),
                    Column("geometry", gives_way=2),
                    Column("reference", figures=True),
                    Column("ratio to the former", figures=True),
                    Column("counts", least=4),
                ),
                rows,
                "Reference readings so far",
            )
        )
    return tuple(found)


def _label(site: Site, thing_id: object) -> str:
    return str(site.journal.thing_now(str(thing_id)).fields.get("label", "")) if thing_id else ""


def _why_not(site: Site, state: InstrumentState, event: Event) -> str:
    """Why checkouts do not compare with a reference, in words; "" when they do."""
    settings, now = site.settings(), site.clock.now().utc
    if state.calibration is None or event.body["calibration"] != state.calibration.event:
        return "there was another calibration since, or none is in force"
    since = since_calibration(state)
    if event not in since:
        return "the instrument was repaired since"
    if reference_too_old(event.utc, now, settings):
        return "it is older than the site's rule allows"
    newest = next(each for each in since if key_of(each) == key_of(event))
    return "" if newest == event else "there is a newer one"


def _what(site: Site, body: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    rows = (
        ("role", str(body["role"])),
        ("check source", _label(site, body["source"])),
        ("jig", _label(site, body["jig"])),
        ("scale", str(body["scale"])),
        ("geometry", str(body["geometry"])),
        ("orientation", str(body.get("orientation", ""))),
    )
    return tuple((name, value or "none") for name, value in rows)


def _figures(site: Site, event: Event) -> tuple[tuple[str, str], ...]:
    body = event.body
    value = _quantity(body["value"])
    rows = [("reference", f"{said(value[0], 5)} {value[1]}"), ("as recorded", str(body["value"]))]
    relative = _number(body["relative_uncertainty"])
    if relative is not None:
        rows.append(("standard uncertainty", f"{said(relative * value[0], 3)} {value[1]} ({100 * relative:.2f} %)"))
    parts = {**_table(body.get("uncertainty_parts"))}
    rows += [(f"  {part_name(name)}", f"{said(part, 3)} {value[1]}") for name, part in parts.items()]
    parts = _table(body.get("relative_parts"))
    rows += [(f"  {part_name(name)}", f"{100 * part:.3g} %") for name, part in parts.items()]
    rows.append(("readings that count", str(body["n"])))
    stdev, cv = _number(body.get("stdev")), _number(body.get("cv"))
    if stdev is not None and cv is not None:
        rows += [
            ("standard deviation", f"{said(stdev, 3)} {value[1]}"),
            ("coefficient of variation", f"{100 * cv:.2f} %"),
        ]
    rows.append(("background taken off", f"{body['background']} {value[1]}" if body["background"] else "none"))
    if body["temperature_c"] is not None and body["pressure_kpa"] is not None:
        rows.append(("air", f"{body['temperature_c']} °C, {body['pressure_kpa']} kPa"))
    rows.append(("expected today", _today(site, event)))
    return tuple(rows)


def _today(site: Site, event: Event) -> str:
    """What the reference comes to today by decay, in the air it was taken in."""
    try:
        unit = read_quantity(str(event.body["value"])).unit
        return f"{said(brought_to(site, event, unit, site.clock.now(), None).value)} {unit}"
    except (Trouble, KeyError, TypeError, ValueError, ArithmeticError):
        return "not known"


def _readings(body: Mapping[str, Any]) -> tuple[Row, ...]:
    unit = _quantity(body["value"])[1]
    good = [Row((str(n), f"{each} {unit}", "")) for n, each in enumerate(body["readings"], 1)]
    bad = [
        Row(("", f"{each.get('figure', '')} as printed", str(each.get("why", ""))), tone="warn")
        for each in body.get("rejected") or ()
        if isinstance(each, Mapping)
    ]
    return (*good, *bad)


def _former(site: Site, body: Mapping[str, Any]) -> tuple[Section, ...]:
    former, ratio = body.get("former"), ratio_of(body)
    if not isinstance(former, Mapping):
        return ()
    then = site.journal.by_hash(str(former.get("event", "")))
    rows = [("former reference", str(then.body.get("value", "")) if then is not None else "not in these records")]
    rows.append(("decayed to this one's day", _rounded(former.get("expected"))))
    rows.append(("ratio new to former", f"{ratio:.4f}" if ratio is not None else str(former.get("why_not", ""))))
    if body.get("reason"):
        rows.append(("reason for the change", str(body["reason"])))
        rows.append(("second person", str(site.journal.thing_now(str(body.get("second"))).fields.get("name", ""))))
    return (Pairs(tuple(rows), "Beside the former reference"),)


def _carried(site: Site, body: Mapping[str, Any]) -> tuple[Section, ...]:
    came = body.get("carried_from")
    if not isinstance(came, Mapping):
        return ()
    unit = _quantity(body["value"])[1]
    ratio, cv = _number(came.get("ratio")), _number(came.get("pair_cv"))
    rows = (
        ("carried over from source", _label(site, came.get("source"))),
        ("expected of it that day", _rounded(came.get("expected"))),
        ("ratio new to old", f"{ratio:.4f}" if ratio is not None else ""),
        ("coefficient of variation of the ratios", f"{100 * cv:.2f} %" if cv is not None else ""),
    )
    old = came.get("readings")
    pairs = zip(old if isinstance(old, list) else (), body["readings"], strict=False)
    grid = Grid(
        (Column("pair", figures=True), Column("old source", figures=True), Column("new source", figures=True)),
        tuple(Row((str(n), f"{a} {unit}", f"{b} {unit}")) for n, (a, b) in enumerate(pairs, 1)),
        "Pairs",
    )
    return (Pairs(rows, "Carried over"), grid)


def _calibration_deed(body: Mapping[str, Any]) -> tuple[Deed, ...]:
    return (Deed("Its calibration", "sheet", "calibration", body["calibration"]),) if body["calibration"] else ()


def _opens(event: Event) -> Deed:
    return Deed("look at it", "sheet", "reference", event.hash)


def _day(site: Site, event: Event) -> str:
    from procedures.site.local_time import said as said_time

    return said_time(site, event.utc)[:10]


def _in_force_row(site: Site, event: Event) -> Row:
    body = event.body
    value, unit = _quantity(body["value"])
    cells = (
        str(body["role"]),
        _label(site, body["source"]),
        str(body["scale"]),
        str(body["geometry"]),
        f"{said(value)} {unit}",
        _day(site, event),
        _today(site, event),
    )
    return Row(cells, _opens(event), key=event.hash)


def _history_row(site: Site, event: Event, counts: bool) -> Row:
    body, ratio = event.body, ratio_of(event.body)
    value, unit = _quantity(body["value"])
    carried = " (carried over)" if body.get("carried_from") else ""
    cells = (
        _day(site, event),
        _label(site, body["source"]),
        str(body["scale"]),
        str(body["geometry"]),
        f"{said(value)} {unit}",
        (f"{ratio:.4f}" if ratio is not None else "first") + carried,
        "yes" if counts else "no",
    )
    tone: Tone = "" if counts else "quiet"
    return Row(cells, _opens(event), tone, event.hash)


def ratio_of(body: Mapping[str, Any]) -> float | None:
    """The ratio of a reference to the former one of its kind, as it was recorded; None where there is none."""
    former = body.get("former")
    return _number(former.get("ratio")) if isinstance(former, Mapping) else None


def _quantity(text: object) -> tuple[float, str]:
    try:
        found = read_quantity(str(text))
    except Trouble:
        return 0.0, "(cannot be read)"
    return float(found.value), found.unit


def _rounded(text: object) -> str:
    value, unit = _quantity(text) if text else (0.0, "not known")
    return f"{said(value)} {unit}" if text else unit


def _number(value: object) -> float | None:
    return float(value) if type(value) in (int, float) else None  # type: ignore[arg-type]


def _table(value: object) -> dict[str, float]:
    rows = value.items() if isinstance(value, Mapping) else ()
    return {str(name): found for name, part in rows if (found := _number(part)) is not None}
