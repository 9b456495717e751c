"""Flow through one gap at the averaged level, which the search uses because it is fast.

Profiles of inflow and swirl across the gap are three modes each (`modes`). Their moments enter the
balances along the radius: pressure follows from momentum, enthalpy from conserved rothalpy, torque
from angular momentum.
"""

from dataclasses import fields
from functools import partial

import numpy as np

from engine.physics.arrays import Array, Lanes, ValidRange, as_lanes
from engine.physics.compiled import PACK, entry, on_every_core, put, table, take
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.gap.answer import GapFlow
from engine.physics.gap.averaged_kernel import N_ENDS, N_GAP_GIVEN, march_pack
from engine.physics.gap.turbulence_kernel import Turbulence

STEPS = 30
"""Radial steps of a march."""
TURBULENCE = Turbulence()
"""Constants of the turbulent laws."""

AVERAGED_RANGE = ValidRange(
    source="comparison with the resolved level: torque within 1 % for 95 of 100 random gaps with "
    "Re* up to 5, within 9 % with Re* up to 50",
    bounds={
        "faster_ekman_number": (0.0, 14.0),
        "laminar_ekman_number": (0.0, 10.0),
        "gap_reynolds": (0.0, 1e5),
        "backflow_share": (0.0, 0.0),
    },
)
"""`faster_ekman_number` is that of the function of this name, `laminar_ekman_number` the same times
the laminar share of the radius, as turbulence evens the profiles out. The backflow share is known
at the resolved level only."""
FRICTION_RANGE = ValidRange(
    source="laws of incompressible flow; a plate's friction is 8 % less at Mach 1 (from memory)",
    bounds={"gap_mach": (0.0, 1.0)},
)
"""Wall friction of both levels."""


def faster_ekman_number(*, ekman_number: Array, swirl_ratio: Array) -> Lanes:
    """Ekman parameter by the faster of disc and fluid at the rim.

    Both arguments broadcast; the result has their common shape.

    Parameters
    ----------
    ekman_number : Array
        Gap times the root of the discs' angular speed over kinematic viscosity [-].
    swirl_ratio : Array
        Circumferential speed of the fluid over that of the discs, at the rim [-].

    Returns
    -------
    Lanes
        The same with the angular speed of the fluid where that is faster [-].

    References
    ----------
    Derived here: layers at a wall are as thin as the faster rotation makes them.

    Examples
    --------
    >>> faster_ekman_number(ekman_number=5.0, swirl_ratio=[0.5, 4.0]).tolist()
    [5.0, 10.0]

    """
    faster = np.maximum(1.0, np.asarray(swirl_ratio, dtype=float))
    return np.asarray(np.asarray(ekman_number, dtype=float) * np.sqrt(faster))


