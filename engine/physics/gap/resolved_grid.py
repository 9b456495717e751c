"""Spectral matrices across half the gap, for flow that is symmetric about mid-gap."""

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import NDArray

from engine.physics.arrays import Lanes


@dataclass(frozen=True)
class HalfGap:
    """Matrices on n interior nodes, for even functions that vanish at the wall."""

    nodes: Lanes
    """Distance from mid-gap over half the gap, wall (1) first, shape (n + 1,) [-]."""
    slope: Lanes
    """Interior values of an even function to its slope at all nodes, shape (n + 1, n)."""
    divergence: Lanes
    """Values of an odd function at all nodes to its slope at the interior, shape (n, n + 1)."""
    second: Lanes
    """Interior values of an even function to its curvature there, shape (n, n)."""
    integral: Lanes
    """Interior values of an even function to its integral from mid-gap, shape (n, n)."""
    weights: Lanes
    """Interior values of an even function to its mean over the gap, shape (n,)."""
    middle: Lanes
    """Interior values of an even function to its value in mid-gap, shape (n,)."""
    stretch: float
    """Extra clustering at the wall, as in `half_gap` [-]."""

    @property
    def n_nodes(self) -> int:
        """Number of interior nodes."""
        return self.weights.size


def half_gap(*, n_nodes: int, stretch: float = 0.0) -> HalfGap:
    """Chebyshev collocation across half the gap with even polynomials.

    Parameters
    ----------
    n_nodes : int
        Interior nodes between mid-gap and wall, at least 2.
    stretch : float
        Extra clustering at the wall [-]: nodes move to tanh(stretch y) / tanh(stretch); 0 keeps
        the Chebyshev points.

    Returns
    -------
    HalfGap
        Differentiation, integration and averaging as matrices.

    Notes
    -----
    The mapping is odd, so even functions stay even and symmetry about mid-gap needs no boundary
    condition. The points are half of a grid across the full gap that has no middle point.

    References
    ----------
    Trefethen 2000, Spectral Methods in MATLAB, chapters 6 and 8; the even basis is derived here.

    Examples
    --------
    >>> grid = half_gap(n_nodes=10)
    >>> parabola = 1.5 * (1 - grid.nodes[1:] ** 2)
    >>> round(float(grid.weights @ parabola), 12)
    1.0

    """
    points = np.cos(np.pi * np.arange(n_nodes + 1) / (2 * n_nodes + 1))
    units = np.eye(2 * n_nodes + 2)
    even, odd = units[0::2], units[1::2]
    if stretch > 0:
        nodes = np.tanh(stretch * points) / np.tanh(stretch)
        metric = stretch / np.tanh(stretch) / np.cosh(stretch * points) ** 2
    else:
        nodes, metric = points, np.ones_like(points)
    from_even = np.linalg.inv(_columns(points, even))
    from_odd = np.linalg.inv(_columns(points, odd))
    slope = _columns(points, chebyshev.chebder(even, axis=1)) @ from_even / metric[:, None]
    divergence = _columns(points, chebyshev.chebder(odd, axis=1)) @ from_odd / metric[:, None]
    primitives = chebyshev.chebint(even, axis=1, lbnd=0)
    integral = _columns(points, primitives) @ from_even * metric
    return HalfGap(
        nodes=nodes,
        slope=slope[:, 1:],
        divergence=divergence[1:],
        second=divergence[1:] @ slope[:, 1:],
        integral=integral[1:, 1:],
        weights=integral[0, 1:],
        middle=(_columns(np.zeros(1), even) @ from_even)[0, 1:],
        stretch=stretch,
    )


def carried(*, source: HalfGap, target: HalfGap) -> Lanes:
    """Matrix that carries an even function that vanishes at the wall from one grid to another.

    Parameters
    ----------
    source, target : HalfGap
        Grids with the same stretch; another one raises ValueError.

    Returns
    -------
    Lanes
        Interior values on the source to interior values on the target, shape (m, n) [-].

    References
    ----------
    As `half_gap`: the polynomial through all nodes.

    """
    if source.stretch != target.stretch:
        message = f"grids with stretch {source.stretch} and {target.stretch} are not alike"
        raise ValueError(message)
    even = np.eye(2 * source.n_nodes + 2)[0::2]
    here, there = (
        np.cos(np.pi * np.arange(n + 1) / (2 * n + 1)) for n in (source.n_nodes, target.n_nodes)
    )
    return (_columns(there, even) @ np.linalg.inv(_columns(here, even)))[1:, 1:]


def _columns(points: Lanes, coefficients: NDArray[np.floating]) -> Lanes:
    """Chebyshev series at the points, one series a column."""
    return np.asarray(chebyshev.chebval(points, coefficients.T), dtype=np.float64).T
