"""The flow in the plane of the discs: speed over arc and radius, with path lines.

It is unrolled, not drawn as a ring: the clearance is a fiftieth of the radius, and jets and paths
would lie on top of each other. The field is a small picture inside the drawing; its blues are the
same on dark paper.
"""

import base64
import math
import struct
import zlib
from collections.abc import Mapping, Sequence

import numpy as np
from markupsafe import escape
from numpy.typing import NDArray
from scipy.interpolate import RegularGridInterpolator

from engine.physics.plane.answer import PlaneField, PlaneFlow
from reports.kit.quantities import number, quantity
from reports.kit.scales import Scale
from reports.kit.svg import Drawing
from reports.run.facts import Candidate

MOST_COLUMNS = 240
"""Most columns of the picture; of more, neighbours are put together."""
ROWS = 120
"""Rows of the picture."""
PATHS = 4
"""Path lines from one mouth."""
STEP, LEAST = 0.5, 0.1
"""Step of a path over the depth of a cell; least such depth, over the largest."""
LONGEST = 4000
"""Most steps of a path."""
SHADES = ((233, 242, 247), (126, 177, 209), (18, 74, 110))
"""Colours of the slowest, middle and fastest fluid."""

Floats = NDArray[np.float64]


def plane_charts(candidates: Sequence[Candidate]) -> Mapping[str, Drawing]:
    """Draw the field of each build that was followed in the plane and came to rest."""
    known = [(c, c.plane) for c in candidates if c.plane is not None and c.plane.settled]
    fastest = max((float(_speed(flow.field).max()) for _, flow in known), default=1.0)
    return {each.roles[0]: _plane_chart(each, flow, fastest) for each, flow in known}


def _speed(field: PlaneField) -> Floats:
    return np.hypot(field.radial_speed, field.swirl)


