"""Flow around the rim in the plane of the discs, as an independent reference; see the package."""

import math
from collections.abc import Callable

import numpy as np

from engine.physics.arrays import Lanes
from engine.physics.flow.geometry import casing_angle
from engine.physics.flow.nozzle import Nozzle
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.plane.answer import PlaneField, PlaneFlow, Progress
from engine.physics.plane.friction_kernel import WALL_FUNCTION
from engine.physics.plane.grid import GHOSTS, Grid, grid_around_rim, refined
from engine.physics.plane.law import Law, law_of
from engine.physics.plane.march import Marched, march_to_rest
from engine.physics.plane.mouths import Jets, Nozzles, jets_at, nozzle_jet
from engine.physics.plane.surroundings import (
    BORE_MASS,
    BORE_MOMENTUM,
    CASING_HEAT,
    CASING_TORQUE,
    DENSITY,
    EDGE_TORQUE,
    GAP_HEAT,
    GAP_TORQUE,
    JET_MASS,
    LEAK_MASS,
    MOUTH_AREA,
    MOUTH_PUSH,
    PRESSURE,
    RADIAL,
    SWIRL,
    Surroundings,
)

CLOSED, FIRST_CLOSED = 3e-4, 3e-3
"""Residual and relative change below which a march has settled, on the last and the first grid."""
FIRST_FINENESS = 0.5
"""Fineness of the first grid over that of the last."""
KARMAN, OUTER_LENGTH = 0.41, 0.09
"""Mixing length over the distance from the casing, and over the clearance."""


