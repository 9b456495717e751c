"""Interpolation in the tables of discs on spokes, and waves from it; see `web_places`."""

import math

import numpy as np

from engine.physics.arrays import Lanes, Numbers
from engine.physics.compiled import entry, inlined

SPEED, STIFFENING, BY_POISSON, SOFTENING, FLUID, SHARE, FIRST = 0, 1, 2, 3, 4, 5, 6
"""Quantities of a wave in the tables; from `FIRST` on, those of the wave that is asked first."""
NEVER = 300.0
"""Speed that stands for a wave that never stands still, over the scale of speeds."""
EITHER, WEB, HUB = 0, 1, 2
"""What holds a disc."""


@inlined
def _mixed(
    table: Lanes,
    lower: int,
    n_widths: int,
    bore: float,
    width: float,
    hub: int,
    beyond: float,
    found: Lanes,
) -> None:
    """Sum of the columns of a table (row, hub, column) at the corners around a lane, by weight."""
    n_hubs = 2 if table.shape[1] > 1 else 1
    found[:] = 0.0
    for part in range(n_hubs):
        of_hub = 1.0 if n_hubs == 1 else beyond if part else 1.0 - beyond
        at = hub + part if n_hubs > 1 else 0
        for i in range(2):
            of_bore = of_hub * (bore if i else 1.0 - bore)
            for j in range(2):
                weight = of_bore * (width if j else 1.0 - width)
                row = table[lower + i * n_widths + j, at]
                for column in range(row.size):
                    found[column] += weight * row[column]


@entry
def weighted_rows(
    table: Lanes,
    lower: Numbers,
    n_widths: int,
    bore: Lanes,
    width: Lanes,
    hub: Numbers,
    beyond: Lanes,
    found: Lanes,
) -> None:
    """Fill each lane with what lies between the places of a table (row, hub, column)."""
    for lane in range(lower.size):
        _mixed(
            table, lower[lane], n_widths, bore[lane], width[lane], hub[lane], beyond[lane],
            found[lane],
        )  # fmt: skip


@entry
def standing_waves(
    gripped: Lanes,
    alone: Lanes,
    hold: int,
    least_share: float,
    lower: Numbers,
    n_widths: int,
    bore: Lanes,
    width: Lanes,
    hub: Numbers,
    beyond: Lanes,
    off: Lanes,
    heat: Lanes,
    moved: Lanes,
    scale: Lanes,
    found: Lanes,
) -> None:
    """Fill (speed, stiffening, share, whether of the hub) of each lane's waves.

    Tables are (row, hub, quantity * wave). `off` is Poisson's ratio less that of the tables, `heat`
    the pressed force and `moved` the mass of the fluid, `scale` the unit of speed, NaN outside.
    """
    n_waves = found.shape[2]
    whole, part = np.empty(gripped.shape[2]), np.empty(alone.shape[2])
    for lane in range(lower.size):
        where = lower[lane], n_widths, bore[lane], width[lane], hub[lane], beyond[lane]
        if hold != HUB:
            _mixed(gripped, *where, whole)
        if hold != WEB:
            _mixed(alone, *where, part)
        for wave in range(n_waves):
            best, is_hub, best_at = np.inf, False, wave
            for of_hub in (False, True):
                if hold == (WEB if of_hub else HUB):
                    continue
                row = part if of_hub else whole
                # The lowest wave that may count; if its share is too small here, the next one.
                base = FIRST * n_waves + wave
                if not row[SHARE * n_waves + base] >= least_share:
                    base = wave
                turning = (wave + 1.0) * (wave + 1.0)
                warm = max(1.0 + heat[lane] * row[SOFTENING * n_waves + base], 0.0)
                room = max(turning - row[STIFFENING * n_waves + base], 1e-9)
                fluid = max(row[FLUID * n_waves + base], 0.0)
                wet = room / (room + turning * moved[lane] * fluid)
                log = row[SPEED * n_waves + base] + row[BY_POISSON * n_waves + base] * off[lane]
                speed = math.exp(log) * math.sqrt(warm * wet)
                if not speed >= best:  # also where it is unknown
                    best, is_hub, best_at = speed, of_hub, base
            row = part if is_hub else whole
            found[0, lane, wave] = (np.inf if best > NEVER else best) * scale[lane]
            found[1, lane, wave] = row[STIFFENING * n_waves + best_at]
            found[2, lane, wave] = row[SHARE * n_waves + best_at]
            found[3, lane, wave] = is_hub
