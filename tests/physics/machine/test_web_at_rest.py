"""Frequencies of clamped discs at rest: tables against solvers, and limits."""

import numpy as np
import pytest

from engine.model.strength import tables_of_webs
from engine.physics.machine.web import HOLES, SPOKES, WebShape
from engine.physics.machine.web_places import Places
from engine.physics.machine.web_waves import RestModes, modes_at_rest
from tests.support import web_tables
from tests.support.webbed_disc import Sector
from tests.support.webbed_plane import Web

UNIT = {"r_outer": 1.0, "thickness": 1.0, "density": 1.0, "poisson": 0.3}


def modes(web: Web) -> RestModes:
    """Frequencies over their scale."""
    one = np.ones(1)
    shape = WebShape(web.hub * one, web.spoke_width * one, 0 * one, one > 0)
    tables = tables_of_webs()
    places = Places.of(tables, web=shape, spokes=web.spokes, r_inner=web.bore * one, r_outer=1.0)
    return modes_at_rest(places=places, **UNIT, youngs_modulus=12 * (1 - 0.3**2), tables=tables)


@pytest.mark.parametrize(
    "web",
    [
        Web(0.4667, 3, 0.1310, 0.1310, 0.0889),
        Web(0.65, 6, 0.1, 0.16, 0.08),
        Web(0.5, 12, 0.05, 0.25, 0.06),
        Web(0.37, 4, 0.08, 0.15, 0.06),
    ],
)
def test_between_their_places_the_modes_follow_the_solver(web: Web) -> None:
    found = modes(web)
    fine = web_tables.fineness(web.spokes)
    for ours, hold in ((found.hub, "hub"), (found.web, "gripped")):
        exact = web_tables.at_rest(Sector(web, hold, fine))[:, 0]  # type: ignore[arg-type]
        off = np.log(ours[0] / exact)
        # The lowest mode of three spokes on their smallest hub is 2.03 % high.
        assert np.abs(off).max() < 0.022


def test_a_disc_held_further_out_rings_higher() -> None:
    # Between the solved places cubics and parabolas may cross a little.
    tables, webs = tables_of_webs(), len(SPOKES) + len(HOLES)  # bolts have a place, not a hub
    hubs, whole = tables.rest_hub[:webs, ..., 0], tables.rest_gripped[:webs, ..., 0]
    assert np.all(np.diff(hubs, axis=-1) > -0.02)  # modes
    assert np.all(np.diff(hubs, axis=3) > -0.012)  # hubs
    assert np.all(whole > hubs[:, :, :, -1] - 0.012)
