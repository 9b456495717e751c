"""Three invented logs of one machine: knowledge only grows, and in any order it holds the truth."""

import itertools
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.stats import binom

from engine.bench import coast_down
from engine.bench.coast_down import NORMAL_REACH, fit_coast_down
from engine.bench.fit import COEFFICIENTS, fit_log
from engine.bench.log import BenchLog
from engine.bench.predicted import predict
from engine.bench.together import together, with_fit
from engine.model.circuit import nozzle_coefficients
from engine.study.fit import Fit
from engine.study.fit_file import fit_text, read_fit
from engine.study.knowledge import Knowledge
from engine.study.values import Range
from tests.support.benchlogs import BUILD, RPM, STUDY

TRUTH = {
    "nozzle_discharge": 0.90,
    "rim_mixing": 0.88,
    "generator_efficiency": 0.76,
    "bearing_factor": 1.4,
    "windage_factor": 0.8,
}
"""All else is as the study has it, so that what is held is held right."""
TRIALS = int(os.environ.get("FUZZ_TRIALS", "2"))
"""Trials here; 100 were made by hand."""
READ = {"shaft_torque": 0.01, "electric_power": 0.01, "mass_flow": 0.01, "rim_pressure": 0.002}
"""Noise of each reading, as a share of it."""
TOP = 18_000 * RPM
GROWN = 1.05
"""Ratio by which the uncertainty of a told number may seem to grow."""
COMPUTED = nozzle_coefficients(
    STUDY, {k: np.array([v]) for k, v in {**BUILD, "speed": TOP}.items()}
)
TRUTH_AT = {key: float(STUDY.fixed()[key]) for key in COEFFICIENTS}
TRUTH_AT |= {key: value.item() for key, value in COMPUTED.items()} | TRUTH
Numbers = NDArray[np.float64]


def log_of(name: str, columns: Mapping[str, Numbers], noise: Mapping[str, float]) -> BenchLog:
    rows = len(next(iter(columns.values())))
    return BenchLog(
        file=f"{name}.csv",
        title=name,
        build=BUILD,
        columns=columns,
        uncertainty={key: noise.get(key, 0.0) * np.abs(v) for key, v in columns.items()},
        lines=np.arange(rows) + 20,
        excluded=(),
        cautions=(),
    )


def read_at(speed: Numbers, pressure: Numbers, keys: Sequence[str]) -> dict[str, Numbers]:
    """True readings, with the conditions."""
    conditions = {
        "speed": speed,
        "supply_pressure": pressure,
        "supply_temperature": np.full(speed.shape, 293.15),
        "back_pressure": np.full(speed.shape, STUDY.supply.back_pressure),
    }
    found = predict(STUDY, BUILD | TRUTH, conditions)
    given = {"speed": speed, "supply_pressure": pressure}
    return given | {key: np.asarray(found[key], dtype=float) for key in keys}


@pytest.fixture(scope="module")
def true_logs() -> dict[str, dict[str, Numbers]]:
    """The three logs without noise."""
    body = coast_down._Body.of(STUDY, BUILD, TOP)
    factors = np.array([[TRUTH["bearing_factor"]], [TRUTH["windage_factor"]]])

    def slower(_: float, speed: Numbers) -> Numbers:
        return np.asarray(-body.slowing(speed[None], *factors)[0])

    time = np.linspace(0, 330, 60)
    fall = solve_ivp(slower, (0, 330), [TOP], t_eval=time, rtol=1e-9, atol=1e-9, max_step=1.0)
    pressures = np.array([2, 2.75, 3.5, 4.25, 5]) * 1e5 + 101325
    speeds = np.linspace(6000, 18000, 8) * RPM
    torque = ("shaft_torque", "mass_flow", "rim_pressure")
    return {
        "locked": read_at(0 * pressures, pressures, torque),
        "loaded": read_at(speeds, np.full(8, 6e5 + 1325), tuple(READ)),
        "coast": {"time": time, "speed": fall.y[0]},
    }


def noisy(true: Mapping[str, Mapping[str, Numbers]], seed: int) -> dict[str, BenchLog]:
    random = np.random.default_rng(seed)
    logs = {}
    for name, columns in true.items():
        noise = {"speed": 0.002} if name == "coast" else READ
        read = {
            key: values * (1 + noise.get(key, 0.0) * random.standard_normal(values.shape))
            for key, values in columns.items()
        }
        logs[name] = log_of(name, read, noise)
    return logs


def fits_in_order(logs: Mapping[str, BenchLog], order: Sequence[str]) -> list[Fit]:
    """Fit after each log of an order."""
    study, fits = STUDY, list[Fit]()
    for name in order:
        log = logs[name]
        found = fit_coast_down(study, log) if log.is_coast_down else fit_log(study, log)
        fits.append(together(study, found.fit, log=log.file, sha=64 * name[0]))
        study = with_fit(study, fits[-1])
    return fits


def assert_grown(before: Fit, after: Fit) -> None:
    """Whatever is asked of it, the later fit knows more: its form is nowhere flatter."""
    assert before.knowledge is not None
    assert after.knowledge is not None
    keys = after.knowledge.keys
    more = after.knowledge.information - before.knowledge.of_keys(keys, TRUTH_AT).information
    scale = np.sqrt(np.diag(after.knowledge.information))
    shown = scale > 0
    relative = more[np.ix_(shown, shown)] / np.outer(scale[shown], scale[shown])
    assert np.linalg.eigvalsh(relative).min() > -1e-9


