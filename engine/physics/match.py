"""The matched point: the rim pressure at which nozzles, gaps, seals and exhaust agree."""

from collections.abc import Callable
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import elementwise

from engine.physics.arrays import Lanes, Reason, first_reason
from engine.physics.fluid_kernel import Fluid
from engine.physics.gap_flow import GapFlow, Marcher
from engine.physics.nozzle import Jet, Nozzle, jet_from_nozzle
from engine.physics.outlet import collar_leakage, exhaust_pressure_drop, exhaust_speed
from engine.physics.rim import GapEntry, Ring, enter_gap, mix_at_rim

RESIDUAL = 1e-6
"""Largest mismatch of pressure at the exhaust, over the whole pressure drop."""
MOST_STEPS, MOST_STEPS_FROM_GUESS = 80, 12
"""Steps of the search; a flow that settles only now and then would use up any number."""
NEAR = 0.06
"""First step away from a guessed rim pressure, over its height above the back pressure."""
EXHAUST_CHOKED_MACH = 0.8
LEAST_FLOW = 1e-9
"""Rotor flow [kg/s] at which lanes without flow are followed."""


@dataclass(frozen=True)
class Circuit:
    """All that the flow meets from nozzle to exhaust, by lane; one-dimensional, equal lengths."""

    nozzle: Nozzle
    throat_area: Lanes  # [m2]
    nozzle_discharge: Lanes  # [-]
    nozzle_velocity: Lanes  # [-]
    inlet_angle: Lanes  # [rad]
    rim_mixing: Lanes  # [-]
    rim_radius: Lanes  # [m]
    bore_radius: Lanes  # [m]
    rim_clearance: Lanes  # [m]
    stack_height: Lanes  # [m]
    gap: Lanes  # [m]
    gap_count: Lanes  # [-]
    disc_thickness: Lanes  # [m]
    angular_speed: Lanes  # [rad/s]
    exhaust_area: Lanes  # [m2]
    exhaust_loss: Lanes  # [-]
    back_pressure: Lanes  # [Pa]
    seal_clearance: Lanes  # [m]
    seal_count: Lanes  # [-]
    seal_throttles: Lanes  # [-]
    seal_discharge: Lanes  # [-]


@dataclass(frozen=True)
class Throughflow:
    """The flow at one rim pressure, by lane."""

    rim_pressure: Lanes  # [Pa]
    jet: Jet
    ring: Ring
    entry: GapEntry
    gap: GapFlow
    leakage: Lanes  # [kg/s]
    rotor_flow: Lanes  # [kg/s]
    exhaust_speed: Lanes  # [m/s]
    exhaust_sound: Lanes  # speed of sound in the exhaust [m/s]
    mismatch: Lanes  # pressure left over behind the exhaust, over the whole drop [-]


