"""Finite elements for the stress of spin in a disc with spokes, hub and fillets.

Plane stress in nine-node elements whose edges follow circles and fillets; half a sector, from the
middle of a spoke to the middle of an opening. Lengths over the rim radius; density, speed and rim
radius are 1.

References: Timoshenko and Goodier, Theory of Elasticity, 3rd ed. 1970, art. 32 (the plain ring).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.linalg import spsolve

from tests.support.bolted_disc import BoltedWeb
from tests.support.holed_disc import HoledWeb

Floats = NDArray[np.float64]
Curve = Callable[[Floats], Floats]
"""From 0 ... 1 to points (2, point)."""
FIRST = 0.3
"""Element beside a fillet, over its radius."""
STEEPEST = 3.2
"""Steepest grading of a mesh towards a fillet or a hole."""
STIFF = 1e7
"""Spring that keeps the middle of an opening on its line, over the modulus."""


@dataclass(frozen=True)
class FilletedWeb:
    """Shape of a disc as it is cut; lengths over the rim radius."""

    bore: float
    spokes: int
    spoke_width: float
    hub: float
    shaft: float
    fillet: float


@dataclass(frozen=True)
class PeakStress:
    """Largest stress (von Mises) over the hoop stress at the bore of the plain ring."""

    hub_free: float
    hub_held: float


def peak_stress(
    web: FilletedWeb | HoledWeb | BoltedWeb,
    *,
    poisson: float = 0.3,
    fineness: float = 1.0,
    holds: tuple[str, ...] = ("free", "held"),
) -> PeakStress:
    """Peak stress with the hub free on its shaft, and held at the shaft hole; NaN if not asked."""
    if isinstance(web, BoltedWeb):
        nodes, elements = _joined(bolted_blocks(web, fineness))
    elif isinstance(web, HoledWeb):
        nodes, elements = _holed(web, fineness)
    else:
        nodes, elements = _mesh(web, fineness)
    plain = ((3 + poisson) + (1 - poisson) * web.bore**2) / 4
    found = dict.fromkeys(("free", "held"), np.nan)
    for hold in holds:
        stress = _stress(web, nodes, elements, poisson, held=hold == "held")
        if hold == "held" and not isinstance(web, BoltedWeb):
            # The held edge itself is left out: its stress is that of a perfect grip.
            stress = stress[np.hypot(*nodes) > web.hub * (1 - 1e-9)]
        found[hold] = float(stress.max() / plain)
    return PeakStress(found["free"], found["held"])


# --- mesh ---------------------------------------------------------------------------------------


def _arc(centre: tuple[float, float], radius: float, start: float, end: float) -> Curve:
    def at(t: Floats) -> Floats:
        angle = start + (end - start) * t
        return np.array([centre[0] + radius * np.cos(angle), centre[1] + radius * np.sin(angle)])

    return at


def _line(start: Floats, end: Floats) -> Curve:
    return lambda t: start[:, None] + (end - start)[:, None] * t


def _circle(radius: float, start: float, end: float) -> Curve:
    return _arc((0.0, 0.0), radius, start, end)


def _ruled(low: Curve, high: Curve, s: Floats, t: Floats) -> Floats:
    """Block between two curves."""
    return low(t)[:, None] + (high(t) - low(t))[:, None] * s[None, :, None]


def _closer(n: int, power: float, *, both: bool = False) -> Floats:
    """Element ends 0 ... 1, closer at the start or at both ends, with the middles between them."""
    s = np.linspace(0, 1, n + 1)
    s = (
        np.where(s < 0.5, 0.5 * (2 * s) ** power, 1 - 0.5 * np.abs(2 - 2 * s) ** power)
        if both
        else s**power
    )
    full = np.empty(2 * n + 1)
    full[::2], full[1::2] = s, (s[1:] + s[:-1]) / 2
    return full


def _towards(n: int, first: float, *, both: bool = False) -> Floats:
    """Element ends as `_closer`, the first one about this share of the length."""
    steps = n / 2 if both else n
    share = 2 * first if both else first
    power = np.log(np.clip(share, 1e-3, 1.0)) / np.log(1 / steps)
    return _closer(n, float(np.clip(power, 1.3, STEEPEST)), both=both)


def _mesh(web: FilletedWeb, fineness: float) -> tuple[Floats, NDArray[np.int64]]:
    half, f, edge = web.spoke_width / 2, web.fillet, np.pi / web.spokes
    reach = np.sqrt((web.bore - f) ** 2 - (half + f) ** 2)
    inner = np.sqrt((web.hub + f) ** 2 - (half + f) ** 2)
    lean, root = np.arctan2(half + f, reach), np.arctan2(half + f, inner)
    if lean >= edge or root >= edge or inner >= reach:
        msg = "no room for the openings"
        raise ValueError(msg)
    out, into = (reach, half + f), (inner, half + f)
    out_middle, into_middle = (lean - np.pi / 2) / 2, (root + np.pi + 1.5 * np.pi) / 2
    top = _arc(out, f, out_middle, lean)  # of the fillet at the ring, from its middle
    foot = _arc(into, f, into_middle, root + np.pi)
    p, q = (curve(np.zeros(1))[:, 0] for curve in (top, foot))
    turn_p, turn_q = (float(np.arctan2(point[1], point[0])) for point in (p, q))

    def n(count: float) -> int:
        return max(2, round(fineness * count))

    across, around, opening = n(4), n(5), n(14 / np.sqrt(web.spokes / 3))
    radial, deep, along = n(7), n(5), n(8)

    def on_axis(curve: Curve) -> Curve:
        return lambda t: curve(t) * np.array([[1.0], [0.0]])

    first = f * FIRST
    even, off = _closer(across, 1.0), _towards(opening, first / (web.bore * (edge - lean)))
    to_rim = _towards(radial, first / (1 - web.bore))
    to_shaft = 1 - _towards(deep, first / (web.hub - web.shaft))[::-1]
    p_line, q_line = (_line(np.array([x[0], 0.0]), x) for x in (p, q))
    grid = _closer(around, 1.0)
    sides = (
        (_arc(into, f, into_middle, 1.5 * np.pi), grid),
        (
            _line(np.array([inner, half]), np.array([reach, half])),
            _towards(along, first / (reach - inner), both=True),
        ),
        (_arc(out, f, -np.pi / 2, out_middle), grid),
    )
    blocks = [
        _ruled(p_line, _circle(1.0, 0.0, turn_p), to_rim, even),
        _ruled(top, _circle(1.0, turn_p, lean), to_rim, grid),
        _ruled(_circle(web.bore, lean, edge), _circle(1.0, lean, edge), to_rim, off),
        *(_ruled(on_axis(side), side, even, t) for side, t in sides),
        _ruled(_circle(web.shaft, 0.0, turn_q), q_line, to_shaft, even),
        _ruled(_circle(web.shaft, turn_q, root), foot, to_shaft, grid),
        _ruled(
            _circle(web.shaft, root, edge),
            _circle(web.hub, root, edge),
            to_shaft,
            _closer(n(5), 1.4),
        ),
    ]
    return _joined(blocks)


def _holed(web: HoledWeb, fineness: float) -> tuple[Floats, NDArray[np.int64]]:
    edge, hole, pitch = np.pi / web.spokes, web.hole, web.pitch
    centre = (pitch * np.cos(edge), pitch * np.sin(edge))
    # Beyond these points of its edge a hole is met by lines along the radius, else by arcs.
    outer = (web.tip + edge - np.pi / 2) / 2
    inner = (web.tip + edge - 1.5 * np.pi) / 2
    wall = _arc(centre, hole, inner, outer)
    (r_in, r_out), (turn_in, turn_out) = (
        f(*wall(np.array([0.0, 1.0]))[::k]) for f, k in ((np.hypot, 1), (np.arctan2, -1))
    )

    def n(count: float) -> int:
        return max(2, round(fineness * count))

    beside, along, around = _closer(n(4), 1.0), _closer(n(10), 1.0), _closer(n(7), 1.0)
    to_rim = _towards(n(7), hole / 8 / (1 - web.bore))
    to_shaft = _towards(n(5), hole / 8 / (web.hub - web.shaft))
    x, y = wall(along)
    r, theta = np.hypot(x, y)[np.newaxis], np.arctan2(y, x) * beside[:, np.newaxis]
    blocks = [
        np.array([r * np.cos(theta), r * np.sin(theta)]),
        _ruled(_circle(r_out, 0.0, turn_out), _circle(1.0, 0.0, turn_out), to_rim, beside),
        _ruled(_arc(centre, hole, outer, edge), _circle(1.0, turn_out, edge), to_rim, around),
        _ruled(_circle(r_in, 0.0, turn_in), _circle(web.shaft, 0.0, turn_in), to_shaft, beside),
        _ruled(
            _arc(centre, hole, inner, edge - np.pi),
            _circle(web.shaft, turn_in, edge),
            to_shaft,
            around,
        ),
    ]
    return _joined(blocks)


def bolted_blocks(web: BoltedWeb, fineness: float) -> list[Floats]:
    """Blocks of nodes of half a sector of a ring, around the hole for a bolt."""
    edge, hole, circle = np.pi / web.spokes, web.hole, web.circle
    # Beyond this angle the ring is plain.
    near = min(edge, 0.75 * (1 - web.bore) / circle + hole / circle)
    near = edge if near > 0.75 * edge else near

    def n(count: float) -> int:
        return max(2, round(fineness * count))

    even, side = _closer(n(5), 1.0), _closer(n(12), 1.0)
    room = min(1 - circle, circle - web.bore, circle * near) - hole
    grid = _towards(n(8), hole / 8 / max(room, hole))
    outer, inner = (np.arctan2(circle * near, r - circle) for r in (1.0, web.bore))
    # In radius and angle the edges are straight, so that no line from the hole crosses one.
    sides = (
        (0.0, outer, (1.0, 0.0), (1.0, near), even),
        (outer, inner, (1.0, near), (web.bore, near), side),
        (inner, np.pi, (web.bore, near), (web.bore, 0.0), even),
    )
    blocks = []
    for start, stop, first, last, t in sides:
        x, y = _arc((circle, 0.0), hole, start, stop)(t)
        around = np.array([np.hypot(x, y), np.arctan2(y, x)])
        edge_of = _line(np.array(first), np.array(last))(t)
        r, theta = around[:, None] + (edge_of - around)[:, None] * grid[None, :, None]
        blocks.append(np.array([r * np.cos(theta), r * np.sin(theta)]))
    if near < edge:
        r = 1 + (web.bore - 1) * side
        theta = near + (edge - near) * _closer(n(6), 1.3)[:, np.newaxis]
        blocks.append(np.array([r * np.cos(theta), r * np.sin(theta)]))
    return blocks


def _joined(blocks: list[Floats]) -> tuple[Floats, NDArray[np.int64]]:
    points, elements, start = [], [], 0
    for block in blocks:
        rows, columns = block.shape[1:]
        i, j = (2 * each.ravel() for each in np.mgrid[0 : rows // 2, 0 : columns // 2])
        elements.append(
            np.stack([start + (i + a) * columns + j + b for a in range(3) for b in range(3)], 1)
        )
        points.append(block.reshape(2, -1))
        start += rows * columns
    everything = np.hstack(points)
    _, first, place = np.unique(
        np.round(everything.T, 9), axis=0, return_index=True, return_inverse=True
    )
    return everything[:, first], place.ravel()[np.vstack(elements)]


# --- solution -----------------------------------------------------------------------------------


def _functions(s: Floats, t: Floats) -> tuple[Floats, Floats]:
    """Values (point, 9) and derivatives (2, point, 9) of the functions, -1 to 1."""

    def line(x: Floats) -> tuple[Floats, Floats]:
        value = np.stack([x * (x - 1) / 2, 1 - x**2, x * (x + 1) / 2], -1)
        return value, np.stack([x - 0.5, -2 * x, x + 0.5], -1)

    (a, a1), (b, b1) = line(s), line(t)

    def both(one: Floats, two: Floats) -> Floats:
        return (one[:, :, None] * two[:, None, :]).reshape(len(s), 9)

    return both(a, b), np.stack([both(a1, b), both(a, b1)])


def _gradients(
    nodes: Floats, elements: NDArray[np.int64], s: Floats, t: Floats
) -> tuple[Floats, Floats, Floats]:
    """Values, derivatives by x and y (element, point, 2, 9) and areas (element, point)."""
    value, by = _functions(s, t)
    where = nodes[:, elements]
    jacobian = np.einsum("kpf,xef->epkx", by, where)
    area = np.linalg.det(jacobian)
    return value, np.linalg.inv(jacobian) @ by.transpose(1, 0, 2)[None], area


def _stress(
    web: FilletedWeb | HoledWeb | BoltedWeb,
    nodes: Floats,
    elements: NDArray[np.int64],
    poisson: float,
    *,
    held: bool,
) -> Floats:
    """Von Mises stress at the nodes."""
    law = np.array([[1, poisson, 0], [poisson, 1, 0], [0, 0, (1 - poisson) / 2]])
    law /= 1 - poisson**2
    station, weight = np.polynomial.legendre.leggauss(3)
    s, t = np.repeat(station, 3), np.tile(station, 3)
    value, slope, area = _gradients(nodes, elements, s, t)
    area = np.abs(area) * np.outer(weight, weight).ravel()

    def strains(slope: Floats) -> Floats:
        found = np.zeros((*slope.shape[:2], 3, 18))
        found[..., 0, ::2] = found[..., 2, 1::2] = slope[..., 0, :]
        found[..., 1, 1::2] = found[..., 2, ::2] = slope[..., 1, :]
        return found

    strain = strains(slope)
    local = np.einsum("epif,ij,epjg,ep->efg", strain, law, strain, area, optimize=True)
    places = np.stack([2 * elements, 2 * elements + 1], -1).reshape(len(elements), 18)
    size = 2 * nodes.shape[1]
    rows = np.repeat(places[:, :, None], 18, axis=2)
    matrix = sp.csr_matrix(
        (local.ravel(), (rows.ravel(), np.swapaxes(rows, 1, 2).ravel())), (size, size)
    )
    pull = np.einsum("epx,pf,ep->efx", _points(nodes, elements, value), value, area)
    force = np.bincount(places.ravel(), pull.reshape(len(elements), 18).ravel(), size)
    # The middle of the opening moves along its line only.
    edge = np.pi / web.spokes
    line = np.flatnonzero(np.abs(np.arctan2(nodes[1], nodes[0]) - edge) < 1e-7)
    c, d = -np.sin(edge), np.cos(edge)
    for a, b, spring in ((0, 0, c * c), (0, 1, c * d), (1, 0, c * d), (1, 1, d * d)):
        more = sp.csr_matrix(
            (np.full(line.size, STIFF * spring), (2 * line + a, 2 * line + b)), (size, size)
        )
        matrix = matrix + more
    fixed = np.zeros(size, dtype=bool)
    fixed[2 * np.flatnonzero(np.abs(nodes[1]) < 1e-10) + 1] = True
    if held and not isinstance(web, BoltedWeb):
        gripped = np.flatnonzero(np.hypot(*nodes) < web.shaft * (1 + 1e-9))
        fixed[np.concatenate([2 * gripped, 2 * gripped + 1])] = True
    free = np.flatnonzero(~fixed)
    u = np.zeros(size)
    u[free] = spsolve(matrix[free][:, free].tocsc(), force[free])
    # At the nodes, the mean over their elements.
    place = np.array([-1.0, 0.0, 1.0])
    _, slope, _ = _gradients(nodes, elements, np.repeat(place, 3), np.tile(place, 3))
    stress = np.einsum("ij,epjf,ef->epi", law, strains(slope), u[places])
    mean = np.stack(
        [
            np.bincount(elements.ravel(), stress[..., i].ravel(), nodes.shape[1])
            / np.bincount(elements.ravel(), minlength=nodes.shape[1])
            for i in range(3)
        ]
    )
    x, y, shear = mean
    return np.asarray(np.sqrt(x**2 - x * y + y**2 + 3 * shear**2))


def _points(nodes: Floats, elements: NDArray[np.int64], value: Floats) -> Floats:
    return np.asarray(np.einsum("pf,xef->epx", value, nodes[:, elements]))
