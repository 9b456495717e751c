"""The bench test that tells how hard the casing rubs: that its log, filled in, tells it."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.bench.fit import fit_log
from engine.bench.log import BenchLog, read_log
from engine.bench.log_columns import USUAL
from engine.bench.predicted import predict
from engine.bench.telling import FACTORS, SPEEDS, TOLD, telling_test, telling_tests
from engine.columns import COLUMNS
from engine.errors import StudyError
from engine.model.evaluation import evaluate
from engine.study.reader import parse_overrides, read_study
from engine.study.study import Study
from reports.design.plan_logs import RUBBING
from tests.support.benchlogs import BUILD, RPM, STUDY, read
from tests.support.places import STUDIES

Numbers = NDArray[np.float64]
TRUTH = {"nozzle_discharge": 0.91, "rim_mixing": 0.91, "casing_factor": 1.7}
HEAD = """---
build: {disc_count: 16, disc_diameter: 120 mm, gap: 0.3 mm, inlet_angle: 12 deg,
  exhaust_bore: 40 mm, nozzle_count: 4, nozzle_width: 0.15 mm}
columns:
  open: {quantity: nozzle_count}
  ring: {quantity: rim_clearance, unit: mm}
  n: {quantity: speed, unit: rpm, uncertainty: 0.1 %}
  M: {quantity: shaft_torque, unit: mN m, uncertainty: 1 %}
  Q: {quantity: mass_flow, unit: g/s, uncertainty: 1 %}
  p: {quantity: rim_pressure, unit: bar absolute, uncertainty: 0.005 bar}
