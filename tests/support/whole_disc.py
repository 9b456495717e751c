"""A second solution of discs on spokes: whole discs, other elements, no symmetry used.

Morley triangles for the plate (not even continuous) and quadratic triangles in the plane, over the
whole disc, at two meshes and extrapolated. `python -m tests.support.whole_disc` writes
`tests/published/whole_discs.toml`, against which the tables of `tests.support.web_tables` are
tested; some minutes on one core.
"""

import logging
import sys
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import skfem  # type: ignore[import-untyped]
from numpy.typing import NDArray
from scipy.sparse.linalg import eigsh
from skfem.helpers import dd, ddot, dot, eye, grad, sym_grad, trace  # type: ignore[import-untyped]

from engine.physics.machine.web import LEAST_SHARE
from tests.support import web_tables
from tests.support.bolted_disc import BoltedSector, BoltedWeb, RingPlane
from tests.support.holed_disc import HoledSector, HoledWeb, holed_mesh
from tests.support.places import PUBLISHED
from tests.support.web_stress import FilletedWeb, bolted_blocks
from tests.support.webbed_disc import Sector
from tests.support.webbed_plane import Fineness, Hold, Web, joined, mesh_of

FILE = PUBLISHED / "whole_discs.toml"
HEAD = """\
# Discs on spokes solved a second time, by whole discs of Morley triangles, extrapolated from two
# meshes; see tests/support/whole_disc.py, which writes this file. Speeds over their scale,
# sqrt(D / (rho h)) / r_o^2.
# Places are those of the tables of tests/support/web_tables.py; hub -1 is the whole web gripped.
# Between them: spokes, bore over rim, width and hub over bore; hub 0 is the whole web gripped.
# Of round holes: how many, bore over rim, wall over bore, and 0 where spacers have arms, or 1.
# On bolts: how many, bore over rim, washer over width of the ring, place of their circle.
# Frequency: lowest at rest, solved and extrapolated alike.
"""
POISSON = 0.3
WEBS = (
    # spokes, then places of bore, width and hub, then nodal diameters
    (3, 3, 2, -1, 3),
    (3, 3, 2, 1, 3),
    (3, 5, 2, -1, 2),
    (4, 4, 2, 1, 2),
    (5, 2, 3, 1, 3),
    (6, 3, 2, -1, 3),
    (6, 5, 1, 1, 4),
    (8, 4, 2, -1, 4),
)
BETWEEN = (
    # Away from the places: spokes, bore over rim, width and hub over bore (hub 0: the whole web
    # gripped), nodal diameters
    (3, 0.51, 0.21, 0.0, 2),
    (3, 0.51, 0.21, 0.33, 2),
    (4, 0.37, 0.15, 0.34, 3),
    (6, 0.64, 0.11, 0.0, 3),
    (6, 0.51, 0.16, 0.41, 4),
    (8, 0.65, 0.09, 0.0, 5),
    (12, 0.51, 0.075, 0.45, 4),
)
HOLES = (
    # Holes, bore over rim, wall over bore, whether the hub alone is held, nodal diameters
    (3, 0.51, 0.25, 0, 2),
    (4, 0.37, 0.2, 1, 2),
    (5, 0.44, 0.18, 0, 3),
    (6, 0.38, 0.111, 0, 3),
    (6, 0.38, 0.111, 1, 2),
    (4, 0.6, 0.2, 0, 3),
)

BOLTS = (
    # Bolts, bore over rim, washer over ring, place of the circle in its room, nodal diameters
    (3, 0.44, 0.126, 0.45, 3),
    (6, 0.44, 0.126, 0.0, 6),
    (6, 0.47, 0.146, 0.2, 6),
    (4, 0.6, 0.2, 0.6, 4),
    (12, 0.71, 0.126, 0.45, 10),
    (5, 0.36, 0.1, 0.3, 5),
)

Floats = NDArray[np.float64]
AnyWeb = Web | HoledWeb | BoltedWeb


@dataclass(frozen=True)
class WholeDisc:
    """Matrices of a whole disc, held parts removed."""

    bending: Any
    spin: Any
    mass: Any
    rim: Any
    """From degrees of freedom to deflections at the rim, by rising angle."""
    angle: Floats


def whole_mesh(web: AnyWeb, fine: Fineness, *, hub: bool) -> skfem.MeshTri:
    """All sectors together, held at the hub or further out; without what washers hold."""
    if isinstance(web, BoltedWeb):
        half = [b[:, ::2, ::2] for b in bolted_blocks(replace(web, hole=web.washer), fine.ring / 8)]
        mirror = np.array([1.0, -1.0])[:, np.newaxis, np.newaxis]
        sector = joined([*half, *(block * mirror for block in half)])
    elif isinstance(web, HoledWeb):
        sector = holed_mesh(web, fine, arms=not hub)
    else:
        sector = mesh_of(web, fine, spoke=hub, hub=False)
    points, triangles = [], []
    for k in range(web.spokes):
        turn = 2 * np.pi * k / web.spokes
        c, s = np.cos(turn), np.sin(turn)
        points.append(np.array([[c, -s], [s, c]]) @ sector.p)
        triangles.append(sector.t + k * sector.p.shape[1])
    everything = np.hstack(points)
    _, first, place = np.unique(
        np.round(everything.T, 8), axis=0, return_index=True, return_inverse=True
    )
    return skfem.MeshTri(everything[:, first], place.ravel()[np.hstack(triangles)])


