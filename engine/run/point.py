"""One build given as texts, evaluated like the designs of a front."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from engine.bands.results import evaluate_judged
from engine.columns import COLUMNS, Builds, Results
from engine.model.evaluation import builds_of
from engine.model.limits import MATCHED, violations, with_standing
from engine.model.loads import load_text
from engine.model.parts import why_not
from engine.model.plane import plane_of_build, plane_powers
from engine.model.settle import settled
from engine.model.wired import can_settle
from engine.physics.plane.answer import PlaneFlow, Progress
from engine.run.finish import finished
from engine.run.frames import to_frame
from engine.study.kinds import refuse_pump, refuse_stages
from engine.study.reader import parse_overrides
from engine.study.study import Study
from engine.study.values import Limit


@dataclass(frozen=True)
class SocketRow:
    """Where a build settles with one set of loads switched on; NaN where it does not."""

    switched_on: str
    """What came last; 'nothing' for no load."""
    speed: float
    """[rad/s]"""
    voltage: float
    """Of the bus [V]."""
    current: float
    """[A]"""
    power: float
    """To the loads, without a dump resistor [W]."""
    cutting: bool
    """Whether a converter cuts in and out there."""

    def as_plain(self) -> dict[str, Any]:
        """Give it in drawing units by column name; None where there is no number."""
        numbers = {
            "speed_rpm": float(COLUMNS["speed"].to_drawing(self.speed)),
            "voltage_V": self.voltage,
            "current_A": self.current,
            "power_W": self.power,
        }
        finite = {
            key: float(f"{value:.12g}") if np.isfinite(value) else None
            for key, value in numbers.items()
        }
        return {"switched_on": self.switched_on, **finite, "cuts_in_and_out": self.cutting}


@dataclass(frozen=True)
class Point:
    """One build with its results and the limits it misses."""

    results: Results
    limits: Mapping[str, Limit[float]]
    missed: tuple[str, ...]
    """Limits that it does not meet, or for which it has no number."""
    impossible: tuple[str, ...] = ()
    """Why it cannot be made; empty where it can."""
    plane: PlaneFlow | None = None
    """Its flow in the plane of the discs, where that was asked for and there is any."""
    socket: tuple[SocketRow, ...] = ()
    """Where it settles with the loads; empty where the study says too little for that."""

    def as_plain(self) -> dict[str, Any]:
        """Results in drawing units by column name; None where there is no number."""
        found = to_frame({key: self.results[key] for key in COLUMNS if key in self.results})
        row = {str(name): value for name, value in found.iloc[0].items()}
        known = {name: value for name, value in row.items() if isinstance(value, str)}
        numbers = {name: float(f"{value:.12g}") for name, value in row.items() if name not in known}
        finite = {name: value if np.isfinite(value) else None for name, value in numbers.items()}
        said: dict[str, Any] = {
            "missed_limits": list(self.missed),
            "impossible": list(self.impossible),
        }
        if self.socket:
            said["socket"] = [row.as_plain() for row in self.socket]
        plain = {**known, **finite, **said}
        return plain if self.plane is None else plain | {"plane": self._plane_as_plain(self.plane)}

    @property
    def plane_powers(self) -> dict[str, float]:
        """Rotor and electric power by the plane flow [W]; empty without it."""
        if self.plane is None:
            return {}
        return plane_powers({key: each[0] for key, each in self.results.items()}, self.plane)

    def _plane_as_plain(self, flow: PlaneFlow) -> dict[str, Any]:
        """Numbers of the plane flow that have a column, and whether it has settled."""
        powers = self.plane_powers
        numbers = {
            **powers,
            # With the spokes, as the column has it; the plane ends at the bore.
            "rotor_torque": powers["rotor_power"] / float(self.results["speed"][0]),
            "mass_flow": flow.mass_flow,
            "rotor_flow": flow.rotor_flow,
            "jet_speed": flow.jet_speed,
            "rim_pressure": flow.ring_pressure,
            "loss_casing": flow.casing_heat,
        }
        drawn = {COLUMNS[key].name: COLUMNS[key].to_drawing(each) for key, each in numbers.items()}
        plain = {
            name: float(f"{each:.12g}") if np.isfinite(each) else None
            for name, each in drawn.items()
        }
        return {**plain, "settled": flow.settled, "worst_residual": flow.worst_residual}


def point_of(
    study: Study, values: Sequence[str], plane: Callable[[Progress], None] | None = None
) -> Point:
    """Evaluate one build given as texts such as 'gap=0.3mm'; raises StudyError.

    `plane` asks for its flow in the plane of the discs too; it is called now and then meanwhile.
    """
    remedy = "leave out --plane"
    if plane is not None:
        refuse_pump(study, "command line", "--plane follows turbines only", remedy)
    build = {key: np.array([value]) for key, value in parse_overrides(values, study).items()}
    if plane is not None:
        count = float({**study.fixed(), **build}["stage_count"])
        refuse_stages(count, "command line", "--plane follows builds of one stage only", remedy)
    return point_of_build(study, build, plane)


def point_of_build(
    study: Study, build: Builds, plane: Callable[[Progress], None] | None = None
) -> Point:
    """Evaluate one build, its values [SI] as arrays of one element by key."""
    results = finished(study, evaluate_judged(study, build))
    limits = with_standing(study.all_limits, study.works_as)
    # Each limit is checked by its own number: a design without operating point would miss all.
    missed = violations(results | {"status": np.array([MATCHED])}, limits)[0] > 0
    row = {key: values[0] for key, values in results.items()}
    flow = None if plane is None else plane_of_build(study, builds_of(study, results), plane)
    names = tuple(np.array(list(limits))[missed].tolist())
    return Point(
        results, limits, names, tuple(why_not(row)), flow, socket=_socket_rows(study, results)
    )


def _socket_rows(study: Study, results: Results) -> tuple[SocketRow, ...]:
    if not can_settle(study):
        return ()
    found = settled(study, results, exact=True)
    loads = found.wired.loads
    names = ["nothing", *(load_text(load) for load in loads)]
    return tuple(
        SocketRow(
            name,
            speed=float(found.speed[0, place]),
            voltage=float(found.voltage[0, place]),
            current=float(found.current[0, place]),
            power=float(found.watts[0, place, : len(loads)].sum()),
            cutting=bool(found.cutting[0, place]),
        )
        for place, name in enumerate(names)
    )