---
open,ring,n,M,Q,p
"""
DRAWN = BUILD | {"nozzle_count": 4, "nozzle_width": 0.15e-3}


def log_of(
    folder: Path, nozzles: Numbers, clearance: Numbers, seed: int, truth: Any = TRUTH
) -> BenchLog:
    """Readings of the true machine with noise as the head states it."""
    rng, rows = np.random.default_rng(seed), len(nozzles)
    speed = np.tile(np.array([8000, 16000]) * RPM, rows // 2)
    conditions = {
        "speed": speed,
        "nozzle_count": nozzles,
        "rim_clearance": clearance,
        "supply_pressure": np.full(rows, STUDY.supply.pressure),
        "supply_temperature": np.full(rows, STUDY.supply.temperature),
        "back_pressure": np.full(rows, STUDY.supply.back_pressure),
    }
    found = predict(STUDY, DRAWN | truth, conditions)
    noise = [1 + 0.01 * rng.standard_normal(rows) for _ in range(2)]
    pressure = found["rim_pressure"] / 1e5 + 0.005 * rng.standard_normal(rows)
    cells = [nozzles, 1e3 * clearance, speed / RPM, 1e3 * found["shaft_torque"] * noise[0],
             1e3 * found["mass_flow"] * noise[1], pressure]  # fmt: skip
    lines = [",".join(f"{x:.6g}" for x in row) for row in zip(*cells, strict=True)]
    return read(HEAD + "\n".join(lines) + "\n", folder)


def test_a_fit_finds_the_friction_from_a_log_with_two_casing_rings(tmp_path: Path) -> None:
    rings, open_ = np.repeat([0.5e-3, 1e-3], 4), np.full(8, 4.0)
    found = fit_log(STUDY, log_of(tmp_path, open_, rings, seed=2))
    assert set(TRUTH) <= set(found.fit.values)
    for key, truth in TRUTH.items():
        assert abs(found.fit.values[key] - truth) < 1.3 * found.reach[key], key
    # With one ring the same readings do not tell the friction from the mixing.
    plain = fit_log(STUDY, log_of(tmp_path, open_, np.full(8, 0.5e-3), seed=2))
    assert not {"casing_factor", "rim_mixing"} <= set(plain.fit.values)


def test_a_fit_reads_how_many_nozzles_are_open(tmp_path: Path) -> None:
    # Blocked nozzles tell less: what mixing does must be known.
    truth = TRUTH | {"rim_mixing": STUDY.machine.rim_mixing}
    nozzles, ring = np.repeat([4.0, 1.0], 4), np.full(8, 0.5e-3)
    found = fit_log(
        STUDY,
        log_of(tmp_path, nozzles, ring, seed=1, truth=truth),
        candidates=("nozzle_discharge", "casing_factor"),
    )
    for key in ("nozzle_discharge", "casing_factor"):
        assert abs(found.fit.values[key] - truth[key]) < 1.3 * found.reach[key], key
    assert found.measured["mass_flow"][4:].max() < 0.3 * found.measured["mass_flow"][:4].min()


def test_log_of_the_plan_tells_the_friction_of_the_bundled_study(tmp_path: Path) -> None:
    # As a maker would: the rows and the instruments of the plan, one log and nothing before it.
    study = read_study(STUDIES / "lane-workshop.yaml")
    build = "disc_count=5 disc_diameter=105mm gap=0.6mm inlet_angle=6deg exhaust_bore=42mm"
    build += " speed=23500rpm nozzle_width=0.25mm nozzle_count=3 disc_thickness=1.5mm spokes=6"
    build += " rim_clearance=0.3mm process=waterjet"
    given = {k: np.array([v]) for k, v in parse_overrides(build.split(), study).items()}
    test = telling_test(study, evaluate(study, given), 0)
    assert test is not None
    assert test.tells
    rows, truth = 2 * len(test.speed), 0.6
    lanes = {key: np.repeat(values, rows) for key, values in given.items()}
    for key in ("nozzle_count", "rim_clearance", "speed"):
        lanes[key] = np.repeat(getattr(test, key), 2)
    found = evaluate(study.unjudged(), {**lanes, "casing_factor": np.full(rows, truth)})
    found |= {key: np.full(rows, getattr(study.supply, key.removeprefix("supply_")))
              for key in ("supply_pressure", "supply_temperature")}  # fmt: skip
    rng, cells = np.random.default_rng(4), []
    for key, (unit, within) in RUBBING.items():
        values = COLUMNS[key].to_drawing(np.asarray(found[key], dtype=float))
        values = values - 1.01325 if unit == "bar gauge" else values
        noise = float(within.split()[0]) / 100 if within.endswith("1 %") else 0.0
        cells.append(values * (1 + noise * rng.standard_normal(rows)))
    head = ["---", "build:", *(f"  {text.replace('=', ': ')}" for text in build.split())]
    head += ["columns:"]
    for key, (unit, within) in RUBBING.items():
        said = [f"quantity: {key}", *([f"unit: {unit}"] if unit else [])]
        head += [
            f"  {key}: {{{', '.join([*said, *([f'uncertainty: {within}'] if within else [])])}}}"
        ]
    lines = [",".join(f"{x:.6g}" for x in row) for row in zip(*cells, strict=True)]
    path = tmp_path / "casing-friction.csv"
    path.write_text("\n".join([*head, "---", ",".join(RUBBING), *lines]) + "\n", encoding="utf-8")
    fitted = fit_log(study, read_log(path, study))
    assert abs(fitted.fit.values["casing_factor"] - truth) < 1.5 * fitted.reach["casing_factor"]
    assert fitted.reach["casing_factor"] < 0.3


def test_half_a_nozzle_is_refused(tmp_path: Path) -> None:
    rows = "4,0.5,8000,300,10,1.2\n" * 4 + "2.5,0.5,8000,200,5,1.1\n"
    log = read(HEAD + rows, tmp_path)
    assert [row.reason for row in log.excluded] == ["open: '2.5' is not a whole number"]
    with pytest.raises(StudyError, match="nozzle_count"):
        read(HEAD.replace("open: {quantity: nozzle_count}", "open: {quantity: nozzle_cout}") + rows,
             tmp_path)  # fmt: skip


def _front(study: Study, **changes: Any) -> dict[str, NDArray[Any]]:
    build = {**BUILD, "speed": 18_000 * RPM, **changes}
    return evaluate(study, {key: np.array([value]) for key, value in build.items()})


def test_readings_are_those_of_the_model_and_lie_as_far_apart_as_said() -> None:
    front = _front(STUDY, nozzle_count=4, nozzle_width=0.15e-3)
    tests = {test.change: test for test in telling_tests(STUDY, front, 0)}
    assert list(tests) == ["as built", "nozzles blocked", "wider casing"]
    test = tests["nozzles blocked"]
    assert test.nozzle_count.tolist() == [4, 4, 2, 2]
    assert tests["wider casing"].rim_clearance * 1e3 == pytest.approx([0.5, 0.5, 1.0, 1.0])
    lanes = {**BUILD, "nozzle_width": 0.15e-3, "rim_clearance": 0.5e-3}
    lanes = {key: np.full(4, value) for key, value in lanes.items()}
    lanes |= {"nozzle_count": test.nozzle_count, "speed": np.tile(SPEEDS, 2) * 18_000 * RPM}
    for place, factor in enumerate(FACTORS):
        again = evaluate(STUDY, lanes | {"casing_factor": np.full(4, factor)})
        for key in TOLD:
            assert test.expected[key][place] == pytest.approx(again[key])
    # With nothing else uncertain only the instruments are left.
    keys = {key: 0.0 for key in STUDY.uncertainty.model_dump() if key != "samples"}
    exact = STUDY.uncertainty.model_copy(update=keys | {"casing_factor": 0.3})
    sure = next(telling_tests(STUDY.model_copy(update={"uncertainty": exact}), front, 0))
    squares = 0.0
    for key in TOLD:
        low, high = sure.expected[key]
        share, floor = USUAL[key]
        squares += (((high - low) / sure.instrument[key]) ** 2).sum()
        middle = np.hypot(share * (low + high) / 2, floor)
        assert sure.instrument[key] == pytest.approx(middle, rel=0.05)
    assert sure.apart == pytest.approx(squares**0.5)
    assert sure.apart > tests["as built"].apart
    # A change can only tell more.
    for changed in ("nozzles blocked", "wider casing"):
        assert tests[changed].apart > tests["as built"].apart


def test_the_change_that_tells_most_is_chosen() -> None:
    front = _front(STUDY, nozzle_count=4, nozzle_width=0.15e-3)
    chosen, tests = telling_test(STUDY, front, 0), list(telling_tests(STUDY, front, 0))
    assert chosen is not None
    assert chosen.apart == max(test.apart for test in tests)
    assert chosen.apart_as_built == tests[0].apart
    assert chosen.tells
    # One nozzle cannot be blocked in part.
    one = telling_test(STUDY, _front(STUDY, nozzle_count=1, nozzle_width=0.6e-3), 0)
    assert one is not None
    assert one.change == "wider casing"
    known = STUDY.uncertainty.model_copy(update={"casing_factor": 0.0})
    exact = STUDY.model_copy(update={"uncertainty": known})
    assert telling_test(exact, _front(exact), 0) is None