def march(
    *,
    fluid: Fluid,
    rim_pressure: Array,
    rim_enthalpy: Array,
    rim_swirl: Array,
    mass_flow: Array,
    gap: Array,
    rim_radius: Array,
    bore_radius: Array,
    angular_speed: Array,
    transition_factor: Array = 1.0,
    steps: int = STEPS,
) -> GapFlow:
    """March the flow through one gap from rim to bore.

    All arguments but the fluid and the step count broadcast to one lane axis.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    rim_pressure, rim_enthalpy : Array
        Static pressure [Pa] and enthalpy [J/kg] just inside the gap.
    rim_swirl : Array
        Circumferential speed at entry, uniform across the gap [m/s].
    mass_flow : Array
        Inward flow through one gap [kg/s], above 0.
    gap, rim_radius, bore_radius : Array
        Wall distance [m] and radii [m], 0 < bore_radius < rim_radius.
    angular_speed : Array
        Speed of the discs [rad/s], >= 0.
    transition_factor : Array
        Reynolds numbers at which the flow turns turbulent over those of a plane channel [-], > 0.
    steps : int
        Radial steps [-]; the error falls with their square at least.

    Returns
    -------
    GapFlow
        Exit state and torque; NaN, with `choked` set, where the radial flow reaches a Mach number
        of 0.95 or the pressure falls to zero. This level does not know backflow: NaN.

    Notes
    -----
    Profiles: three modes each of inflow and relative swirl, coupled by the Coriolis force, in
    implicit steps (`modes`). Pressure: radial momentum weighted by the inflow, so that the drift
    drops out. Its terms are centrifugal and Coriolis force, growth of the mean cubed inflow and
    viscous dissipation; density changes along (p, h) are solved in closed form (a factor
    1 - M_r^2). Rothalpy is conserved as a mass-flux mean, so total enthalpy falls by exactly Omega
    times the fall of angular momentum per mass. Where vapour turns wet the derivatives of its
    density jump; they count as means over a step about each station, as a jump of exit pressure of
    0.4 % with the rim pressure left some matches without a root. Laminar and turbulent friction are
    blended smoothly in log Re between 2,300 and 4,000 times the transition factor; plane channels
    are intermittent between 2,300 and 4,000. With a jump there could be more than one matched
    point.

    Error of torque and of pressure drop against the resolved level, 50th, 95th and 99th percentile
    of 1,500 laminar and 1,500 turbulent random gaps in a liquid: Ekman parameter of the discs 1 to
    30, swirl 0 to 4 times theirs, bore 0.3 to 0.7 of the rim. E is the Ekman parameter by the
    faster of disc and fluid, Re* = rho U0 b^2 / (mu ro), with gap b, rim radius ro and radial speed
    U0 at the rim. Torque counts at least as 1/20 of the angular momentum that enters or turns with
    the rim. `python -m pytest tests/speed/test_speed_gap_averaged.py -m speed -s -k map` makes it:

          E         Re*        laminar: torque, drop [%]          turbulent
        1 to 6    0.3 to 5   0.0  0.7  1.8   0.1  0.5  0.7   0.1  0.9  1.7   1.3  9.2 11.7
        1 to 6    5 to 50    1.1  5.7  6.7   0.1  0.4  0.8   1.0  8.4 13.7   1.7  9.3 10.9
        6 to 10   0.3 to 5   -                               0.0  0.4  2.2   0.2  1.3  1.9
        6 to 10   5 to 50    1.3  5.6  7.2   0.4  1.0  1.2   0.9  7.9  8.9   0.9  4.0  7.1
        10 to 14  5 to 50    1.3  2.4  4.8   0.9  5.2  8.9   0.6  6.2 10.9   2.2 11.0 13.8
        14 to 20  5 to 50    -                               0.9  3.4  8.5   3.0  9.8 12.2
        20 to 60  5 to 50    -                               1.1  5.9 18.1   2.4 10.5 17.0
        all                  0.4  5.6 16.6   0.1  1.1 14.2   0.3  5.3 11.5   1.3  9.0 11.8
        with backflow:
        1 to 6    0.3 to 5   0.0  0.5  1.1   0.7  2.0  4.6    -
        6 to 10   0.3 to 5   0.3  2.9  8.3   1.8  7.9 22.6   0.2  2.1  3.5   1.3  8.7  9.9
        6 to 10   5 to 50    1.0  2.3 13.4   2.2  3.6 21.8    -
        10 to 14  0.3 to 5   0.4  3.3  6.2   5.4 31.9  106   0.1  1.8  5.7   1.2 10.7 12.0
        10 to 14  5 to 50    2.9 16.3 33.5   3.8 26.8 41.6    -
        14 to 20  0.3 to 5   -                               0.3  5.1  7.6   2.7 29.8 48.6
        14 to 20  5 to 50   16.9 25.7 64.2  10.4 20.1 22.0   2.4 20.3 23.1   3.8 13.1 16.0
        20 to 60  0.3 to 5   -                               1.1  5.0  7.4   4.8 34.4 44.1
        20 to 60  5 to 50    -                               3.3 28.6 37.3   6.6 22.7 33.5
        all                  0.7 29.5 42.7   2.2 22.1 53.6   0.5 15.6 30.4   2.7 22.3 38.6

    (`-`: fewer than 20 gaps.) 451 of the laminar and 272 of the turbulent gaps did not settle at
    the resolved level and are not counted: where much flows back an inward march may have no end.

    Slow laminar inflow that turns with the discs, in gaps of 14, 20 and 30 Ekman layers: torque is
    0.4, 0.9 and 1.1 % low and pressure drop 0.7, 2.4 and 3.3 % high at Re* 0.1; 3.8, 5.4 and 6.1 %
    and 8.9, 16 and 20 % at Re* 0.4. The resolved level keeps the core of a rotating cavity there.

    Shop air, turbulent at the rim: 95 % of lanes within 0.5 and 1.7 %, in gaps up to 1 mm within
    1.3 and 1.5 %. The first 2 % of the radius lose up to a fifth too little pressure, because three
    modes cannot follow the thin layers at the walls there.

    References
    ----------
    Turbulent wall friction: Hirs, J. Lubr. Technol. 95, 1973, 137-146; Dean, J. Fluids Eng. 100,
    1978, 215-223 (both from memory). Backward differences: Gear 1971, Numerical Initial Value
    Problems, table 11.1 (from memory). The rest is derived here.

    """
    (pressure, enthalpy, swirl, flow, gap, rim, bore, omega, late), shape = as_lanes(
        rim_pressure,
        rim_enthalpy,
        rim_swirl,
        mass_flow,
        gap,
        rim_radius,
        bore_radius,
        angular_speed,
        transition_factor,
    )
    ends = np.empty((7, pressure.size))
    given = np.stack([pressure, enthalpy, swirl, flow, gap, rim, bore, omega, late])
    on_every_core(
        partial(_march, fluid.record, TURBULENCE, steps, given, ends), n_lanes=pressure.size
    )
    with np.errstate(all="ignore"):
        speed = flow / (2 * np.pi * gap * rim * fluid.density(pressure=pressure, enthalpy=enthalpy))
    found = flow_of_ends(
        ends=ends,
        speed=speed,
        rim_enthalpy=enthalpy,
        rim_swirl=swirl,
        mass_flow=flow,
        rim_radius=rim,
        bore_radius=bore,
        angular_speed=omega,
    )
    return GapFlow(**{f.name: getattr(found, f.name).reshape(shape) for f in fields(found)})


