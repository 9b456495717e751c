"""What each number of a study, a build, a limit and a bench log can plausibly be, and why.

Wide enough for any workshop: outside its range a number is a slip of unit or key, and is refused.
Outside its usual range it is merely odd, and `swirlstack check` says so. A number without a row is
bounded at both ends where it is read (`tests/study/test_plausible.py` finds one that is not).
"""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from engine.errors import WrongValueError
from engine.stage_columns import staged
from engine.study.plausible_rows import Plausible, rows, same
from engine.units import shown

_COEFFICIENT = "lower still, the part is blocked or missing"
_HEAD = "steam pipes and pressure washers end there"

# fmt: off
_BUILD = {
    **rows(
        "count",
        *((key, "2", "1000", "one disc holds no gap; longer stacks bend", ("2", "100")) for key in staged("disc_count")),
        ("stage_count", "1", "3", "more stages are not worked out"),
        ("couplings", "0", "100", "more is a scrap heap", ("0", "12")),
        ("nozzle_count", "1", "500", "more do not fit around a rim", ("1", "24")),
        ("seal_throttles", "1", "100", "more sharp lands do not fit a collar", ("1", "20")),
    ),
    **rows(
        "length",
        ("disc_diameter", "5 mm", "3 m", "smaller is a watch, larger no lathe turns", ("20 mm", "600 mm")),
        ("gap", "0.01 mm", "50 mm", "no sheet is flatter, and no friction acts across more", ("0.05 mm", "5 mm")),
        *((key, "1 mm", "3 m", "it lies inside a disc", ("5 mm", "500 mm")) for key in ("exhaust_bore", "bolt_circle")),
        ("bolt_diameter", "0.3 mm", "100 mm", "a watch's screw at one end, a press's tie rod at the other", ("1.5 mm", "20 mm")),
        ("washer_diameter", "0.5 mm", "300 mm", "it lies on a disc, around a bolt", ("3 mm", "50 mm")),
        ("disc_thickness", "0.01 mm", "100 mm", "foil at one end, forgings at the other", ("0.1 mm", "10 mm")),
        ("hose_bore", "0.5 mm", "1 m", "a capillary at one end, a water main at the other", ("3 mm", "200 mm")),
        ("hose_length", "0 m", "10000 m", "no pipe of a workshop is longer", ("0 m", "300 m")),
        *((key, "0.01 mm", "200 mm", "no slot is cut narrower, and a wider one is a pipe", ("0.1 mm", "20 mm")) for key in staged("nozzle_width")),
        ("rim_clearance", "0.005 mm", "500 mm", "finer than a bearing's play, or no casing at all", ("0.1 mm", "10 mm")),
        ("side_gap", "0.01 mm", "500 mm", "finer than a bearing's play, or no casing at all", ("0.2 mm", "20 mm")),
        ("seal_clearance", "0 mm", "20 mm", "wider is no seal", ("0 mm", "1 mm")),
        ("shaft_diameter", "1 mm", "500 mm", "thinner is a wire", ("3 mm", "80 mm")),
        ("bearing_allowance", "1 mm", "3 m", "bearings stand beside the stack", ("5 mm", "300 mm")),
    ),
    **rows("angle", ("inlet_angle", "0.5 deg", "89 deg", "jets have a width and must reach the rim", ("3 deg", "45 deg"))),
    **rows(
        "angular_speed",
        ("speed", "1 rpm", "1000000 rpm", "dental drills end at half of it", ("60 rpm", "150000 rpm")),
        ("generator_speed", "10 rpm", "1000000 rpm", "dental drills end at half of it", ("100 rpm", "150000 rpm")),
    ),
    **rows(
        "ratio",
        ("notch_factor", "1", "20", "above about 6 it is a crack, not a notch (Peterson 1974, from memory)", ("1", "6")),
        ("burst_factor", "0.1", "1", "tests of plain discs gave 0.6 to 1", ("0.5", "1")),
        ("nozzle_area_ratio", "1", "50", "1.3 suits 6 bar, 10 a rocket", ("1", "4")),
        ("hose_factor", "0.05", "20", "smooth bores to corrugated ones", ("0.5", "4")),
        ("coupling_loss", "0", "1000", "a nearly closed valve has some hundreds", ("0", "50")),
        ("nozzle_land", "0", "2000", "a slot so long is a pipe", ("0", "100")),
        ("nozzle_discharge", "0.1", "1", _COEFFICIENT, ("0.5", "1")),
        ("nozzle_velocity", "0.1", "1", _COEFFICIENT, ("0.6", "1")),
        ("rim_mixing", "0.05", "1", _COEFFICIENT, ("0.4", "1")),
        ("casing_factor", "0.01", "20", "smooth walls to deep pockets", ("0.3", "3")),
        ("filling_factor", "0.05", "10", "no jet fills a tenth or ten times of what it carries", ("0.3", "3")),
        ("exchange_factor", "0", "20", "open ends mix as a free layer at most a few times", ("0", "4")),
        ("entry_factor", "0", "20", "burrs lose a few times what a sharp edge does", ("0", "4")),
        ("transition_factor", "0.1", "10", "turbulence dies out below some 1,000 and a still entry holds it off to some 15,000", ("0.3", "3")),
        ("exhaust_blockage", "0", "0.98", "the flow must leave", ("0", "0.8")),
        ("exhaust_loss", "0", "100", "a nearly closed valve has 100", ("0", "10")),
        ("passage_loss", "0", "100", "a nearly closed valve has 100", ("0", "10")),
        ("web_factor", "0", "10", "no spokes take along more than all of the flow", ("0", "3")),
        ("core_factor", "0", "10", "from a bore that flow fills to a core twice as wide", ("0", "3")),
        ("seal_discharge", "0.1", "1", _COEFFICIENT, ("0.5", "1")),
        ("bearing_factor", "0.01", "100", "the law of bearings is good to a factor of a few", ("0.2", "5")),
        ("bearing_seal_factor", "0", "50", "lips drag from next to nothing to a few times their law", ("0", "4")),
        ("bearing_cooling", "0.02", "50", "from a bearing in foam to one in running water", ("0.3", "5")),
        ("support_factor", "0.001", "1", "a seat adds no stiffness; rubber has a hundredth of that of balls", ("0.02", "1")),
        ("pack_factor", "0", "1", "clamped sheets are never stiffer than one solid piece", ("0", "0.3")),
        ("belt_pull", "1", "20", "a belt so tight breaks the shaft", ("1", "5")),
        ("windage_factor", "0.01", "100", "the law of windage is good to a factor of a few", ("0.2", "5")),
        ("wave_factor", "0.1", "10", "a disc that rings so far off is another disc", ("0.8", "1.25")),
        ("drive_efficiency", "0.1", "1", _COEFFICIENT, ("0.7", "1")),
        ("drive_ratio", "0.01", "100", "no belt or gear pair of a workshop has more", ("0.1", "10")),
        ("generator_efficiency", "0.05", "1", "bicycle dynamos reach 0.3", ("0.3", "0.98")),
        ("generator_overspeed", "1", "5", "its rotor would burst; makers test at 1.2 (IEC 60034-1, from memory)", ("1", "2")),
        ("trip_factor", "1", "3", "a trip so late trips nothing", ("1.02", "1.5")),
    ),
    **rows(
        "time",
        ("trip_delay", "0 ms", "1 h", "a hand shuts it sooner", ("1 ms", "2 s")),
        ("valve_closing", "0 ms", "1 h", "a hand shuts it sooner", ("5 ms", "60 s")),
    ),
    **rows("volume", ("hose_volume", "0 l", "10 m3", "that is a receiver: put the valve behind it", ("0.001 l", "50 l"))),
    **rows("force", ("bearing_preload", "0 N", "50000 N", "it would crush small bearings", ("0 N", "1000 N"))),
    **rows("torque", ("shaft_seal_torque", "0 N m", "200 N m", "a seal so tight is a brake", ("0 N m", "0.5 N m"))),
    **rows("kinematic_viscosity", ("grease_viscosity", "1 mm2/s", "5000 mm2/s", "from light spindle oil to gear grease", ("10 mm2/s", "500 mm2/s")),
            ("bearing_viscosity", "0.2 mm2/s", "5000 mm2/s", "from hot water to cold gear oil", ("3 mm2/s", "500 mm2/s"))),
    **rows("balance_grade", ("balance_grade", "0.1 mm/s", "4000 mm/s", "ISO 21940-11 has grades G 0.4 to G 4000", ("0.4 mm/s", "40 mm/s"))),
    **rows("power", ("generator_power", "0.01 W", "5 MW", "power stations begin there", ("1 W", "200 kW")),
            ("no_load_loss", "0 W", "1 MW", "no generator of a workshop takes more", ("0.05 W", "5 kW"))),
    **rows("speed_constant", ("generator_kv", "0.01 rpm/V", "100000 rpm/V", "toy motors end at a third of it", ("1 rpm/V", "8000 rpm/V"))),
    **rows("resistance", ("winding_resistance", "1e-5 ohm", "10000 ohm", "a bus bar at one end, a clock at the other", ("0.002 ohm", "200 ohm"))),
    **rows("inductance", ("winding_inductance", "0 H", "100 H", "transformers have that", ("0 H", "0.2 H"))),
    **rows("count", ("pole_pairs", "1", "500", "wind wheels end at some 100", ("1", "60"))),
    **rows("voltage", ("rectifier_drop", "0 V", "20 V", "two diodes take 0.6 to 2.5", ("0.3 V", "4 V")),
            ("generator_voltage", "0.5 V", "2000 V", "no bench generator gives more", ("4 V", "800 V"))),
    **rows("current", ("generator_current", "0.001 A", "10000 A", "no bench generator gives more", ("0.1 A", "300 A"))),
    **rows("temperature", ("winding_temperature", "-50 degC", "250 degC", "insulation ends at 220 (IEC 60085, from memory)", ("0 degC", "180 degC"))),
}
_BUILD |= {
    **rows("count", ("suction_ends", "1", "2", "a stack has two ends", ("1", "2"))),
    **rows(
        "length",
        ("eye_diameter", "1 mm", "3 m", "it lies inside a disc", ("5 mm", "500 mm")),
        ("ring_length", "0.1 mm", "500 mm", "a wire at one end, a plain bearing at the other", ("1 mm", "50 mm")),
        ("port_diameter", "1 mm", "2 m", "a capillary at one end, a water main at the other", ("5 mm", "200 mm")),
    ),
    **rows("area", ("throat_area", "0.1 mm2", "1 m2", "a pin hole at one end, a manhole at the other", ("5 mm2", "20000 mm2"))),
    **rows(
        "ratio",
        ("eye_blockage", "0", "0.98", "the flow must enter", ("0", "0.8")),
        ("eye_loss", "0.01", "100", "a nearly closed valve has 100", ("0.1", "5")),
        ("ring_factor", "0.01", "20", "a ring off centre leaks at most a few times as much", ("0.3", "4")),
        ("throat_factor", "0.05", "10", "no throat recovers nearly all of the swirl", ("0.3", "3")),
        ("cone_loss", "0", "10", "a sudden step has 1", ("0.05", "1")),
        ("overspeed_factor", "1", "5", "no drive of a pump is so far off", ("1", "2")),
        ("motor_efficiency", "0.05", "1", "shaded-pole motors reach 0.2", ("0.3", "0.97")),
        ("motor_overspeed", "1", "5", "its rotor would burst; makers test at 1.2 (IEC 60034-1, from memory)", ("1", "2")),
    ),
    **rows("angular_speed", ("motor_speed", "10 rpm", "1000000 rpm", "dental drills end at half of it", ("300 rpm", "150000 rpm"))),
    **rows("power", ("motor_power", "0.01 W", "5 MW", "power stations begin there", ("5 W", "200 kW"))),
}
_DUTY = {
    **rows("volume_flow", ("flow", "0.0001 l/min", "6e7 l/min", "a drip at one end, a river at the other", ("0.05 l/min", "50000 l/min"))),
    **rows("head", ("static_head", "-1000 m", "10000 m", "no workshop pumps so high", ("-10 m", "100 m")),
            ("head_loss", "0 m", "10000 m", "no workshop pumps so high", ("0 m", "100 m"))),
    **rows("pressure_difference", ("static_pressure", "-100 bar", "700 bar", _HEAD, ("-1 bar", "10 bar")),
            ("pressure_loss", "0 bar", "700 bar", _HEAD, ("0 bar", "10 bar"))),
}
_SUPPLY = {
    **rows(
        "pressure",
        ("pressure", "0.001 bar absolute", "700 bar absolute", _HEAD, ("0.02 bar absolute", "60 bar absolute")),
        ("back_pressure", "0.0005 bar absolute", "600 bar absolute", _HEAD, ("0.01 bar absolute", "20 bar absolute")),
        ("receiver_pressure", "0.001 bar absolute", "700 bar absolute", _HEAD, ("1 bar absolute", "60 bar absolute")),
    ),
    **rows("volume", ("receiver_volume", "0.01 l", "1000 m3", "that is a gasholder", ("1 l", "20 m3"))),
    **rows("ratio", ("quality", "0.01", "1", "it is vapour, not water", ("0.5", "1")),
            ("boiler_efficiency", "0.02", "1", "an open fire under a kettle has 0.1", ("0.2", "1")),
            ("pump_efficiency", "0.01", "1", "worn hand pumps have 0.2", ("0.1", "0.9"))),
    **rows("temperature_difference", ("superheat", "0.001 K", "500 K", "no boiler tube stands more", ("0.1 K", "250 K"))),
    **rows("density", ("oil_density", "500 kg/m3", "2000 kg/m3", "oils float on water or nearly so", ("700 kg/m3", "1100 kg/m3"))),
    **rows("kinematic_viscosity",
            ("oil_viscosity_40", "0.2 mm2/s", "10000 mm2/s", "from petrol to bitumen", ("1 mm2/s", "1500 mm2/s")),
            ("oil_viscosity_100", "0.1 mm2/s", "2000 mm2/s", "from petrol to bitumen", ("0.5 mm2/s", "100 mm2/s"))),
    **rows("mass_flow", ("available_flow", "1e-7 kg/s", "1000 kg/s", "a breath at one end, a river at the other", ("1e-5 kg/s", "100 kg/s"))),
    **rows("specific_power", ("specific_power", "0.02 kW/(m3/min)", "200 kW/(m3/min)", "blowers need 0.3, 7 bar at best 3.5, 200 bar some 25", ("2 kW/(m3/min)", "20 kW/(m3/min)"))),
}
_LOADS = {
    **rows("power", ("running", "0.001 W", "1 MW", "a pilot lamp at one end, a mill at the other", ("0.05 W", "20 kW"))),
    **rows("voltage", ("voltage", "0.5 V", "2000 V", "no bench generator gives more", ("3 V", "400 V")),
            ("lowest_voltage", "0.1 V", "2000 V", "no bench generator gives more"), ("highest_voltage", "0.5 V", "2000 V", "no bench generator gives more"),
            ("dump_voltage", "0.5 V", "2000 V", "no bench generator gives more", ("4 V", "600 V"))),
    **rows("power", ("dump_power", "0.1 W", "1 MW", "a mill", ("1 W", "20 kW"))),
    **rows("ratio", ("converter_efficiency", "0.1", "1", "a linear regulator does as well", ("0.7", "0.99")), ("starting", "1", "30", "motors on the mains take 5 to 8", ("1", "10")),
            ("supply_swing", "0", "0.95", "the supply would fail", ("0", "0.4"))),
    **rows("count", ("count", "1", "10000", "write them as one appliance of more power", ("1", "200"))),
    **rows("energy", ("storage", "0.001 J", "10 GJ", "that is a shipping container of batteries", ("1 J", "200 MJ"))),
}
_EVENTS = {
    **same("time", "0 s", "86400 s", "no chart shows more than a day", "at", "over"),
    **rows("time", ("period", "0.005 s", "3600 s", "no rotor follows a faster swing", ("0.05 s", "600 s")),
            ("duration", "0.01 s", "86400 s", "no chart shows more than a day", ("0.5 s", "3600 s"))),
    **rows("pressure", ("supply_pressure", "0 bar absolute", "1000 bar absolute", "waterjet pumps reach four times as much")),
    **rows("ratio", ("swing", "0", "0.95", "the supply would fail", ("0", "0.4"))),
    **rows("capacitance", ("bus_capacitance", "1 uF", "1000 F", "banks of supercapacitors end there", ("50 uF", "5 F"))),
}
_TOLERANCE = "a tolerance is small beside the size itself"
_UNCERTAINTY = {
    **same("ratio", "0", "0.9", "so uncertain a number says nothing",
            "nozzle_discharge", "nozzle_velocity", "rim_mixing", "seal_discharge", "drive_efficiency", "generator_efficiency", "burst_factor", "supply_pressure", "casing_factor", "filling_factor", "windage_factor", "transition_factor",
            "hose_factor", "web_factor", "bearing_factor", "bearing_seal_factor", "bearing_cooling", "support_factor"),
    **rows("ratio", ("coupling_loss", "0", "500", "so uncertain a number says nothing", ("0", "20")),
            ("exhaust_loss", "0", "20", "so uncertain a number says nothing", ("0", "2")), ("core_factor", "0", "5", "so uncertain a number says nothing", ("0", "2")),
            ("exchange_factor", "0", "5", "so uncertain a number says nothing", ("0", "2")), ("entry_factor", "0", "5", "so uncertain a number says nothing", ("0", "2")),
            ("pack_factor", "0", "1", "so uncertain a number says nothing", ("0", "0.1")), ("belt_pull", "0", "10", "so uncertain a number says nothing", ("0", "1")),
            ("notch_factor", "0", "5", "so uncertain a number says nothing", ("0", "1"))),
    **rows("temperature_difference", ("supply_temperature", "0 K", "100 K", "a hand tells it better", ("0 K", "30 K"))),
    **rows("length",
            ("gap", "0 mm", "5 mm", _TOLERANCE, ("0 mm", "0.5 mm")), ("disc_thickness", "0 mm", "10 mm", _TOLERANCE, ("0 mm", "0.5 mm")),
            ("disc_diameter", "0 mm", "20 mm", _TOLERANCE, ("0 mm", "2 mm")), ("exhaust_bore", "0 mm", "20 mm", _TOLERANCE, ("0 mm", "2 mm")),
            ("nozzle_width", "0 mm", "10 mm", _TOLERANCE, ("0 mm", "0.5 mm")), ("seal_clearance", "0 mm", "5 mm", _TOLERANCE, ("0 mm", "0.5 mm"))),
    **rows("angle", ("inlet_angle", "0 deg", "30 deg", _TOLERANCE, ("0 deg", "5 deg"))),
}
_UNCERTAINTY |= {
    **same("ratio", "0", "0.9", "so uncertain a number says nothing", "ring_factor", "throat_factor", "motor_efficiency"),
    **rows("ratio", ("eye_loss", "0", "20", "so uncertain a number says nothing", ("0", "2")),
            ("cone_loss", "0", "5", "so uncertain a number says nothing", ("0", "1"))),
    **rows("length", ("eye_diameter", "0 mm", "20 mm", _TOLERANCE, ("0 mm", "2 mm"))),
    **rows("area", ("throat_area", "0 mm2", "0.1 m2", _TOLERANCE, ("0 mm2", "200 mm2"))),
}
_LIMITS = {
    **same("ratio", "0", "1", "it is a share of a whole",
            "turbulent_share", "backflow_share", "gap_hold", "gap_yield", "jet_quality",
            "rim_quality", "exit_wetness", "web_share", "exhaust_fill", "survives_load_loss", "survives_trip", "bore_ratio", "edge_share"),
    **same("ratio", "0", "10", "1 is the flow of a gap in the mean", *staged("uneven_flow_low", "uneven_flow_high")),
    **same("ratio", "0", "1.5", "no machine gives more than it takes",
            "turbine_efficiency", "rotor_efficiency", "supply_efficiency"),
    **same("ratio", "0", "20", "1 is its whole rating or room", "generator_load", "nozzle_footprint"),
    **same("ratio", "0", "1000", "a disc thinner than foil in a dense liquid", "gap_fluid_mass"),
    **same("ratio", "0", "100", "above about 6 it is a crack, not a notch", "peak_stress_ratio"),
    **same("ratio", "0", "100", "a margin of 1 has no reserve, one of 10 no purpose",
            "safety_margin", "stress_margin", "runaway_ratio", "peak_ratio"),
    **same("ratio", "0", "1000", "cold water at 20 bar has that", "cavitation_margin"),
    **same("ratio", "-1", "10", "1 is a change by the whole", "resolved_difference", "head_difference", "lamp_voltage_change"),
    **same("ratio", "0", "20", "rockets reach 5", *staged("jet_mach"), "exhaust_mach", "gap_mach"),
    **same("ratio", "-10", "100", "1 is a fluid as fast as the rim", *staged("rim_swirl_ratio"), "core_swirl_ratio"),
    **same("ratio", "0", "1e8", "ships reach more, gaps and nozzles do not", "gap_reynolds", "nozzle_reynolds"),
    **same("ratio", "0", "1e4", "beyond some tens the gap is wide open", "ekman_number"),
    **same("power", "-1 MW", "10 MW", "power stations begin there",
            "electric_power", "shaft_power", *staged("rotor_power"), "web_power", "resolved_power", "spare_power",
            "loss_balance"),
    **same("power", "0 W", "100 MW", "power stations begin there",
            "isentropic_power", "supply_power", "fuel_power", "pump_power", "loss_hose", "loss_nozzle",
            "loss_mixing", "loss_casing", "loss_entry", "loss_gap", "loss_bolts", "loss_incidence", "loss_leaving", "loss_leakage",
            "loss_windage", "loss_bearing", "loss_seal", "loss_drive", "loss_generator"),
    **same("torque", "-100 kN m", "100 kN m", "no shaft of a workshop stands more", "shaft_torque", "rotor_torque"),
    **same("specific_consumption", "0 kg/kWh", "1e6 kg/kWh", "a head of half a metre needs that", "specific_consumption"),
    **same("mass_flow", "0 kg/s", "1000 kg/s", "a river", "mass_flow", *staged("rotor_flow", "leakage_flow"), "passing_flow_2", "passing_flow_3"),
    **same("volume_flow", "0 l/min", "5e7 l/min", "a river of air", "free_air_flow"),
    **same("pressure", "0 bar absolute", "700 bar absolute", _HEAD, *staged("nozzle_pressure", "rim_pressure", "gap_exit_pressure"), "closing_surge"),
    **same("speed", "0 m/s", "3000 m/s", "no rim and hardly a jet is as fast", "rim_speed", *staged("jet_speed"),
            "ring_fastest", "ring_slowest"),
    **same("speed", "-3000 m/s", "3000 m/s", "no rim and hardly a jet is as fast", "bore_swirl", "outlet_swirl"),
    **same("temperature", "-200 degC", "800 degC", "no fluid of the tables is known beyond", *staged("exhaust_temperature"), "disc_temperature", "creep_temperature", "bearing_temperature"),
    **same("length", "0 mm", "20 m", "no shaft of a workshop is longer", *staged("stack_height")),
    **same("length", "-3 m", "3 m", "it lies inside a disc", "bore_wall", "mouth_depth", "rim_gap", "smallest_gap"),
    **same("length", "-500 mm", "500 mm", "no shaft of a workshop is wider", "nut_clearance"),
    **same("length", "-20 mm", "20 mm", "it would have burst", "rim_growth", "bore_growth"),
    **same("force", "-1 MN", "1 MN", "no bearing of a workshop stands more", "axial_thrust"),
    **same("ratio", "0", "100", "above 1 it dents the bearing's race", "axial_load_ratio"),
    **same("force", "0 N", "1 MN", "no bearing of a workshop stands more", "bearing_load"),
    **same("ratio", "0", "1e6", "1 is the least that keeps balls rolling", "least_load_ratio"),
    **same("time", "0 h", "1e12 h", "nobody waits for it", "bearing_life"),
    **same("stiffness", "0 MN/m", "1e6 MN/m", "no bearing is stiffer", "bearing_stiffness"),
    **same("kinematic_viscosity", "0 mm2/s", "10000 mm2/s", "stiffer grease is a solid", "grease_running"),
    **same("balance_grade", "0 mm/s", "1e6 mm/s", "ISO 21940-11 ends at G 4000", "assembly_grade"),
    **same("ratio", "0", "1e12", "nobody starts it so often", "fatigue_cycles"),
    **same("angle", "0 deg", "90 deg", "jets have a width and must reach the rim", "casing_angle"),
    **same("pressure_difference", "0 mbar", "10 bar", "no exhaust is so fast", "outlet_rise"),
    **same("angle", "-90 deg", "90 deg", "at 90 degrees nothing leaves", "outlet_angle"),
    **same("mass", "0 kg", "20 t", "no crane of a workshop lifts more", "rotor_mass"),
    **same("energy", "0 J", "1 GJ", "that is a quarter of a tonne of explosive", "stored_energy"),
    **same("stress", "-10 GPa", "10 GPa", "no metal stands a third of it", "bore_stress", "thermal_stress"),
    **same("angular_speed", "0 rpm", "1e7 rpm", "nothing of this size turns so fast",
            "yield_speed", "burst_speed", "bearing_limit_speed", "rub_speed", "wave_speed",
            "forced_wave_speed", "shaft_critical_speed", "generator_limit_speed", "seal_rub_speed"),
    **same("count", "0", "100", "only the first few waves matter",
            "wave_nodal_diameters", "forced_wave_nodal_diameters"),
    **same("unbalance", "0 g mm", "1e9 g mm", "a tonne off by a metre", "permissible_unbalance", "raw_unbalance"),
    **same("temperature_difference", "-500 K", "500 K", "a disc would buckle", "rim_over_bore"),
    **same("time", "0 s", "1e7 s", "that is a season", "holding_time", "trip_time", "peak_time",
            "shutoff_time_allowed", "start_time", "speed_time_constant", "receiver_time"),
    **same("volume", "0 l", "1000 m3", "that is a gasholder", "hose_allowed", "valve_volume"),
}
_LIMITS |= {
    **same("ratio", "0", "1", "it is a share of a whole", "volumetric_efficiency", "pump_efficiency", "wire_to_water", "head_droop", "eye_ratio", "share_above_50_pa", "share_above_150_pa"),
    **same("ratio", "0", "20", "1 is its whole rating or room", "motor_load"),
    **same("ratio", "0", "1000", "it is of order one", "specific_speed", "specific_diameter", "throat_ratio"),
    **same("volume_flow", "0 l/min", "6e7 l/min", "a river", "flow", "least_flow"),
    **same("length", "-1000 m", "10000 m", "no workshop pumps so high", "head", "shutoff_head", "resolved_head", "npsh_margin", "npsh_available", "npsh_required"),
    **same("length", "-3 m", "3 m", "it lies inside a disc", "free_passage", "eye_width"),
    **same("pressure_difference", "-100 bar", "700 bar", _HEAD, "pressure_rise", "rim_rise"),
    **same("power", "-1 MW", "10 MW", "power stations begin there", "hydraulic_power", "loss_mouth"),
    **same("power", "0 W", "100 MW", "power stations begin there", "loss_motor", "loss_edge", "loss_eye", "loss_vaneless", "loss_throat", "loss_collector", "loss_cone"),
    **same("time", "0 s", "1e6 s", "nobody waits for it", "residence_time"),
    **same("shear", "0 Pa", "1e9 Pa", "metal shears", "shear_median", "ring_shear"),
    **same("temperature_difference", "0 K", "500 K", "it boils", "temperature_rise"),
    **same("angle", "0 deg", "90 deg", "at 90 degrees it leaves without swirl", "discharge_angle"),
    **same("speed", "0 m/s", "3000 m/s", "no rim and hardly a jet is as fast", "eye_speed", "throat_speed"),
    **same("force", "-1 MN", "1 MN", "no bearing of a workshop stands more", "radial_thrust"),
    **same("angular_speed", "0 rpm", "1e7 rpm", "nothing of this size turns so fast", "motor_limit_speed"),
}
_LOG = {
    **rows("time", ("time", "-1e9 s", "1e10 s", "a clock may count from 1970")),
    **rows("angular_speed", ("speed", "-1000000 rpm", "1000000 rpm", "dental drills end at half of it"),
            ("trip_speed", "1 rpm", "1000000 rpm", "dental drills end at half of it")),
    **same("pressure", "0 bar absolute", "1000 bar absolute", _HEAD,
            "supply_pressure", "back_pressure", "rim_pressure", "gap_exit_pressure", *staged("nozzle_pressure")),
    **rows("pressure_difference", ("outlet_rise", "-10 mbar", "10 bar", "a probe that points into the flow reads more than the room")),
    **rows("angle", ("outlet_angle", "-90 deg", "90 deg", "at 90 degrees nothing leaves")),
    **rows("temperature",
            ("supply_temperature", "-100 degC", "800 degC", "no fluid of the tables is known beyond"),
            *((key, "-200 degC", "800 degC", "no fluid of the tables is known beyond") for key in staged("exhaust_temperature"))),
    **rows("torque", ("shaft_torque", "-100 kN m", "100 kN m", "no shaft of a workshop stands more")),
    **rows("power", ("electric_power", "-1 MW", "10 MW", "power stations begin there")),
    **rows("mass_flow", ("mass_flow", "-1 kg/s", "1000 kg/s", "a river")),
    **rows("voltage", ("voltage", "-2000 V", "2000 V", "no bench generator gives more")),
    **rows("current", ("current", "-10000 A", "10000 A", "no bench generator gives more")),
    **rows("count", ("nozzle_count", "1", "500", "more do not fit around a rim")),
    **rows("length", ("rim_clearance", "0.005 mm", "500 mm", "finer than a bearing's play, or no casing at all")),
    **rows("length", ("lever", "1 mm", "5 m", "a brake's arm fits a bench")),
    **rows("volume_flow", ("flow", "0 l/min", "6e7 l/min", "a river")),
    **rows("head", ("head", "-1000 m", "10000 m", "no workshop pumps so high")),
    **rows("pressure_difference", ("pressure_rise", "-100 bar", "700 bar", _HEAD), ("rim_rise", "-100 bar", "700 bar", _HEAD)),
    **rows("frequency", ("frequency", "1 Hz", "100 kHz", "nothing outside is heard")),
}
# fmt: on
PLAUSIBLE: Mapping[str, Mapping[str, Plausible]] = {
    "supply": _SUPPLY,
    "duty": _DUTY,
    "machine": _BUILD,
    "ranges": _BUILD,
    "loads": _LOADS,
    "events": _EVENTS,
    "uncertainty": _UNCERTAINTY,
    "limits": _LIMITS,
    "log": _LOG,
}
"""Range of each number, by section and key. Variables stand with the machine numbers."""


def checked(section: str, key: str, value: Any) -> Any:
    """Give a value [SI] back; raises WrongValueError where it is no plausible one of its key."""
    row = PLAUSIBLE.get(section, {}).get(key)
    if row is not None and isinstance(value, int | float):
        row.refuse(value)
    return value


def odd(section: str, key: str, values: Iterable[Any]) -> Iterator[WrongValueError]:
    """Find which values [SI] of a key are plausible, but odd."""
    row = PLAUSIBLE.get(section, {}).get(key)
    for value in values:
        if row is not None and isinstance(value, int | float) and row.is_odd(value):
            low, high = row.usual or ("", "")
            found = f"{shown(value, row.dimension)} is odd"
            yield WrongValueError(
                found, f"usually from {low} up to {high}", "check number and unit"
            )
