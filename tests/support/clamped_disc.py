"""Waves in a spinning disc that is clamped all round its bore: a limit of the disc on spokes."""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import NDArray

from engine.physics.arrays import Array, Lanes, ValidRange
from engine.physics.machine.disc import rotating_stress, thermal_stress

PLATE_RANGE = ValidRange(
    "Kirchhoff plate theory; the ends of the table of modes",
    {"radius_ratio": (0.02, 0.85), "poisson": (0.15, 0.45), "thickness_ratio": (0.0, 0.1)},
)
"""Clamp over rim radius, Poisson's ratio, thickness over rim radius."""

NODAL_DIAMETERS = np.arange(13)
"""Nodal diameters of the modes, which stand on the last axis. In thin rings (ratio above 0.7) the
first standing wave has more than six."""

_TERMS = 18  # of a shape function
_STATIONS = 48  # of the integrals along the radius


@dataclass(frozen=True)
class ModeTable:
    """Modes of plates over radius ratio and Poisson's ratio, as piecewise cubics.

    Three quantities: lambda^2 (1 - ratio)^2, which is close to that of a cantilever strip, the
    stiffening B, and the softening by heat.
    """

    ends: Lanes
    """Radius ratio at which each piece begins, and the end of the last [-]."""
    pieces: Lanes
    """Coefficients, (piece, power of the distance from its beginning, power of Poisson's ratio less
    the middle of its range, quantity, mode)."""


@dataclass(frozen=True)
class DiscModes:
    """Modes of each disc by nodal diameters, on the last axis, as `NODAL_DIAMETERS`."""

    frequency: Lanes
    """Angular frequency at standstill [rad/s]; 0 where heat has buckled the disc."""
    stiffening: Lanes
    """Southwell's B [-]: frequency squared, seen from the disc, grows by B times speed squared."""


@dataclass(frozen=True)
class StandingWave:
    """The first backward wave that stands still in the casing."""

    speed: Lanes
    """Angular speed [rad/s]."""
    nodal_diameters: Lanes
    """Nodal diameters of that wave [-]."""


def disc_modes(
    *,
    r_inner: Array,
    r_outer: Array,
    thickness: Array,
    density: Array,
    youngs_modulus: Array,
    poisson: Array,
    expansion: Array = 0.0,
    temperature_difference: Array = 0.0,
    table: ModeTable | None = None,
) -> DiscModes:
    """Natural frequencies of a thin disc clamped at its bore, and its stiffening by rotation.

    All arguments broadcast; results have their common shape and the modes on one more axis.

    Parameters
    ----------
    r_inner, r_outer : Array
        Clamp and rim radius [m]; their ratio from 0.02 to 0.85.
    thickness : Array
        Disc thickness [m].
    density : Array
        Disc material [kg/m3].
    youngs_modulus : Array
        Young's modulus [Pa].
    poisson : Array
        Poisson's ratio [-], 0.15 to 0.45.
    expansion : Array
        Linear thermal expansion [1/K].
    temperature_difference : Array
        Rim temperature less bore temperature [K], linear between them.
    table : ModeTable | None
        Result of `mode_table` where it was stored; else it is calculated once.

    Returns
    -------
    DiscModes
        Frequencies [rad/s] and stiffening [-]; NaN outside the table.

    Notes
    -----
    Flexible spokes inside the clamp radius lower the frequencies; then give the radius at which the
    disc is really clamped. Mass and stiffness of the gas between the discs are left out. A rim
    hotter than the bore is under compression, and the disc loses stiffness. This is calculated to
    first order with the shape of the cold mode: within 0.2 % of the full solution up to nine tenths
    of the temperature difference at buckling. From two nodal diameters up, B belongs to the shape
    of the mode at the speed where its wave stands still, so that this speed is exact and B is never
    above Southwell's at standstill. Below two, B belongs to the shape at standstill.

    References
    ----------
    Lamb and Southwell, The vibrations of a spinning disk, Proc. R. Soc. A 99, 1921; Southwell,
    Proc. R. Soc. A 101, 1922; Rayleigh-Ritz solution derived here. Values: Leissa, Vibration of
    Plates, NASA SP-160, 1969, ch. 2.

    Examples
    --------
    >>> modes = disc_modes(r_inner=0.03, r_outer=0.1, thickness=1e-3, density=8000.0,
    ...                    youngs_modulus=200e9, poisson=0.3)
    >>> modes.frequency[:4].round(0).tolist()
    [1008.0, 991.0, 1204.0, 2009.0]

    """
    ratio, nu = np.broadcast_arrays(
        np.asarray(r_inner, dtype=float) / r_outer, np.asarray(poisson, dtype=float)
    )
    rigidity = youngs_modulus * np.power(thickness, 3) / (12 * (1 - np.square(poisson)))
    scale = np.sqrt(rigidity / (density * thickness)) / np.square(r_outer)
    pressed = youngs_modulus * expansion * temperature_difference * thickness
    heat = pressed * np.square(r_outer) / rigidity
    shape = np.broadcast_shapes(ratio.shape, np.shape(scale), np.shape(heat))
    lambda_squared, stiffening, softening = _plate_modes(
        ratio, nu, mode_table() if table is None else table
    )
    warm = 1 + np.asarray(heat)[..., np.newaxis] * softening
    frequency = np.asarray(scale)[..., np.newaxis] * lambda_squared * np.sqrt(np.maximum(warm, 0))
    target = (*shape, NODAL_DIAMETERS.size)
    return DiscModes(np.broadcast_to(frequency, target), np.broadcast_to(stiffening, target))


