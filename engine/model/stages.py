"""One to three stages in series on one shaft: the pressures between, at which all pass one flow.

The exhaust of a stage feeds the nozzles of the next through a passage, which takes `passage_loss`
dynamic pressures of that flow in the exhaust's free area, and in the holes that lead into the next
stage a share of that one's pressure drop: they are drawn so wide (`PASSAGE_SHARE`). It brings the
mean total enthalpy: what entered less what the rotor took. A seal with the clearance, lands and
coefficient of the collars closes the tube on the shaft between two exhausts; what passes it goes
around the later stage. The shaft's seals to the surroundings rub (`shaft_seal_torque`) and pass
nothing. Gas that a passage stores is left out, also after a trip.

Builds of one call have the same number of stages.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.columns import Builds, Results
from engine.model.circuit import FAMILY, Followed, circuit_of, matched_flow, source_of_lanes
from engine.model.dimensions import dimensions_of
from engine.model.lanes import latest, some_lanes
from engine.physics.arrays import Lanes, Reason, first_reason, in_lanes
from engine.physics.flow.geometry import throat_area
from engine.physics.flow.match import Circuit, Throughflow
from engine.physics.flow.nozzle import isentropic_flux
from engine.physics.flow.outlet import collar_leakage
from engine.physics.flow.series import pressures_between
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.machine.clamp import FACE_RATIO
from engine.stage_columns import OWN, of_stage
from engine.study.study import Study

CLOSE = 1e-6
"""Largest difference between the flows of two stages, as a share."""
PASSAGE_SHARE = 0.005
"""Of the next stage's pressure drop, what the holes into it take; common practice, no source."""
DROP_AT_NOZZLES = 0.9
"""Share of a stage's pressure that its nozzles take, where the search for the pressures begins."""

HALVINGS, TURNS = 24, 4
"""Halvings of each pressure between where the search begins; turns through all where several."""
HOPELESS = (Reason.BAD_GEOMETRY, Reason.BAD_SUPPLY)
"""Reasons that no pressure between stages mends."""


@dataclass(frozen=True)
class Stage:
    """One stage of every lane, as it is matched."""

    build: Results
    dimensions: Results
    circuit: Circuit
    flow: Throughflow
    passing: Lanes
    """Flow around it along the shaft [kg/s]; 0 at the first."""

    @property
    def total_flow(self) -> Lanes:
        """Flow through and around it [kg/s]."""
        return np.asarray(self.flow.jet.mass_flow + self.passing)


Matched = tuple[tuple[Stage, ...], NDArray[np.int64]]
"""Stages of every lane, and its status."""


def builds_of_stages(build: Builds, count: int) -> list[Results]:
    """List the builds of each stage alone, with what it has of its own."""
    found = [dict(build)]
    for stage in range(2, count + 1):
        own = {key: np.asarray(build[of_stage(key, stage)], dtype=float) for key in OWN}
        own = {key: np.where(np.isnan(value), build[key], value) for key, value in own.items()}
        found.append({**build, **own})
    return found


def whole_stack(builds: Sequence[Builds]) -> Results:
    """Give the first stage's build with the discs of all."""
    discs = sum(build["disc_count"] for build in builds)
    return {**builds[0], "disc_count": np.asarray(discs)}


@dataclass(frozen=True)
class _Asked:
    """Lanes that are to be matched."""

    study: Study
    builds: Sequence[Results]
    """Of each stage."""
    pressure: Lanes
    """Before the first nozzles [Pa]."""
    sought: NDArray[np.int64]
    """Lanes that are not `MATCHED` are left out."""

    def of(self, rows: NDArray[np.int64]) -> "_Asked":
        """Take some lanes."""
        some = [some_lanes(build, rows) for build in self.builds]
        return _Asked(self.study, some, self.pressure[rows], self.sought[rows])

    @property
    def back(self) -> Lanes:
        """Pressure behind the last stage [Pa]."""
        return in_lanes(self.study.supply.back_pressure, len(self.pressure))


