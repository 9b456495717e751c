"""A lost load: how fast a rotor becomes while its trip acts and the pressure falls.

The rotor obeys I dw/dt = T(w, p). The trip sees its speed, the valve begins to close after a delay
and closes in proportion to time. What the hose behind it holds goes on blowing through the nozzles.
"""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes, Mask
from engine.physics.compiled import on_every_core
from engine.physics.machine.trip_kernel import follow, read_map

STEPS = 60
"""Steps of the closing and of the blow-down; the delay has twice as many."""
LONGEST_DELAY = 30.0
"""Delay in time constants of the rotor after which it has reached its runaway speed."""
BLOW_DOWN = 8.0
"""Time followed after the valve has shut, in times that full flow takes to empty the hose."""
LEAST_STORE = 1 / 40
"""Least time to empty the hose, over that of closing; a smaller hose counts as one of this."""
STABLE = 1.5
"""The same in steps of the closing: with fewer the pressure would swing from step to step."""


@dataclass(frozen=True)
class TorqueMap:
    """Torque and flow of each rotor over speed and supply pressure, linear between the nodes.

    Beyond its ends a map goes on with the value there.
    """

    speed: Lanes
    """(lane, speed): rising [rad/s]."""
    share: Lanes
    """(share,): supply pressure over back pressure, as a share of the full one; 0 to 1 [-]."""
    torque: Lanes
    """(lane, share, speed): net torque without load [N m]."""
    flow: Lanes
    """(lane, share, speed): mass flow of gas of supply temperature [kg/s]."""

    def at(self, speed: Lanes, share: Lanes) -> tuple[Lanes, Lanes]:
        """Torque and flow of every lane at a speed and a share."""
        found, tables = np.empty((2, len(speed))), np.stack([self.torque, self.flow])
        read_map(
            _ready(self.speed), _ready(self.share), tables, _ready(speed), _ready(share), found
        )
        return found[0], found[1]


@dataclass(frozen=True)
class Valve:
    """What shuts a supply off, and what the hose behind it holds; every field is (lane,)."""

    delay: Lanes
    """From trip speed until the valve begins to close [s]."""
    closing: Lanes
    """From then until it is shut [s]; its flow falls in proportion to time."""
    stored: Lanes
    """Mass in hose and plenum behind the valve at full pressure [kg]; 0 for a liquid."""
    exponent: Lanes
    """Isentropic exponent of that gas [-]."""
    back_share: Lanes
    """Back pressure over full supply pressure, both absolute [-]."""
    liquid: Mask
    """Where a liquid flows, which stores nothing."""


@dataclass(frozen=True)
class Course:
    """What follows the moment at which trip speed is passed."""

    time: Lanes
    """(lane, step): since then [s]."""
    speed: Lanes
    """(lane, step) [rad/s]."""
    share: Lanes
    """(lane, step): of the supply pressure over back pressure [-]."""
    peak: Lanes
    """(lane,): highest speed [rad/s]."""
    peak_time: Lanes
    """(lane,): when it is reached [s]."""


def course_of_trip(
    *, torque_map: TorqueMap, inertia: Array, start: Array, valve: Valve, steps: int = STEPS
) -> Course:
    """Follow rotors from their trip speed until the pressure behind the valve is gone.

    Parameters
    ----------
    torque_map : TorqueMap
        Torque without load, and flow, over speed and pressure.
    inertia : Array
        Of all that turns, (lane,) [kg m2], > 0.
    start : Array
        Speed at which the trip acts, (lane,) [rad/s].
    valve : Valve
        Delay, closing and what is stored.
    steps : int
        Steps of the closing and of the blow-down; twice as many for the delay.

    Returns
    -------
    Course
        Speed and pressure over time, (lane, step), and the peak; NaN lanes stay NaN.

    Notes
    -----
    Runge-Kutta of fourth order. The stored gas is a perfect one without heat from the wall:
    V dp/dt = k R (m_in T0 - m_out T). The nozzles pass m(p, T0) sqrt(T0/T); the torque depends on
    pressure alone, as flow times jet speed does in a choked nozzle. The pressure of a liquid
    follows its flow at once, by the square. A delay beyond `LONGEST_DELAY` time constants ends at
    runaway speed.

    References
    ----------
    Derived here from the balances of angular momentum, mass and energy. Linear closing: common
    practice, no source.

    """
    inertia, start = (
        np.broadcast_to(np.asarray(each, float), valve.delay.shape) for each in (inertia, start)
    )
    stored, emptying = _store(torque_map, start, valve, steps)
    delay = _longest(torque_map, inertia, start, valve.delay)
    lasting = np.stack([delay, valve.closing, BLOW_DOWN * emptying])
    course = np.empty((3, len(start), 4 * steps + 1))
    peak = np.empty((2, len(start)))
    rotor = np.stack([inertia, start, stored, valve.exponent, valve.back_share])
    shares, liquid = _ready(torque_map.share), np.array(valve.liquid, dtype=np.bool_)
    nodes, torque, flow = map(_ready, (torque_map.speed, torque_map.torque, torque_map.flow))

    def work(first: int, last: int) -> None:
        follow(
            first, last, nodes, shares, torque, flow, rotor, liquid, lasting, steps, course, peak
        )

    on_every_core(work, n_lanes=len(start))
    time, speed, share = course
    return Course(time, speed, share, peak=peak[0], peak_time=peak[1])


def _ready(values: Array) -> Lanes:
    """Copy for compiled code: contiguous and writeable, one type, so it is compiled once."""
    return np.array(values, dtype=float)


