"""Makes `shared/disc-webs.npz`, waves and peak stresses of discs on spokes, with holes or on bolts.

    python -m tests.support.web_tables

solves all in one go, about half an hour of processor time. What it solves is kept in the working
folder, under `disc-webs-raw`, so that an interrupted run goes on; what another solver has left
there is not taken.

A table made anew is the same but for rounding. Rounding decides which of the modes that say nearly
the same are left out of those among which waves are sought, and that moves only the highest waves:
made anew on another day, four and five spokes were the same to the last digit, and of three spokes
held at the hub 0.2 % of the entries differed, all of waves that stand still above 18 (the lowest of
a place is at 1.6 to 9). The lowest wave of each place was the same; of six and twelve within 0.1 %.
"""

import logging
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from functools import partial
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import scipy.linalg
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.ndimage import maximum_filter

from engine.files import write_whole
from engine.physics.machine.web import (
    FILLET_OF_LENGTH,
    FILLET_OF_SPOKE,
    FILLET_PLACES,
    FINE_HUB_PLACES,
    HOLDS,
    HOLE_PLACES,
    HOLES,
    HUB_PLACES,
    LARGEST_HUB,
    LEAST_SHARE,
    MODES_AT_REST,
    NARROWEST,
    NODAL_DIAMETERS,
    SPOKES,
    WASHERS,
    least_hub,
    widest_spoke,
    widest_wall,
)
from engine.physics.machine.web_places import WAVE_BORES, fine_bores, fine_widths
from tests.support.bolted_disc import BoltedSector, BoltedWeb
from tests.support.holed_disc import HoledPlane, HoledSector, HoledWeb, holed_mesh
from tests.support.places import ROOT
from tests.support.web_between import NEVER, finer, kinds, kinds_of_wave, matrices_of
from tests.support.web_shapes import Solved, solved
from tests.support.web_stress import FilletedWeb, peak_stress
from tests.support.webbed_disc import POISSON, Sector
from tests.support.webbed_plane import Fineness, Hold, Plane, Web, mesh_of

FILE = ROOT / "shared" / "disc-webs.npz"
RAW = Path("disc-webs-raw")
SOLVERS = (
    "webbed_plane", "webbed_disc", "holed_disc", "bolted_disc", "web_shapes", "web_stress",
    "web_tables",
)  # fmt: skip
BORES = np.array([0.08, 0.18, 0.3, 0.44, 0.58, 0.71, 0.84])
WIDTHS = 5
SOME_SHARE = 0.03
"""Share from which a wave may count at a neighbouring place."""
MIDDLE_FILLET = 0.75
"""Fillet where the hub is free, over the largest."""
STRESS_FINENESS = 1.4
"""Mesh of the stresses: within 2.6 % of one of 2.2 in 54 webs of 3, 6 and 12 spokes."""

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]


def fineness(spokes: int) -> Fineness:
    """Mesh of the tables."""
    return Fineness(ring=6, opening=max(3, round(21 / spokes) + 1), across=4, along=6)


def widths(spokes: int, held_by: str = "spokes") -> Floats:
    """Widths of spokes, or of walls between holes, over bore radius; or `washers`."""
    if held_by == "bolts":
        return np.geomspace(*WASHERS, WIDTHS)
    widest = widest_wall if held_by == "holes" else widest_spoke
    return np.geomspace(NARROWEST, float(widest(spokes=spokes)), WIDTHS)


def hubs(width: float, spokes: int) -> Floats:
    """Hub radii over bore radius."""
    low = float(least_hub(width_ratio=width, spokes=spokes))
    return low + (LARGEST_HUB - low) * np.array(HUB_PLACES)


def bolted(bore: float, spokes: int, washer: float, circle: float) -> BoltedWeb:
    """Ring on bolts: radius of a washer over width of the ring, place of the circle in its room."""
    wide = washer * (1 - bore)
    return BoltedWeb(bore, spokes, bore + wide + circle * (1 - bore - 2 * wide), wide)


