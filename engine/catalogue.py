"""Materials, processes, bearings and their seals from shared/; each row names its source."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import cache, lru_cache
from typing import Any, Literal, TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

from engine.files import shared_file
from engine.physics.arrays import Array, Lanes, is_repeated, repeated

Names: TypeAlias = str | NDArray[np.str_]
Curve: TypeAlias = tuple[float, ...]
CyclicLaw: TypeAlias = Literal["steel", "light alloy", "none"]
V = TypeVar("V")
ASSEMBLY_TEMPERATURE = 293.15
"""Temperature at which clearances are measured [K]."""
MOST_LOOKED_UP = 4
"""Different names above which lanes are sorted by them."""
SHAKEDOWN = 2.0
"""Largest stress, as if elastic, of a skin that has yielded once, over its yield strength."""


@dataclass(frozen=True)
class Material:
    """A material of discs or shaft; its lists run along `temperature`."""

    title: str
    density: float
    """[kg/m3]"""
    poisson: float
    """[-]"""
    expansion: float
    """Linear thermal expansion [1/K]."""
    conductivity: float
    """Thermal, through the thickness of a sheet [W/(m K)]."""
    temperature: Curve
    """Rising [K]; the material may not be used above the last one."""
    youngs_modulus: Curve
    """[Pa]"""
    yield_strength: Curve
    """[Pa]; for polymers the stress that a part may carry permanently."""
    annealed_strength: Curve
    """Yield strength that a cut leaves where it melts the metal [Pa]."""
    ultimate_strength: Curve
    """[Pa]"""
    source: str
    cyclic_law: CyclicLaw = "none"
    """Which estimate of its fatigue applies."""
    creep_temperature: float = np.nan
    """Above it the material creeps under lasting load [K]; NaN for metals."""
    plate: str = ""
    """Key of what parts thicker than this one is sold are cut from, the end clamps; '': itself."""


@dataclass(frozen=True)
class Process:
    """How discs and spacers are made, and with what tolerances."""

    title: str
    thickness: Curve
    """Rising [m]; the process makes no disc thinner than the first or thicker than the last."""
    thickness_tolerance: Curve
    """Plus or minus, along `thickness` [m]."""
    wedge_share: float
    """Share of the thickness tolerance that appears as a taper across one disc [-]."""
    flatness: float
    """Largest deviation of the rim from the plane of the clamped part, over diameter [-]."""
    spacer_tolerance: float
    """Plus or minus of one spacer [m]."""
    run_out: float
    """Axial run-out of a disc at its rim, total indicator reading [m]."""
    eccentricity: float
    """Offset of the rim from the disc's seat on the shaft [m]."""
    anneals: bool
    """Whether the cut melts its edge, and takes the strength of rolling or ageing from it."""
    smallest_gap: float
    """Thinnest spacer that can be made or bought [m]."""
    source: str


@dataclass(frozen=True)
class Bearing:
    """A deep-groove ball bearing of an ISO 15 size."""

    bore: float
    """[m]"""
    outside_diameter: float
    """[m]"""
    width: float
    """[m]"""
    dynamic_rating: float
    """[N]"""
    static_rating: float
    """[N]"""
    ball_count: int
    ball_diameter: float
    """[m]"""
    lubrication_grease: float
    """Palmgren's f0 [-]."""
    lubrication_oil: float
    """Palmgren's f0 [-]."""
    source: str

    @property
    def mean_diameter(self) -> float:
        """Mean of bore and outside diameter [m]."""
        return (self.bore + self.outside_diameter) / 2


@dataclass(frozen=True)
class BearingSeal:
    """What closes a bearing at both sides."""

    title: str
    speed_limit: float
    """Mean diameter times angular speed, with grease [m rad/s]."""
    drag: float
    """Friction of its lips that does not depend on size [N m]."""
    drag_per_size: float
    """The rest of it, over the rubbed diameter to the power of 2.25 [N/m^1.25]."""
    source: str


@dataclass(frozen=True)
class MaterialState:
    """Material values of each lane; NaN where a lane is hotter than its material may be used."""

    density: Lanes
    poisson: Lanes
    expansion: Lanes
    conductivity: Lanes
    youngs_modulus: Lanes
    yield_strength: Lanes
    annealed_strength: Lanes
    ultimate_strength: Lanes


