"""A coast-down: speed against time with nothing driving the stack, so that only drag slows it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.bench import least_squares
from engine.bench.fit import COEFFICIENTS
from engine.bench.log import BenchLog
from engine.bench.slowing import SHARES, falling_speeds, speeds_at, times_passed
from engine.errors import Problem, StudyError
from engine.model.bearings import run_bearings
from engine.model.dimensions import dimensions_of
from engine.model.evaluation import evaluate
from engine.model.rotor import inertia_of
from engine.model.shaft import rotor_line
from engine.model.stages import builds_of_stages
from engine.model.strength import web_of_build
from engine.physics.flow.windage import end_face_torque
from engine.study.fit import Fit
from engine.study.knowledge import Knowledge
from engine.study.study import Study
from engine.study.supply import source_of

Numbers = NDArray[np.float64]

EXPONENT = 1.8
"""Exponent of turbulent end faces: torque grows as the 9/5 power of speed (Daily and Nece 1960,
regime IV)."""
EXPONENT_TOLD = 0.15
"""Standard uncertainty of the exponent up to which a log is said to determine it. A fixed exponent
is taken to be this uncertain: it runs from 1.5 for laminar flow to 2 for rough faces."""
INERTIA_SHARE = 0.03
"""Relative standard uncertainty of the inertia, which spacers and clamps raise; common practice."""
NORMAL_REACH = 1.96
"""Half of the 95 % interval of a normal distribution, in standard uncertainties."""
FACTORS = ("bearing_factor", "windage_factor")
SEALS = "shaft_seal_torque"
"""Drag that looks like that of the bearings, unless another coast-down was made without it."""
PASSES = 6
SAME = 0.05
"""Most fits around the torque of the seals, and change of it, in standard uncertainties, below
which another would change nothing."""
GROWN = 1.05
"""Ratio up to which an uncertainty counts as not grown."""
KNOWN_BEFORE = 1e-6
"""Weight of the width of each unknown, so small that only what logs say counts."""


@dataclass(frozen=True)
class CoastDown:
    """What a coast-down shows, SI."""

    log: BenchLog
    inertia: float
    law: least_squares.Estimate
    """Start speed, constant torque, windage torque at top speed, and the exponent if fitted."""
    exponent: float
    exponent_told: bool
    """Whether the log determines the exponent; else it is fixed at `EXPONENT`."""
    top_speed: float
    torque_reach: Mapping[str, float]
    """Half of the 95 % interval of both torques, including inertia and a fixed exponent."""
    fit: Fit
    """Factors on the model's own laws of bearing drag and windage; with an earlier coast-down
    without shaft seals also the torque of these."""
    reach: Mapping[str, float]
    """Half of the 95 % interval of each factor."""
    time: Numbers
    speed: Numbers
    fitted: Numbers
    """Speed by the law."""
    modelled: Numbers
    """Speed by the model with the fitted factors."""
    as_drawn: Numbers
    """Speed by the model with the study's own numbers."""


def fit_coast_down(study: Study, log: BenchLog) -> CoastDown:
    """Fit I dw/dt = -(T0 + Tk (w/w0)^n), and the model's two factors, to a log of time and speed.

    The torque of the shaft seals is fitted too where the study's fit knows a coast-down without
    them: one whose head states another `shaft_seal_torque` under build, 0 as a rule.

    Raises
    ------
    StudyError
        Where the speed does not fall.
    """
    fall = _Fall.of(study, log)
    law, is_told, torque_reach = _fit_law(fall)
    factors, fit, reach = _fit_factors(fall)
    body, best = fall.body, factors.values
    if SEALS not in log.build and SEALS not in study.searched():
        fit = replace(fit, knowledge=_known(fall, factors, fit))
        sealed = None if study.fit is None else _with_seals(fall, fit.known, study.fit)
        if sealed is not None:
            fit, start = sealed
            reach = {key: NORMAL_REACH * off for key, off in fit.standard.items()}
            body = replace(body, seal_torque=fit.values[SEALS])
            best = np.array([start, *(fit.values[key] for key in FACTORS)])
    point = law.values if is_told else np.append(law.values, EXPONENT)
    drawn = np.array([factors.values[0], 1.0, 1.0])
    return CoastDown(
        log=log,
        inertia=fall.body.inertia,
        law=law,
        exponent=float(point[3]),
        exponent_told=is_told,
        top_speed=fall.top,
        torque_reach=torque_reach,
        fit=fit,
        reach=reach,
        time=fall.time,
        speed=fall.speed,
        fitted=fall.speed_at(fall.off_law, point),
        modelled=fall.speed_at(_fixed(replace(fall, body=body).off_model, 1.0), best),
        as_drawn=fall.speed_at(_fixed(fall.off_model, 1.0), drawn),
    )


