"""Pressure before the nozzles, where the supply's dial stands before a hose."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from engine.columns import Builds, Results
from engine.model.circuit import Followed, circuit_of, lanes_of, source_of_lanes
from engine.model.dimensions import dimensions_of
from engine.model.lanes import by_stages, some_lanes, together
from engine.model.stages import Matched, builds_of_stages, match_stages
from engine.physics.arrays import Lanes, Reason, first_reason, in_lanes
from engine.physics.flow.hose import hose_flow
from engine.physics.flow.match import Circuit, Throughflow
from engine.physics.flow.nozzle import isentropic_flux
from engine.physics.fluids.fluid_kernel import Fluid
from engine.study.study import Study
from engine.study.supply import Source

ROUGHNESS = 0.01e-3
"""Of a rubber or plastic hose inside [m] (Idelchik 1994, table 2-3, from memory)."""
CLOSE = 1e-6
"""Largest difference between the flows of hose and nozzles, as a share."""
MOST = 30
"""Most rounds of each search; five are usual."""


def flow_behind_hose(
    study: Study, source: Source, builds: Sequence[Results], level: Followed
) -> Matched:
    """Stages at their matched point, and status, with the pressure that the hose leaves.

    Where the throat chokes, its flow follows from the pressure before it alone, and one match is
    enough. Elsewhere match and hose are repeated in turn, for the lanes that still differ.
    """
    build = builds[0]
    n_lanes = len(build["speed"])
    back = study.supply.back_pressure
    dial = in_lanes(source.pressure, n_lanes)
    status = np.full(n_lanes, int(Reason.MATCHED))
    if study.supply.dial == "at-nozzles":
        return match_stages(study, builds, dial, status, level=level)
    enthalpy = in_lanes(source.enthalpy, n_lanes)
    circuit, _ = circuit_of(study, source, build, dimensions_of(build), dial)
    pressure = dial.copy()
    for _ in range(MOST):
        flux = isentropic_flux(
            fluid=source.fluid, pressure=pressure, enthalpy=enthalpy, back_pressure=back
        )
        passing = flux * circuit.throat_area * circuit.nozzle_discharge
        through = _hose(source.fluid, build, dial, enthalpy, pressure)
        if _agree(through, passing).all():
            break
        pressure = _nearer(pressure, dial, back, through=through, passing=passing)
    left = np.full(n_lanes, fill_value=True)
    for k in range(MOST):
        sought = first_reason(status, ~left, Reason.NOT_CONVERGED)
        stages, found = match_stages(study, builds, pressure, sought, level=level)
        flow = stages[0].flow
        through = _hose(source.fluid, build, dial, enthalpy, pressure)
        agree = _agree(through, flow.jet.mass_flow) | (found != Reason.MATCHED)
        if k == 0 and agree.all():
            return stages, found
        left &= ~agree
        if not left.any():
            break
        better = _nearer(pressure, dial, back, through=through, passing=flow.jet.mass_flow)
        pressure = np.where(left, better, pressure)
    stages, found = match_stages(study, builds, pressure, status, level=level)
    return stages, first_reason(found, left, Reason.NOT_CONVERGED)


def matched_circuit(
    study: Study, builds: Builds, level: Followed, *, stage: int = 1
) -> tuple[Fluid, Circuit, Throughflow, NDArray[np.int64]]:
    """Fluid, circuit, flow at the matched point, and status of builds, without their machine.

    Of one stage; builds without it are not matched.
    """
    build = lanes_of(study, builds)
    source = source_of_lanes(study, build)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        parts = []
        for count, rows in by_stages(build):
            some = some_lanes(build, rows)
            lane_source = source_of_lanes(study, some)
            stages, status = flow_behind_hose(
                study, lane_source, builds_of_stages(some, count), level
            )
            of = stages[min(stage, count) - 1]
            if stage > count:
                status = np.full_like(status, Reason.NOT_CONVERGED)
            parts.append((rows, {"circuit": of.circuit, "flow": of.flow, "status": status}))
        found = together(parts)
    return source.fluid, found["circuit"], found["flow"], found["status"]


def _hose(fluid: Fluid, build: Builds, dial: Lanes, enthalpy: Lanes, end: Lanes) -> Lanes:
    return hose_flow(
        fluid=fluid,
        pressure=dial,
        enthalpy=enthalpy,
        end_pressure=end,
        bore=build["hose_bore"] * 1.0,
        length=build["hose_length"] * 1.0,
        roughness=ROUGHNESS,
        friction_scale=build["hose_factor"],
        fittings_loss=build["couplings"] * build["coupling_loss"],
    )


def _agree(through: Lanes, passing: Lanes) -> NDArray[np.bool_]:
    # A hose that takes nothing passes any flow.
    return np.asarray(np.abs(through - passing) <= CLOSE * passing)


def _nearer(pressure: Lanes, dial: Lanes, back: float, *, through: Lanes, passing: Lanes) -> Lanes:
    """Pressure between hose and nozzles, as if both flows went with the root of their drops."""
    first = through**2 / np.maximum(dial - pressure, 1e-9 * dial)
    last = passing**2 / np.maximum(pressure - back, 1e-9 * dial)
    onward = (first * dial + last * back) / (first + last)
    # At the dial's own pressure nothing flows through the hose: begin a little below it.
    return np.where(pressure >= dial, dial - 0.02 * (dial - back), onward)