def flow_at_rim_pressure(
    *, fluid: Fluid, circuit: Circuit, march: Marcher, rim_pressure: Lanes
) -> Throughflow:
    """Follow the flow from the nozzles to the exhaust for a given pressure at the rim.

    Lanes are one-dimensional and of equal length.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    circuit : Circuit
        What the flow meets [-].
    march : Marcher
        March through a gap, of either level [-].
    rim_pressure : Lanes
        Pressure of the ring around the discs [Pa].

    Returns
    -------
    Throughflow
        States, flows and the mismatch at the exhaust, which rises with rim pressure. A lane whose
        gaps choke has mismatch -1; one with no rotor flow is followed at a flow going to nothing.

    References
    ----------
    The order of the stations, derived here.

    """
    c, supply = circuit, circuit.nozzle
    jet = jet_from_nozzle(
        fluid=fluid,
        nozzle=supply,
        throat_area=c.throat_area,
        back_pressure=rim_pressure,
        discharge_coefficient=c.nozzle_discharge,
        velocity_coefficient=c.nozzle_velocity,
    )
    ring = mix_at_rim(
        fluid=fluid,
        mass_flow=jet.mass_flow,
        jet_speed=jet.speed,
        total_enthalpy=supply.stagnation_enthalpy,
        pressure=rim_pressure,
        inlet_angle=c.inlet_angle,
        mixing_coefficient=c.rim_mixing,
        rim_radius=c.rim_radius,
        rim_clearance=c.rim_clearance,
        stack_height=c.stack_height,
        edge_height=(c.gap_count + 1) * c.disc_thickness,
        angular_speed=c.angular_speed,
    )
    leakage = collar_leakage(
        fluid=fluid,
        ring_pressure=rim_pressure,
        ring_enthalpy=ring.total_enthalpy,
        ring_density=ring.density,
        back_pressure=c.back_pressure,
        angular_speed=c.angular_speed,
        rim_radius=c.rim_radius,
        seal_radius=c.bore_radius,
        seal_clearance=c.seal_clearance,
        seal_count=c.seal_count,
        throttles=c.seal_throttles,
        discharge_coefficient=c.seal_discharge,
    )
    rotor_flow = np.fmax(jet.mass_flow - leakage, LEAST_FLOW)
    entry = enter_gap(
        fluid=fluid,
        ring=ring,
        ring_pressure=rim_pressure,
        gap_flow=rotor_flow / c.gap_count,
        gap=c.gap,
        disc_thickness=c.disc_thickness,
        rim_radius=c.rim_radius,
    )
    gap = march(
        fluid=fluid,
        rim_pressure=entry.pressure,
        rim_enthalpy=entry.enthalpy,
        rim_swirl=ring.swirl,
        mass_flow=rotor_flow / c.gap_count,
        gap=c.gap,
        rim_radius=c.rim_radius,
        bore_radius=c.bore_radius,
        angular_speed=c.angular_speed,
    )
    density = fluid.density(pressure=gap.exit_pressure, enthalpy=gap.exit_enthalpy)
    speed = exhaust_speed(mass_flow=rotor_flow, density=density, area=c.exhaust_area)
    drop = exhaust_pressure_drop(
        axial_speed=speed, density=density, loss_coefficient=c.exhaust_loss
    )
    left_over = (gap.exit_pressure - c.back_pressure - drop) / (
        supply.stagnation_pressure - c.back_pressure
    )
    return Throughflow(
        rim_pressure=rim_pressure,
        jet=jet,
        ring=ring,
        entry=entry,
        gap=gap,
        leakage=leakage,
        rotor_flow=rotor_flow,
        exhaust_speed=speed,
        exhaust_sound=fluid.sound_speed(pressure=gap.exit_pressure, enthalpy=gap.exit_enthalpy),
        mismatch=np.where(np.isfinite(left_over), left_over, -1.0),
    )


