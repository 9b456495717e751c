"""A design as a shop is told it: its sizes rounded by `shop_sizes`, and computed again.

Drawings, files, tables and readings are all made from what this gives, so that they agree. The
report keeps the numbers of the search.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from engine.bands.results import evaluate_judged
from engine.columns import CHANCE_ALL, COLUMNS, FAILING_SPEEDS, Results
from engine.errors import Problem, StudyError
from engine.model.evaluation import builds_of
from engine.model.limits import MATCHED, violations, with_standing
from engine.model.pump.stack import as_stack, stack_of
from engine.model.shaft_layout import shaft_layout
from engine.physics.flow.geometry import stack_height
from engine.run.finish import finished
from engine.stage_columns import staged
from engine.study.study import Study
from reports.design.collector import throat_width
from reports.design.outlines import Web, blocked_share, web_of
from reports.design.shop_sizes import DIAL, FINE_CUT, HALF, cut, dial, rounded

TELLS = 0.005
"""Change of a result, over it, from which the sheet tells it; of a chance, as it is."""
TOLD = (
    *("electric_power", "resolved_power", "electric_power_p10", "shaft_power", CHANCE_ALL),
    *("mass_flow", "free_air_flow", "supply_efficiency", "turbine_efficiency", "safety_margin"),
    *("stress_margin", "gap_hold", "stored_energy", "runaway_ratio", "peak_ratio", *FAILING_SPEEDS),
    *("bearing_load", "bearing_life", "permissible_unbalance", "rotor_mass", "axial_thrust"),
    *("flow", "head", "shutoff_head", "wire_to_water", "npsh_margin", "motor_load"),
    *("free_passage", "motor_limit_speed"),
)
"""Results whose change is looked at: those on the sheet."""
SAME = 1e-9
"""Lengths [mm], angles [rad] and ratios that differ by less are the same."""
ROUNDS = 6


def _by(step: float) -> Callable[[float], float]:
    return lambda size: rounded(size, step)


FOUND: Mapping[str, Callable[[float], float]] = {
    "disc_diameter": cut,
    "exhaust_bore": cut,
    "eye_diameter": cut,
    "port_diameter": cut,
    "ring_length": cut,
    "shaft_diameter": dial,
    "gap": dial,
    "disc_thickness": dial,
    **dict.fromkeys(staged("nozzle_width"), dial),
    "rim_clearance": _by(HALF),
    "seal_clearance": _by(HALF),
    "side_gap": _by(FINE_CUT),
    "bearing_allowance": _by(FINE_CUT),
}
"""How a size is rounded that a search has found between two ends."""


@dataclass(frozen=True)
class Rounding:
    """What rounding did, SI."""

    sizes: tuple[tuple[str, float, float], ...] = ()
    """Key, before and after, of each number of the build that it changed."""
    results: tuple[tuple[str, float, float], ...] = ()
    """The same of each result that it moves by more than `TELLS`."""
    missed: tuple[str, ...] = ()
    """Limits that the design keeps only unrounded."""


def as_made(study: Study, front: Results, row: int) -> tuple[Results, Rounding]:
    """Round a design of a front and compute it again: the front with that row, and what moved.

    Raises
    ------
    NoWebError
        Where no hub with spokes or holes fills the blocked share.
    StudyError
        Where nothing runs once the sizes are rounded.
    """
    found = {key: values[row : row + 1] for key, values in front.items()}
    level = {key: found[key] for key in ("gap_flow",) if key in found}
    build = {**builds_of(study, found), **level}
    sizes = _sizes(study, {key: values[0] for key, values in build.items()})
    if not sizes:
        return front, Rounding()
    made = build | {key: np.array([after]) for key, (_, after) in sizes.items()}
    results = finished(study, evaluate_judged(study, made))
    number = int(float(front["design"][row]))
    if results["status"][0] != MATCHED:
        raise StudyError([_nothing_runs(number, str(results["status"][0]))])
    limits = with_standing(study.all_limits, study.works_as)
    missed = violations(results, limits)[0] > violations(found, limits)[0]
    told = tuple((key, *sizes[key]) for key in sizes)
    moved = tuple(
        (key, float(found[key][0]), float(results[key][0]))
        for key in TOLD
        if key in found and key in results and _moves(key, found[key][0], results[key][0])
    )
    names = tuple(name for name, is_missed in zip(limits, missed, strict=True) if is_missed)
    return _replaced(front, row, results), Rounding(told, moved, names)


def web_from(values: Mapping[str, Any]) -> Web:
    """Draw the web of a build, SI; raises NoWebError."""
    return web_of(
        shaft_diameter=_drawn("shaft_diameter", values),
        exhaust_bore=_drawn("exhaust_bore", values),
        blockage=float(values["exhaust_blockage"]),
        spokes=round(float(values["spokes"])),
        holes=str(values["hold"]) == "holes",
    )


def _sizes(study: Study, build: Mapping[str, Any]) -> dict[str, tuple[float, float]]:
    """Find the numbers of a build that rounding changes: before and after."""
    fitted = set() if study.fit is None else set(study.fit.drawn)
    open_spans = {key for key, given in study.searched().items() if given.values is None}
    made = dict(build)
    for key in open_spans & set(FOUND) - fitted:
        made[key] = FOUND[key](_drawn(key, build)) / 1e3
    # What the drawing works out, from what is rounded by now.
    if study.kind == "pump":
        made |= _of_pump(made)
    else:
        made |= _of_turbine(made)
    if abs(float(made["drive_ratio"]) - 1) > SAME:
        lane = stack_of({key: np.array([value]) for key, value in made.items()})
        layout = shaft_layout(lane, height=np.zeros(1))
        made["drive_ratio"] = float(layout.generator_teeth[0] / layout.teeth[0])
    numbers = {
        key: (float(build[key]), float(made[key])) for key in made if made[key] != build[key]
    }
    return {key: pair for key, pair in numbers.items() if _differ(key, *pair)}


def _of_pump(made: Mapping[str, Any]) -> dict[str, float]:
    """Throat as it is cut, and the share of the eye that the web as drawn blocks."""
    height = float(
        stack_height(
            disc_count=float(made["disc_count"]),
            disc_thickness=float(made["disc_thickness"]),
            gap=float(made["gap"]),
        )
    )
    tall = float(COLUMNS["gap"].to_drawing(height))
    width = throat_width(throat_area=_drawn("throat_area", made), height=tall)
    return {
        "throat_area": float(COLUMNS["throat_area"].to_si(width * tall)),
        "eye_blockage": _share(as_stack(dict(made))),
    }


def _of_turbine(given: Mapping[str, Any]) -> dict[str, Any]:
    """Jets and land as they are drawn, and the share of the exhaust that the web blocks."""
    made = dict(given)
    rim, width = _drawn("disc_diameter", made) / 2, _drawn("nozzle_width", made)
    offset = dial(rim * math.cos(float(made["inlet_angle"])))
    made["inlet_angle"] = math.acos(min(offset, rim - DIAL) / rim)
    made["nozzle_land"] = rounded(float(made["nozzle_land"]) * width, FINE_CUT) / width
    if made["nozzle_form"] == "convergent-divergent":
        made["nozzle_area_ratio"] = dial(float(made["nozzle_area_ratio"]) * width) / width
    made["exhaust_blockage"] = _share(made)
    return made


def _differ(key: str, before: float, after: float) -> bool:
    scale = 1e3 if COLUMNS[key].unit.dimension == "length" else 1.0
    return scale * abs(after - before) > SAME


def _share(build: Mapping[str, Any]) -> float:
    """Give the blocked share of the web as drawn: that share is drawn as the same web again."""
    share = float(build["exhaust_blockage"])
    for _ in range(ROUNDS):
        drawn = blocked_share(web_from({**build, "exhaust_blockage": share}))
        if abs(drawn - share) < SAME:
            break
        share = drawn
    return share


def _moves(key: str, before: Any, after: Any) -> bool:
    one, two = float(before), float(after)
    if not (math.isfinite(one) and math.isfinite(two)):
        return math.isfinite(one) != math.isfinite(two)
    return abs(two - one) > TELLS * (1.0 if key == CHANCE_ALL else abs(one))


def _replaced(front: Results, row: int, results: Results) -> Results:
    """Put results in a row; what only a run knows of a design stays."""
    found = {}
    for key, values in front.items():
        found[key] = values.copy()
        if key in results:
            wide = np.result_type(values, results[key])
            found[key] = values.astype(wide)
            found[key][row] = results[key][0]
    return found


def _drawn(key: str, values: Mapping[str, Any]) -> float:
    return float(COLUMNS[key].to_drawing(float(values[key])))


def _nothing_runs(number: int, status: str) -> Problem:
    return Problem(
        file="build",
        key=f"design {number}",
        found=f"with its sizes rounded as a shop reads them: {status}",
        expected="an operating point",
        remedy="build another design of the run; this one hangs on hundredths of a millimetre",
    )
