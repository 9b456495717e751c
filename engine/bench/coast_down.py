"""A coast-down: speed against time with nothing driving, so that the drag alone slows the stack."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.bench import least_squares
from engine.bench.log import BenchLog
from engine.errors import Problem, StudyError
from engine.model.evaluation import evaluate
from engine.model.rotor import bearing_drag
from engine.physics.machine.windage import end_face_torque
from engine.study.fit import Fit
from engine.study.study import Study
from engine.study.supply import source_of

Numbers = NDArray[np.float64]

EXPONENT = 1.8
"""Of turbulent end faces (Daily and Nece 1960, regime IV: torque as the 9/5 power of speed)."""
EXPONENT_TOLD = 0.15
"""Standard uncertainty below which a log is said to tell the exponent, and that of a held one: from
laminar to rough faces it runs from 1.5 to 2."""
INERTIA_SHARE = 0.03
"""Standard uncertainty of the inertia, which spacers and clamps raise; common practice."""
NORMAL_REACH = 1.96
"""Half of the 95 % interval of what is normally distributed, over its standard uncertainty."""
SHARES = 240
"""Speeds at which the drag is summed up."""
LONGEST = 1e9
"""Time that losing 1 rad/s may take at most [s], so that no drag at all has a number."""


@dataclass(frozen=True)
class CoastDown:
    """What a coast-down tells, SI."""

    log: BenchLog
    inertia: float
    names: tuple[str, ...]
    """Of the law's unknowns: start speed, constant torque, windage at top speed, exponent."""
    law: least_squares.Estimate
    exponent: float
    exponent_told: bool
    top_speed: float
    torque_reach: Mapping[str, float]
    """Half of the 95 % interval of both torques, with inertia and a held exponent that are off."""
    fit: Fit
    """Factors on the model's own laws of bearings and end faces."""
    reach: Mapping[str, float]
    time: Numbers
    speed: Numbers
    fitted: Numbers
    """Speed by the law."""
    modelled: Numbers
    """Speed by the model with the fitted factors."""
    as_drawn: Numbers
    """Speed by the model as the study has it."""


def fit_coast_down(study: Study, log: BenchLog) -> CoastDown:
    """Fit I dw/dt = -(T0 + Tk (w/w0)^n), and the model's two factors, to a log of time and speed.

    Raises
    ------
    StudyError
        Where the speed does not fall.
    """
    time, speed = log.columns["time"] - log.columns["time"][0], log.columns["speed"]
    spread = log.uncertainty["speed"]
    top = float(np.median(speed[:3]))
    if speed[-1] > 0.95 * top:
        found = "the speed hardly falls"
        remedy = "log it from full speed until the stack nearly stands, supply and load off"
        raise StudyError(
            [
                Problem(
                    file=log.file, line=int(log.lines[-1]), key="speed", found=found, remedy=remedy
                )
            ]
        )
    body = _Body.of(study, log.build, top)
    slowing = body.inertia * (top - speed[-1]) / time[-1]

    def by_law(points: Numbers) -> Numbers:
        start, steady, whirl, power = points.T
        grid = _grid(start)
        drag = steady[:, None] + whirl[:, None] * (grid / top) ** power[:, None]
        return (_speeds(grid, drag / body.inertia, time) - speed) / spread

    free = least_squares.fit(
        by_law,
        start=np.array([top, slowing / 2, slowing / 2, EXPONENT]),
        lower=np.array([0.8 * top, 0.0, 0.0, 0.8]),
        upper=np.array([1.2 * top, 100 * slowing, 100 * slowing, 2.5]),
        width=np.array([0.01 * top, slowing / 2, slowing / 2, 0.3]),
    )
    told = bool(free.standard[3] < EXPONENT_TOLD and not free.at_bound.any())
    law = free if told else _fixed_exponent(by_law, top, slowing)
    exponent = float(law.values[3]) if told else EXPONENT
    point = law.values if told else np.append(law.values, EXPONENT)
    names = ("start_speed", "steady_torque", "windage_torque", "exponent")[: law.values.size]

    def by_model(points: Numbers) -> Numbers:
        return with_inertia(np.column_stack([points, np.ones(len(points))]))

    def with_inertia(points: Numbers) -> Numbers:
        start, bearings, windage, share = points.T
        grid = _grid(start)
        slowing = body.slowing(grid, bearings, windage) / share[:, None]
        return (_speeds(grid, slowing, time) - speed) / spread

    factors = least_squares.fit(
        by_model,
        start=np.array([top, 1.0, 1.0]),
        lower=np.array([0.8 * top, 0.02, 0.02]),
        upper=np.array([1.2 * top, 50.0, 50.0]),
        width=np.array([0.01 * top, 0.5, 0.3]),
    )
    keys = ("bearing_factor", "windage_factor")
    shift = INERTIA_SHARE * _shift(with_inertia, factors, 1.0, INERTIA_SHARE)[1:]
    covariance = factors.covariance[1:, 1:] + np.outer(shift, shift)
    standard = np.sqrt(np.diag(covariance))
    reach = np.hypot(factors.reach[1:], NORMAL_REACH * shift)
    # All torques of the law grow with the inertia alike.
    off = [NORMAL_REACH * INERTIA_SHARE * law.values]
    if not told:
        held = EXPONENT_TOLD * _shift(by_law, law, EXPONENT, EXPONENT_TOLD)
        off.append(NORMAL_REACH * held)
    torque = np.sqrt(np.square([law.reach, *off]).sum(axis=0))
    drawn = np.array([[factors.values[0], 1.0, 1.0]])
    return CoastDown(
        log=log,
        inertia=body.inertia,
        names=names,
        law=law,
        exponent=exponent,
        exponent_told=told,
        top_speed=top,
        torque_reach={"steady_torque": float(torque[1]), "windage_torque": float(torque[2])},
        fit=Fit(
            dict(zip(keys, factors.values[1:].tolist(), strict=True)),
            dict(zip(keys, standard.tolist(), strict=True)),
            covariance / np.outer(standard, standard),
        ),
        reach=dict(zip(keys, reach.tolist(), strict=True)),
        time=time,
        speed=speed,
        fitted=by_law(point[None])[0] * spread + speed,
        modelled=by_model(factors.values[None])[0] * spread + speed,
        as_drawn=by_model(drawn)[0] * spread + speed,
    )


