"""Names that only a pump has, those that it shares with a turbine, and what differs in words.

Rows as in `engine.columns`, which makes columns of them: key, unit, whether more is better, label,
meaning. A key that stands in no list here belongs to turbines alone.
"""

from collections.abc import Mapping
from typing import Any, Literal

Row = tuple[str, str, Literal["more", "less", ""], str, str]
Works = Literal["turbine", "pump", "blower"]
"""What a machine works as: a pump of a gas is a blower, with columns and words of its own."""

# fmt: off
VARIABLES: tuple[Row, ...] = (
    ("eye_diameter", "mm", "", "Eye diameter", "diameter of the eye, where the fluid enters the stack and the gaps begin"),
    ("throat_area", "mm²", "", "Throat area", "area of the collector's throat, through which all of the flow leaves"),
)

MACHINE: tuple[Row, ...] = (
    ("suction_ends", "count", "", "Suction ends", "number of ends of the stack at which the fluid enters: 1 or 2"),
    ("eye_blockage", "", "", "Eye blockage", "share of the eye blocked by hub and spokes; it sets their width"),
    ("eye_loss", "", "", "Eye loss", "loss coefficient of the turn into the eye: pressure loss divided by axial dynamic pressure"),
    ("ring_length", "mm", "", "Wear ring length", "length of the close running fit of the wear ring at the eye"),
    ("ring_factor", "", "", "Wear ring factor", "leakage through the wear ring divided by that of its law; 1 unless a test says otherwise"),
    ("throat_factor", "", "", "Throat loss factor", "loss as the swirl of the ring mixes into the throat divided by that of Borda and Carnot; 1 unless a test says otherwise"),
    ("port_diameter", "mm", "", "Port diameter", "inner diameter of the discharge port behind the cone"),
    ("cone_loss", "", "", "Cone loss", "loss coefficient of the cone between throat and port: pressure loss divided by the dynamic pressure of the change of speed"),
    ("overspeed_factor", "", "", "Overspeed factor", "highest speed that the drive can give by mistake divided by running speed"),
    ("motor_power", "W", "", "Motor rating", "rated power at the shaft of the motor"),
    ("motor_speed", "rpm", "", "Motor rated speed", "speed at which the motor gives its rated power"),
    ("motor_efficiency", "", "", "Motor efficiency", "efficiency of the motor, with its inverter if it has one, at its rated power"),
    ("motor_iron_share", "", "", "Motor iron share", "share of the rated motor loss that does not grow with load"),
    ("motor_overspeed", "", "", "Motor overspeed", "highest speed that the motor may turn divided by its rated speed"),
)