def flow_of_ends(
    *,
    ends: Lanes,
    speed: Lanes,
    rim_enthalpy: Lanes,
    rim_swirl: Lanes,
    mass_flow: Lanes,
    rim_radius: Lanes,
    bore_radius: Lanes,
    angular_speed: Lanes,
) -> GapFlow:
    """Take the result of the march from the states at its ends, on one lane axis.

    Parameters
    ----------
    ends : Lanes
        Rows that `averaged_kernel.march_pack` fills, by lane [SI].
    speed : Lanes
        Radial speed at entry, inward [m/s].
    rim_enthalpy, rim_swirl : Lanes
        Static enthalpy [J/kg] and circumferential speed [m/s] at entry.
    mass_flow : Lanes
        Inward flow through one gap [kg/s].
    rim_radius, bore_radius : Lanes
        Radii [m].
    angular_speed : Lanes
        Speed of the discs [rad/s].

    Returns
    -------
    GapFlow
        Torque by the fall of angular momentum, total enthalpy by the work of that torque.

    References
    ----------
    Euler's turbine equation.

    """
    pressure, enthalpy, swirl, reynolds, mach, turbulent, choked = ends
    with np.errstate(invalid="ignore", over="ignore"):
        fall = rim_radius * rim_swirl - bore_radius * swirl
        total = rim_enthalpy + (speed**2 + rim_swirl**2) / 2 - angular_speed * fall
        torque = mass_flow * fall
    nothing = np.full(swirl.shape, np.nan)
    return GapFlow(
        exit_pressure=pressure,
        exit_enthalpy=enthalpy,
        exit_swirl=swirl,
        exit_total_enthalpy=total,
        torque=torque,
        wall_torque=torque,
        largest_reynolds=reynolds,
        largest_mach=mach,
        turbulent_share=turbulent,
        backflow_share=nothing,
        wall_backflow_share=nothing,
        choked=choked == 1,
        settled=choked == 0,
    )


@entry
def _march(
    record: FluidRecord,
    rules: Turbulence,
    steps: int,
    given: Lanes,
    found: Lanes,
    first: int,
    last: int,
) -> None:
    pack, ends = table(N_GAP_GIVEN, PACK), table(N_ENDS, PACK)
    for start in range(first, last, PACK):
        take(given, start, last, pack)
        march_pack(record, rules, steps, pack, ends)
        put(ends, start, last, found)
