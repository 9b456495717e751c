"""Finite elements for a spinning disc on a web: ring, spokes and hub, one sector of it.

A Kirchhoff plate in four-sided elements with cubic Hermite functions along radius and angle, so
that slopes are continuous and edges exactly round; stress of spin as in `webbed_plane`. In the
frame of the disc: a wave that stands still in space turns backward at the speed of the disc. Rim
radius, rigidity, density times thickness are 1, so speeds are in sqrt(D / (rho h)) / r_o^2.

References: Leissa, Vibration of Plates, NASA SP-160, 1969 (the plate); Bogner, Fox and Schmit,
1965 (the element); Thomas, Dynamics of rotationally periodic structures, 1979 (one sector).
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import product
from typing import Any

import numpy as np
import scipy.linalg
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.interpolate import CubicHermiteSpline
from scipy.sparse.linalg import splu

from tests.support.webbed_plane import (
    Fineness,
    Floats,
    Hold,
    Plane,
    Web,
    among,
    around,
    graded,
    hermite,
    lowest,
    mesh_of,
)

POISSON, RIM_POINTS = 0.3, 1440
USUAL, AT_REST, AT_SPEED = Fineness(), 22, 16
"""Mesh; modes of the disc at rest and at speed among which standing waves are sought."""


@dataclass(frozen=True)
class Wave:
    """A wave of some nodal diameters that stands still in space."""

    speed: float
    """[sqrt(D / (rho h)) / r_o^2]"""
    share: float
    """Of that harmonic in the squared amplitude along the rim."""
    stiffening: float
    """Southwell's B of its shape."""
    poisson_slope: float
    """Change of the logarithm of speed with Poisson's ratio, the rigidity held."""
    softening: float
    """By heat: share of stiffness won for each unit of E alpha dT h r_o^2 / D."""
    fluid: float
    """Integral of w over minus the Laplacian, times w, over that of w^2: see `Sector.matrices`."""
    shape: Any
    """Of unit bending stiffness, over all degrees of freedom of the sector."""