def standing_wave(*, frequency: Array, stiffening: Array) -> StandingWave:
    """Lowest speed at which a backward wave of two or more nodal diameters stands still.

    Shapes: (..., modes) as `DiscModes`; the results lose the last axis.

    Parameters
    ----------
    frequency : Array
        Angular frequency at standstill by nodal diameters [rad/s].
    stiffening : Array
        Southwell's B by nodal diameters [-].

    Returns
    -------
    StandingWave
        Speed [rad/s] and nodal diameters [-]; NaN where the frequencies are NaN.

    Notes
    -----
    In the frame of the disc a wave runs backward at the angular speed frequency/n. It stands still
    in the casing where sqrt(omega_0^2 + B Omega^2) = n Omega. There any steady force, such as that
    of a jet, bends the disc without limit. Waves with no or one nodal diameter never stand still.

    References
    ----------
    Lamb and Southwell, Proc. R. Soc. A 99, 1921; for saw blades it is called the critical speed.

    Examples
    --------
    >>> wave = standing_wave(frequency=np.array([4.0, 3.0, 6.0, 12.0]),
    ...                      stiffening=np.array([0.5, 1.1, 2.4, 4.2]))
    >>> round(float(wave.speed), 2), int(wave.nodal_diameters)
    (4.74, 2)

    """
    modes = np.asarray(frequency, dtype=float)
    n = np.arange(2, modes.shape[-1])
    room = np.square(n) - np.asarray(stiffening, dtype=float)[..., 2:]
    with np.errstate(divide="ignore", invalid="ignore"):
        speed = np.where(room <= 0, np.inf, modes[..., 2:] / np.sqrt(room))
    first = np.argmin(speed, axis=-1)
    lowest = np.min(speed, axis=-1)
    return StandingWave(lowest, np.where(np.isfinite(lowest), n[first], np.nan))


@cache
def mode_table() -> ModeTable:
    """Solve the modes of plates over the whole range of radius ratio; takes half a second.

    Returns
    -------
    ModeTable
        Cubic splines through 48 solutions, which lie closer where the clamp is small.

    References
    ----------
    As `disc_modes`.

    Examples
    --------
    >>> mode_table().pieces.shape
    (47, 4, 4, 3, 13)

    """
    from scipy.interpolate import CubicSpline  # noqa: PLC0415  not before it is needed

    low, high = PLATE_RANGE.bounds["radius_ratio"]
    ratios = low + (high - low) * np.linspace(0, 1, 48) ** 1.5
    nodes = np.linspace(*PLATE_RANGE.bounds["poisson"], 4)
    values = np.array([_solve_modes(ratio, nodes) for ratio in ratios])
    spline = CubicSpline(ratios, np.einsum("pv,rvqn->rpqn", np.linalg.inv(_powers(nodes)), values))
    pieces = np.ascontiguousarray(np.moveaxis(spline.c[::-1], 0, 1))
    return ModeTable(np.asarray(spline.x), pieces)


def _plate_modes(ratio: Lanes, nu: Lanes, table: ModeTable) -> NDArray[np.float64]:
    """Interpolate lambda^2, B and softening by heat; shape (3, lanes..., modes)."""
    ends, nu_ends = PLATE_RANGE.bounds["radius_ratio"], PLATE_RANGE.bounds["poisson"]
    inside = (ratio >= ends[0]) & (ratio <= ends[1]) & (nu >= nu_ends[0]) & (nu <= nu_ends[1])
    within = np.where(inside, ratio, ends[0])
    piece = np.searchsorted(table.ends[1:-1], within, side="right")
    along = (within - table.ends[piece])[..., np.newaxis] ** np.arange(4)
    weights = along[..., :, np.newaxis] * _powers(nu)[..., np.newaxis, :]
    found = np.einsum("...kp,...kpqn->q...n", weights, table.pieces[piece])
    found[0] /= np.square(1 - ratio)[..., np.newaxis]
    return np.where(inside[..., np.newaxis], found, np.nan)


