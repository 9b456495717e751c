"""A section through a pump: shaft, discs, eye and collector, to one scale."""

import math

from reports.kit.quantities import quantity
from reports.kit.svg import Drawing
from reports.run.facts import Candidate

WIDTH = 420.0
MOST_HEIGHT = 330.0
MOST_DISCS = 40
"""More discs are drawn as so many, of the same height together."""


def section(candidate: Candidate) -> Drawing:
    """Draw half a section above the axis, and the other below it."""
    values = {key: float(v) for key, v in candidate.values.items() if not isinstance(v, str)}
    rim, eye, shaft = (
        1e3 * values[k] / 2 for k in ("disc_diameter", "eye_diameter", "shaft_diameter")
    )
    tall = 1e3 * values["stack_height"]
    throat = 1e3 * math.sqrt(4 * values["throat_area"] / math.pi)
    room, beside = 1e3 * values["rim_clearance"], 1e3 * values["side_gap"]
    wall = 4.0
    outside = rim + room + throat + wall
    across = tall + 2 * beside + 2 * wall + 60.0
    scale = min((WIDTH - 20) / across, (MOST_HEIGHT - 70) / (2 * outside))
    height = 2 * outside * scale + 70
    drawing = Drawing(WIDTH, height, says=_said(candidate))
    middle = height / 2
    start = (WIDTH - scale * (tall + 2 * beside)) / 2

    def x(along: float) -> float:
        return start + scale * along

    def both(along: float, long: float, inner: float, outer: float, look: str) -> None:
        """Draw a ring cut through: a box above the axis and one below."""
        for up in (middle - scale * outer, middle + scale * inner):
            size = (max(scale * long, 0.6), max(scale * (outer - inner), 0.6))
            drawing.box((x(along), up), size, look)

    bottom, top = 0.0, tall + 2 * beside
    ends = round(values["suction_ends"])
    # Casing: end walls, collector around the rim.
    both(bottom - wall, wall, eye if ends >= 1 else shaft, outside, "grey edge")
    both(top, wall, eye if ends == 2 else shaft, outside, "grey edge")
    both(bottom, top, outside - wall, outside, "grey edge")
    both(bottom, top, rim + room, outside - wall, "air edge")
    # Discs.
    count = round(values["disc_count"])
    shown = min(count, MOST_DISCS)
    pitch = tall / max(shown, 1)
    thick = max(pitch * 1e3 * values["disc_thickness"] * count / max(tall, 1e-9), 0.2 * pitch)
    for place in range(shown):
        both(beside + pitch * place, min(thick, pitch), eye, rim, "metal")
    both(beside, tall, 0.0, shaft, "metal")
    drawing.box((8, middle - scale * shaft), (WIDTH - 16, 2 * scale * shaft), "metal edge")
    drawing.line((2, middle), (WIDTH - 2, middle), "cut")
    drawing.text(
        (x(bottom - wall) - 6, middle - scale * (eye + shaft) / 2 + 4), "in →", "air", anchor="end"
    )
    if ends == 2:
        drawing.text((x(top + wall) + 6, middle - scale * (eye + shaft) / 2 + 4), "← in", "air")
    drawing.text(
        (WIDTH / 2, middle - scale * outside - 22),
        "collector, to the throat",
        "air",
        anchor="middle",
    )
    drawing.text(
        (WIDTH / 2, height - 8),
        f"discs {quantity('disc_diameter', values['disc_diameter'])}, eye "
        f"{quantity('eye_diameter', values['eye_diameter'])}, throat "
        f"{quantity('throat_area', values['throat_area'])}",
        "soft",
        anchor="middle",
    )
    return drawing


def view(candidate: Candidate) -> Drawing:
    """Draw what is seen from the suction end: discs, eye, shaft, and the collector around them."""
    values = {key: float(v) for key, v in candidate.values.items() if not isinstance(v, str)}
    rim, eye, shaft = (
        1e3 * values[key] / 2 for key in ("disc_diameter", "eye_diameter", "shaft_diameter")
    )
    throat = 1e3 * math.sqrt(4 * values["throat_area"] / math.pi)
    inside = rim + 1e3 * values["rim_clearance"]
    port = 1e3 * values["port_diameter"]
    outside, rise = inside + throat, inside + 30
    scale = min((WIDTH - 20) / (2 * outside + 20), (MOST_HEIGHT - 40) / (outside + rise))
    middle = (WIDTH / 2, 22 + scale * rise)
    says = f"View on the suction end: collector around the discs, with a throat of {throat:.0f} mm."
    drawing = Drawing(WIDTH, (outside + rise) * scale + 40, says=says)
    # The collector's area grows evenly with the angle, from nothing to the throat.
    turns = [2 * math.pi * step / 90 for step in range(91)]
    reach = [scale * (inside + throat * math.sqrt(turn / (2 * math.pi))) for turn in turns]
    around = [
        (middle[0] + far * math.cos(turn), middle[1] + far * math.sin(turn))
        for far, turn in zip(reach, turns, strict=True)
    ]
    drawing.curve(around, "air", "collector")
    inner, wide = middle[0] + scale * inside, scale * throat
    half = scale * port / 2
    drawing.curve([around[-1], (inner + wide / 2 + half, 22.0)], "air", "cone")
    drawing.curve([(inner, middle[1]), (inner + wide / 2 - half, 22.0)], "air", "cone")
    drawing.text((inner + wide / 2, 14), "out", "air", anchor="middle")
    for radius in (inside, rim, eye, shaft):
        drawing.circle(middle, scale * radius, "round")
    drawing.text((middle[0], middle[1] - scale * (rim + eye) / 2), "discs", "soft", anchor="middle")
    drawing.text((middle[0], middle[1] + scale * eye + 14), "eye", "soft", anchor="middle")
    return drawing


def _said(candidate: Candidate) -> str:
    values = candidate.values
    return (
        f"Section: {round(float(values['disc_count']))} discs of "
        f"{quantity('disc_diameter', values['disc_diameter'])} on a shaft, "
        f"{quantity('gap', values['gap'])} apart; the fluid enters through an eye of "
        f"{quantity('eye_diameter', values['eye_diameter'])} and leaves into a collector around "
        f"the rim with a throat of {quantity('throat_area', values['throat_area'])}."
    )
