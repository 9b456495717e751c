"""Chart of the flow in the plane of the discs: speed over arc and radius, with path lines."""

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RegularGridInterpolator

from engine.physics.plane.answer import PlaneField
from reports.kit.charts import PAPER, SOFT, VERMILLION, Chart, blank, drawing, plain
from reports.kit.quantities import quantity
from reports.run.facts import Candidate

MOST_COLUMNS = 240
"""Most columns of the picture; of more, neighbours are put together."""
PATHS = 4
"""Path lines from one mouth."""
STEP, LEAST = 0.5, 0.1
"""Step of a path over the depth of a cell; least such depth, over the largest."""
LONGEST = 4000
"""Most steps of a path."""

Floats = NDArray[np.float64]


def plane_chart(letter: str, candidate: Candidate) -> Chart | None:
    """Draw the field of a candidate; None where it was not followed in the plane."""
    flow = candidate.plane
    if flow is None or not flow.settled:
        return None
    field = flow.field
    rim = field.faces[field.n_gap]
    figure = blank()
    speed, sides = _thinned(np.hypot(field.radial_speed, field.swirl), field.sides)
    figure.add_heatmap(
        x=drawing("disc_diameter", sides * rim),
        y=drawing("disc_diameter", field.faces),
        z=[[float(f"{value:.3g}") for value in row] for row in speed.tolist()],
        colorscale="Cividis",
        hovertemplate="%{z:.3r} m/s at %{x:.4r}, radius %{y:.4r} mm<extra></extra>",
        colorbar={
            "title": {"text": "m/s", "side": "right", "font": {"size": 13}},
            "thickness": 10,
            "outlinewidth": 0,
            "tickcolor": SOFT,
        },
    )
    for angle, radius in _paths(field, flow.mouth_arc / field.faces[-1]):
        figure.add_scatter(
            x=[_or_none(x) for x in drawing("disc_diameter", angle * rim)],
            y=[_or_none(y) for y in drawing("disc_diameter", radius)],
            mode="lines",
            line={"color": VERMILLION, "width": 1.5},
            hoverinfo="skip",
            showlegend=False,
        )
    figure.add_shape(
        type="line",
        x0=0,
        x1=1,
        xref="x domain",
        y0=drawing("disc_diameter", np.array([rim]))[0],
        y1=drawing("disc_diameter", np.array([rim]))[0],
        line={"color": PAPER, "width": 1, "dash": "dot"},
    )
    around, inward = sides[[0, -1]] * rim, field.faces[[0, -1]]
    figure.update_layout(
        xaxis={
            "title_text": "Along the rim from the mouth [mm]",
            "range": drawing("disc_diameter", around),
            "nticks": 5,
            "showgrid": False,
        },
        yaxis={
            "title_text": "Radius [mm]",
            "range": drawing("disc_diameter", inward),
            "nticks": 6,
            "showgrid": False,
        },
        margin={"l": 48, "r": 6, "t": 6, "b": 46},
    )
    alt = (
        f"Speed around the rim of candidate {letter}, from one nozzle to the next and from bore to "
        f"casing: jets enter at {quantity('jet_speed', flow.jet_speed)}, and the gas enters the "
        f"gaps with a mean swirl of {quantity('rim_speed', flow.inflow_swirl)}."
    )
    return Chart(f"plane-{letter}", plain(figure), alt)


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


def _or_none(value: float) -> float | None:
    return None if np.isnan(value) else value
