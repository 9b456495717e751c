"""What holds the stack together, design by design: failing speeds, gap hold, balance, masses."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.materials import (
    MaterialState,
    ProcessValues,
    bearing_values,
    material_state,
    process_values,
)
from engine.physics import disc, vibration
from engine.physics.arrays import Lanes
from engine.physics.bearing import bearing_limit_speed, bearing_torque, load_factor
from engine.physics.disc import (
    DiscStress,
    bore_hoop_stress,
    burst_speed,
    elastic_growth,
    rotating_stress,
    rub_speed,
    thermal_growth,
    thermal_stress,
    yield_speed,
)
from engine.physics.fluid_kernel import Fluid
from engine.physics.margins import safety_margin, stress_margin
from engine.physics.match import Throughflow
from engine.physics.rotor import (
    annulus_mass,
    permissible_unbalance,
    polar_inertia,
    raw_unbalance,
    shaft_critical_speed,
    stored_energy,
)
from engine.physics.tolerance import (
    end_disc_heat_flux,
    gap_yield,
    heat_bending,
    pressure_bending,
    rim_gap_loss,
    smallest_holdable_gap,
    unequal_gap_pressure,
)
from engine.physics.vibration import (
    ModeChart,
    ModeTable,
    disc_modes,
    mode_chart,
    mode_table,
    standing_wave,
)
from engine.tablecache import cached

Lanewise = Mapping[str, NDArray[Any]]
Columns = dict[str, NDArray[Any]]

ASSEMBLY_TEMPERATURE = 293.15
"""Temperature at which clearances are measured [K]."""
GRAVITY = 9.81


@dataclass(frozen=True)
class RimGas:
    """The gas that bends the discs, by lane; NaN where there is no operating point."""

    density: Lanes  # just inside the gaps [kg/m3]
    radial_speed: Lanes  # just inside the gaps [m/s]
    specific_heat: Lanes  # [J/(kg K)]
    warmer_outside: Lanes  # gas beside the end discs less gas in the gaps, mean along radius [K]


@dataclass(frozen=True)
class StressThrough:
    """Stress through the disc of each lane, spin and heat together, (lane, radius)."""

    radius: Lanes  # bore to rim [m]
    running: DiscStress  # at operating speed
    tripped: DiscStress  # at trip speed
    notched: Lanes  # (lane,) largest stress beside a notch of the bore, at trip speed [Pa]
    yield_strength: Lanes  # (lane,) at the disc's temperature [Pa]


def rim_gas(fluid: Fluid, flow: Throughflow) -> RimGas:
    """Take the gas that bends the discs out of a matched flow."""
    entry, gap, pressure = flow.entry, flow.gap, flow.rim_pressure
    beside = fluid.temperature(pressure=pressure, enthalpy=flow.ring.enthalpy)
    leaving = fluid.temperature(pressure=gap.exit_pressure, enthalpy=gap.exit_enthalpy)
    return RimGas(
        density=fluid.density(pressure=entry.pressure, enthalpy=entry.enthalpy),
        radial_speed=entry.radial_speed,
        specific_heat=(flow.ring.enthalpy - gap.exit_enthalpy) / (beside - leaving),
        warmer_outside=(beside - leaving) / 2,
    )


def strength(
    build: Lanewise, *, masses: Lanewise, disc_temperature: Lanes, rim_hotter_by: Lanes
) -> Columns:
    """Stresses, failing speeds and the safety margin of every lane, by column key.

    `disc_temperature` [K] sets strength and growth, `rim_hotter_by` [K] the thermal stress.
    """
    metal = material_state(build["material"], disc_temperature)
    speed = build["speed"]
    annulus = {"r_inner": build["exhaust_bore"] / 2, "r_outer": build["disc_diameter"] / 2}
    spinning = {**annulus, "density": metal.density}
    heat = thermal_stress(
        youngs_modulus=metal.youngs_modulus,
        expansion=metal.expansion,
        temperature_difference=rim_hotter_by,
        **annulus,
        radius=annulus["r_inner"],
    ).hoop
    stress = bore_hoop_stress(**spinning, speed=speed, poisson=metal.poisson)
    growth = elastic_growth(
        **spinning, speed=speed, poisson=metal.poisson, youngs_modulus=metal.youngs_modulus
    )
    warm = thermal_growth(
        expansion=metal.expansion,
        r_outer=annulus["r_outer"],
        temperature_rise=disc_temperature - ASSEMBLY_TEMPERATURE,
    )
    modes = disc_modes(
        **spinning,
        thickness=build["disc_thickness"],
        youngs_modulus=metal.youngs_modulus,
        poisson=metal.poisson,
        expansion=metal.expansion,
        temperature_difference=rim_hotter_by,
        table=plate_modes(),
    )
    wave = standing_wave(frequency=modes.frequency, stiffening=modes.stiffening)
    bearing = bearing_values(build["bearing"])
    failing = {
        "yield_speed": yield_speed(
            **spinning,
            poisson=metal.poisson,
            yield_strength=metal.yield_strength,
            notch_factor=build["notch_factor"],
            thermal_stress=heat,
        ),
        "burst_speed": burst_speed(
            **spinning,
            ultimate_strength=metal.ultimate_strength,
            burst_factor=build["burst_factor"],
        ),
        "wave_speed": wave.speed,
        "shaft_critical_speed": _shaft_critical(build, masses),
        "bearing_limit_speed": bearing_limit_speed(
            speed_limit=bearing.limit_grease, mean_diameter=bearing.mean_diameter
        ),
        "rub_speed": rub_speed(
            growth=growth, speed=speed, clearance=build["rim_clearance"], thermal_growth=warm
        ),
    }
    margin = safety_margin(
        speed=speed,
        yield_speed=failing["yield_speed"],
        burst_speed=failing["burst_speed"],
        wave_speed=failing["wave_speed"],
        shaft_speed=failing["shaft_critical_speed"],
        bearing_speed=failing["bearing_limit_speed"],
        rub_speed=failing["rub_speed"],
    )
    columns: dict[str, Any] = {
        **failing,
        "wave_nodal_diameters": wave.nodal_diameters,
        "safety_margin": margin.margin,
        "governing_mode": margin.mode,
        "bore_stress": stress,
        "thermal_stress": heat,
        "stress_margin": stress_margin(
            bore_stress=stress,
            yield_strength=metal.yield_strength,
            notch_factor=build["notch_factor"],
            trip_factor=build["trip_factor"],
            thermal_stress=heat,
        ),
        "rim_growth": growth + warm,
        "rim_over_bore": rim_hotter_by,
        "disc_temperature": disc_temperature,
    }
    return {key: np.asarray(values) for key, values in columns.items()}


def waves(results: Lanewise, *, speed: Lanes) -> ModeChart:
    """Frequencies of the discs' waves over speed [rad/s], (lane, speed, nodal diameters)."""
    metal = material_state(results["material"], results["disc_temperature"])
    modes = disc_modes(
        r_inner=results["exhaust_bore"] / 2,
        r_outer=results["disc_diameter"] / 2,
        density=metal.density,
        thickness=results["disc_thickness"],
        youngs_modulus=metal.youngs_modulus,
        poisson=metal.poisson,
        expansion=metal.expansion,
        temperature_difference=results["rim_over_bore"],
        table=plate_modes(),
    )
    return mode_chart(
        frequency=modes.frequency[:, None], stiffening=modes.stiffening[:, None], speed=speed
    )


