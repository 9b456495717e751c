"""Makes `shared/disc-webs.npz`, the waves and peak stresses of discs on spokes.

    python -m tests.support.web_tables

takes about three quarters of an hour on one core. The waves that it solves are kept beside the
working folder in `disc-webs-raw.npz`, so that an interrupted run goes on.
"""

import logging
import sys
import time
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import scipy.linalg
from numpy.typing import NDArray

from engine.files import write_whole
from engine.physics.machine.web import (
    FILLET_OF_LENGTH,
    FILLET_OF_SPOKE,
    FILLET_PLACES,
    HOLE_PLACES,
    HUB_PLACES,
    LARGEST_HUB,
    MODES_AT_REST,
    NARROWEST,
    NODAL_DIAMETERS,
    SPOKES,
    TABLE_SHARE,
    least_hub,
    widest_spoke,
)
from tests.support.places import ROOT
from tests.support.web_stress import FilletedWeb, peak_stress
from tests.support.webbed_disc import POISSON, Sector
from tests.support.webbed_plane import Fineness, Hold, Plane, Web, mesh_of

FILE = ROOT / "shared" / "disc-webs.npz"
RAW = Path("disc-webs-raw.npz")
BORES = np.array([0.08, 0.18, 0.3, 0.44, 0.58, 0.71, 0.84])
WIDTHS = 5
KEPT = 10
"""Waves kept of each number of nodal diameters."""
WORTH_KEEPING = 0.03
"""Least share of a wave that is kept."""
NEVER = np.log(400.0)
"""Logarithm of the speed where no wave stands still."""
MIDDLE_FILLET = 0.75
"""Fillet where the hub is free, over the largest."""

SAME_WAVE, LOWER_BY = 0.5, 0.15
"""Difference of logarithms of speed up to which two waves of neighbouring places are the same, and
from which one is lower."""
NEIGHBOURS: tuple[tuple[int, int, int | None], ...] = ((1, 0, None), (2, 0, None), (3, 1, None))
"""Axes of the tables along which waves change: bore, width, and hub, which begins at 1."""

Floats = NDArray[np.float64]


def fineness(spokes: int) -> Fineness:
    """Mesh of the tables."""
    return Fineness(ring=6, opening=max(3, round(21 / spokes) + 1), across=4, along=6)


def widths(spokes: int) -> Floats:
    """Spoke widths over bore radius."""
    return np.geomspace(NARROWEST, float(widest_spoke(spokes=spokes)), WIDTHS)


def hubs(width: float, spokes: int) -> Floats:
    """Hub radii over bore radius."""
    low = float(least_hub(width_ratio=width, spokes=spokes))
    return low + (LARGEST_HUB - low) * np.array(HUB_PLACES)


def waves_of(spokes: int, bore: float, width: float, hub: float, hold: Hold) -> Floats:
    """All waves of one disc, (nodal diameters, wave, quantity), NaN where there are no more."""
    sector = Sector(Web(bore, spokes, width * bore, hub * bore, 0.1 * bore), hold, fineness(spokes))
    found = np.full((NODAL_DIAMETERS.size, KEPT, 6), np.nan)
    for row, n in enumerate(NODAL_DIAMETERS):
        kept = [wave for wave in sector.waves(int(n), 40) if wave.share > WORTH_KEEPING]
        for place, wave in enumerate(kept[:KEPT]):
            found[row, place] = (
                wave.speed,
                wave.share,
                wave.stiffening,
                wave.poisson_slope,
                wave.softening,
                wave.fluid,
            )
    return found


