"""Torque of a rotor between the nodes of its map, and its course after the trip; see `trip`."""

from engine.physics.arrays import Lanes, Mask
from engine.physics.compiled import compiled, entry, inlined, root

LEAST = 1e-6
"""Pressure and temperature over their full values that a step may end with at least."""


@inlined
def _place(nodes: Lanes, value: float) -> tuple[int, float]:
    """Node before a value in rising nodes, and how far the value is from it to the next."""
    value = min(max(value, nodes[0]), nodes[-1]) if value == value else value  # noqa: PLR0124
    at = 0
    for node in range(1, nodes.size - 1):
        at += value >= nodes[node]
    low, high = nodes[at], nodes[at + 1]
    return at, (value - low) / (high - low) if high > low else 0.0 * value


@inlined
def _between(table: Lanes, row: int, along: float, column: int, across: float) -> float:
    less = table[row, column] * (1 - across) + table[row, column + 1] * across
    more = table[row + 1, column] * (1 - across) + table[row + 1, column + 1] * across
    return float(less * (1 - along) + more * along)


@entry
def read_map(
    speeds: Lanes, shares: Lanes, tables: Lanes, speed: Lanes, share: Lanes, found: Lanes
) -> None:
    """Read the tables (table, lane, share, speed) at a speed and a share of each lane."""
    for lane in range(speed.size):
        column, across = _place(speeds[lane], speed[lane])
        row, along = _place(shares, share[lane])
        for k in range(tables.shape[0]):
            found[k, lane] = _between(tables[k, lane], row, along, column, across)


@inlined
def _share(pressure: float, opened: float, back: float, liquid: bool) -> float:
    """Share of the supply pressure over back pressure; that of a liquid follows its flow."""
    share = opened * opened if liquid else (pressure - back) / (1 - back)
    return min(max(share, 0.0), 1.0) if share == share else share  # noqa: PLR0124


@compiled
def _rates(
    speeds: Lanes,
    shares: Lanes,
    torque: Lanes,
    flow: Lanes,
    inertia: float,
    stored: float,
    exponent: float,
    back: float,
    liquid: bool,
    speed: float,
    pressure: float,
    warmth: float,
    opened: float,
) -> tuple[float, float, float]:
    """Rates of speed, pressure and temperature, the last two over their full values."""
    column, across = _place(speeds, speed)
    row, along = _place(shares, _share(pressure, opened, back, liquid))
    faster = _between(torque, row, along, column, across) / inertia
    if stored == 0.0:
        return faster, 0.0, 0.0
    passing = _between(flow, row, along, column, across)
    full = passing
    if 0.0 < opened < 1.0:
        full = _between(flow, shares.size - 2, 1.0, column, across)
    came = opened * full
    went = full if opened == 1.0 else passing / root(warmth)
    fills = exponent * (came - went * warmth) / stored
    warms = came * (exponent - warmth) - went * warmth * (exponent - 1)
    return faster, fills, warmth / pressure * warms / stored


@compiled
def _opened(part: int, share: float) -> float:
    """Open share of the valve: full during the delay, falling, then none."""
    return 1.0 if part == 0 else 1.0 - share if part == 1 else 0.0


@entry
def follow(
    first_lane: int,
    last_lane: int,
    speeds: Lanes,
    shares: Lanes,
    torque: Lanes,
    flow: Lanes,
    rotor: Lanes,
    liquid: Mask,
    lasting: Lanes,
    steps: int,
    course: Lanes,
    peak: Lanes,
) -> None:
    """Follow lanes through delay, closing and blow-down.

    `rotor` (quantity, lane) holds inertia, speed of the trip, mass stored, isentropic exponent and
    share of the back pressure; `lasting` (part, lane) how long each part lasts. `course` (quantity,
    lane, step) takes time, speed and share of the pressure; `peak` (quantity, lane) the highest
    speed and its time. Runge-Kutta of fourth order, each part in steps of its own length, the delay
    in twice as many.
    """
    for lane in range(first_lane, last_lane):
        nodes, torques, flows = speeds[lane], torque[lane], flow[lane]
        heavy, speed, holds, k, behind = rotor[:, lane]
        now, pressure, warmth, wet = 0.0, 1.0, 1.0, liquid[lane]
        top, when, place = speed, now, 0
        course[0, lane, 0], course[1, lane, 0] = now, speed
        course[2, lane, 0] = _share(pressure, 1.0, behind, wet)
        a, b, c = _rates(
            nodes, shares, torques, flows, heavy, holds, k, behind, wet,
            speed, pressure, warmth, 1.0,
        )  # fmt: skip
        for part in range(3):
            count = 2 * steps if part == 0 else steps
            step = lasting[part, lane] / count
            for i in range(count):
                middle, ended = _opened(part, (i + 0.5) / count), _opened(part, (i + 1) / count)
                a2, b2, c2 = _rates(
                    nodes, shares, torques, flows, heavy, holds, k, behind, wet,
                    speed + step / 2 * a, pressure + step / 2 * b, warmth + step / 2 * c, middle,
                )  # fmt: skip
                a3, b3, c3 = _rates(
                    nodes, shares, torques, flows, heavy, holds, k, behind, wet,
                    speed + step / 2 * a2, pressure + step / 2 * b2, warmth + step / 2 * c2, middle,
                )  # fmt: skip
                a4, b4, c4 = _rates(
                    nodes, shares, torques, flows, heavy, holds, k, behind, wet,
                    speed + step * a3, pressure + step * b3, warmth + step * c3, ended,
                )  # fmt: skip
                before, rise = speed, a
                speed += step / 6 * (a + 2 * a2 + 2 * a3 + a4)
                pressure += step / 6 * (b + 2 * b2 + 2 * b3 + b4)
                warmth += step / 6 * (c + 2 * c2 + 2 * c3 + c4)
                pressure = max(pressure, LEAST)
                warmth = max(warmth, LEAST)
                # The next step begins with these: no rate jumps from part to part.
                a, b, c = _rates(
                    nodes, shares, torques, flows, heavy, holds, k, behind, wet,
                    speed, pressure, warmth, ended,
                )  # fmt: skip
                # Where the acceleration changes sign, the speed has its highest value between.
                turns = rise > 0 > a
                at = step * rise / (rise - a) if turns else step
                highest = before + rise * at / 2 if turns else speed
                if highest > top:
                    top, when = highest, now + at
                now += step
                place += 1
                course[0, lane, place], course[1, lane, place] = now, speed
                course[2, lane, place] = _share(pressure, ended, behind, wet)
        sound = speed - speed == 0
        peak[0, lane], peak[1, lane] = (top, when) if sound else (speed - speed, speed - speed)
