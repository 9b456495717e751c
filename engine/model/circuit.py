"""What the flow passes in each build, and the matched point of the flow."""

import numpy as np
from numpy.typing import NDArray

from engine.columns import Builds, Results
from engine.model.dimensions import area_ratio, dimensions_of
from engine.physics.arrays import Lanes, Reason, first_reason
from engine.physics.flow.geometry import exhaust_area, throat_area
from engine.physics.flow.match import Circuit, Level, Throughflow, match_rim_pressure
from engine.physics.flow.nozzle import nozzle_from_supply
from engine.physics.fluids.fluid_kernel import Fluid
from engine.study.study import Study
from engine.study.supply import Source, source_at, source_of

SUPPLY_COLUMNS = ("supply_pressure", "supply_temperature")
"""Columns of a supply that differs from lane to lane."""
UNCHANGED = (
    "nozzle_discharge",
    "nozzle_velocity",
    "inlet_angle",
    "rim_mixing",
    "rim_clearance",
    "gap",
    "disc_thickness",
    "exhaust_loss",
    "seal_clearance",
    "seal_throttles",
    "seal_discharge",
    "nozzle_count",
    "casing_factor",
    "filling_factor",
    "exchange_factor",
    "entry_factor",
    "side_gap",
    "windage_factor",
    "transition_factor",
)
"""Numbers of a build that its circuit takes as they are."""


def lanes_of(study: Study, builds: Builds) -> Results:
    """Machine numbers and builds together, one value a lane."""
    n_lanes = len(next(iter(builds.values())))
    return {
        key: np.broadcast_to(np.asarray(value), (n_lanes,))
        for key, value in {**study.fixed(), **builds}.items()
    }


def source_of_lanes(study: Study, build: Builds) -> Source:
    """Supply of the study, or that of the lanes where the builds have their own."""
    stated = source_of(study.supply)
    if not any(key in build for key in SUPPLY_COLUMNS):
        return stated
    return source_at(
        study.supply,
        pressure=build.get("supply_pressure", np.asarray(stated.pressure)),
        temperature=build.get("supply_temperature", np.asarray(stated.temperature)),
    )


def matched_flow(
    fluid: Fluid, circuit: Circuit, status: NDArray[np.int64], level: Level
) -> tuple[Throughflow, NDArray[np.int64]]:
    """Find the flow at the matched point; the resolved level starts from that of the averaged."""
    flow, status = match_rim_pressure(fluid=fluid, circuit=circuit, status=status)
    if level == "averaged":
        return flow, status
    return match_rim_pressure(
        fluid=fluid,
        circuit=circuit,
        status=status,
        level=level,
        guess=flow.rim_pressure,
    )


def matched_circuit(
    study: Study, builds: Builds, level: Level
) -> tuple[Fluid, Circuit, Throughflow, NDArray[np.int64]]:
    """Fluid, circuit, flow at the matched point, and status of builds, without their machine."""
    build = lanes_of(study, builds)
    source = source_of_lanes(study, build)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        circuit, status = circuit_of(study, source, build, dimensions_of(build))
        flow, status = matched_flow(source.fluid, circuit, status, level)
    return source.fluid, circuit, flow, status


def circuit_of(
    study: Study, source: Source, build: Builds, dimensions: Results
) -> tuple[Circuit, NDArray[np.int64]]:
    """Circuit of every lane, and its status: a reason where it cannot be built or fed."""
    fluid = source.fluid
    n_lanes = len(build["speed"])
    rim, bore = build["disc_diameter"] / 2, build["exhaust_bore"] / 2
    pressure = np.full(n_lanes, source.pressure)
    back = np.full(n_lanes, study.supply.back_pressure)
    # Nozzle of unit throat area.
    nozzle = nozzle_from_supply(
        fluid=fluid,
        pressure=pressure,
        enthalpy=np.full(n_lanes, source.enthalpy),
        area_ratio=area_ratio(build),
    )
    # Areas, radii and coefficients.
    height = dimensions["stack_height"]
    circuit = Circuit(
        nozzle=nozzle,
        throat_area=throat_area(
            nozzle_count=build["nozzle_count"],
            nozzle_width=build["nozzle_width"],
            nozzle_height=height,
        ),
        exhaust_area=exhaust_area(
            bore_radius=bore,
            shaft_radius=build["shaft_diameter"] / 2,
            exhaust_ends=build["exhaust_ends"],
            blockage=build["exhaust_blockage"],
        ),
        rim_radius=rim,
        bore_radius=bore,
        stack_height=height,
        gap_count=build["disc_count"] - 1.0,
        angular_speed=build["speed"],
        back_pressure=back,
        seal_count=build["exhaust_ends"] * 1.0,
        **{key: build[key] * 1.0 for key in UNCHANGED},
    )
    # Geometry that cannot be built; then supplies that cannot drive a flow.
    status = np.full(n_lanes, int(Reason.MATCHED))
    buildable = np.isfinite(height) & (bore < rim) & (circuit.exhaust_area > 0)
    buildable &= (build["speed"] > 0) & (dimensions["nozzle_footprint"] <= 1)
    status = first_reason(status, ~buildable, Reason.BAD_GEOMETRY)
    end = fluid.isentropic_enthalpy(
        pressure=pressure, enthalpy=nozzle.stagnation_enthalpy, end_pressure=back
    )
    fed = np.isfinite(nozzle.choked_flux) & np.isfinite(end) & (back < pressure)
    return circuit, first_reason(status, ~fed, Reason.BAD_SUPPLY)


def rim_hotter_by(fluid: Fluid, circuit: Circuit) -> Lanes:
    """Rim less bore temperature of the discs [K]: the total temperature relative to the discs."""
    pressure, enthalpy = circuit.nozzle.stagnation_pressure, circuit.nozzle.stagnation_enthalpy
    # Heat capacity of the supply state: so no speed leaves the range of the fluid.
    warmer, cooler = (
        fluid.temperature(pressure=pressure, enthalpy=enthalpy - step) for step in (0.0, 1e3)
    )
    turning = circuit.angular_speed**2 * (circuit.rim_radius**2 - circuit.bore_radius**2) / 2
    return np.asarray(turning * (warmer - cooler) / 1e3)
