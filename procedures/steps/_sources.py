"""Check sources inside a step: whether one may be used, taking it out, and bringing it back into its store.

The usual cautions hold and local rules come first: strong beta and neutron sources are handled with tools, plated faces
are never touched, and a source that is out is somebody's to watch.
"""

from __future__ import annotations

from procedures.asks import SOURCE_BACK, SOURCE_OUT, Scan
from procedures.facts import Facts, ReferenceFacts, ScaleFacts, SourceFacts
from procedures.steps.common import Script, choose, local_date, on_date, scan_until
from procedures.trouble import Trouble
from procedures.units import Quantity, convert, kind_of, read_quantity

TOOLS = "Use the tool made for it. Keep your fingers and your face away."
FACE = "Never touch the face of the source."


def why_no_source(source: SourceFacts | None, role: str) -> str:
    """Why no source of that role may be used, in words; "" when it may."""
    if source is None:
        return f"no check source is bound to “{role}” for this instrument"
    if source.trouble:
        return f"source {source.label}: {source.trouble}"
    return ""


def why_no_reference(
    reference: ReferenceFacts | None, source: SourceFacts, facts: Facts, scale: ScaleFacts, geometry: str = ""
) -> str:
    """Why there is nothing to compare a reading of this source with, in words; "" when there is."""
    where = f"source {source.label} on scale {scale.selector.name}" + (f", {geometry}" if geometry else "")
    if reference is None:
        return f"there is no reference reading of {where}"
    taken = local_date(reference.at, facts)
    calibrated = facts.instrument.calibrated_on
    if calibrated is not None and calibrated > taken:
        return f"there is no reference reading of {where} since the calibration of {on_date(calibrated)}"
    if reference.at > facts.opened:
        return f"the clock is in doubt: the reference reading of {where} is dated {on_date(taken)}, after now"
    if kind_of(reference.unit) != kind_of(scale.selector.unit):
        return f"the reference reading of {where} is in {reference.unit}, and the scale shows {scale.selector.unit}"
    if reference.value <= 0:
        return f"the reference reading of {where} is not above zero"
    return ""


def handling(source: SourceFacts) -> str:
    """The caution for taking this source in hand, out of its store and back."""
    strong = source.strong and ("beta" in source.emits or "neutron" in source.emits)
    return f"{TOOLS} {FACE}" if strong else FACE


def take_out(source: SourceFacts, facts: Facts) -> Script[None]:
    """Scans the source as it leaves its store, and its jig. A wrong one is asked again and passes nothing.

    After a failure it is still out, and is scanned all the same: what is at the instrument now is to be seen now.
    """
    label = source.label
    again = f"Scan the label of source {label} once more."
    say = f"Take source {label} from its store and scan its label." if facts.first_visit else again
    yield from scan_until(
        Scan(
            key="source",
            say=say,
            caution=handling(source),
            of="source",
            due=label,
            subject=source.id,
            mark=SOURCE_OUT,
        )
    )
    if source.jig:
        yield from scan_until(Scan(key="jig", say=f"Scan jig {source.jig}.", of="jig", due=source.jig))


def put_back(source: SourceFacts) -> Script[None]:
    """Scans the source as it goes back into its store."""
    say = f"Put source {source.label} back into its store and scan its label there."
    yield from scan_until(
        Scan(
            key="back",
            say=say,
            caution=handling(source),
            of="source",
            due=source.label,
            subject=source.id,
            mark=SOURCE_BACK,
        )
    )


def in_place(key: str, say: str, *, caution: str = "", more: str = "") -> Script[bool]:
    """Whether the source sits as the procedure says; asked twice at most."""
    options = (("in place", "It sits as described"), ("not in place", "It does not sit like that"))
    if (yield from choose(key, say, *options, caution=caution, more=more)) == "in place":
        return True
    notice = "Seat it as described. A source out of place makes a good instrument fail, and a bad one pass."
    again = yield from choose(f"{key}-2", say, *options, caution=caution, more=more, notice=notice)
    return again == "in place"


def still_out(source: SourceFacts) -> str:
    """What goes with a finding that comes while the source is out."""
    return f"Source {source.label} is out. Put it back into its store and scan it there."


def background_of(facts: Facts, scale: ScaleFacts) -> Quantity | None:
    """The background this checkout found, in the unit of `scale`; None when it found none.

    Trouble when it is of another kind.
    """
    finding, unit = facts.background(scale.selector.name), scale.selector.unit
    text = "" if finding is None else finding.fact("background")
    if not text:
        return None
    found = read_quantity(text)
    try:
        return convert(found, unit)
    except Trouble:
        raise Trouble(f"background was read in {found.unit}, and this scale shows {unit}") from None