def stress_through(results: Lanewise, *, points: int = 41) -> StressThrough:
    """Stress against radius in the discs, as the stress margin counts it at their bore."""
    metal = material_state(results["material"], results["disc_temperature"])
    inner, outer = results["exhaust_bore"] / 2, results["disc_diameter"] / 2
    radius = np.linspace(inner, outer, points, axis=1)
    radius[:, -1] = outer  # the last one of linspace may lie a rounding beyond the rim
    annulus = {"r_inner": inner[:, None], "r_outer": outer[:, None], "radius": radius}
    heat = thermal_stress(
        **annulus,
        youngs_modulus=metal.youngs_modulus[:, None],
        expansion=metal.expansion[:, None],
        temperature_difference=results["rim_over_bore"][:, None],
    )

    def stress(speed: Lanes) -> DiscStress:
        spin = rotating_stress(
            **annulus,
            density=metal.density[:, None],
            speed=speed[:, None],
            poisson=metal.poisson[:, None],
        )
        return DiscStress(spin.radial + heat.radial, spin.hoop + heat.hoop)

    trip = results["trip_factor"]
    bore = results["bore_stress"] * trip**2 + np.maximum(results["thermal_stress"], 0.0)
    return StressThrough(
        radius=radius,
        running=stress(results["speed"]),
        tripped=stress(results["speed"] * trip),
        notched=np.asarray(results["notch_factor"] * bore),
        yield_strength=metal.yield_strength,
    )