def whole_disc(web: AnyWeb, hold: Hold, fine: Fineness) -> WholeDisc:
    """Assemble a disc, gripped over its whole web or by its washers, or held at its hub."""
    mesh = whole_mesh(web, fine, hub=hold == "hub")

    def held(x: Floats) -> NDArray[np.bool_]:
        radius, angle = np.hypot(x[0], x[1]), np.arctan2(x[1], x[0])
        if hold == "hub" and not isinstance(web, BoltedWeb):
            return np.asarray(radius < web.hub * (1 + 1e-6))
        sector = 2 * np.pi / web.spokes
        off = np.abs(angle - sector * np.round(angle / sector))
        if isinstance(web, BoltedWeb):
            away = radius**2 + web.circle**2 - 2 * radius * web.circle * np.cos(off)
            return np.asarray(away < web.washer**2 * (1 + 1e-6))
        return np.asarray((radius < web.bore * (1 + 1e-6)) & (off < web.tip + 1e-6))

    shear, lame = 1 / (2 * (1 + POISSON)), POISSON / (1 - POISSON**2)
    edges = mesh.facets_satisfying(held, boundaries_only=True)
    flat = skfem.Basis(mesh, skfem.ElementVector(skfem.ElementTriP2()), intorder=4)
    plate = skfem.Basis(mesh, skfem.ElementTriMorley(), intorder=4)

    @skfem.BilinearForm
    def plane(u, v, _):  # type: ignore[no-untyped-def]
        e = sym_grad(u)
        return ddot(lame * eye(trace(e), 2) + 2 * shear * e, sym_grad(v))

    @skfem.LinearForm
    def pull(v, w):  # type: ignore[no-untyped-def]
        return w.x[0] * v[0] + w.x[1] * v[1]

    @skfem.BilinearForm
    def bending(u, v, _):  # type: ignore[no-untyped-def]
        bend = (1 - POISSON) * dd(u) + POISSON * eye(trace(dd(u)), 2)
        return ddot(bend, dd(v))

    @skfem.BilinearForm
    def membrane(u, v, w):  # type: ignore[no-untyped-def]
        return dot(np.einsum("ij...,j...->i...", w.s, grad(u)), grad(v))

    @skfem.BilinearForm
    def mass(u, v, _):  # type: ignore[no-untyped-def]
        return u * v

    if isinstance(web, BoltedWeb):
        points = plate.mapping.F(plate.quadrature[0])
        stress = RingPlane(web).stresses(points.reshape(2, -1), POISSON)[0]
        stress = stress.reshape(2, 2, *points.shape[1:])
    else:
        u = skfem.solve(
            *skfem.condense(plane.assemble(flat), pull.assemble(flat), D=flat.get_dofs(edges))
        )
        strain = sym_grad(skfem.Basis(mesh, flat.elem, quadrature=plate.quadrature).interpolate(u))
        stress = lame * eye(trace(strain), 2) + 2 * shear * strain
    free = plate.complement_dofs(plate.get_dofs(edges))
    parts = [
        form[free][:, free].tocsc()
        for form in (
            bending.assemble(plate),
            membrane.assemble(plate, s=stress),
            mass.assemble(plate),
        )
    ]
    rim = np.flatnonzero(np.hypot(*mesh.p) > 1 - 1e-7)
    angle = np.arctan2(mesh.p[1, rim], mesh.p[0, rim])
    order = np.argsort(angle)
    place = np.full(plate.N, -1)
    place[free] = np.arange(free.size)
    bent, pulled, heavy = parts
    at_rim = place[plate.nodal_dofs[0, rim[order]]]
    return WholeDisc(bent, pulled, heavy, at_rim, angle[order])


def standing_speed(disc: WholeDisc, n: int, near: float, least_share: float) -> float:
    """Speed at which the mode nearest a wave of n nodal diameters stands still.

    Newton steps from a speed near it: the mode whose frequency is nearest n times the speed among
    those that hold enough of n.
    """
    speed = near
    for _ in range(3):
        stiffness = disc.bending + speed**2 * disc.spin
        values, shapes = eigsh(stiffness, k=8, M=disc.mass, sigma=(n * speed) ** 2, which="LM")
        width = np.diff(np.append(disc.angle, disc.angle[0] + 2 * np.pi))
        weight = (width + np.roll(width, 1)) / 2
        found = []
        for value, x in zip(values, shapes.T, strict=True):
            w = x[disc.rim]
            part = np.abs(weight @ (w * np.exp(-1j * n * disc.angle))) ** 2 / np.pi
            if part / (weight @ w**2) >= least_share:
                found.append((abs(value - (n * speed) ** 2), value, x))
        _, value, x = min(found, key=lambda each: each[0])
        pulled = float(x @ (disc.spin @ x)) / float(x @ (disc.mass @ x))
        # value = rest + pulled speed^2, and at the standing wave value = n^2 speed^2.
        speed = float(np.sqrt((value - pulled * speed**2) / (n**2 - pulled)))
    return speed