RESULTS: tuple[Row, ...] = (
    ("flow", "l/min", "more", "Flow", "delivered flow: as the duty states it, or where the pump's curve meets the system's"),
    ("head", "m", "more", "Head", "rise of total pressure from suction flange to discharge port, as a column of the fluid"),
    ("shutoff_head", "m", "", "Shut-off head", "head with the discharge shut, from the march at a small flow"),
    ("resolved_head", "m", "more", "Checked head", "head with the flow resolved across the gap, at the same flow through the gaps; none where some of it turns back"),
    ("head_difference", "", "", "Difference when checked", "change in head when the gap flow is resolved, as a share of the averaged result"),
    ("head_droop", "", "less", "Head droop", "how far the head at shut-off is below the highest of the curve, as a share of it; a drooping curve can hunt"),
    ("pressure_rise", "mbar", "more", "Pressure rise", "rise of total pressure from suction flange to discharge port"),
    ("rim_rise", "mbar", "more", "Rise behind the rim", "static pressure behind the rim less total pressure at the suction flange, as a tap in the side ring reads it"),
    ("hydraulic_power", "W", "more", "Hydraulic power", "delivered flow times pressure rise"),
    ("pump_efficiency", "", "more", "Pump efficiency", "hydraulic power divided by shaft power"),
    ("volumetric_efficiency", "", "more", "Volumetric efficiency", "delivered flow divided by the flow through the gaps; the rest leaks back to the eye"),
    ("wire_to_water", "", "more", "Wire to water", "hydraulic power divided by the power that the motor draws"),
    ("npsh_available", "m", "more", "NPSH available", "head of the suction flange above boiling"),
    ("npsh_required", "m", "less", "NPSH required", "head above boiling at which the first bubbles begin, at the lowest pressure from flange to gap; the 3 % drop of head of trade tests comes later"),
    ("npsh_margin", "m", "more", "NPSH margin", "NPSH available less NPSH required"),
    ("specific_speed", "", "", "Specific speed", "speed times root of flow divided by (g head) to the power 3/4, all in SI"),
    ("specific_diameter", "", "", "Specific diameter", "disc diameter times (g head) to the power 1/4 divided by root of flow, all in SI"),
    ("free_passage", "mm", "more", "Free passage", "largest sphere that passes, down to a hundredth of a millimetre: least of worst local gap, eye, throat and port"),
    ("residence_time", "ms", "less", "Residence time", "mean time of the fluid in the gaps"),
        ("shear_median", "Pa", "less", "Median shear", "shear stress in the gaps that half of the flow meets at its worst, and half does not"),
    ("share_above_50_pa", "", "less", "Flow above 50 Pa", "share of the flow that meets a shear stress above 50 Pa in the gaps"),
    ("share_above_150_pa", "", "less", "Flow above 150 Pa", "share of the flow that meets a shear stress above 150 Pa in the gaps"),
    ("ring_shear", "Pa", "less", "Shear in the wear ring", "shear stress on the walls of the wear ring, which the leaking flow meets"),
    ("temperature_rise", "K", "less", "Temperature rise", "warming of the fluid from suction to discharge"),
    ("least_flow", "l/min", "less", "Smallest flow", "flow below which the fluid warms by more than 10 K, by the power at the duty"),
    ("motor_load", "", "less", "Motor load", "power that the motor gives divided by its rating at this speed: the rated torque"),
    ("discharge_angle", "deg", "", "Discharge angle", "angle between the flow behind the rim and the tangent"),
    ("eye_ratio", "", "", "Eye ratio", "eye diameter divided by disc diameter"),
    ("eye_width", "mm", "more", "Eye width", "radial distance between shaft and eye"),
    ("eye_speed", "m/s", "less", "Eye speed", "axial speed in the eye"),
    ("throat_speed", "m/s", "", "Throat speed", "speed in the collector's throat"),
    ("throat_ratio", "", "", "Throat speed ratio", "speed in the throat divided by the swirl that arrives there"),
    ("radial_thrust", "N", "less", "Radial thrust", "sideways force of a collector away from its best flow; it loads the bearings"),
    ("motor_limit_speed", "rpm", "more", "Motor limit speed", "stack speed at which the motor turns as fast as it may"),
    ("loss_motor", "W", "less", "Motor loss", "iron and copper losses of the motor"),
    ("loss_edge", "W", "less", "Disc edges", "drag of the fluid behind the rim on the edges of the discs"),
    ("loss_eye", "W", "less", "Eye and entry", "loss of the turn into the eye and of the contraction into the gaps"),
    ("loss_mouth", "W", "less", "Loss at the rim", "mixing of the streams of all gaps behind the rim, less what the edges give"),
    ("loss_vaneless", "W", "less", "Ring friction", "friction on the walls between rim and collector"),
    ("loss_throat", "W", "less", "Throat mixing", "radial head that is lost, and mixing of the swirl into the throat"),
    ("loss_collector", "W", "less", "Collector friction", "friction in the collector on the way to the throat"),
    ("loss_cone", "W", "less", "Cone", "loss of the cone between throat and port"),
)
# fmt: on

SAME_VARIABLES = ("disc_count", "disc_diameter", "gap", "speed")
SEARCHED = (
    "disc_count", "disc_diameter", "gap", "eye_diameter", "throat_area", "speed",
)  # fmt: skip
"""The six variables that every study of a pump searches or fixes."""
SAME_MACHINE = (
    "disc_thickness", "material", "process", "notch_factor", "burst_factor", "entry_factor",
    "transition_factor", "hold", "spokes", "rim_clearance", "side_gap", "seal_clearance",
    "collar_process", "casing_factor", "shaft_diameter", "shaft_material", "bearing_allowance", "bearing",
    "bearing_seal", "bearing_preload", "grease_viscosity", "bearing_viscosity", "bearing_factor",
    "bearing_seal_factor", "bearing_cooling", "support_factor", "pack_factor", "belt_pull",
    "windage_factor", "wave_factor", "shaft_seal_torque", "balance_grade", "drive_efficiency",
    "drive_ratio",
)  # fmt: skip
SAME_RESULTS = (
    "status", "electric_power", "safety_margin", "governing_mode", "shaft_power", "shaft_torque",
    "rotor_power", "rotor_torque", "rotor_efficiency", "rotor_flow", "leakage_flow",
    "rim_pressure", "rim_speed", "rim_swirl_ratio", "gap_reynolds", "turbulent_share",
    "ekman_number", "gap_flow", "backflow_share",
    "loss_gap", "loss_leakage", "loss_windage", "loss_bearing", "loss_seal", "loss_drive",
    "loss_balance", "stack_height", "nut_clearance", "rotor_mass", "stored_energy",
    "stress_margin", "bore_stress", "yield_speed", "burst_speed", "bearing_limit_speed",
    "rub_speed", "rim_growth", "seal_rub_speed", "bore_growth", "axial_thrust", "bearing_load",
    "bearing_life", "least_load_ratio", "bearing_temperature", "grease_running",
    "axial_load_ratio", "fatigue_cycles", "creep_temperature", "validity", "wave_speed",
    "wave_nodal_diameters", "gap_fluid_mass", "peak_stress_ratio", "shaft_critical_speed",
    "bearing_stiffness", "gap_hold", "gap_yield", "rim_gap", "smallest_gap",
    "permissible_unbalance", "assembly_grade", "raw_unbalance", "disc_temperature",
)  # fmt: skip
LOSSES = (
    "loss_motor", "loss_drive", "loss_seal", "loss_bearing", "loss_windage", "loss_edge",
    "loss_leakage", "loss_eye", "loss_gap", "loss_mouth", "loss_vaneless", "loss_throat",
    "loss_collector", "loss_cone",
)  # fmt: skip
"""Every loss from the motor's terminals to the discharge, in the order of the power."""
FAILING_SPEEDS = (
    "yield_speed", "burst_speed", "wave_speed", "shaft_critical_speed", "bearing_limit_speed",
    "rub_speed", "motor_limit_speed", "seal_rub_speed",
)  # fmt: skip
"""Speeds at which something fails; the lowest one gives the safety margin."""
SHARES = frozenset(
    {
        "pump_efficiency", "volumetric_efficiency", "wire_to_water", "head_droop", "motor_load",
        "motor_efficiency", "motor_iron_share", "eye_blockage", "share_above_50_pa",
        "share_above_150_pa", "head_difference",
    }
)  # fmt: skip
"""Columns that pages show in percent."""