def _powers(poisson: Lanes) -> Lanes:
    """Powers for the interpolation between four values of Poisson's ratio."""
    return (poisson - np.mean(PLATE_RANGE.bounds["poisson"]))[..., np.newaxis] ** np.arange(4)


def _solve_modes(ratio: float, poisson: NDArray[np.float64]) -> NDArray[np.float64]:
    """Rayleigh-Ritz solution at one radius ratio; shape (poisson, quantity, mode).

    Shape functions (r - clamp)^2 P_j(r) cos(n theta), with Legendre polynomials P_j. Lengths are
    over the rim radius, energies over the rigidity (bending) and over density, thickness and speed
    (mass, rotation). Matrices have the shape (poisson, mode, term, term).
    """
    # Gauss-Legendre integration along the radius.
    station, weight = legendre.leggauss(_STATIONS)
    half = (1 - ratio) / 2
    r = (ratio + half * (1 + station))[:, np.newaxis]
    area = (weight * half)[:, np.newaxis] * r
    n = NODAL_DIAMETERS[:, np.newaxis, np.newaxis]
    nu = poisson[:, np.newaxis, np.newaxis, np.newaxis]

    def energy(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
        """Integrals of all products of two sets of functions."""
        return np.swapaxes(a * area, -1, -2) @ b

    # Bending stiffness (Kirchhoff plate): radial and hoop curvature, twist.
    w, slope, bend = _shape_functions(station[:, np.newaxis], half)
    hoop_bend = slope / r - n**2 * w / r**2
    twist = n * (slope / r - w / r**2)
    cross = energy(bend, hoop_bend)
    laplacian = bend + hoop_bend
    stiffness = energy(laplacian, laplacian) + (1 - nu) * (
        2 * energy(twist, twist) - cross - np.swapaxes(cross, -1, -2)
    )
    # Mass; stiffness by the in-plane stresses of rotation, and of a hot rim.
    mass = energy(w, w)
    spin = rotating_stress(density=1.0, speed=1.0, r_inner=ratio, r_outer=1.0, poisson=nu, radius=r)
    heat = thermal_stress(
        youngs_modulus=1.0,
        expansion=1.0,
        temperature_difference=1.0,
        r_inner=ratio,
        r_outer=1.0,
        radius=r,
    )
    membrane, warming = (
        energy(slope * stress.radial, slope) + n**2 * energy(w / r * stress.hoop, w / r)
        for stress in (spin, heat)
    )
    # Eigenvalues over the stiffness.
    root = np.linalg.inv(np.linalg.cholesky(stiffness))

    def largest(form: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Largest eigenvalue of a form over the stiffness, and its shape."""
        values, vectors = np.linalg.eigh(root @ form @ np.swapaxes(root, -1, -2))
        return values[..., -1], np.swapaxes(root, -1, -2) @ vectors[..., -1:]

    def over_stiffness(
        form: NDArray[np.float64], shape: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Rayleigh quotient of a form over the stiffness, for a shape of unit stiffness."""
        return (np.swapaxes(shape, -1, -2) @ form @ shape)[..., 0, 0]

    # Frequency at standstill, and speed at which the wave stands still.
    flexibility, at_rest = largest(mass)
    standing, at_critical = largest(n**2 * mass - membrane)
    # Southwell's B, and softening by heat in the same shape.
    waves = NODAL_DIAMETERS >= 2
    stiffening = np.where(
        waves,
        NODAL_DIAMETERS**2 - standing / flexibility,
        over_stiffness(membrane, at_rest) / flexibility,
    )
    shape = np.where(waves[:, np.newaxis, np.newaxis], at_critical, at_rest)
    softening = over_stiffness(warming, shape)
    return np.stack([(1 - ratio) ** 2 / np.sqrt(flexibility), stiffening, softening], axis=1)


def _shape_functions(
    station: NDArray[np.float64], half: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Clamped polynomials and their first and second derivatives along r; shape (station, term)."""
    unit, s = np.eye(_TERMS), station[:, 0]
    p = legendre.legvander(s, _TERMS - 1)
    p1, p2 = (legendre.legval(s, legendre.legder(unit, k)).T for k in (1, 2))
    z = 1 + station
    return (
        z**2 * p,
        (2 * z * p + z**2 * p1) / half,
        (2 * p + 4 * z * p1 + z**2 * p2) / half**2,
    )