def expected_fall(
    study: Study, build: Mapping[str, Any], *, top: float, shares: Sequence[float]
) -> list[float]:
    """Time [s] in which a build coasts from its top speed [rad/s] down to shares of it."""
    body = _Body.of(study, build, top)
    grid, one = falling_speeds(np.array([top])), np.ones(1)
    passed = times_passed(grid, body.slowing(grid, one, one))[0]
    return [float(np.interp(-share * top, -grid[0], passed)) for share in shares]


def _fit_law(fall: "_Fall") -> tuple[least_squares.Estimate, bool, dict[str, float]]:
    """Fit the law, with its exponent where the log determines it, and half intervals of torques."""
    top = fall.top
    torque = fall.body.inertia * (top - fall.speed[-1]) / fall.time[-1]
    start = np.array([top, torque / 2, torque / 2, EXPONENT])
    lower = np.array([0.8 * top, 0.0, 0.0, 0.8])
    upper = np.array([1.2 * top, 100 * torque, 100 * torque, 2.5])
    width = np.array([0.01 * top, torque / 2, torque / 2, 0.3])
    law = least_squares.fit(fall.off_law, start=start, lower=lower, upper=upper, width=width)
    is_told = bool(law.standard[3] < EXPONENT_TOLD and not law.at_bound.any())
    if not is_told:
        law = least_squares.fit(
            _fixed(fall.off_law, EXPONENT),
            start=start[:3],
            lower=lower[:3],
            upper=upper[:3],
            width=width[:3],
        )
    # All torques of the law grow with the inertia alike.
    off = [NORMAL_REACH * INERTIA_SHARE * law.values]
    if not is_told:
        shift = EXPONENT_TOLD * _shift(fall.off_law, law, EXPONENT, EXPONENT_TOLD)
        off.append(NORMAL_REACH * shift)
    reach = np.sqrt(np.square([law.reach, *off]).sum(axis=0))
    names = {"steady_torque": float(reach[1]), "windage_torque": float(reach[2])}
    return law, is_told, names


def _fit_factors(fall: "_Fall") -> tuple[least_squares.Estimate, Fit, dict[str, float]]:
    """Fit start speed and the model's two factors; give the factors with their uncertainty."""
    found = least_squares.fit(
        _fixed(fall.off_model, 1.0),
        start=np.array([fall.top, 1.0, 1.0]),
        lower=np.array([0.8 * fall.top, 0.02, 0.02]),
        upper=np.array([1.2 * fall.top, 50.0, 50.0]),
        width=np.array([0.01 * fall.top, 0.5, 0.3]),
    )
    shift = INERTIA_SHARE * _shift(fall.off_model, found, 1.0, INERTIA_SHARE)[1:]
    covariance = found.covariance[1:, 1:] + np.outer(shift, shift)
    standard = np.sqrt(np.diag(covariance))
    reach = np.hypot(found.reach[1:], NORMAL_REACH * shift)
    fit = Fit(
        dict(zip(FACTORS, found.values[1:].tolist(), strict=True)),
        dict(zip(FACTORS, standard.tolist(), strict=True)),
        covariance / np.outer(standard, standard),
    )
    return found, fit, dict(zip(FACTORS, reach.tolist(), strict=True))


