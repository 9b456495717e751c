"""Tables of what comes with the program, as the reference of the study file shows them."""

import math
from collections.abc import Sequence
from importlib.metadata import version
from typing import TypeAlias

from engine.catalogue import Bearing, bearing_seals, bearings, materials, processes
from engine.fluids.by_name import (
    COMPRESSED_BELOW,
    GASES,
    OIL,
    STEAM,
    WATER,
    fluid_names,
    is_vapour,
)
from engine.fluids.coolprop import RealFluid
from engine.study.supply import OIL_KEYS, STATES

ATMOSPHERE = 101325.0
Rows: TypeAlias = list[tuple[str, ...]]


def table_of(head: Sequence[str], rows: Rows) -> str:
    lines = [head, ["---"] * len(head), *rows]
    for line in lines:
        assert len(line) == len(head), line
        assert not any("|" in cell or "\n" in cell for cell in line), line
    joined = ("| " + " | ".join(line) + " |" for line in lines)
    return "".join(f"{line}\n" for line in joined).replace("|  |", "| |").replace(" --- ", "---")


def code(text: object) -> str:
    return f"`{text}`"


def _along(values: Sequence[float], factor: float, digits: int = 4) -> str:
    return ", ".join(f"{value * factor:.{digits}g}" for value in values)


def material_table() -> str:
    rows: Rows = [
        (
            code(key), row.title, f"{row.density:g}", f"{row.poisson:g}",
            f"{row.expansion * 1e6:.3g}", f"{row.conductivity:g}",
            ", ".join(f"{kelvin - 273.15:.0f}" for kelvin in row.temperature),
            _along(row.youngs_modulus, 1e-9), _along(row.yield_strength, 1e-6),
            _along(row.annealed_strength, 1e-6), _along(row.ultimate_strength, 1e-6), row.source,
        )
        for key, row in materials().items()
    ]  # fmt: skip
    head = (
        "material", "what it is", "density [kg/m³]", "Poisson's ratio", "expansion [1e-6/K]",
        "conductivity [W/(m K)]", "at [°C]", "Young's modulus [GPa]", "yield strength [MPa]",
        "of an annealed edge [MPa]", "ultimate strength [MPa]", "source",
    )  # fmt: skip
    return table_of(head, rows)


def process_table() -> str:
    rows: Rows = [
        (
            code(key), row.title, _along(row.thickness, 1e3), _along(row.thickness_tolerance, 1e6),
            f"{row.wedge_share:g}", f"{row.flatness * 1e3:g}", f"{row.spacer_tolerance * 1e6:g}",
            f"{row.run_out * 1e6:g}", f"{row.eccentricity * 1e6:g}",
            "yes" if row.anneals else "no", f"{row.smallest_gap * 1e3:g}", row.source,
        )
        for key, row in processes().items()
    ]  # fmt: skip
    head = (
        "process", "what it is", "disc thickness [mm]", "its tolerance, plus or minus [µm]",
        "wedge share", "flatness [mm per m]", "spacer tolerance, plus or minus [µm]",
        "run-out [µm]", "eccentricity [µm]", "anneals its edge", "smallest gap [mm]", "source",
    )  # fmt: skip
    return table_of(head, rows)


def bearing_table() -> str:
    def size(row: Bearing) -> str:
        return f"{row.bore * 1e3:g} x {row.outside_diameter * 1e3:g} x {row.width * 1e3:g}"

    rows: Rows = [
        (
            code(key), size(row), f"{row.dynamic_rating:g}", f"{row.static_rating:g}",
            f"{row.ball_count} x {row.ball_diameter * 1e3:g}",
            f"{row.lubrication_grease:g}", f"{row.lubrication_oil:g}", row.source,
        )
        for key, row in bearings().items()
    ]  # fmt: skip
    head = ("bearing", "bore x outside diameter x width [mm]", "dynamic rating [N]",
            "static rating [N]", "balls [mm]", "f0 greased", "f0 oiled", "source")  # fmt: skip
    return table_of(head, rows)


def bearing_seal_table() -> str:
    rows: Rows = [
        (code(key), row.title, f"{round(row.speed_limit * 60e3 / (2 * math.pi), -3):.0f}",
         f"{row.drag * 1e3:g}", f"{row.drag_per_size:g}", row.source)
        for key, row in bearing_seals().items()
    ]  # fmt: skip
    head = ("seal", "what it is", "limit of n d_m [mm/min]", "drag [mN m]", "drag per d^2.25",
            "source")  # fmt: skip
    return table_of(head, rows)


def fluid_table() -> str:
    rows: Rows = [_fluid(name) for name in fluid_names()]
    head = ("fluid", "what it is", "state given by", "boils at 1.013 bar", "critical point")
    return f"By CoolProp {version('CoolProp')}.\n\n{table_of(head, rows)}"


def _fluid(name: str) -> tuple[str, ...]:
    if name in GASES:
        return (code(name), "a gas, dry, from a compressor", code("temperature"), "", "")
    if name == WATER:
        return (code(name), "a liquid, from a head or a pump", code("temperature"), "", "")
    if name == OIL:
        states = ", ".join(map(code, ("temperature", *OIL_KEYS)))
        return (code(name), "a liquid, from a head or a pump", states, "", "")
    assert is_vapour(name)
    fluid = RealFluid("Water" if name == STEAM else name)
    boiled = fluid.critical_temperature >= COMPRESSED_BELOW
    critical = f"{_celsius(fluid.critical_temperature)}, {fluid.critical_pressure / 1e5:.1f} bar"
    boils = ""
    if fluid.triple_pressure < ATMOSPHERE < fluid.critical_pressure:
        boils = _celsius(fluid.at("pq", ATMOSPHERE, 0).temperature)
    kind = f"a vapour, from a {'boiler' if boiled else 'compressor'}"
    return (code(name), kind, " or ".join(map(code, STATES)), boils, critical)


def _celsius(kelvin: float) -> str:
    return f"{round(kelvin - 273.15):d} °C"