def test_knowledge_only_grows_and_holds_the_truth_in_any_order(
    true_logs: dict[str, dict[str, Numbers]],
) -> None:
    orders = list(itertools.permutations(true_logs))
    held: dict[str, list[bool]] = {key: [] for key in TRUTH}
    for trial in range(TRIALS):
        logs = noisy(true_logs, trial)
        fits = fits_in_order(logs, orders[trial % len(orders)])
        for before, after in itertools.pairwise(fits):
            assert before.values.keys() <= after.values.keys()
            for key, standard in before.standard.items():
                # A coast-down frees two more numbers, which a fit before held for certain.
                assert after.standard[key] <= GROWN * standard, (trial, key)
            assert_grown(before, after)
        last = fits[-1]
        assert set(TRUTH) <= set(last.values), (trial, orders[trial % 6], sorted(last.values))
        for key, true in TRUTH.items():
            reach = NORMAL_REACH * last.standard[key]
            held[key].append(abs(last.values[key] - true) < reach)
    fewest = int(binom.ppf(0.01, TRIALS, 0.95)) if TRIALS < 100 else 90
    told = {key: sum(each) for key, each in held.items()}
    assert min(told.values()) >= fewest, told


def test_the_order_of_logs_hardly_matters(true_logs: dict[str, dict[str, Numbers]]) -> None:
    logs = noisy(true_logs, 7)
    one, other = (
        fits_in_order(logs, order)[-1]
        for order in (("locked", "loaded", "coast"), ("coast", "loaded", "locked"))
    )
    for key in TRUTH:
        assert abs(one.values[key] - other.values[key]) < one.standard[key], key
        # One order frees another coefficient, with which rim mixing then shares its torque.
        assert 0.45 < one.standard[key] / other.standard[key] < 2.2, key


def test_a_fit_file_carries_what_its_logs_say(
    true_logs: dict[str, dict[str, Numbers]], tmp_path: Path
) -> None:
    fit = fits_in_order(noisy(true_logs, 2), ("locked",))[0]
    text = fit_text(fit, title="a", study="s", log="l", model_version=1, held=[])
    (tmp_path / "a.fit.yaml").write_text(text, encoding="utf-8")
    again = read_fit(tmp_path / "a.fit.yaml")
    assert again.logs == {"locked.csv": "l" * 64}
    assert again.knowledge is not None
    assert fit.knowledge is not None
    assert again.knowledge.keys == fit.knowledge.keys
    np.testing.assert_allclose(again.knowledge.information, fit.knowledge.information, rtol=1e-10)
    np.testing.assert_allclose(again.knowledge.centre, fit.knowledge.centre, rtol=1e-10)


def test_a_number_that_is_searched_by_now_does_not_stop_the_next_fit(
    true_logs: dict[str, dict[str, Numbers]],
) -> None:
    logs = noisy(true_logs, 3)
    first = fits_in_order(logs, ("locked",))[0]
    searching = with_fit(STUDY, first)
    ranges = searching.ranges.model_copy(
        update={"exhaust_loss": Range[float].model_validate({"choices": [1.0, 1.5]})}
    )
    searching = searching.model_copy(update={"ranges": ranges})
    log = replace(logs["loaded"], build={**BUILD, "exhaust_loss": 1.5})
    found = together(searching, fit_log(searching, log).fit, log="b.csv", sha="b" * 64)
    assert first.values.keys() <= found.values.keys()


BROKEN: tuple[tuple[Callable[[str], str], str], ...] = (
    (lambda t: t.replace("keys: [nozzle", "keys: [nozle"), "is not what a fit knows"),
    (lambda t: t.replace("  slope: [", "  slope: [1, "), "is not what a fit knows"),
    (lambda t: t.replace("  information:", "  informations:"), "is not what a fit knows"),
    (lambda t: t.replace(f"{'l' * 64}", "abc"), "is not a list of logs"),
)


@pytest.mark.parametrize("case", BROKEN)
def test_a_broken_knowledge_is_refused(
    case: tuple[Callable[[str], str], str], tmp_path: Path
) -> None:
    known = Knowledge(("nozzle_discharge",), np.array([0.9]), np.array([[4e4]]), np.zeros(1))
    fit = Fit({"nozzle_discharge": 0.9}, {"nozzle_discharge": 0.005}, np.eye(1), known)
    fit = Fit(fit.values, fit.standard, fit.correlation, known, {"l.csv": "l" * 64})
    text = fit_text(fit, title="a", study="s", log="l", model_version=1, held=[])
    change, message = case
    assert change(text) != text
    (tmp_path / "a.fit.yaml").write_text(change(text), encoding="utf-8")
    with pytest.raises(Exception, match=message):
        read_fit(tmp_path / "a.fit.yaml")


def test_forms_of_logs_add_up_around_any_point() -> None:
    random = np.random.default_rng(1)

    def form(keys: tuple[str, ...]) -> Knowledge:
        slopes = random.normal(size=(6, len(keys)))
        left = random.normal(size=6)
        centre = random.normal(size=len(keys))
        return Knowledge(keys, centre, slopes.T @ slopes, slopes.T @ left)

    def height(known: Knowledge, at: dict[str, Any]) -> float:
        off = np.array([at[key] for key in known.keys]) - known.centre
        return float(off @ known.information @ off + 2 * known.slope @ off)

    one, two = form(("a", "b")), form(("b", "c", "d"))
    here = {"a": 0.3, "b": -0.2, "c": 0.9, "d": 0.1}
    both = one.added(two, here)
    assert both.keys == ("a", "b", "c", "d")
    for _ in range(5):
        at = {key: float(value) for key, value in zip("abcd", random.normal(size=4), strict=True)}
        ends = [height(each, at) - height(each, here) for each in (both, one, two)]
        assert ends[0] == pytest.approx(ends[1] + ends[2])
        matrix, target = both.rows()
        off = np.array([at[key] - here[key] for key in both.keys])
        squares = np.square(matrix @ off + target).sum() - np.square(target).sum()
        assert squares == pytest.approx(ends[0])
