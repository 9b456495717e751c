"""Finite elements in the plane of a disc on a web, one sector of it; see `webbed_disc`."""

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

import numpy as np
import scipy.spatial
import skfem  # type: ignore[import-untyped]
from numpy.typing import NDArray
from scipy.sparse.linalg import LinearOperator, eigsh, splu
from skfem.helpers import ddot, dot, sym_grad, trace  # type: ignore[import-untyped]

Floats = NDArray[np.float64]
Hold = Literal["gripped", "slipping", "hub", "all round"]
HOLDS: tuple[Hold, ...] = ("gripped", "slipping", "hub")
"""What is held: the whole web; the whole web, but it slides in its plane; the hub only. `all round`
is the plain disc clamped at its bore, free to stretch in its plane."""


@dataclass(frozen=True)
class Web:
    """Shape of a disc and its web; lengths over the rim radius."""

    bore: float
    spokes: int
    spoke_width: float
    hub: float
    shaft: float
    """Radius of the shaft hole."""

    @property
    def tip(self) -> float:
        """Half the angle that a spoke holds at the bore."""
        return float(np.arcsin(self.spoke_width / 2 / self.bore))


@dataclass(frozen=True)
class Fineness:
    """Elements along each side of the blocks."""

    ring: int = 6
    opening: int = 7  # of half the arc between two spokes
    across: int = 4  # of a spoke
    along: int = 5  # a spoke
    hub: int = 3
    flat: float = 2.0
    """How much finer the elements of the plane are."""

    def times(self, factor: float) -> "Fineness":
        """Finer by a factor along every side."""
        ring, opening, along, hub = (
            max(2, round(factor * n)) for n in (self.ring, self.opening, self.along, self.hub)
        )
        return Fineness(ring, opening, 2 * round(factor * self.across / 2), along, hub, self.flat)


def graded(start: float, end: float, n: int, power: float, *, both: bool = False) -> Floats:
    """Nodes that lie closer at the start, or at both ends."""
    s = np.linspace(0, 1, n + 1)
    if both:
        s = np.where(s < 0.5, 0.5 * (2 * s) ** power, 1 - 0.5 * np.abs(2 - 2 * s) ** power)
    else:
        s = s**power
    return np.asarray(start + (end - start) * s)


def around(web: Web, fine: Fineness) -> Floats:
    """Angles of the nodes at the bore, closer at the ends of the spoke."""
    half = web.spoke_width / 2
    within = np.arcsin(graded(-half, half, fine.across, 1.6, both=True) / web.bore)
    beyond = graded(web.tip, np.pi / web.spokes, fine.opening, 2.0)
    return np.concatenate([-beyond[:0:-1], within, beyond[1:]])


