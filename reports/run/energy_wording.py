"""Where the energy of a run in time came from and went. Plain text."""

from collections.abc import Mapping
from dataclasses import dataclass

from engine.model.in_time import InTime
from reports.kit.quantities import count, number, percent

GROUPS: Mapping[str, tuple[str, ...]] = {
    "Lost in hose, nozzles and jets": ("loss_hose", "loss_nozzle", "loss_mixing"),
    "Friction on the casing": ("loss_casing",),
    "Lost in the gaps": ("loss_entry", "loss_gap"),
    "Left in the exhaust": ("loss_incidence", "loss_leaving"),
    "Leaks past the stack": ("loss_leakage",),
    "Drag of end faces, bearings and shaft seals": ("loss_windage", "loss_bearing", "loss_seal"),
}
"""Losses between supply and shaft, as the table adds them up."""
SLIGHT = 5e-4
"""Share of all that came in below which a row is left out."""


@dataclass(frozen=True)
class EnergyRow:
    """One line of the table."""

    name: str
    joules: str
    share: str
    """Of all that came in; '' of what came in from several places."""
    is_sum: bool = False


def energy_rows(at: InTime) -> list[EnergyRow]:
    """List what came in, then where it went; empty where nothing came in."""
    energies, supply = at.motion.energies, at.motion.energies.supply
    if supply is None or supply.given <= 0:
        return []
    whole = supply.given
    loads = energies.loads[: len(at.wired.loads)]
    came = {
        "From the compressor" if supply.came != supply.drawn else "From the supply": supply.came,
        "Out of the receiver, beyond that": supply.receiver,
        "Out of the hose, behind the shut valve": supply.hose,
    }
    went = {
        "Lost in the regulator": supply.regulator,
        "Lost in the closing valve": supply.valve,
        **{name: sum(supply.lost[key] for key in keys) for name, keys in GROUPS.items()},
        "Lost in the drive": energies.drive,
        "Lost in generator and rectifier": energies.no_load + energies.winding + energies.diodes,
        "To the dump resistor": float(energies.loads[len(loads) :].sum()),
        "To the loads": float(loads.sum()),
        "Into the turning rotor and the capacitor": energies.rotor + energies.bus,
    }
    rows = [
        EnergyRow(name, _joules(value), "")
        for name, value in came.items()
        if abs(value) > SLIGHT * whole
    ]
    told = rows if len(rows) > 1 else []
    known = [(name, value) for name, value in went.items() if abs(value) > SLIGHT * whole]
    return [
        *told,
        EnergyRow("In all", _joules(whole), percent(1.0), is_sum=True),
        *(EnergyRow(name, _joules(value), percent(value / whole)) for name, value in known),
    ]


def energy_text(at: InTime) -> str:
    """Say how well it adds up."""
    left = abs(at.motion.energies.left_of_supply)
    return (
        "Energy of the gas or liquid counts as the work that it would give without loss, not as "
        "what its compressor or boiler took. A rotor that slows down gives some back: then its "
        f"line is below zero. It adds up within {_millionths(left)} of what came in."
    )


def _millionths(left: float) -> str:
    return "a millionth" if left <= 1e-6 else f"{number(1e6 * left, 2)} millionths"


def _joules(value: float) -> str:
    return count(value) if abs(value) >= 1000 else number(value)
