"""Builds that the averaged level does not match have no operating point at either level.

Nothing is searched for: a march is followed at many rim pressures, and where its mismatch passes
zero there is an operating point. Where a march has no answer, the least drop of pressure
(`tests.support.least_drop`) may tell that the flow does not close.
"""

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.model.hose import matched_circuit
from engine.physics.arrays import Reason
from engine.physics.flow.match import RESIDUAL, Circuit, flow_at_rim_pressure
from engine.physics.flow.match_kernel import LEAST_FLOW
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.gap import averaged, resolved
from engine.physics.gap.answer import Marcher
from engine.study.reader import read_study
from tests.model.test_both_levels import NAMES, drawn, repeated
from tests.support.least_drop import highest_exit_pressure
from tests.support.places import STUDIES
from tests.support.wild import SUPPLIES, study_on, wild_builds

FINE = np.concatenate([np.geomspace(1e-3, 0.5, 20), 1 - np.geomspace(0.4, 1e-3, 20)])
COARSE = np.array([0.03, 0.2, 0.5, 0.8, 0.95, 0.993])
"""Rim pressures that are tried: over supply pressure, each less the back pressure."""
WITHOUT = (
    Reason.NO_FLOW,
    Reason.CHURNING,
    Reason.GAP_CHOKED,
    Reason.EXHAUST_CHOKED,
    Reason.RIM_BACKFLOW,
    Reason.NOT_CONVERGED,
)
"""Why a build that can exist is not matched."""


@dataclass
class Scan:
    """What marches at many rim pressures tell of some builds."""

    closes: NDArray[np.bool_]
    """Whether the mismatch passes zero, with flow through the rotor and without churning."""
    followed: NDArray[np.bool_]
    """Whether any such march has an answer."""
    highest: NDArray[np.float64]
    """Highest mismatch of those marches."""
    open: NDArray[np.int64]
    """Rim pressures that leave it open: some flow, no churning, no choked gap, and no answer."""
    spared: NDArray[np.float64]
    """Least of the bound's mismatch above a march's own, over all that have an answer."""


def scanned(fluid: Fluid, circuit: Circuit, march: Marcher, tried: NDArray[np.float64]) -> Scan:
    many = repeated(circuit, np.arange(circuit.gap.size), tried.size)
    back = many.back_pressure
    whole = many.nozzle.stagnation_pressure - back
    pressure = back + np.tile(tried, circuit.gap.size) * whole
    with np.errstate(all="ignore"):
        flow = flow_at_rim_pressure(fluid=fluid, circuit=many, march=march, rim_pressure=pressure)
    # What leakage takes up leaves no flow, what churns has no steady state, what chokes lets too
    # little through.
    through = (flow.rotor_flow > LEAST_FLOW) & ~flow.ring.churning
    sound = through & flow.gap.settled & ~flow.gap.choked & np.isfinite(flow.gap.exit_pressure)
    with np.errstate(all="ignore"):
        bound = (highest_exit_pressure(fluid, many, flow) - back) / whole
    open_ = through & ~sound & ~flow.gap.choked & ~(bound < 0)
    unknown = open_.reshape(-1, tried.size).sum(axis=1)
    above = np.where(sound, bound - flow.mismatch, np.inf).reshape(-1, tried.size).min(axis=1)
    mismatch = np.where(sound, flow.mismatch, np.nan).reshape(-1, tried.size)
    # The mismatch at the last pressure that was followed, before each.
    before, closes = np.full(len(mismatch), np.nan), np.zeros(len(mismatch), dtype=np.bool_)
    for here in mismatch.T:
        closes |= (before < 0) & (here >= 0)
        before = np.where(np.isnan(here), before, here)
    highest = np.fmax.reduce(mismatch, axis=1)
    return Scan(closes, np.isfinite(highest), highest, unknown, above)


def unmatched(name: str, n_drawn: int, n_most: int) -> tuple[Fluid, Circuit, NDArray[np.int64]]:
    """Unmatched builds of a study among many: their circuits, and why they are not matched."""
    study, builds = drawn(name, n_drawn)
    fluid, circuit, _, status = matched_circuit(study, builds, "averaged")
    lanes = np.flatnonzero(np.isin(status, [int(reason) for reason in WITHOUT]))[:n_most]
    return fluid, repeated(circuit, lanes, 1), status[lanes]


def of(scan: Scan, lanes: Any) -> Scan:
    return Scan(*(getattr(scan, f.name)[lanes] for f in fields(Scan)))


