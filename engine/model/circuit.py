"""What the flow passes in each build, and the matched point of the flow."""

from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from engine.columns import Builds, Results
from engine.model.dimensions import area_ratio, dimensions_of
from engine.model.lanes import either
from engine.model.shaft_layout import collar_radius
from engine.model.strength import hub_of_build
from engine.physics.arrays import Array, Lanes, Reason, first_reason, in_lanes, repeated
from engine.physics.flow.geometry import exhaust_area, throat_area
from engine.physics.flow.match import Circuit, Level, Throughflow, match_rim_pressure
from engine.physics.flow.nozzle import Nozzle, nozzle_from_supply
from engine.physics.flow.short_duct import divergent_velocity, duct_coefficients, duct_loss
from engine.physics.fluids.fluid_kernel import Fluid
from engine.study.study import Study
from engine.study.supply import Source, source_at, source_of

SUPPLY_COLUMNS = ("supply_pressure", "supply_temperature")
"""Columns of a supply that differs from lane to lane."""
FAMILY = "family"
"""Number of what lanes that lie together are samples of; no column."""
NOZZLE_COEFFICIENTS = ("nozzle_discharge", "nozzle_velocity")
"""Coefficients that are computed where the study does not state them."""
Followed: TypeAlias = Level | Literal["beyond"]
"""Level of the gap flow; `beyond` is averaged, and followed where no operating point is allowed."""
REFUSED = (Reason.RIM_BACKFLOW, Reason.CHURNING)
"""Reasons for which a flow that closes is no operating point."""
UNCHANGED = (
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
    "spokes",
    "web_factor",
    "core_factor",
)
"""Numbers of a build that its circuit takes as they are."""


def lanes_of(study: Study, builds: Builds) -> Results:
    """Machine numbers and builds together, one value a lane."""
    n_lanes = len(next(iter(builds.values())))
    lanes = {key: np.asarray(value) for key, value in {**study.fixed(), **builds}.items()}
    return {
        key: value if value.shape == (n_lanes,) else repeated(value, n_lanes)
        for key, value in lanes.items()
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
    fluid: Fluid,
    circuit: Circuit,
    status: NDArray[np.int64],
    level: Followed,
    family: Lanes | None = None,
) -> tuple[Throughflow, NDArray[np.int64]]:
    """Find the flow at the matched point; the resolved level starts from that of the averaged.

    Beyond, lanes whose discs throw liquid out or churn it are matched all the same, and keep their
    reason.
    """
    flow, status = match_rim_pressure(fluid=fluid, circuit=circuit, status=status, family=family)
    if level == "averaged":
        return flow, status
    if level == "beyond":
        refused = np.isin(status, REFUSED)
        if not refused.any():
            return flow, status
        again, found = match_rim_pressure(
            fluid=fluid,
            circuit=circuit,
            status=np.where(refused, int(Reason.MATCHED), int(Reason.NOT_CONVERGED)),
            refuses=False,
        )
        found = np.where(refused & (found != Reason.MATCHED), found, status)
        return either(refused, again, flow), found
    return match_rim_pressure(
        fluid=fluid,
        circuit=circuit,
        status=status,
        level=level,
        guess=flow.rim_pressure,
        slope=flow.slope,
    )