def _store(torque_map: TorqueMap, start: Lanes, valve: Valve, steps: int) -> tuple[Lanes, Lanes]:
    """Mass stored, at least what the steps can follow, and the time of full flow for it."""
    _, flow = torque_map.at(start, np.ones_like(start))
    share = max(LEAST_STORE, STABLE / steps)
    least = np.where(valve.liquid, 0.0, share * valve.closing * flow)
    stored = np.maximum(np.where(valve.liquid, 0.0, valve.stored), least)
    with np.errstate(divide="ignore", invalid="ignore"):
        return stored, np.where(stored > 0, stored / flow, 0.0)


def _longest(torque_map: TorqueMap, inertia: Lanes, start: Lanes, delay: Lanes) -> Lanes:
    """Delay, cut where the rotor has reached its runaway speed long before."""
    torque, _ = torque_map.at(start, np.ones_like(start))
    end, _ = torque_map.at(torque_map.speed[:, -1], np.ones_like(start))
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = (torque - end) / (torque_map.speed[:, -1] - start)
        constant = np.where(slope > 0, inertia / slope, np.inf)
    return np.minimum(delay, LONGEST_DELAY * constant)


def time_to_speed(
    *, torque_map: TorqueMap, inertia: Array, start: Array, end: Array, points: int = 65
) -> Lanes:
    """Time in which full supply pressure takes rotors from one speed to another, without load.

    Parameters
    ----------
    torque_map : TorqueMap
        Torque without load.
    inertia : Array
        Of all that turns, (lane,) [kg m2].
    start, end : Array
        Speeds, (lane,) [rad/s]; 0 where the end is not above the start.
    points : int
        Speeds at which the torque is read.

    Returns
    -------
    Lanes
        Time [s]; infinite where the torque vanishes on the way.

    Notes
    -----
    Between two points the torque is linear, for which the time is exact.

    References
    ----------
    Derived here: the integral of I dw/T.

    """
    lanes = len(torque_map.speed)
    start, end = (np.broadcast_to(np.asarray(each, float), (lanes,)) for each in (start, end))
    speeds = np.linspace(start, np.maximum(end, start), points, axis=1)
    full = np.ones(lanes)
    torque = np.stack([torque_map.at(each, full)[0] for each in speeds.T], axis=1)
    low, rise = torque[:, :-1], np.diff(torque, axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        grows = np.where(np.abs(rise) < 1e-9 * np.abs(low), 1.0, np.log1p(rise / low) * low / rise)
        pace = grows / low
    pace = np.where((low > 0) & (torque[:, 1:] > 0), pace, np.where(np.isnan(low), np.nan, np.inf))
    steps = np.diff(speeds, axis=1)
    whole = np.where(steps > 0, pace * np.where(steps > 0, steps, 1.0), 0.0)
    return np.asarray(inertia * whole.sum(axis=1))


def equivalent_delay(*, delay: Array, closing: Array, stored: Array, flow: Array) -> Lanes:
    """Time of full flow in which all passes that a shut-off still lets through.

    Parameters
    ----------
    delay, closing : Array
        Time until the valve begins to close, and until it is shut [s].
    stored : Array
        Mass in the hose behind it [kg].
    flow : Array
        Full flow [kg/s].

    Returns
    -------
    Lanes
        Time [s]. A build survives if its first failure is further away than this, at full torque.

    Notes
    -----
    The torque that gas gives for its mass is highest at full pressure, and drag takes its part all
    the same. So the rotor gains at most what full torque would give it in this time.

    References
    ----------
    Derived here.

    Examples
    --------
    >>> float(equivalent_delay(delay=0.05, closing=0.1, stored=0.0016, flow=0.01).round(9))
    0.26

    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(delay + np.asarray(closing) / 2 + np.asarray(stored) / flow)


def peak_bound(
    *, speed: Array, trip_factor: Array, torque: Array, inertia: Array, delay: Array
) -> Lanes:
    """Most that a rotor can reach after a lost load, over operating speed.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    speed : Array
        Operating speed [rad/s], > 0.
    trip_factor : Array
        Speed at which the trip acts, over operating speed [-].
    torque : Array
        Net torque without load at operating speed [N m], >= 0.
    inertia : Array
        Of all that turns [kg m2], > 0.
    delay : Array
        Equivalent delay of the shut-off [s], see `equivalent_delay`.

    Returns
    -------
    Lanes
        Ratio [-]. It holds where the torque does not rise with speed.

    References
    ----------
    Derived here: the torque of operating speed acts as long as that.

    Examples
    --------
    >>> float(peak_bound(speed=1000.0, trip_factor=1.15, torque=0.1, inertia=1e-3, delay=0.5))
    1.2

    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(trip_factor + torque * delay / (np.asarray(inertia) * speed))


def speed_time_constant(*, inertia: Array, speed: Array, torque: Array, slope: Array) -> Lanes:
    """Time constant with which a loaded rotor follows a change of its supply.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    inertia : Array
        Of all that turns [kg m2].
    speed : Array
        Operating speed [rad/s], > 0.
    torque : Array
        Net torque there, which the load takes [N m].
    slope : Array
        Change of that torque with speed [N m s], usually below 0.

    Returns
    -------
    Lanes
        Time [s]; NaN where speed runs away from its load.

    Notes
    -----
    The load takes power by the square of speed, as resistors on a generator do, so its torque grows
    in proportion to speed. The rotor is then a filter of first order: of a swing of f per second
    1/sqrt(1 + (2 pi f tau)^2) is left.

    References
    ----------
    Derived here by linearising about the operating point.

    Examples
    --------
    >>> float(speed_time_constant(inertia=1e-3, speed=1000.0, torque=0.1, slope=-1e-4))
    5.0

    """
    stiffness = torque / np.asarray(speed) - slope
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(stiffness > 0, inertia / stiffness, np.nan)