def test_what_is_not_matched_has_no_operating_point_at_any_rim_pressure() -> None:
    fluid, circuit, why = unmatched("mill-race", 400, 60)
    fast = scanned(fluid, circuit, averaged.march, FINE)
    # Those refused as their discs throw fluid out may have one: no march can be trusted there.
    told = np.flatnonzero(why != Reason.RIM_BACKFLOW)
    assert told.size >= 12
    assert not fast.closes[told].any()
    # Marches that turn back are slow at the resolved level.
    few = scanned(fluid, repeated(circuit, told[:6], 1), resolved.march, COARSE[1:5])
    assert not few.closes.any()
    assert few.followed.sum() >= 5
    assert (few.highest[few.followed] < 0).all()
    assert (few.spared > 0).all()
    # Of four rim pressures at most one is left open.
    assert (few.open <= 1).all()


def test_steam_that_flows_in_is_not_said_to_stay_out() -> None:
    # A march with hardly any flow through a wide gap may have no answer, which says nothing of one
    # with more. Taken for a choked gap, it hid 50 matched points of 20,000 builds, some of 3 kW.
    fluid, circuit, _ = unmatched("orchard-boiler", 8000, 200)
    assert circuit.gap.size > 100
    assert not scanned(fluid, circuit, averaged.march, FINE).closes.any()


def test_a_root_between_choking_and_flow_that_turns_back_is_found() -> None:
    # A march fails on both sides of it. Taken for choked on both, it hid 32 of 7,500 builds.
    study = study_on(SUPPLIES["superheated steam"])
    builds = wild_builds("superheated steam", 1500, 3, wild=False)
    fluid, circuit, _, status = matched_circuit(study, builds, "averaged")
    lanes = np.flatnonzero(status == Reason.GAP_CHOKED)
    assert lanes.size > 200
    scan = scanned(fluid, repeated(circuit, lanes, 1), averaged.march, FINE)
    assert scan.closes.sum() <= 2


def test_boilers_whose_exit_pressure_jumped_at_the_dew_line_are_matched() -> None:
    study = read_study(STUDIES / "orchard-boiler.yaml")
    builds = {
        "disc_count": np.array([28, 30]),
        "disc_diameter": np.array([0.105, 0.08]),
        "gap": np.array([0.2e-3, 0.2e-3]),
        "inlet_angle": np.array([0.418879020479, 0.226892802759]),
        "exhaust_bore": np.array([0.02, 0.016]),
        "speed": np.array([1518.43644924, 2356.19449019]),
        "disc_thickness": np.array([1.5e-3, 1.5e-3]),
        "nozzle_width": np.array([0.8e-3, 0.8e-3]),
        "nozzle_count": np.array([3, 3]),
        "spokes": np.array([12, 6]),
        "rim_clearance": np.array([0.8e-3, 0.5e-3]),
    }
    _, _, flow, status = matched_circuit(study, builds, "averaged")
    assert status.tolist() == [Reason.MATCHED, Reason.MATCHED]
    assert (np.abs(flow.mismatch) <= RESIDUAL).all()


@pytest.mark.speed
@pytest.mark.parametrize("name", NAMES)
def test_two_hundred_builds_without_operating_point(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """By hand: python -m pytest tests/model/test_unmatched.py -m speed -s.

    Prints how many have one by the averaged level, and by the resolved one; for how many some of
    the resolved marches have an answer; and for how many at most 0, 1 and 2 of six rim pressures
    leave it open; and how close to their mismatch the bound comes.
    """
    fluid, circuit, why = unmatched(name, 20_000, 200)
    fast = scanned(fluid, circuit, averaged.march, FINE)
    fine = scanned(fluid, circuit, resolved.march, COARSE)
    rows = [
        f"{name}: builds, passing zero averaged, resolved, followed, open 0, 1, 2, highest, spared"
    ]
    for reason in WITHOUT:
        lanes = why == reason
        if lanes.any():
            one, other = of(fast, lanes), of(fine, lanes)
            top = np.nanmax(other.highest) if other.followed.any() else np.nan
            rows.append(
                f"  {reason.name:16}{lanes.sum():4}{one.closes.sum():5}{other.closes.sum():5}"
                f"{other.followed.sum():5}"
                + "".join(f"{(other.open <= most).sum():5}" for most in (0, 1, 2))
                + f"  {top:.3g}  {other.spared.min():.3g}"
            )
    with capsys.disabled():
        print("\n" + "\n".join(rows))  # noqa: T201
    told = why != Reason.RIM_BACKFLOW
    assert not (fast.closes | fine.closes)[told].any()
    assert (fine.spared > 0).all()