def solved_waves() -> Floats:
    """Waves of all discs of the tables: spokes, bore, width, hold, then as `waves_of`."""
    shape = (len(SPOKES), BORES.size, WIDTHS, 1 + len(HUB_PLACES), NODAL_DIAMETERS.size, KEPT, 6)
    found = np.full(shape, np.nan)
    start = (0, 0)
    if RAW.exists():
        with np.load(RAW) as stored:
            found, start = stored["waves"], tuple(stored["next"].tolist())
    began = time.monotonic()
    for i, spokes in enumerate(SPOKES):
        for j, bore in enumerate(BORES):
            if (i, j) < start:
                continue
            for k, width in enumerate(widths(spokes)):
                found[i, j, k, 0] = waves_of(spokes, bore, width, 0.5, "gripped")
                for m, hub in enumerate(hubs(width, spokes)):
                    found[i, j, k, 1 + m] = waves_of(spokes, bore, width, hub, "hub")
            np.savez(RAW, waves=found, next=np.array([i, j + 1]))
            say(f"{spokes} spokes, bore {bore}: {time.monotonic() - began:.0f} s")
    return found


def governing(found: Floats) -> Floats:
    """The lowest wave that counts, as the product's tables hold it."""
    exists, first = _first_of(found, found[..., 1] >= TABLE_SHARE)
    # A wave that counts at a neighbouring place and is lower there counts here too, though its
    # share is small: between the two places it begins to count.
    speed = np.log(np.where(exists, _taken(found, first)[..., 0], np.exp(NEVER)))
    logs = np.log(found[..., 0])
    for axis, low, high in NEIGHBOURS:
        for here, there in (((low, high), 1), ((low, high), -1)):
            beside = _beside(speed, axis, *here, step=there)
            off = np.abs(logs - beside[..., np.newaxis])
            nearest = np.argmin(np.nan_to_num(off, nan=np.inf), axis=-1)
            same = np.take_along_axis(off, nearest[..., np.newaxis], -1)[..., 0] < SAME_WAVE
            lower = same & (beside < speed - LOWER_BY) & (nearest < np.where(exists, first, KEPT))
            first, exists = np.where(lower, nearest, first), exists | lower
    one = _taken(found, first)
    logs_found = np.where(exists, np.log(np.where(exists, one[..., 0], 1.0)), NEVER)
    rest = np.where(exists[..., None], one[..., 2:], 0.0)
    share = np.where(exists, one[..., 1], 0.0)
    quantities = np.concatenate([logs_found[..., None], rest, share[..., None]], axis=-1)
    return np.moveaxis(quantities, -1, -2)


def _first_of(found: Floats, counts: NDArray[np.bool_]) -> tuple[Any, Any]:
    return counts.any(axis=-1), np.argmax(counts, axis=-1)


def _taken(found: Floats, place: NDArray[np.int64]) -> Floats:
    return np.asarray(np.take_along_axis(found, place[..., None, None], axis=-2)[..., 0, :])


def _beside(speed: Floats, axis: int, low: int, high: int | None, *, step: int) -> Floats:
    """Values one place further along an axis, `NEVER` beyond its ends; only from low to high."""
    moved = np.full(speed.shape, NEVER)
    part = np.moveaxis(speed, axis, 0)[low:high]
    into = np.moveaxis(moved, axis, 0)[low:high]
    if step > 0:
        into[:-1] = part[1:]
    else:
        into[1:] = part[:-1]
    return moved


def stressed_webs() -> Iterator[tuple[tuple[int, ...], int, float, float, float, float]]:
    """Index, spokes, bore, width, hub and largest fillet of all webs; lengths over the rim."""
    for i, spokes in enumerate(SPOKES):
        for j, bore in enumerate(BORES):
            for k, width in enumerate(widths(spokes)):
                for m, hub in enumerate(hubs(width, spokes)):
                    largest = min(FILLET_OF_SPOKE * width, FILLET_OF_LENGTH * (1 - hub))
                    yield (i, j, k, m), spokes, bore, width * bore, hub * bore, largest * bore


