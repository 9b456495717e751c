"""A whole pump at a given delivered flow: its head, its power, and where the power goes."""

from collections.abc import Callable
from dataclasses import dataclass, fields, replace

import numpy as np

from engine.physics.arrays import Array, Lanes
from engine.physics.flow.windage import end_face_torque
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.gap.answer import GapOutflow
from engine.physics.gap.outward import march_outward
from engine.physics.pump.build import PumpBuild, PumpFlow, stack_height_of
from engine.physics.pump.collector import CollectorFlow, collect
from engine.physics.pump.eye import EyeFlow, flow_into_gaps
from engine.physics.pump.leakage import RingLeakage, eye_thrust, wear_ring_leakage
from engine.physics.pump.mouth import MouthFlow, leave_gaps, vaneless_space
from engine.physics.pump.suction import GRAVITY, npsh_required

PASSES = 5
"""Marches to find the flow through the gaps that delivers a given one."""
SETTLED = 1e-6
"""Difference from the delivered flow asked for, over that through the gaps, that counts as none."""
NEAR = 1e-9
"""Step over the flow below which it tells nothing of the slope."""
LEAST_SLOPE = 0.3
"""Least change of the delivered flow with that through the gaps that a step is taken by."""
GUESSED_SHARE = 0.6
"""Pressure behind the rim over that of a solid body, for the first guess of the leakage."""


@dataclass(frozen=True)
class _Way:
    """The stations of one pass."""

    through: Lanes  # flow through all gaps [kg/s]
    eye: EyeFlow
    gap: GapOutflow
    density: Lanes  # at the rim
    viscosity: Lanes
    mouth: MouthFlow
    ring: RingLeakage


def pump_through(
    *,
    build: PumpBuild,
    fluid: Fluid,
    pressure: Array,
    enthalpy: Array,
    through: Array,
    march: Callable[..., GapOutflow] = march_outward,
) -> PumpFlow:
    """Follow a flow through all gaps of a pump, from the suction flange to the discharge port.

    All arguments but the fluid broadcast, with the values of the build. This takes one march; the
    delivered flow is what does not leak, so no leakage is looked for.

    Parameters
    ----------
    build : PumpBuild
        Sizes, speed and coefficients [SI].
    fluid : Fluid
        Working fluid: a liquid, or a gas at low pressure rise [-].
    pressure, enthalpy : Array
        Total pressure [Pa] and enthalpy [J/kg] at the suction flange.
    through : Array
        Flow through all gaps together [kg/s], above 0.
    march : Callable
        March through a gap: `gap.outward.march_outward`, or `march_outward_resolved` of
        `gap.outward_resolved`.

    Returns
    -------
    PumpFlow
        Head, powers and losses. Losses and hydraulic power add up to the fluid power. NaN where the
        build is none or a gap has no answer. Where more leaks than comes through the gaps,
        `mass_flow` is below 0 and what lies behind the rim is NaN.

    Notes
    -----
    A head below 0 means that the pump does not pass this flow by itself.

    References
    ----------
    Stations: the modules of this package; march: `gap.outward.march_outward`; end faces: Daily and
    Nece as in `flow.windage`. The balance is derived here.

    """
    shapes = [np.shape(value) for value in (*vars(build).values(), pressure, enthalpy, through)]
    flow = np.asarray(through, dtype=float) + np.zeros(np.broadcast_shapes(*shapes))
    with np.errstate(all="ignore"):
        way = _follow(build, fluid, pressure, enthalpy, flow, march)
        return _account(build, fluid, pressure, enthalpy, way)