SAID: Mapping[str, str] = {
    "electric_power": "power that the motor draws at its terminals",
    "shaft_power": "power that the pump's shaft takes, with all drag",
    "shaft_torque": "torque that the pump's shaft takes",
    "rotor_power": "power that the discs give to the fluid in the gaps",
    "rotor_torque": "torque of the discs on the fluid in the gaps",
    "rotor_efficiency": "rise of total pressure in the gaps divided by the work of the discs on the fluid there",
    "leakage_flow": "mass flow back to the eye through side chambers and wear rings",
    "rim_pressure": "absolute pressure behind the rim of the discs",
    "rim_swirl_ratio": "swirl with which the fluid leaves the gaps, in the mean, divided by rim speed",
    "backflow_share": "share of the radius on which the fluid in the middle of the gap flows back inward",
    "loss_gap": "friction between fluid and discs inside the gaps",
    "loss_leakage": "power spent on the fluid that leaks back to the eye",
    "loss_balance": "electric power less hydraulic power and all losses: zero except for rounding",
    "stress_margin": "yield strength divided by the peak stress at the highest speed that the drive can give by mistake",
    "bore_stress": "hoop stress at the eye of a plain ring at running speed; the peak is higher by the peak stress ratio",
    "seal_clearance": "radial clearance of the wear rings at the eye",
    "seal_rub_speed": "speed at which the eye has grown by the clearance of its wear ring, less the eccentricity of its seat, and rubs",
    "collar_process": "how the seats of the wear rings are made: a key of the process table; it sets how far they stand off centre",
    "bore_growth": "radial growth of the eye, on which the wear rings run, at running speed",
    "fatigue_cycles": "estimate, to an order of magnitude, of the runs from rest to that speed that start a crack where the stress peaks",
    "axial_thrust": "axial force of the pressure on a stack that takes in at one end; it loads one bearing",
    "bearing_load": "equivalent dynamic load of the more loaded bearing (ISO 281): weight, permissible unbalance, belt, radial thrust, preload and axial thrust",
    "bearing_temperature": "estimate of the warmer bearing, from its drag, the fluid around the shaft and a workshop of 20 °C",
    "casing_factor": "friction of the fluid between rim and collector on its walls divided by that of its law; 1 unless a test says otherwise",
    "drive_ratio": "pump speed divided by motor speed",
    "drive_efficiency": "power out of belt or coupling divided by power in",
    "belt_pull": "load of the belt across the shaft divided by the pull that drives; nothing without a belt",
}  # fmt: skip
"""What a column that is shared with a turbine means in a pump, where that differs."""

NOT_OF_GASES = ("npsh_available", "npsh_required", "npsh_margin")
"""What a pump has no number for where a gas flows: it does not boil."""
LABELS_OF_GASES: Mapping[str, str] = {
    "wire_to_water": "Wire to gas",
    "pump_efficiency": "Blower efficiency",
}
SAID_OF_GASES: Mapping[str, str] = {
    "head": "rise of total pressure from suction flange to discharge port, as a column of the gas at the suction flange",
    "wire_to_water": "power of the delivered gas divided by the power that the motor draws",
    "hydraulic_power": "delivered mass flow times the work of an isentropic rise of pressure",
    "flow": "delivered flow, as volume at the suction flange: as the duty states it, or where the blower's curve meets the system's",
    "temperature_rise": "warming of the gas from suction to discharge, by friction and by the rise of pressure",
    "free_passage": "largest grain that passes, down to a hundredth of a millimetre: least of worst local gap, eye, throat and port",
}  # fmt: skip
"""What differs in words where a gas flows."""


def words_of(machine: Works, key: str) -> dict[str, Any]:
    """Label and meaning of a column, where a pump or blower has other words than a turbine."""
    is_blower = machine == "blower"
    said = SAID_OF_GASES.get(key, SAID.get(key)) if is_blower else SAID.get(key)
    found: dict[str, Any] = {} if said is None else {"meaning": said}
    return (
        {**found, "label": LABELS_OF_GASES[key]} if is_blower and key in LABELS_OF_GASES else found
    )


def has(machine: Works, key: str) -> bool:
    """Whether a pump or blower has a column of pumps."""
    return machine != "blower" or key not in NOT_OF_GASES