def expected_fall(
    study: Study, build: Mapping[str, Any], *, top: float, shares: Sequence[float]
) -> list[float]:
    """Time [s] in which a build coasts from its top speed [rad/s] down to shares of it."""
    body = _Body.of(study, build, top)
    grid, one = _grid(np.array([top])), np.ones(1)
    passed = _passed(grid, body.slowing(grid, one, one))[0]
    return [float(np.interp(-share * top, -grid[0], passed)) for share in shares]


def _fixed_exponent(
    by_law: least_squares.Residuals, top: float, slowing: float
) -> least_squares.Estimate:
    def residuals(points: Numbers) -> Numbers:
        return by_law(np.column_stack([points, np.full(len(points), EXPONENT)]))

    return least_squares.fit(
        residuals,
        start=np.array([top, slowing / 2, slowing / 2]),
        lower=np.array([0.8 * top, 0.0, 0.0]),
        upper=np.array([1.2 * top, 100 * slowing, 100 * slowing]),
        width=np.array([0.01 * top, slowing / 2, slowing / 2]),
    )


def _shift(
    residuals: least_squares.Residuals, found: least_squares.Estimate, held: float, width: float
) -> Numbers:
    """Change of what was found per unit of a number that was held, the last of `residuals`.

    It is no mere proportion: drag of the seals, say, is the study's, so that the factors of the
    others answer for what an inertia that is off makes of it.
    """
    at, widths = np.append(found.values, held), np.append(0.01 * found.values + 1e-9, width)
    slopes = least_squares.slopes(residuals, at, widths, np.full(at.size, np.inf)) / widths
    heard = np.sqrt(found.weights)[:, None] * slopes
    return np.asarray(np.linalg.lstsq(heard[:, :-1], -heard[:, -1], rcond=None)[0])


@dataclass(frozen=True)
class _Body:
    """What turns and what slows it, by the model, in the surroundings' gas."""

    inertia: float
    seal_torque: float
    speeds: Numbers
    bearings: Numbers
    windage: Numbers

    @classmethod
    def of(cls, study: Study, given: Mapping[str, Any], top: float) -> "_Body":
        """Take it from the model at the build's own numbers."""
        speeds = np.linspace(1e-3, 1.25, SHARES) * top
        values = {**study.fixed(), **given}
        build = {key: np.repeat(np.asarray(value), SHARES) for key, value in values.items()}
        build["speed"] = speeds
        one = {key: values[-1:] for key, values in build.items()}
        lane = evaluate(study.unjudged(), one)
        source, pressure = source_of(study.supply), study.supply.back_pressure
        state = {
            "pressure": np.asarray(pressure),
            "enthalpy": np.asarray(source.enthalpy),
        }
        return cls(
            inertia=float(2 * lane["stored_energy"][0] / lane["speed"][0] ** 2),
            seal_torque=float(build["shaft_seal_torque"][0]),
            speeds=speeds,
            bearings=bearing_drag(
                {**build, "bearing_factor": np.ones(SHARES)}, rotor_mass=lane["rotor_mass"]
            ),
            windage=end_face_torque(
                density=source.fluid.density(**state),
                viscosity=source.fluid.viscosity(**state),
                angular_speed=speeds,
                rim_radius=build["disc_diameter"] / 2,
                side_gap=build["side_gap"],
            ),
        )

    def slowing(self, grid: Numbers, bearings: Numbers, windage: Numbers) -> Numbers:
        """Deceleration at every speed of a grid, for factors of every point."""
        one, other = (np.interp(grid, self.speeds, drag) for drag in (self.bearings, self.windage))
        drag = self.seal_torque + bearings[:, None] * one + windage[:, None] * other
        return np.asarray(drag / self.inertia)


def _grid(start: Numbers) -> Numbers:
    """Speeds from the start down to a crawl, closer where the stack lingers."""
    return np.asarray(start[:, None] * np.linspace(1.0, 0.03, SHARES) ** 1.5)


def _passed(grid: Numbers, slowing: Numbers) -> Numbers:
    """Time at which each speed of a grid is reached, by the trapezoidal rule."""
    pace = 1 / np.maximum(slowing, 1 / LONGEST)
    steps = (pace[:, 1:] + pace[:, :-1]) / 2 * -np.diff(grid, axis=1)
    return np.concatenate([np.zeros((len(grid), 1)), np.cumsum(steps, axis=1)], axis=1)


def _speeds(grid: Numbers, slowing: Numbers, time: Numbers) -> Numbers:
    """Speed at each time, from the time that each loss of speed takes."""
    pairs = zip(_passed(grid, slowing), grid, strict=True)
    return np.array([np.interp(time, at, speeds) for at, speeds in pairs])