def plane_flow(
    *,
    fluid: Fluid,
    nozzle: Nozzle,
    throat_area: float,
    discharge_coefficient: float,
    velocity_coefficient: float,
    nozzle_count: int,
    inlet_angle: float,
    ring_pressure: float,
    ring_enthalpy: float,
    bore_pressure: float,
    leakage_share: float,
    rim_radius: float,
    bore_radius: float,
    rim_clearance: float,
    stack_height: float,
    gap: float,
    gap_count: int,
    disc_thickness: float,
    angular_speed: float,
    transition_factor: float = 1.0,
    fineness: float = 1.0,
    closure: int = WALL_FUNCTION,
    mixing: float = 1.0,
    entry_loss: float = 1.0,
    progress: Callable[[Progress], None] | None = None,
) -> PlaneFlow:
    """Follow the flow through ring and gaps in the plane of the discs, to a steady state.

    One build; all arguments are single numbers.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    nozzle : Nozzle
        Nozzle of unit throat area, with one lane [-].
    throat_area : float
        Of all nozzles together [m2].
    discharge_coefficient, velocity_coefficient : float
        Of the nozzles [-], 0 to 1.
    nozzle_count : int
        Nozzles, evenly around the casing [-].
    inlet_angle : float
        Angle of the jets from the tangent where they meet the rim [rad], above 0. On the casing it
        is larger: 10.4 degrees for 6 at a rim of 45 mm with a clearance of 0.5 mm.
    ring_pressure, ring_enthalpy : float
        Static state of the ring as the averaged model has it [Pa, J/kg]: a first guess, and where
        the fluid's law is read.
    bore_pressure : float
        Static pressure at the bore [Pa].
    leakage_share : float
        Share of the flow that leaves the ring past the end discs [-], 0 to below 1.
    rim_radius, bore_radius : float
        Radii [m], 0 < bore_radius < rim_radius.
    rim_clearance : float
        Between rim and casing [m], above 0.
    stack_height : float
        Height of discs and gaps [m].
    gap : float
        Distance of the discs [m].
    gap_count : int
        Gaps [-].
    disc_thickness : float
        Thickness of a disc [m].
    angular_speed : float
        Speed of the discs [rad/s], at least 0.
    transition_factor : float
        Reynolds numbers at which the flow turns turbulent over those of a plane channel [-], > 0.
    fineness : float
        Cells along a length over the usual number [-], 0.25 to 4.
    closure : int
        Friction of casing and edges [-]: `WALL_FUNCTION`, `CHANNEL` or `SMOOTH` of
        `friction_kernel`.
    mixing : float
        Factor on the mixing length [-]; 0 for none.
    entry_loss : float
        Loss of the contraction between the edges over (1 - b / (b + t))^2 times the radial head
        [-]; 1 is what momentum gives for edges under the ring's pressure.
    progress : Callable, optional
        Called now and then with how far the march is [-].

    Returns
    -------
    PlaneFlow
        Torques, heat, flows and the field. `settled` is False where the march did not come to
        rest; then do not use the numbers. All are NaN where the march fails.

    Notes
    -----
    Averaged over the height of all gaps, in the frame at rest, one sector of 2 pi / `nozzle_count`
    with periodic sides. Height of the fluid is that of the stack in the ring, that of the gaps
    below the rim. Nothing is assumed of how the jets mix with the ring.

    Discs: laminar and Dean's turbulent channel friction on the speed relative to them, blended
    between Reynolds numbers 2,300 and 4,000 times that factor; there is no profile across the gap.
    Casing and disc edges: 1/7-power law of the wall on the cell next to it, or the friction of a
    channel on the mean speed of the ring. Mixing across circles: mixing length
    min(0.41 y, 0.09 c), y from the casing, c the clearance; 0.09 min(c, b) at the rim and below.

    Jets bring mass, angular momentum and total enthalpy through an arc of the casing, at the speed
    that the nozzle formula gives at the pressure found in front of the mouth. No share of their
    swirl is taken off beforehand. Leakage leaves the ring in proportion to mass.

    Fluid: see `law.law_of`. The Mach numbers of a liquid are those of the solver, not of the
    liquid.

    References
    ----------
    HLLC: Toro, Spruce and Speares 1994, Shock Waves 4, 25. Limiter: van Leer 1974, J. Comput. Phys.
    14, 361. Wave speeds: Einfeldt 1988, SIAM J. Numer. Anal. 25, 294. Channel friction: Dean 1978,
    J. Fluids Eng. 100, 215. 1/7-power law and mixing length: Schlichting, Boundary-Layer Theory,
    7th ed. 1979, ch. 19 and 20. All from memory.

    """
    angle = casing_angle(
        inlet_angle=inlet_angle, rim_radius=rim_radius, rim_clearance=rim_clearance
    )
    nozzles = Nozzles(
        fluid=fluid,
        nozzle=nozzle,
        throat_area=throat_area,
        discharge=discharge_coefficient,
        velocity=velocity_coefficient,
        count=nozzle_count,
        angle=float(angle),
        height=stack_height,
    )
    # The fluid's law, and the jets at the averaged model's pressure.
    speed = nozzle_jet(nozzles=nozzles, pressure=ring_pressure)[1]
    law = law_of(fluid=fluid, pressure=ring_pressure, enthalpy=ring_enthalpy, fastest=speed)
    jets = jets_at(nozzles=nozzles, law=law, pressure=ring_pressure)
    # A coarse grid, from which the one that was asked for starts.
    coarse, fine = (
        grid_around_rim(
            rim_radius=rim_radius,
            bore_radius=bore_radius,
            rim_clearance=rim_clearance,
            stack_height=stack_height,
            gap_height=gap * gap_count,
            sector=2 * math.pi / nozzle_count,
            mouth=jets.arc,
            fineness=fineness * share,
        )
        for share in (FIRST_FINENESS, 1.0)
    )

    def marched(grid: Grid, field: Lanes, seen: float, closed: float, before: float) -> Marched:
        around = Surroundings(
            angular_speed=angular_speed,
            gap=gap,
            clearance=rim_clearance,
            edge_share=(gap_count + 1) * disc_thickness / stack_height,
            entry_loss=entry_loss,
            leakage_share=leakage_share,
            bore_pressure=bore_pressure + law.shift,
            closure=closure,
            discs_rub=True,
            transition=transition_factor,
            lengths=mixing * mixing_lengths(grid=grid, clearance=rim_clearance, gap=gap),
        )
        if field.size == 0:
            field = _first_field(law, grid, around, jets, ring_pressure + law.shift)

        def tell(share: float, torque: float, residual: float) -> None:
            if progress is not None:
                progress(Progress(before + share / 2, torque, residual))

        return march_to_rest(
            law=law,
            grid=grid,
            around=around,
            nozzles=nozzles,
            field=field,
            seen=seen,
            closed=closed,
            tell=tell,
        )

    first = marched(coarse, np.empty(0), ring_pressure, FIRST_CLOSED, 0.0)
    carried = np.stack([refined(field=row, coarse=coarse, fine=fine) for row in first.field])
    last = marched(fine, carried, first.seen, CLOSED, 0.5)
    return _answer(law, fine, nozzles, last)


