"""Convergence and time of the plane flow, by hand: python -m pytest tests/speed -m speed -s."""

import time

import numpy as np
import pytest

from engine.model.plane import matched_build, plane_numbers
from engine.physics.plane.solve import plane_flow
from tests.physics.plane.make_reference import build_of, cases

GRIDS = (0.25, 0.35, 0.5, 0.7, 1.0, 1.4)


@pytest.mark.speed
@pytest.mark.parametrize("name", ["air base", "steam base", "water base"])
def test_convergence_over_grids(capsys: pytest.CaptureFixture[str], name: str) -> None:
    case = next(case for case in cases() if case.name == name)
    given = plane_numbers(*matched_build(*build_of(case))[:3])
    count = int(case.values["nozzle_count"])
    plane_flow(**given, nozzle_count=count, fineness=0.25)  # compiles
    torques = []
    with capsys.disabled():
        print(f"\nPlane flow, {name}")  # noqa: T201
    for fineness in GRIDS:
        start = time.process_time()
        flow = plane_flow(**given, nozzle_count=count, fineness=fineness)
        spent = time.process_time() - start
        rows, columns = flow.field.pressure.shape
        torques.append(flow.rotor_torque)
        with capsys.disabled():
            print(  # noqa: T201
                f"  {rows:3} x {columns:4}: rotor {flow.rotor_torque * 1e3:8.3f} mN m, casing "
                f"{flow.casing_torque * 1e3:7.3f}, balances {flow.worst_residual:.1e}, "
                f"{flow.steps} steps, {spent:.0f} s"
            )
    changes = np.abs(np.diff(torques)) / torques[-1]
    assert changes[-1] < 0.02
