"""Readings to expect on the bench: their bands compared with the samples one by one."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
import pytest

from engine.bands.inputs import inputs, sampled_shares, spread
from engine.bench.readings import (
    PRESSURE_SHARES,
    READ,
    READ_LOCKED,
    READING_SHARES,
    BenchReadings,
    bench_readings,
    locked_readings,
)
from engine.model.circuit import FAMILY
from engine.model.evaluation import builds_of, evaluate
from engine.model.locked_rotor import evaluate_locked
from engine.study.study import Study
from reports.design.facts import BuildData

FEW = 32
"""Too few samples for a correction by parabolas, so that bands are their plain quantiles."""


def with_uncertainty(study: Study, **values: Any) -> Study:
    section = study.uncertainty.model_copy(update=values)
    return study.model_copy(update={"uncertainty": section})


def samples_of(
    study: Study, front: Mapping[str, Any], share: float, *, locked: bool
) -> dict[str, Any]:
    """Readings of every sample at a share of speed or of supply pressure, from the model."""
    build = {key: values[:1] for key, values in builds_of(study, front).items()}
    unit = sampled_shares(study, FEW, study.search.seed)
    drawn = {key: np.repeat(values, FEW) for key, values in build.items()}
    for place, key in enumerate(inputs(study)):
        drawn[key] = spread(study, build, key).at(unit[None, :, place])[0]
    back = study.supply.back_pressure
    drawn["gap_flow"] = np.full(FEW, "averaged")
    drawn[FAMILY] = np.zeros(FEW)  # matches begin where those of the bands do
    if locked:
        drawn["supply_pressure"] = back + share * (drawn["supply_pressure"] - back)
        return evaluate_locked(study, drawn)
    return evaluate(study, {**drawn, "speed": share * drawn["speed"]})


@pytest.mark.parametrize(
    ("readings", "keys", "shares", "locked"),
    [
        pytest.param(bench_readings, READ, READING_SHARES, False, id="at each speed"),
        pytest.param(locked_readings, READ_LOCKED, PRESSURE_SHARES, True, id="held still"),
    ],
)
def test_bands_are_the_quantiles_of_the_samples(
    sheet_data: BuildData,
    readings: Callable[[Study, Mapping[str, Any], int], BenchReadings],
    keys: Sequence[str],
    shares: Sequence[float],
    locked: bool,
) -> None:
    study, front = with_uncertainty(sheet_data.study, samples=FEW), sheet_data.front
    found = readings(study, front, 0)
    for place, share in enumerate(shares):
        sampled = samples_of(study, front, share, locked=locked)
        for key in keys:
            moved = found.resolved[key][place] - found.averaged[key][place]
            ends = np.quantile(sampled[key], (0.025, 0.975)) + moved
            np.testing.assert_allclose([end[place] for end in found.bands[key]], ends, rtol=1e-9)


def test_the_band_at_operating_speed_encloses_that_of_the_report(sheet_data: BuildData) -> None:
    front, found = sheet_data.front, sheet_data.readings
    low, high = (end[-1] for end in found.bands["electric_power"])
    moved = front["resolved_power"][0] - front["electric_power"][0]
    p10, p90 = (front[f"electric_power_{part}"][0] + moved for part in ("p10", "p90"))
    assert low < p10 < found.expected("electric_power")[-1] < p90 < high
    # Of a normal distribution 1.96 standard deviations over 1.28; this one is a little bent.
    assert (high - low) / (p90 - p10) == pytest.approx(1.53, abs=0.15)


def test_wider_uncertainty_gives_wider_bands_and_exact_inputs_give_none(
    sheet_data: BuildData,
) -> None:
    study, front = sheet_data.study, sheet_data.front
    usual = sheet_data.readings
    loose = bench_readings(
        with_uncertainty(study, nozzle_discharge=0.04, rim_mixing=0.08), front, 0
    )
    for key in ("mass_flow", "shaft_torque", "electric_power"):
        narrow, wide = (each.bands[key][1] - each.bands[key][0] for each in (usual, loose))
        assert (wide > 1.05 * narrow).all(), key
    exact = with_uncertainty(
        study, **{key: 0.0 for key in type(study.uncertainty).model_fields if key != "samples"}
    )
    none = bench_readings(exact, front, 0)
    for key in READ:
        for end in none.bands[key]:
            np.testing.assert_allclose(end, none.expected(key), rtol=1e-9)
