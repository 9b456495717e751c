"""Where the power goes: one bar a build, on one scale."""

import math
from collections.abc import Sequence

from engine.columns import COLUMNS
from reports.kit.quantities import number, percent, quantity
from reports.kit.scales import Scale
from reports.kit.svg import Drawing
from reports.run.facts import Candidate

PARTS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("terminals", "runs", ("electric_power",)),
    ("generator", "metal", ("loss_generator", "loss_drive")),
    ("shaft drag", "metal", ("loss_bearing", "loss_seal", "loss_windage")),
    ("leaks", "air", ("loss_leakage",)),
    ("leaving", "air", ("loss_leaving", "loss_incidence")),
    ("in the gaps", "air", ("loss_gap", "loss_entry", "loss_bolts")),
    ("casing friction", "air", ("loss_casing",)),
    ("jets", "air", ("loss_nozzle", "loss_mixing", "loss_hose")),
)
"""Parts of a bar: name, look, and the columns that it adds up."""
OF_PUMP: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("lifts the fluid", "runs", ("hydraulic_power",)),
    ("motor", "metal", ("loss_motor", "loss_drive")),
    ("shaft drag", "metal", ("loss_bearing", "loss_seal")),
    ("end faces", "air", ("loss_windage", "loss_edge")),
    ("leaks back", "air", ("loss_leakage",)),
    ("eye", "air", ("loss_eye",)),
    ("in the gaps", "air", ("loss_gap", "loss_mouth")),
    ("collector", "air", ("loss_vaneless", "loss_throat", "loss_collector", "loss_cone")),
)
"""The same for a pump, from what it is for back to the motor."""


def parts_of(candidate: Candidate) -> list[tuple[str, str, float]]:
    """Add up the parts of a bar: name, look, watts."""
    values = candidate.values
    parts = PARTS
    if "hydraulic_power" in values:
        (lifts, look, keys), *others = OF_PUMP
        parts = ((lifts if "npsh_margin" in values else "moves the gas", look, keys), *others)
    return [
        (name, look, math.fsum(_watts(candidate, key) for key in keys))
        for name, look, keys in parts
    ]


def power_chart(candidates: Sequence[Candidate], width: float) -> Drawing:
    """Draw the bars, with the names of the parts above the first."""
    slim = width < 600
    left, thick, row = (0.0, 26.0, 62.0) if slim else (104.0, 30.0, 48.0)
    top = 62.0 if slim else 44.0
    height = top + row * len(candidates) + 6
    whole = max(_whole(each) for each in candidates)
    drawing = Drawing(width, height, says=_said(candidates), size=12 if slim else 13)
    x = Scale(0, whole, left, width - 2)
    for place, candidate in enumerate(candidates):
        y = top + row * place + (14 if slim else 0)
        with drawing.within("build", of=candidate.design):
            _bar(drawing, x, candidate, (y, thick), slim=slim)
        if place == 0:
            _name_parts(drawing, x, candidate, y, rows=3 if slim else 2)
    return drawing


def _bar(
    drawing: Drawing, x: Scale, candidate: Candidate, place: tuple[float, float], *, slim: bool
) -> None:
    """Draw one bar with its name; `place` is its top and how thick it is."""
    y, thick = place
    drawing.text((0, y - 6) if slim else (0, y + 20), candidate.name, bold=True, size=14)
    start = 0.0
    for name, look, watts in parts_of(candidate):
        if watts <= 0:
            continue
        at, wide = x(start), x(start + watts) - x(start)
        says = f"{candidate.name}, {name}: {_share(watts, _whole(candidate))}"
        drawing.box((at, y), (max(0.5, wide - 1.5), thick), f"{look} edge", says)
        words = number(watts, 3)
        if drawing.measure(words, bold=True) < wide - 6:
            inside = "on-runs" if look == "runs" else "on-fill"
            middle = (at + wide / 2, y + thick / 2 + 4.6)
            drawing.text(middle, words, inside, anchor="middle", bold=True)
        start += watts


def _name_parts(drawing: Drawing, x: Scale, candidate: Candidate, y: float, *, rows: int) -> None:
    """Name the parts of the first bar, in rows so that no two names touch."""
    ends = [-math.inf] * rows
    start = 0.0
    for name, _, watts in parts_of(candidate):
        if watts > 0:
            middle, half = x(start + watts / 2), drawing.measure(name) / 2
            spot = min(max(middle, half), drawing.width - half)
            row = next((r for r in range(rows) if spot - half > ends[r] + 6), None)
            if row is not None:
                up = y - 8 - 15 * row - (16 if rows == 3 else 0)
                if row:
                    drawing.line((middle, up + 3), (middle, y - 2), "grid")
                drawing.text((spot, up), name, "soft", anchor="middle")
                ends[row] = spot + half
        start += max(watts, 0.0)


def _whole(candidate: Candidate) -> float:
    return max(1e-9, math.fsum(max(0.0, watts) for _, _, watts in parts_of(candidate)))


def _watts(candidate: Candidate, key: str) -> float:
    watts = float(candidate.values.get(key, 0.0))
    return watts if math.isfinite(watts) else 0.0


def _share(watts: float, whole: float) -> str:
    return f"{quantity('electric_power', watts)}, {percent(watts / whole)}"


def _said(candidates: Sequence[Candidate]) -> str:
    told = "; ".join(
        f"{each.name}: " + ", ".join(f"{name} {number(watts)}" for name, _, watts in parts_of(each))
        for each in candidates
    )
    return f"Where the power goes, in {COLUMNS['electric_power'].unit.symbol}. {told}."