def pump_flow(
    *,
    build: PumpBuild,
    fluid: Fluid,
    pressure: Array,
    enthalpy: Array,
    mass_flow: Array,
    passes: int = PASSES,
) -> PumpFlow:
    """Follow a delivered flow through a pump, from the suction flange to the discharge port.

    All arguments but the fluid and the count broadcast, with the values of the build.

    Parameters
    ----------
    build, fluid, pressure, enthalpy : PumpBuild
        As in `pump_through` [SI].
    mass_flow : Array
        Delivered flow [kg/s], above 0. Take some thousandths of the best flow for shut-off.
    passes : int
        Marches to find the flow through the gaps [-], 1 or more.

    Returns
    -------
    PumpFlow
        As `pump_through` gives it, at the flow through the gaps of which the last pass delivers
        this flow; not `settled` where it is more than 1e-6 of it away.

    Notes
    -----
    By the secant, from a leakage that a solid body of fluid would drive.

    References
    ----------
    As `pump_through`.

    """
    with np.errstate(all="ignore"):
        leak = _guessed(build, fluid, pressure, enthalpy)
        wanted = np.asarray(mass_flow, dtype=float) + 0 * leak
        through, slope = wanted + leak, np.ones_like(wanted + leak)
        found = pump_through(
            build=build, fluid=fluid, pressure=pressure, enthalpy=enthalpy, through=through
        )
        short = wanted - found.mass_flow
        for _ in range(passes - 1):
            onward = np.maximum(through + short / slope, wanted)
            moved = onward - through
            found = pump_through(
                build=build, fluid=fluid, pressure=pressure, enthalpy=enthalpy, through=onward
            )
            still = wanted - found.mass_flow
            # Slope of what is delivered with what goes through: 1 and somewhat more.
            better = np.clip((short - still) / moved, LEAST_SLOPE, 1 / LEAST_SLOPE)
            slope = np.where(np.isfinite(better) & (np.abs(moved) > NEAR * onward), better, slope)
            through, short = onward, still
        settled = found.settled & (np.abs(short) <= SETTLED * (wanted + leak))
        return replace(found, settled=settled)


def _guessed(build: PumpBuild, fluid: Fluid, pressure: Array, enthalpy: Array) -> Lanes:
    """Leakage where the fluid behind the rim has a share of the pressure of a solid body."""
    density = fluid.density(pressure=pressure, enthalpy=enthalpy)
    viscosity = fluid.viscosity(pressure=pressure, enthalpy=enthalpy)
    turned = np.square(np.asarray(build.angular_speed) * build.rim_radius)
    rise = GUESSED_SHARE * density * turned / 2
    return _ring(build, density, viscosity, rise, 0.0 * rise).leakage


def _ring(
    build: PumpBuild, density: Lanes, viscosity: Lanes, rim: Lanes, eye: Lanes
) -> RingLeakage:
    return wear_ring_leakage(
        density=density,
        viscosity=viscosity,
        rim_pressure=rim,
        eye_pressure=eye,
        angular_speed=build.angular_speed,
        rim_radius=build.rim_radius,
        ring_radius=build.ring_radius,
        clearance=build.seal_clearance,
        length=build.ring_length,
        ring_count=build.suction_ends,
        ring_factor=build.ring_factor,
    )


def _follow(
    build: PumpBuild,
    fluid: Fluid,
    pressure: Array,
    enthalpy: Array,
    through: Lanes,
    march: Callable[..., GapOutflow],
) -> _Way:
    """Follow a flow through all gaps to behind the rim."""
    gaps = np.asarray(build.disc_count, dtype=float) - 1
    swirl = np.asarray(build.eye_swirl_ratio) * build.angular_speed * build.eye_radius
    eye = flow_into_gaps(
        fluid=fluid,
        pressure=pressure,
        enthalpy=enthalpy,
        mass_flow=through,
        eye_radius=build.eye_radius,
        shaft_radius=build.shaft_radius,
        suction_ends=build.suction_ends,
        blockage=build.eye_blockage,
        eye_loss=build.eye_loss,
        gap=build.gap,
        gap_count=gaps,
        disc_thickness=build.disc_thickness,
        entry_factor=build.entry_factor,
        swirl=swirl,
    )
    gap = march(
        fluid=fluid,
        eye_pressure=eye.entry_pressure,
        eye_enthalpy=eye.entry_enthalpy,
        eye_swirl=swirl,
        mass_flow=through / gaps,
        gap=build.gap,
        eye_radius=build.eye_radius,
        rim_radius=build.rim_radius,
        angular_speed=build.angular_speed,
        transition_factor=build.transition_factor,
    )
    density = fluid.density(pressure=gap.rim_pressure, enthalpy=gap.rim_enthalpy)
    viscosity = fluid.viscosity(pressure=gap.rim_pressure, enthalpy=gap.rim_enthalpy)
    mouth = leave_gaps(
        density=density,
        viscosity=viscosity,
        rim_pressure=gap.rim_pressure,
        rim_swirl=gap.rim_swirl,
        rim_momentum=gap.rim_momentum,
        mass_flow=through,
        rim_radius=build.rim_radius,
        rim_clearance=build.rim_clearance,
        gap=build.gap,
        gap_count=gaps,
        disc_thickness=build.disc_thickness,
        angular_speed=build.angular_speed,
    )
    ring = _ring(build, density, viscosity, mouth.pressure, eye.pressure)
    return _Way(through, eye, gap, density, viscosity, mouth, ring)