def match_rim_pressure(
    *,
    fluid: Fluid,
    circuit: Circuit,
    march: Marcher,
    status: NDArray[np.int64],
    guess: Lanes | None = None,
) -> tuple[Throughflow, NDArray[np.int64]]:
    """Find the rim pressure at which the flow closes, lane by lane.

    Lanes are one-dimensional and of equal length.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    circuit : Circuit
        What the flow meets [-].
    march : Marcher
        March through a gap, of either level [-].
    status : NDArray[np.int64]
        Reason by lane [-]; lanes that are not `MATCHED` are left out of the search.
    guess : Lanes, optional
        Rim pressure near the answer [Pa], from a faster march; saves most of the search.

    Returns
    -------
    tuple[Throughflow, NDArray[np.int64]]
        The flow at the matched point and the status, with a reason where there is none; the flow
        of such a lane is not to be used.

    Notes
    -----
    The mismatch rises with rim pressure: less flow, less drop. It is negative at the back pressure,
    so a lane with a negative mismatch at supply pressure has no inward flow at this speed.

    References
    ----------
    Chandrupatla, Adv. Eng. Softw. 28, 1997, 145-149, as implemented lane-wise by SciPy.

    """
    alive = np.flatnonzero(status == Reason.MATCHED)
    rim_pressure = np.full(status.shape, np.nan)
    supply, back = circuit.nozzle.stagnation_pressure, circuit.back_pressure

    def follow(pressure: Lanes, lane: NDArray[np.int64]) -> Throughflow:
        chosen = take_lanes(circuit=circuit, lane=lane)
        return flow_at_rim_pressure(fluid=fluid, circuit=chosen, march=march, rim_pressure=pressure)

    def mismatch(pressure: Lanes, lane: NDArray[np.int64]) -> Lanes:
        return follow(pressure, lane).mismatch

    # A bad lane is NaN all the way through; that is an answer here, not a fault.
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        status = status.copy()
        steps = MOST_STEPS
        if guess is None:
            low, high = back[alive], supply[alive]
            pumps = mismatch(high, alive) < 0
            status[alive[pumps]] = Reason.NO_FLOW
            alive, low, high = alive[~pumps], low[~pumps], high[~pumps]
        else:
            steps = MOST_STEPS_FROM_GUESS
            low, high = _around(mismatch, guess[alive], back[alive], supply[alive], alive)
        if alive.size:
            found = elementwise.find_root(
                mismatch,
                (low, high),
                args=(alive,),
                tolerances={"xatol": 0.0, "xrtol": 1e-9, "fatol": RESIDUAL / 10, "frtol": 0.0},
                maxiter=steps,
            )
            rim_pressure[alive] = found.x
        every = np.arange(status.size)
        flow = follow(rim_pressure, every)
        off = ~(np.abs(flow.mismatch) <= RESIDUAL)
        # A search that ended at the edge of choking has a choked gap just below its answer.
        steep = flow.gap.choked.copy()
        steep[off] |= follow(rim_pressure[off] * (1 - 1e-6), every[off]).gap.choked
        exhaust_mach = flow.exhaust_speed / flow.exhaust_sound
    status = first_reason(status, off & steep, Reason.GAP_CHOKED)
    status = first_reason(status, off | ~flow.gap.settled, Reason.NOT_CONVERGED)
    status = first_reason(status, flow.rotor_flow <= LEAST_FLOW, Reason.NO_FLOW)
    status = first_reason(status, flow.ring.churning, Reason.CHURNING)
    return flow, first_reason(status, exhaust_mach > EXHAUST_CHOKED_MACH, Reason.EXHAUST_CHOKED)


def _around(
    mismatch: Callable[[Lanes, NDArray[np.int64]], Lanes],
    guess: Lanes,
    back: Lanes,
    supply: Lanes,
    lane: NDArray[np.int64],
) -> tuple[Lanes, Lanes]:
    """Rim pressures on either side of the answer, close to the guess where they can be."""
    reach = NEAR * (guess - back)
    found = elementwise.bracket_root(
        mismatch,
        guess - reach,
        np.minimum(guess + reach, (guess + supply) / 2),
        xmin=back,
        xmax=supply,
        args=(lane,),
        maxiter=MOST_STEPS_FROM_GUESS,
    )
    return found.bracket


def take_lanes(*, circuit: Circuit, lane: NDArray[np.int64]) -> Circuit:
    """Circuit of the chosen lanes.

    Parameters
    ----------
    circuit : Circuit
        All lanes [-].
    lane : NDArray[np.int64]
        Lane numbers [-].

    Returns
    -------
    Circuit
        The same quantities for those lanes.

    References
    ----------
    None needed: selection, derived here.

    """
    nozzle = Nozzle(**{f.name: getattr(circuit.nozzle, f.name)[lane] for f in fields(Nozzle)})
    rest = {f.name: getattr(circuit, f.name)[lane] for f in fields(Circuit) if f.name != "nozzle"}
    return Circuit(nozzle=nozzle, **rest)
