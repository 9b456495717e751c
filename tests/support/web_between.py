"""Waves of discs on spokes between the places where they were solved.

The waves of some nodal diameters are the solutions of one eigenvalue problem, and their speeds veer
where two come near each other: interpolated one by one they are wrong there by half of the gap. So
the problem itself is interpolated. The lowest waves of a place are written in states that keep
their shape from place to place: those of the neighbouring place, turned as little as possible, so
that a matrix of inverse speeds belongs to each place. Its entries are smooth; between the places
its eigenvalues are the waves, and its eigenvectors mix their shares.

References: Pacher, Cederbaum and Koeppel, Adiabatic and quasidiabatic states in a gauge theoretical
framework, Adv. Chem. Phys. 84, 1993 (from memory; there for molecules); Loewdin 1950 (turning).
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from tests.support.web_shapes import STEPS, phase_and_order
from tests.support.webbed_plane import Floats

NEVER = 400.0
"""Speed where no wave stands still."""
FIRST = (3, 2)
"""Place of bore and width from which states are followed."""
EMPHASIS = 2.0
"""Power of the inverse speed by which low waves keep their shape before high ones."""
Place = tuple[int, int, int]


@dataclass(frozen=True)
class Kind:
    """Waves that mix: of one phase index, and of one symmetry about the spoke if it has any."""

    phase_index: int
    spokes: int
    parity: int
    """1 or -1: alike or opposite on both sides of the spoke; 0: neither."""
    harmonic: int
    """Whose share is wanted."""

    @property
    def orders(self) -> NDArray[np.int64]:
        """Orders of the harmonics of a shape."""
        return np.asarray(self.phase_index + self.spokes * STEPS)

    def picked(self, numbers: Floats, shapes: Any) -> tuple[Floats, Floats]:
        """Waves of this kind among those of the phase index; real shapes (wave, circle, order)."""
        known = ~np.isnan(numbers[:, 0])
        flat = shapes[known].reshape(int(known.sum()), shapes[0].size)
        flat = flat * np.exp(-0.5j * np.angle(np.sum(flat**2, axis=1)))[:, np.newaxis]
        real = np.real(flat).reshape(len(flat), *shapes.shape[1:])
        if self.parity:
            here, there = self._opposite()
            alike = np.sum(real[..., here] * real[..., there], axis=(1, 2))
            mine = alike * self.parity > 0
            return numbers[known][mine], real[mine]
        return numbers[known], real

    def amplitude(self, rim: Floats) -> Floats:
        """Of the harmonic, of each shape along the rim (wave, order); both senses together."""
        at = np.flatnonzero(self.orders == self.harmonic)[0]
        both = self.parity != 0 and self.harmonic != 0
        return np.asarray(rim[:, at] * (np.sqrt(2.0) if both else 1.0))

    def _opposite(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        orders = self.orders
        here = np.flatnonzero(np.isin(-orders, orders))
        return here, np.array([np.flatnonzero(orders == -orders[k])[0] for k in here])


def kinds(spokes: int, phase_index: int, harmonic: int | None = None) -> list[Kind]:
    """All kinds of waves of a phase index; the share is of its own harmonic, if nothing is said."""
    if harmonic is None:
        harmonic = phase_index
    parities = (1, -1) if 2 * phase_index % spokes == 0 else (0,)
    return [Kind(phase_index, spokes, parity, harmonic) for parity in parities]


def kinds_of_wave(spokes: int, n: int) -> list[Kind]:
    """Kinds of waves of n nodal diameters."""
    phase_index, signed = phase_and_order(spokes, n)
    return kinds(spokes, phase_index, signed)


@dataclass(frozen=True)
class _Known:
    """Waves of one place, and their states."""

    numbers: Floats
    shapes: Floats
    turn: Floats
    """From states to waves, (wave, state)."""
    spare: Floats
    """States for which the place has no wave, (spare, state)."""
    state_shapes: Floats
    weight: Floats


@dataclass(frozen=True)
class Matrices:
    """Of all places, (bore, width, hub, state, state) and so on."""

    inverse: Floats
    """Inverse speeds."""
    amplitude: Floats
    """Of the harmonic along the rim, (..., state)."""
    rim: Floats
    """Products of amplitudes along the rim."""
    rest: Floats
    """Other numbers of the states, (..., state, number)."""

    def between(self, finer: Callable[[Floats], Floats]) -> "Matrices":
        """The same at other places."""
        return Matrices(*(finer(each) for each in vars(self).values()))

    def waves(self) -> tuple[Floats, Floats, Floats]:
        """Speed, share, and other numbers of all waves of each place, lowest first."""
        values, vectors = np.linalg.eigh(self.inverse)
        values, vectors = values[..., ::-1], vectors[..., ::-1]
        speed = 1 / np.maximum(values, 1 / NEVER)
        amplitude = np.einsum("...j,...jw->...w", self.amplitude, vectors)
        rim = np.einsum("...jw,...jk,...kw->...w", vectors, self.rim, vectors)
        share = np.clip(amplitude**2 / np.maximum(rim, 1e-30), 0.0, 1.0)
        return speed, share, np.einsum("...jw,...jq->...wq", vectors**2, self.rest)


def matrices_of(
    numbers: Floats, shapes: Any, kind: Kind, mass: Callable[[Floats], Floats]
) -> Matrices:
    """Matrices of all places from their waves (bore, width, hub, wave, number) and shapes.

    Numbers: speed first. `mass` gives that of waves from their numbers, shapes being of unit
    stiffness, or ones if shapes are of unit mass.
    """
    size = numbers.shape[3]
    known: dict[Place, _Known] = {}
    for place, before in _walk(numbers.shape[:3]):
        waves, own = kind.picked(numbers[place], shapes[place])
        known[place] = _turned(waves, own, None if before is None else known[before], size)
    found: list[list[Floats]] = [[], [], [], []]
    for place in np.ndindex(*numbers.shape[:3]):
        one = known[place]
        turn, waves = one.turn, one.numbers
        rim = one.shapes[:, -1] / np.sqrt(mass(waves))[:, np.newaxis]
        inverse = turn.T @ (turn / waves[:, :1]) + one.spare.T @ one.spare / NEVER
        numbers_of = (inverse, turn.T @ kind.amplitude(rim), turn.T @ (rim @ rim.T) @ turn)
        for part, value in zip(found, (*numbers_of, (turn**2).T @ waves[:, 1:]), strict=True):
            part.append(value)
    return Matrices(*(np.stack(p).reshape(*numbers.shape[:3], *p[0].shape) for p in found))


def _walk(shape: tuple[int, ...]) -> Iterator[tuple[Place, Place | None]]:
    """All places, each with the one before it: along the bores, then widths, then hubs."""
    n_bores, n_widths, n_hubs = shape
    hub = n_hubs // 2
    yield (*FIRST, hub), None
    for bores in (range(FIRST[0] + 1, n_bores), range(FIRST[0] - 1, -1, -1)):
        step = 1 if bores.step > 0 else -1
        for bore in bores:
            yield (bore, FIRST[1], hub), (bore - step, FIRST[1], hub)
    for bore in range(n_bores):
        for widths in (range(FIRST[1] + 1, n_widths), range(FIRST[1] - 1, -1, -1)):
            step = 1 if widths.step > 0 else -1
            for width in widths:
                yield (bore, width, hub), (bore, width - step, hub)
        for width in range(n_widths):
            for other in range(n_hubs):
                if other != hub:
                    yield (bore, width, other), (bore, width, hub)


def _turned(waves: Floats, shapes: Floats, before: _Known | None, size: int) -> _Known:
    """States of a place: those of the place before, turned as little as its waves allow."""
    count = len(waves)
    flat = shapes.reshape(count, shapes.shape[1] * shapes.shape[2])
    flat = flat / np.linalg.norm(flat, axis=1, keepdims=True)
    if before is None:
        states = np.zeros((size, flat.shape[1]))
        states[:count] = flat
        turn, spare = np.eye(count, size), np.eye(size)[count:]
    else:
        states = before.state_shapes
        low = waves[:, 0] ** -EMPHASIS
        overlap = low[:, np.newaxis] * (flat @ states.T) * before.weight**EMPHASIS
        left, _, right = np.linalg.svd(overlap, full_matrices=True)
        turn, spare = left @ right[:count], right[count:]
    mine = turn.T @ flat + spare.T @ (spare @ states)
    mine = mine / np.maximum(np.linalg.norm(mine, axis=1, keepdims=True), 1e-9)
    weight = np.maximum((turn**2).T @ (1 / waves[:, 0]), 1 / NEVER)
    return _Known(waves, shapes, turn, spare, mine, weight)


def finer(
    bores: tuple[Floats, Floats], widths: tuple[Floats, Floats], hubs: tuple[Floats, Floats]
) -> Callable[[Floats], Floats]:
    """What takes numbers of the solved places (bore, width, hub, ...) to finer ones.

    Solved and finer places of each. Cubic splines along bore and width, which counts in places; a
    polynomial along the hub.
    """
    across, along = (CubicSpline(x, np.eye(x.size))(to) for x, to in (widths, bores))
    solved, fine = hubs
    parabola = np.stack(
        [np.prod([(fine - b) / (a - b) for b in solved if b != a], axis=0) for a in solved],
        axis=1,
    )

    def of(values: Floats) -> Floats:
        found = np.einsum("ib,bwh...->iwh...", along, values)
        found = np.einsum("jw,iwh...->ijh...", across, found)
        if values.shape[2] > 1:
            found = np.einsum("kh,ijh...->ijk...", parabola, found)
        return np.asarray(found)

    return of