def _known(fall: "_Fall", factors: least_squares.Estimate, fit: Fit) -> Knowledge:
    """Sum up what the log says of the factors and of the torque that is taken for the seals.

    The factors move with that torque, so a log knows all three in two combinations only. What the
    shape of the fall says beyond them is not used.
    """
    torque = fall.body.seal_torque
    moved = _shift(fall.off_sealed, factors, torque, COEFFICIENTS[SEALS].width)[1:]
    rows = np.column_stack([np.eye(2), -moved])
    return Knowledge(
        (*FACTORS, SEALS),
        np.array([*fit.values.values(), torque]),
        rows.T @ np.linalg.inv(fit.covariance) @ rows,
        np.zeros(3),
    )


def _with_seals(fall: "_Fall", own: Knowledge, earlier: Fit) -> tuple[Fit, float] | None:
    """Fit factors and seals to what this log and those before know, and the speed at the start.

    None where too little is known. What this log knows is taken anew around each torque found, as
    factors that stand for a wrong one do not follow the fall. The inertia's error is taken as
    another one in each log, though it is the same.
    """
    found, start = _solved(own, earlier), fall.top
    for _ in range(PASSES):
        if found is None:
            return None
        torque, off = found.values[SEALS], found.standard[SEALS]
        nearer = replace(fall, body=replace(fall.body, seal_torque=torque))
        factors, fit, _ = _fit_factors(nearer)
        found, start = _solved(_known(nearer, factors, fit), earlier), float(factors.values[0])
        if found is not None and abs(found.values[SEALS] - torque) < SAME * off:
            break
    return None if found is None else (found, start)


def _solved(own: Knowledge, earlier: Fit) -> Fit | None:
    """Most likely factors and torque of the seals, where logs tell that torque.

    None too where something that was told before would become less certain.
    """
    before, keys = earlier.known, tuple(dict.fromkeys((*own.keys, *earlier.values)))
    at = dict(zip(before.keys, before.centre, strict=True)) | dict(earlier.values)
    at |= dict(zip(own.keys, own.centre, strict=True))
    both = own.of_keys(keys, at).added(before.of_keys(keys, at), at)
    width = np.array([COEFFICIENTS[key].width for key in keys])
    weighed = both.information * np.outer(width, width) + KNOWN_BEFORE * np.eye(len(keys))
    covariance = np.linalg.inv(weighed) * np.outer(width, width)
    values = dict(zip(keys, both.centre - covariance @ both.slope, strict=True))
    standard = dict(zip(keys, np.sqrt(np.diag(covariance)), strict=True))
    # A torque that may be as small as nothing must stand out from nothing.
    room = min(COEFFICIENTS[SEALS].width, values[SEALS])
    is_lost = any(standard[key] > GROWN * earlier.standard[key] for key in earlier.values)
    if is_lost or not standard[SEALS] < least_squares.TOLD * room:
        return None
    spread = np.array([standard[key] for key in own.keys])
    return Fit(
        {key: float(values[key]) for key in own.keys},
        {key: float(standard[key]) for key in own.keys},
        covariance[:3, :3] / np.outer(spread, spread),
        own,
    )


def _fixed(residuals: least_squares.Residuals, value: float) -> least_squares.Residuals:
    """Residuals whose last unknown is fixed at a value."""
    return lambda points: residuals(np.column_stack([points, np.full(len(points), value)]))


def _shift(
    residuals: least_squares.Residuals, found: least_squares.Estimate, held: float, width: float
) -> Numbers:
    """Change of what was found per unit of a number that was fixed, the last of `residuals`.

    It is not in proportion: the drag of the seals, for example, is the study's own, so the factors
    of the others have to make up for an inertia that is wrong.
    """
    at, widths = np.append(found.values, held), np.append(0.01 * found.values + 1e-9, width)
    slopes = least_squares.slopes(residuals, at, widths, np.full(at.size, np.inf)) / widths
    weighted = np.sqrt(found.weights)[:, None] * slopes
    return np.asarray(np.linalg.lstsq(weighted[:, :-1], -weighted[:, -1], rcond=None)[0])