def circuit_of(
    study: Study,
    source: Source,
    build: Builds,
    dimensions: Results,
    pressure: Lanes,
    *,
    enthalpy: Array | None = None,
    back_pressure: Array | None = None,
) -> tuple[Circuit, NDArray[np.int64]]:
    """Circuit of every lane, and its status: a reason where it cannot be built or fed.

    `pressure` is that before the nozzles [Pa]. Total enthalpy there [J/kg] and back pressure [Pa]
    are those of source and study, unless they are given.
    """
    fluid = source.fluid
    n_lanes = len(build["speed"])
    rim, bore = build["disc_diameter"] / 2, build["exhaust_bore"] / 2
    back = in_lanes(study.supply.back_pressure if back_pressure is None else back_pressure, n_lanes)
    # Nozzle of unit throat area.
    nozzle = nozzle_from_supply(
        fluid=fluid,
        pressure=pressure,
        enthalpy=in_lanes(source.enthalpy if enthalpy is None else enthalpy, n_lanes),
        area_ratio=area_ratio(build),
    )
    # Areas, radii and coefficients.
    height = dimensions["stack_height"]
    flowing, speeding = _coefficients(fluid, build, height, nozzle, back)
    circuit = Circuit(
        nozzle=nozzle,
        nozzle_discharge=flowing,
        nozzle_velocity=speeding,
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
        hub_radius=hub_of_build(build),
        stack_height=height,
        gap_count=build["disc_count"] - 1.0,
        angular_speed=build["speed"],
        back_pressure=back,
        seal_count=build["exhaust_ends"] * 1.0,
        seal_radius=np.minimum(collar_radius(build["exhaust_bore"]), rim),
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


def nozzle_coefficients(study: Study, builds: Builds) -> Results:
    """Coefficients of the nozzles of builds, as stated or computed, by key."""
    build = lanes_of(study, builds)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        source = source_of_lanes(study, build)
        dial = np.full(len(build["speed"]), source.pressure)
        circuit, _ = circuit_of(study, source, build, dimensions_of(build), dial)
    return {key: getattr(circuit, key) for key in NOZZLE_COEFFICIENTS}


def _coefficients(
    fluid: Fluid, build: Builds, height: Lanes, nozzle: Nozzle, back: Lanes
) -> tuple[Lanes, Lanes]:
    """Discharge and velocity coefficient of the nozzles: as stated, or of a short duct.

    The pressure behind them is not known before the match. That behind the exhaust stands in: it
    matters little where the throat chokes, and not at all to the flow there.
    """
    stated = [np.asarray(build[key], dtype=float) for key in NOZZLE_COEFFICIENTS]
    if not np.isnan(stated).any():
        return stated[0], stated[1]
    # State in the throat of an isentropic expansion, and the speed to which the jet goes on.
    pressure = np.maximum(nozzle.throat_pressure, back)
    end = fluid.isentropic_enthalpy(
        pressure=nozzle.stagnation_pressure,
        enthalpy=nozzle.stagnation_enthalpy,
        end_pressure=pressure,
    )
    state = fluid.state(pressure=pressure, enthalpy=end)
    speed = np.sqrt(np.maximum(2 * (nozzle.stagnation_enthalpy - end), 0.0))
    flux, ends = state.density * speed, nozzle.area_ratio / nozzle.choked_flux
    jet = nozzle.exit_speed + (nozzle.exit_pressure - back) * ends
    width = build["nozzle_width"]
    reynolds = flux * 2 * width * height / ((width + height) * state.viscosity)
    exponent = state.density * state.sound_speed**2 / pressure
    choked = nozzle.throat_pressure >= back
    loss = duct_loss(
        land_ratio=build["nozzle_land"],
        width=width,
        height=height,
        reynolds=reynolds,
        sharp_entry=np.where(build["nozzle_entry"] == "sharp", 1.0, 0.0),
    )
    computed = duct_coefficients(
        loss=loss,
        exponent=exponent,
        mach=np.where(choked, 1.0, speed / state.sound_speed),
        thrust_ratio=back * ends / jet,
    )
    if np.any(nozzle.area_ratio > 1):
        rubbed = divergent_velocity(
            area_ratio=nozzle.area_ratio,
            width=width,
            height=height,
            reynolds=reynolds,
            exponent=exponent,
            thrust_ratio=nozzle.exit_pressure * ends / jet,
        )
        computed = computed[0], computed[1] * np.where(choked, rubbed, 1.0)
    flowing, speeding = (
        np.where(np.isnan(given), found, given)
        for given, found in zip(stated, computed, strict=True)
    )
    return flowing, speeding


def rim_hotter_by(fluid: Fluid, circuit: Circuit) -> Lanes:
    """Rim less bore temperature of the discs [K]: the total temperature relative to the discs."""
    pressure, enthalpy = circuit.nozzle.stagnation_pressure, circuit.nozzle.stagnation_enthalpy
    # Heat capacity of the supply state: so no speed leaves the range of the fluid.
    warmer, cooler = (
        fluid.temperature(pressure=pressure, enthalpy=enthalpy - step) for step in (0.0, 1e3)
    )
    turning = circuit.angular_speed**2 * (circuit.rim_radius**2 - circuit.bore_radius**2) / 2
    return np.asarray(turning * (warmer - cooler) / 1e3)
