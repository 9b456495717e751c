"""Power from the rotor to the terminals, and power that the supply takes."""

from collections.abc import Sequence

import numpy as np

from engine.columns import Builds, Results
from engine.model.bearings import bearing_results, run_bearings
from engine.model.generator import load_share, terminal_power
from engine.model.lanes import added
from engine.model.lasting import bearing_thrust, thrust_of
from engine.model.shaft import RotorLine
from engine.physics.arrays import Lanes
from engine.physics.flow.losses import FlowAccount
from engine.physics.flow.match import Throughflow
from engine.physics.machine.pipe import receiver_time
from engine.physics.machine.supply_power import boiler_heat, feed_pump_power, free_air_flow
from engine.study.supply import Source, Supply, source_at

FEED_PUMP_EFFICIENCY = 0.5
"""Efficiency of a small feed pump with its motor where the study gives none; common practice, no
source."""


def supply_side(
    supply: Supply, source: Source, *, mass_flow: Lanes, electric_power: Lanes
) -> Results:
    """Power that the supply takes, and the share of it at the terminals, by column key."""
    none = 0.0 * mass_flow
    fuel, pump, air = none, none, np.full(mass_flow.shape, np.nan)
    lasts = air
    # Compressed air: power of the compressor by its free air flow.
    if source.is_compressed:
        air = free_air_flow(mass_flow=mass_flow, reference_density=source.free_density)
        spent = supply.specific_power * air
        lasts = _receiver_lasts(supply, source, mass_flow)
    # Vapour: fuel of the boiler, and the feed pump.
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
    # Liquid: hydraulic power, or that of its pump.
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
        "receiver_time": lasts,
        "fuel_power": fuel,
        "pump_power": pump,
    }


def _receiver_lasts(supply: Supply, source: Source, mass_flow: Lanes) -> Lanes:
    """Time for which the receiver alone feeds the flow [s]; NaN where there is none."""
    if supply.receiver_volume is None or supply.receiver_pressure is None:
        return np.full(mass_flow.shape, np.nan)
    full = source_at(
        supply,
        pressure=np.asarray(supply.receiver_pressure),
        temperature=np.asarray(supply.temperature),
    )
    return receiver_time(
        volume=supply.receiver_volume,
        full_density=full.fluid.density(pressure=full.pressure, enthalpy=full.enthalpy),
        end_density=source.fluid.density(pressure=source.pressure, enthalpy=source.enthalpy),
        flow=mass_flow,
    )


def shaft_to_terminals(build: Builds, shaft: Lanes) -> tuple[Lanes, Lanes]:
    """Power behind the drive and at the terminals of the generator [W]."""
    driven = np.where(shaft > 0, shaft * build["drive_efficiency"], shaft)
    electric = terminal_power(
        build, input_power=driven, speed=build["speed"] / build["drive_ratio"]
    )
    return driven, electric


def power_chain(
    build: Builds,
    flows: Sequence[Throughflow],
    account: FlowAccount,
    line: RotorLine,
    *,
    exhaust_temperature: Lanes,
    bolts: Lanes,
    clamps: Lanes,
) -> Results:
    """Every power from the supply to the terminals, by column key, with the flow of each stage.

    `exhaust_temperature` [K] is that around shaft and bearings, `bolts` [W] the drag of washers,
    `clamps` [W] that of the rims of wide end clamps.
    """
    # Rotor to shaft: washers, end faces and rims of clamps that brake, bearings, shaft seals.
    speed, flow = build["speed"], flows[0]
    windage = added([speed * np.maximum(-f.ring.face_torque, 0.0) for f in flows]) + clamps
    thrust = added([thrust_of(build, f) for f in flows])
    running = run_bearings(
        build,
        line,
        shaft_temperature=exhaust_temperature,
        thrust=thrust,
        torque=account.rotor / speed,
    )
    bearings = speed * running.drag
    seals = speed * build["shaft_seal_torque"]
    shaft = account.rotor - bolts - windage - bearings - seals
    driven, electric = shaft_to_terminals(build, shaft)
    generator_speed = speed / build["drive_ratio"]
    # Losses, in the order of the flow of power.
    losses = {
        "loss_hose": account.hose,
        "loss_nozzle": account.nozzle,
        "loss_mixing": account.mixing,
        "loss_casing": account.casing,
        "loss_entry": account.entry,
        "loss_gap": account.gap,
        "loss_bolts": bolts,
        "loss_incidence": account.incidence,
        "loss_leaving": account.leaving,
        "loss_leakage": account.leakage,
        "loss_windage": windage,
        "loss_bearing": bearings,
        "loss_seal": seals,
        "loss_drive": shaft - driven,
        "loss_generator": driven - electric,
    }
    return {
        "electric_power": electric,
        "shaft_power": shaft,
        "shaft_torque": shaft / speed,
        "rotor_power": account.rotor,
        "rotor_torque": account.rotor / speed,
        "web_power": account.web,
        "isentropic_power": account.isentropic,
        "turbine_efficiency": shaft / account.isentropic,
        "rotor_efficiency": account.disc_efficiency,
        "mass_flow": flow.jet.mass_flow,
        "rotor_flow": flow.rotor_flow,
        "leakage_flow": flow.leakage,
        **bearing_thrust(build, thrust),
        **bearing_results(build, running),
        **losses,
        "loss_balance": account.isentropic - electric - sum(losses.values()),
        "generator_load": load_share(
            build, input_power=driven, output=electric, speed=generator_speed
        ),
    }
