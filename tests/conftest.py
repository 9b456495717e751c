"""What several test files share: a shop-air study, builds for it, and invented runs."""

import os

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # read when numpy is loaded; see pytest_configure

import sys
import tempfile
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.bench.readings import bench_readings, locked_readings
from engine.columns import LOSSES, SEARCHED
from engine.model.limits import MATCHED, feasible, violations, with_standing
from engine.physics.flow.match import Circuit, Throughflow
from engine.physics.machine_code import code_folder
from engine.run.point import point_of
from engine.search.front import merits, nondominated
from engine.study.study import Study
from reports.design.facts import BuildData
from reports.run.facts import RunData, shown
from tests.support import invented, order
from tests.support.circuits import circuit_by_hand

Columns = dict[str, NDArray[Any]]
MakeBuilds = Callable[..., Columns]
MakeRun = Callable[..., RunData]
RPM = 2 * np.pi / 60
pytest_collection_modifyitems = order.pytest_collection_modifyitems

RANGES: Mapping[str, Any] = {
    "disc_count": {"min": 6, "max": 30},
    "disc_diameter": {"min": "80 mm", "max": "200 mm", "step": "5 mm"},
    "gap": {"choices": ["0.2 mm", "0.25 mm", "0.3 mm", "0.4 mm", "0.5 mm"]},
    "inlet_angle": {"min": "8 deg", "max": "25 deg", "step": "0.5 deg"},
    "exhaust_bore": {"min": "20 mm", "max": "60 mm", "step": "1 mm"},
    "speed": {"min": "6000 rpm", "max": "36000 rpm", "step": "250 rpm"},
}
LIMITS: Mapping[str, Any] = {"safety_margin": {"min": 1.2}}
AIMS: Mapping[str, str] = {"electric_power": "maximise", "safety_margin": "maximise"}


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--write-golden",
        action="store_true",
        help="write tests/published/golden.toml anew, after MODEL_VERSION was raised on purpose",
    )


def pytest_configure(config: pytest.Config) -> None:
    """Set up what this process, its workers and all that they start have in common.

    Threads of linear algebra wait for each other in a loop. Where every core has its own process
    that costs six times the processor time of one thread. Python code is compiled once and kept,
    even where Python was told not to. Tables of fluids are kept apart from the user's; machine code
    is shared with him, as it takes a minute to make.
    """
    sys.dont_write_bytecode = False
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    if not hasattr(config, "workerinput"):
        if (code := code_folder()) is not None:
            os.environ["NUMBA_CACHE_DIR"] = str(code.parent)
        kept = tempfile.TemporaryDirectory(prefix="swirlstack-tests-")
        config.add_cleanup(kept.cleanup)
        os.environ["XDG_CACHE_HOME"] = kept.name


@pytest.fixture
def make_run() -> MakeRun:
    """A run that looks like one, from invented smooth formulas: no physics is tested with it."""
    return _make_run


@pytest.fixture(scope="session")
def run_data() -> RunData:
    return _make_run(n_designs=4000)