def discs(held_by: str, spokes: int, bore: float, width: float) -> list[Sector]:
    """Discs of one width: gripped, then held at each hub."""
    if held_by == "bolts":
        webs = [bolted(bore, spokes, width, circle) for circle in FINE_HUB_PLACES]
        return [BoltedSector(web, "gripped", fineness(spokes)) for web in webs]
    if held_by == "holes":
        holed, holds = HoledWeb(bore, spokes, width * bore), ("gripped", "hub")
        return [HoledSector(holed, hold, fineness(spokes)) for hold in holds]  # type: ignore[arg-type]
    held: list[tuple[float, Hold]] = [(0.5, "gripped")]
    held += [(float(hub), "hub") for hub in hubs(width, spokes)]
    return [
        Sector(Web(bore, spokes, width * bore, hub * bore, 0.1 * bore), hold, fineness(spokes))
        for hub, hold in held
    ]


def kept(name: str, solve: Callable[[], dict[str, Floats]]) -> dict[str, Any]:
    """What was solved before under this name by the same solver, or is solved now."""
    folder = RAW / _solver()
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / f"{name}.npz"
    if not file.exists():
        began, content = time.monotonic(), BytesIO()
        np.savez(content, allow_pickle=False, **solve())
        write_whole(file, content.getvalue())
        say(f"{name}: {time.monotonic() - began:.0f} s")
    with np.load(file) as stored:
        return dict(stored)


def _solver() -> str:
    """Digest of the files that solve, so that no piece of another solver is taken for one's own."""
    here = Path(__file__).parent
    files = [here / f"{name}.py" for name in SOLVERS]
    files.append(ROOT / "engine" / "physics" / "machine" / "web.py")
    return sha256(b"".join(file.read_bytes() for file in files)).hexdigest()[:12]


def solved_waves(held_by: str, spokes: int) -> Solved:
    """Waves of all discs of some spokes: bore, width, hold as in `discs`, then as `Solved`."""
    names = [field.name for field in fields(Solved)]

    def solve(bore: float) -> dict[str, Floats]:
        every = [
            [solved(disc) for disc in discs(held_by, spokes, bore, width)]
            for width in widths(spokes, held_by)[:: 2 if held_by == "bolts" else 1]
        ]
        return {
            name: np.array([[getattr(one, name) for one in row] for row in every]) for name in names
        }

    found = [kept(f"{spokes}_{held_by}_{bore:.3f}", partial(solve, bore)) for bore in BORES]
    return Solved(*(np.stack([each[name] for each in found]) for name in names))


def governing(found: Solved, held_by: str, spokes: int, held: slice) -> Floats:
    """Waves at each place of the tables: bore, width, hub, number as `both_waves`, n.

    `held` picks those that are held alike, of `discs`.
    """
    places = product_places(held_by)
    columns = []
    for row, n in enumerate(NODAL_DIAMETERS):
        speeds, shares, numbers = [], [], []
        for kind in kinds_of_wave(spokes, int(n)):
            matrices = matrices_of(
                found.waves[:, :, held, row],
                found.shapes[:, :, held, row],
                kind,
                partial(_mass, int(n)),
            )
            speed, share, rest = matrices.between(places).waves()
            speeds.append(speed)
            shares.append(share)
            numbers.append(rest[..., 1:])
        columns.append(both_waves(*(np.concatenate(x, axis=3) for x in (speeds, shares, numbers))))
    return np.stack(columns, axis=-1)


def _mass(n: int, wave: Floats) -> Floats:
    """Of waves of unit stiffness, from their numbers."""
    return np.asarray(wave[:, 0] ** -2 / (n**2 - wave[:, 2]))


def both_waves(speed: Floats, share: Floats, number: Floats) -> Floats:
    """Two waves of each place, two times six numbers: the lowest is the first that may count.

    Between two places the product takes the first where its share counts, else the second. So that
    neither is mixed with another wave, a place offers what its neighbours take, if need be with no
    share; waves keep their order among those of their kind.
    """
    exists = speed < 0.99 * NEVER
    counts = exists & (share >= LEAST_SHARE)
    first = _lowest(speed, exists & _beside(_lowest(speed, exists & (share >= SOME_SHARE))))
    # Beside a place whose first wave is another one and counts for nothing.
    ends = np.max(_beside(first & ~counts) & ~first, axis=3)[..., np.newaxis]
    needed = ends | ~np.any(first & counts, axis=3, keepdims=True)
    second = _lowest(speed, counts) & needed
    second = np.where(needed, second, _lowest(speed, exists & _beside(second)))
    one = np.concatenate([np.log(speed)[..., np.newaxis], number, share[..., np.newaxis]], axis=4)
    never = np.array([np.log(NEVER), 0, 0, 0, 0, 0])
    found = []
    for taken in (second, first):
        values = np.sum(np.where(taken[..., np.newaxis], one, 0.0), axis=3)
        found.append(np.where(taken.any(axis=3, keepdims=True), values, never))
    found[1][..., -1] *= ~ends[..., 0]
    return np.concatenate(found, axis=3)


