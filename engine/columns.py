"""The table of names: every variable, machine number and result, with its unit and meaning.

A *key* is the name in study files and inside the engine, where values are in SI units. A *column
name* adds the drawing unit; tables, files and reports show it. Only this module converts between
the two.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from engine import disc_columns as discs
from engine import pump_columns as pump
from engine import stage_columns as stages

Kind = Literal["variable", "machine", "supply", "result", "band", "run"]
Better = Literal["more", "less", ""]
Machine = Literal["turbine", "pump"]
"""What is built. `columns_of` says which columns each kind has."""
Builds = Mapping[str, NDArray[Any]]
"""Values of builds [SI] by key, one element for each build."""
Results = dict[str, NDArray[Any]]
"""Results [SI] by key, one element for each build."""


@dataclass(frozen=True)
class Unit:
    """A drawing unit: how it is printed, how a column name ends with it, and its size in SI."""

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
        Unit("mm²", "mm2", 1e-6, dimension="area"),
        Unit("m", "m", dimension="length"),
        Unit("µm", "um", 1e-6, dimension="length"),
        Unit("deg", "deg", np.pi / 180, dimension="angle"),
        Unit("rpm", "rpm", 2 * np.pi / 60, dimension="angular_speed"),
        Unit("m/s", "m_s", dimension="speed"),
        Unit("bar", "bar", 1e5, dimension="pressure"),
        Unit("mbar", "mbar", 100.0, dimension="pressure_difference"),
        Unit("°C", "degC", 1.0, 273.15, dimension="temperature"),
        Unit("K", "K", dimension="temperature_difference"),
        Unit("g/s", "g_s", 1e-3, dimension="mass_flow"),
        Unit("l/min", "l_min", 1e-3 / 60, dimension="volume_flow"),
        Unit("W", "W", dimension="power"),
        Unit("J", "J", dimension="energy"),
        Unit("mN m", "mN_m", 1e-3, dimension="torque"),
        Unit("N", "N", dimension="force"),
        Unit("MPa", "MPa", 1e6, dimension="stress"),
        Unit("Pa", "Pa", dimension="shear"),
        Unit("kg", "kg", dimension="mass"),
        Unit("g mm", "g_mm", 1e-6, dimension="unbalance"),
        Unit("Hz", "Hz", dimension="frequency"),
        Unit("ms", "ms", 1e-3, dimension="time"),
        Unit("s", "s", dimension="time"),
        Unit("h", "h", 3600.0, dimension="time"),
        Unit("MN/m", "MN_m", 1e6, dimension="stiffness"),
        Unit("mm²/s", "mm2_s", 1e-6, dimension="kinematic_viscosity"),
        Unit("mm/s", "mm_s", 1e-3, dimension="balance_grade"),
        Unit("l", "l", 1e-3, dimension="volume"),
        Unit("V", "V", dimension="voltage"),
        Unit("A", "A", dimension="current"),
        Unit("ohm", "ohm", dimension="resistance"),
        Unit("µH", "uH", 1e-6, dimension="inductance"),
        Unit("rpm/V", "rpm_V", 2 * np.pi / 60, dimension="speed_constant"),
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
        """Label with the unit in brackets, for charts and table headings."""
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


# The table is easiest to read with one row to a line, however long.
# fmt: off
_VARIABLES = _rows(
    "variable",
    ("disc_count", "count", "", "Discs", "number of discs in the stack"),
    ("disc_diameter", "mm", "", "Disc diameter", "outer diameter of the discs"),
    ("gap", "mm", "", "Gap", "axial space between neighbouring discs"),
    ("inlet_angle", "deg", "", "Inlet angle", "angle between the nozzle jets and the tangent to the rim"),
    ("exhaust_bore", "mm", "", "Exhaust bore", "diameter at which the gaps end and open into the exhaust"),
    ("speed", "rpm", "", "Running speed", "rotational speed of the stack"),
)

_MACHINE = _rows(
    "machine",
    ("disc_thickness", "mm", "", "Disc thickness", "thickness of one disc"),
    ("material", "text", "", "Disc material", "material of the discs: a key of the material table"),
    ("process", "text", "", "Process", "how the discs are made: a key of the process table"),
    ("notch_factor", "", "", "Notch factor", "peak stress divided by the hoop stress at the bore of a plain ring, if it is not to be the one computed for spokes, hub and fillets"),
    ("burst_factor", "", "", "Burst factor", "mean hoop stress at burst divided by ultimate strength"),
    ("hose_bore", "mm", "", "Hose bore", "inner diameter of the hose or pipe to the nozzles"),
    ("hose_length", "m", "", "Hose length", "length of the hose or pipe to the nozzles"),
    ("hose_factor", "", "", "Hose friction factor", "friction of the hose divided by that of a smooth one; 1 unless a test says otherwise"),
    ("couplings", "count", "", "Couplings", "number of quick couplings and part-open valves in the hose"),
    ("coupling_loss", "", "", "Coupling loss", "pressure loss of one coupling divided by dynamic pressure in the hose"),
    ("nozzle_count", "count", "", "Nozzles", "number of nozzles around the rim"),
    ("nozzle_width", "mm", "", "Nozzle width", "throat width of one nozzle, measured across the jet"),
    ("nozzle_form", "text", "", "Nozzle form", "convergent or convergent-divergent"),
    ("nozzle_area_ratio", "", "", "Nozzle area ratio", "exit area divided by throat area of a convergent-divergent nozzle"),
    ("nozzle_land", "", "", "Nozzle land", "length of the parallel part of a nozzle divided by its width"),
    ("nozzle_entry", "text", "", "Nozzle entry", "edge at which the flow enters a nozzle: rounded by half a width or more, or sharp"),
    ("nozzle_discharge", "", "", "Nozzle discharge", "discharge coefficient of the nozzles: real flow divided by isentropic flow; computed from land and entry where it is not stated"),
    ("nozzle_velocity", "", "", "Nozzle velocity", "velocity coefficient of the nozzles: real jet speed divided by isentropic jet speed; computed from land and entry where it is not stated"),
    ("rim_mixing", "", "", "Rim mixing", "speed of the jets behind the mouth divided by that which the pressure around the rim gives"),
    ("casing_factor", "", "", "Casing factor", "friction of the ring around the discs on the casing divided by that of its law; 1 unless a test says otherwise"),
    ("filling_factor", "", "", "Filling factor", "share of the ring around the discs that a jet fills divided by that of its law; 1 unless a test says otherwise"),
    ("exchange_factor", "", "", "Exchange factor", "shear between the ring around the discs and the side chambers divided by that of a mixing layer; 0 closes the chambers"),
    ("entry_factor", "", "", "Entry loss factor", "loss at the entry of the gaps divided by that of a sudden contraction"),
    ("transition_factor", "", "", "Transition factor", "Reynolds numbers at which the flow in the gaps leaves the laminar law and reaches the turbulent one, divided by 2,300 and 4,000, those of a plane channel"),
    ("exhaust_ends", "count", "", "Exhaust ends", "number of ends of the stack at which the flow leaves: 1 or 2"),
    *discs.MACHINE,
    ("exhaust_loss", "", "", "Exhaust loss", "loss coefficient of the exhaust: pressure loss divided by axial dynamic pressure"),
    ("web_factor", "", "", "Web factor", "share of the exhaust that the turning spokes take along divided by that of its law; 0 is an exhaust without walls"),
    ("core_factor", "", "", "Core factor", "effect of the hollow core in a swirling exhaust divided by that of its law; 0 lets the flow fill the exhaust"),
    ("rim_clearance", "mm", "", "Rim clearance", "radial clearance between rim and casing"),
    ("side_gap", "mm", "", "Side gap", "axial clearance between end disc and casing"),
    ("seal_clearance", "mm", "", "Seal clearance", "radial clearance of the seals on the exhaust collars"),
    ("seal_throttles", "count", "", "Seal throttles", "number of sharp throttles in series in each collar seal"),
    ("seal_discharge", "", "", "Seal discharge", "discharge coefficient of a sharp throttle"),
    ("collar_process", "text", "", "Collar process", "how the seats of the collar seals are made: a key of the process table; it sets how far they stand off centre"),
    ("shaft_diameter", "mm", "", "Shaft diameter", "diameter of the shaft inside the stack, and of the thread whose nut passes the bearing's seat"),
    ("shaft_material", "text", "", "Shaft material", "material of the shaft: a key of the material table"),
    ("bearing_allowance", "mm", "", "Bearing allowance", "distance from each end of the stack to the middle of its bearing"),
    ("bearing", "text", "", "Bearing", "size of the bearings: a key of the bearing table (ISO 15)"),
    ("bearing_seal", "text", "", "Bearing seal", "what closes the bearings at both sides: open, shield or contact"),
    ("bearing_preload", "N", "", "Bearing preload", "axial preload on each bearing"),
    ("grease_viscosity", "mm²/s", "", "Grease viscosity", "kinematic viscosity of the grease's base oil at 40 °C; at running temperature it is computed"),
    ("bearing_viscosity", "mm²/s", "", "Bearing lubricant", "kinematic viscosity of the lubricant, or of the grease's base oil, at running temperature, if it is not to be the one computed"),
    ("bearing_factor", "", "", "Bearing drag factor", "bearing drag divided by that of the bearing law; 1 unless a bench test says otherwise"),
    ("bearing_seal_factor", "", "", "Bearing seal factor", "drag of the lips of contact seals in the bearings divided by that of their law; 1 unless a bench test says otherwise"),
    ("bearing_cooling", "", "", "Bearing cooling", "heat that a bearing carries off through its seats divided by that of its law"),
    ("support_factor", "", "", "Support factor", "radial stiffness of a bearing in its seat divided by that of its balls between rigid rings"),
    ("pack_factor", "", "", "Pack factor", "bending stiffness of the clamped pack of discs and spacers divided by that of its hubs as one solid piece; 0 leaves the shaft alone"),
    ("belt_pull", "", "", "Belt pull", "load of the belt across the shaft divided by the pull that drives; nothing without a belt"),
    ("windage_factor", "", "", "Windage factor", "friction in the side chambers divided by that of the windage law; 1 unless a bench test says otherwise"),
    ("wave_factor", "", "", "Wave factor", "frequencies of the discs divided by those computed; 1 unless a tap test says otherwise"),
    ("shaft_seal_torque", "mN m", "", "Shaft seal torque", "drag torque of all rubbing shaft seals together"),
    ("balance_grade", "mm/s", "", "Balance grade", "balance grade G of the finished stack (ISO 21940-11)"),
    ("drive_efficiency", "", "", "Drive efficiency", "power out of belt or coupling divided by power in"),
    ("drive_ratio", "", "", "Drive ratio", "turbine speed divided by generator speed"),
    ("generator_power", "W", "", "Generator rating", "rated electric power of the generator"),
    ("generator_speed", "rpm", "", "Generator rated speed", "speed at which the generator gives its rated power"),
    ("generator_efficiency", "", "", "Generator efficiency", "efficiency of the generator at its rated power"),
    ("generator_iron_share", "", "", "Generator iron share", "share of the rated generator loss that depends on speed only"),
    ("generator_overspeed", "", "", "Generator overspeed", "highest speed that the generator may turn divided by its rated speed"),
    ("generator_kv", "rpm/V", "", "Generator constant", "speed of the generator divided by its voltage without load, behind its bridge; with it the generator is computed by its data sheet instead of its rating"),
    ("winding_resistance", "ohm", "", "Winding resistance", "resistance between two terminals of the generator at 20 °C"),
    ("winding_inductance", "µH", "", "Winding inductance", "inductance between two terminals of the generator; 0 for brushes"),
    ("pole_pairs", "count", "", "Pole pairs", "number of pairs of poles of the generator"),
    ("no_load_loss", "W", "", "No-load loss", "power that the generator takes at its rated speed without current; the iron share of its rated loss where it is not stated"),
    ("rectifier_drop", "V", "", "Rectifier drop", "voltage that the diodes of the bridge, or the brushes, take at any current"),
    ("winding_temperature", "°C", "", "Winding temperature", "temperature of the generator's winding while it runs"),
    ("generator_current", "A", "", "Generator current", "highest current of the generator for hours; its rated power over its voltage at rated speed where it is not stated"),
    ("generator_voltage", "V", "", "Generator voltage", "highest voltage that rectifier and loads stand; none where it is not stated"),
    ("trip_factor", "", "", "Trip factor", "speed at which the overspeed trip acts divided by running speed"),
    ("trip_delay", "ms", "", "Trip delay", "time from trip speed until the shut-off valve begins to close"),
    ("valve_closing", "ms", "", "Valve closing", "time in which the shut-off valve closes, its flow falling in proportion to time"),
    ("hose_volume", "l", "", "Hose volume", "volume between the shut-off valve and the nozzles: hose, pipe and plenum"),
)

_SUPPLY = _rows(
    "supply",
    ("supply_pressure", "bar", "", "Supply pressure", "absolute pressure at the dial, if it is not the study's own"),
    ("supply_temperature", "°C", "", "Supply temperature", "temperature before the nozzles, if it is not the study's own"),
)

_RESULTS = _rows(
    "result",
    ("status", "text", "", "Status", "'matched' if there is an operating point, otherwise why there is none"),
    ("electric_power", "W", "more", "Electric power", "power at the generator terminals"),
    ("safety_margin", "", "more", "Safety margin", "lowest speed at which something fails divided by running speed"),
    ("governing_mode", "text", "", "Governing mode", "what fails first as the speed rises"),
    ("shaft_power", "W", "more", "Shaft power", "power at the turbine shaft after all drag, before drive and generator"),
    ("shaft_torque", "mN m", "more", "Shaft torque", "net torque at the turbine shaft"),
    ("rotor_power", "W", "more", "Rotor power", "power that the fluid gives to discs, disc edges, spokes and end faces that it drives"),
    ("rotor_torque", "mN m", "more", "Rotor torque", "torque of the fluid on discs, disc edges, spokes and end faces that it drives"),
    ("web_power", "W", "more", "Power on the spokes", "power that the swirl in the exhaust gives to the turning spokes, part of the rotor power; below 0 they brake"),
    ("isentropic_power", "W", "", "Isentropic power", "total mass flow times isentropic enthalpy drop from supply to back pressure"),
    ("turbine_efficiency", "", "more", "Turbine efficiency", "shaft power divided by isentropic power, total to static"),
    ("rotor_efficiency", "", "more", "Rotor efficiency", "work of the discs divided by the isentropic enthalpy drop from the stagnation state at the rim to the gap exit pressure"),
    ("supply_power", "W", "less", "Supply power", "power needed to provide this flow: of the compressor, of fuel and feed pump, or of the head"),
    ("supply_efficiency", "", "more", "Supply efficiency", "electric power divided by supply power"),
    ("specific_consumption", "kg/kWh", "less", "Specific consumption", "mass of supply fluid per kilowatt-hour of electricity"),
    ("mass_flow", "g/s", "less", "Mass flow", "mass flow through the nozzles"),
    ("free_air_flow", "l/min", "less", "Free air", "mass flow as a volume of free air at 1 bar and 20 °C"),
    ("rotor_flow", "g/s", "", "Rotor flow", "mass flow through all gaps together"),
    ("leakage_flow", "g/s", "less", "Leakage", "mass flow past the end discs and their collar seals"),
    ("nozzle_pressure", "bar", "", "Pressure before nozzles", "absolute pressure before the nozzles, behind the hose"),
    ("rim_pressure", "bar", "", "Rim pressure", "absolute pressure around the rim of the discs"),
    ("gap_exit_pressure", "bar", "", "Gap exit pressure", "absolute pressure at the inner end of the gaps"),
    ("rim_swirl_ratio", "", "", "Rim swirl ratio", "swirl with which the fluid enters the gaps, in the mean, divided by rim speed"),
    ("ring_fastest", "m/s", "", "Swirl behind a nozzle", "swirl of the ring around the discs just behind a nozzle"),
    ("ring_slowest", "m/s", "", "Swirl before a nozzle", "swirl of the ring around the discs just before a nozzle"),
    ("core_swirl_ratio", "", "", "Core swirl ratio", "swirl in the side chambers at the rim divided by rim speed; above 1 it drives the end discs"),
    ("rim_speed", "m/s", "", "Rim speed", "circumferential speed of the disc rim"),
    ("nozzle_reynolds", "", "", "Nozzle Reynolds number", "Reynolds number of the nozzles, of their flow and hydraulic diameter"),
    ("jet_speed", "m/s", "", "Jet speed", "speed of the nozzle jets"),
    ("jet_mach", "", "", "Jet Mach number", "jet speed divided by the speed of sound in the jet"),
    ("exhaust_temperature", "°C", "", "Exhaust temperature", "total temperature of the fluid leaving the rotor"),
    ("bore_swirl", "m/s", "", "Swirl at the bore", "mean swirl of the fluid as it leaves the gaps"),
    ("web_share", "", "", "Share the spokes take along", "share of the exhaust that goes on with the turning spokes"),
    ("outlet_swirl", "m/s", "", "Swirl at the outlet", "mean swirl of the fluid as it leaves the exhaust, at its mean square radius"),
    ("outlet_angle", "deg", "", "Swirl angle at the outlet", "angle between the flow as it leaves the exhaust and the shaft, towards the rotation, at its mean square radius"),
    ("outlet_rise", "mbar", "", "Probe at the outlet", "pressure of a probe that points into the flow as it leaves the exhaust, at its mean square radius, less back pressure"),
    ("exhaust_fill", "", "more", "Exhaust filled", "share of the exhaust's free area that the swirling flow fills; the rest is a hollow core"),
    ("exhaust_mach", "", "less", "Exhaust Mach number", "axial speed in the exhaust annulus divided by the speed of sound there"),
    ("gap_reynolds", "", "", "Gap Reynolds number", "largest Reynolds number along the gap, of twice the gap and the relative speed"),
    ("turbulent_share", "", "", "Turbulent share", "share of the radius on which the flow in the gap is turbulent"),
    ("ekman_number", "", "", "Ekman parameter", "gap times the square root of (angular speed divided by kinematic viscosity), at the rim"),
    ("gap_mach", "", "less", "Gap Mach number", "largest relative Mach number in the gaps"),
    ("gap_flow", "text", "", "Gap flow", "how the flow in the gap was calculated: 'averaged' or 'resolved' across the gap"),
    ("resolved_power", "W", "more", "Checked power", "electric power with the flow resolved across the gap"),
    ("resolved_difference", "", "", "Difference when checked", "change in electric power when the gap flow is resolved, as a share of the averaged result"),
    ("backflow_share", "", "less", "Backflow share", "share of the radius on which the fluid in the middle of the gap flows outward"),
    ("uneven_flow_low", "", "less", "Least unevenness of the gaps", "flow of the gap nearest an outlet less that of the gap farthest from one, over the mean: by the momentum of an even exhaust"),
    ("uneven_flow_high", "", "less", "Most unevenness of the gaps", "the same, as measured where streams gather, with rough walls"),
    ("loss_hose", "W", "less", "Hose loss", "loss of hose and couplings between dial and nozzles"),
    ("loss_nozzle", "W", "less", "Nozzle loss", "loss between supply and jets"),
    ("loss_mixing", "W", "less", "Mixing loss", "loss as the jets mix with the fluid around the discs"),
    ("loss_casing", "W", "less", "Casing friction", "friction of the fluid around the discs on the casing wall"),
    ("loss_entry", "W", "less", "Gap entry loss", "loss of the contraction into the gaps, and drag of the disc edges"),
    ("loss_gap", "W", "less", "Gap friction loss", "friction between fluid and discs inside the gaps"),
    *discs.LOSSES,
    ("loss_incidence", "W", "less", "Spoke incidence", "speed relative to the turning spokes that the fluid loses as it meets them"),
    ("loss_leaving", "W", "less", "Leaving loss", "kinetic energy and pressure left in the fluid behind the gaps, less what the spokes take"),
    ("loss_leakage", "W", "less", "Leakage loss", "power that the leaking flow could still have given"),
    ("loss_windage", "W", "less", "Windage", "drag of the outer faces of the end discs, and of the rims of end clamps as wide as these"),
    ("loss_bearing", "W", "less", "Bearing loss", "drag of the bearings"),
    ("loss_seal", "W", "less", "Shaft seal loss", "drag of the rubbing shaft seals"),
    ("loss_drive", "W", "less", "Drive loss", "loss of belt or coupling"),
    ("loss_generator", "W", "less", "Generator loss", "iron and copper losses of the generator"),
    ("loss_balance", "W", "", "Balance residual", "isentropic power less electric power and all losses: zero except for rounding"),
    ("generator_load", "", "less", "Generator load", "electric power divided by the most the generator may give at this speed"),
    ("stack_height", "mm", "", "Stack height", "height of discs and gaps together"),
    ("rotor_mass", "kg", "less", "Rotor mass", "mass of all that turns: shaft, discs, spacers, clamps, collars, nut, and pulley or half coupling"),
    ("stored_energy", "J", "less", "Stored energy", "kinetic energy of the disc stack at running speed"),
    ("nozzle_footprint", "", "less", "Nozzle footprint", "share of the rim's circumference taken up by nozzle exits"),
    ("casing_angle", "deg", "", "Jet angle at the casing", "angle between the nozzle jets and the tangent to the casing bore, where the nozzles end; wider than at the rim"),
    ("mouth_depth", "mm", "more", "Depth of the mouths", "how far the outer wall of a nozzle is inside the casing bore where it opens; below 0 it cannot be cut"),
    ("edge_share", "", "less", "Edge share", "share of the stack's height that the edges of the discs take"),
    ("bore_ratio", "", "", "Bore ratio", "exhaust bore divided by disc diameter"),
    *discs.SIZES,
    ("stress_margin", "", "more", "Stress margin", "yield strength divided by the peak stress at trip speed"),
    ("bore_stress", "MPa", "less", "Bore stress", "hoop stress at the bore of a plain ring at running speed; the peak is higher by the peak stress ratio"),
    ("yield_speed", "rpm", "more", "Yield speed", "speed at which the peak stress of disc, spokes or hub reaches yield strength"),
    ("burst_speed", "rpm", "more", "Burst speed", "speed at which the mean hoop stress reaches the burst limit"),
    ("bearing_limit_speed", "rpm", "more", "Bearing limit speed", "speed limit of the bearings with grease and what closes them"),
    ("rub_speed", "rpm", "more", "Rub speed", "speed at which the rim has grown by its whole clearance and rubs"),
    ("rim_growth", "µm", "less", "Rim growth", "radial growth of the rim at running speed"),
    ("generator_limit_speed", "rpm", "more", "Generator limit speed", "stack speed at which the generator turns as fast as it may"),
    ("seal_rub_speed", "rpm", "more", "Seal rub speed", "speed at which the exhaust bore has grown by the clearance of its collar seal, less the eccentricity of its seat, and rubs"),
    ("bore_growth", "µm", "less", "Bore growth", "radial growth of the exhaust bore, on which the collar seals run, at running speed"),
    ("axial_thrust", "N", "less", "Axial thrust", "largest axial force of the pressure on a stack that is open at one end; it loads one bearing"),
    ("bearing_load", "N", "less", "Bearing load", "equivalent dynamic load of the more loaded bearing (ISO 281): weight, permissible unbalance, belt, preload and thrust"),
    ("bearing_life", "h", "more", "Bearing life", "time that nine of ten bearings outlast under that load (L10 by ISO 281): fatigue only, not grease and dirt"),
    ("least_load_ratio", "", "more", "Bearing least load", "equivalent load of the less loaded bearing, at rest and on end, divided by a hundredth of its dynamic rating; below 1 balls may slide"),
    ("bearing_temperature", "°C", "less", "Bearing temperature", "estimate of the warmer bearing, from its drag, the exhaust around the shaft and a workshop of 20 °C"),
    ("grease_running", "mm²/s", "", "Grease when running", "kinematic viscosity of the lubricant in the colder bearing as it runs"),
    ("axial_load_ratio", "", "less", "Axial bearing load", "axial thrust and preload on one bearing divided by its static load rating"),
    ("fatigue_cycles", "", "more", "Fatigue cycles", "estimate, to an order of magnitude, of the runs from rest to trip speed that start a crack where the stress peaks"),
    ("creep_temperature", "°C", "", "Creep temperature", "temperature above which a plastic or laminate creeps under lasting load"),
    ("runaway_ratio", "", "less", "Runaway ratio", "speed the stack reaches when the load is lost, divided by running speed"),
    ("survives_load_loss", "", "more", "Survives load loss", "1 if the safety margin is at least the runaway ratio, otherwise 0"),
    ("peak_ratio", "", "less", "Peak ratio", "highest speed after the load is lost, with the trip acting, divided by running speed"),
    ("survives_trip", "", "more", "Survives with trip", "1 if nothing fails after the load is lost and the trip has acted, otherwise 0"),
    ("trip_time", "ms", "", "Time to trip", "time from the loss of the load to trip speed"),
    ("peak_time", "ms", "", "Time to peak", "time from the loss of the load to the highest speed, with the trip acting"),
    ("shutoff_time_allowed", "ms", "more", "Shut-off time allowed", "time in which full torque, without load, takes it from trip speed to the first failure"),
    ("hose_allowed", "l", "more", "Hose allowed", "volume behind this shut-off valve up to which it surely stays below the first failure"),
    ("start_time", "s", "less", "Start time", "time from rest to running speed without load, at full supply pressure"),
    ("speed_time_constant", "s", "more", "Speed time constant", "time constant with which the loaded stack follows a swing of its supply"),
    ("receiver_time", "s", "more", "Receiver time", "time for which the receiver feeds this flow while its pressure falls to that of the supply"),
    ("valve_volume", "l", "less", "Volume behind valve", "volume between the shut-off valve and the nozzles: as stated, else that of the hose, else 0.2 l"),
    ("closing_surge", "bar", "less", "Closing surge", "rise of pressure in a pipe of liquid as the shut-off valve closes"),
    ("validity", "text", "", "Outside valid range", "relations used outside their published range; empty if there are none"),
    ("wave_speed", "rpm", "more", "Standing-wave speed", "lowest speed at which a wave in a disc stands still relative to the casing, so that the disc warps; anything uneven forces it"),
    ("wave_nodal_diameters", "count", "", "Nodal diameters", "number of nodal diameters of that wave"),
    ("forced_wave_speed", "rpm", "more", "Forced wave speed", "lowest speed at which a wave stands still that even equal nozzles force, and that warps the discs most"),
    ("forced_wave_nodal_diameters", "count", "", "Nodal diameters of the forced wave", "number of nodal diameters of that wave"),
    ("gap_fluid_mass", "", "less", "Fluid beside a disc", "mass of the fluid in both gaps beside a disc divided by the mass of the disc's ring"),
    ("peak_stress_ratio", "", "less", "Peak stress ratio", "peak stress of disc, spokes and hub, or of end clamps as wide, divided by the hoop stress at the bore of a plain ring: computed, or the study's notch factor"),
    ("shaft_critical_speed", "rpm", "more", "Shaft critical speed", "lowest speed at which unbalance makes shaft and stack whirl, between bearings that give way"),
    ("bearing_stiffness", "MN/m", "more", "Bearing stiffness", "radial stiffness of one bearing in its seat"),
    ("gap_hold", "", "more", "Gap hold", "narrowest local gap at the rim divided by the drawn gap"),
    ("gap_yield", "", "more", "Gap yield", "share of stacks in which every gap is wider than half the drawn gap"),
    ("rim_gap", "mm", "more", "Worst rim gap", "narrowest local gap at the rim, with all tolerances at their worst"),
    ("smallest_gap", "mm", "less", "Smallest gap", "smallest gap that the process can hold at this diameter"),
    ("permissible_unbalance", "g mm", "", "Permissible unbalance", "residual unbalance that the balance grade allows at this speed"),
    ("assembly_grade", "mm/s", "less", "Grade put together again", "balance grade G that is left where the stack settles by half of the clearance of its fit H7/h6 when it is put together again"),
    ("raw_unbalance", "g mm", "less", "Raw unbalance", "unbalance from sheet and centring tolerances, before balancing"),
    ("thermal_stress", "MPa", "less", "Thermal stress", "hoop stress at the disc bore because the rim is hotter than the bore"),
    ("rim_over_bore", "K", "less", "Rim over bore", "disc temperature at the rim less that at the bore"),
    ("disc_temperature", "°C", "", "Disc temperature", "mean temperature of the discs"),
    ("fuel_power", "W", "less", "Fuel power", "heat of the fuel burnt for this flow, or heat taken from the heat source"),
    ("pump_power", "W", "less", "Pump power", "power of the pump that feeds the boiler or provides the head"),
    ("jet_quality", "", "more", "Jet quality", "mass share of vapour in the nozzle jets; the rest is droplets"),
    ("rim_quality", "", "more", "Rim quality", "mass share of vapour around the rim; the rest is droplets"),
    ("exit_wetness", "", "less", "Exit wetness", "mass share of droplets in the flow leaving the gaps"),
    ("cavitation_margin", "", "more", "Cavitation margin", "lowest pressure of a liquid divided by the pressure at which it boils"),
    ("loads_carried", "text", "", "Appliances carried", "appliances of the study that can run together, in the study's order, needed ones first"),
    ("spare_power", "W", "more", "Spare power", "electric power less what all needed appliances take while the hardest to start is starting"),
    ("lamp_voltage_change", "", "less", "Lamp voltage change", "largest change in the voltage of a filament lamp as the supply pressure swings, at fixed speed"),
    ("holding_time", "s", "more", "Holding time", "time for which the stored energy keeps the needed appliances running at the low end of the pressure swing"),
)

_RUN = _rows(
    "run",
    ("design", "count", "", "Design", "number of the design in its run, in the order of evaluation"),
    ("feasible", "count", "more", "Feasible", "1 if every limit is met and every aim has a value, otherwise 0"),
    ("violation", "", "less", "Violation", "how far the limits are missed, added up over all of them; 0 if feasible"),
    ("front_kind", "text", "", "Front", "which front it is on: 'nominal' as drawn, 'firm' as builds turn out, or 'both'"),
    ("rank", "count", "", "Rank", "place on the front by the first aim; 1 is the best"),
)
# fmt: on

SHARES = pump.SHARES | frozenset(
    {
        "axial_load_ratio", "backflow_share", "drive_efficiency", "edge_share", "exhaust_blockage",
        "exhaust_fill", "exit_wetness", "gap_hold", "gap_yield", "generator_efficiency",
        "generator_iron_share", "generator_load", "jet_quality", "lamp_voltage_change",
        "nozzle_footprint", "resolved_difference", "rim_quality", "rotor_efficiency",
        "supply_efficiency", "turbine_efficiency", "turbulent_share", "web_share",
    }
)  # fmt: skip
"""Columns without a unit that are parts of a whole: pages show them in percent."""
AS_DRAWN = frozenset({"edge_share", "nut_clearance"})
"""Columns that bound where the model holds and whether parts fit: tolerances do not count."""
CHANCE_ALL = "chance_all"
"""Key of the chance that every limit of the study is met."""


def restated(keys: Iterable[str]) -> list[str]:
    """List keys, each with the result that says the same as a workshop measures it."""
    return [each for key in keys for each in (key, SEEN_FROM_CASING.get(key, "")) if each]


def band_key(key: str, part: str) -> str:
    """Key of one part of a result's band: 'p10', 'p50', 'p90' or 'chance'."""
    return f"{key}_{part}"


