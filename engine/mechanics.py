"""Strength of the stack, design by design: stresses, failing speeds, masses."""

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.materials import bearing_values, material_state
from engine.physics.arrays import Lanes
from engine.physics.bearing import bearing_limit_speed, bearing_torque, load_factor
from engine.physics.disc import (
    bore_hoop_stress,
    burst_speed,
    elastic_growth,
    rub_speed,
    thermal_growth,
    thermal_stress,
    yield_speed,
)

Lanewise = Mapping[str, NDArray[Any]]

ASSEMBLY_TEMPERATURE = 293.15
"""Temperature at which clearances are measured [K]."""
GRAVITY = 9.81
MODES = ("yield", "burst", "bearing limit", "rim rub")


def strength(
    build: Lanewise, *, height: Lanes, disc_temperature: Lanes, rim_hotter_by: Lanes
) -> dict[str, NDArray[Any]]:
    """Stresses, masses, failing speeds and the safety margin of every lane, by column key.

    `disc_temperature` [K] sets strength and growth, `rim_hotter_by` [K] the thermal stress.
    """
    metal = material_state(build["material"], disc_temperature)
    rim, bore, speed = build["disc_diameter"] / 2, build["exhaust_bore"] / 2, build["speed"]
    annulus = {"density": metal.density, "r_inner": bore, "r_outer": rim}
    heat = thermal_stress(
        youngs_modulus=metal.youngs_modulus,
        expansion=metal.expansion,
        temperature_difference=np.maximum(rim_hotter_by, 0.0),
        r_inner=bore,
        r_outer=rim,
        radius=bore,
    ).hoop
    stress = bore_hoop_stress(**annulus, speed=speed, poisson=metal.poisson)
    yields = yield_speed(
        **annulus,
        poisson=metal.poisson,
        yield_strength=metal.yield_strength,
        notch_factor=build["notch_factor"],
        thermal_stress=heat,
    )
    bursts = burst_speed(
        **annulus,
        ultimate_strength=metal.ultimate_strength,
        burst_factor=build["burst_factor"],
    )
    growth = elastic_growth(
        **annulus, speed=speed, poisson=metal.poisson, youngs_modulus=metal.youngs_modulus
    )
    warm = thermal_growth(
        expansion=metal.expansion,
        r_outer=rim,
        temperature_rise=disc_temperature - ASSEMBLY_TEMPERATURE,
    )
    rubs = rub_speed(
        growth=growth, speed=speed, clearance=build["rim_clearance"], thermal_growth=warm
    )
    bearing = bearing_values(build["bearing"])
    runs_to = bearing_limit_speed(
        speed_limit=bearing.limit_grease, mean_diameter=bearing.mean_diameter
    )
    failing = np.stack(np.broadcast_arrays(yields, bursts, runs_to, rubs))
    lowest = np.where(np.isfinite(failing).all(axis=0), failing.min(axis=0), np.nan)
    at_trip = build["notch_factor"] * stress * build["trip_factor"] ** 2 + heat
    return {
        "bore_stress": stress,
        "stress_margin": metal.yield_strength / at_trip,
        "yield_speed": yields,
        "burst_speed": bursts,
        "bearing_limit_speed": runs_to,
        "rub_speed": rubs,
        "rim_growth": growth + warm,
        "safety_margin": lowest / speed,
        "governing_mode": np.where(
            np.isfinite(lowest), np.array(MODES)[np.argmin(failing, axis=0)], ""
        ),
        **_masses(build, metal.density, height),
    }


def bearing_drag(build: Lanewise, *, rotor_mass: Lanes) -> Lanes:
    """Torque of both bearings together [N m]."""
    bearing = bearing_values(build["bearing"])
    load = rotor_mass * GRAVITY / 2 + build["bearing_preload"]
    return np.asarray(
        2
        * bearing_torque(
            mean_diameter=bearing.mean_diameter,
            speed=build["speed"],
            kinematic_viscosity=build["bearing_viscosity"],
            lubrication_factor=bearing.lubrication_grease,
            load_factor=load_factor(load=load, static_rating=bearing.static_rating),
            load=load,
        )
    )


def _masses(build: Lanewise, density: Lanes, height: Lanes) -> dict[str, Lanes]:
    rim, bore, shaft = (
        build[key] / 2 for key in ("disc_diameter", "exhaust_bore", "shaft_diameter")
    )
    # Spokes or hub fill the blocked share of the annulus between shaft and bore.
    sheet = density * build["disc_count"] * build["disc_thickness"] * np.pi
    hub = build["exhaust_blockage"] * (bore**2 - shaft**2)
    discs = sheet * (rim**2 - bore**2 + hub)
    hub_inertia = build["exhaust_blockage"] * (bore**4 - shaft**4)
    inertia = sheet * (rim**4 - bore**4 + hub_inertia) / 2
    steel = material_state(build["shaft_material"], ASSEMBLY_TEMPERATURE).density
    shaft_mass = steel * np.pi * shaft**2 * (height + 2 * build["bearing_allowance"])
    return {
        "rotor_mass": discs + shaft_mass,
        "stored_energy": inertia * build["speed"] ** 2 / 2,
    }
