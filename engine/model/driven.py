"""What drives the shaft: flow and power of builds, without what holds them together."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.columns import Builds, Results
from engine.model.circuit import Followed, lanes_of, source_of_lanes
from engine.model.clamp_rims import drag_of_clamps
from engine.model.flow_states import exhaust_temperature
from engine.model.hose import flow_behind_hose
from engine.model.lanes import by_stages, some_lanes, together
from engine.model.parts import part_faults
from engine.model.power import power_chain
from engine.model.second_law import breaks_second_law
from engine.model.shaft import RotorLine, rotor_line
from engine.model.stage_results import accounts_of_stages, around_bearings, worst_of
from engine.model.stages import Stage, builds_of_stages
from engine.model.strength import web_of_build
from engine.model.washers import drag_of_bolts
from engine.physics.arrays import Lanes, Mask, Reason, first_reason, in_lanes
from engine.physics.flow.losses import FlowAccount
from engine.physics.flow.match import RESIDUAL
from engine.physics.machine.web import WebShape
from engine.study.study import Study
from engine.study.supply import Source

POWERS = ("shaft_torque", "mass_flow", "electric_power")
"""Numbers that `driven` gives."""


@dataclass(frozen=True)
class Driven:
    """Builds that all have so many stages, with their flow and power."""

    source: Source
    alone: Sequence[Results]
    """Builds of each stage."""
    stages: Sequence[Stage]
    dimensions: Results
    line: RotorLine
    web: WebShape | None
    """None where the line was known."""
    accounts: Sequence[FlowAccount]
    power: Results
    """Every power from the supply to the terminals, by column key."""
    exhaust_temperatures: Sequence[Lanes]
    """Of each stage [K]."""
    disc_temperature: Lanes
    """As hot as the supply [K]."""
    status: NDArray[np.int64]
    faults: NDArray[np.str_]
    """What keeps the parts of a build that can exist from working together."""

    @property
    def exists(self) -> Mask:
        """Builds that can be made."""
        return np.asarray(self.status != Reason.BAD_GEOMETRY)

    @property
    def followed(self) -> Mask:
        """Builds that can be made and let fluid in, with or without operating point."""
        none = np.isin(self.status, (Reason.BAD_GEOMETRY, Reason.BAD_SUPPLY, Reason.NO_FLOW))
        return np.asarray(~none & (self.faults == ""))

    @property
    def matched(self) -> Mask:
        """Builds with an operating point."""
        return np.asarray((self.status == Reason.MATCHED) & (self.faults == ""))


def driven(study: Study, builds: Builds, level: Followed, line: RotorLine | None = None) -> Results:
    """Torque at the shaft, flow and power of builds, by column key; NaN without operating point.

    The numbers are those of a whole evaluation, for half the work. `line` is that of the builds,
    where it is known: it does not go with speed and supply.

    Beyond, builds without operating point have numbers too, but where no flow enters the gaps and
    where no march has an answer. `status` tells the reason, and `is_bound` marks flows that do not
    close: less would, and so with less torque.
    """
    build = lanes_of(study, builds)
    parts = []
    for count, rows in by_stages(build):
        shaft = line if line is None or len(rows) == len(build["speed"]) else line.of(rows)
        found = driven_stages(study, some_lanes(build, rows), count, level, shaft)
        known = found.followed if level == "beyond" else found.matched
        numbers = {key: np.where(known, found.power[key], np.nan) for key in POWERS}
        closed = np.all([np.abs(s.flow.mismatch) <= RESIDUAL for s in found.stages], axis=0)
        parts.append((rows, numbers | {"status": found.status, "is_bound": known & ~closed}))
    both: Results = together(parts)
    return both


def driven_stages(
    study: Study, build: Results, count: int, level: Followed, line: RotorLine | None = None
) -> Driven:
    """Flow and power of builds that all have so many stages; see `driven` for their `line`."""
    source = source_of_lanes(study, build)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        web = None
        if line is None:
            web = web_of_build(build)
            hub_radius = web.hub_radius
        else:
            hub_radius = line.hub_radius
        alone = builds_of_stages(build | {"hub_radius": hub_radius}, count)
        stages, status = flow_behind_hose(study, source, alone, level)
        account, accounts = accounts_of_stages(study, source, stages)
        dimensions = worst_of([stage.dimensions for stage in stages])
        line = line or rotor_line(
            build,
            height=dimensions["stack_height"],
            hub_radius=hub_radius,
            later=[stage.dimensions["stack_height"] for stage in stages[1:]],
        )
        exhausts = [
            exhaust_temperature(source.fluid, circuit=s.circuit, flow=s.flow) for s in stages
        ]
        power = power_chain(
            build,
            [stage.flow for stage in stages],
            account,
            line,
            exhaust_temperature=around_bearings(exhausts),
            bolts=drag_of_bolts(source.fluid, stages),
            clamps=drag_of_clamps(stages),
        )
        for stage in stages:
            impossible = breaks_second_law(
                power, swirl_in=stage.flow.ring.swirl, swirl_out=stage.flow.gap.exit_swirl
            )
            status = first_reason(status, impossible, Reason.BREAKS_SECOND_LAW)
        hot = in_lanes(source.temperature, len(build["speed"]))
        exists = status != Reason.BAD_GEOMETRY
        faults = np.where(exists, part_faults(build, disc_temperature=hot), "")
    return Driven(
        source=source,
        alone=alone,
        stages=stages,
        dimensions=dimensions,
        line=line,
        web=web,
        accounts=accounts,
        exhaust_temperatures=exhausts,
        power=power,
        disc_temperature=hot,
        status=status,
        faults=faults,
    )
