"""Masses, balance and bearing drag of the rotor."""

import numpy as np

from engine.catalogue import ASSEMBLY_TEMPERATURE, bearing_values, material_state, process_values
from engine.columns import Builds, Results
from engine.physics.arrays import Array, Lanes
from engine.physics.machine.bearing import bearing_torque, load_factor
from engine.physics.machine.rotor import (
    annulus_mass,
    permissible_unbalance,
    polar_inertia,
    raw_unbalance,
    stored_energy,
)

GRAVITY = 9.81
"""[m/s2]"""


def masses(build: Builds, *, height: Lanes) -> Results:
    """Masses, stored energy and unbalance of every lane, by column key.

    Spokes or a hub fill the blocked share of the exhaust bore. `height` is that of the stack [m].
    """
    # Discs, hubs and shaft.
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
    # Unbalance, by the tolerances of the process.
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


def inertia_of(results: Results) -> Lanes:
    """Inertia of the discs, from the energy that they store [kg m2]."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(2 * results["stored_energy"] / np.square(results["speed"]))


def bearing_drag(build: Builds, *, rotor_mass: Lanes, thrust: Array = 0.0) -> Lanes:
    """Torque of both bearings together [N m]; one of them takes the thrust [N]."""
    bearing = bearing_values(build["bearing"])

    def drag(load: Lanes) -> Lanes:
        torque = bearing_torque(
            mean_diameter=bearing.mean_diameter,
            speed=build["speed"],
            kinematic_viscosity=build["bearing_viscosity"],
            lubrication_factor=bearing.lubrication_grease,
            load_factor=load_factor(load=load, static_rating=bearing.static_rating),
            load=load,
        )
        return np.asarray(torque)

    load = rotor_mass * GRAVITY / 2 + build["bearing_preload"]
    return np.asarray(build["bearing_factor"] * (drag(load) + drag(load + np.abs(thrust))))
