"""Compiled code: each lane on its own, no hang, no crash, safe to compile anywhere."""

import ast
import os
import platform
import re
import subprocess
import sys
from collections.abc import Callable
from dataclasses import fields, replace
from inspect import signature
from pathlib import Path
from typing import Any

import numba
import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from numpy.typing import NDArray

from engine.fluids.by_name import gas
from engine.physics import compiled, machine_code
from engine.physics.arrays import Reason
from engine.physics.compiled import PACK
from engine.physics.flow.match import (
    Circuit,
    Level,
    Throughflow,
    flow_at_rim_pressure,
    match_rim_pressure,
)
from engine.physics.fluids import gas_kernel
from engine.physics.gap.averaged import march
from engine.physics.gap.turbulence import turbulent_weight as weight_by_logarithm
from engine.physics.gap.turbulence_kernel import turbulent_weight as weight_in_packs
from engine.study.study import Study
from tests.support.lanes import take_lanes
from tests.support.parts import from_python
from tests.support.places import ROOT

AIR = gas("air")
Columns = dict[str, NDArray[Any]]


@pytest.fixture(scope="module")
def circuit(
    shop_air: Study,
    random_builds: Callable[[int, int], Columns],
    circuit_of: Callable[[Study, Columns], Circuit],
) -> Circuit:
    return circuit_of(shop_air, random_builds(150, 3))


def match(circuit: Circuit, level: Level = "averaged") -> tuple[Throughflow, NDArray[np.int64]]:
    status = np.zeros(circuit.gap.shape, dtype=np.int64)
    return match_rim_pressure(fluid=AIR, circuit=circuit, status=status, level=level)


def numbers(flow: Throughflow) -> list[NDArray[np.float64]]:
    parts = (flow.gap, flow.ring, flow.jet, flow.entry)
    whole = [getattr(part, f.name) for part in parts for f in fields(part)]
    return [*whole, flow.rim_pressure, flow.mismatch, flow.exhaust_speed]


def test_a_product_is_rounded_before_it_is_added() -> None:
    """Fused in one place and not in another, it would make numbers depend on what is inlined."""

    def left(a: float, b: float, c: float) -> float:
        return a * b + c

    step = 2.0**-30
    assert compiled.entry(left)(1 + step, 1 - step, -1.0) == 0.0  # fused: -step * step


@pytest.mark.skipif(platform.machine() not in {"x86_64", "AMD64"}, reason="reads its instructions")
@pytest.mark.parametrize("pack", [gas_kernel.gas_states, gas_kernel.gas_densities_viscosities])
def test_a_pack_of_states_is_read_in_vectors(pack: Any) -> None:
    """Otherwise only a slower march would show that a change prevents vector instructions."""
    fresh = numba.njit(pack.py_func, **compiled.SETTINGS)
    lanes = [np.ones(PACK) for _ in signature(pack.py_func).parameters][1:]
    lanes[-1] = np.ones((5, PACK)) if pack is gas_kernel.gas_states else lanes[-1]
    fresh(AIR.record, *lanes)
    (code,) = fresh.inspect_asm().values()
    assert len(re.findall(r"\bv?mulpd\b", code)) > 20
    assert not re.findall(r"\bv?mulsd\b", code)


NARROWED = """
import re, numba, numpy as np
from engine.fluids.by_name import gas
from engine.physics import compiled, machine_code
from engine.physics.fluids.gas_kernel import gas_states
fresh = numba.njit(gas_states.py_func, **compiled.SETTINGS)
states = np.empty((5, 8))
fresh(gas("air").record, np.linspace(1e5, 9e5, 8), np.linspace(2e5, 6e5, 8), states)
(code,) = fresh.inspect_asm().values()
print(len(re.findall("zmm", code)), len(re.findall("ymm", code)), states.tobytes().hex())
"""


@pytest.mark.skipif(platform.machine() not in {"x86_64", "AMD64"}, reason="names its processors")
def test_vectors_of_256_bits_give_the_same_bits_and_use_no_wider_register() -> None:
    narrow = {"NUMBA_CPU_NAME": "haswell", "NUMBA_CPU_FEATURES": "+avx2,+fma"}
    said = subprocess.run(  # noqa: S603  fixed arguments
        [sys.executable, "-c", NARROWED],
        env={**os.environ, **narrow, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
    ).stdout.split()
    states = np.empty((5, PACK))
    from_python(gas_kernel.gas_states)(
        AIR.record, np.linspace(1e5, 9e5, 8), np.linspace(2e5, 6e5, 8), states
    )
    assert int(said[0]) == 0
    assert int(said[1]) > 100
    assert said[2] == states.tobytes().hex()


@pytest.mark.parametrize("level", ["averaged", "resolved"])
def test_a_lane_is_bit_for_bit_the_same_in_any_company(circuit: Circuit, level: Level) -> None:
    together, status = match(circuit, level)
    around = take_lanes(circuit=circuit, lane=np.arange(150)[::-1].copy())
    backwards, turned = match(around, level)
    assert_array_equal(status, turned[::-1])
    for ours, theirs in zip(numbers(together), numbers(backwards), strict=True):
        assert_array_equal(ours, theirs[::-1])
    for lane in (0, 77, 149):
        alone, _ = match(take_lanes(circuit=circuit, lane=np.array([lane])), level)
        for ours, theirs in zip(numbers(together), numbers(alone), strict=True):
            assert_array_equal(ours[lane], theirs[0])


@pytest.mark.parametrize("threads", ["1", "2", "7"])
def test_a_lane_is_the_same_on_any_number_of_threads(
    circuit: Circuit, threads: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(compiled, "FEWEST", 8)
    together, _ = match(circuit)
    monkeypatch.setenv("SWIRLSTACK_THREADS", threads)
    shared, _ = match(circuit)
    for ours, theirs in zip(numbers(together), numbers(shared), strict=True):
        assert_array_equal(ours, theirs)


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf, 0.0, -1.0, 1e300, 1e-300])
def test_any_number_in_any_place_ends_and_leaves_the_neighbours_alone(
    circuit: Circuit, bad: float
) -> None:
    few = take_lanes(circuit=circuit, lane=np.arange(9))
    want, status = match(few)
    for name in (f.name for f in fields(Circuit) if f.name != "nozzle"):
        values = getattr(few, name).copy()
        values[4] = bad
        found, reason = match(replace(few, **{name: values}))
        others = np.arange(9) != 4
        assert_array_equal(reason[others], status[others], err_msg=name)
        assert_array_equal(found.gap.exit_swirl[others], want.gap.exit_swirl[others], err_msg=name)
        if reason[4] == Reason.MATCHED:
            assert np.isfinite(found.gap.torque[4]), name
        if np.isnan(bad):
            assert reason[4] != Reason.MATCHED, name


