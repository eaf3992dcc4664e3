"""What is seen and heard of a simulated instrument besides its indicator, in a few words each."""

from __future__ import annotations

from procedures.site.practising.views import Face


def beside(face: Face) -> tuple[str, ...]:
    """What else is seen and heard, in a few words each."""
    said = ["switched on" if face.on else "switched off"]
    if face.held:
        said.append(f"HELD DOWN: {', '.join(face.held)}")
    if face.lamps:
        said.append(f"lit: {', '.join(face.lamps)}")
    if face.sounds:
        said.append(f"it sounds: {', '.join(face.sounds)}")
    if face.clicks >= 0.1:
        said.append("clicks: " + ("a few" if face.clicks < 2 else "many" if face.clicks < 12 else "very many"))
    if face.counting:
        said.append(f"counting, {face.counting:.0f} s to go")
    said.append(f"source: {face.source}" if face.source else "no source is near")
    if face.slide:
        said.append(f"slide {face.slide}")
    if face.case != "shut":
        said.append(f"case {face.case}")
    return tuple(said)


def seen_closely(face: Face) -> tuple[str, ...]:
    """What is seen by somebody who looks closely: the case, the window, the label; thermometer and barometer."""
    look = face.look
    rows = (
        ("case", look.case),
        ("a survey of the outside", look.outside),
        ("cable", look.cable),
        ("window", look.window),
        ("desiccant", look.desiccant),
        ("label: calibrated on", look.calibrated.isoformat() if look.calibrated else "no date to be read"),
        ("label: due on", look.due.isoformat() if look.due else "no date to be read"),
    )
    room = face.room
    return (
        *(f"{name}: {value}" for name, value in rows if value),
        *look.remarks,
        f"In the room: {room.temperature_c:.1f} °C, {room.pressure_kpa:.1f} kPa, {room.humidity:.0f} % humidity",
    )