def _discharge(build: PumpBuild, way: _Way, delivered: Lanes) -> tuple[Lanes, CollectorFlow]:
    """Loss between rim and collector [J/kg], and the collector."""
    height = stack_height_of(build=build)
    swirl, loss = vaneless_space(
        density=way.density,
        viscosity=way.viscosity,
        swirl=way.mouth.swirl,
        mass_flow=delivered,
        rim_radius=build.rim_radius,
        rim_clearance=build.rim_clearance,
        height=height,
        casing_factor=build.casing_factor,
    )
    radius = np.asarray(build.rim_radius) + build.rim_clearance
    collector = collect(
        density=way.density,
        viscosity=way.viscosity,
        swirl=swirl,
        radial_speed=way.mouth.radial_speed * build.rim_radius / radius,
        mass_flow=delivered,
        radius=radius,
        throat_area=build.throat_area,
        port_diameter=build.port_diameter,
        throat_factor=build.throat_factor,
        cone_loss=build.cone_loss,
    )
    return loss, collector


def _account(
    build: PumpBuild, fluid: Fluid, pressure: Array, enthalpy: Array, way: _Way
) -> PumpFlow:
    """Sum up heads, powers and losses, station by station."""
    leakage = way.ring.leakage
    outward = way.through - leakage
    delivered = np.where(outward > 0, outward, np.nan)
    eye, gap, mouth, through = way.eye, way.gap, way.mouth, way.through
    omega, rim = np.asarray(build.angular_speed, dtype=float), np.asarray(build.rim_radius)
    gaps = np.asarray(build.disc_count, dtype=float) - 1
    # Heads over the flange in total pressure, over density [J/kg]. The swirl that the spokes give
    # is work of this shaft, and comes with its kinetic energy.
    swirl = np.asarray(build.eye_swirl_ratio) * omega * build.eye_radius
    lost_before = eye.eye_loss + eye.entry_loss
    pushed = fluid.isentropic_enthalpy(
        pressure=eye.entry_pressure, enthalpy=eye.entry_enthalpy, end_pressure=gap.rim_pressure
    )
    entered = (eye.entry_speed**2 + swirl**2) / 2
    gained = pushed - eye.entry_enthalpy + gap.rim_kinetic_energy - entered
    spun = omega * build.eye_radius * swirl
    work = gaps * gap.torque * omega / through
    at_rim = swirl**2 / 2 - lost_before + gained
    mixed = (mouth.pressure - gap.rim_pressure) / way.density - gap.rim_kinetic_energy
    mixed = mixed + (mouth.swirl**2 + mouth.radial_speed**2) / 2
    behind = at_rim + mixed
    vaneless, collector = _discharge(build, way, delivered)
    after = collector.throat_loss + collector.friction_loss + collector.cone_loss
    head = behind - vaneless - after
    # Powers.
    faces = build.windage_factor * end_face_torque(
        density=way.density,
        viscosity=way.viscosity,
        angular_speed=omega,
        rim_radius=rim,
        side_gap=build.side_gap,
    )
    windage, edge = faces * omega, mouth.edge_torque * omega
    rotor = through * (work + spun)
    whole = rotor + edge + windage
    hydraulic = delivered * head
    density = eye.density
    volume = gaps * np.pi * (rim**2 - np.square(build.eye_radius)) * build.gap
    flow = delivered / density
    lowest = np.minimum(np.minimum(eye.pressure, eye.entry_pressure), gap.lowest_pressure)
    positive = np.where(head > 0, head, np.nan)
    viscosity = fluid.viscosity(pressure=eye.entry_pressure, enthalpy=eye.entry_enthalpy)
    found = PumpFlow(
        mass_flow=outward,
        through=through,
        leakage=leakage,
        flow=flow,
        head=head / GRAVITY,
        pressure_rise=_total_rise(way, pressure, vaneless + after),
        fluid_power=whole,
        hydraulic_power=hydraulic,
        rotor_power=rotor,
        edge_power=edge,
        hydraulic_efficiency=hydraulic / whole,
        rotor_efficiency=(gained + swirl**2 / 2) / (work + spun),
        volumetric_efficiency=delivered / through,
        loss_eye=through * lost_before,
        loss_gap=through * (work + spun - gained - swirl**2 / 2),
        loss_edge=mouth.edge_loss,
        loss_mouth=edge - mouth.edge_loss - through * mixed,
        loss_leakage=leakage * behind,
        loss_vaneless=delivered * vaneless,
        loss_throat=delivered * collector.throat_loss,
        loss_collector=delivered * collector.friction_loss,
        loss_cone=delivered * collector.cone_loss,
        loss_windage=windage,
        lowest_pressure=lowest,
        npsh_required=npsh_required(
            density=density, total_pressure=pressure, lowest_pressure=lowest
        ),
        temperature_rise=(whole - hydraulic)
        / delivered
        / specific_heat(fluid=fluid, pressure=pressure, enthalpy=enthalpy),
        specific_speed=omega * np.sqrt(flow) / positive**0.75,
        specific_diameter=2 * rim * positive**0.25 / np.sqrt(flow),
        axial_thrust=eye_thrust(
            density=way.density,
            rim_pressure=mouth.pressure,
            eye_pressure=eye.pressure,
            angular_speed=omega,
            rim_radius=rim,
            eye_radius=build.eye_radius,
            shaft_radius=build.shaft_radius,
            suction_ends=build.suction_ends,
        ),
        discharge_angle=np.arctan2(mouth.radial_speed, mouth.swirl),
        ekman_number=build.gap * np.sqrt(omega * density / viscosity),
        flow_coefficient=through / density / gaps / (2 * np.pi * build.gap * omega * rim**2),
        throat_speed=collector.throat_speed,
        throat_ratio=collector.throat_speed / collector.arriving_swirl,
        eye_speed=eye.axial_speed,
        rim_pressure=mouth.pressure,
        rim_density=way.density,
        rim_swirl=gap.rim_swirl,
        ring_shear=way.ring.wall_shear,
        ring_swirl=mouth.swirl,
        residence_time=volume * density / through,
        largest_reynolds=gap.largest_reynolds,
        turbulent_share=gap.turbulent_share,
        largest_mach=gap.largest_mach,
        backflow_share=gap.backflow_share,
        choked=gap.choked,
        settled=gap.settled & np.isfinite(head),
    )
    return PumpFlow(
        **{f.name: np.broadcast_to(getattr(found, f.name), head.shape) for f in fields(found)}
    )


def _total_rise(way: _Way, pressure: Array, lost: Lanes) -> Lanes:
    """Rise of total pressure from flange to port [Pa], of losses behind the rim [J/kg]."""
    speed = way.mouth.swirl**2 + way.mouth.radial_speed**2
    return np.asarray(way.mouth.pressure + way.density * (speed / 2 - lost) - pressure)


def specific_heat(*, fluid: Fluid, pressure: Array, enthalpy: Array) -> Lanes:
    """Heat capacity at constant pressure, by two temperatures.

    All arguments but the fluid broadcast; the result has their common shape.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    pressure, enthalpy : Array
        State [Pa], [J/kg].

    Returns
    -------
    Lanes
        Heat capacity [J/(kg K)].

    References
    ----------
    Definition.

    Examples
    --------
    >>> import swirlstack as sw
    >>> air = sw.gas("air")
    >>> round(float(specific_heat(fluid=air, pressure=1e5, enthalpy=0.0)), 0)
    1006.0

    """
    more = np.asarray(enthalpy, dtype=float) + 1000.0
    warm = fluid.temperature(pressure=pressure, enthalpy=more)
    return np.asarray(1000.0 / (warm - fluid.temperature(pressure=pressure, enthalpy=enthalpy)))
