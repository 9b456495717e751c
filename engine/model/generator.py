"""The generator of each build: by its data sheet where there is one, else by its rating."""

import numpy as np

from engine.columns import Builds
from engine.physics.arrays import Lanes
from engine.physics.machine.generator import generator_output
from engine.physics.machine.permanent_magnet import (
    DataSheet,
    bus_current,
    bus_voltage,
    commutation_constant,
    hot_resistance,
    sheet_output,
)

SHEET_KEYS = (
    "generator_kv", "winding_resistance", "winding_temperature", "winding_inductance",
    "pole_pairs", "rectifier_drop", "no_load_loss", "generator_power", "generator_efficiency",
    "generator_iron_share", "generator_speed", "drive_ratio", "drive_efficiency",
)  # fmt: skip
"""Machine numbers from which voltage and current follow."""


def has_sheet(build: Builds) -> bool:
    """Whether any build has a data sheet."""
    return "generator_kv" in build and bool(np.isfinite(build["generator_kv"]).any())


def sheet_of(build: Builds) -> DataSheet:
    """Take the data sheet of each build, (lane,); NaN where it has a rating alone."""
    rated_loss = build["generator_power"] * (1 / build["generator_efficiency"] - 1)
    loss = build["no_load_loss"]
    return DataSheet(
        speed_constant=build["generator_kv"] * 1.0,
        resistance=hot_resistance(
            resistance=build["winding_resistance"], temperature=build["winding_temperature"]
        ),
        commutation=commutation_constant(
            inductance=build["winding_inductance"], pole_pairs=build["pole_pairs"]
        ),
        drop=build["rectifier_drop"] * 1.0,
        loss=np.where(np.isnan(loss), build["generator_iron_share"] * rated_loss, loss),
        loss_speed=build["generator_speed"] * 1.0,
    )


def terminal_power(build: Builds, *, input_power: Lanes, speed: Lanes) -> Lanes:
    """Electric power of each generator [W] from that of its shaft at its speed [rad/s]."""
    rated = generator_output(
        input_power=input_power,
        speed=speed,
        rated_power=build["generator_power"],
        rated_speed=build["generator_speed"],
        rated_efficiency=build["generator_efficiency"],
        iron_share=build["generator_iron_share"],
    )
    if not has_sheet(build):
        return rated
    by_sheet = sheet_output(sheet=sheet_of(build), input_power=input_power, speed=speed)
    return np.where(np.isfinite(build["generator_kv"]), by_sheet, rated)


def load_share(build: Builds, *, input_power: Lanes, output: Lanes, speed: Lanes) -> Lanes:
    """Compare what each generator gives with the most that it may give at its speed [-].

    By its data sheet that is the current over its highest for hours.
    """
    rated = output / (build["generator_power"] * speed / build["generator_speed"])
    if not has_sheet(build):
        return rated
    sheet = sheet_of(build)
    amps = bus_current(sheet=sheet, input_power=input_power, speed=speed)
    return np.where(np.isfinite(build["generator_kv"]), amps / highest_current(build), rated)


def highest_current(build: Builds) -> Lanes:
    """Highest current of each generator for hours [A]."""
    stated = build["generator_current"]
    rated_voltage = build["generator_speed"] / build["generator_kv"]
    return np.where(np.isnan(stated), build["generator_power"] / rated_voltage, stated)


def volts_and_amps(build: Builds, *, shaft_power: Lanes, speed: Lanes) -> tuple[Lanes, Lanes]:
    """Voltage [V] and current [A] of the bus into a load that takes all that the shaft gives.

    `shaft_power` and `speed` are those of the turbine; NaN without a data sheet.
    """
    sheet, turns = sheet_of(build), speed / build["drive_ratio"]
    driven = np.where(shaft_power > 0, shaft_power * build["drive_efficiency"], shaft_power)
    amps = bus_current(sheet=sheet, input_power=driven, speed=turns)
    return bus_voltage(sheet=sheet, speed=turns, current=amps), amps
