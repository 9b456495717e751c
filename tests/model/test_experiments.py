"""Published experiments through the whole model: predicted over measured, nothing tuned.

`tests/published/experiments.toml` holds what was read, what had to be assumed, and a band with its
reason. `python -m pytest tests/model/test_experiments.py -s` prints predicted and measured.
"""

import tomllib
from collections.abc import Callable
from functools import cache
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import brentq

from engine.bench import least_squares
from engine.model.evaluation import evaluate
from engine.study.study import Study
from engine.study.supply import source_of
from tests.support.places import PUBLISHED

Columns = dict[str, NDArray[Any]]
FILE = PUBLISHED / "experiments.toml"
EXPERIMENTS = {e["name"]: e for e in tomllib.loads(FILE.read_text(encoding="utf-8"))["experiment"]}
CHECKS = [(name, check) for name, e in EXPERIMENTS.items() for check in e["check"]]
N_SPEEDS = 80


@cache
def rig(name: str) -> tuple[Study, Columns]:
    """The rig's study, and its results at speeds spread over the range."""
    given = EXPERIMENTS[name]
    study = Study.model_validate(
        {
            "title": name,
            "supply": given["supply"],
            "machine": given["machine"],
            "ranges": {**given["build"], "speed": given["speed"]},
        }
    )
    ranges = study.searched()
    builds = {key: np.full(N_SPEEDS, float(value.lowest)) for key, value in ranges.items()}
    speed = ranges["speed"]
    builds["speed"] = np.geomspace(speed.lowest, speed.highest, N_SPEEDS)
    results = evaluate(study, builds)
    matched = results["status"] == "matched"
    return study, {key: values[matched] for key, values in results.items()}


def rotor_power(results: Columns) -> NDArray[np.float64]:
    """What discs and edges receive less the drag of the end faces; no bearings."""
    power: NDArray[np.float64] = results["rotor_power"] - results["loss_windage"]
    return power


def flow_at_the_peak(study: Study, results: Columns) -> float:
    top = np.argmax(rotor_power(results))
    return float(results["mass_flow"][top] / source_of(study.supply).density)


def most_rotor_power(study: Study, results: Columns) -> float:
    return float(rotor_power(results).max())


def rotor_efficiency(study: Study, results: Columns) -> float:
    return float((rotor_power(results) / results["isentropic_power"]).max())


def shaft_efficiency(study: Study, results: Columns) -> float:
    return float(results["turbine_efficiency"].max())


def nozzle_loss(study: Study, results: Columns) -> float:
    """Fall of total pressure from supply to jet, over the supply's gauge pressure."""
    source, supply = source_of(study.supply), study.supply
    rim_pressure, jet_speed = results["rim_pressure"][0], results["jet_speed"][0]

    def excess(total: float) -> float:
        end = source.fluid.isentropic_enthalpy(
            pressure=rim_pressure,
            enthalpy=source.enthalpy - jet_speed**2 / 2,
            end_pressure=total,
        )
        return float(end - source.enthalpy)

    total = brentq(excess, rim_pressure, 1.01 * supply.pressure)
    return float((supply.pressure - total) / (supply.pressure - supply.atmosphere))


PREDICTED: dict[str, Callable[[Study, Columns], float]] = {
    "flow at the peak": flow_at_the_peak,
    "rotor power": most_rotor_power,
    "rotor efficiency to the supply": rotor_efficiency,
    "shaft efficiency": shaft_efficiency,
    "total pressure lost in the nozzle": nozzle_loss,
}


@pytest.mark.parametrize(
    ("name", "check"), CHECKS, ids=[f"{name}: {check['quantity']}" for name, check in CHECKS]
)
def test_predicted_over_measured_lies_in_its_band(name: str, check: dict[str, Any]) -> None:
    predicted = PREDICTED[check["quantity"]](*rig(name))
    ratio = predicted / check["measured"]
    said = f"{predicted:.4g} predicted, {check['measured']:.4g} measured, ratio {ratio:.2f}"
    print(f"\n{name}, {check['quantity']}: {said}")  # noqa: T201  read with -s
    low, high = check["band"]
    assert low <= ratio <= high, f"{said}; {check['reason']}"


def test_every_experiment_names_its_source_and_every_band_its_reason() -> None:
    for experiment in EXPERIMENTS.values():
        assert experiment["source"]
        assert experiment["read"]
        assert experiment["assumed"]
    for _, check in CHECKS:
        low, high = check["band"]
        assert low < high
        # The reason of a band that does not contain 1 says that it is a miss.
        assert (low <= 1 <= high) != check["reason"].startswith("a miss")


def test_a_peak_over_speed_lies_inside_the_range_of_speeds() -> None:
    for name in EXPERIMENTS:
        if EXPERIMENTS[name]["supply"]["fluid"] != "air":
            top = int(np.argmax(rotor_power(rig(name)[1])))
            assert 0 < top < len(rig(name)[1]["speed"]) - 1, name


def test_nozzle_loss_fitted_at_one_pressure_predicts_the_other() -> None:
    # Guha and Smiley 2010: 13 to 34 % of the gauge inlet total pressure lost over the pressures
    # tried; single readings could not be read. So the lower pressure is fitted to the middle of
    # that range, with the standard deviation of a uniform distribution over it, and the higher
    # pressure is predicted.
    middle, spread = 0.235, (0.34 - 0.13) / 12**0.5

    def loss(name: str, velocity: NDArray[np.float64]) -> NDArray[np.float64]:
        study, results = rig(name)
        lanes = {key: np.repeat(results[key][:1], velocity.size) for key in study.searched()}
        found = evaluate(study, {**lanes, "nozzle_velocity": velocity})
        return np.array(
            [
                nozzle_loss(study, {key: values[lane : lane + 1] for key, values in found.items()})
                for lane in range(velocity.size)
            ]
        )

    low, high = "air, plain inlet, 1 bar gauge", "air, plain inlet, 3 bar gauge"
    found = least_squares.fit(
        lambda points: ((loss(low, points[:, 0]) - middle) / spread)[:, None],
        start=np.array([0.95]),
        lower=np.array([0.5]),
        upper=np.array([1.0]),
        width=np.array([0.05]),
    )
    velocity, standard = found.values[0], found.standard[0]
    ends = velocity + 1.96 * standard * np.array([-1.0, 0.0, 1.0])
    most, predicted, least = loss(high, np.minimum(ends, 1.0)).tolist()
    said = f"{predicted:.1%} at 3 bar ({least:.1%} to {most:.1%}), velocity {velocity:.3f}"
    print(f"\nnozzle loss fitted to {middle:.1%} at 1 bar: {said}")  # noqa: T201  read with -s
    # 34.3 % (19 to 46 %): just past the upper end of what was read, 1.2 standard uncertainties
    # from its middle. A weak test, as the source's single readings are not at hand; it fails for
    # a nozzle without loss, below.
    apart = np.hypot(spread, (most - least) / (2 * 1.96))
    assert abs(predicted - middle) < 1.96 * apart, said
    lossless = float(loss(high, np.array([1.0]))[0])
    print(f"without loss in the nozzle: {lossless:.1%}")  # noqa: T201  read with -s
    assert abs(lossless - middle) > 1.96 * spread
