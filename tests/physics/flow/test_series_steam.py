"""Stages without losses, against the pressure-compounded impulse turbine of the textbooks.

Rateau's turbine, as in Stodola, Steam and Gas Turbines, and every later textbook (from memory): the
nozzles of n stages take the n-th part of the isentropic drop each, wheels take all of the jets'
energy, so that the state stays on one isentrope, all jets have one speed c = sqrt(2 dh / n), and
areas go with 1 / (density c). Properties are those of the iapws package (IAPWS-IF97), not ours.
"""

import numpy as np
import pytest
from iapws import IAPWS97
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.physics.flow.nozzle import isentropic_flux
from engine.physics.flow.series import pressures_between
from engine.study.study import Study
from engine.study.supply import source_of

FIRST, LAST, WARM = 10e5, 4e5, 400.0
"""Pressures before and behind all stages [Pa]; so near that no nozzle chokes. [degC]"""


def textbook(n_stages: int) -> tuple[NDArray[np.float64], NDArray[np.float64], float]:
    """Pressures between [Pa], areas for 1 kg/s [m2], and speed of the jets [m/s]."""
    supply = IAPWS97(P=FIRST / 1e6, T=WARM + 273.15)
    end = IAPWS97(P=LAST / 1e6, s=supply.s)
    drop = (supply.h - end.h) / n_stages
    behind = [IAPWS97(h=supply.h - drop * n, s=supply.s) for n in range(1, n_stages)]
    speed = np.sqrt(2e3 * drop)
    areas = [1 / (state.rho * speed) for state in (*behind, end)]
    return np.array([state.P * 1e6 for state in behind]), np.array(areas), float(speed)


@pytest.mark.parametrize("n_stages", [2, 3])
def test_equal_drops_of_a_loss_free_turbine_are_found_again(shop_air: Study, n_stages: int) -> None:
    steam = {"fluid": "steam", "pressure": "10 bar absolute", "temperature": f"{WARM} degC"}
    supply = {**steam, "back_pressure": "4 bar absolute"}
    source = source_of(type(shop_air.supply).model_validate(supply))
    fluid, ends = source.fluid, (np.array([FIRST]), np.array([LAST]))
    pressures, areas, speed = textbook(n_stages)
    jets = np.zeros(n_stages)

    def flows(rows: NDArray[np.int64], tried: NDArray[np.float64]) -> NDArray[np.float64]:
        at = [ends[0][rows], *tried, ends[1][rows]]
        enthalpy = np.full(len(rows), float(source.enthalpy))
        found = []
        for stage, area in enumerate(areas):
            first, last = at[stage], at[stage + 1]
            state = {"pressure": first, "enthalpy": enthalpy}
            found.append(area * isentropic_flux(fluid=fluid, **state, back_pressure=last))
            # The wheel takes all of the jet's energy.
            left = fluid.isentropic_enthalpy(**state, end_pressure=last)
            jets[stage] = np.sqrt(2 * (enthalpy - left))[0]
            enthalpy = left
        return np.array(found)

    found, off = pressures_between(
        flows=flows,
        supply=ends[0],
        back=ends[1],
        guess=np.geomspace(FIRST, LAST, n_stages + 1)[1:-1, None],
        slopes=(np.full((n_stages, 1), 1.5), np.full((n_stages, 1), -1.0)),
        close=1e-9,
    )
    assert off[0] <= 1e-9
    assert_allclose(found[:, 0], pressures, rtol=1e-3)
    assert_allclose(jets, speed, rtol=2e-3)
    # All stages together give what one expansion from end to end gives.
    assert_allclose((jets**2).sum(), n_stages * speed**2, rtol=1e-3)
