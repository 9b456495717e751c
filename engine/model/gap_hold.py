"""What the workshop's process leaves of the drawn gap."""

from dataclasses import dataclass

import numpy as np

from engine.catalogue import MaterialState, ProcessValues, material_state, process_values
from engine.columns import Builds, Results
from engine.physics.arrays import Lanes
from engine.physics.flow.match import Throughflow
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.machine.tolerance import (
    end_disc_heat_flux,
    gap_yield,
    heat_bending,
    pressure_bending,
    rim_gap_loss,
    smallest_holdable_gap,
    unequal_gap_pressure,
)


@dataclass(frozen=True)
class RimGas:
    """The gas that bends the discs, by lane; NaN where there is no operating point."""

    density: Lanes  # just inside the gaps [kg/m3]
    radial_speed: Lanes  # just inside the gaps [m/s]
    specific_heat: Lanes  # [J/(kg K)]
    warmer_outside: Lanes  # gas beside the end discs less gas in the gaps, mean along radius [K]


def rim_gas(fluid: Fluid, flow: Throughflow) -> RimGas:
    """Gas that bends the discs, from the flow at the matched point."""
    entry, gap, pressure = flow.entry, flow.gap, flow.rim_pressure
    beside = fluid.temperature(pressure=pressure, enthalpy=flow.ring.enthalpy)
    leaving = fluid.temperature(pressure=gap.exit_pressure, enthalpy=gap.exit_enthalpy)
    return RimGas(
        density=fluid.density(pressure=entry.pressure, enthalpy=entry.enthalpy),
        radial_speed=entry.radial_speed,
        specific_heat=(flow.ring.enthalpy - gap.exit_enthalpy) / (beside - leaving),
        warmer_outside=(beside - leaving) / 2,
    )


def gap_hold(
    build: Builds, *, gas: RimGas, disc_temperature: Lanes, process: ProcessValues | None = None
) -> Results:
    """Find what the workshop's process leaves of the drawn gap, by column key.

    `process` holds its values, where they are known.
    """
    metal = material_state(build["material"], disc_temperature)
    process = process or process_values(build["process"], build["disc_thickness"])
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


def _bending(build: Builds, metal: MaterialState, process: ProcessValues, gas: RimGas) -> Lanes:
    """Sum of the bending of a disc between unequal gaps and of an end disc by heat [m]."""
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