@dataclass(frozen=True)
class Sector:
    """Stiffness and mass of one sector of a disc, held in one of the ways."""

    web: Web
    hold: Hold
    fine: Fineness = USUAL

    @property
    def _twisted(self) -> bool:
        """Whether lines of the mesh run along the spoke."""
        return self.hold == "hub"

    @cached_property
    def _lines(self) -> tuple[Floats, Floats]:
        """Radius and angle of the lines of nodes."""
        web, fine = self.web, self.fine
        radii = graded(web.bore, 1.0, fine.ring, 2.0)
        if self._twisted:
            inside = graded(web.hub, web.bore, fine.along, 1.6, both=True)
            radii = np.concatenate([inside[:-1], radii])
        return radii, around(web, fine)

    @cached_property
    def _elements(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Rows and columns of the lowest corner of each element."""
        radii, angles = self._lines
        i, j = (grid.ravel() for grid in np.mgrid[0 : radii.size - 1, 0 : angles.size - 1])
        middle = (angles[j] + angles[j + 1]) / 2
        kept = (radii[i] > self.web.bore - 1e-12) | (np.abs(middle) < self.web.tip)
        return i[kept], j[kept]

    def _map(self, r: Floats, eta: Floats) -> tuple[Floats, ...]:
        """Angle over the lines of nodes, with its first and second derivatives.

        Lines run straight along the spoke and join the radial ones of the ring with continuous
        slopes, so that a function smooth along the lines is smooth on the plate.
        """
        if not self._twisted:
            zero = np.zeros_like(r)
            return eta, zero + 1, zero, zero, zero, zero
        web, edge = self.web, np.pi / self.web.spokes
        # Along the spoke: r sin(angle) is constant.
        ratio = web.bore / r
        angle = np.arcsin(np.clip(ratio * np.sin(eta), -0.999, 0.999))
        sec, tan = 1 / np.cos(angle), np.tan(angle)
        by_eta = ratio * np.cos(eta) * sec
        by_r = -tan / r
        spoke = (
            angle,
            by_eta,
            by_r,
            ratio * (-np.sin(eta) * sec + np.cos(eta) * sec * tan * by_eta),
            -(sec**2) * by_eta / r,
            -(sec**2) * by_r / r + tan / r**2,
        )
        # In the ring: a lean that fades along radius and angle.
        depth = min(1 - web.bore, 0.5 * web.bore)
        away = np.clip((r - web.bore) / depth, 0, 1)
        psi = depth * away * (1 - away) ** 2
        psi1 = (1 - away) * (1 - 3 * away)
        psi2 = (6 * away - 4) / depth * (away < 1)
        width = edge - web.tip
        t = np.clip((np.abs(eta) - web.tip) / width, 0, 1)
        fade = 1 - 3 * t**2 + 2 * t**3
        fade1 = (-6 * t + 6 * t**2) / width * np.sign(eta)
        fade2 = np.where(t > 0, (-6 + 12 * t) / width**2, 0)
        tan, sec2 = np.tan(eta), 1 / np.cos(eta) ** 2
        lean = tan * fade / web.bore
        lean1 = (sec2 * fade + tan * fade1) / web.bore
        lean2 = (2 * sec2 * tan * fade + 2 * sec2 * fade1 + tan * fade2) / web.bore
        ring = (
            eta - lean * psi,
            1 - lean1 * psi,
            -lean * psi1,
            -lean2 * psi,
            -lean1 * psi1,
            -lean * psi2,
        )
        return tuple(np.where(r < web.bore, a, b) for a, b in zip(spoke, ring, strict=True))

    @cached_property
    def _stations(self) -> tuple[Floats, Floats, Floats]:
        """Points of integration in each element, 0 to 1, and their weights.

        Along the radius (point,), then along the angle and weights (element, point, point).
        """
        station, weight = np.polynomial.legendre.leggauss(5)
        s, shape = (1 + station) / 2, (self._elements[0].size, 5, 5)
        return s, np.broadcast_to(s, shape), np.broadcast_to(np.outer(weight, weight) / 4, shape)

    @cached_property
    def _fields(self) -> dict[str, Floats]:
        """Functions of each element at its integration points, (element, point, function)."""
        radii, angles = self._lines
        i, j = self._elements
        s, t, weight = self._stations
        long, wide = radii[i + 1] - radii[i], angles[j + 1] - angles[j]
        r = radii[i][:, None] + long[:, None] * np.repeat(s, t.shape[2])
        eta = angles[j][:, None] + wide[:, None] * t.reshape(i.size, -1)
        area = long[:, None] * wide[:, None] * weight.reshape(i.size, -1)
        along = hermite(s[np.newaxis], long[:, None])
        across = hermite(t, wide[:, None, None])

        def both(k: int, m: int) -> Floats:
            every = np.einsum("eaf,eabg->eabfg", along[k], across[m])
            return np.asarray(every.reshape(*r.shape, 16))

        angle, a_e, a_r, a_ee, a_re, a_rr = (x[..., None] for x in self._map(r, eta))
        radius = r[..., None]
        by_angle = both(0, 1) / a_e
        by_radius = both(1, 0) - by_angle * a_r
        twice_angle = (both(0, 2) - by_angle * a_ee) / a_e**2
        mixed = (both(1, 1) - by_angle * a_re) / a_e - twice_angle * a_r
        twice_radius = both(2, 0) - 2 * mixed * a_r - twice_angle * a_r**2 - by_angle * a_rr
        return {
            "radius": r,
            "angle": angle[..., 0],
            "area": area * r * a_e[..., 0],
            "value": both(0, 0),
            "slope": np.stack([by_radius, by_angle / radius]),
            "radial": twice_radius,
            "hoop": by_radius / radius + twice_angle / radius**2,
            "twist": mixed / radius - by_angle / radius**2,
        }

    @cached_property
    def _places(self) -> tuple[NDArray[np.int64], int]:
        """Degree of freedom of each function of each element, (element, 16); how many there are."""
        _, angles = self._lines
        i, j = self._elements
        found = [
            4 * ((i + di) * angles.size + j + dj) + 2 * dr + de
            for di, dr, dj, de in product((0, 1), repeat=4)
        ]
        return np.stack(found, axis=1), 4 * self._lines[0].size * angles.size

    @cached_property
    def matrices(self) -> dict[str, sp.csr_matrix]:
        """Bending in two parts, mass, and stiffness by stresses."""
        fields = self._fields
        places, size = self._places
        area = fields["area"][..., None]
        rows = np.repeat(places[:, :, None], 16, axis=2)
        columns = np.swapaxes(rows, 1, 2)

        def energy(a: Floats, b: Floats) -> sp.csr_matrix:
            local = np.swapaxes(a * area, 1, 2) @ b
            return sp.csr_matrix((local.ravel(), (rows.ravel(), columns.ravel())), (size, size))

        radial, hoop, twist = fields["radial"], fields["hoop"], fields["twist"]
        found = {
            "mass": energy(fields["value"], fields["value"]),
            "laplacian": energy(radial + hoop, radial + hoop),
            "gauss": energy(radial, hoop) + energy(hoop, radial) - 2 * energy(twist, twist),
        }
        # Fluid between neighbours that move against each other: Laplacian of its potential = -w.
        ring = fields["radius"][..., None] > self.web.bore
        value, slope = fields["value"] * ring, fields["slope"] * ring
        found["swept"] = energy(value, fields["value"])
        found["flow"] = energy(slope[0], slope[0]) + energy(slope[1], slope[1])
        for name, stress in self._stresses().items():
            pull = np.einsum("cdep,defp...->cefp...", stress, fields["slope"][:, :, None])[:, :, 0]
            found[name] = sum(energy(fields["slope"][k], pull[k]) for k in (0, 1))
        return found

    def plane(self) -> Plane:
        """The same sector in its plane."""
        fine = self.fine.times(self.fine.flat)
        spoke, hub = self.hold in ("slipping", "hub"), self.hold == "slipping"
        return Plane(self.web, self.hold, mesh_of(self.web, fine, spoke=spoke, hub=hub))

    def _stresses(self) -> dict[str, Floats]:
        """Radial, hoop and shear stress (2, 2, element, point) of spin and heat."""
        fields, plane = self._fields, self.plane()
        r, angle = fields["radius"], fields["angle"]
        points = np.array([(r * np.cos(angle)).ravel(), (r * np.sin(angle)).ravel()])
        c, s = np.cos(angle).ravel(), np.sin(angle).ravel()
        turn = np.array([[c, s], [-s, c]])
        polar = [
            np.einsum("acp,cdp,bdp->abp", turn, stress, turn).reshape(2, 2, *r.shape)
            for stress in plane.stresses(points, POISSON)
        ]
        return dict(zip(("spin", "spin slope", "heat"), polar, strict=True))

    def reduction(self, phase_index: int, *, of_fluid: bool = False) -> sp.csr_matrix:
        """From the free degrees of freedom of a phase index to all of the sector.

        Of the plate, or of the potential of the fluid, which is open at rim and bore.
        """
        radii, angles = self._lines
        size = self._places[1]
        index = np.arange(size)
        row, column, kind = index // 4 // angles.size, index // 4 % angles.size, index % 4
        last = column == angles.size - 1
        source = np.where(last, index - 4 * (angles.size - 1), index)
        turn = 2 * np.pi * phase_index / self.web.spokes
        phase = np.exp(1j * turn)
        if abs(phase.imag) < 1e-12:
            phase = phase.real
        if of_fluid:
            bore_row = int(np.searchsorted(radii, self.web.bore - 1e-9))
            held = ((row == bore_row) | (row == radii.size - 1)) & (kind < 2)
            held |= row < bore_row
        else:
            held = self._held(row, angles[column], kind)
        free = self._used & ~held & ~last
        number = np.cumsum(free) - 1
        kept = self._used & free[source]
        values = np.where(last, phase, 1.0)[kept]
        return sp.csr_matrix((values, (index[kept], number[source[kept]])), (size, int(free.sum())))

    @property
    def _used(self) -> NDArray[np.bool_]:
        """Degrees of freedom that move anything."""
        used = np.zeros(self._places[1], dtype=bool)
        used[self._places[0].ravel()] = True
        return used

    def _held(
        self, row: NDArray[np.int64], angle: Floats, kind: NDArray[np.int64]
    ) -> NDArray[np.bool_]:
        """Degrees of freedom that do not move, by row, angle, and kind of derivative.

        Deflection and slopes; beside a held tip the curve along the bore is free.
        """
        inner, off = row == 0, np.abs(angle) - self.web.tip
        if self.hold == "all round":
            return np.asarray(inner)
        inner = inner & (off < 1e-9)
        if self.hold == "hub":
            return np.asarray(inner)
        # The ends of the tip: the twist is left free.
        return np.asarray(inner & ~((kind == 3) & (np.abs(off) < 1e-9)))

    @cached_property
    def _modes(self) -> dict[int, tuple[Any, dict[str, Any]]]:
        return {}

    def projected(self, phase_index: int) -> tuple[Any, dict[str, Any]]:
        """Modes at rest and at speed of a phase index, and all matrices among them."""
        if phase_index in self._modes:
            return self._modes[phase_index]
        reduced = self.reduction(phase_index)
        back = reduced.conj().T
        full = {name: (back @ m @ reduced).tocsc() for name, m in self.matrices.items()}
        bending = full["laplacian"] - (1 - POISSON) * full["gauss"]
        rest = lowest(bending, full["mass"], AT_REST)
        # The speed at which the lowest wave that may stand still does so, about.
        spin = among(full["spin"], rest)
        square = np.real(np.diag(among(bending, rest)))
        orders = [
            n
            for n in range(2, 14)
            if n % self.web.spokes in (phase_index, -phase_index % self.web.spokes)
        ]
        speeds = [
            square[k] / room
            for n in orders
            for k in range(4)
            if (room := n**2 - float(np.real(spin[k, k]))) > 0.2
        ]
        moving = lowest(bending + np.median(speeds or [0.0]) * full["spin"], full["mass"], AT_SPEED)
        basis = np.hstack([rest, moving])
        gram = among(full["mass"], basis)
        values, vectors = scipy.linalg.eigh(gram)
        good = values > 1e-9
        basis = basis @ (vectors[:, good] / np.sqrt(values[good]))
        small = {name: among(m, basis) for name, m in full.items()}
        open_ends = self.reduction(phase_index, of_fluid=True)
        flow = (open_ends.conj().T @ self.matrices["flow"] @ open_ends).tocsc()
        swept = open_ends.conj().T @ (self.matrices["swept"] @ (reduced @ basis))
        potential = splu(flow).solve(np.ascontiguousarray(swept))
        small["fluid"] = swept.conj().T @ potential
        return self._modes.setdefault(phase_index, (reduced @ basis, small))

    def waves(self, n: int, count: int = 6, fluid: float = 0.0) -> list[Wave]:
        """Standing waves of n nodal diameters, lowest first, whatever their share.

        `fluid` is 4 rho_fluid r_o^2 / (gap rho h): the fluid of both gaps of a disc whose
        neighbours move against it and that turns with it.
        """
        index, spokes = n % self.web.spokes, self.web.spokes
        mirrored = 2 * index > spokes  # a phase index and its complement are alike
        basis, small = self.projected(spokes - index if mirrored else index)
        bending = small["laplacian"] - (1 - POISSON) * small["gauss"]
        mass = small["mass"] + fluid * small["fluid"]
        values, shapes = scipy.linalg.eigh(n**2 * mass - small["spin"], bending)
        found = []
        for at in (k for k in np.argsort(-values)[:count] if values[k] > 1e-9):
            x = shapes[:, at]  # of unit stiffness

            def quotient(name: str, x: Any = x) -> float:
                return float(np.real(np.vdot(x, small[name] @ x)))

            found.append(
                Wave(
                    speed=float(values[at] ** -0.5),
                    share=self.share(basis @ x, -n if mirrored else n),
                    stiffening=quotient("spin") / quotient("mass"),
                    poisson_slope=(quotient("gauss") + quotient("spin slope") / values[at]) / 2,
                    softening=quotient("heat"),
                    fluid=quotient("fluid") / quotient("mass"),
                    shape=basis @ x,
                )
            )
        return found

    def frequencies(self, phase_index: int, speed: float = 0.0, count: int = 6) -> Floats:
        """Natural frequencies seen from the disc at a speed."""
        _, small = self.projected(phase_index)
        stiff = small["laplacian"] - (1 - POISSON) * small["gauss"] + speed**2 * small["spin"]
        return np.sqrt(scipy.linalg.eigh(stiff, small["mass"], eigvals_only=True)[:count])

    def along(self, row: int, points: Floats) -> tuple[Floats, NDArray[np.int64]]:
        """Matrix that takes degrees of freedom to deflections along a row of nodes, and which."""
        radii, angles = self._lines
        at = 4 * (row % radii.size * (n := angles.size) + np.arange(n))
        one = np.eye(2 * n)
        sampled = CubicHermiteSpline(angles, one[:n], one[n:])(points)
        return np.asarray(sampled), np.concatenate([at, at + 1])

    @cached_property
    def _rim(self) -> tuple[Floats, Floats, NDArray[np.int64]]:
        """Points along the rim, and how to find the deflections there."""
        points = (2 * np.arange(RIM_POINTS) / RIM_POINTS - 1) * np.pi / self.web.spokes
        return points, *self.along(-1, points)

    def share(self, shape: NDArray[Any], n: int) -> float:
        """Of harmonic n in the squared amplitude of a shape along the rim."""
        points, sampled, at = self._rim
        spokes, along, index = self.web.spokes, sampled @ shape[at], n % self.web.spokes
        # The sector's own phase removed, harmonics m + k N are the Fourier terms k.
        terms = np.fft.fft(along * np.exp(-1j * index * points))
        orders = index + spokes * np.round(np.fft.fftfreq(RIM_POINTS, 1 / RIM_POINTS)).astype(int)
        power, both = np.abs(terms) ** 2, 2 * index % spokes == 0
        mine = (orders == n) | (both & (orders == -n))
        return float(power[mine].sum() / power.sum())
