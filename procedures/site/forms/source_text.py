"""What is typed about a check source, read into what a use case takes: certificate, nuclides, exemptions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from procedures.asks import Option
from procedures.sheets import FormField
from procedures.site.describing import read_fields
from procedures.site.forms.common import Taken, day, one_of, pin_field, yes
from procedures.site.source_facts import CERTIFIED_AS, EXEMPTIONS, FIELDS, certified_value, exemption_fits
from procedures.trouble import Trouble
from procedures.units import number_in, read_quantity, shown

if TYPE_CHECKING:
    from procedures.site.opening import Site

IDS: Final = (
    "label",
    "serial",
    "model",
    "nuclide",
    "components",
    "certified_as",
    "activity",
    "activity_on",
    "uncertainty",
    "emits",
    "strong",
    "leak_test_exempt",
    "leak_test_exempt_note",
)
"""Fields of the form; all but "strong" are called as the journal calls them."""

_CERTIFIED: Final = tuple(Option(each, each) for each in CERTIFIED_AS)
_EXEMPT: Final = tuple(Option(code or "none", words) for code, words in EXEMPTIONS.items())

STRONG: Final = (
    "A strong beta or neutron source is handled with the tool made for it, fingers and face away. If in doubt say yes "
    "and ask the radiation safety officer."
)


def fields(site: Site, values: Mapping[str, str]) -> tuple[FormField, ...]:
    """The fields, with what stands in them to begin with."""

    def stands(field: str) -> str:
        return values.get(field, "")

    return (
        FormField("label", "label", "scan", stands("label"), more="Scan the label that it carries."),
        FormField("serial", "serial number", value=stands("serial"), needed=False, more="As marked on the source."),
        FormField("model", "model", value=stands("model"), needed=False),
        FormField("nuclide", "main nuclide", value=stands("nuclide"), example="Cs-137"),
        FormField(
            "components",
            "all nuclides, if it holds several",
            "rows",
            stands("components"),
            needed=False,
            more="Share of what an instrument reads, on the day of the certificate. All together 100 %.",
            example="Cf-252 | 95 %",
            columns=("nuclide", "share"),
        ),
        FormField("certified_as", "certified as", "choice", stands("certified_as") or "activity", options=_CERTIFIED),
        FormField("activity", "certified value", value=stands("activity"), example="37 kBq, or 20000 /s"),
        FormField("activity_on", "certified on", "date", stands("activity_on")),
        FormField("uncertainty", "uncertainty of it", value=stands("uncertainty"), needed=False, example="5 %"),
        FormField("emits", "emits", value=stands("emits"), needed=False, example="gamma"),
        FormField("strong", "strong source", "yes-no", stands("strong"), more=STRONG),
        FormField(
            "leak_test_exempt",
            "no leak test, because",
            "choice",
            stands("leak_test_exempt") or "none",
            options=_EXEMPT,
            more="10 CFR 35.67. Local rules and the licence go first: claim it only where they allow it.",
        ),
        FormField(
            "leak_test_exempt_note",
            "rule or note",
            value=stands("leak_test_exempt_note"),
            needed=False,
            more="Which rule the claim rests on.",
        ),
        *pin_field(site),
    )


def stands_as(recorded: Mapping[str, Any]) -> dict[str, str]:
    """What is recorded of a source, as it is typed."""
    rows = [row for row in recorded.get("components") or () if isinstance(row, Mapping)]
    made = {name: str(recorded.get(name) or "") for name in IDS if name not in ("components", "strong")}
    made["components"] = "\n".join(f"{row.get('nuclide')} | {_percent(row.get('share'))}" for row in rows)
    made["strong"] = "yes" if recorded.get("strength") == "strong" else "no"
    made["certified_as"] = made["certified_as"] or "activity"
    made["leak_test_exempt"] = made["leak_test_exempt"] or "none"
    return made


def _percent(share: Any) -> str:
    from decimal import Decimal, InvalidOperation

    try:
        return f"{(100 * Decimal(str(share))).normalize():f} %"
    except InvalidOperation:
        return str(share)


def read(taken: Taken) -> dict[str, Any]:
    """What was typed as a use case takes it, its label left out; every mistake is kept under its field."""
    given: dict[str, Any] = {}
    for name in ("serial", "nuclide", "emits"):
        given[name] = taken.read(name, lambda text, name=name: read_fields("source", {name: text})[name])  # type: ignore[misc]
    for name in ("model", "uncertainty", "leak_test_exempt_note"):
        given[name] = taken.read(name, FIELDS[name])
    given["activity_on"] = taken.read("activity_on", day)
    given["certified_as"] = taken.optional("certified_as", one_of(_CERTIFIED)) or "activity"
    given["activity"] = taken.read("activity", lambda text: certified_value(given["certified_as"], text))
    given["strength"] = "strong" if taken.read("strong", yes) else ""
    try:
        given["components"] = FIELDS["components"](rows(taken.entered.get("components", "")))
        _main_is_among(given)
    except Trouble as trouble:
        taken.troubles["components"] = trouble
    code = taken.optional("leak_test_exempt", one_of(_EXEMPT)) or "none"
    given["leak_test_exempt"] = "" if code == "none" else code
    if not taken.troubles:
        taken.check("leak_test_exempt", lambda: exemption_fits(given["leak_test_exempt"], given))
    return given


def _main_is_among(given: Mapping[str, Any]) -> None:
    names = [row["nuclide"] for row in given["components"]]
    if names and given.get("nuclide") and given["nuclide"] not in names:
        raise Trouble(
            f"the main nuclide {given['nuclide']} is not among them",
            allowed="every nuclide with its share, the main one too",
            do="Add a line for it.",
        )


def rows(text: str) -> list[dict[str, str]]:
    """Nuclides with shares, one a line, such as "Cf-252 | 95 %"; a share is in percent. Raises Trouble otherwise."""
    made = []
    for line in text.splitlines():
        cells = [cell.strip() for cell in line.split("|")]
        if not any(cells):
            continue
        if len(cells) != 2 or not all(cells):
            raise Trouble(
                f"“{shown(line.strip())}” is not a nuclide and its share",
                allowed="a nuclide and a share, such as Cf-252 | 95 %",
                do="Enter the line again.",
            )
        share = cells[1] if cells[1].endswith("%") else f"{cells[1]} %"
        made.append({"nuclide": cells[0], "share": f"{number_in(read_quantity(share, like='%'), '%') / 100:f}"})
    return made
