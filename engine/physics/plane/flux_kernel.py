"""Fluxes between cells, a pack at a time: limited slopes and the solver of Riemann's problem.

A state has four rows: density, speed along the normal of the face, speed across it, pressure. A
flux has four: mass, momentum along the normal, momentum across it, energy.
"""

from engine.physics.arrays import Lanes
from engine.physics.compiled import PACK, compiled, inlined, line, root

N_STATE = 4
"""Rows of a state and of a flux."""
TINY = 1e-300
"""Keeps a divisor from being 0."""


@inlined
def limited(behind: float, ahead: float) -> float:
    """Slope of a cell from those to its neighbours: their harmonic mean, 0 at an extremum."""
    product = behind * ahead
    return 2 * product / (behind + ahead) if product > 0 else 0.0


@compiled
def hllc(exponent: float, left: Lanes, right: Lanes, flux: Lanes) -> None:
    """Fluxes of a pack of faces between two states of a perfect gas."""
    mass, normal, across, energy = line(PACK), line(PACK), line(PACK), line(PACK)
    excess, per_excess = exponent - 1, 1 / (exponent - 1)
    for i in range(PACK):
        rl, ul, vl, pl = left[0, i], left[1, i], left[2, i], left[3, i]
        rr, ur, vr, pr = right[0, i], right[1, i], right[2, i], right[3, i]
        # Energies, and the speeds of the outer waves by Roe's mean state (Einfeldt).
        el = pl * per_excess + 0.5 * rl * (ul * ul + vl * vl)
        er = pr * per_excess + 0.5 * rr * (ur * ur + vr * vr)
        wl, wr = root(rl), root(rr)
        per_weight = 1 / (wl + wr)
        um, vm = (wl * ul + wr * ur) * per_weight, (wl * vl + wr * vr) * per_weight
        hm = (wl * (el + pl) / rl + wr * (er + pr) / rr) * per_weight
        inner = excess * (hm - 0.5 * (um * um + vm * vm))
        least = 1e-6 * (pl + pr) / (rl + rr)
        am = root(max(least, inner))
        al, ar = root(exponent * pl / rl), root(exponent * pr / rr)
        sl = min(um - am, ul - al)
        sr = max(um + am, ur + ar)
        # Speed of the middle wave; the face lies in the state on its upwind side.
        ql, qr = rl * (sl - ul), rr * (sr - ur)
        ss = (pr - pl + ql * ul - qr * ur) / (ql - qr)
        is_left = ss >= 0
        r, u, v = rl if is_left else rr, ul if is_left else ur, vl if is_left else vr
        p, e, q = pl if is_left else pr, el if is_left else er, ql if is_left else qr
        s = sl if is_left else sr
        k = q / (s - ss)
        starred = k * (e / r + (ss - u) * (ss + p / q))
        # Beyond the outer wave the state is the undisturbed one.
        outer = (s if s < 0 else 0.0) if is_left else (s if s > 0 else 0.0)
        mass[i] = r * u + outer * (k - r)
        normal[i] = r * u * u + p + outer * (k * ss - r * u)
        across[i] = r * u * v + outer * (k - r) * v
        energy[i] = u * (e + p) + outer * (starred - e)
    for i in range(PACK):
        flux[0, i], flux[1, i], flux[2, i], flux[3, i] = mass[i], normal[i], across[i], energy[i]
