"""The march on one grid: when it has come to rest, and what it leaves over."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Lanes
from engine.physics.plane.grid import GHOSTS, Grid
from engine.physics.plane.law import Law
from engine.physics.plane.march_kernel import advance, to_conserved, to_field
from engine.physics.plane.mouths import Jets, Nozzles, jets_at, mouth_of
from engine.physics.plane.surroundings import (
    BORE_ENERGY,
    BORE_MASS,
    BORE_MOMENTUM,
    CASING_TORQUE,
    EDGE_TORQUE,
    GAP_TORQUE,
    JET_ENERGY,
    JET_MASS,
    JET_MOMENTUM,
    LEAK_ENERGY,
    LEAK_MASS,
    LEAK_MOMENTUM,
    MOUTH_AREA,
    MOUTH_PUSH,
    N_TALLY,
    Surroundings,
)

COURANT = 0.7
"""Courant number of the march."""
ROUND, ROUNDS, WINDOW = 200, 200, 10
"""Steps between two looks at the mouths; most looks on a grid; looks over which torques rest."""
FOLLOWED = 0.2
"""Share by which the jets follow the pressure in front of the mouths, at each look."""
SWINGING_FROM, MEAN_CLOSED, MEAN_RESTS = 60, 5e-3, 2e-3
"""Looks after which a flow that does not rest is taken by its mean over the last third of them;
residual, and change from third to third over the rotor torque, below which that mean is good. Steps
differ from cell to cell and change with the flow, so a mean does not balance to the last digit."""


@dataclass(frozen=True)
class Look:
    """Sums over the steps of one look, or their mean over several."""

    tally: Lanes  # of the whole machine
    entering: Lanes  # by column, without ghosts, of the whole machine

    @property
    def torques(self) -> Lanes:
        """Of rotor and casing."""
        t = self.tally
        return np.array([t[EDGE_TORQUE] + t[GAP_TORQUE], t[CASING_TORQUE]])


@dataclass(frozen=True)
class Marched:
    """End of a march on one grid."""

    field: Lanes  # without ghosts
    look: Look
    seen: float  # pressure to which the jets expand
    jets: Jets
    residuals: tuple[float, float, float]
    swing: float  # of the rotor torque from look to look, over the torque
    settled: bool
    steps: int


def march_to_rest(
    *,
    law: Law,
    grid: Grid,
    around: Surroundings,
    nozzles: Nozzles,
    field: Lanes,
    seen: float,
    closed: float,
    tell: Callable[[float, float, float], None],
) -> Marched:
    """March until the balances close and the torques rest; the jets follow the mouths' pressure.

    Parameters
    ----------
    law : Law
        The solver's law [-].
    grid : Grid
        The cells [-].
    around : Surroundings
        Walls and ends [-].
    nozzles : Nozzles
        What brings the jets [-].
    field : Lanes
        Start: density, radial speed, swirl and shifted pressure, by row and column without ghosts
        [SI].
    seen : float
        Pressure to which the jets expand at first [Pa].
    closed : float
        Residual and relative change below which the flow rests [-].
    tell : Callable
        Called after each look with the share of the most looks, rotor torque and residual [-].

    Returns
    -------
    Marched
        The flow; NaN in its sums where the march has failed.

    References
    ----------
    Derived here.

    """
    field = np.pad(field, ((0, 0), (0, 0), (GHOSTS, GHOSTS)), mode="wrap")
    held, entering, tally = np.zeros_like(field), np.zeros((3, field.shape[2])), np.zeros(N_TALLY)
    to_conserved(law, grid, field, held)
    jets, looks = jets_at(nozzles=nozzles, law=law, pressure=seen), list[Look]()
    mean, residuals, settled = Look(tally, entering), (np.nan,) * 3, False
    while not settled and len(looks) < ROUNDS:
        mouth = mouth_of(grid=grid, nozzles=nozzles, jets=jets)
        change = advance(
            law, grid, around, mouth, held, field, entering, tally, COURANT, 0.0, ROUND
        )
        if not math.isfinite(change):
            mean = Look(np.full_like(tally, np.nan), np.full_like(entering, np.nan))
            residuals = (np.nan,) * 3
            break
        inner = entering[:, GHOSTS:-GHOSTS] * nozzles.count
        looks.append(Look(tally * nozzles.count, inner))
        mean, residuals, settled = _settled(law, around, jets, looks, closed)
        worst = max(abs(residuals[0]), abs(residuals[1]))
        tell(len(looks) / ROUNDS, mean.torques[0], worst)
        # The jets follow the pressure in front of their mouths.
        now = looks[-1].tally
        seen += FOLLOWED * (now[MOUTH_PUSH] / now[MOUTH_AREA] - law.shift - seen)
        jets = jets_at(nozzles=nozzles, law=law, pressure=seen)
    recent = np.array([look.torques[0] for look in looks[-WINDOW:]] or [np.nan])
    swing = float((recent.max() - recent.min()) / abs(mean.torques[0]))
    to_field(law, grid, held, field)
    return Marched(
        field=field[:, :, GHOSTS:-GHOSTS],
        look=mean,
        seen=seen,
        jets=jets,
        residuals=residuals,
        swing=swing,
        settled=settled,
        steps=len(looks) * ROUND,
    )


def _settled(
    law: Law, around: Surroundings, jets: Jets, looks: list[Look], closed: float
) -> tuple[Look, tuple[float, float, float], bool]:
    """Tell whether the flow rests, or swings about a mean that rests; give the last look, or that.

    A shock or a shear layer may swing for ever, in steps that are no time; means then do.
    """
    mean = looks[-1]
    residuals = _residuals(law, around, jets, mean.tally)
    if len(looks) <= WINDOW:
        return mean, residuals, False
    recent = np.stack([look.torques for look in looks[-WINDOW:]])
    swing = np.ptp(recent, axis=0) / abs(recent[-1, 0])
    if max(abs(residuals[0]), abs(residuals[1]), *swing) < closed:
        return mean, residuals, True
    if len(looks) < SWINGING_FROM:
        return mean, residuals, False
    third = len(looks) // 3
    mean, earlier = _mean(looks[-third:]), _mean(looks[-2 * third : -third])
    residuals = _residuals(law, around, jets, mean.tally)
    drift = np.abs(mean.torques - earlier.torques) / abs(mean.torques[0])
    balances = max(abs(residuals[0]), abs(residuals[1])) < MEAN_CLOSED
    return mean, residuals, bool(balances and drift.max() < MEAN_RESTS)


def _mean(looks: list[Look]) -> Look:
    tally = np.mean([look.tally for look in looks], axis=0)
    return Look(tally, np.mean([look.entering for look in looks], axis=0))


def _residuals(
    law: Law, around: Surroundings, jets: Jets, whole: Lanes
) -> tuple[float, float, float]:
    """Tell what the balances of mass, angular momentum and energy leave over."""
    friction = whole[EDGE_TORQUE] + whole[GAP_TORQUE]
    mass = whole[JET_MASS] - whole[BORE_MASS] - whole[LEAK_MASS]
    momentum = whole[JET_MOMENTUM] - whole[BORE_MOMENTUM] - whole[LEAK_MOMENTUM]
    momentum -= whole[CASING_TORQUE] + friction
    energy = whole[JET_ENERGY] - whole[BORE_ENERGY] - whole[LEAK_ENERGY]
    energy -= around.angular_speed * friction
    # Without the enthalpy of what has not yet left: that is the mass balance again.
    content = law.exponent / (law.exponent - 1) * law.pressure / law.density
    energy -= content * mass
    moving = whole[JET_MASS] * jets.speed**2 / 2
    return (
        float(mass / whole[JET_MASS]),
        float(momentum / whole[JET_MOMENTUM]),
        float(energy / moving),
    )
