"""What making the flow takes, and what becomes of it on the way."""

import numpy as np
from numpy.typing import NDArray

from engine.physics.arrays import Lanes
from engine.physics.drive import boiler_heat, feed_pump_power, free_air_flow
from engine.physics.match import Circuit, Throughflow
from engine.supply import Source, Supply

FEED_PUMP_EFFICIENCY = 0.5
"""Of a small feed pump with its motor, common practice, where the study says nothing."""

Columns = dict[str, NDArray[np.float64]]


def supply_side(
    supply: Supply, source: Source, *, mass_flow: Lanes, electric_power: Lanes
) -> Columns:
    """Powers from the supply and what is left of them at the terminals, by column key."""
    none = 0.0 * mass_flow
    fuel, pump, air = none, none, np.full(mass_flow.shape, np.nan)
    if source.is_compressed:
        air = free_air_flow(mass_flow=mass_flow, reference_density=source.free_density)
        spent = supply.specific_power * air
    elif source.is_boiled:
        pump = feed_pump_power(
            mass_flow=mass_flow,
            specific_volume=source.feed_volume,
            pressure_rise=source.pressure - supply.back_pressure,
            efficiency=supply.pump_efficiency or FEED_PUMP_EFFICIENCY,
        )
        fuel = boiler_heat(
            mass_flow=mass_flow,
            supply_enthalpy=source.enthalpy,
            feed_enthalpy=source.feed_enthalpy,
            pump_power=pump,
            efficiency=supply.boiler_efficiency,
        )
        spent = fuel + pump
    else:
        spent = feed_pump_power(
            mass_flow=mass_flow,
            specific_volume=1 / source.density,
            pressure_rise=source.pressure - supply.back_pressure,
            efficiency=supply.pump_efficiency or 1.0,
        )
        pump = spent if supply.pump_efficiency is not None else none
    return {
        "supply_power": spent,
        "supply_efficiency": electric_power / spent,
        "specific_consumption": np.where(electric_power > 0, mass_flow / electric_power, np.nan),
        "free_air_flow": air,
        "fuel_power": fuel,
        "pump_power": pump,
    }


def phases(source: Source, *, circuit: Circuit, flow: Throughflow) -> Columns:
    """How wet a vapour gets and how near a liquid comes to boiling, by column key.

    Lowest is the pressure in the throat of a nozzle that widens behind it (Bernoulli), or behind
    the exhaust; a vortex in the exhaust is not followed.
    """
    fluid, gap, nozzle = source.fluid, flow.gap, circuit.nozzle
    drop = nozzle.stagnation_pressure - flow.rim_pressure
    throat = nozzle.stagnation_pressure - drop * nozzle.area_ratio**2
    lowest = np.minimum(
        np.maximum(throat, source.vapour_pressure),
        np.minimum(circuit.back_pressure, gap.exit_pressure),
    )
    return {
        "jet_quality": fluid.quality(pressure=flow.rim_pressure, enthalpy=flow.jet.enthalpy),
        "rim_quality": fluid.quality(pressure=flow.rim_pressure, enthalpy=flow.ring.enthalpy),
        "exit_wetness": 1 - fluid.quality(pressure=gap.exit_pressure, enthalpy=gap.exit_enthalpy),
        "cavitation_margin": lowest / source.vapour_pressure,
    }


def states(source: Source, *, circuit: Circuit, flow: Throughflow) -> Columns:
    """Pressures, speeds and numbers of the flow on its way, by column key."""
    fluid, ring, gap = source.fluid, flow.ring, flow.gap
    rim_speed = circuit.angular_speed * circuit.rim_radius
    sound = fluid.sound_speed(pressure=flow.rim_pressure, enthalpy=flow.jet.enthalpy)
    kinematic = ring.viscosity / ring.density
    return {
        "rim_pressure": flow.rim_pressure,
        "gap_exit_pressure": gap.exit_pressure,
        "rim_swirl_ratio": ring.swirl / rim_speed,
        "jet_speed": flow.jet.speed,
        "jet_mach": flow.jet.speed / sound,
        "exhaust_temperature": fluid.temperature(
            pressure=gap.exit_pressure, enthalpy=gap.exit_total_enthalpy
        ),
        "exhaust_mach": flow.exhaust_speed / flow.exhaust_sound,
        "gap_reynolds": gap.largest_reynolds,
        "turbulent_share": gap.turbulent_share,
        "ekman_number": circuit.gap * np.sqrt(circuit.angular_speed / kinematic),
        "gap_mach": gap.largest_mach,
        "backflow_share": gap.backflow_share,
        **phases(source, circuit=circuit, flow=flow),
    }