def _plane_chart(candidate: Candidate, flow: PlaneFlow, fastest: float) -> Drawing:
    field = flow.field
    rim = float(field.faces[field.n_gap]) * 1e3
    says = (
        f"{candidate.name}: speed around the rim, from one nozzle to the next and from bore to "
        f"casing: jets enter at {quantity('jet_speed', flow.jet_speed)}, and the fluid enters the "
        f"gaps with a mean swirl of {quantity('rim_speed', flow.inflow_swirl)}."
    )
    drawing = Drawing(400, 320, says=says)
    speed, sides = _thinned(_speed(field), field.sides)
    faces = field.faces * 1e3
    x = Scale(float(sides[0]) * rim, float(sides[-1]) * rim, 46, 392, "mm")
    y = Scale(float(faces[0]), float(faces[-1]), 256, 40, "mm")
    shown = _as_picture(speed, sides, faces, fastest)
    drawing.parts.append(
        f'<image x="46" y="40" width="346" height="216" preserveAspectRatio="none" '
        f'href="data:image/png;base64,{escape(shown)}"/>'
    )
    drawing.axes(x, y, across="along the rim from the mouth, mm", up="Radius, mm", ticks=(5, 6))
    for angle, radius in _paths(field, flow.mouth_arc / field.faces[-1]):
        every = max(1, len(angle) // 200)
        points = [
            (x(a * rim), y(r * 1e3)) for a, r in zip(angle.tolist(), radius.tolist(), strict=True)
        ]
        kept = [p for n, p in enumerate(points) if n % every == 0 or not math.isfinite(p[0])]
        drawing.curve(kept, "on-picture")
    drawing.line((46, y(rim)), (392, y(rim)), "upright dot")
    words = f"light: slow; dark: {number(fastest)} m/s"
    drawing.text((392, 18), words, "soft", anchor="end", size=12)
    return drawing


def _as_picture(speed: Floats, sides: Floats, faces: Floats, fastest: float) -> str:
    """Write a field on uneven rows and columns as a PNG of even ones, base64."""
    across = np.linspace(sides[0], sides[-1], min(MOST_COLUMNS, 2 * speed.shape[1]))
    up = np.linspace(faces[-1], faces[0], ROWS)
    columns = np.clip(np.searchsorted(sides, across) - 1, 0, speed.shape[1] - 1)
    rows = np.clip(np.searchsorted(faces, up) - 1, 0, speed.shape[0] - 1)
    share = np.clip(speed[np.ix_(rows, columns)] / fastest, 0, 1)
    stops = np.array(SHADES, dtype=float)
    at = np.linspace(0, 1, len(SHADES))
    colours = np.stack([np.interp(share, at, stops[:, place]) for place in range(3)], axis=-1)
    return base64.b64encode(_png(colours.round().astype(np.uint8))).decode()


def _png(pixels: NDArray[np.uint8]) -> bytes:
    """Write pixels, (row, column, 3), as PNG (ISO/IEC 15948): no filter, one block of data."""
    rows, columns, _ = pixels.shape

    def chunk(kind: bytes, data: bytes) -> bytes:
        whole = kind + data
        return struct.pack(">I", len(data)) + whole + struct.pack(">I", zlib.crc32(whole))

    lines = b"".join(b"\0" + row.tobytes() for row in pixels)
    head = struct.pack(">IIBBBBB", columns, rows, 8, 2, 0, 0, 0)
    parts = (chunk(b"IHDR", head), chunk(b"IDAT", zlib.compress(lines, 9)), chunk(b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


def _thinned(values: Floats, sides: Floats) -> tuple[Floats, Floats]:
    """Put neighbouring columns together until there are few enough."""
    together = -(-values.shape[1] // MOST_COLUMNS)
    starts = np.arange(0, values.shape[1], together)
    widths = np.diff(sides)
    sums = np.add.reduceat(values * widths, starts, axis=1)
    return sums / np.add.reduceat(widths, starts), sides[[*starts.tolist(), -1]]


def _paths(field: PlaneField, mouth: float) -> list[tuple[Floats, Floats]]:
    """Angles and radii along path lines from places across a mouth; NaN where a line goes round."""
    sector = float(field.sides[-1])
    middle = (field.sides[1:] + field.sides[:-1]) / 2
    rows = (field.faces[1:] + field.faces[:-1]) / 2
    # A column more at either end, as the flow goes round.
    angles = np.concatenate([middle[-1:] - sector, middle, middle[:1] + sector])
    around, inward = (
        RegularGridInterpolator(
            (rows, angles),
            np.concatenate([speed[:, -1:], speed, speed[:, :1]], axis=1),
            bounds_error=False,
            fill_value=None,
        )
        for speed in (field.swirl, field.radial_speed)
    )
    bore, casing, depths = float(field.faces[0]), float(field.faces[-1]), np.diff(field.faces)

    def speeds(a: Floats, r: Floats) -> tuple[Floats, Floats]:
        place = np.stack([np.clip(r, bore, casing), a % sector], axis=-1)
        return around(place) / r, inward(place)

    # All paths together, in steps of half a cell (Heun), until each is at the bore.
    angle = (np.arange(PATHS) + 0.5) / PATHS * mouth
    radius = np.full(PATHS, casing - depths[-1] / 2)
    found = [(angle, radius)]
    for _ in range(LONGEST):
        turning, rising = speeds(angle, radius)
        row = np.clip(np.searchsorted(field.faces, radius) - 1, 0, depths.size - 1)
        size = np.maximum(depths[row], LEAST * depths.max())
        step = STEP * size / np.maximum(np.abs(rising), 0.2 * np.abs(turning) * radius + 1e-9)
        step = np.where(radius <= bore, 0.0, step)
        later = speeds(angle + step * turning, radius + step * rising)
        angle = angle + step * (turning + later[0]) / 2
        radius = np.clip(radius + step * (rising + later[1]) / 2, bore, casing)
        found.append((angle, radius))
        if np.all(radius <= bore):
            break
    angles, radii = (np.array(each).T for each in zip(*found, strict=True))
    return [_gone_round(a, r, sector) for a, r in zip(angles, radii, strict=True)]


def _gone_round(angle: Floats, radius: Floats, sector: float) -> tuple[Floats, Floats]:
    """Bring a path back into the sector, with a break wherever it goes round."""
    turns = np.floor(angle / sector)
    breaks = np.flatnonzero(np.diff(turns)) + 1
    return np.insert(angle - turns * sector, breaks, np.nan), np.insert(radius, breaks, np.nan)
