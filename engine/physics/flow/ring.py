"""The ring of fluid around the discs: jets fill it, it rubs on the casing and enters the gaps.

The ring holds only density times swirl times its cross-section. What a jet brings beyond that
enters the gaps at once; the rest goes round, slowed by casing, disc edges and the fluid in the side
chambers at its open ends, and enters the gaps as it slows, until the next nozzle fills the ring
again. So one nozzle or a tight casing leave a slow ring that rubs little, and many nozzles keep it
fast all round.
"""

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from engine.physics.arrays import Array, Lanes, Mask, ValidRange, as_lanes
from engine.physics.compiled import PACK, entry, put, table, take
from engine.physics.flow.ring_kernel import (
    CORE_SPEED,
    MOST_HEATING,
    N_RING,
    N_RING_GIVEN,
    SETTLED,
    SLOWEST,
    casing_friction,
    rings,
)
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.fluids.fluid_kernel import Fluid

RING_RANGE = ValidRange(
    source="plane flows around 60 rims, tests/physics/plane/reference.csv",
    bounds={"edge_share": (0.0, 0.88)},
)
"""Share of the stack's height that the disc edges take; there are none below 0.53."""


@dataclass(frozen=True)
class Ring:
    """The fluid around the rim, and that in the side chambers."""

    swirl: Lanes  # circumferential speed with which it enters the gaps, in the mean [m/s]
    total_enthalpy: Lanes  # [J/kg]
    enthalpy: Lanes  # static, at that swirl [J/kg]
    density: Lanes  # at that swirl [kg/m3]
    viscosity: Lanes  # at that swirl [Pa s]
    edge_torque: Lanes  # of the ring on the disc edges [N m]
    casing_torque: Lanes  # of the ring on the casing around it [N m]
    end_torque: Lanes  # of the ring on the fluid in the side chambers [N m]
    face_torque: Lanes  # of the side chambers on the outer faces of both end discs [N m]
    core_speed: Lanes  # circumferential speed of the fluid in the side chambers, at the rim [m/s]
    fastest: Lanes  # swirl just behind a nozzle [m/s]
    slowest: Lanes  # swirl just before a nozzle [m/s]
    casing_dissipation: Lanes  # friction power left on the casing wall [W]
    edge_dissipation: Lanes  # friction power left on the disc edges [W]
    chamber_dissipation: Lanes  # power that the ring loses to the chambers, less that on the faces
    leakage: Lanes  # through both side chambers to the seals [kg/s]
    leakage_swirl: Lanes  # circumferential speed with which that leaves the ring [m/s]
    mouth_factor: Lanes  # speed of the jets in front of their mouths over that by the ring [-]
    churning: Mask  # the edges do more work on the ring than is followed; do not use the states


def ring_of_rows(*, rows: Lanes) -> Ring:
    """Take a ring from the rows that the kernel fills.

    Parameters
    ----------
    rows : Lanes
        Fields of `Ring` in their order, along the first axis [SI].

    Returns
    -------
    Ring
        The same by name.

    References
    ----------
    None: selection of rows.

    """
    last = len(fields(Ring)) - 1
    values: list[Any] = [*rows[:last], rows[last] == 1]
    return Ring(*values)


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


