"""Lengths and angles, by other geometry than that of the formula."""

import numpy as np
import pytest

from engine.physics.flow.geometry import casing_angle


def test_the_angle_at_the_casing_is_that_at_which_a_straight_jet_leaves_it() -> None:
    # A jet drawn backward as a straight line from where it meets the rim, to the casing's circle.
    rim = np.array([20e-3, 45e-3, 75e-3, 125e-3])
    clearance = np.array([0.2e-3, 0.5e-3, 2e-3, 0.0])
    angle = np.radians([3.0, 6.0, 30.0, 15.0])
    found = casing_angle(inlet_angle=angle, rim_radius=rim, rim_clearance=clearance)
    # At the rim point (r, 0) the tangent is (0, 1) and the jet goes inward and along it.
    way = np.stack([-np.sin(angle), np.cos(angle)])
    lanes = zip(rim, clearance, way[0], strict=True)
    back = [np.roots([1, 2 * r * w, r**2 - (r + c) ** 2]).real.min() for r, c, w in lanes]
    mouth = np.stack([rim, 0 * rim]) + np.array(back) * way
    outward = mouth / np.hypot(*mouth)
    seen = np.arcsin(-(way * outward).sum(axis=0))
    assert np.hypot(*mouth) == pytest.approx(rim + clearance)
    assert found == pytest.approx(seen, abs=1e-9)
    assert np.degrees(found)[1] == pytest.approx(10.4, abs=0.05)  # and wider than at the rim