def mesh_of(web: Web, fine: Fineness, *, spoke: bool, hub: bool) -> skfem.MeshTri:
    """Triangles of a sector, its spoke along x."""
    edge, half = np.pi / web.spokes, web.spoke_width / 2
    across = graded(-half, half, fine.across, 1.6, both=True)
    radii = graded(web.bore, 1.0, fine.ring, 2.0)
    blocks = [polar(around(web, fine), radii)]
    if spoke:
        ends = np.sqrt(web.hub**2 - across**2), np.sqrt(web.bore**2 - across**2)
        s = graded(0.0, 1.0, fine.along, 1.6, both=True)[:, np.newaxis]
        blocks.append(np.array([ends[0] + s * (ends[1] - ends[0]), np.tile(across, (s.size, 1))]))
    if hub:
        root = np.arcsin(across / web.hub)
        if root[-1] > 0.99 * edge:
            msg = "the spokes meet at the hub"
            raise ValueError(msg)
        rest = graded(root[-1], edge, max(2, fine.opening // 2), 1.3)
        round_hub = np.concatenate([-rest[:0:-1], root, rest[1:]])
        blocks.append(polar(round_hub, np.linspace(web.shaft, web.hub, fine.hub + 1)))
    return joined(blocks)


def polar(angle: Floats, radius: Floats) -> Floats:
    """Block of nodes (2, radius, angle)."""
    r = radius[:, np.newaxis]
    return np.array([r * np.cos(angle), r * np.sin(angle)])


def joined(blocks: list[Floats]) -> skfem.MeshTri:
    """One mesh of triangles from blocks of four-sided cells."""
    points, triangles, start = [], [], 0
    for block in blocks:
        n, m = block.shape[1:]
        i, j = (grid.ravel() for grid in np.mgrid[0 : n - 1, 0 : m - 1])
        a, b, c, d = (start + (i + di) * m + j + dj for di, dj in ((0, 0), (0, 1), (1, 0), (1, 1)))
        low = (j < (m - 1) / 2)[:, np.newaxis]  # mirrored at the axis of the spoke
        triangles += [
            np.where(low, np.stack([a, c, d], 1), np.stack([a, c, b], 1)),
            np.where(low, np.stack([a, d, b], 1), np.stack([b, c, d], 1)),
        ]
        points.append(block.reshape(2, -1))
        start += n * m
    everything = np.hstack(points)
    _, first, place = np.unique(
        np.round(everything.T, 9), axis=0, return_index=True, return_inverse=True
    )
    corners = np.sort(place.ravel()[np.vstack(triangles)], axis=1)
    whole = np.all(np.diff(corners, axis=1) > 0, axis=1)  # where a block ends in one point
    return skfem.MeshTri(everything[:, first], place.ravel()[np.vstack(triangles)][whole].T)


def hermite(s: Floats, size: Floats) -> list[Floats]:
    """Cubic functions at places 0 ... 1 of a length, (..., 4): value, first and second slopes.

    `size` is the length, of the axes of `s`.
    """
    one, zero = np.ones_like(s), np.zeros_like(s)
    forms = [
        [1 - 3 * s**2 + 2 * s**3, s - 2 * s**2 + s**3, 3 * s**2 - 2 * s**3, s**3 - s**2],
        [6 * s**2 - 6 * s, one - 4 * s + 3 * s**2, 6 * s - 6 * s**2, 3 * s**2 - 2 * s],
        [12 * s - 6, 6 * s - 4, 6 - 12 * s, 6 * s - 2 + zero],
    ]
    scale = np.stack([size**0, size, size**0, size], axis=-1)
    return [np.stack(form, axis=-1) * scale / (size**k)[..., None] for k, form in enumerate(forms)]


def lowest(stiffness: Any, mass: Any, count: int) -> Any:
    """Shapes of the lowest modes."""
    solve = splu(stiffness.tocsc())
    start = np.random.default_rng(1).standard_normal(stiffness.shape[0]).astype(stiffness.dtype)
    _, shapes = eigsh(
        stiffness,
        k=count,
        M=mass,
        sigma=0,
        OPinv=LinearOperator(stiffness.shape, solve.solve, dtype=stiffness.dtype),
        v0=start,
        tol=1e-9,
    )
    return shapes


@dataclass(frozen=True)
class Plane:
    """Displacement of one sector in its plane, by spin or by a hot rim."""

    web: Web
    hold: Hold
    mesh: skfem.MeshTri

    @cached_property
    def basis(self) -> skfem.Basis:
        """Quadratic triangles."""
        return skfem.Basis(self.mesh, skfem.ElementVector(skfem.ElementTriP2()), intorder=4)

    def rise(self, x: Floats) -> Floats:
        """Temperature from 0 at the bore to 1 at the rim."""
        above = np.hypot(x[0], x[1]) - self.web.bore
        return np.asarray(np.maximum(above, 0) / (1 - self.web.bore))

    def displacement(self, poisson: float, *, warm: bool = False) -> Floats:
        """Of unit density, speed and modulus, or of unit expansion and temperature difference."""
        matrix, load = self._system(poisson, warm=warm)
        return self._solved(matrix, load, poisson)

    def slope(self, poisson: float) -> Floats:
        """Change with Poisson's ratio of the displacement by spin."""
        by_shear, by_lame = _law_slopes(poisson)
        sheared, squeezed, _ = self._stiffness
        load = -(by_lame * squeezed + 2 * by_shear * sheared) @ self.displacement(poisson)
        return self._solved(self._system(poisson, warm=False)[0], load, poisson)

    def _solved(self, matrix: Any, load: Floats, poisson: float) -> Floats:
        free = np.setdiff1d(np.arange(self.basis.N), self._fixed())
        if poisson not in self._factors:
            self._factors[poisson] = splu(matrix[free][:, free].tocsc())
        found = np.zeros(self.basis.N)
        found[free] = self._factors[poisson].solve(load[free])
        return found

    @cached_property
    def _factors(self) -> dict[float, Any]:
        return {}

    def pull(self, poisson: float) -> float:
        """Force by which a spoke pulls on the hub that holds it; of unit density and speed."""
        matrix, load = self._system(poisson, warm=False)
        held = load - matrix @ self.displacement(poisson)
        at_hub = np.hypot(*self.basis.doflocs) < self.web.hub * (1 + 1e-6)
        along = np.zeros(self.basis.N, dtype=bool)
        along[self.basis.nodal_dofs[0]] = True
        along[self.basis.facet_dofs[0]] = True
        return float(held[at_hub & along].sum())

    def _system(self, poisson: float, *, warm: bool) -> tuple[Any, Floats]:
        shear, lame = _law(poisson)
        sheared, squeezed, mirrored = self._stiffness

        @skfem.LinearForm
        def load(v, w):  # type: ignore[no-untyped-def]
            if warm:
                return self.rise(w.x) * trace(sym_grad(v)) / (1 - poisson)
            return w.x[0] * v[0] + w.x[1] * v[1]

        matrix = lame * squeezed + 2 * shear * sheared + 1e7 * mirrored
        return matrix, np.asarray(load.assemble(self.basis))

    @cached_property
    def _stiffness(self) -> tuple[Any, Any, Any]:
        """Matrices of unit shear modulus, of unit Lame constant, and of unit springs at the sides.

        The springs keep the sides of the sector on their lines.
        """

        @skfem.BilinearForm
        def sheared(u, v, _):  # type: ignore[no-untyped-def]
            return ddot(sym_grad(u), sym_grad(v))

        @skfem.BilinearForm
        def squeezed(u, v, _):  # type: ignore[no-untyped-def]
            return trace(sym_grad(u)) * trace(sym_grad(v))

        @skfem.BilinearForm
        def mirror(u, v, w):  # type: ignore[no-untyped-def]
            return dot(u, w.n) * dot(v, w.n)

        edge = np.pi / self.web.spokes
        sides = self.mesh.facets_satisfying(
            lambda x: np.abs(np.abs(np.arctan2(x[1], x[0])) - edge) < 1e-7, boundaries_only=True
        )
        side = skfem.FacetBasis(self.mesh, self.basis.elem, facets=sides, intorder=4)
        return sheared.assemble(self.basis), squeezed.assemble(self.basis), mirror.assemble(side)

    def _fixed(self) -> NDArray[np.int64]:
        x, y = self.basis.doflocs
        across = np.zeros(self.basis.N, dtype=bool)
        across[self.basis.nodal_dofs[1]] = True
        across[self.basis.facet_dofs[1]] = True
        return np.flatnonzero((np.abs(y) < 1e-9) & across | self._held(x, y))

    def _held(self, x: Floats, y: Floats) -> NDArray[np.bool_]:
        """Whether points do not move in the plane."""
        radius = np.hypot(x, y)
        if self.hold == "gripped":
            at_tip = np.abs(y) < self.web.spoke_width / 2 + 1e-9
            return np.asarray((radius < self.web.bore * (1 + 1e-6)) & at_tip)
            # Middles of straight edges lie a little inside the bore.
        if self.hold == "hub":
            return np.asarray(radius < self.web.hub * (1 + 1e-6))
        return np.zeros_like(radius, dtype=bool)

    def stresses(self, points: Floats, poisson: float) -> tuple[Floats, Floats, Floats]:
        """Stress (2, 2, point) at points (2, point): by spin, its slope with nu, by heat."""
        (shear, lame), (by_shear, by_lame) = _law(poisson), _law_slopes(poisson)
        moved = [
            self.displacement(poisson),
            self.slope(poisson),
            self.displacement(poisson, warm=True),
        ]
        spun, changed, warmed = self._strains(np.stack(moved, axis=1), points)
        spin = _stress(spun, shear, lame)
        slope = _stress(changed, shear, lame) + _stress(spun, by_shear, by_lame)
        heat = _stress(warmed, shear, lame)
        heat -= self.rise(points) / (1 - poisson) * np.eye(2)[:, :, np.newaxis]
        return spin, slope, heat

    def _strains(self, moved: Floats, points: Floats) -> Floats:
        """Strain (case, 2, 2, point) of displacements (dof, case)."""
        element = _nearest(self.mesh, points)
        local = self.mesh.mapping().invF(points[:, :, np.newaxis], tind=element)
        grad = np.zeros((moved.shape[1], 2, 2, points.shape[1]))
        for k in range(self.basis.Nbfun):
            field = self.basis.elem.gbasis(self.mesh.mapping(), local, k, tind=element)[0]
            by_case = moved[self.basis.element_dofs[k, element]].T
            grad += np.asarray(field.grad)[..., 0] * by_case[:, np.newaxis, np.newaxis]
        return (grad + np.swapaxes(grad, 1, 2)) / 2


def _law(poisson: float) -> tuple[float, float]:
    """Shear modulus and Lame constant of plane stress, over Young's modulus."""
    return 1 / (2 * (1 + poisson)), poisson / (1 - poisson**2)


def _law_slopes(poisson: float) -> tuple[float, float]:
    """Changes of both with Poisson's ratio."""
    return -1 / (2 * (1 + poisson) ** 2), (1 + poisson**2) / (1 - poisson**2) ** 2


def _stress(strain: Floats, shear: float, lame: float) -> Floats:
    spread = lame * (strain[0, 0] + strain[1, 1]) * np.eye(2)[:, :, np.newaxis]
    return np.asarray(2 * shear * strain + spread)


def _nearest(mesh: skfem.MeshTri, points: Floats) -> NDArray[np.int64]:
    """Triangle that holds each point, or the nearest one beside the round edges."""
    corners = mesh.p[:, mesh.t]
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    tree = scipy.spatial.cKDTree(corners.mean(axis=1).T)
    near = np.asarray(tree.query(points.T, k=min(24, mesh.t.shape[1]))[1])

    def cross(p: Floats, q: Floats) -> Floats:
        return np.asarray(p[0] * q[1] - p[1] * q[0])

    p = points[:, :, np.newaxis]
    whole = cross(b - a, c - a)[near]
    parts = [cross(e[:, near] - p, f[:, near] - p) / whole for e, f in ((a, b), (b, c), (c, a))]
    inside = np.min(parts, axis=0)
    return np.asarray(near[np.arange(near.shape[0]), np.argmax(inside, axis=1)])


def among(matrix: Any, basis: Any) -> Any:
    """Matrix among the columns of a basis."""
    return basis.conj().T @ (matrix @ basis)