@dataclass(frozen=True)
class ProcessValues:
    """Process values of each lane; NaN where the process does not make the lane's thickness."""

    thickness_tolerance: Lanes
    wedge_share: Lanes
    flatness: Lanes
    spacer_tolerance: Lanes
    run_out: Lanes
    eccentricity: Lanes
    smallest_gap: Lanes


@dataclass(frozen=True)
class BearingValues:
    """Bearing values of each lane."""

    bore: Lanes
    outside_diameter: Lanes
    mean_diameter: Lanes
    width: Lanes
    dynamic_rating: Lanes
    static_rating: Lanes
    ball_count: Lanes
    ball_diameter: Lanes
    lubrication_grease: Lanes
    lubrication_oil: Lanes


@cache
def materials() -> dict[str, Material]:
    """Every material by key."""
    return {key: Material(**_frozen(row)) for key, row in read_table("materials").items()}


@cache
def processes() -> dict[str, Process]:
    """Every process by key."""
    return {key: Process(**_frozen(row)) for key, row in read_table("processes").items()}


@cache
def bearings() -> dict[str, Bearing]:
    """Every bearing by key."""
    return {key: Bearing(**_frozen(row)) for key, row in read_table("bearings").items()}


@cache
def bearing_seals() -> dict[str, BearingSeal]:
    """Everything that closes bearings, by key."""
    return {key: BearingSeal(**row) for key, row in read_table("bearing-seals").items()}


def material_names() -> tuple[str, ...]:
    """Keys of the material table."""
    return tuple(materials())


def process_names() -> tuple[str, ...]:
    """Keys of the process table."""
    return tuple(processes())


def bearing_names() -> tuple[str, ...]:
    """Keys of the bearing table."""
    return tuple(bearings())


def material_state(names: Names, temperature: Array) -> MaterialState:
    """Values of the named materials at a temperature [K]; both broadcast.

    NaN above a material's highest temperature; below its lowest temperature, the values there.
    Raises KeyError for a name that is not in the table.
    """
    return MaterialState(
        **_gather(MaterialState, materials(), names, along="temperature", at=temperature)
    )


def clamp_materials(names: Names) -> NDArray[np.str_]:
    """Name what the end clamps of discs of the named materials are cut from."""
    return of_names(names, {key: clamp_material(key) for key in materials()})


def clamp_material(name: str) -> str:
    """Name what the end clamps of discs of one material are cut from."""
    return materials()[name].plate or name


def state_as_cut(names: Names, processes_of: Names, temperature: Array) -> MaterialState:
    """Values of the named materials, with the yield strength that a cut edge has; all broadcast.

    The peak stress is at a cut edge. A skin that the cut has annealed yields once and then lives in
    the strain of the metal below it: it stays elastic from then on while the stress, as if elastic,
    stays below twice its own yield strength (shakedown; ASME BPVC VIII-2, 5.5.6, from memory).
    """
    state = material_state(names, temperature)
    anneals = of_names(processes_of, {key: row.anneals for key, row in processes().items()})
    edge = np.where(anneals, SHAKEDOWN * state.annealed_strength, np.inf)
    return replace(state, yield_strength=np.minimum(state.yield_strength, edge))


def process_values(names: Names, thickness: Array) -> ProcessValues:
    """Values of the named processes for a disc thickness [m]; both broadcast.

    NaN where the process does not make this thickness. Raises KeyError for a name that is not in
    the table.
    """
    return ProcessValues(
        **_gather(ProcessValues, processes(), names, along="thickness", at=thickness, below=np.nan)
    )


def bearing_values(names: Names) -> BearingValues:
    """Values of the named bearings. Raises KeyError for a name that is not in the table."""
    if (key := _only_name(names)) is not None:
        return _one_bearing(key, np.size(names))
    keys, lane = _distinct(names)
    rows = [_bearing_row(key) for key in keys] or [np.zeros(len(fields(BearingValues)))]
    return BearingValues(*np.stack(rows, axis=1)[:, lane])


def of_names(names: Names, values: Mapping[str, V]) -> NDArray[Any]:
    """Value of each lane's name. Raises KeyError for a name that has none."""
    if (key := _only_name(names)) is not None:
        return repeated(values[key], np.size(names))
    keys, lane = _distinct(names)
    return np.array([values[str(key)] for key in keys])[lane]