def _lowest(speed: Floats, among: Mask) -> Mask:
    """The lowest of the waves on the last axis, if there is one."""
    lowest = np.argmin(np.where(among, speed, np.inf), axis=3)[..., np.newaxis]
    return np.asarray(among & (np.arange(speed.shape[3]) == lowest))


def _beside(taken: Mask) -> Mask:
    """Whether a wave is taken at a place or beside it."""
    return np.asarray(maximum_filter(taken.astype(np.uint8), size=(3, 3, 3, 1)) > 0)


def ringing(found: Solved, held_by: str, spokes: int, held: slice) -> Floats:
    """The lowest modes at rest at each place of the tables: bore, width, hub, mode, number."""
    places = product_places(held_by)
    modes = []
    for phase_index in range(spokes // 2 + 1):
        for kind in kinds(spokes, phase_index):
            matrices = matrices_of(
                found.rest[:, :, held, phase_index],
                found.rest_shapes[:, :, held, phase_index],
                kind,
                lambda mode: np.ones(len(mode)),
            )
            frequency, _, numbers = matrices.between(places).waves()
            modes.append(np.concatenate([np.log(frequency)[..., np.newaxis], numbers], axis=4))
    every = np.concatenate(modes, axis=3)
    order = np.argsort(every[..., 0], axis=3)[..., :MODES_AT_REST, np.newaxis]
    return np.take_along_axis(every, order, 3)


def product_places(held_by: str) -> Callable[[Floats], Floats]:
    """What takes numbers of the solved places to those of the tables."""
    bolts = held_by == "bolts"
    return finer(
        (BORES, fine_bores(bores=BORES, finer=WAVE_BORES)),
        (np.arange(0.0, WIDTHS, 2 if bolts else 1), fine_widths(count=WIDTHS)),
        (np.array(FINE_HUB_PLACES if bolts else HUB_PLACES), np.array(FINE_HUB_PLACES)),
    )


def webs(spokes: int, bore: float) -> Iterator[tuple[tuple[int, int], float, float, float]]:
    """Index of width and hub, width, hub and largest fillet of all webs; lengths over the rim."""
    for k, width in enumerate(widths(spokes)):
        for m, hub in enumerate(hubs(width, spokes)):
            largest = min(FILLET_OF_SPOKE * width, FILLET_OF_LENGTH * (1 - hub))
            yield (k, m), width * bore, hub * bore, largest * bore


def solved_bolt_holes(spokes: int, bore: float) -> dict[str, Floats]:
    """Peak stresses of a ring beside its bolts, by washer, bolt circle and hole over washer.

    Every second washer is solved, and a parabola laid through the logarithms.
    """
    places = np.arange(0.0, WIDTHS, 2)
    found = np.empty((places.size, len(FINE_HUB_PLACES), len(HOLE_PLACES)))
    for k, washer in enumerate(widths(spokes, "bolts")[::2]):
        for m, circle in enumerate(FINE_HUB_PLACES):
            web = bolted(bore, spokes, washer, circle)
            for h, share in enumerate(HOLE_PLACES):
                cut = replace(web, hole=share * min(web.washer, web.tip * web.circle))
                peak = peak_stress(cut, fineness=STRESS_FINENESS, holds=("free",))
                found[k, m, h] = peak.hub_free
    return {"bolts_peak": np.exp(CubicSpline(places, np.log(found))(np.arange(WIDTHS)))}


def solved_stresses(held_by: str, spokes: int, bore: float) -> dict[str, Floats]:
    """Peak stresses and pulls by width and hub.

    Stresses with the hub free, over shaft holes, and held, over fillets; logarithm of the pull of a
    spoke or wall on its hub, over density, speed^2, thickness, r_o^3.
    """
    if held_by == "bolts":
        return solved_bolt_holes(spokes, bore)
    shape = (WIDTHS, len(HUB_PLACES))
    free, held = np.empty((*shape, len(HOLE_PLACES))), np.empty((*shape, len(FILLET_PLACES)))
    pull, plane_fineness = np.empty(shape), fineness(spokes).times(1.5)
    peak = partial(peak_stress, fineness=STRESS_FINENESS)
    if held_by == "holes":
        for k, width in enumerate(widths(spokes, held_by)):
            holed = HoledWeb(bore, spokes, width * bore)
            mesh = holed_mesh(holed, plane_fineness, arms=False)
            pull[k] = np.log(HoledPlane(holed, "hub", mesh).pull(POISSON))
            for h, hole in enumerate(HOLE_PLACES):
                cut = replace(holed, shaft=hole * holed.hub)
                free[k, :, h] = peak(cut, holds=("free",)).hub_free
            cut = replace(holed, shaft=HOLE_PLACES[1] * holed.hub)
            held[k] = peak(cut, holds=("held",)).hub_held
        return {"hub_free": free, "hub_held": held, "hub_pull": pull}
    for at, width, hub, largest in webs(spokes, bore):
        web = Web(bore, spokes, width, hub, 0.1 * bore)
        mesh = mesh_of(web, plane_fineness, spoke=True, hub=False)
        pull[at] = np.log(Plane(web, "hub", mesh).pull(POISSON))
        for h, hole in enumerate(HOLE_PLACES):
            drawn = FilletedWeb(bore, spokes, width, hub, hole * hub, MIDDLE_FILLET * largest)
            free[(*at, h)] = peak(drawn, holds=("free",)).hub_free
        for f, fillet in enumerate(FILLET_PLACES):
            drawn = FilletedWeb(bore, spokes, width, hub, HOLE_PLACES[1] * hub, fillet * largest)
            held[(*at, f)] = peak(drawn, holds=("held",)).hub_held
    return {"hub_free": free, "hub_held": held, "hub_pull": pull}


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


def say(text: str) -> None:
    """Tell how far it is."""
    sys.stderr.write(f"{text}\n")


def main() -> None:
    """Solve everything and write the file."""
    logging.getLogger("skfem").setLevel(logging.ERROR)
    tables: dict[str, list[Floats]] = {}
    for held_by in HOLDS:
        for spokes in HOLES if held_by == "holes" else SPOKES:
            for name, table in tables_of(held_by, spokes).items():
                tables.setdefault(name, []).append(table)
    write({"bores": BORES, **{name: np.stack(each) for name, each in tables.items()}})


def tables_of(held_by: str, spokes: int) -> dict[str, Floats]:
    """All tables of one way to hold a disc, by their names in the file."""
    found, made = solved_waves(held_by, spokes), {}
    holds = {"gripped": slice(1), "hub": slice(1, None)}
    if held_by == "bolts":
        holds = {"bolts": slice(None)}
    for key, held in holds.items():
        for name, of in ((key, governing), (f"rest_{key}", ringing)):
            table = of(found, held_by, spokes, held)
            made[name] = _of_every_hub(table) if key == "hub" else table
    solve = partial(solved_stresses, held_by, spokes)
    parts = [kept(f"{spokes}_{held_by}_{bore:.3f}_stress", partial(solve, bore)) for bore in BORES]
    return made | {name: np.stack([part[name] for part in parts]) for name in parts[0]}


def _of_every_hub(table: Floats) -> Floats:
    """The same for each hub, where the hub of holes follows from the width of their walls."""
    return np.repeat(table, len(FINE_HUB_PLACES) // table.shape[2], axis=2)


def write(tables: dict[str, Floats]) -> None:
    """Write the file; waves and modes at rest at all their places in half precision."""
    packed = {}
    for key, values in tables.items():
        every = values[:, :, :, 0] if key in ("gripped", "rest_gripped") else values
        many = key in ("gripped", "hub", "bolts") or key.startswith("rest_")
        packed[key] = every.astype(np.float16 if many else np.float32)
    content = BytesIO()
    np.savez_compressed(content, allow_pickle=False, **packed)
    write_whole(FILE, content.getvalue())


if __name__ == "__main__":
    main()
