"""Power balance of the flow from nozzle to exhaust."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from engine.physics.arrays import Array, Lanes
from engine.physics.flow.match import Throughflow
from engine.physics.fluids.fluid_kernel import Fluid


@dataclass(frozen=True)
class FlowAccount:
    """Power of the flow by station and lane [W]; the other powers add up to `isentropic`."""

    isentropic: Lanes
    hose: Lanes
    nozzle: Lanes
    mixing: Lanes
    casing: Lanes
    entry: Lanes
    gap: Lanes
    incidence: Lanes  # on the spokes in the exhaust
    leaving: Lanes
    leakage: Lanes  # with what the ring loses to the side chambers
    rotor: Lanes  # received by discs, edges, spokes, and outer faces that are driven
    web: Lanes  # received by the spokes, part of that of the rotor; below 0 where they brake
    disc_efficiency: Lanes  # work in the gaps over the isentropic drop there [-]


def account_of_flow(
    *,
    fluid: Fluid,
    flow: Throughflow,
    supply_pressure: Array,
    nozzle_pressure: Array,
    supply_enthalpy: Array,
    back_pressure: Array,
    bore_radius: Array,
    angular_speed: Array,
) -> FlowAccount:
    """Split the isentropic power into rotor power and the loss of every station.

    All arguments broadcast; the results have their common shape.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    flow : Throughflow
        Flow at the matched point [-].
    supply_pressure, nozzle_pressure, supply_enthalpy : Array
        Stagnation pressures of the supply and before the nozzles [Pa], and enthalpy of both [J/kg].
    back_pressure : Array
        Pressure behind the exhaust [Pa].
    bore_radius : Array
        Radius at which the gaps end [m].
    angular_speed : Array
        Speed of the discs [rad/s].

    Returns
    -------
    FlowAccount
        Powers [W] and the efficiency of the gaps alone [-]; NaN where a state is NaN.

    Notes
    -----
    End enthalpy is the enthalpy after an isentropic expansion from a station to the back pressure.
    The loss of a station is the flow times the rise of the end enthalpy there: the power that
    cannot be recovered downstream (reheat included). It is never negative for a real process, and
    the losses and the rotor power add up to the isentropic power exactly. Friction power in the
    ring counts by the ratio of end to ring temperature; the rest of it is reheat. What spokes catch
    loses its relative speed at the bore; what is left leaves.

    References
    ----------
    Horlock, Advanced Gas Turbine Cycles, 2003, on lost work in an expansion (from memory); the
    split is derived here.

    """

    def left_over(pressure: Array, enthalpy: Array) -> Lanes:
        return fluid.isentropic_enthalpy(
            pressure=pressure, enthalpy=enthalpy, end_pressure=back_pressure
        )

    ring, entry, gap = flow.ring, flow.entry, flow.gap
    total, through, leak = flow.jet.mass_flow, flow.rotor_flow, flow.leakage
    from_supply = left_over(supply_pressure, supply_enthalpy)
    from_hose = left_over(nozzle_pressure, supply_enthalpy)
    from_jet = left_over(flow.rim_pressure, flow.jet.enthalpy)
    from_ring = left_over(flow.rim_pressure, ring.enthalpy)
    drawn = left_over(flow.rim_pressure, ring.total_enthalpy - ring.leakage_swirl**2 / 2)
    from_entry = left_over(entry.pressure, entry.enthalpy)
    from_exit = left_over(gap.exit_pressure, gap.exit_enthalpy)
    worth = fluid.temperature(pressure=back_pressure, enthalpy=from_ring) / fluid.temperature(
        pressure=flow.rim_pressure, enthalpy=ring.enthalpy
    )
    casing, edges = ring.casing_dissipation * worth, ring.edge_dissipation * worth
    chambers = ring.chamber_dissipation * worth
    web = flow.web_torque * angular_speed
    struck = flow.caught * (gap.exit_swirl - angular_speed * bore_radius) ** 2 / 2
    driven = np.maximum(ring.face_torque * angular_speed, 0.0)
    work = ring.total_enthalpy - gap.exit_total_enthalpy
    offered = ring.total_enthalpy - fluid.isentropic_enthalpy(
        pressure=entry.pressure, enthalpy=entry.enthalpy, end_pressure=gap.exit_pressure
    )
    return FlowAccount(
        isentropic=total * (supply_enthalpy - from_supply),
        hose=total * (from_hose - from_supply),
        nozzle=total * (from_jet - from_hose),
        mixing=through * (from_ring - from_jet)
        + leak * (drawn - from_jet)
        - casing
        - edges
        - chambers,
        casing=casing,
        entry=through * (from_entry - from_ring) + edges,
        gap=through * (from_exit - from_entry),
        incidence=through * struck,
        leaving=through * (gap.exit_total_enthalpy - from_exit - struck) - web,
        leakage=leak * (ring.total_enthalpy - drawn) + chambers,
        rotor=through * work + ring.edge_torque * angular_speed + driven + web,
        web=web,
        disc_efficiency=np.asarray(work / offered),
    )


def handed_on(
    *,
    fluid: Fluid,
    account: FlowAccount,
    flow: Throughflow,
    passing: Array,
    nozzle_pressure: Array,
    nozzle_enthalpy: Array,
    angular_speed: Array,
    next_flow: Array,
    next_pressure: Array,
    next_enthalpy: Array,
    back_pressure: Array,
) -> FlowAccount:
    """Take from the losses of a stage what the next one can still use.

    All arguments broadcast; the results have their common shape.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    account : FlowAccount
        Powers of the stage, as if nothing followed [W].
    flow : Throughflow
        Its flow [-].
    passing : Array
        Flow around it along the shaft [kg/s].
    nozzle_pressure, nozzle_enthalpy : Array
        Pressure [Pa] and total enthalpy [J/kg] before its nozzles; also those of what passes it.
    angular_speed : Array
        Speed of the discs [rad/s].
    next_flow, next_pressure, next_enthalpy : Array
        Flow that goes on [kg/s], with its pressure [Pa] and total enthalpy [J/kg] behind the
        passage. A pressure that is the back pressure stands for the last stage: nothing can be used
        behind it.
    back_pressure : Array
        Pressure behind the last stage [Pa].

    Returns
    -------
    FlowAccount
        The same with the loss in the passage and by mixing under `leaving`, and that of what passes
        the stage under `leakage`; NaN where a state is NaN.

    References
    ----------
    Derived here: the end enthalpies of `account_of_flow`, at the pressure behind the passage.

    """

    def use(pressure: Array, enthalpy: Array) -> Lanes:
        end = fluid.isentropic_enthalpy(
            pressure=pressure, enthalpy=enthalpy, end_pressure=back_pressure
        )
        return np.asarray(enthalpy - end)

    through, leak, warm = flow.rotor_flow, flow.leakage, flow.ring.total_enthalpy
    own = flow.gap.exit_total_enthalpy - flow.web_torque * angular_speed / through
    kept = through * use(next_pressure, own)
    leaked = leak * use(next_pressure, warm)
    past = passing * use(next_pressure, nozzle_enthalpy)
    brought = passing * use(nozzle_pressure, nozzle_enthalpy)
    mixed = kept + leaked + past - next_flow * use(next_pressure, next_enthalpy)
    return replace(
        account,
        leaving=account.leaving - kept + mixed,
        leakage=account.leakage - leaked + brought - past,
    )


def account_of_stages(*, accounts: Sequence[FlowAccount]) -> FlowAccount:
    """Add up the powers of stages in series.

    Parameters
    ----------
    accounts : Sequence[FlowAccount]
        Powers of each stage, all but the last by `handed_on` [W]; all against the pressure behind
        the last.

    Returns
    -------
    FlowAccount
        Isentropic power and hose of the first, and the sums of all else; the efficiency of the gaps
        is that of all gaps together [-].

    References
    ----------
    Derived here.

    """
    first = accounts[0]
    if len(accounts) == 1:
        return first
    added = {
        f.name: np.sum([getattr(account, f.name) for account in accounts], axis=0)
        for f in fields(FlowAccount)
        if f.name not in ("isentropic", "hose", "disc_efficiency")
    }
    drops = np.sum([account.rotor / account.disc_efficiency for account in accounts], axis=0)
    return replace(first, **added, disc_efficiency=added["rotor"] / drops)
