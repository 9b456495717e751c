"""What the nut must press so that the spokes of spinning discs do not pull their hubs away."""

import numpy as np

from engine.physics.arrays import Array, Lanes
from engine.physics.machine.web_places import Places, WebTables

LEAST_FRICTION, USUAL_FRICTION = 0.1, 0.2
"""Between flat sheets of metal, with a trace of oil and degreased; common practice, no source."""
LEAST_NUT_FACTOR, USUAL_NUT_FACTOR = 0.12, 0.2
"""Torque of a nut over force and diameter, greased and dry; common practice, no source."""
THREAD_SHARE = 0.75
"""Area that a coarse thread leaves, over that of its outer circle; ISO 898-1, from memory: 0.73 at
M8, 0.76 at M16."""
FACE_RATIO = 1.6
"""Diameter of a nut's face over that of its thread; ISO 4032, from memory."""


def spoke_pull(
    *,
    places: Places,
    r_outer: Array,
    thickness: Array,
    density: Array,
    speed: Array,
    tables: WebTables,
) -> Lanes:
    """Force with which each spoke of a spinning disc pulls on a hub that does not give way.

    All arguments are arrays of one axis, or broadcast with it; the result has that axis.

    Parameters
    ----------
    places : Places
        Where the discs lie in the tables [-].
    r_outer : Array
        Rim radius [m].
    thickness : Array
        Disc thickness [m].
    density : Array
        Disc material [kg/m3].
    speed : Array
        Angular speed [rad/s].
    tables : WebTables
        Result of `web_tables`.

    Returns
    -------
    Lanes
        Force [N], that of the spoke itself included; NaN outside `WEB_RANGE`, where no web fills
        the blocked share, or where no table has this number of spokes.

    Notes
    -----
    Plane stress, elastic, Poisson's ratio 0.3 (another one moves it by a few per cent), fillets
    left out. Hoop stress in the ring carries the rest of its load.

    References
    ----------
    Tables solved for this project by finite elements.

    Examples
    --------
    >>> from engine.physics.machine.web import web_shape
    >>> from engine.physics.machine.web_places import Places, web_tables
    >>> none, ones = np.zeros((6, 3, 9, 5)), np.ones((6, 2, 5, 3, 3))
    >>> tables = web_tables(bores=np.array([0.08, 0.84]), gripped=none, hub=none, hub_free=ones,
    ...                     hub_held=ones, rest_gripped=none, rest_hub=none,
    ...                     hub_pull=np.full((6, 2, 5, 3), np.log(0.1)))
    >>> bore = np.array([0.021])
    >>> web = web_shape(shaft_radius=0.004, bore_radius=bore, blockage=0.25, spokes=3)
    >>> places = Places.of(tables, web=web, spokes=3, r_inner=bore, r_outer=0.045)
    >>> spoke_pull(places=places, r_outer=0.045, thickness=5e-4, density=7900.0, speed=2827.0,
    ...            tables=tables).round(1).tolist()
    [287.7]

    """
    share = np.where(places.inside, np.exp(places.of_hub(tables.hub_pull)), np.nan)
    return np.asarray(share * density * np.square(speed) * thickness * np.power(r_outer, 3))


def clamp_force(
    *, pull: Array, spokes: Array, torque: Array, hub_radius: Array, friction: Array
) -> Lanes:
    """Force on the hubs of a stack at which friction carries the pull of the spokes and the torque.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    pull : Array
        Force of one spoke on its hub [N].
    spokes : Array
        Number of spokes [-].
    torque : Array
        Torque that passes between two hubs, at most that of the shaft [N m].
    hub_radius : Array
        Of the hub [m]; two thirds of it is taken as the arm of the torque.
    friction : Array
        Coefficient of friction between disc and spacer [-], > 0.

    Returns
    -------
    Lanes
        Force [N].

    Notes
    -----
    Each hub has two faces; the pull is taken up where it enters, so that the forces of all spokes
    add up though they point all ways. Spacers are taken not to give way: those that do stretch with
    the hubs and less is needed.

    References
    ----------
    Derived here.

    Examples
    --------
    >>> force = clamp_force(pull=300.0, spokes=3, torque=0.3, hub_radius=9e-3, friction=0.15)
    >>> round(float(force))
    3018

    """
    along = np.multiply(pull, spokes) / 2
    around = torque / (2 / 3 * np.asarray(hub_radius))
    return np.asarray(np.hypot(along, around) / friction)


def thread_stress(*, force: Array, diameter: Array) -> Lanes:
    """Tension in a shaft whose thread carries a clamp force.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    force : Array
        Clamp force [N].
    diameter : Array
        Outer diameter of the thread [m], coarse.

    Returns
    -------
    Lanes
        Stress [Pa].

    References
    ----------
    ISO 898-1 (nominal stress area), from memory.

    Examples
    --------
    >>> round(float(thread_stress(force=5000.0, diameter=8e-3)) / 1e6)  # table: 36.6 mm2, 137 MPa
    133

    """
    return np.asarray(force / (THREAD_SHARE * np.pi / 4 * np.square(diameter)))


def pressed_radius(*, diameter: Array, thickness: Array) -> Lanes:
    """Radius to which a nut presses through an end clamp.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    diameter : Array
        Of the nut's thread [m].
    thickness : Array
        Of the end clamp [m].

    Returns
    -------
    Lanes
        Radius [m].

    Notes
    -----
    Cone of 45 degrees from the edge of the nut's face, upper end of common practice (30 to 45).

    References
    ----------
    Shigley, Mechanical Engineering Design, ch. 8 (Rotscher's cone), from memory.

    Examples
    --------
    >>> round(float(pressed_radius(diameter=8e-3, thickness=5e-3)) * 1e3, 1)
    11.4

    """
    return np.asarray(FACE_RATIO * np.asarray(diameter) / 2 + thickness)