def _make_run(
    *,
    n_designs: int = 600,
    title: str = "Lane workshop: which stack for the shop-air line?",
    limits: Mapping[str, Any] = LIMITS,
    aims: Mapping[str, str] = AIMS,
    ranges: Mapping[str, Any] | None = None,
    provenance: Mapping[str, str] | None = None,
    study_text: str = "title: Lane workshop\nsupply:\n  fluid: air\n",
    words: Mapping[str, str] | None = None,
    numbers: Mapping[str, float] | None = None,
) -> RunData:
    supply = {"pressure": "6 bar gauge", "temperature": "20 degC", "available_flow": "30 g/s"}
    study = Study.model_validate(
        {
            "title": title,
            "supply": supply,
            "ranges": {**RANGES, **(ranges or {})},
            "limits": limits,
            "aims": aims,
        }
    )
    designs = _results(_search(study, n_designs))
    for key, word in (words or {}).items():
        designs[key] = np.where(designs["status"] == MATCHED, word, "")
    for key, number in (numbers or {}).items():
        designs[key] = np.full(n_designs, number)
    past = violations(designs, with_standing(study.all_limits))
    designs["feasible"] = feasible(past).astype(float)
    designs["design"] = np.arange(1, n_designs + 1)
    good = {key: column[designs["feasible"] == 1] for key, column in designs.items()}
    on_front = nondominated(merits(good, study.aims))
    front = {key: column[on_front] for key, column in good.items()}
    rows = shown(study, front)
    return RunData(
        study=study,
        study_text=study_text,
        provenance=provenance or {"Program": "swirlstack 0.1.0", "Seed": "1", "Study hash": "5d2c"},
        designs=designs,
        front=front,
        speed_curves={
            role: _curve({key: front[key][row] for key in SEARCHED}) for role, row in rows.items()
        },
        gaps={
            role: invented.gap({key: front[key][row] for key in SEARCHED})
            for role, row in rows.items()
        },
        waves={role: invented.waves(front["wave_speed"][row]) for role, row in rows.items()},
        steps={
            role: _steps({key: front[key][row] for key in SEARCHED}) for role, row in rows.items()
        },
        stresses={
            role: invented.stress({key: front[key][row] for key in SEARCHED})
            for role, row in rows.items()
        },
    )


def _steps(build: Mapping[str, float]) -> Columns:
    """Every variable a tenth lower, then a tenth higher."""
    moved = np.repeat(list(SEARCHED), 2)
    builds = {key: np.full(len(moved), float(build[key])) for key in SEARCHED}
    for lane, key in enumerate(moved.tolist()):
        builds[key][lane] *= 0.9 if lane % 2 == 0 else 1.1
    return _results(builds) | {"moved": moved}