def match_stages(
    study: Study,
    builds: Sequence[Results],
    pressure: Lanes,
    sought: NDArray[np.int64],
    *,
    level: Followed,
) -> Matched:
    """Match all stages of every lane; `pressure` is that before the first nozzles [Pa].

    Lanes that are not `MATCHED` in `sought` are left out.
    """
    asked = _Asked(study, builds, pressure, sought)
    if len(builds) == 1:
        return _at(asked, np.empty((0, len(pressure))), level)
    # The faster level finds the pressures between, from which the other goes on.
    (stages, status), between, off = _searched(asked, _first_guess(asked), "averaged")
    if level != "averaged":
        (stages, status), _, off = _searched(asked, between, level)
    return stages, first_reason(status, ~(off <= CLOSE), Reason.NOT_CONVERGED)


def _searched(asked: _Asked, between: Lanes, level: Followed) -> tuple[Matched, Lanes, Lanes]:
    """Stages, pressures between (joint, lane), and largest difference of flow."""
    known: list[tuple[NDArray[np.int64], Matched]] = []

    def flows(rows: NDArray[np.int64], tried: Lanes) -> Lanes:
        some = asked.of(rows)
        stages, status = _at(some, tried, level)
        known.append((rows, (stages, status)))
        found = np.stack([stage.total_flow for stage in stages])
        found[:, np.isin(status, HOPELESS) | (some.sought != Reason.MATCHED)] = np.nan
        return found

    found, off = pressures_between(
        flows=flows,
        supply=asked.pressure,
        back=asked.back,
        guess=between,
        slopes=_slopes(asked, between),
        close=CLOSE,
    )
    return latest(known), found, off


def _at(asked: _Asked, between: Lanes, level: Followed) -> Matched:
    """All stages at given pressures between them, whether or not their flows agree."""
    source = source_of_lanes(asked.study, asked.builds[0])
    fluid, pressure = source.fluid, asked.pressure
    enthalpy = in_lanes(source.enthalpy, len(pressure))
    passing = np.zeros_like(pressure)
    status = np.full(len(pressure), int(Reason.MATCHED))
    stages: list[Stage] = []
    for build, back, onward in zip(
        asked.builds, (*between, asked.back), (*between[1:], asked.back, None), strict=False
    ):
        dimensions = dimensions_of(build)
        circuit, found = circuit_of(
            asked.study,
            source,
            build,
            dimensions,
            pressure,
            enthalpy=enthalpy,
            back_pressure=back,
        )
        found = first_reason(found, asked.sought != Reason.MATCHED, Reason.NOT_CONVERGED)
        flow, found = matched_flow(fluid, circuit, found, level, build.get(FAMILY))
        stages.append(Stage(build, dimensions, circuit, flow, passing))
        status = np.where(status == Reason.MATCHED, found, status)
        if len(stages) == len(asked.builds) or onward is None:
            break
        # What goes on: all of the flow, with what this rotor left of its enthalpy.
        total = flow.jet.mass_flow + passing
        out = (flow.jet.mass_flow * leaving_enthalpy(circuit, flow) + passing * enthalpy) / total
        enthalpy = np.where(np.isfinite(out), out, enthalpy)
        drop = _passage_drop(fluid, stages[-1], back, enthalpy, end=onward)
        pressure = np.maximum(back - drop, back / 2)
        passing = _past(fluid, build, back, enthalpy, end=onward)
    return tuple(stages), status


def leaving_enthalpy(circuit: Circuit, flow: Throughflow) -> Lanes:
    """Mean total enthalpy of what leaves a stage through its gaps and seals [J/kg]."""
    through, leak = flow.rotor_flow, flow.leakage
    web = flow.web_torque * circuit.angular_speed
    return np.asarray(
        (through * flow.gap.exit_total_enthalpy - web + leak * flow.ring.total_enthalpy)
        / (through + leak)
    )


