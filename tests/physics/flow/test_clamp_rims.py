"""The fluid around the rims of wide end clamps: its moments, and drag between two cylinders."""

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from engine.physics.flow.clamp_rims import ClampRims, clamp_rims
from engine.physics.flow.ring import casing_friction_factor

USUAL = {
    "density": 1.9, "viscosity": 1.7e-5, "ring_swirl": 240.0, "leakage": 4e-4,
    "leakage_swirl": 260.0, "core_speed": 80.0, "angular_speed": 2800.0, "rim_radius": 0.045,
    "rim_clearance": 0.5e-3, "width": 5e-3, "casing_factor": 1.0, "exchange_factor": 1.0,
}  # fmt: skip
ALONE = {"ring_swirl": 0.0, "leakage": 0.0, "exchange_factor": 0.0}
RIM = 2800.0 * 0.045


def rims(**changes: Any) -> ClampRims:
    return clamp_rims(**{**USUAL, **changes})


def test_all_that_turns_and_brakes_the_fluid_agrees() -> None:
    found = rims()
    v, r, c = float(found.speed), USUAL["rim_radius"], USUAL["rim_clearance"]

    def stress(slip: float) -> float:
        reynolds = USUAL["density"] * abs(slip) * c / USUAL["viscosity"]
        factor = float(casing_friction_factor(reynolds=reynolds))
        return factor * USUAL["density"] * slip * abs(slip) / 2

    around = 2 * np.pi * r * USUAL["width"]
    on_rim = stress(RIM - v) * around * r
    on_casing = stress(v) * 2 * np.pi * (r + c) * USUAL["width"] * (r + c)
    # Largest Reynolds stress of a mixing layer: 0.011 of density and the square of the difference.
    layers = 0.011 * USUAL["density"] * ((240 - v) ** 2 - (v - 80) ** 2) * 2 * np.pi * r * c * r
    brought = USUAL["leakage"] * (260 - v) * r
    assert_allclose(on_rim + layers + brought, on_casing, rtol=1e-9)
    assert_allclose(found.torque, on_rim, rtol=1e-9)


def test_a_fast_ring_or_leakage_drives_the_rim_and_a_slow_one_brakes_it() -> None:
    swirl = np.array([40.0, 240.0, 900.0])
    found = rims(ring_swirl=swirl, leakage_swirl=swirl)
    assert np.all(np.diff(found.speed) > 0)
    assert found.torque[0] > 0 > found.torque[2]
    # Much leakage: it keeps its swirl.
    assert_allclose(rims(leakage=10.0).speed, 260.0, rtol=1e-3)
    # A fixed rim only holds the fluid back.
    assert rims(angular_speed=0.0).torque < 0


@pytest.mark.parametrize("width", [2e-3, 5e-3, 20e-3])
def test_alone_it_turns_half_as_fast_and_drags_with_the_width(width: float) -> None:
    thin = {**ALONE, "rim_clearance": 1e-6, "width": width}
    found = rims(**thin)
    assert_allclose(found.speed, RIM / 2, rtol=1e-4)
    assert_allclose(found.torque / width, rims(**thin | {"width": 1e-3}).torque / 1e-3)
    # Laminar: 6 mu V / c on either wall of a channel, where walls that slide ask for 2 mu V / c.
    shear = 6 * USUAL["viscosity"] * (RIM / 2) / 1e-6
    assert_allclose(found.torque, shear * 2 * np.pi * 0.045**2 * width, rtol=1e-4)


def test_between_two_cylinders_it_drags_about_as_is_measured() -> None:
    # Bilgen and Boulos, J. Fluids Eng. 95, 1973, 122-126 (from memory): moment over
    # pi rho omega^2 r^4 L / 2, by omega r c / nu, above 500 and above 10,000.
    reynolds, narrow = np.array([600.0, 2e3, 1e4, 1e5]), np.array([[0.005], [0.01], [0.03]])
    law = np.where(reynolds < 1e4, 1.03 * reynolds**-0.5, 0.065 * reynolds**-0.2) * narrow**0.3
    clearance = narrow * USUAL["rim_radius"]
    viscosity = USUAL["density"] * RIM * clearance / reynolds
    found = rims(**ALONE, rim_clearance=clearance, viscosity=viscosity)
    moment = np.pi / 2 * USUAL["density"] * 2800.0**2 * 0.045**4 * USUAL["width"]
    over = found.torque / moment / law
    assert np.all((over > 0.75) & (over < 2.4))
    assert np.all(over[:2] > 1.0)


def test_shapes_broadcast_and_what_is_not_known_is_not_told() -> None:
    found = rims(density=np.array([[1.0], [2.0]]), ring_swirl=np.array([100.0, np.nan, 200.0]))
    assert found.speed.shape == found.torque.shape == (2, 3)
    assert np.isnan(found.speed).tolist() == [[False, True, False]] * 2
    assert np.isnan(found.torque[:, 1]).all()
    assert rims().torque.shape == ()