def _search(study: Study, n_designs: int) -> Columns:
    """Most at random, and a share that a search would have found: good in power times margin."""
    pool = _builds(study, min(40 * n_designs, 100_000))
    results = _results(pool)
    spread = np.linspace(0.1, 4.0, 40)[:, None] * np.log(np.maximum(results["safety_margin"], 0.1))
    score = np.log(np.maximum(results["electric_power"], 1.0)) + spread
    score[:, ~(results["mass_flow"] <= 0.030)] = -np.inf
    found = np.unique(np.argsort(-np.nan_to_num(score, nan=-np.inf))[:, : n_designs // 80])
    rows = np.concatenate([np.arange(n_designs - found.size), found])
    return {key: values[rows] for key, values in pool.items()}


def _builds(study: Study, n_designs: int) -> Columns:
    rng = np.random.default_rng(7)
    return {
        key: rng.choice(np.array(getattr(study.ranges, key).values, dtype=float), n_designs)
        for key in SEARCHED
    }


def _curve(build: Mapping[str, float]) -> Columns:
    speeds = np.linspace(0.02, 2.2, 60) * build["speed"]
    return _results({key: np.full(60, build[key]) for key in SEARCHED} | {"speed": speeds})


def _results(builds: Columns) -> Columns:
    count, diameter, gap, angle, bore, speed = (builds[key] for key in SEARCHED)
    rim = speed * diameter / 2
    height = count * 1e-3 + (count - 1) * gap
    flow = 1.05 * height * 0.9 * (1 + 0.5 * np.tan(angle))
    whole = flow * 1.32e5
    ratio = rim / (330 * np.cos(angle))
    shape = (
        np.exp(-(np.log(gap / (0.30e-3)) ** 2) / 0.5)
        * np.exp(-(((bore / diameter) - 0.33) ** 2) / 0.04)
        * np.cos(angle) ** 3
    )
    share = 1.15 * ratio * (1 - ratio) * shape
    shaft = share * whole - 6e-9 * speed**2 * diameter * 4e3
    electric = 0.80 * shaft - 3
    margins = np.array(
        [(185 / rim) ** 1.2, 34000 * RPM / speed, 2.5 - 0.003 * rim + 9 * (0.11 - diameter)]
    )
    modes = np.array(["yield", "bearing limit", "rim rub"])
    status = np.full(count.shape, MATCHED, dtype="U16")
    status[ratio > 0.95] = "no flow"
    status[bore < 0.02 + 0.4 * flow] = "exhaust choked"
    results: Columns = builds | {
        "electric_power": electric,
        "safety_margin": margins.min(axis=0),
        "shaft_power": shaft,
        "rotor_power": shaft + 0.02 * whole,
        "isentropic_power": whole,
        "turbine_efficiency": shaft / whole,
        "mass_flow": flow,
        "rim_speed": rim,
        "exhaust_temperature": 293.15 - 110 * share,
        "stored_energy": 0.5 * speed**2 * count * 8000e-3 * np.pi / 32 * diameter**4,
        "runaway_ratio": 1 + 0.75 * np.sqrt(1 - np.minimum(ratio, 0.95)),
        "generator_load": electric / 600,
        "nozzle_footprint": 0.12 / np.tan(angle),
        "casing_angle": np.arccos(np.cos(angle) * diameter / (diameter + 1e-3)),
        "bore_ratio": bore / diameter,
        "edge_share": np.full_like(bore, 0.6),
        "bore_wall": bore / 2 - 6e-3,
        "mouth_depth": np.full_like(bore, 1e-3),
    }
    results |= {
        "yield_speed": margins[0] * speed,
        "bearing_limit_speed": margins[1] * speed,
        "rub_speed": margins[2] * speed,
        "generator_limit_speed": np.full(speed.shape, 40_000 * RPM),
        "seal_rub_speed": 1.5 * results["safety_margin"] * speed,
    }
    results |= invented.checks(results, share)
    results["supply_efficiency"] = electric / (flow * 3.2e5)
    results["survives_load_loss"] = results["safety_margin"] >= results["runaway_ratio"]
    results |= invented.trip(results)
    results |= _losses(whole, shaft, electric)
    for column in results.keys() - set(SEARCHED):
        results[column] = np.where(status == MATCHED, results[column], np.nan)
    results["governing_mode"] = np.where(status == MATCHED, modes[margins.argmin(axis=0)], "")
    results["validity"] = np.where(gap > 0.45e-3, "gap friction (Hirs 1973)", "")
    results["status"] = status
    return results


UNUSED = ("loss_hose", "loss_incidence", "loss_bolts")
"""Losses that the invented builds do not have."""


def _losses(
    whole: NDArray[np.float64], shaft: NDArray[np.float64], electric: NDArray[np.float64]
) -> Columns:
    """Shares of what is missing; they close the balance by construction."""
    keys = (key for key in LOSSES if key not in UNUSED)
    fluid = dict(zip(keys, (14, 6, 5, 4, 22, 30, 9), strict=False))
    rest = {"loss_windage": 9.0, "loss_bearing": 8.0, "loss_seal": 3.0}
    parts = {key: weight / 90 * (0.98 * whole - shaft) for key, weight in fluid.items()}
    parts |= {key: weight / 20 * 0.02 * whole for key, weight in rest.items()}
    parts |= {key: 0.0 * whole for key in LOSSES if key in UNUSED}
    parts |= {"loss_drive": 0.02 * shaft, "loss_generator": 0.98 * shaft - electric}
    return parts


MIDDLING = {
    "disc_count": 11,
    "disc_diameter": 0.15,
    "gap": 0.2e-3,
    "inlet_angle": np.deg2rad(10),
    "exhaust_bore": 0.05,
    "speed": 15_000 * np.pi / 30,
}
"""A build of middling size; whatever a test varies replaces its entry."""


@pytest.fixture(scope="session")
def shop_air() -> Study:
    """A small stack with two narrow nozzles on a workshop's air line."""
    return Study.model_validate(
        {
            "title": "A small stack on shop air",
            "supply": {"fluid": "air", "pressure": "6 bar gauge", "temperature": "20 degC"},
            "machine": {
                "nozzle_count": 2,
                "nozzle_width": "0.3 mm",
                "nozzle_discharge": "0.95",
                "nozzle_velocity": "0.95",
                "seal_clearance": "0.05 mm",
                "seal_throttles": 3,
            },
            "ranges": {
                "disc_count": {"min": 4, "max": 40},
                "disc_diameter": {"min": "80 mm", "max": "200 mm"},
                "gap": {"min": "0.1 mm", "max": "0.6 mm"},
                "inlet_angle": {"min": "5 deg", "max": "30 deg"},
                "exhaust_bore": {"min": "20 mm", "max": "100 mm"},
                "speed": {"min": "4000 rpm", "max": "40000 rpm"},
            },
        }
    )


@pytest.fixture(scope="session")
def sheet_data(shop_air: Study) -> BuildData:
    """The middling build as if a run had found it, worked through by the model."""
    texts = ("11", "150 mm", "0.2 mm", "10 deg", "50 mm", "15000 rpm")
    values = [f"{key}={text}" for key, text in zip(SEARCHED, texts, strict=True)]
    front = point_of(shop_air, values).results
    front |= {"design": np.array([214.0]), "rank": np.array([1.0])}
    return BuildData(
        study=shop_air,
        front=front,
        row=0,
        letter="A",
        roles=("most",),
        readings=bench_readings(shop_air, front, 0),
        locked=locked_readings(shop_air, front, 0),
        provenance={"Study hash": "5d2c"},
    )


@pytest.fixture(scope="session")
def builds() -> MakeBuilds:
    """Lay out builds that differ from the middling one in the named keys, one lane a value."""

    def make(**changes: Any) -> Columns:
        values = {**MIDDLING, **changes}
        n_lanes = max(np.size(value) for value in values.values())
        return {key: np.broadcast_to(np.asarray(v), (n_lanes,)) for key, v in values.items()}

    return make


@pytest.fixture(scope="session")
def random_builds() -> Callable[[int, int], Columns]:
    """Lay out builds that a shop could make, far apart; arguments are their number and a seed."""

    def make(n_lanes: int, seed: int) -> Columns:
        rng = np.random.default_rng(seed)
        diameter = rng.uniform(0.06, 0.25, n_lanes)
        return {
            "disc_count": rng.integers(3, 40, n_lanes),
            "disc_diameter": diameter,
            "gap": rng.uniform(0.1e-3, 0.8e-3, n_lanes),
            "inlet_angle": rng.uniform(0.07, 0.7, n_lanes),
            "exhaust_bore": np.maximum(diameter * rng.uniform(0.2, 0.8, n_lanes), 0.014),
            "speed": rng.uniform(200, 3500, n_lanes),
            "disc_thickness": rng.uniform(0.3e-3, 2e-3, n_lanes),
            "nozzle_width": rng.uniform(0.1e-3, 1.5e-3, n_lanes),
            "exhaust_ends": rng.integers(1, 3, n_lanes),
            "nozzle_form": rng.choice(["convergent", "convergent-divergent"], n_lanes),
            "rim_clearance": rng.uniform(0.3e-3, 1.5e-3, n_lanes),
            "seal_clearance": rng.uniform(0.0, 0.15e-3, n_lanes),
        }

    return make


@pytest.fixture(scope="session")
def circuit_of() -> Callable[[Study, Columns], Circuit]:
    """What the flow meets in each build, put together from its dimensions apart from the model."""
    return circuit_by_hand


@pytest.fixture(scope="session")
def entry_of() -> Callable[[Circuit, Throughflow], Columns]:
    """What a march through the gaps begins with at each rim pressure found."""
    return lambda circuit, flow: {
        "rim_pressure": flow.entry.pressure,
        "rim_enthalpy": flow.entry.enthalpy,
        "rim_swirl": flow.ring.swirl,
        "mass_flow": flow.rotor_flow / circuit.gap_count,
        **{key: getattr(circuit, key) for key in ("gap", "rim_radius", "bore_radius")},
        **{key: getattr(circuit, key) for key in ("angular_speed", "transition_factor")},
    }
