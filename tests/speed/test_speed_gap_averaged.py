"""How far the averaged gap is off the resolved one, and where its turbulence constants come from.

By hand: python -m pytest tests/speed -m speed -s
"""

import math
import sys
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import least_squares

from engine.fluids.by_name import gas
from engine.physics.fluids.liquid import Liquid
from engine.physics.gap import averaged, resolved
from engine.physics.gap.turbulence_kernel import Turbulence

Lanes = NDArray[np.float64]
AIR = gas("air")

WATER = Liquid("water", 1e3, 1e12, 300.0, (math.log(1e-3),), 0.0)
"""Constant density 1000 kg/m3 and viscosity 1 mPa s."""


def wide_gaps(n_lanes: int, *, turbulent: bool) -> tuple[dict[str, Any], dict[str, Any]]:
    """Gaps over Ekman parameter 1 to 30, Re* 0.3 to 50 and swirl 0 to 4, and their numbers.

    Only the numbers matter: a laminar gap is as wide as the radius, so that none is turbulent.
    """
    random = np.random.default_rng(4)
    radius, nu = 50.0, 1e-6

    def even(low: float, high: float) -> Lanes:
        return np.exp(random.uniform(np.log(low), np.log(high), n_lanes))

    ekman, re_star, swirl = even(1, 30), even(0.3, 50), random.uniform(0, 4, n_lanes)
    slip = np.hypot((swirl - 1) * ekman**2, re_star)
    gap = 2 * radius * slip / even(4e3, 1e5) if turbulent else np.full(n_lanes, radius)
    omega, speed = ekman**2 * nu / gap**2, re_star * nu * radius / gap**2
    fastest = np.maximum(omega * radius * np.maximum(swirl, 1), speed)
    lanes: dict[str, Any] = {
        "fluid": WATER,
        "rim_pressure": 1e5 * fastest**2,
        "rim_enthalpy": 0.0,
        "rim_swirl": swirl * omega * radius,
        "mass_flow": 2 * np.pi * radius * gap * speed * 1e3,
        "gap": gap,
        "rim_radius": radius,
        "bore_radius": radius * random.uniform(0.3, 0.7, n_lanes),
        "angular_speed": omega,
    }
    faster = averaged.faster_ekman_number(ekman_number=ekman, swirl_ratio=swirl)
    least = lanes["mass_flow"] * radius * omega * radius * np.maximum(swirl, 1) / 20
    return lanes, {"faster": faster, "re_star": re_star, "least": least}


@pytest.mark.speed
@pytest.mark.parametrize("turbulent", [False, True])
def test_error_map_of_the_averaged_gap(capsys: pytest.CaptureFixture[str], turbulent: bool) -> None:
    """Print percentiles of the errors; those in the docstring of `averaged.march` are these."""
    lanes, numbers = wide_gaps(1500, turbulent=turbulent)
    fine, fast = resolved.march(**lanes), averaged.march(**lanes)
    back = (fine.backflow_share > 0) | (fine.wall_backflow_share > 0)
    use = fine.settled & np.isfinite(fast.torque)
    size = np.maximum(np.abs(fine.torque), numbers["least"])
    torque = 100 * np.abs(fast.torque - fine.torque) / size
    falls = [lanes["rim_pressure"] - each.exit_pressure for each in (fast, fine)]
    fall = 100 * np.abs(falls[0] / falls[1] - 1)
    rows = ["backflow, E, Re*: lanes; torque, pressure drop, 50, 95 and 99 in 100 [%]"]
    spans = [
        (e, re_star)
        for e in pairwise((1.0, 6.0, 10.0, 14.0, 20.0, 60.0))
        for re_star in ((0.3, 5.0), (5.0, 50.0))
    ]
    for backflow in (False, True):
        for (low, high), (least, most) in [*spans, ((0.0, 99.0), (0.0, 99.0))]:
            cell = use & (back == backflow)
            cell &= (numbers["faster"] >= low) & (numbers["faster"] < high)
            cell &= (numbers["re_star"] >= least) & (numbers["re_star"] < most)
            if cell.sum() >= 20:
                shown = [np.percentile(each[cell], [50, 95, 99]) for each in (torque, fall)]
                text = ";  ".join(" ".join(f"{v:5.1f}" for v in each) for each in shown)
                name = "with" if backflow else "without"
                span = f"{low:g} to {high:g}, {least:g} to {most:g}" if low else "all"
                rows.append(f"{name:8}{span:24}{cell.sum():6}  {text}")
    rows.append(f"{np.sum(~fine.settled)} did not settle at the resolved level")
    report(capsys, "Turbulent" if turbulent else "Laminar", rows)
    inside = use & ~back & (numbers["faster"] <= 6) & (numbers["re_star"] <= 5)
    assert np.percentile(torque[inside], 95) < 2