def solved_stresses() -> tuple[Floats, Floats]:
    """Peak stresses with the hub free, over shaft holes, and held, over fillets."""
    shape = (len(SPOKES), BORES.size, WIDTHS, len(HUB_PLACES))
    free, held = np.full((*shape, len(HOLE_PLACES)), np.nan), np.full((*shape, 2), np.nan)
    for at, spokes, bore, width, hub, largest in stressed_webs():
        for h, hole in enumerate(HOLE_PLACES):
            web = FilletedWeb(bore, spokes, width, hub, hole * hub, MIDDLE_FILLET * largest)
            free[(*at, h)] = peak_stress(web, holds=("free",)).hub_free
        for f, fillet in enumerate(FILLET_PLACES):
            web = FilletedWeb(bore, spokes, width, hub, HOLE_PLACES[1] * hub, fillet * largest)
            held[(*at, f)] = peak_stress(web, holds=("held",)).hub_held
        if at[2:] == (0, 0):
            say(f"stress: {spokes} spokes, bore {bore}")
    return free, held


def at_rest(sector: Sector) -> Floats:
    """Lowest modes of a disc at rest, (mode, 2), rising; pairs of equal modes stand once.

    Frequency, and change of its logarithm with Poisson's ratio, the rigidity held.
    """
    found = []
    for phase_index in range(sector.web.spokes // 2 + 1):
        _, small = sector.projected(phase_index)
        stiff = small["laplacian"] - (1 - POISSON) * small["gauss"]
        squares, shapes = scipy.linalg.eigh(stiff, small["mass"])
        gauss = np.real(np.sum(shapes.conj() * (small["gauss"] @ shapes), axis=0))
        found.append(np.stack([np.sqrt(squares), gauss / (2 * squares)], axis=1))
    every = np.concatenate(found)
    return np.asarray(every[np.argsort(every[:, 0])][:MODES_AT_REST])


def solved_rest() -> Floats:
    """Modes of all discs at rest: spokes, bore, width, hold as in `solved_waves`, mode, (2)."""
    shape = (len(SPOKES), BORES.size, WIDTHS, 1 + len(HUB_PLACES), MODES_AT_REST, 2)
    found = np.full(shape, np.nan)
    for i, spokes in enumerate(SPOKES):
        for j, bore in enumerate(BORES):
            for k, width in enumerate(widths(spokes)):
                hold: Hold = "gripped"
                for m, hub in enumerate((0.5, *hubs(width, spokes))):
                    web = Web(bore, spokes, width * bore, hub * bore, 0.1 * bore)
                    modes = at_rest(Sector(web, hold, fineness(spokes)))
                    found[i, j, k, m] = np.stack([np.log(modes[:, 0]), modes[:, 1]], axis=1)
                    hold = "hub"
            say(f"at rest: {spokes} spokes, bore {bore}")
    return found


def solved_pulls() -> Floats:
    """Logarithm of the pull of a spoke on its hub, over density, speed^2, thickness, r_o^3."""
    found = np.full((len(SPOKES), BORES.size, WIDTHS, len(HUB_PLACES)), np.nan)
    for at, spokes, bore, width, hub, _ in stressed_webs():
        web = Web(bore, spokes, width, hub, 0.1 * bore)
        mesh = mesh_of(web, fineness(spokes).times(1.5), spoke=True, hub=False)
        found[at] = np.log(Plane(web, "hub", mesh).pull(POISSON))
    return found


def say(text: str) -> None:
    """Tell how far it is."""
    sys.stderr.write(f"{text}\n")


def main() -> None:
    """Solve everything and write the file."""
    logging.getLogger("skfem").setLevel(logging.ERROR)
    waves = governing(solved_waves())
    free, held = solved_stresses()
    rest = solved_rest()
    tables = {
        "bores": BORES,
        "gripped": waves[:, :, :, 0],
        "hub": waves[:, :, :, 1:],
        "hub_free": free,
        "hub_held": held,
        "rest_gripped": rest[:, :, :, 0],
        "rest_hub": rest[:, :, :, 1:],
        "hub_pull": solved_pulls(),
    }
    content = BytesIO()
    packed = {key: values.astype(np.float32) for key, values in tables.items()}
    np.savez_compressed(content, allow_pickle=False, **packed)
    write_whole(FILE, content.getvalue())


if __name__ == "__main__":
    main()