def ring_around_discs(
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
    nozzle_count: Array,
    casing_factor: Array,
    filling_factor: Array,
    exchange_factor: Array,
    side_gap: Array,
    windage_factor: Array,
    leakage: Array,
    seal_radius: Array,
    back_pressure: Array,
) -> Ring:
    """Follow the ring of fluid around the discs from nozzle to nozzle.

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
        Angle of the jets from the tangent at the rim of the discs [rad].
    mixing_coefficient : Array
        Speed of the jets behind the mouth over that by the pressure of the ring [-].
    rim_radius, rim_clearance, stack_height : Array
        Disc radius [m], clearance to the casing [m], height of discs and gaps [m].
    edge_height : Array
        Disc edges together: number of discs times thickness [m].
    angular_speed : Array
        Speed of the discs [rad/s].
    nozzle_count : Array
        Nozzles, evenly around the rim [-], 1 or more.
    casing_factor, filling_factor, exchange_factor : Array
        Factors on the friction at the casing, on the share of the ring that a jet fills, and on the
        shear between the ring and the side chambers [-]; 1 where nothing better is known.
    side_gap : Array
        Distance from end disc to casing [m].
    windage_factor : Array
        Factor on the friction in the side chambers [-].
    leakage : Array
        Flow through both side chambers to the seals [kg/s], as it is where their fluid turns at
        0.45 of disc speed.
    seal_radius : Array
        Radius of the seals [m].
    back_pressure : Array
        Pressure behind the seals [Pa].

    Returns
    -------
    Ring
        Swirl, state, torques and losses; zero swirl where there is no flow.

    Notes
    -----
    A jet of mass flux J (at least that of the ring) and swirl v fills the share s of the ring's
    cross-section: flow over N J c H, at most 1, with clearance c and stack height H. Behind a
    nozzle the swirl is

        V1 = (s J k g v + (1 - s) rho V2^2) / (s J + (1 - s) rho V2),
        k = 1 - 1.13 d / (1 + d) sin(a) / (1 + M^4),

    with V2 before it, the jet's angle a at the casing, its Mach number M and its thickness over the
    clearance d (s where that is below 1). A thick jet leaves the wall at its angle and dives into
    the gaps as one; it sucks, and as pressure recovers behind it, what stays at the casing is
    slowed. Near and above the speed of sound a jet widens and a part of it
    comes out of the gaps again, and little of that is left. Where jets would so speed up more ring
    than they bring fluid, it draws fluid of swirl V2 back out of the gaps, and
    V1 (V1 - V2) = s J (k g v - V2) / rho. Along the arc,

        rho c V dV/dx = -(stress on casing + edges + open ends),

    with the friction factor of a channel as high as the clearance: 1 + 0.79 (1 - s)^2 times that on
    the casing, more where a thin jet clings to it, and that itself on the edges. V is what
    rubs on the casing; beside the discs and in the mean of the ring fluid is faster, 1.1 V. That
    meets the edges, and with that, in the mean along the arc, the leakage leaves. The gaps get the
    rest of the jets' angular momentum: few nozzles or a tight casing leave the ring slow, so
    leakage takes little along and the gaps get more. Within bounds: fluid enters the gaps with no
    more swirl than the jets bring, and no less than the slowest of the ring has. With many nozzles
    the ring tends to one of even swirl.

    Open ends: shear stress of a plane mixing layer, 0.011 rho times the square of the difference of
    speed. In each side chamber the core turns such that the moments of ring, leakage, casing and
    disc agree; each wall drags as in a chamber without throughflow (`windage`) at its own
    slip. There the core turns at 0.45 of disc speed. A core faster than the disc drives it; that
    work is taken from the fluid. Faster fluid lowers the pressure at the seals, and leakage with
    the root of it. What a disc loses by driving the core is not given back to it.

    Mouths: a jet thicker than the clearance must pass the excess, 1 - 1 / d of it, between the disc
    edges, along the arc of its mouth and 1.02 clearances beyond. Where edges take the share e of
    the height its radial speed there is q v sin(a), q = (1 - 1 / d) / (1 - e + 1.02 sin(a) / d).
    Contraction and head ask for a pressure in front of the mouth that is

        z = W sin(a)^2 max(7.21 e^6 q^2 (1 + e^2) - 1, 0)

    times the jet's head above that of the ring: the jet has the head of its own radial speed, and
    1 + e^2 is what momentum gives for a contraction (Borda, Carnot). The factor e^6 has no theory:
    thin edges turn a jet in and hardly hold it up. W is 1 for fast jets, 0.14 for
    slow ones, which spread along the arc: (M^4 + 0.14) / (1 + M^4). So the jet comes with
    m v, m = 1 / root(1 + z) (`mouth_factor`). Behind the mouth the pressure falls again: a fast jet
    gets that speed back and is pushed beyond it, which the rest pays that enters the gaps. With w =
    M^4 / (1 + M^4) the ring starts with g m v, g = (1 + w (1 / m - 1)) (1 + 4.23 w (1 - m) / d). An
    open rim has z = 0 and g = 1 but for very thick jets. Nozzles that do not choke do not feel that
    pressure here: their flow is too large.

    Constants are fitted to a plane flow, not measured: by `tests.support.fit_ring` to half of the
    builds of tests/physics/plane/reference.csv. That z, g and the share left behind have this form
    was chosen with the other half in sight.

    With the plane's own jets, up to an edge share of 0.88: on the half that was fitted to (29
    builds) rotor torque is off by 3.0 % rms and 6.9 % at worst, casing torque by 8 and 17 %; on the
    other half (28) by 3.9 and 9.4 %, casing 12 and 29 %. There, jets above the speed of sound by
    2.5 and 5.0 %, casing 8 and 24 % (17), slower ones by 5.4 and 9.4 %, casing 16 and 29 % (11),
    water by 6.6 and 9.2 %, casing 20 and 29 % (4). Edges that take more than 0.7, both halves: 4.1
    and 9.4 % (20).

    With `rim_mixing` 0.95 and the flow of the nozzles, where those choke: 3.9 % rms and 13 % at
    worst (38), with edges above 0.7 4.1 and 8.4 % (13). Where they do not choke the flow that
    mouths hold back adds to it: water up to +23 %, steam of one jet of 4.7 clearances +17 %.

    Beyond 0.88 thin jets are off by 3 %, but one of 1.9 clearances by -41 %: it is held up too
    much.

    Not told by it: profiles across the gaps, real jets and edges in three dimensions,
    roughness, the casing's own boundary layers at Mach numbers above 1 (8 to 16 % less friction).

    References
    ----------
    Ring and mouths: derived here from the moment-of-momentum theorem and Bernoulli's; contraction:
    Idelchik, Handbook of Hydraulic Resistance, 3rd ed. 1994, ch. 4 (from memory). Mixing layer:
    Wygnanski and Fiedler 1970, J. Fluid Mech. 41, 327-361 (largest Reynolds stress 0.009 to 0.013,
    from memory). Core swirl: Daily and Nece, Trans. ASME J. Basic Eng. 82, 1960, 217-232 (from
    memory).

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
        nozzle_count,
        casing_factor,
        filling_factor,
        exchange_factor,
        side_gap,
        windage_factor,
        leakage,
        seal_radius,
        back_pressure,
    )
    found = np.empty((N_RING, given[0].size))
    _read_rings(fluid.record, np.stack(given), found)
    return ring_of_rows(rows=found.reshape(N_RING, *shape))


@entry
def _read_friction(reynolds: Lanes, found: Lanes) -> None:
    for i in range(found.size):
        found[i] = casing_friction(reynolds[i])


@entry
def _read_rings(record: FluidRecord, given: Lanes, found: Lanes) -> None:
    n = given.shape[1]
    pack = table(N_RING_GIVEN, PACK)
    ring = table(N_RING, PACK)
    for start in range(0, n, PACK):
        take(given, start, n, pack)
        for i in range(PACK):
            ring[SLOWEST, i] = ring[CORE_SPEED, i] = 0.0
        rings(record, pack, ring, SETTLED, MOST_HEATING)
        put(ring, start, n, found)
