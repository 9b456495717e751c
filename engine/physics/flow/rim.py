"""From the ring of fluid around the discs into the gaps."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes, as_lanes
from engine.physics.compiled import PACK, compiled, put, table, take
from engine.physics.flow.rim_kernel import N_ENTRY, N_ENTRY_GIVEN, entries
from engine.physics.flow.ring import Ring
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.fluids.fluid_kernel import Fluid


@dataclass(frozen=True)
class GapEntry:
    """State just inside the gaps."""

    pressure: Lanes  # [Pa]
    enthalpy: Lanes  # static [J/kg]
    radial_speed: Lanes  # inward [m/s]


def enter_gap(
    *,
    fluid: Fluid,
    ring: Ring,
    ring_pressure: Array,
    gap_flow: Array,
    gap: Array,
    disc_thickness: Array,
    rim_radius: Array,
    entry_factor: Array = 1.0,
) -> GapEntry:
    """Contract the ring's fluid into the gaps between the disc edges.

    All arguments broadcast.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    ring : Ring
        State around the rim [-].
    ring_pressure : Array
        Pressure of the ring [Pa].
    gap_flow : Array
        Flow into one gap [kg/s].
    gap, disc_thickness, rim_radius : Array
        Gap [m], thickness [m], radius [m].
    entry_factor : Array, optional
        Factor on the loss coefficient [-].

    Returns
    -------
    GapEntry
        State just inside; NaN where the contraction cannot pass the flow.

    Notes
    -----
    The ring has no radial speed, as in its energy balance; swirl is conserved. Loss coefficient
    0.5 (1 - b / (b + t)) of the radial dynamic head in the gap, with gap b and disc thickness t.

    References
    ----------
    Sudden contraction: Idelchik, Handbook of Hydraulic Resistance, 3rd ed. 1994, ch. 4 (from
    memory).

    """
    given, shape = as_lanes(
        ring.enthalpy,
        ring.density,
        ring_pressure,
        gap_flow,
        gap,
        disc_thickness,
        rim_radius,
        entry_factor,
    )
    found = np.empty((N_ENTRY, given[0].size))
    _read_entries(fluid.record, np.stack(given), found)
    return GapEntry(*found.reshape(N_ENTRY, *shape))


@compiled
def _read_entries(record: FluidRecord, given: Lanes, found: Lanes) -> None:
    n = given.shape[1]
    pack = table(N_ENTRY_GIVEN, PACK)
    entry = table(N_ENTRY, PACK)
    for start in range(0, n, PACK):
        take(given, start, n, pack)
        entries(record, pack, entry)
        put(entry, start, n, found)
