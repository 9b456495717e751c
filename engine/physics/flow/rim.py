"""The ring of fluid around the discs: the jets mix, rub on the casing and enter the gaps."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from engine.physics.arrays import Array, Lanes, Mask, as_lanes
from engine.physics.compiled import PACK, compiled, put, table, take
from engine.physics.flow.rim_kernel import (
    N_ENTRY,
    N_ENTRY_GIVEN,
    N_RING,
    N_RING_GIVEN,
    casing_friction,
    entries,
    rings,
    thrown_out,
)
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.fluids.fluid_kernel import Fluid


@dataclass(frozen=True)
class Ring:
    """The mixed fluid around the rim."""

    swirl: Lanes  # circumferential speed [m/s]
    total_enthalpy: Lanes  # [J/kg]
    enthalpy: Lanes  # static [J/kg]
    density: Lanes  # [kg/m3]
    viscosity: Lanes  # [Pa s]
    edge_torque: Lanes  # of the ring on the disc edges [N m]
    casing_dissipation: Lanes  # friction power left on the casing wall [W]
    edge_dissipation: Lanes  # friction power left on the disc edges [W]
    churning: Mask  # the edges do more work on the ring than MOST_HEATING; do not use the states


@dataclass(frozen=True)
class GapEntry:
    """State just inside the gaps."""

    pressure: Lanes  # [Pa]
    enthalpy: Lanes  # static [J/kg]
    radial_speed: Lanes  # inward [m/s]


def casing_friction_factor(*, reynolds: Array) -> Lanes:
    """Fanning friction factor of a thin ring of fluid sliding along the casing.

    Parameters
    ----------
    reynolds : Array
        Ring speed times rim clearance over kinematic viscosity [-], above 0.

    Returns
    -------
    Lanes
        Friction factor [-]; the larger of the laminar and the turbulent law.

    Notes
    -----
    The ring is as thin as the rim clearance. It behaves as a channel of that height, not as a
    boundary layer that starts at a nozzle.

    References
    ----------
    Hirs, J. Lubr. Technol. 95, 1973, 137-146 (turbulent, from memory); 12 / Re for a laminar plane
    channel.

    Examples
    --------
    >>> round(float(casing_friction_factor(reynolds=1e4)), 4)
    0.0066

    """
    (re,), shape = as_lanes(reynolds)
    found = np.empty_like(re)
    _read_friction(re, found)
    return found.reshape(shape)


def mix_at_rim(
    *,
    fluid: Fluid,
    mass_flow: Array,
    jet_speed: Array,
    total_enthalpy: Array,
    pressure: Array,
    inlet_angle: Array,
    mixing_coefficient: Array,
    rim_radius: Array,
    rim_clearance: Array,
    stack_height: Array,
    edge_height: Array,
    angular_speed: Array,
) -> Ring:
    """Mix the jets with the ring of fluid around the discs.

    All arguments broadcast; the results have their common shape.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    mass_flow : Array
        Flow of all nozzles [kg/s].
    jet_speed : Array
        Speed of the jets [m/s].
    total_enthalpy : Array
        Total enthalpy of the jets [J/kg].
    pressure : Array
        Pressure of the ring [Pa].
    inlet_angle : Array
        Angle of the jets from the tangent [rad].
    mixing_coefficient : Array
        Share of the jets' swirl that survives mixing [-].
    rim_radius, rim_clearance, stack_height : Array
        Disc radius [m], clearance to the casing [m], height of discs and gaps [m].
    edge_height : Array
        Disc edges together: number of discs times thickness [m].
    angular_speed : Array
        Speed of the discs [rad/s].

    Returns
    -------
    Ring
        Mixed swirl and state; zero swirl where there is no flow.

    Notes
    -----
    Angular momentum balance of the ring: the inflow from the jets equals the torque on the casing,
    the torque on the disc edges and, with the mixed swirl, the outflow into gaps and leakage. The
    edge torque is taken from the ring and given to the rotor. It changes sign with slip, so one of
    two quadratic equations applies; the balance at rim speed tells which. Density and friction
    depend on the swirl and are found by repeated passes.

    References
    ----------
    Derived here from the moment-of-momentum theorem.

    """
    given, shape = as_lanes(
        mass_flow,
        jet_speed,
        total_enthalpy,
        pressure,
        inlet_angle,
        mixing_coefficient,
        rim_radius,
        rim_clearance,
        stack_height,
        edge_height,
        angular_speed,
    )
    found = np.empty((N_RING, given[0].size))
    _read_rings(fluid.record, np.stack(given), found)
    rows = found.reshape(N_RING, *shape)
    values: list[Any] = [*rows[:8], rows[8] == 1]
    return Ring(*values)


def enter_gap(
    *,
    fluid: Fluid,
    ring: Ring,
    ring_pressure: Array,
    gap_flow: Array,
    gap: Array,
    disc_thickness: Array,
    rim_radius: Array,
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
        ring.enthalpy, ring.density, ring_pressure, gap_flow, gap, disc_thickness, rim_radius
    )
    found = np.empty((N_ENTRY, given[0].size))
    _read_entries(fluid.record, np.stack(given), found)
    return GapEntry(*found.reshape(N_ENTRY, *shape))


def are_thrown_out(
    *,
    density: Array,
    viscosity: Array,
    swirl: Array,
    inward_speed: Array,
    gap: Array,
    rim_radius: Array,
    angular_speed: Array,
) -> Mask:
    """Tell where the discs throw so much fluid back out at the rim that no march can be trusted.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    density, viscosity : Array
        Fluid around the rim [kg/m3, Pa s].
    swirl, inward_speed : Array
        Circumferential and radial speed with which it enters [m/s]; inward speed above 0.
    gap, rim_radius : Array
        Distance of the discs and their radius [m].
    angular_speed : Array
        Speed of the discs [rad/s].

    Returns
    -------
    Mask
        False where any argument is NaN.

    Notes
    -----
    Fluid that enters more slowly than the discs turn is thrown outward in the layers on both discs
    and carried inward between them. The throw, b^2 (Omega^2 - (V / r)^2) r / (nu U) with gap b, rim
    radius r, swirl V and inward speed U, compares the two.

    The limit is measured: 300 times the root of the Ekman parameter b root(Omega / nu), at least
    that at 6, for laminar layers; 23,000 for turbulent ones, less beyond an Ekman parameter of 10.
    In gaps below an Ekman parameter of 3 the two layers are one, and nothing is thrown out. Beyond
    the limit the averaged mismatch gets rough: it crosses zero many times, a last digit of the
    speed chooses the operating point, and a search breeds the points that give more than the fluid
    holds. At 350 instead of 300 a last digit moves five of 40,000 builds of mill-race, at 300 two.

    Not all that is thrown out is impossible. Of 60 such builds each of the bundled studies, the
    resolved level, solved for all stations at once, has a matched point for none in water, 16 on
    shop air, 16 with vapour and 37 with steam. None of these is on a front: fluid slower than the
    discs first takes power from them.

    References
    ----------
    Derived here; layers of a rotating disc: Ekman 1905, Ark. Mat. Astr. Fys. 2, 11 (from memory).

    Examples
    --------
    >>> lanes = {"density": 1000.0, "viscosity": 1e-3, "inward_speed": 0.3, "gap": 1e-3}
    >>> are_thrown_out(**lanes, swirl=[5.0, 15.0], rim_radius=0.1, angular_speed=100.0).tolist()
    [True, False]

    """
    given, shape = as_lanes(density, viscosity, swirl, inward_speed, gap, rim_radius, angular_speed)
    found = np.empty(given[0].shape, dtype=np.bool_)
    _read_thrown(np.stack(given), found)
    return np.asarray(found.reshape(shape), dtype=np.bool_)


@compiled
def _read_friction(reynolds: Lanes, found: Lanes) -> None:
    for i in range(found.size):
        found[i] = casing_friction(reynolds[i])


@compiled
def _read_rings(record: FluidRecord, given: Lanes, found: Lanes) -> None:
    n = given.shape[1]
    pack = table(N_RING_GIVEN, PACK)
    ring = table(N_RING, PACK)
    for start in range(0, n, PACK):
        take(given, start, n, pack)
        rings(record, pack, ring)
        put(ring, start, n, found)


@compiled
def _read_entries(record: FluidRecord, given: Lanes, found: Lanes) -> None:
    n = given.shape[1]
    pack = table(N_ENTRY_GIVEN, PACK)
    entry = table(N_ENTRY, PACK)
    for start in range(0, n, PACK):
        take(given, start, n, pack)
        entries(record, pack, entry)
        put(entry, start, n, found)


@compiled
def _read_thrown(given: Lanes, found: Mask) -> None:
    for i in range(found.size):
        found[i] = thrown_out(
            given[0, i],
            given[1, i],
            given[2, i],
            given[3, i],
            given[4, i],
            given[5, i],
            given[6, i],
        )