def test_the_search_returns_the_flow_at_its_rim_pressure(circuit: Circuit) -> None:
    found, status = match(circuit)
    with np.errstate(all="ignore"):
        again = flow_at_rim_pressure(
            fluid=AIR, circuit=circuit, march=march, rim_pressure=found.rim_pressure
        )
    good = status == Reason.MATCHED
    assert good.sum() > 80
    for ours, theirs in zip(numbers(found), numbers(again), strict=True):
        assert_allclose(ours[good], theirs[good], rtol=1e-9, atol=1e-9)


def test_the_short_series_of_the_transition_is_its_logarithm() -> None:
    reynolds = np.geomspace(100, 1e5, 500)
    in_packs = from_python(weight_in_packs)
    ours = [in_packs(re) for re in reynolds]
    assert_allclose(ours, weight_by_logarithm(reynolds=reynolds)[0], atol=1e-13)


def test_code_is_kept_apart_for_each_content_of_the_physics() -> None:
    assert machine_code.code_folder() is not None
    assert machine_code.code_folder().name.startswith("compiled-")  # type: ignore[union-attr]


PHYSICS = ROOT / "engine" / "physics"


def dotted(file: Path) -> str:
    """Name of a module below the physics."""
    return ".".join(file.relative_to(PHYSICS).with_suffix("").parts)


def imports_in(text: str) -> set[str]:
    """Modules below the physics that a module imports, in whatever form."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            names |= {str(node.module), *(f"{node.module}.{alias.name}" for alias in node.names)}
    files = {(ROOT / name.replace(".", "/")).with_suffix(".py") for name in names}
    return {dotted(file) for file in files if PHYSICS in file.parents and file.exists()}


def test_the_digest_of_compiled_code_covers_every_module_that_contributes_to_it() -> None:
    # A module left out would run old machine code after one of its formulas was changed.
    texts = {dotted(file): file.read_text("utf-8") for file in PHYSICS.rglob("*.py")}
    kernels = {name for name in texts if name.endswith("_kernel")}
    assert {name.partition(".")[0] for name in kernels} == {
        "flow",
        "fluids",
        "gap",
        "machine",
        "plane",
        "pump",
    }
    needed = kernels | {name for name, text in texts.items() if "compiled" in imports_in(text)}
    while more := {other for name in needed for other in imports_in(texts[name])} - needed:
        needed |= more
    found = machine_code._sources(PHYSICS)
    assert needed - {*found} == set()
    assert {name: texts[name] for name in found} == found


def test_the_digest_follows_imports_of_imports_and_leaves_out_all_else(tmp_path: Path) -> None:
    texts = {
        "compiled": "",
        "gap.step_kernel": "from engine.physics.compiled import compiled, root\n"
        "from engine.physics.gap.shape import (\n    WIDTH,\n)\n",
        "gap.shape": "def f():\n    from engine.physics.flow import numbers\n",
        "flow.numbers": "",
        "flow.areas": "from engine.physics.gap.step_kernel import step\n",
    }
    for name, text in texts.items():
        file = (tmp_path / name.replace(".", "/")).with_suffix(".py")
        file.parent.mkdir(exist_ok=True)
        file.write_text(text, "utf-8")
    assert {*machine_code._sources(tmp_path)} == {*texts} - {"flow.areas"}


def test_without_a_place_to_write_code_is_compiled_all_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(machine_code, "code_folder", lambda: None)

    @compiled.compiled
    def double(x: float) -> float:
        return 2 * x

    @compiled.entry
    def twice(x: float) -> float:
        return double(x)

    assert twice(1.5) == 3.0


def test_what_only_compiled_functions_call_is_no_function_to_python() -> None:
    @compiled.compiled
    def double(x: float) -> float:
        return 2 * x

    with pytest.raises(TypeError):
        double(1.5)


def test_two_processes_may_compile_at_once(tmp_path: Path) -> None:
    code = (
        "from engine.physics.gap.turbulence import turbulent_weight as w;print(w(reynolds=3e3)[0])"
    )
    environment = {**os.environ, "NUMBA_CACHE_DIR": str(tmp_path), "PYTHONPATH": str(Path.cwd())}
    started = [
        subprocess.Popen(  # noqa: S603  fixed arguments
            [sys.executable, "-c", code], env=environment, stdout=subprocess.PIPE, text=True
        )
        for _ in range(2)
    ]
    said = [process.communicate(timeout=300)[0] for process in started]
    assert [process.returncode for process in started] == [0, 0]
    assert {float(text) for text in said} == {float(weight_by_logarithm(reynolds=3e3)[0])}
