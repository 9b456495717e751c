"""What wears a build out: fatigue and creep of its discs, and the thrust on its bearings."""

import numpy as np

from engine.catalogue import MaterialState, bearing_values, materials, of_names
from engine.columns import Builds, Results
from engine.physics.arrays import Array, Lanes
from engine.physics.flow.match import Throughflow
from engine.physics.machine.fatigue import cycles_to_crack
from engine.physics.machine.thrust import axial_thrust


def lasting(build: Builds, metal: MaterialState, stress_margin: Array) -> Results:
    """Estimate the runs that start a crack; give the temperature of creep. By column key.

    A run goes from rest to trip speed; the peak stress there is yield strength over
    `stress_margin`.
    """
    known = materials()
    law = of_names(build["material"], {key: row.cyclic_law for key, row in known.items()})
    cycles = cycles_to_crack(
        peak_stress=metal.yield_strength / stress_margin,
        ultimate_strength=metal.ultimate_strength,
        youngs_modulus=metal.youngs_modulus,
        light_alloy=law == "light alloy",
    )
    return {
        "fatigue_cycles": np.where(law == "none", np.nan, cycles),
        "creep_temperature": of_names(
            build["material"], {key: row.creep_temperature for key, row in known.items()}
        ),
    }


def thrust_of(build: Builds, flow: Throughflow) -> Lanes:
    """Axial force on the stack [N]; none where the fluid leaves at both ends."""
    one_sided = axial_thrust(
        closed_pressure=flow.rim_pressure,
        exit_pressure=flow.gap.exit_pressure,
        bore_radius=build["exhaust_bore"] / 2,
        shaft_radius=build["shaft_diameter"] / 2,
    )
    return np.where(build["exhaust_ends"] == 1, one_sided, 0.0 * one_sided)


def bearing_thrust(build: Builds, thrust: Lanes) -> Results:
    """Thrust on the stack, and the axial load of the bearing that takes it, by column key."""
    rating = bearing_values(build["bearing"]).static_rating
    return {
        "axial_thrust": thrust,
        "axial_load_ratio": (thrust + build["bearing_preload"]) / rating,
    }
