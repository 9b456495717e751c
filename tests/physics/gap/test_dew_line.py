"""Steam that turns wet inside a gap: its derivatives jump there, its pressure must not."""

from typing import Any

import numpy as np
from iapws import IAPWS97
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.fluids.by_name import vapour_supply
from engine.physics.compiled import entry
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.fluids.vapour_kernel import height_over_dew, vapour_state_across
from engine.physics.gap.averaged import STEPS, march

ABOUT_4_BAR = 451_325.0
STEAM = vapour_supply("steam", pressure=ABOUT_4_BAR, back_pressure=101_325.0, superheat=10.0).fluid
GAP: dict[str, Any] = {
    "rim_enthalpy": 2_710_525.58,
    "rim_swirl": 324.56,
    "mass_flow": 0.07091641 / 27,
    "gap": 0.2e-3,
    "rim_radius": 0.0525,
    "bore_radius": 0.01,
    "angular_speed": 1518.43644924,
}
"""A gap of a boiler build whose match found no root: steam crosses the dew line near the bore."""
RIM_PRESSURE = 231_032.749


def exit_pressure(rim_pressure: NDArray[np.float64], **changes: Any) -> NDArray[np.float64]:
    found: NDArray[np.float64] = march(
        fluid=STEAM, rim_pressure=rim_pressure, **{**GAP, **changes}
    ).exit_pressure
    return found


def test_exit_pressure_does_not_jump_where_steam_turns_wet() -> None:
    # The dew line passes from step to step as the rim pressure rises.
    end = exit_pressure(RIM_PRESSURE * np.linspace(0.98, 1.06, 4001))
    change = np.diff(end) / end[1:]
    assert np.isfinite(change).all()
    assert (change > 0).all()
    assert change.max() < 2 * np.median(change)


def test_few_steps_give_the_pressure_of_many_where_steam_turns_wet() -> None:
    hotter = GAP["rim_enthalpy"] + np.linspace(-20e3, 20e3, 401)
    pressure = np.full(hotter.size, RIM_PRESSURE)
    few, many = (exit_pressure(pressure, rim_enthalpy=hotter, steps=n) for n in (STEPS, 1200))
    off = (few - many) / (RIM_PRESSURE - many)
    assert np.abs(off).max() < 3e-3
    # With derivatives of one side or the other, the error jumped by 5e-3.
    assert np.abs(np.diff(off)).max() < 2e-4


@entry
def by_pressure(record: FluidRecord, pressure: float, enthalpy: float, width: float) -> float:
    height = height_over_dew(record, pressure, enthalpy)
    return vapour_state_across(record, pressure, enthalpy, height, width)[1]


def test_derivatives_near_the_dew_line_are_means_over_both_sides() -> None:
    # Derivatives by differences of IAPWS-IF97 beside the line, taken by their shares.
    for pressure in (1.2e5, 2e5, 4e5):
        dew = IAPWS97(P=pressure / 1e6, x=1).h * 1e3
        wet, dry = (
            np.diff(
                [IAPWS97(P=p / 1e6, h=(dew + off) / 1e3).rho for p in (pressure - 4, pressure + 4)]
            )
            / 8
            for off in (-60.0, 60.0)
        )
        assert abs(dry / wet - 1) > 0.02
        for share in (0.0, 0.25, 0.5, 1.0):
            found = by_pressure(STEAM.record, pressure, dew + (share - 0.5) * 1e3, 1e3)
            assert_allclose(found, share * dry + (1 - share) * wet, rtol=2e-3)


def test_states_apart_from_the_dew_line_keep_their_derivatives() -> None:
    for enthalpy in (2.6e6, 2.75e6):
        plain = STEAM.state(pressure=2e5, enthalpy=enthalpy).by_pressure
        assert_allclose(by_pressure(STEAM.record, 2e5, enthalpy, 1e3), plain, rtol=1e-14)
