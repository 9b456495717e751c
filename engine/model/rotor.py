"""Masses and balance of the rotor."""

import numpy as np

from engine.catalogue import (
    ASSEMBLY_TEMPERATURE,
    ProcessValues,
    material_state,
    process_values,
)
from engine.columns import Builds, Results
from engine.model.bolts import held_webs
from engine.model.shaft import RotorLine
from engine.physics.arrays import Lanes
from engine.physics.machine.rotor import (
    annulus_mass,
    fit_clearance,
    permissible_unbalance,
    polar_inertia,
    raw_unbalance,
    stored_energy,
)


def masses(build: Builds, line: RotorLine, process: ProcessValues | None = None) -> Results:
    """Masses, stored energy and unbalance of every lane, by column key.

    Spokes or a hub fill the blocked share of the exhaust bore, or none of it where bolts hold the
    discs. The energy is that of the discs. `process` holds the values of the workshop's process,
    where they are known.
    """
    # Discs and hubs.
    rim, bore, shaft = (
        build[key] / 2 for key in ("disc_diameter", "exhaust_bore", "shaft_diameter")
    )
    metal = material_state(build["material"], ASSEMBLY_TEMPERATURE)
    sheet = {
        "density": metal.density,
        "thickness": build["disc_count"] * build["disc_thickness"],
    }
    discs = annulus_mass(**sheet, r_inner=bore, r_outer=rim)
    hubs = build["exhaust_blockage"] * annulus_mass(**sheet, r_inner=shaft, r_outer=bore)
    hubs = hubs * held_webs(build)
    inertia = polar_inertia(mass=discs, r_inner=bore, r_outer=rim)
    inertia = inertia + polar_inertia(mass=hubs, r_inner=shaft, r_outer=bore)
    rotor = line.total
    # Unbalance, by the tolerances of the process; the stack may settle by half of its clearance.
    settled = line.clamped * fit_clearance(diameter=build["shaft_diameter"]) / 2
    process = process or process_values(build["process"], build["disc_thickness"])
    return {
        "rotor_mass": rotor,
        "stored_energy": np.asarray(stored_energy(inertia=inertia, speed=build["speed"])),
        "permissible_unbalance": np.asarray(
            permissible_unbalance(
                balance_grade=build["balance_grade"], mass=rotor, speed=build["speed"]
            )
        ),
        "assembly_grade": settled * build["speed"] / rotor,
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