def _passage_drop(
    fluid: Fluid, stage: Stage, pressure: Lanes, enthalpy: Lanes, *, end: Lanes
) -> Lanes:
    """Pressure that the passage behind a stage takes; the next stage drops it to `end` [Pa]."""
    density = fluid.density(pressure=pressure, enthalpy=enthalpy)
    dynamic = np.square(stage.total_flow / stage.circuit.exhaust_area) / (2 * density)
    way = np.where(np.isfinite(dynamic), stage.build["passage_loss"] * dynamic, 0.0)
    return way + PASSAGE_SHARE * np.maximum(pressure - end, 0.0)


def _past(fluid: Fluid, build: Builds, pressure: Lanes, enthalpy: Lanes, *, end: Lanes) -> Lanes:
    """Flow along the shaft from one exhaust to the next [kg/s]."""
    none = np.zeros_like(pressure)
    radius = FACE_RATIO * build["shaft_diameter"] / 2
    return collar_leakage(
        fluid=fluid,
        ring_pressure=pressure,
        ring_enthalpy=enthalpy,
        ring_density=fluid.density(pressure=pressure, enthalpy=enthalpy),
        back_pressure=end,
        core_speed=none,
        rim_radius=radius,
        seal_radius=radius,
        seal_clearance=build["seal_clearance"],
        seal_count=1.0,
        throttles=build["seal_throttles"],
        discharge_coefficient=build["seal_discharge"],
    )


def _nozzle_flow(asked: _Asked, pressures: Lanes, stage: int) -> Lanes:
    """Flow of the nozzles of a stage alone between two pressures, with the supply's enthalpy."""
    build, source = asked.builds[stage], source_of_lanes(asked.study, asked.builds[0])
    area = throat_area(
        nozzle_count=build["nozzle_count"],
        nozzle_width=build["nozzle_width"],
        nozzle_height=dimensions_of(build)["stack_height"],
    )
    first, last = pressures[stage], pressures[stage + 1]
    flux = isentropic_flux(
        fluid=source.fluid,
        pressure=first,
        enthalpy=np.full_like(first, source.enthalpy),
        back_pressure=first - DROP_AT_NOZZLES * (first - last),
    )
    return np.asarray(area * flux)


def _first_guess(asked: _Asked) -> Lanes:
    """Pressures between nozzles that alone pass one flow, (joint, lane), by bisection."""
    joints = range(1, len(asked.builds))
    shares = np.linspace(0, 1, len(asked.builds) + 1)[:, None]
    at = asked.pressure ** (1 - shares) * asked.back**shares
    for _ in range(1 if len(joints) == 1 else TURNS):
        for joint in joints:
            low, high = at[joint + 1].copy(), at[joint - 1].copy()
            for _ in range(HALVINGS):
                at[joint] = (low + high) / 2
                more = _nozzle_flow(asked, at, joint) > _nozzle_flow(asked, at, joint - 1)
                low, high = np.where(more, low, at[joint]), np.where(more, at[joint], high)
    # Never quite at one of its neighbours, where a stage has no flow.
    for joint in joints:
        width = at[joint - 1] - at[joint + 1]
        at[joint] = np.clip(at[joint], at[joint + 1] + 0.02 * width, at[joint - 1] - 0.02 * width)
    return at[1:-1]


def _slopes(asked: _Asked, between: Lanes) -> tuple[Lanes, Lanes]:
    """How the logarithm of each stage's flow follows those of the pressures before and behind."""
    at = np.stack([asked.pressure, *between, asked.back])
    step = 1e-4
    slopes: tuple[list[Lanes], list[Lanes]] = ([], [])
    with np.errstate(divide="ignore", invalid="ignore"):
        for stage in range(len(asked.builds)):
            usual = _nozzle_flow(asked, at, stage)
            for end, found in enumerate(slopes):
                moved = at.copy()
                moved[stage + end] *= 1 + step
                found.append(np.log(_nozzle_flow(asked, moved, stage) / usual) / step)
    before, behind = (np.nan_to_num(np.stack(each)) for each in slopes)
    return before, behind
