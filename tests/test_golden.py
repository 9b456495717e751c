"""Twelve designs as the model gave them before: our own past, not truth.

Any change of numbers must be meant. If it is: raise MODEL_VERSION, say in the change log by how
much the numbers moved, and write the file anew with

    python -m pytest tests/test_golden.py --write-golden
"""

import tomllib
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.model.evaluation import evaluate, with_runaway
from engine.model.version import MODEL_VERSION
from engine.study.study import Study
from tests.support.places import PUBLISHED

FILE = PUBLISHED / "golden.toml"
HEAD = """\
# What the model gave for twelve designs, SI units. Our own past, not truth: it is here so that no
# number changes unnoticed. Written by the test that reads it, see tests/test_golden.py.
"""
TOLERANCE = 1e-9

Columns = dict[str, NDArray[Any]]

DESIGNS: Columns = {
    #                            narrow gap ... wide; then stacks, sizes, nozzles; then refused ones
    "disc_count": np.array([11, 11, 11, 30, 4, 20, 11, 15, 11, 11, 3, 11]),
    "disc_diameter": np.array([150, 150, 150, 80, 250, 120, 150, 180, 150, 150, 90, 150]) * 1e-3,
    "gap": np.array([100, 200, 500, 150, 300, 250, 200, 300, 200, 200, 120, 200]) * 1e-6,
    "inlet_angle": np.deg2rad([10, 10, 10, 8, 15, 25, 10, 12, 10, 10, 10, 10]),
    "exhaust_bore": np.array([50, 50, 50, 30, 60, 40, 50, 70, 50, 50, 30, 11]) * 1e-3,
    "speed": np.array([1200, 1600, 1600, 3000, 800, 2000, 2200, 1400, 50, 8000, 1500, 1500.0]),
    "nozzle_width": np.array([3, 3, 3, 3, 5, 3, 4, 4, 3, 3, 30, 3]) * 1e-4,
    "nozzle_form": np.array(["convergent"] * 6 + ["convergent-divergent"] + ["convergent"] * 5),
    "exhaust_ends": np.array([2, 2, 2, 2, 1, 2, 2, 1, 2, 2, 2, 2]),
    "material": np.array(["stainless-304"] * 7 + ["aluminium-7075-t6"] + ["stainless-304"] * 4),
}


def texts(values: NDArray[Any]) -> list[str]:
    return [f'"{v}"' if values.dtype.kind in "US" else repr(float(v)) for v in values]


def written(found: Columns) -> str:
    rows = [f"{key} = [{', '.join(texts(values))}]" for key, values in found.items()]
    return "\n".join([f"{HEAD}\nmodel_version = {MODEL_VERSION}\n\n[results]", *rows]) + "\n"


def test_twelve_designs_give_what_they_gave(
    shop_air: Study, request: pytest.FixtureRequest
) -> None:
    everything = with_runaway(shop_air, evaluate(shop_air, DESIGNS))
    found = {key: v for key, v in everything.items() if COLUMNS[key].kind == "result"}
    if request.config.getoption("--write-golden"):
        FILE.write_text(written(found), encoding="utf-8")
    golden = tomllib.loads(FILE.read_text(encoding="utf-8"))
    assert golden["model_version"] == MODEL_VERSION, "write the file anew, see above"
    assert list(golden["results"]) == list(found)
    for key, values in golden["results"].items():
        if COLUMNS[key].is_text:
            assert found[key].tolist() == values, key
        elif key == "loss_balance":  # rounding itself
            assert_allclose(found[key], values, atol=1e-9)
        else:
            assert_allclose(found[key], values, rtol=TOLERANCE, err_msg=key)


def test_the_designs_cover_matched_and_refused_lanes() -> None:
    statuses = tomllib.loads(FILE.read_text(encoding="utf-8"))["results"]["status"]
    assert statuses.count("matched") >= 8
    assert len(set(statuses)) >= 4
