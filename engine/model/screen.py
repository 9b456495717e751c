"""Builds that miss a limit whatever flows through them: a grid looks for no flow in these.

What is known without flow: lengths and ratios, and a bound of some results. A gap holds no better
than without the bending of the discs, and no disc stands more than without heat and waves. So a
build is named only if the whole evaluation says that it misses the same limit. A bound that is NaN,
as where no hub fills the blocked share of the bore, is NaN in the whole evaluation too, and misses
its limit there.

Of the bundled lane workshop nine builds in ten are ruled out. Most of them have a shaft that bends.
"""

from collections.abc import Callable, Iterable
from functools import partial

import numpy as np
from numpy.typing import NDArray

from engine.catalogue import process_values, state_as_cut
from engine.columns import Builds, Results
from engine.model.dimensions import dimensions_of
from engine.model.limits import MATCHED, Limits, violations
from engine.model.shaft import bearing_stiffness, critical_speed, rotor_line
from engine.model.strength import (
    bore_stresses,
    failing_speeds,
    growth,
    hub_of_build,
    notch_factor,
    places_of,
    weakest_metal,
)
from engine.physics.arrays import Lanes, Mask
from engine.physics.machine.margins import safety_margin
from engine.physics.machine.tolerance import rim_gap_loss
from engine.study.study import Study, most_stages
from engine.study.supply import source_of

Step = tuple[tuple[str, ...], Callable[[Builds], Results]]
"""Results by column key, and what finds them from builds."""
NOT_MARCHED = "not marched"
"""Status of designs that were counted without looking for their flow."""
DIMENSIONS = (
    "stack_height",
    "edge_share",
    "nozzle_footprint",
    "mouth_depth",
    "bore_ratio",
    "bore_wall",
    "nut_clearance",
    "rim_speed",
)
"""Results that are known exactly."""
AT_MOST = ("gap_hold", "stress_margin", "safety_margin")
"""Results that are known without flow to be no larger than a bound."""
OF_FLOW_ALONE = ("inlet_angle", "nozzle_area_ratio", "nozzle_count", "nozzle_width")
"""Numbers of builds on which no bound depends."""


def is_screened(study: Study) -> bool:
    """Whether builds of a study can be judged without flow: a turbine of one stage at a speed."""
    return study.kind == "turbine" and most_stages(study) == 1 and not study.speed_settles


def misses_without_flow(study: Study, builds: Builds, limits: Limits) -> Mask:
    """Find the builds that miss a limit whatever flows through them.

    `builds` holds all numbers of builds, one value a lane; what is the same in all may be an array
    of one. `limits` are those of the study with the standing ones.
    """
    missed = misses_by_size(builds, limits)
    left = np.flatnonzero(~missed)
    missed[left] = misses_by_bounds(study, _some(builds, left, len(missed)), limits)
    return missed


def misses_by_size(builds: Builds, limits: Limits) -> Mask:
    """Find those of the builds of `misses_without_flow` that have a wrong length or ratio."""
    return _misses(builds, limits, ((DIMENSIONS, dimensions_of),))


def misses_by_bounds(study: Study, builds: Builds, limits: Limits) -> Mask:
    """Find those of them whose bounds miss a limit; no bound depends on `OF_FLOW_ALONE`."""
    warm = np.atleast_1d(np.asarray(source_of(study.supply).temperature, dtype=float))
    margins = partial(_margins, temperature=warm)
    # The cheapest first.
    return _misses(
        builds,
        limits,
        ((AT_MOST[:1], _gap_hold), (AT_MOST[1:], margins), (AT_MOST[2:], _shaft_margin)),
    )


def _misses(builds: Builds, limits: Limits, steps: Iterable[Step]) -> Mask:
    """Find what misses a limit in one of several steps."""
    lengths = {len(values) for values in builds.values()}
    n_builds = 0 if 0 in lengths else max(lengths)
    missed = np.zeros(n_builds, dtype=np.bool_)
    left = np.arange(n_builds)
    for keys, known in steps:
        wanted = {key: limits[key] for key in limits if key in keys}
        if not wanted or not left.size:
            continue
        with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
            found = known(_some(builds, left, n_builds))
        missed[left] |= _past(found, wanted, left.size)
        left = left[~missed[left]]
    return missed


def _some(builds: Builds, rows: NDArray[np.int64], n_builds: int) -> Builds:
    """Take some builds; what is the same in all stays one."""
    return {k: v[rows] if len(v) == n_builds else v for k, v in builds.items()}


def _past(found: Results, limits: Limits, n_builds: int) -> Mask:
    """Find what is past a limit; of results that are bounded above only their least value counts.

    What is NaN misses a limit, as in the whole evaluation.
    """
    missed = np.zeros(n_builds, dtype=np.bool_)
    for key, limit in limits.items():
        if key in AT_MOST:
            limit = limit.model_copy(update={"max": None})  # noqa: PLW2901
        if limit.min is None and limit.max is None:
            continue
        values = np.broadcast_to(found[key], n_builds)
        one = {key: values, "status": np.full(n_builds, MATCHED)}
        missed |= violations(one, {key: limit})[:, 0] > 0
    return missed


def _gap_hold(build: Builds) -> Results:
    """Find what is left of the gap of discs that nothing bends."""
    process = process_values(build["process"], build["disc_thickness"])
    loss = rim_gap_loss(
        diameter=build["disc_diameter"],
        flatness=process.flatness,
        spacer_tolerance=process.spacer_tolerance,
        run_out=process.run_out,
    )
    return {"gap_hold": (build["gap"] - loss) / build["gap"]}


def _shaft_margin(build: Builds) -> Results:
    """Find the margin of the shaft's bending alone."""
    build = _spread(build)
    height, hub_radius = dimensions_of(build)["stack_height"], hub_of_build(build)
    line = rotor_line(build, height=height, hub_radius=hub_radius)
    critical = critical_speed(line, bearing_stiffness(build, line))
    return {"safety_margin": critical / build["speed"]}


def _spread(build: Builds) -> Results:
    """Give each number one value a build."""
    n_builds = max(len(values) for values in build.values())
    return {key: np.broadcast_to(values, (n_builds,)) for key, values in build.items()}


def _margins(build: Builds, *, temperature: Lanes) -> Results:
    """Find margins of discs that are warm throughout and have no waves, on a stiff shaft."""
    build = _spread(build)
    n_builds = len(build["speed"])
    warm, never = np.broadcast_to(temperature, (n_builds,)), np.full(n_builds, np.inf)
    sheet = state_as_cut(build["material"], build["process"], warm)
    metal = weakest_metal(build, sheet, warm)
    build["notch_factor"] = notch_factor(build, places_of(build))
    stresses = bore_stresses(build, metal, np.zeros(n_builds))
    failing = failing_speeds(
        build,
        metal,
        critical_speed=never,
        stresses=stresses,
        wave_speed=never,
        growth=growth(build, metal, warm, radius=build["disc_diameter"] / 2),
        bore_growth=growth(build, metal, warm, radius=build["exhaust_bore"] / 2),
    )
    margin = safety_margin(
        speed=build["speed"],
        yield_speed=failing["yield_speed"],
        burst_speed=failing["burst_speed"],
        wave_speed=never,
        shaft_speed=never,
        bearing_speed=failing["bearing_limit_speed"],
        rub_speed=failing["rub_speed"],
        generator_speed=failing["generator_limit_speed"],
        seal_rub_speed=failing["seal_rub_speed"],
    ).margin
    return {"stress_margin": np.asarray(stresses["stress_margin"]), "safety_margin": margin}
