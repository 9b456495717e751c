"""Fixtures that several test files share."""

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.columns import LOSSES, SEARCHED
from engine.front import merits, nondominated
from engine.limits import MATCHED, feasible, violations, with_standing
from engine.study import Limit, Machine, Range, Ranges, Search, Study, Supply
from reports.facts import RunData, marked

Columns = dict[str, NDArray[Any]]
MakeRun = Callable[..., RunData]
RPM = 2 * np.pi / 60

SPANS = {
    "disc_count": Range(min=6, max=30),
    "disc_diameter": Range(min=0.08, max=0.20, step=0.005),
    "gap": Range(choices=(0.2e-3, 0.25e-3, 0.3e-3, 0.4e-3, 0.5e-3)),
    "inlet_angle": Range(min=np.radians(8), max=np.radians(25), step=np.radians(0.5)),
    "exhaust_bore": Range(min=0.02, max=0.06, step=0.001),
    "speed": Range(min=6000 * RPM, max=36000 * RPM, step=250 * RPM),
}


@pytest.fixture
def make_run() -> MakeRun:
    """A run that looks like one, from invented smooth formulas: no physics is tested with it."""
    return _make_run


@pytest.fixture(scope="session")
def run_data() -> RunData:
    return _make_run(n_designs=4000)


def _study(
    title: str,
    limits: Mapping[str, Limit[float]],
    aims: Mapping[str, str],
    fluid: str,
    **machine: Any,
) -> Study:
    return Study.model_construct(
        title=title,
        supply=Supply.model_construct(
            fluid=fluid, pressure=7.013e5, temperature=293.15, available_flow=0.030
        ),
        machine=Machine.model_construct(**machine),
        ranges=Ranges.model_construct(**SPANS),
        limits=dict(limits),
        aims=dict(aims),
        search=Search(),
    )


def _make_run(
    *,
    n_designs: int = 600,
    title: str = "Lane workshop: which stack for the shop-air line?",
    limits: Mapping[str, Limit[float]] | None = None,
    aims: Mapping[str, str] | None = None,
    fluid: str = "air",
    provenance: Mapping[str, str] | None = None,
    study_text: str = "title: Lane workshop\nsupply:\n  fluid: air\n",
    **machine: Any,
) -> RunData:
    bounds = limits
    if bounds is None:
        bounds = {"safety_margin": Limit[float](min=1.2), "mass_flow": Limit[float](max=0.030)}
    study = _study(
        title,
        bounds,
        aims or {"electric_power": "maximise", "safety_margin": "maximise"},
        fluid,
        **machine,
    )
    designs = _results(_search(n_designs))
    past = violations(designs, with_standing(study.limits))
    designs["feasible"] = feasible(past).astype(float)
    designs["design"] = np.arange(1, n_designs + 1)
    good = {key: column[designs["feasible"] == 1] for key, column in designs.items()}
    on_front = nondominated(merits(good, study.aims))
    front = {key: column[on_front] for key, column in good.items()}
    return RunData(
        study=study,
        study_text=study_text,
        provenance=provenance
        or {"Program": "swirlstack 0.1.0", "Seed": "1", "Study hash": "5d2c9e"},
        designs=designs,
        front=front,
        speed_curves={
            role: _curve({key: front[key][row] for key in SEARCHED})
            for role, row in marked(study, front).items()
        },
    )


def _search(n_designs: int) -> Columns:
    """Most at random, and a share that a search would have found: good in power times margin."""
    pool = _builds(40 * n_designs)
    results = _results(pool)
    spread = np.linspace(0.1, 4.0, 40)[:, None] * np.log(np.maximum(results["safety_margin"], 0.1))
    score = np.log(np.maximum(results["electric_power"], 1.0)) + spread
    score[:, ~(results["mass_flow"] <= 0.030)] = -np.inf
    found = np.unique(np.argsort(-np.nan_to_num(score, nan=-np.inf))[:, : n_designs // 80])
    rows = np.concatenate([np.arange(n_designs - found.size), found])
    return {key: values[rows] for key, values in pool.items()}


def _builds(n_designs: int) -> Columns:
    rng = np.random.default_rng(7)
    builds: Columns = {}
    for key, span in SPANS.items():
        if span.choices is not None:
            values = rng.choice(np.asarray(span.choices), n_designs)
        else:
            step = span.step or 1
            n_steps = round((span.max - span.min) / step)
            values = span.min + step * rng.integers(0, n_steps + 1, n_designs)
        builds[key] = np.asarray(values, dtype=float)
    return builds


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
    status[ratio > 0.95] = "no_flow"
    status[bore < 0.02 + 0.4 * flow] = "exhaust_choked"
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
        "bore_ratio": bore / diameter,
        "bore_wall": bore / 2 - 6e-3,
    }
    results["supply_efficiency"] = electric / (flow * 3.2e5)
    results["survives_load_loss"] = results["safety_margin"] >= results["runaway_ratio"]
    results |= _losses(whole, shaft, electric)
    for column in results.keys() - set(SEARCHED):
        results[column] = np.where(status == MATCHED, results[column], np.nan)
    results["governing_mode"] = np.where(status == MATCHED, modes[margins.argmin(axis=0)], "")
    results["validity"] = np.where(gap > 0.45e-3, "gap friction (Hirs 1973)", "")
    results["status"] = status
    return results


def _losses(
    whole: NDArray[np.float64], shaft: NDArray[np.float64], electric: NDArray[np.float64]
) -> Columns:
    """Shares of what is missing; they close the balance by construction."""
    fluid = dict(zip(LOSSES, (14, 6, 5, 4, 22, 30, 9), strict=False))
    rest = dict(zip(LOSSES[7:10], (9.0, 8.0, 3.0), strict=True))
    parts = {key: weight / 90 * (0.98 * whole - shaft) for key, weight in fluid.items()}
    parts |= {key: weight / 20 * 0.02 * whole for key, weight in rest.items()}
    parts |= {"loss_drive": 0.02 * shaft, "loss_generator": 0.98 * shaft - electric}
    return parts