def _bands(of: Column) -> list[Column]:
    parts = {
        "p10": ("nine in ten reach", "one sample in ten is lower"),
        "p50": ("half reach", "half of the samples are lower"),
        "p90": ("one in ten reach", "nine samples in ten are lower"),
    }
    unit = UNITS[""] if of.is_count else of.unit
    found = [
        Column(band_key(of.key, part), unit, "band", of.better, f"{of.label}, {word}",
               f"{of.meaning}: {meaning}")
        for part, (word, meaning) in parts.items()
    ]  # fmt: skip
    meaning = f"share of the samples that meet the limit on this result: {of.meaning}"
    label = f"Chance of the limit of {of.label[0].lower()}{of.label[1:]}"
    return [*found, Column(band_key(of.key, "chance"), UNITS[""], "band", "more", label, meaning)]


def is_chance(key: str) -> bool:
    """Whether a column holds a chance."""
    return key == CHANCE_ALL or (key in COLUMNS and key == band_key(base_key(key), "chance"))


_MACHINE += _rows("machine", *stages.MACHINE)
_RESULTS += _rows("result", *stages.RESULTS)
_PUMPED = _rows("result", *pump.RESULTS)
_MEASURED = [column for column in (*_RESULTS, *_PUMPED) if not column.is_text]
_BANDS = [band for column in _MEASURED for band in _bands(column)] + _rows(
    "band",
    (CHANCE_ALL, "", "more", "Chance of all limits", "share of the samples that meet every limit"),
)