def mixing_lengths(*, grid: Grid, clearance: float, gap: float) -> Lanes:
    """Mixing length of the turbulence that carries swirl and heat across each circle.

    Parameters
    ----------
    grid : Grid
        The cells [-].
    clearance, gap : float
        Between rim and casing, and between discs [m].

    Returns
    -------
    Lanes
        Length at each circle [m], 0 at bore and casing.

    References
    ----------
    Prandtl's mixing length, 0.41 y near a wall and 0.09 of a layer's width outside (Schlichting,
    Boundary-Layer Theory, 7th ed. 1979, ch. 19, from memory).

    """
    depth = grid.faces[-1] - grid.faces
    in_ring = np.minimum(KARMAN * depth, OUTER_LENGTH * clearance)
    below = np.arange(grid.faces.size) <= grid.n_gap
    lengths = np.where(below, OUTER_LENGTH * min(clearance, gap), in_ring)
    lengths[[0, -1]] = 0.0
    return lengths


def _first_field(
    law: Law, grid: Grid, around: Surroundings, jets: Jets, ring_pressure: float
) -> Lanes:
    """Start: even around, pressure and swirl falling from rim to bore."""
    rim, bore = grid.faces[grid.n_gap], grid.faces[0]
    way = np.clip((grid.centres - bore) / (rim - bore), 0.0, 1.0)
    pressure = around.bore_pressure + (ring_pressure - around.bore_pressure) * way
    density = pressure * law.density / law.pressure
    inflow = jets.flow * (1 - around.leakage_share)
    radial = -inflow / (2 * np.pi * grid.centres * grid.heights * density)
    solid = around.angular_speed * grid.centres
    swirl = solid + (0.7 * jets.speed - solid) * way**3
    columns = grid.widths.size - 2 * GHOSTS
    rows = {DENSITY: density, RADIAL: radial, SWIRL: swirl, PRESSURE: pressure}
    return np.stack([np.repeat(rows[k][:, None], columns, axis=1) for k in range(len(rows))])


def _answer(law: Law, grid: Grid, nozzles: Nozzles, found: Marched) -> PlaneFlow:
    """Results of the whole machine from the sums and the field."""
    whole, field, jets = found.look.tally, found.field, found.jets
    into, momentum = found.look.entering[0], found.look.entering[1]
    flow = into.sum()
    sound = np.sqrt(law.exponent * field[PRESSURE] / field[DENSITY])
    mach = np.hypot(field[RADIAL], field[SWIRL]) / sound
    ring = slice(grid.n_gap, None)
    depth, widths = np.diff(grid.faces)[ring, None], grid.widths[GHOSTS:-GHOSTS]
    plan = depth * widths
    passing = (field[DENSITY, ring] * field[SWIRL, ring] * depth)[:, -1].sum() * nozzles.height
    jet_sound = math.sqrt(law.exponent * (found.seen + law.shift) / jets.density)
    return PlaneFlow(
        rotor_torque=float(whole[GAP_TORQUE] + whole[EDGE_TORQUE]),
        gap_torque=float(whole[GAP_TORQUE]),
        edge_torque=float(whole[EDGE_TORQUE]),
        casing_torque=float(whole[CASING_TORQUE]),
        casing_heat=float(whole[CASING_HEAT]),
        gap_heat=float(whole[GAP_HEAT]),
        inflow_swirl=float(momentum.sum() / flow / grid.faces[grid.n_gap]),
        outflow_swirl=float(whole[BORE_MOMENTUM] / whole[BORE_MASS] / grid.faces[0]),
        ring_pressure=float((field[PRESSURE, ring] * plan).sum() / plan.sum() - law.shift),
        mouth_pressure=float(whole[MOUTH_PUSH] / whole[MOUTH_AREA] - law.shift),
        mass_flow=float(whole[JET_MASS]),
        rotor_flow=float(whole[BORE_MASS]),
        leakage_flow=float(whole[LEAK_MASS]),
        jet_speed=jets.speed,
        jet_thickness=jets.thickness,
        mouth_arc=jets.arc,
        casing_angle=nozzles.angle,
        passed_share=float(passing * nozzles.count / whole[JET_MASS]),
        outward_share=float(-into[into < 0].sum() / flow),
        jet_mach=jets.speed / jet_sound,
        largest_mach=float(mach.max()),
        mass_residual=found.residuals[0],
        momentum_residual=found.residuals[1],
        energy_residual=found.residuals[2],
        swing=found.swing,
        settled=found.settled,
        steps=found.steps,
        exponent=law.exponent,
        field=PlaneField(
            faces=grid.faces,
            sides=np.concatenate([[0.0], np.cumsum(widths)]),
            n_gap=grid.n_gap,
            density=field[DENSITY],
            radial_speed=field[RADIAL],
            swirl=field[SWIRL],
            pressure=field[PRESSURE] - law.shift,
            mach=mach,
        ),
    )
