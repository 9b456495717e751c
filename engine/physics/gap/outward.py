"""Flow outward through one gap of a pump, at the averaged level.

The march is that of `averaged`, from the eye to the rim, with the signs of an outward flow.
"""

from dataclasses import fields
from functools import partial

import numpy as np

from engine.physics.arrays import Array, Lanes, as_lanes
from engine.physics.compiled import PACK, entry, on_every_core, put, table, take
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.gap.answer import OUTWARD, GapOutflow
from engine.physics.gap.averaged import STEPS, TURBULENCE
from engine.physics.gap.averaged_kernel import (
    N_GAP_GIVEN,
    N_KEPT,
    N_OUTWARD,
    march_either_way,
)
from engine.physics.gap.turbulence_kernel import Turbulence


def march_outward(
    *,
    fluid: Fluid,
    eye_pressure: Array,
    eye_enthalpy: Array,
    eye_swirl: Array,
    mass_flow: Array,
    gap: Array,
    eye_radius: Array,
    rim_radius: Array,
    angular_speed: Array,
    transition_factor: Array = 1.0,
    steps: int = STEPS,
) -> GapOutflow:
    """March the flow of a pump through one gap, from the eye out to the rim.

    All arguments but the fluid and the step count broadcast to one shape, that of the results.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    eye_pressure, eye_enthalpy : Array
        Static pressure [Pa] and enthalpy [J/kg] just inside the gap. For a liquid the pressure may
        be zero or below, where the answer tells how far the suction lies below the vapour pressure.
    eye_swirl : Array
        Circumferential speed at entry in the laboratory frame, uniform across the gap [m/s].
    mass_flow : Array
        Outward flow through one gap [kg/s], above 0.
    gap, eye_radius, rim_radius : Array
        Wall distance [m] and radii [m], 0 < eye_radius < rim_radius.
    angular_speed : Array
        Speed of the discs [rad/s], >= 0.
    transition_factor : Array
        Reynolds numbers at which the flow turns turbulent over those of a plane channel [-], > 0.
    steps : int
        Radial steps [-].

    Returns
    -------
    GapOutflow
        State at the rim, torque and shares. NaN, with `settled` false, for values out of range and
        where the flow chokes (`choked` true).

    Notes
    -----
    In the lag J' = r (W r - v) and with the outward speed the equations are those of `modes` with
    other signs at two places, the widening of the channel and the square of the lag: the fluid lags
    in a pump as it leads in a turbine. A core that lags is sucked back where the gap is wide and
    the flow small: linear theory has mid-gap stand still at an Ekman parameter of 2 pi. Such
    profiles are held as in the inward march, and their share of the radius is reported.

    References
    ----------
    Equations: derived here, as for `averaged.march`; two signs differ. Backflow of a spun disc
    pair: Breiter and Pohlhausen 1962, ARL 62-318 (abstract read).

    Examples
    --------
    Little flow through a narrow gap turns with the discs.

    >>> import swirlstack as sw
    >>> air = sw.gas("air")
    >>> flow = march_outward(fluid=air, eye_pressure=1e5, eye_enthalpy=4.2e5, eye_swirl=4.0,
    ...     mass_flow=1e-8, gap=1e-4, eye_radius=0.02, rim_radius=0.05, angular_speed=200.0)
    >>> round(float(flow.rim_swirl), 2)
    10.0

    """
    found, _ = march_outward_rows(
        fluid=fluid,
        eye_pressure=eye_pressure,
        eye_enthalpy=eye_enthalpy,
        eye_swirl=eye_swirl,
        mass_flow=mass_flow,
        gap=gap,
        eye_radius=eye_radius,
        rim_radius=rim_radius,
        angular_speed=angular_speed,
        transition_factor=transition_factor,
        steps=steps,
        keep=False,
    )
    return found