@dataclass(frozen=True)
class _Fall:
    """The logged fall of speed, and the body that falls."""

    time: Numbers
    speed: Numbers
    spread: Numbers
    """Standard uncertainty of each speed."""
    top: float
    body: "_Body"

    @classmethod
    def of(cls, study: Study, log: BenchLog) -> "_Fall":
        """Take it from a log; raises StudyError where the speed does not fall."""
        time, speed = log.columns["time"] - log.columns["time"][0], log.columns["speed"]
        top = float(np.median(speed[:3]))
        if speed[-1] > 0.95 * top:
            problem = Problem(
                file=log.file,
                line=int(log.lines[-1]),
                key="speed",
                found="the speed hardly falls",
                remedy="log it from full speed until the stack almost stops, supply and load off",
            )
            raise StudyError([problem])
        return cls(time, speed, log.uncertainty["speed"], top, _Body.of(study, log.build, top))

    def off_law(self, points: Numbers) -> Numbers:
        """Residuals by the law: start speed, constant torque, windage torque, exponent."""
        start, steady, windage, exponent = points.T
        grid = falling_speeds(start)
        drag = steady[:, None] + windage[:, None] * (grid / self.top) ** exponent[:, None]
        return self._off(grid, drag / self.body.inertia)

    def off_model(self, points: Numbers) -> Numbers:
        """Residuals by the model: start speed, two factors, inertia over that of the drawing."""
        start, bearings, windage, share = points.T
        grid = falling_speeds(start)
        return self._off(grid, self.body.slowing(grid, bearings, windage) / share[:, None])

    def off_sealed(self, points: Numbers) -> Numbers:
        """Residuals by the model: start speed, two factors, torque of the shaft seals."""
        start, bearings, windage, torque = points.T
        grid, more = falling_speeds(start), (torque - self.body.seal_torque) / self.body.inertia
        return self._off(grid, self.body.slowing(grid, bearings, windage) + more[:, None])

    def speed_at(self, residuals: least_squares.Residuals, point: Numbers) -> Numbers:
        """Speed at each time of the log at one point of the unknowns."""
        return np.asarray(residuals(point[None])[0] * self.spread + self.speed)

    def _off(self, grid: Numbers, slowing: Numbers) -> Numbers:
        return np.asarray((speeds_at(grid, slowing, self.time) - self.speed) / self.spread)


@dataclass(frozen=True)
class _Body:
    """What turns and what slows it, by the model, in gas at back pressure."""

    inertia: float
    seal_torque: float
    """Of the shaft seals."""
    lips: float
    """Torque of lips in the bearings."""
    speeds: Numbers
    bearings: Numbers
    """Balls and grease, as warm as they get at each speed."""
    windage: Numbers

    @classmethod
    def of(cls, study: Study, given: Mapping[str, Any], top: float) -> "_Body":
        """Take it from the model with the build's own numbers."""
        speeds = np.linspace(1e-3, 1.25, SHARES) * top
        values = {**study.fixed(), **given}
        build = {key: np.repeat(np.asarray(value), SHARES) for key, value in values.items()}
        build["speed"] = speeds
        one = {key: values[-1:] for key, values in build.items()}
        lane = evaluate(study.unjudged(), one)
        stages = round(float(build["stage_count"][0]))
        heights = [
            np.repeat(dimensions_of(each)["stack_height"], SHARES)
            for each in builds_of_stages(one, stages)
        ]
        bearings = run_bearings(
            {**build, "bearing_factor": np.ones(SHARES)},
            rotor_line(
                build,
                height=heights[0],
                later=heights[1:],
                hub_radius=web_of_build(build).hub_radius,
            ),
            shaft_temperature=study.supply.temperature,
        )
        source, pressure = source_of(study.supply), study.supply.back_pressure
        state = {
            "pressure": np.asarray(pressure),
            "enthalpy": np.asarray(source.enthalpy),
        }
        return cls(
            inertia=float(inertia_of(lane)[0]),
            seal_torque=float(build["shaft_seal_torque"][0]),
            lips=float(2 * bearings.lips[0]),
            speeds=speeds,
            bearings=bearings.grease.sum(axis=0),
            windage=stages
            * end_face_torque(
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
        drag = self.seal_torque + self.lips + bearings[:, None] * one + windage[:, None] * other
        return np.asarray(drag / self.inertia)