_OF_PUMPS = (*_rows("variable", *pump.VARIABLES), *_rows("machine", *pump.MACHINE), *_PUMPED)
COLUMNS: Mapping[str, Column] = {
    c.key: c for c in (*_VARIABLES, *_MACHINE, *_SUPPLY, *_RESULTS, *_OF_PUMPS, *_BANDS, *_RUN)
}
"""Every column by key; those that turbines and pumps share in the words of a turbine."""
_BASE = {
    band_key(column.key, part): column.key
    for column in _MEASURED
    for part in ("p10", "p50", "p90", "chance")
}


def base_key(key: str) -> str:
    """Key of the result that a band belongs to; any other key unchanged."""
    return _BASE.get(key, key)


def is_share(key: str) -> bool:
    """Whether a column, or the band of one, is shown in percent."""
    return is_chance(key) or (base_key(key) in SHARES and key in COLUMNS)


BY_NAME: Mapping[str, Column] = {c.name: c for c in COLUMNS.values()}
"""Every column by its name with unit."""
SEARCHED = tuple(c.key for c in _VARIABLES)
"""The six variables that every study searches or fixes."""
SEEN_FROM_CASING = {"inlet_angle": "casing_angle"}
"""Results printed right after the variable that they restate."""
FAILING_SPEEDS = (
    "yield_speed",
    "burst_speed",
    "wave_speed",
    "shaft_critical_speed",
    "bearing_limit_speed",
    "rub_speed",
    "generator_limit_speed",
    "seal_rub_speed",
)
"""Speeds at which something fails; the lowest one gives the safety margin."""
OF_BEARINGS = (
    "axial_thrust",
    "axial_load_ratio",
    "bearing_load",
    "bearing_life",
    "least_load_ratio",
    "bearing_temperature",
    "grease_running",
    "bearing_stiffness",
)
"""What bearings bear, and how they run."""
LOSSES = tuple(c.key for c in _RESULTS if c.key.startswith("loss_") and c.key != "loss_balance")
"""Every loss from supply to terminals, in the order of the flow."""


@cache
def columns_of(machine: pump.Works) -> Mapping[str, Column]:
    """Every variable, machine number and result of one kind of machine, by key, in its words."""
    if machine == "turbine":
        return {c.key: c for c in (*_VARIABLES, *_MACHINE, *_RESULTS)}
    same = (COLUMNS[key] for key in (*pump.SAME_VARIABLES, *pump.SAME_MACHINE, *pump.SAME_RESULTS))
    every = (c for c in (*same, *_OF_PUMPS) if pump.has(machine, c.key))
    found = {c.key: replace(c, **pump.words_of(machine, c.key)) for c in every}
    return {key: found[key] for key in COLUMNS if key in found}