def family(
    random: np.random.Generator,
    *,
    width: tuple[float, float],
    wall: tuple[float, float],
    swirl: tuple[float, float],
    pressure: tuple[float, float],
    re_star: tuple[float, float],
    n_lanes: int = 150,
) -> dict[str, Any]:
    """Small stacks on shop air, within bounds."""
    radius, speed = random.uniform(0.04, 0.12, n_lanes), random.uniform(*wall, n_lanes)
    gaps = random.uniform(*width, n_lanes)
    flow = np.exp(random.uniform(np.log(re_star[0]), np.log(re_star[1]), n_lanes))
    return {
        "fluid": AIR,
        "rim_pressure": random.uniform(*pressure, n_lanes),
        "rim_enthalpy": float(AIR.enthalpy(pressure=2e5, temperature=285.0)),
        "rim_swirl": np.minimum(speed * random.uniform(*swirl, n_lanes), 330.0),
        "mass_flow": flow * 1.8e-5 * 2 * np.pi * radius**2 / gaps,
        "gap": gaps,
        "rim_radius": radius,
        "bore_radius": radius * random.uniform(0.3, 0.65, n_lanes),
        "angular_speed": speed / radius,
    }


@pytest.mark.speed
def test_turbulence_constants_are_those_of_the_fit(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Fit all constants but Hirs's to the resolved level; print them and the errors left."""
    random = np.random.default_rng(7)
    narrow, wide = (1.5e-4, 4e-4), (3e-4, 1e-3)
    families = [
        family(random, width=narrow, wall=(80, 220), swirl=(1.02, 1.8), pressure=(1.5e5, 4.5e5),
               re_star=(0.5, 5), n_lanes=300),
        family(random, width=wide, wall=(50, 200), swirl=(1, 2), pressure=(1.2e5, 3e5),
               re_star=(1, 20)),
        family(random, width=(2e-4, 5e-4), wall=(20, 150), swirl=(1.5, 8), pressure=(1.05e5, 2e5),
               re_star=(0.5, 4)),
        # Dense and slow: friction without compression, with little turning.
        family(random, width=narrow, wall=(0.1, 2), swirl=(1, 10), pressure=(45e5, 55e5),
               re_star=(2, 30)),
    ]  # fmt: skip
    sets = []
    for lanes in families:
        fine = resolved.march(**lanes)
        use = fine.settled & (fine.backflow_share == 0)
        kept = {key: v[use] if np.ndim(v) else v for key, v in lanes.items()}
        sets.append((kept, fine.torque[use], kept["rim_pressure"] - fine.exit_pressure[use]))
    names = Turbulence._fields
    used = np.array([*Turbulence()])

    def off(scale: Lanes) -> list[Lanes]:
        rules = Turbulence(used[0], *(used[1:] * scale).tolist())
        monkeypatch.setattr(averaged, "TURBULENCE", rules)
        found = []
        for lanes, torque, fall in sets:
            fast = averaged.march(**lanes)
            found.append(np.nan_to_num(fast.torque / torque - 1, nan=0.2))
            found.append(np.nan_to_num((lanes["rim_pressure"] - fast.exit_pressure) / fall - 1))
        return found

    def residual(scale: Lanes) -> Lanes:
        return 100 * np.concatenate(off(scale))

    fit = least_squares(residual, np.ones(used.size - 1), loss="soft_l1", diff_step=[1e-3])
    rows = ["constant              used    fitted"]
    for name, value, scale in zip(names[1:], used[1:], fit.x, strict=True):
        rows.append(f"{name:<20} {value:>6.4g} {value * scale:>9.4g}")
    left = off(np.ones(used.size - 1))
    for name, torque, fall in zip(
        ("near speed", "wide", "slow", "dense"), left[::2], left[1::2], strict=True
    ):
        rows.append(
            f"{name:<12} {torque.size:4d} lanes, 95 % within: torque "
            f"{100 * np.quantile(np.abs(torque), 0.95):.1f} %, pressure drop "
            f"{100 * np.quantile(np.abs(fall), 0.95):.1f} %"
        )
    report(capsys, "Turbulence constants", rows)
    assert np.all(np.abs(fit.x - 1) < 0.25)


def report(capsys: pytest.CaptureFixture[str], title: str, rows: list[str]) -> None:
    with capsys.disabled():
        sys.stdout.write("\n".join(["", title, *rows, ""]))