def web_at(spokes: int, bore: int, width: int, hub: int) -> tuple[Web, Hold]:
    """Web at places of the tables."""
    ratio, wide = web_tables.BORES[bore], web_tables.widths(spokes)[width]
    round_hub = web_tables.hubs(wide, spokes)[max(hub, 0)]
    web = Web(ratio, spokes, wide * ratio, round_hub * ratio, 0.1 * ratio)
    return web, "gripped" if hub < 0 else "hub"


def web_between(spokes: int, bore: float, width: float, hub: float) -> tuple[Web, Hold]:
    """Web of `BETWEEN`."""
    web = Web(bore, spokes, width * bore, (hub or 0.5) * bore, 0.1 * bore)
    return web, "hub" if hub else "gripped"


def holed(spokes: int, bore: float, wall: float, hub: float) -> tuple[HoledWeb, Hold]:
    """Web of `HOLES`."""
    return HoledWeb(bore, spokes, wall * bore), "hub" if hub else "gripped"


def bolted(bolts: int, bore: float, washer: float, circle: float) -> tuple[BoltedWeb, Hold]:
    """Web of `BOLTS`."""
    return web_tables.bolted(bore, bolts, washer, circle), "gripped"


def lowest_frequency(disc: WholeDisc) -> float:
    """Of the disc at rest."""
    values = eigsh(disc.bending, k=1, M=disc.mass, sigma=0.0, return_eigenvectors=False)
    return float(np.sqrt(values[0]))


def solution(web: AnyWeb, hold: Hold, n: int) -> str:
    """Speed of the lowest wave that counts, and frequency, solved anew, as lines of the file."""
    fine = web_tables.fineness(web.spokes)
    kinds = {BoltedWeb: BoltedSector, HoledWeb: HoledSector, Web: Sector}
    sector = kinds[type(web)](web, hold, fine)
    counted = next(w for w in sector.waves(n, 40) if w.share >= LEAST_SHARE)
    discs = [whole_disc(web, hold, fine.times(f)) for f in (1.5, 3.0)]
    coarse, finer = (standing_speed(d, n, counted.speed, 0.6 * counted.share) for d in discs)
    low, high = map(lowest_frequency, discs)
    exact = finer + (finer - coarse) / 3
    sys.stderr.write(
        f"{web} {hold} n {n}: {coarse:.3f} {finer:.3f} {exact:.3f}, "
        f"sector {counted.speed:.3f} share {counted.share:.2f}\n"
    )
    return (
        f"nodal_diameters = {n}\nspeeds = [{coarse:.4f}, {finer:.4f}]\nspeed = {exact:.4f}\n"
        f"frequency = {high + (high - low) / 3:.4f}\n"
    )


def filleted(web: Web) -> FilletedWeb:
    """The web with fillets of the middle size."""
    fillet = min(web.spoke_width / 3, (web.bore - web.hub) / 4)
    return FilletedWeb(web.bore, web.spokes, web.spoke_width, web.hub, 0.6 * web.hub, 0.75 * fillet)


def main() -> None:
    """Solve all and write the file."""
    logging.getLogger("skfem").setLevel(logging.ERROR)
    lines = [HEAD]
    for spokes, bore, width, hub, n in WEBS:
        head = f"[[webs]]\nplaces = [{spokes}, {bore}, {width}, {hub}]\n"
        lines.append(head + solution(*web_at(spokes, bore, width, hub), n))
    for spokes, ratio, wide, hub_ratio, n in BETWEEN:
        head = f"[[between]]\nweb = [{spokes}, {ratio}, {wide}, {hub_ratio}]\n"
        lines.append(head + solution(*web_between(spokes, ratio, wide, hub_ratio), n))
    for spokes, ratio, wide, hub_ratio, n in HOLES:
        head = f"[[holes]]\nweb = [{spokes}, {ratio}, {wide}, {hub_ratio}]\n"
        lines.append(head + solution(*holed(spokes, ratio, wide, hub_ratio), n))
    for bolts, ratio, washer, circle, n in BOLTS:
        head = f"[[bolts]]\nweb = [{bolts}, {ratio}, {washer}, {circle}]\n"
        lines.append(head + solution(*bolted(bolts, ratio, washer, circle), n))
    FILE.write_text("\n".join(lines), encoding="utf-8")


if __name__ == "__main__":
    main()
