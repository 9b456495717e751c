"""Names that only a turbine of two or three stages needs: its numbers, and results by stage.

Rows as in `engine.columns`, which makes columns of them: key, unit, whether more is better, label,
meaning. What belongs to one stage ends in `_2` or `_3`. The same name without an ending belongs to
the first stage, or to the whole machine: powers, losses, masses, margins and the worst of what
limits a stage, such as `nozzle_footprint` or `gap_hold`.
"""

from typing import Literal

Row = tuple[str, str, Literal["more", "less", ""], str, str]

MOST_STAGES = 3
STAGES = {2: "second stage", 3: "third stage"}
"""Words for each stage behind the first."""
OWN = ("disc_count", "nozzle_width")
"""What each stage has of its own; the rest is common."""
# fmt: off
MACHINE: tuple[Row, ...] = (
    ("stage_count", "count", "", "Stages", "number of stages in series on one shaft, 1 to 3: the exhaust of one feeds the nozzles of the next"),
    ("disc_count_2", "count", "", "Discs of stage 2", "number of discs in the stack of the second stage; unused with one stage"),
    ("nozzle_width_2", "mm", "", "Nozzle width of stage 2", "throat width of one nozzle of the second stage; unused with one stage"),
    ("disc_count_3", "count", "", "Discs of stage 3", "number of discs in the stack of the third stage; unused with fewer stages"),
    ("nozzle_width_3", "mm", "", "Nozzle width of stage 3", "throat width of one nozzle of the third stage; unused with fewer stages"),
    ("passage_loss", "", "", "Passage loss", "loss coefficient of the passage between two stages, beside the holes that lead into the next, which take 0.5 % of that stage's pressure drop as they are drawn: pressure loss divided by the dynamic pressure of the same flow in the exhaust's free area"),
)


# fmt: on


def of_stage(key: str, stage: int) -> str:
    """Key of what belongs to a stage; the first has no ending.

    Examples
    --------
    >>> of_stage("rim_pressure", 2), of_stage("rim_pressure", 1)
    ('rim_pressure_2', 'rim_pressure')
    """
    return key if stage == 1 else f"{key}_{stage}"


OF_LATER_STAGES = {of_stage(key, stage): stage for stage in STAGES for key in OWN}
"""Numbers that only a build with so many stages uses."""


def is_idle(key: str, stage_count: float) -> bool:
    """Whether a number belongs to a stage that a build of so many stages does not have."""
    return OF_LATER_STAGES.get(key, 1) > stage_count


def staged(*keys: str) -> tuple[str, ...]:
    """Keys of all stages.

    Examples
    --------
    >>> staged("rim_pressure")
    ('rim_pressure', 'rim_pressure_2', 'rim_pressure_3')
    """
    return tuple(of_stage(key, stage) for key in keys for stage in (1, *STAGES))


# fmt: off
_OF_ONE: tuple[Row, ...] = (
    ("stack_height", "mm", "", "Stack height", "height of discs and gaps together"),
    ("nozzle_pressure", "bar", "", "Pressure before nozzles", "absolute pressure before the nozzles, behind the passage from the stage before"),
    ("rim_pressure", "bar", "", "Rim pressure", "absolute pressure around the rim of the discs"),
    ("gap_exit_pressure", "bar", "", "Gap exit pressure", "absolute pressure at the inner end of the gaps"),
    ("jet_speed", "m/s", "", "Jet speed", "speed of the nozzle jets"),
    ("jet_mach", "", "", "Jet Mach number", "jet speed divided by the speed of sound in the jet"),
    ("rim_swirl_ratio", "", "", "Rim swirl ratio", "swirl with which the fluid enters the gaps, in the mean, divided by rim speed"),
    ("exhaust_temperature", "°C", "", "Exhaust temperature", "total temperature of the fluid leaving the rotor"),
    ("rotor_power", "W", "more", "Rotor power", "power that the fluid gives to discs, disc edges, spokes and end faces that it drives; part of that of the machine"),
    ("rotor_flow", "g/s", "", "Rotor flow", "mass flow through all gaps together"),
    ("leakage_flow", "g/s", "less", "Leakage", "mass flow past the end discs and their collar seals"),
    ("uneven_flow_low", "", "less", "Least unevenness of the gaps", "flow of the gap nearest an outlet less that of the gap farthest from one, over the mean flow of a gap, with smooth walls"),
    ("uneven_flow_high", "", "less", "Most unevenness of the gaps", "the same, as measured where streams gather, with rough walls"),
    ("passing_flow", "g/s", "less", "Shaft seal flow", "mass flow along the shaft through the seal between this stage and the one before"),
)
RESULTS: tuple[Row, ...] = tuple(
    (of_stage(key, stage), unit, better, f"{label} of stage {stage}", f"{meaning}: {words}")
    for stage, words in STAGES.items()
    for key, unit, better, label, meaning in _OF_ONE
)
LATE = ("uneven_flow_low", "uneven_flow_high")
"""Those of them that are left empty unless asked for."""
BY_STAGE = tuple(row[0] for row in _OF_ONE if row[0] not in LATE)
"""Results that each stage behind the first has, without their ending; but for the late ones."""
LATE_OF_STAGES = tuple(of_stage(key, stage) for stage in STAGES for key in LATE)
OF_STAGES = tuple(row[0] for row in RESULTS)
"""Keys of results that only a study with more than one stage has."""
