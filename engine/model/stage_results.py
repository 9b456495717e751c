"""Results of all stages together, and those of each behind the first."""

from collections.abc import Mapping, Sequence

import numpy as np

from engine.columns import Builds, Results
from engine.model.stages import Stage
from engine.physics.arrays import Lanes, in_lanes
from engine.physics.flow.losses import FlowAccount, account_of_flow, account_of_stages, handed_on
from engine.stage_columns import BY_STAGE, STAGES, of_stage
from engine.study.study import Study
from engine.study.supply import Source

LARGEST = frozenset(
    {
        "nozzle_footprint", "smallest_gap", "exit_wetness", "exhaust_mach", "gap_mach",
        "backflow_share",
    }
)  # fmt: skip
"""Results of which the largest of all stages stands for the machine."""
LEAST = frozenset(
    {
        "mouth_depth", "gap_hold", "rim_gap", "jet_quality", "rim_quality", "cavitation_margin",
        "exhaust_fill",
    }
)  # fmt: skip
"""Results of which the smallest does."""
TOGETHER = "gap_yield"
"""A chance that must come true in every stage."""


def accounts_of_stages(
    study: Study, source: Source, stages: Sequence[Stage]
) -> tuple[FlowAccount, list[FlowAccount]]:
    """Powers of the whole flow, and of each stage, against the pressure behind the last."""
    n_lanes = len(stages[0].passing)
    back = in_lanes(study.supply.back_pressure, n_lanes)
    found = []
    for place, stage in enumerate(stages):
        circuit, nozzle = stage.circuit, stage.circuit.nozzle
        before = nozzle.stagnation_pressure if place else in_lanes(source.pressure, n_lanes)
        account = account_of_flow(
            fluid=source.fluid,
            flow=stage.flow,
            supply_pressure=before,
            nozzle_pressure=nozzle.stagnation_pressure,
            supply_enthalpy=nozzle.stagnation_enthalpy,
            back_pressure=back,
            bore_radius=circuit.bore_radius,
            angular_speed=circuit.angular_speed,
        )
        if len(stages) > 1:
            # Behind the last nothing goes on.
            onward = stages[place + 1] if place + 1 < len(stages) else None
            after = nozzle if onward is None else onward.circuit.nozzle
            account = handed_on(
                fluid=source.fluid,
                account=account,
                flow=stage.flow,
                passing=stage.passing,
                nozzle_pressure=nozzle.stagnation_pressure,
                nozzle_enthalpy=nozzle.stagnation_enthalpy,
                angular_speed=circuit.angular_speed,
                next_flow=0.0 if onward is None else onward.total_flow,
                next_pressure=back if onward is None else after.stagnation_pressure,
                next_enthalpy=after.stagnation_enthalpy,
                back_pressure=back,
            )
        found.append(account)
    return account_of_stages(accounts=found), found


def worst_of(stages: Sequence[Results]) -> Results:
    """Give results of the machine: those of the first stage, or the worst where that limits it."""
    found = dict(stages[0])
    for each in stages[1:]:
        for key, here in each.items():
            if key in LARGEST:
                found[key] = np.fmax(found[key], here)
            elif key in LEAST:
                found[key] = np.fmin(found[key], here)
            elif key == TOGETHER:
                found[key] = found[key] * here
    return found


def around_bearings(exhausts: Sequence[Lanes]) -> Lanes:
    """Temperature of the exhaust around both bearings [K]; (2, lane) where they differ.

    `exhausts` are those of the stages.
    """
    return exhausts[0] if len(exhausts) == 1 else np.stack([exhausts[0], exhausts[-1]])


def of_later_stages(
    stages: Sequence[Stage], states: Sequence[Builds], accounts: Sequence[FlowAccount]
) -> Results:
    """Results of each stage behind the first by column key; NaN of stages that are not there."""
    none = np.full_like(stages[0].passing, np.nan)
    found = {of_stage(key, stage): none for stage in STAGES for key in BY_STAGE}
    places = zip(range(1, len(stages) + 1), stages, states, accounts, strict=True)
    for number, stage, flowing, account in places:
        own: Mapping[str, Lanes] = {
            **stage.dimensions,
            **flowing,
            "rotor_power": account.rotor,
            "rotor_flow": stage.flow.rotor_flow,
            "leakage_flow": stage.flow.leakage,
            "passing_flow": stage.passing,
        }
        if number > 1:
            found |= {of_stage(key, number): own[key] for key in BY_STAGE}
    return found
