"""The shaft of a build: masses by hand, its whirl against the closed form, and what moves it."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.catalogue import ASSEMBLY_TEMPERATURE, material_state
from engine.model.circuit import lanes_of
from engine.model.dimensions import dimensions_of
from engine.model.rotor import masses
from engine.model.shaft import (
    DRIVE,
    FREE,
    RotorLine,
    bearing_stiffness,
    critical_speed,
    rotor_line,
)
from engine.model.shaft_layout import CLAMP_THICKNESS, SLEEVE_FLANGE
from engine.model.strength import web_of_build
from engine.study.study import Study
from tests.support.jeffcott import jeffcott

Columns = dict[str, NDArray[Any]]


@pytest.fixture(scope="module")
def build(shop_air: Study) -> Columns:
    """Four builds on a shaft of 12 mm: thin, tall, wide and belt driven."""
    given = {
        "disc_count": np.array([6.0, 25.0, 10.0, 10.0]),
        "disc_diameter": np.array([0.09, 0.12, 0.2, 0.12]),
        "gap": np.full(4, 0.3e-3),
        "inlet_angle": np.full(4, 0.15),
        "exhaust_bore": np.array([0.036, 0.05, 0.06, 0.05]),
        "speed": np.full(4, 1500.0),
        "drive_ratio": np.array([1.0, 1.0, 1.0, 0.5]),
    }
    return lanes_of(shop_air, given)


def line_of(build: Columns) -> RotorLine:
    height = dimensions_of(build)["stack_height"]
    return rotor_line(build, height=height, hub_radius=web_of_build(build).hub_radius)


def whirl(build: Columns) -> NDArray[np.float64]:
    line = line_of(build)
    return critical_speed(line, bearing_stiffness(build, line))


def test_nodes_rise_along_the_shaft_and_bearings_sit_in_their_places(build: Columns) -> None:
    line = line_of(build)
    assert (np.diff(line.place, axis=0) > 0).all()
    assert_allclose(line.place[FREE], line.layout.free_bearing)
    assert_allclose(line.place[DRIVE], line.layout.drive_bearing)


def test_the_mass_is_that_of_its_parts_by_hand(build: Columns) -> None:
    # Every part as a ring of its own, from the sizes of the layout
    line = line_of(build)
    layout = line.layout
    metal = material_state(build["material"], ASSEMBLY_TEMPERATURE).density
    steel = material_state(build["shaft_material"], ASSEMBLY_TEMPERATURE).density

    def ring(inner: Any, outer: Any, long: Any) -> Any:
        return np.pi / 4 * (np.square(outer) - np.square(inner)) * long

    rim, bore, shaft = (build[k] for k in ("disc_diameter", "exhaust_bore", "shaft_diameter"))
    height = dimensions_of(build)["stack_height"]
    discs = ring(bore, rim, build["disc_count"] * build["disc_thickness"])
    webs = build["exhaust_blockage"] * ring(shaft, bore, height + 2 * CLAMP_THICKNESS)
    sections = ring(0.0, layout.diameters, np.diff(layout.edges, axis=1)).sum(axis=1)
    nut = ring(layout.diameters[:, 5], layout.nut_diameter, layout.nut_height)
    sleeve = ring(
        layout.diameters[:, 6], layout.sleeve_diameter, layout.sleeve_end - layout.sleeve_start
    )
    sleeve += ring(layout.sleeve_diameter, layout.sleeve_flange, SLEEVE_FLANGE)
    collars = ring(layout.collar_bore, layout.collar_diameter, layout.collar_length)
    hub = ring(layout.diameters[:, 6], layout.hub_diameter, layout.hub_length)
    clamped = metal * (discs + webs) + steel * collars * layout.collars
    whole = clamped + steel * (sections + nut + sleeve) + 2700.0 * hub
    assert_allclose(line.clamped, clamped, rtol=1e-12)
    assert_allclose(line.total, whole, rtol=1e-12)
    assert_allclose(masses(build, line)["rotor_mass"], whole, rtol=1e-12)


def test_both_bearings_carry_the_weight_and_a_pulley_leans_on_its_own(build: Columns) -> None:
    line = line_of(build)
    assert_allclose(line.shares.sum(axis=0), 1.0)
    assert ((line.shares > 0.3) & (line.shares < 0.7)).all()
    heavy = line.mass.copy()
    heavy[-1] *= 10
    assert (replace(line, mass=heavy).shares[1] > line.shares[1]).all()


def test_a_slender_shaft_whirls_between_the_closed_forms_of_its_thin_and_its_thick_half(
    build: Columns,
) -> None:
    # Bearings far away and stiff: Jeffcott's rotor. The half towards the free end is as thick as
    # the shoulder of its bearing, the other as the shaft.
    far = build | {
        "bearing": np.full(4, "6001"),
        "bearing_allowance": np.full(4, 0.4),
        "pack_factor": np.zeros(4),
        "exhaust_blockage": np.full(4, 0.05),
        "drive_ratio": np.ones(4),
    }
    line = line_of(far)
    found = critical_speed(line, np.full((2, 4), 1e12))
    steel = material_state(build["shaft_material"], ASSEMBLY_TEMPERATURE)
    widths = zip(build["shaft_diameter"], line.layout.diameters[:, 2], strict=True)
    for lane, both in enumerate(widths):
        thin, thick = (
            jeffcott(
                span=line.layout.span[lane],
                diameter=width,
                youngs_modulus=steel.youngs_modulus[lane],
                density=steel.density[lane],
                load=line.clamped[lane],
            )
            for width in both
        )
        assert thin < found[lane] < min(thick, 1.15 * thin)


def test_what_bears_and_what_loads_the_shaft_moves_its_whirl(build: Columns) -> None:
    usual = whirl(build)
    assert np.isfinite(usual).all()
    for change, higher in (
        ({"support_factor": np.full(4, 0.1)}, False),
        ({"support_factor": np.full(4, 1.0)}, True),
        ({"pack_factor": np.zeros(4)}, False),
        ({"bearing_preload": np.full(4, 200.0)}, True),
        ({"bearing_allowance": np.full(4, 0.08)}, False),
        ({"disc_thickness": 2 * build["disc_thickness"]}, False),
    ):
        changed = whirl(build | change)
        assert ((changed > usual) == higher).all(), change


def test_a_shaft_that_fills_its_stack_sets_no_lane_but_its_own(build: Columns) -> None:
    bad = build | {"exhaust_bore": np.array([0.01, *build["exhaust_bore"][1:]])}
    assert_allclose(whirl(bad)[1:], whirl(build)[1:], rtol=1e-12)


def test_the_stack_put_together_again_keeps_the_grade_of_its_fit(build: Columns) -> None:
    # 12 mm H7/h6: 18 + 11 micrometres of clearance (ISO 286-1), half of it off centre, at 1500
    # rad/s 21.75 mm/s for a rotor that is all stack
    line = line_of(build)
    found = masses(build, line)["assembly_grade"]
    assert_allclose(found, 21.75e-3 * line.clamped / line.total, rtol=0.04)
    assert_allclose(build["shaft_diameter"], 12e-3)
