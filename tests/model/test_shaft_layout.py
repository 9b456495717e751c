"""Places and sizes on the shaft: rules kept, and belts against their exact length."""

from dataclasses import fields
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.catalogue import bearings
from engine.model.shaft_layout import (
    BELT_PITCH,
    CLAMP_THICKNESS,
    SECTIONS,
    ShaftLayout,
    shaft_layout,
)

BEARINGS = [name for name, bearing in bearings().items() if bearing.bore <= 20e-3]


def builds(**changes: Any) -> dict[str, NDArray[Any]]:
    """A lane for each bearing, each on a shaft as thick as its bore."""
    lanes = {
        "shaft_diameter": [bearings()[name].bore for name in BEARINGS],
        "bearing": BEARINGS,
        "exhaust_bore": [4 * bearings()[name].bore for name in BEARINGS],
        "seal_clearance": 5e-5,
        "exhaust_ends": 2.0,
        "side_gap": 3e-3,
        "bearing_allowance": 25e-3,
        "drive_ratio": 1.0,
        "generator_power": 375.0,
        "generator_efficiency": 0.8,
        "generator_speed": 3000.0,
    }
    lanes |= changes
    return {key: np.broadcast_to(np.array(v), (len(BEARINGS),)) for key, v in lanes.items()}


def laid(**changes: Any) -> ShaftLayout:
    return shaft_layout(builds(**changes), height=np.full(len(BEARINGS), 20e-3))


@pytest.mark.parametrize("ends", [1.0, 2.0])
@pytest.mark.parametrize("side", [1e-3, 3e-3, 20e-3])
def test_everything_follows_along_the_shaft(ends: float, side: float) -> None:
    found = laid(exhaust_ends=ends, side_gap=side)
    assert found.edges.shape[1] == found.diameters.shape[1] + 1 == len(SECTIONS) + 1
    assert (np.diff(found.edges) > 0).all()
    assert (found.sleeve_end - found.sleeve_start >= 2e-3 - 1e-12).all()
    assert (found.free_outlet >= 6e-3 - 1e-12).all()
    assert (found.drive_outlet >= 6e-3 - 1e-12).all()
    np.testing.assert_allclose(found.span, 20e-3 + 2 * found.bearing_distance)
    # The stack goes on from the drive's end.
    seat = SECTIONS.index("stack seat")
    assert (found.diameters[:, seat + 1 :] <= found.diameters[:, seat : seat + 1] + 1e-9).all()
    assert (found.overhang > 0).all()


def test_bearings_stand_where_the_study_puts_them_if_there_is_room() -> None:
    assert (laid(bearing_allowance=0.2).bearing_distance == 0.2).all()
    near = laid(bearing_allowance=5e-3)
    width = np.array([bearings()[name].width for name in BEARINGS])
    np.testing.assert_allclose(
        near.bearing_distance, 3e-3 + 12e-3 + near.free_outlet + width / 2, rtol=1e-12
    )
    assert (CLAMP_THICKNESS + near.nut_height + width / 2 < near.bearing_distance).all()


def test_the_exhaust_finds_its_own_area_behind_an_end_plate() -> None:
    found = laid(exhaust_bore=0.15)
    hole = found.collar_diameter + 2 * 5e-5
    shaft = found.diameters[:, SECTIONS.index("shoulder")]
    out = np.pi * hole * found.free_outlet
    on = 0.7 * np.pi / 4 * (hole**2 - found.carrier_diameter**2)
    assert (out + on >= np.pi / 4 * (hole**2 - shaft**2)).all()


@pytest.mark.parametrize("ratio", [0.2, 0.37, 1.5, 4.0])
def test_a_belt_has_whole_teeth_and_its_centres_give_its_length(ratio: float) -> None:
    found = laid(drive_ratio=ratio)
    assert found.belt.all()
    teeth = found.belt_length / BELT_PITCH
    np.testing.assert_allclose(teeth, np.round(teeth / 5) * 5)
    np.testing.assert_allclose(found.generator_teeth / found.teeth, ratio, rtol=0.01)
    # Exact length of an open belt, by its tangents and arcs (plane geometry).
    lean = np.arcsin((found.pulley - found.generator_pulley) / (2 * found.centres))
    length = (
        2 * found.centres * np.cos(lean)
        + np.pi / 2 * (found.pulley + found.generator_pulley)
        + lean * (found.pulley - found.generator_pulley)
    )
    np.testing.assert_allclose(length, found.belt_length, rtol=3e-3)


def test_without_a_belt_there_is_a_coupling_and_no_pulley() -> None:
    found = laid(drive_ratio=[1.0] + [0.5] * (len(BEARINGS) - 1))
    assert found.belt.tolist() == [False] + [True] * (len(BEARINGS) - 1)
    for name in ("teeth", "pulley", "belt_width", "centres"):
        values = getattr(found, name)
        assert np.isnan(values[0])
        assert np.isfinite(values[1:]).all()


def test_every_lane_is_worked_alone() -> None:
    together = laid(drive_ratio=0.2)
    lane = {key: values[3:4] for key, values in builds(drive_ratio=0.2).items()}
    alone = shaft_layout(lane, height=np.array([20e-3]))
    for each in fields(ShaftLayout):
        np.testing.assert_array_equal(getattr(alone, each.name)[0], getattr(together, each.name)[3])


def test_threads_are_as_wide_as_the_shaft_where_there_is_one() -> None:
    # Core diameters of external threads, DIN 13-1, from memory.
    size = {8e-3: 6.466e-3, 10e-3: 8.160e-3, 12e-3: 9.853e-3}
    for name, root in zip(BEARINGS, laid().thread_root, strict=True):
        if (bore := bearings()[name].bore) in size:
            assert root == pytest.approx(size[bore], abs=2e-6)
    odd = laid(shaft_diameter=[bearings()[name].bore + 0.5e-3 for name in BEARINGS])
    thread = odd.diameters[:, SECTIONS.index("thread")]
    assert thread[BEARINGS.index("608")] == pytest.approx(8e-3)
