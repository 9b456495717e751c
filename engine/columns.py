"""The one table of names: every variable, machine number and result, with unit and meaning.

A *key* is the name in study files and inside the engine, where values are SI. A *column name*
adds the drawing unit and is what tables, files and reports show. Nothing else converts.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

Kind = Literal["variable", "machine", "supply", "result", "band", "run"]
Better = Literal["more", "less", ""]
Builds = Mapping[str, NDArray[Any]]
"""Builds by key, SI, one element a build."""
Results = dict[str, NDArray[Any]]
"""Results by key, SI, one element a build."""


@dataclass(frozen=True)
class Unit:
    """A drawing unit: how it is printed, how a column name ends, and its size in SI."""

    symbol: str
    suffix: str
    si_factor: float = 1.0
    si_offset: float = 0.0
    """SI value = (drawing value) * si_factor + si_offset."""
    dimension: str = ""
    """Name of the dimension in `engine.units`; '' for text."""


UNITS = {
    unit.symbol: unit
    for unit in (
        Unit("", "", dimension="ratio"),
        Unit("text", ""),
        Unit("count", "", dimension="count"),
        Unit("mm", "mm", 1e-3, dimension="length"),
        Unit("µm", "um", 1e-6, dimension="length"),
        Unit("deg", "deg", np.pi / 180, dimension="angle"),
        Unit("rpm", "rpm", 2 * np.pi / 60, dimension="angular_speed"),
        Unit("m/s", "m_s", dimension="speed"),
        Unit("bar", "bar", 1e5, dimension="pressure"),
        Unit("°C", "degC", 1.0, 273.15, dimension="temperature"),
        Unit("K", "K", dimension="temperature_difference"),
        Unit("g/s", "g_s", 1e-3, dimension="mass_flow"),
        Unit("l/min", "l_min", 1e-3 / 60, dimension="volume_flow"),
        Unit("W", "W", dimension="power"),
        Unit("J", "J", dimension="energy"),
        Unit("mN m", "mN_m", 1e-3, dimension="torque"),
        Unit("N", "N", dimension="force"),
        Unit("MPa", "MPa", 1e6, dimension="stress"),
        Unit("kg", "kg", dimension="mass"),
        Unit("g mm", "g_mm", 1e-6, dimension="unbalance"),
        Unit("Hz", "Hz", dimension="frequency"),
        Unit("ms", "ms", 1e-3, dimension="time"),
        Unit("s", "s", dimension="time"),
        Unit("mm²/s", "mm2_s", 1e-6, dimension="kinematic_viscosity"),
        Unit("mm/s", "mm_s", 1e-3, dimension="balance_grade"),
        Unit("kg/kWh", "kg_kWh", 1 / 3.6e6, dimension="specific_consumption"),
        Unit("kW/(m3/min)", "kW_min_m3", 60e3, dimension="specific_power"),
    )
}


@dataclass(frozen=True)
class Column:
    """One named quantity."""

    key: str
    unit: Unit
    kind: Kind
    better: Better
    label: str
    meaning: str

    @property
    def name(self) -> str:
        """Column name with its drawing unit, as files and tables carry it."""
        return f"{self.key}_{self.unit.suffix}" if self.unit.suffix else self.key

    @property
    def is_text(self) -> bool:
        """Whether the values are words."""
        return self.unit.symbol == "text"

    @property
    def is_count(self) -> bool:
        """Whether the values are whole numbers."""
        return self.unit.symbol == "count"

    @property
    def title(self) -> str:
        """Label with the unit in brackets, for charts and table heads."""
        shown = "" if self.unit.symbol in ("", "text", "count") else f" [{self.unit.symbol}]"
        return f"{self.label}{shown}"

    def to_drawing(self, si: NDArray[np.float64] | float) -> NDArray[np.float64]:
        """Drawing-unit values of SI values."""
        return (np.asarray(si, dtype=float) - self.unit.si_offset) / self.unit.si_factor

    def to_si(self, drawing: NDArray[np.float64] | float) -> NDArray[np.float64]:
        """SI values of drawing-unit values."""
        return np.asarray(drawing, dtype=float) * self.unit.si_factor + self.unit.si_offset


def _rows(kind: Kind, *rows: tuple[str, str, Better, str, str]) -> list[Column]:
    return [
        Column(key, UNITS[unit], kind, better, label, meaning)
        for key, unit, better, label, meaning in rows
    ]


# A table reads best with one row a line, however long.
# fmt: off
_VARIABLES = _rows(
    "variable",
    ("disc_count", "count", "", "Discs", "number of discs in the stack"),
    ("disc_diameter", "mm", "", "Disc diameter", "outer diameter of the discs"),
    ("gap", "mm", "", "Gap", "axial space between neighbouring discs"),
    ("inlet_angle", "deg", "", "Inlet angle", "angle of the nozzle jets from the rim's tangent"),
    ("exhaust_bore", "mm", "", "Exhaust bore", "diameter inside which the gaps are open to the exhaust"),
    ("speed", "rpm", "", "Speed", "rotational speed of the stack"),
)

_MACHINE = _rows(
    "machine",
    ("disc_thickness", "mm", "", "Disc thickness", "thickness of one disc"),
    ("material", "text", "", "Disc material", "row of the material table"),
    ("process", "text", "", "Process", "row of the process table: how the discs are made"),
    ("notch_factor", "", "", "Notch factor", "stress concentration at the bore (1 plain, 2 spokes or bolt holes)"),
    ("burst_factor", "", "", "Burst factor", "mean hoop stress at burst over ultimate strength"),
    ("nozzle_count", "count", "", "Nozzles", "number of nozzles around the rim"),
    ("nozzle_width", "mm", "", "Nozzle width", "throat width of one nozzle, measured across the jet"),
    ("nozzle_form", "text", "", "Nozzle form", "convergent or convergent-divergent"),
    ("nozzle_area_ratio", "", "", "Nozzle area ratio", "exit area over throat area of a convergent-divergent nozzle"),
    ("nozzle_discharge", "", "", "Nozzle discharge", "flow coefficient of the nozzles"),
    ("nozzle_velocity", "", "", "Nozzle velocity", "velocity coefficient of the nozzles"),
    ("rim_mixing", "", "", "Rim mixing", "share of the jets' swirl that survives their mixing"),
    ("exhaust_ends", "count", "", "Exhaust ends", "ends of the stack at which the flow leaves, 1 or 2"),
    ("exhaust_blockage", "", "", "Exhaust blockage", "share of the exhaust annulus blocked by spokes or hub"),
    ("exhaust_loss", "", "", "Exhaust loss", "pressure loss of the exhaust over its axial dynamic head"),
    ("rim_clearance", "mm", "", "Rim clearance", "radial space between rim and casing"),
    ("side_gap", "mm", "", "Side gap", "axial space between end disc and casing"),
    ("seal_clearance", "mm", "", "Seal clearance", "radial clearance of the exhaust collar seals"),
    ("seal_throttles", "count", "", "Seal throttles", "sharp throttles in series in each collar seal"),
    ("seal_discharge", "", "", "Seal discharge", "flow coefficient of a sharp throttle"),
    ("shaft_diameter", "mm", "", "Shaft diameter", "diameter of the shaft inside the stack"),
    ("shaft_material", "text", "", "Shaft material", "row of the material table"),
    ("bearing_allowance", "mm", "", "Bearing allowance", "distance from the stack's end to the middle of the bearing, each side"),
    ("bearing", "text", "", "Bearing", "row of the bearing table (ISO 15 size)"),
    ("bearing_preload", "N", "", "Bearing preload", "axial preload on each bearing"),
    ("bearing_viscosity", "mm²/s", "", "Bearing lubricant", "viscosity of the lubricant (or of the grease's base oil) at running temperature"),
    ("bearing_factor", "", "", "Bearing drag factor", "drag of the bearings over that of the bearing law; 1 until a bench says otherwise"),
    ("windage_factor", "", "", "Windage factor", "drag of the end faces over that of the windage law; 1 until a bench says otherwise"),
    ("shaft_seal_torque", "mN m", "", "Shaft seal torque", "drag of all rubbing shaft seals together"),
    ("balance_grade", "mm/s", "", "Balance grade", "ISO 21940-11 grade G of the finished stack"),
    ("drive_efficiency", "", "", "Drive efficiency", "power out over power in of belt or coupling"),
    ("drive_ratio", "", "", "Drive ratio", "turbine speed over generator speed"),
    ("generator_power", "W", "", "Generator rating", "rated electric power of the generator"),
    ("generator_speed", "rpm", "", "Generator rated speed", "speed at which the generator gives its rating"),
    ("generator_efficiency", "", "", "Generator efficiency", "efficiency of the generator at its rating"),
    ("generator_iron_share", "", "", "Generator iron share", "share of the rated generator loss that depends on speed alone"),
    ("trip_factor", "", "", "Trip factor", "speed at which the overspeed trip acts, over operating speed"),
)

_SUPPLY = _rows(
    "supply",
    ("supply_pressure", "bar", "", "Supply pressure", "absolute pressure before the nozzles, where it is not the study's"),
    ("supply_temperature", "°C", "", "Supply temperature", "temperature before the nozzles, where it is not the study's"),
)

_RESULTS = _rows(
    "result",
    ("status", "text", "", "Status", "'matched', or why there is no operating point"),
    ("electric_power", "W", "more", "Electric power", "power at the generator terminals"),
    ("safety_margin", "", "more", "Safety margin", "lowest failing speed over operating speed"),
    ("governing_mode", "text", "", "Governing mode", "what fails first when the speed rises"),
    ("shaft_power", "W", "more", "Shaft power", "power at the turbine shaft after all drag, before drive and generator"),
    ("shaft_torque", "mN m", "more", "Shaft torque", "net torque at the turbine shaft"),
    ("rotor_power", "W", "more", "Rotor power", "power the gas gives to discs and disc edges"),
    ("rotor_torque", "mN m", "more", "Rotor torque", "torque of the gas on discs and disc edges"),
    ("isentropic_power", "W", "", "Isentropic power", "total flow times isentropic drop from supply to back pressure"),
    ("turbine_efficiency", "", "more", "Turbine efficiency", "shaft power over isentropic power, total to static"),
    ("rotor_efficiency", "", "more", "Rotor efficiency", "disc work over the isentropic drop from the rim's stagnation state to the gap's exit pressure"),
    ("supply_power", "W", "less", "Supply power", "power that making this flow takes: of the compressor, of fuel and feed pump, or of the head"),
    ("supply_efficiency", "", "more", "Supply efficiency", "electric power over supply power: supply to socket"),
    ("specific_consumption", "kg/kWh", "less", "Specific consumption", "mass of supply fluid per electric kilowatt-hour"),
    ("mass_flow", "g/s", "less", "Mass flow", "flow through the nozzles"),
    ("free_air_flow", "l/min", "less", "Free air", "mass flow as free air at 1 bar and 20 °C"),
    ("rotor_flow", "g/s", "", "Rotor flow", "flow through all gaps"),
    ("leakage_flow", "g/s", "less", "Leakage", "flow past the end discs and their collar seals"),
    ("rim_pressure", "bar", "", "Rim pressure", "absolute pressure of the ring around the discs"),
    ("gap_exit_pressure", "bar", "", "Gap exit pressure", "absolute pressure at the inner end of the gaps"),
    ("rim_swirl_ratio", "", "", "Rim swirl ratio", "swirl of the mixed ring over rim speed"),
    ("rim_speed", "m/s", "", "Rim speed", "circumferential speed of the disc rim"),
    ("jet_speed", "m/s", "", "Jet speed", "speed of the nozzle jets"),
    ("jet_mach", "", "", "Jet Mach number", "jet speed over speed of sound of the jet"),
    ("exhaust_temperature", "°C", "", "Exhaust temperature", "total temperature of the gas leaving the rotor"),
    ("exhaust_mach", "", "less", "Exhaust Mach number", "axial speed in the exhaust annulus over speed of sound"),
    ("gap_reynolds", "", "", "Gap Reynolds number", "largest 2 b V_rel / nu along the gap"),
    ("turbulent_share", "", "", "Turbulent share", "share of the radius on which the gap flow is turbulent"),
    ("ekman_number", "", "", "Ekman parameter", "gap times the root of angular speed over kinematic viscosity, at the rim"),
    ("gap_mach", "", "less", "Gap Mach number", "largest relative Mach number in the gaps"),
    ("gap_flow", "text", "", "Gap flow", "'averaged' across the gap, or 'resolved': the level that gave these results"),
    ("resolved_power", "W", "more", "Resolved power", "electric power with the flow resolved across the gap"),
    ("resolved_difference", "", "", "Difference when resolved", "resolved over averaged electric power, less 1"),
    ("backflow_share", "", "less", "Backflow share", "share of the radius on which fluid in mid-gap moves outward"),
    ("loss_nozzle", "W", "less", "Nozzle loss", "loss between supply and jets"),
    ("loss_mixing", "W", "less", "Mixing loss", "loss of the jets mixing with the ring around the discs"),
    ("loss_casing", "W", "less", "Casing friction", "friction of the ring on the casing wall"),
    ("loss_entry", "W", "less", "Gap entry loss", "loss of the contraction into the gaps and of disc edge drag"),
    ("loss_gap", "W", "less", "Gap friction loss", "friction between gas and discs inside the gaps"),
    ("loss_leaving", "W", "less", "Leaving loss", "motion and pressure still in the gas at the inner end of the gaps"),
    ("loss_leakage", "W", "less", "Leakage loss", "what the leaking flow could still have given"),
    ("loss_windage", "W", "less", "Windage", "drag of the outer faces of the end discs"),
    ("loss_bearing", "W", "less", "Bearing loss", "drag of the bearings"),
    ("loss_seal", "W", "less", "Shaft seal loss", "drag of the rubbing shaft seals"),
    ("loss_drive", "W", "less", "Drive loss", "loss of belt or coupling"),
    ("loss_generator", "W", "less", "Generator loss", "iron and copper loss of the generator"),
    ("loss_balance", "W", "", "Balance residual", "isentropic power less electric power and every loss; zero but for rounding"),
    ("generator_load", "", "less", "Generator load", "electric power over what the generator may give at this speed"),
    ("stack_height", "mm", "", "Stack height", "discs and gaps together"),
    ("rotor_mass", "kg", "less", "Rotor mass", "discs and shaft between the bearings"),
    ("stored_energy", "J", "less", "Stored energy", "kinetic energy of the disc stack at operating speed"),
    ("nozzle_footprint", "", "less", "Nozzle footprint", "share of the rim's circumference taken by nozzle exits"),
    ("bore_ratio", "", "", "Bore ratio", "exhaust bore over disc diameter"),
    ("bore_wall", "mm", "more", "Bore wall", "radial room between shaft and exhaust bore"),
    ("stress_margin", "", "more", "Stress margin", "yield strength over notched bore stress at trip speed"),
    ("bore_stress", "MPa", "less", "Bore stress", "hoop stress at the disc bore at operating speed, without notch factor"),
    ("yield_speed", "rpm", "more", "Yield speed", "speed at which the notched bore stress reaches yield"),
    ("burst_speed", "rpm", "more", "Burst speed", "speed at which the mean hoop stress reaches the burst limit"),
    ("bearing_limit_speed", "rpm", "more", "Bearing limit speed", "speed limit of the bearings with this lubrication"),
    ("rub_speed", "rpm", "more", "Rub speed", "speed at which the growing rim closes its clearance"),
    ("rim_growth", "µm", "less", "Rim growth", "radial growth of the rim at operating speed"),
    ("runaway_ratio", "", "less", "Runaway ratio", "speed the stack runs up to with the load thrown off, over operating speed"),
    ("survives_load_loss", "", "more", "Survives load loss", "1 where the safety margin covers the runaway ratio, else 0"),
    ("validity", "text", "", "Outside valid range", "relations used outside their published range, '' for none"),
    ("wave_speed", "rpm", "more", "Standing-wave speed", "speed at which a wave in a disc stands still in the casing: the disc warps"),
    ("wave_nodal_diameters", "count", "", "Nodal diameters", "nodal diameters of the wave that stands still first"),
    ("shaft_critical_speed", "rpm", "more", "Shaft critical speed", "first bending critical speed of stack and shaft between the bearings"),
    ("gap_hold", "", "more", "Gap hold", "worst local gap at the rim over the drawn gap"),
    ("gap_yield", "", "more", "Gap yield", "share of stacks whose every gap stays above half the drawn one"),
    ("rim_gap", "mm", "more", "Worst rim gap", "narrowest local gap at the rim with every tolerance against it"),
    ("smallest_gap", "mm", "less", "Smallest gap", "smallest gap the process can hold at this diameter"),
    ("permissible_unbalance", "g mm", "", "Permissible unbalance", "residual unbalance that the balance grade allows at this speed"),
    ("raw_unbalance", "g mm", "less", "Raw unbalance", "unbalance that sheet and centring tolerances leave before trimming"),
    ("thermal_stress", "MPa", "less", "Thermal stress", "hoop stress at the disc bore from a rim hotter than the bore"),
    ("rim_over_bore", "K", "less", "Rim over bore", "temperature of the disc at its rim less that at its bore"),
    ("disc_temperature", "°C", "", "Disc temperature", "mean temperature of the discs"),
    ("fuel_power", "W", "less", "Fuel power", "heat of the fuel burnt for this flow, or taken from the heat source"),
    ("pump_power", "W", "less", "Pump power", "power of the pump that feeds the boiler or makes the head"),
    ("jet_quality", "", "more", "Jet quality", "share of vapour in the nozzle jets; the rest is droplets"),
    ("rim_quality", "", "more", "Rim quality", "share of vapour in the ring around the discs"),
    ("exit_wetness", "", "less", "Exit wetness", "share of droplets in what leaves the gaps"),
    ("cavitation_margin", "", "more", "Cavitation margin", "lowest pressure of a liquid over the one at which it boils"),
    ("loads_carried", "text", "", "Appliances carried", "appliances of the study that run together, in its order, the needed ones first"),
    ("spare_power", "W", "more", "Spare power", "electric power less what the needed appliances take together while the hardest of them starts"),
    ("lamp_voltage_change", "", "less", "Lamp voltage change", "largest change of a filament lamp's voltage as the supply pressure swings, at fixed speed"),
    ("holding_time", "s", "more", "Holding time", "time for which the stored energy keeps the needed appliances running at the low end of the swing"),
)

_RUN = _rows(
    "run",
    ("design", "count", "", "Design", "number of the design in its run, in the order of evaluation"),
    ("feasible", "count", "more", "Feasible", "1 where every limit is met and every aim has a number, else 0"),
    ("violation", "", "less", "Violation", "how far past the limits, all of them together; 0 where feasible"),
    ("rank", "count", "", "Rank", "place on the front by the first aim, the best first"),
)
# fmt: on

CHANCE_ALL = "chance_all"
"""Key of the chance that every limit of the study holds."""


def band_key(key: str, part: str) -> str:
    """Key of a part of a result's band: 'p10', 'p50', 'p90' or 'chance'."""
    return f"{key}_{part}"