def masses(build: Lanewise, *, height: Lanes) -> Columns:
    """Masses, stored energy and balance of every lane; spokes or hub fill the blocked share."""
    rim, bore, shaft = (
        build[key] / 2 for key in ("disc_diameter", "exhaust_bore", "shaft_diameter")
    )
    metal = material_state(build["material"], ASSEMBLY_TEMPERATURE)
    steel = material_state(build["shaft_material"], ASSEMBLY_TEMPERATURE)
    sheet = {
        "density": metal.density,
        "thickness": build["disc_count"] * build["disc_thickness"],
    }
    discs = annulus_mass(**sheet, r_inner=bore, r_outer=rim)
    hubs = build["exhaust_blockage"] * annulus_mass(**sheet, r_inner=shaft, r_outer=bore)
    inertia = polar_inertia(mass=discs, r_inner=bore, r_outer=rim)
    inertia = inertia + polar_inertia(mass=hubs, r_inner=shaft, r_outer=bore)
    span = height + 2 * build["bearing_allowance"]
    axle = annulus_mass(density=steel.density, thickness=span, r_inner=0.0, r_outer=shaft)
    rotor = np.asarray(discs + hubs + axle)
    process = process_values(build["process"], build["disc_thickness"])
    return {
        "stack_mass": np.asarray(discs + hubs),
        "rotor_mass": rotor,
        "stored_energy": np.asarray(stored_energy(inertia=inertia, speed=build["speed"])),
        "permissible_unbalance": np.asarray(
            permissible_unbalance(
                balance_grade=build["balance_grade"], mass=rotor, speed=build["speed"]
            )
        ),
        "raw_unbalance": np.asarray(
            raw_unbalance(
                disc_count=build["disc_count"],
                density=metal.density,
                thickness=build["disc_thickness"],
                r_inner=bore,
                r_outer=rim,
                taper=process.wedge_share * process.thickness_tolerance,
                eccentricity=process.eccentricity,
            )
        ),
    }


def gap_hold(build: Lanewise, *, gas: RimGas, disc_temperature: Lanes) -> Columns:
    """Find what the workshop's process leaves of the drawn gap, by column key."""
    metal = material_state(build["material"], disc_temperature)
    process = process_values(build["process"], build["disc_thickness"])
    errors = {
        "diameter": build["disc_diameter"],
        "flatness": process.flatness,
        "spacer_tolerance": process.spacer_tolerance,
        "run_out": process.run_out,
        "bending": _bending(build, metal, process, gas),
    }
    loss = rim_gap_loss(**errors)
    local = build["gap"] - loss
    return {
        "gap_hold": local / build["gap"],
        "rim_gap": local,
        "gap_yield": np.asarray(
            gap_yield(disc_count=build["disc_count"], gap=build["gap"], **errors)
        ),
        "smallest_gap": np.asarray(
            smallest_holdable_gap(loss=loss, smallest_spacer=process.smallest_gap)
        ),
    }


def bearing_drag(build: Lanewise, *, rotor_mass: Lanes) -> Lanes:
    """Torque of both bearings together [N m]."""
    bearing = bearing_values(build["bearing"])
    load = rotor_mass * GRAVITY / 2 + build["bearing_preload"]
    one = bearing_torque(
        mean_diameter=bearing.mean_diameter,
        speed=build["speed"],
        kinematic_viscosity=build["bearing_viscosity"],
        lubrication_factor=bearing.lubrication_grease,
        load_factor=load_factor(load=load, static_rating=bearing.static_rating),
        load=load,
    )
    return np.asarray(2 * build["bearing_factor"] * one)


@cache
def plate_modes() -> ModeTable:
    """Modes of plates, kept on disk under the text of the modules that they are solved by."""
    texts = [Path(str(module.__file__)).read_bytes() for module in (vibration, disc)]
    name = {"plate modes": [sha256(text).hexdigest() for text in texts]}
    return ModeTable(**cached(name, lambda: asdict(mode_table()), library="scipy"))


def _shaft_critical(build: Lanewise, masses: Lanewise) -> Lanes:
    steel = material_state(build["shaft_material"], ASSEMBLY_TEMPERATURE)
    return np.asarray(
        shaft_critical_speed(
            span=masses["stack_height"] + 2 * build["bearing_allowance"],
            shaft_diameter=build["shaft_diameter"],
            youngs_modulus=steel.youngs_modulus,
            shaft_density=steel.density,
            stack_mass=masses["stack_mass"],
        )
    )


def _bending(build: Lanewise, metal: MaterialState, process: ProcessValues, gas: RimGas) -> Lanes:
    """Bending of a disc between unequal gaps and of an end disc by heat, added up [m]."""
    annulus = {"r_inner": build["exhaust_bore"] / 2, "r_outer": build["disc_diameter"] / 2}
    pressure = unequal_gap_pressure(
        density=gas.density,
        radial_speed=gas.radial_speed,
        gap=build["gap"],
        error=2 * process.spacer_tolerance,
    )
    pushed = pressure_bending(
        pressure_difference=pressure,
        **annulus,
        thickness=build["disc_thickness"],
        youngs_modulus=metal.youngs_modulus,
        poisson=metal.poisson,
    )
    flux = end_disc_heat_flux(
        density=gas.density,
        specific_heat=gas.specific_heat,
        rim_speed=build["speed"] * annulus["r_outer"],
        temperature_difference=gas.warmer_outside,
        thickness=build["disc_thickness"],
        conductivity=metal.conductivity,
    )
    warped = heat_bending(
        heat_flux=flux,
        conductivity=metal.conductivity,
        expansion=metal.expansion,
        **annulus,
        poisson=metal.poisson,
    )
    return np.abs(pushed) + np.abs(warped)
