"""How far the match is from what the machine could do: arithmetic a point against a core's rate.

By hand: python -m pytest tests/speed -m speed -s
"""

import ast
import inspect
import sys
import time
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.fluids.by_name import gas
from engine.physics.compiled import entry, line
from engine.physics.flow.match import Circuit, Throughflow, match_rim_pressure
from engine.physics.gap import averaged_kernel, modes_kernel
from engine.physics.gap.averaged import STEPS, march
from engine.study.study import Study

Columns = dict[str, NDArray[Any]]
GAS_FITS, GAS_DEGREE = 2 + 6, 9
CHAINS = 12
CHAINED = CHAINS * 8
ROUNDS = 2_000_000
SOLVED = 3
"""Times that a step solves for its profiles, on average."""
CALLS = {
    (averaged_kernel, "_step"): 1,
    (averaged_kernel, "_local"): 1,
    (averaged_kernel, "turbulent_weight"): 1,
    (averaged_kernel, "_forces"): 1,
    (averaged_kernel, "_slope"): 1,
    (averaged_kernel, "_sum"): 4,
    (averaged_kernel, "_steadiness"): 1,
    (modes_kernel, "moments_of"): 1,
    (modes_kernel, "implicit_step"): SOLVED,
    (modes_kernel, "_products"): 1 + 2 * SOLVED,
    (modes_kernel, "_drift"): 10 * SOLVED,
    (modes_kernel, "_left_standing"): 3 * 6 * SOLVED,
    (modes_kernel, "_push"): 6 * SOLVED,
}
"""Functions of a step and how often it goes through them."""


def arithmetic_of_a_step() -> float:
    """Operators of the source, each a floating-point operation, and the fits of the gas."""
    total = 2.0 * GAS_FITS * GAS_DEGREE
    for (module, name), calls in CALLS.items():
        source = inspect.getsource(getattr(module, name).py_func)
        total += calls * sum(isinstance(node, ast.BinOp) for node in ast.walk(ast.parse(source)))
    return total


@entry
def multiply_and_add(rounds: int) -> float:
    """Independent chains of products and sums, as many as fill a core."""
    x = line(CHAINED)
    for i in range(CHAINED):
        x[i] = i * 1e-3
    for _ in range(rounds):
        for i in range(CHAINED):
            x[i] = x[i] * 0.999 + 1e-3
    total = 0.0
    for i in range(CHAINED):
        total += x[i]
    return total


def seconds(work: Callable[[], object]) -> float:
    """Time of the fastest of nine by the clock on the wall, after a first."""
    work()
    found = []
    for _ in range(9):
        start = time.perf_counter()
        work()
        found.append(time.perf_counter() - start)
    return min(found)


@pytest.mark.speed
def test_the_match_against_the_arithmetic_of_a_core(
    shop_air: Study,
    random_builds: Callable[[int, int], Columns],
    circuit_of: Callable[[Study, Columns], Circuit],
    entry_of: Callable[[Circuit, Throughflow], Columns],
    capsys: pytest.CaptureFixture[str],
) -> None:
    n = 8000
    circuit = circuit_of(shop_air, random_builds(n, 5))
    status = np.zeros(n, dtype=np.int64)
    air = gas("air")
    flow, found = match_rim_pressure(fluid=air, circuit=circuit, status=status)
    good = int((found == 0).sum())
    lanes: dict[str, Any] = dict(entry_of(circuit, flow))
    together = seconds(lambda: match_rim_pressure(fluid=air, circuit=circuit, status=status))
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SWIRLSTACK_THREADS", "1")
        marched = seconds(lambda: march(fluid=air, **lanes)) / n
        matched = seconds(lambda: match_rim_pressure(fluid=air, circuit=circuit, status=status))
    rate = 2 * CHAINED * ROUNDS / seconds(lambda: multiply_and_add(ROUNDS))
    operations = arithmetic_of_a_step() * STEPS
    rows = [
        "",
        f"a core multiplies and adds    {rate / 1e9:8.1f} 1e9 operations a second",
        f"operations of a march         {operations:8.0f} (step: {arithmetic_of_a_step():.0f})",
        f"least time of a march         {operations / rate * 1e6:8.2f} us",
        f"time of a march               {marched * 1e6:8.2f} us",
        f"time of a matched point       {matched / good * 1e6:8.2f} us",
        f"marches a matched point costs {matched / good / marched:8.1f}",
        f"matched points on one core    {good / matched:8,.0f} a second",
        f"matched points on all cores   {good / together:8,.0f} a second",
        "",
    ]
    with capsys.disabled():
        sys.stdout.write("\n".join(rows))
    assert good > n / 2