def march_outward_rows(
    *,
    fluid: Fluid,
    eye_pressure: Array,
    eye_enthalpy: Array,
    eye_swirl: Array,
    mass_flow: Array,
    gap: Array,
    eye_radius: Array,
    rim_radius: Array,
    angular_speed: Array,
    transition_factor: Array = 1.0,
    steps: int = STEPS,
    keep: bool = True,
) -> tuple[GapOutflow, Lanes]:
    """March outward as `march_outward` does, and keep the profiles on the way.

    Parameters
    ----------
    fluid, eye_pressure, eye_enthalpy, eye_swirl, mass_flow, gap : Array
        As in `march_outward` [SI].
    eye_radius, rim_radius, angular_speed, transition_factor, steps : Array
        As in `march_outward` [SI].
    keep : bool
        Whether the stations are kept.

    Returns
    -------
    flow : GapOutflow
        As `march_outward` gives it.
    trail : Lanes
        Rows of `averaged_kernel.march_either_way` by station, (station, row, *lanes) [SI]; no
        station where none are kept.

    References
    ----------
    As `march_outward`.

    """
    given, shape = as_lanes(
        eye_pressure,
        eye_enthalpy,
        eye_swirl,
        mass_flow,
        gap,
        eye_radius,
        rim_radius,
        angular_speed,
        transition_factor,
    )
    pressure, enthalpy, swirl, flow, width, eye, rim, omega, late = given
    bad = ~((flow > 0) & (width > 0) & (eye > 0) & (rim > eye) & (omega >= 0) & (late > 0))
    late[bad] = np.nan
    n_lanes = pressure.size
    ends = np.empty((N_OUTWARD, n_lanes))
    trail = np.empty((steps * N_KEPT, n_lanes if keep else 0))
    rows = np.stack(given)
    work = partial(_march, fluid.record, TURBULENCE, steps, rows, ends, trail)
    on_every_core(work, n_lanes=n_lanes)
    end_pressure, end_enthalpy, end_swirl, reynolds, mach, turbulent, choked = ends[:7]
    lowest, held, cube, mean_square, square = ends[7:]
    with np.errstate(all="ignore"):
        density = fluid.density(pressure=end_pressure, enthalpy=end_enthalpy)
        speed = flow / (2 * np.pi * width * rim * density)
        start = fluid.density(pressure=pressure, enthalpy=enthalpy)
        entry = flow / (2 * np.pi * width * eye * start)
        rise = rim * end_swirl - eye * swirl
        total = enthalpy + (entry**2 + swirl**2) / 2 + omega * rise
        # v = W r - J' / r, so its mean square follows from the moments of the lag.
        around = 2 * omega * rim * end_swirl - (omega * rim) ** 2 + square / rim**2
        lost = ~np.isfinite(end_pressure + end_swirl)
    none = np.where(lost, np.nan, 0.0)
    found = GapOutflow(
        rim_pressure=end_pressure,
        rim_enthalpy=end_enthalpy,
        rim_total_enthalpy=total + none,
        rim_swirl=end_swirl,
        rim_speed=speed,
        rim_momentum=mean_square * speed**2 + none,
        rim_kinetic_energy=(around + cube * speed**2) / 2 + none,
        torque=flow * rise,
        lowest_pressure=lowest + none,
        largest_reynolds=reynolds + none,
        turbulent_share=turbulent + none,
        largest_mach=mach + none,
        backflow_share=held + none,
        choked=(choked == 1) & ~bad,
        settled=~lost,
    )
    flow_found = GapOutflow(
        **{f.name: getattr(found, f.name).reshape(shape) for f in fields(found)}
    )
    kept = trail.reshape(steps, N_KEPT, *shape) if keep else trail[:0]
    return flow_found, kept


@entry
def _march(
    record: FluidRecord,
    rules: Turbulence,
    steps: int,
    given: Lanes,
    found: Lanes,
    trails: Lanes,
    first: int,
    last: int,
) -> None:
    pack, ends = table(N_GAP_GIVEN, PACK), table(N_OUTWARD, PACK)
    trail = np.empty((steps * N_KEPT, PACK))
    for start in range(first, last, PACK):
        take(given, start, last, pack)
        march_either_way(record, rules, steps, OUTWARD, pack, ends, trail)
        put(ends, start, last, found)
        if trails.shape[1] > 0:
            put(trail, start, last, trails)