def read_table(name: str) -> dict[str, Any]:
    """Rows of `shared/NAME.toml` by key, in the order of the file."""
    return tomllib.loads(shared_file(f"{name}.toml").read_text(encoding="utf-8"))


@cache
def _bearing_row(key: str) -> Lanes:
    """Values of a bearing in the order of `BearingValues`."""
    row = bearings()[key]
    return np.array([getattr(row, field.name) for field in fields(BearingValues)], dtype=float)


@lru_cache(maxsize=64)
def _one_bearing(key: str, count: int) -> BearingValues:
    """Values of a bearing that all lanes have."""
    return BearingValues(*(repeated(value, count) for value in _bearing_row(key)))


def _frozen(row: dict[str, Any]) -> dict[str, Any]:
    return {name: tuple(v) if isinstance(v, list) else v for name, v in row.items()}


def _only_name(names: Names) -> str | None:
    """Name that is held once for all lanes; None where there may be several."""
    if isinstance(names, np.ndarray) and is_repeated(names) and names.size:
        return str(names[0])
    return None


def _distinct(names: Names) -> tuple[list[str], NDArray[np.int64]]:
    """Different names, and the place of each lane's among them.

    Mostly all lanes have one name or two, which are found sooner without sorting.
    """
    lanes = np.asarray(names, dtype=np.str_)
    place = np.zeros(lanes.shape, dtype=np.int64)
    found: list[str] = []
    left = np.ones(lanes.shape, dtype=np.bool_)
    while left.any():
        if len(found) == MOST_LOOKED_UP:
            keys, place = np.unique(lanes, return_inverse=True)
            return [str(key) for key in keys], place
        name = lanes.flat[left.argmax()]
        here = lanes == name
        place[here] = len(found)
        found.append(str(name))
        left &= ~here
    return found, place


def _gather(
    values: type[MaterialState] | type[ProcessValues],
    rows: Mapping[str, Material] | Mapping[str, Process],
    names: Names,
    *,
    along: str,
    at: Array,
    below: float | None = None,
) -> dict[str, Lanes]:
    """Lane values of every field, interpolated in each row along one of its lists."""
    words = np.asarray(names, dtype=np.str_)
    at = np.asarray(at, float)
    is_one = not at.shape or (at.shape == words.shape and is_repeated(at))
    if is_one and (key := _only_name(words)) is not None:
        first = float(at.flat[0])
        is_metal = values is MaterialState
        return _one_row(is_metal, key, at=first, along=along, below=below, count=words.size)
    keys, lane = _distinct(words)
    shape = words.shape if words.shape == at.shape else np.broadcast_shapes(words.shape, at.shape)
    found = {field.name: np.full(shape, np.nan) for field in fields(values)}
    place, lane = np.broadcast_to(at, shape), np.broadcast_to(lane, shape)
    for number, key in enumerate(keys):
        row, here = rows[key], lane == number if len(keys) > 1 else ...
        there = place[here]
        if there.size and (there == there.flat[0]).all():
            there = there.flat[:1]  # all the same, and so is what is found
        for name, lane_values in _curves(row, tuple(found), along, there, below).items():
            found[name][here] = lane_values
    return found


@lru_cache(maxsize=64)
def _one_row(
    is_metal: bool,
    key: str,
    *,
    at: float,
    along: str,
    below: float | None,
    count: int,
) -> dict[str, Lanes]:
    """Values of a material or process at one place of its list, in so many lanes."""
    row: Material | Process = materials()[key] if is_metal else processes()[key]
    names = [f.name for f in fields(MaterialState if is_metal else ProcessValues)]
    found = _curves(row, names, along, at, below)
    return {name: repeated(value, count) for name, value in found.items()}


def _curves(
    row: Material | Process, names: Sequence[str], along: str, at: Array, below: float | None
) -> dict[str, Lanes]:
    """Values of a row by name, interpolated along one of its lists."""
    grid = getattr(row, along)
    low = -np.inf if below is None else grid[0]
    known = np.where((at >= low) & (at <= grid[-1]), 1.0, np.nan)
    curves = {name: getattr(row, name) for name in names}
    return {
        name: known * curve
        if isinstance(curve, float)
        else np.asarray(np.interp(at, grid, curve, left=below, right=np.nan))
        for name, curve in curves.items()
    }
