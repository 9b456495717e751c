"""The speed at which builds settle with the loads that a study names, in place of a stated one.

The torque over speed comes from the averaged flow at a few speeds in one call. The builds are then
evaluated where they settle, and the curve is moved to go through that, twice.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS, Builds, Results
from engine.model.circuit import lanes_of, source_of_lanes
from engine.model.generator import sheet_of
from engine.model.limits import MATCHED, SETTLES_NOWHERE
from engine.model.wired import named, wired, with_dump
from engine.physics.arrays import Lanes, Mask
from engine.physics.machine.settle import (
    MOST_POINTS,
    Coupled,
    MeetingPoints,
    TorqueCurve,
)
from engine.study.loads import NEEDED
from engine.study.study import Study

FEW_SPEEDS = 12
"""Speeds at which the torque is evaluated for a search."""
SLOWEST = 0.03
"""Slowest of them, over the speed of a rim as fast as the whole drop of enthalpy makes a jet."""
LIKELY_RIM = 0.3
"""Speed of a rim over that of a jet at which a build is looked at that settles nowhere."""
ROUNDS = 2
"""Times that the curve is moved to go through the torque where builds settle."""

Torque = Callable[[Results], Lanes]
"""Gives the torque at the shaft of some builds [N m]; NaN without operating point."""


def at_settled_speed(study: Study, builds: Builds, torque_of: Torque) -> tuple[Builds, Mask | None]:
    """Fill in the speed at which builds settle, and say which settle nowhere; None for none.

    Where a speed is given it stays. Builds that settle nowhere get one at which they might run.
    """
    if not study.speed_settles:
        return builds, None
    build = lanes_of(study, builds)
    nothing = np.full(len(build["disc_diameter"]), np.nan)
    speed = np.array(builds.get("speed", nothing), dtype=float)
    rows = np.flatnonzero(np.isnan(speed))
    if not rows.size:
        return builds, None
    some = {key: values[rows] for key, values in build.items()}
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        speed[rows] = settled_speed(study, some, torque_of)
        likely = LIKELY_RIM * jet_speed(study, build) / (build["disc_diameter"] / 2)
    lost = np.isnan(speed)
    return {**builds, "speed": np.where(lost, likely, speed)}, lost


def without_lost(results: Results, lost: Mask | None) -> Results:
    """Results without the numbers of builds that settle nowhere."""
    if lost is None or not lost.any():
        return results
    status = results["status"]
    fails = lost & (status == MATCHED)
    found = {
        key: np.where(fails, "" if values.dtype.kind == "U" else np.nan, values)
        for key, values in results.items()
        if COLUMNS[key].kind not in ("variable", "machine", "supply")
    }
    found["gap_flow"] = results["gap_flow"]
    found["status"] = np.where(fails, SETTLES_NOWHERE, status)
    return {**results, **found, "speed": np.where(lost, np.nan, results["speed"])}


def settled_speed(study: Study, build: Results, torque_of: Torque) -> Lanes:
    """Find the speed at which each build settles with the loads named by the study [rad/s].

    `build` holds every number of the builds; its speed is not looked at. NaN where turbine,
    generator and loads have no stable common speed.
    """
    if study.loads is None:
        msg = "a study without loads settles nowhere"
        raise ValueError(msg)
    lines = wired(study.loads)
    on = with_dump(lines, named(lines.loads, study.loads.settled_with or (NEEDED,)))[None]
    torques = coupled(build, jet_speed(study, build), torque_of, FEW_SPEEDS)
    points = lines.meet(torques, on)
    place, there = points.settled(from_rest=False)
    speed = np.take_along_axis(points.speed, place[:, :, None], axis=2)[:, 0, 0]
    speed = np.where(there[:, 0], speed, np.nan)
    for _ in range(ROUNDS):
        rows = np.flatnonzero(np.isfinite(speed))
        if not rows.size:
            break
        some = {key: values[rows] for key, values in build.items()} | {"speed": speed[rows]}
        offset = torque_of(some) - torques.curve.at(speed[rows], rows)
        moved = with_offset(torques, rows, offset)
        points = lines.meet(moved, on)
        speed[rows] = points.speed[np.arange(rows.size), 0, nearest_stable(points, speed[rows])]
    return speed


def jet_speed(study: Study, build: Builds) -> Lanes:
    """Speed of a jet that the whole drop of enthalpy makes, without loss [m/s]."""
    source = source_of_lanes(study, build)
    left = source.fluid.isentropic_enthalpy(
        pressure=source.pressure,
        enthalpy=source.enthalpy,
        end_pressure=study.supply.back_pressure,
    )
    drop = np.broadcast_to(source.enthalpy - left, np.shape(build["disc_diameter"]))
    return np.asarray(np.sqrt(2 * np.maximum(drop, 0.0)))


def coupled(given: Results, jet: Lanes, torque_of: Torque, n_speeds: int) -> Coupled:
    """Torque of builds over speed, in one call, with their generators."""
    top = jet / (given["disc_diameter"] / 2)
    share = np.linspace(SLOWEST, 1.0, n_speeds)
    lanes = len(top)
    there: Results = {key: np.repeat(values, n_speeds) for key, values in given.items()}
    there["speed"] = (top[:, None] * share).ravel()
    there["gap_flow"] = np.full(lanes * n_speeds, "averaged")
    known = np.repeat(np.isfinite(top), n_speeds)
    flat = np.full(lanes * n_speeds, np.nan)
    if known.any():
        flat[known] = torque_of({key: values[known] for key, values in there.items()})
    torque = flat.reshape(lanes, n_speeds)
    go_on(share, torque)
    return Coupled(
        TorqueCurve.of(top=top, share=share, torque=torque),
        sheet_of(given),
        ratio=given["drive_ratio"] * 1.0,
        efficiency=given["drive_efficiency"] * 1.0,
    )


def go_on(share: Lanes, torque: Lanes) -> None:
    """Fill speeds without operating point, in place; lanes with fewer than two stay NaN.

    Faster, the discs pump against the supply, and the torque goes on falling; slower it is that of
    the slowest known.
    """
    holes = np.isnan(torque)
    for lane in np.flatnonzero(holes.any(axis=1) & (~holes).sum(axis=1).__ge__(2)).tolist():
        known = np.flatnonzero(~holes[lane])
        last, before = known[-1], known[-2]
        rise = (torque[lane, last] - torque[lane, before]) / (share[last] - share[before])
        filled = np.interp(share, share[known], torque[lane, known])
        beyond = share > share[last]
        filled[beyond] += min(rise, 0.0) * (share[beyond] - share[last])
        torque[lane] = filled
    torque[np.isnan(torque).any(axis=1)] = np.nan


def with_offset(coupled: Coupled, lane: NDArray[np.int64], offset: Lanes) -> Coupled:
    """Take some lanes, each with its torque moved by a number [N m]."""
    curve = coupled.curve
    return Coupled(
        TorqueCurve.of(
            top=curve.top[lane],
            share=curve.share,
            torque=curve.torque[lane] + np.nan_to_num(offset)[:, None],
        ),
        coupled.sheet.of(lane),
        coupled.ratio[lane],
        coupled.efficiency[lane],
    )


def nearest_stable(points: MeetingPoints, speed: Lanes) -> NDArray[np.int64]:
    """Place of the stable point nearest to a speed; the last place, which is NaN, for none."""
    away = np.abs(points.speed[:, 0] - speed[:, None])
    away = np.where(points.stable[:, 0] & np.isfinite(away), away, np.inf)
    none = ~np.isfinite(away).any(axis=1)
    return np.where(none, MOST_POINTS - 1, np.argmin(away, axis=1))