def _bands(of: Column) -> list[Column]:
    parts = {
        "p10": "one sample in ten lies below",
        "p50": "half of the samples lie below",
        "p90": "nine samples in ten lie below",
    }
    unit = UNITS[""] if of.is_count else of.unit
    found = [
        Column(band_key(of.key, part), unit, "band", of.better, f"{of.label} {part.upper()}",
               f"{of.meaning}: {meaning}")
        for part, meaning in parts.items()
    ]  # fmt: skip
    meaning = f"share of the samples in which the limit of this result holds: {of.meaning}"
    label = f"Chance of the limit of {of.label[0].lower()}{of.label[1:]}"
    return [*found, Column(band_key(of.key, "chance"), UNITS[""], "band", "more", label, meaning)]


def is_chance(key: str) -> bool:
    """Whether a column holds a chance."""
    return key == CHANCE_ALL or (key in COLUMNS and key == band_key(base_key(key), "chance"))


_MEASURED = [column for column in _RESULTS if not column.is_text]
_BANDS = [band for column in _MEASURED for band in _bands(column)] + _rows(
    "band",
    (CHANCE_ALL, "", "more", "Chance of all limits", "share of the samples in which all hold"),
)

COLUMNS: Mapping[str, Column] = {
    c.key: c for c in (*_VARIABLES, *_MACHINE, *_SUPPLY, *_RESULTS, *_BANDS, *_RUN)
}
"""Every column by key."""
_BASE = {
    band_key(column.key, part): column.key
    for column in _MEASURED
    for part in ("p10", "p50", "p90", "chance")
}


def base_key(key: str) -> str:
    """Key of the result that a band belongs to; any other key as it is."""
    return _BASE.get(key, key)


BY_NAME: Mapping[str, Column] = {c.name: c for c in COLUMNS.values()}
"""Every column by its name with unit."""
SEARCHED = tuple(c.key for c in _VARIABLES)
"""The six variables every study searches (or fixes)."""
FAILING_SPEEDS = (
    "yield_speed",
    "burst_speed",
    "wave_speed",
    "shaft_critical_speed",
    "bearing_limit_speed",
    "rub_speed",
)
"""Speeds at which something fails; the lowest makes the safety margin."""
LOSSES = tuple(c.key for c in _RESULTS if c.key.startswith("loss_") and c.key != "loss_balance")
"""Every loss from supply to terminals, in the order of the flow."""
