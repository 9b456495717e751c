"""How evenly the gaps of a stack share the flow, against all gaps solved one by one."""

import numpy as np
from numpy.testing import assert_allclose
from scipy.interpolate import PchipInterpolator
from scipy.optimize import root

from engine.model.evaluation import evaluate, with_evenness
from engine.model.hose import matched_circuit
from engine.model.validity import UNEVEN
from engine.physics.flow.rim import enter_gap
from engine.physics.gap import averaged
from engine.stage_columns import LATE as EVENNESS_COLUMNS
from engine.study.reader import read_study
from tests.support.places import ROOT

MILL = read_study(ROOT / "studies" / "mill-race.yaml")
TALL = {
    "disc_count": np.array([41, 41, 11]),
    "disc_diameter": np.full(3, 0.2),
    "gap": np.full(3, 1e-3),
    "inlet_angle": np.full(3, np.radians(15)),
    "exhaust_bore": np.array([0.09, 0.07, 0.07]),
    "speed": np.full(3, 500 * 2 * np.pi / 60),
    "nozzle_width": np.full(3, 3e-3),
    "disc_thickness": np.full(3, 1e-3),
    "spokes": np.full(3, 3),
    "nozzle_count": np.full(3, 2),
}


def test_unevenness_is_that_of_all_gaps_solved_together() -> None:
    found = with_evenness(MILL, evaluate(MILL, TALL))
    fluid, circuit, flow, _ = matched_circuit(MILL, TALL, "averaged")
    flows = np.array([0.7, 0.85, 0.95, 1.0, 1.05, 1.15, 1.3])
    for lane in (0, 1):
        one = {name: values[lane] for name, values in vars(circuit).items() if name != "nozzle"}
        mean = flow.rotor_flow[lane] / one["gap_count"]
        ring = type(flow.ring)(**{name: each[lane] for name, each in vars(flow.ring).items()})
        entry = enter_gap(
            fluid=fluid,
            ring=ring,
            ring_pressure=flow.rim_pressure[lane],
            gap_flow=flows * mean,
            gap=one["gap"],
            disc_thickness=one["disc_thickness"],
            rim_radius=one["rim_radius"],
            entry_factor=one["entry_factor"],
        )
        behind = averaged.march(
            fluid=fluid,
            rim_pressure=entry.pressure,
            rim_enthalpy=entry.enthalpy,
            rim_swirl=ring.swirl,
            mass_flow=flows * mean,
            gap=one["gap"],
            rim_radius=one["rim_radius"],
            bore_radius=one["bore_radius"],
            angular_speed=one["angular_speed"],
        ).exit_pressure
        law = PchipInterpolator(flows, behind)
        density = fluid.density(
            pressure=flow.gap.exit_pressure[lane], enthalpy=flow.gap.exit_enthalpy[lane]
        )
        # Half the stack leaves at each end. Momentum of an even stream, of smooth walls none.
        n_gaps = int(one["gap_count"]) // 2
        head = density * flow.exhaust_speed[lane] ** 2

        def off(shares: np.ndarray, law: object = law, head: float = head) -> np.ndarray:
            gone = np.cumsum(shares) / shares.size
            fall = head * (1 - gone**2)
            behind = np.array([law(each) for each in shares])  # type: ignore[operator]
            return np.append(np.diff(behind - fall), shares.mean() - 1)

        shares = root(off, np.ones(n_gaps)).x
        assert abs(off(shares)).max() < 1e-3 * head
        told = found["uneven_flow_low"][lane]
        assert 0.01 < told < found["uneven_flow_high"][lane] < 1.4 * told
        assert_allclose(shares[-1] - shares[0], told, rtol=0.15)


def test_a_low_stack_is_even_and_an_uneven_one_is_noted() -> None:
    found = with_evenness(MILL, evaluate(MILL, TALL))
    high = found["uneven_flow_high"]
    assert high[2] < high[1] / 4
    assert high[0] < high[1]
    told = [UNEVEN in str(text) for text in found["validity"]]
    assert told == (high > 0.25).tolist()


def test_only_a_study_that_names_it_gets_it_in_the_search() -> None:
    assert np.isnan(evaluate(MILL, TALL)["uneven_flow_low"]).all()
    limits = MILL.limits | {"uneven_flow_high": next(iter(MILL.limits.values()))}
    asked = evaluate(MILL.model_copy(update={"limits": limits}), TALL)
    assert np.isfinite([asked[key] for key in EVENNESS_COLUMNS]).all()
