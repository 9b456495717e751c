"""The collector around the discs of a pump: its throat, cone and port."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes
from engine.physics.flow.hose import friction_factor

SPIRAL = 2 / 3
"""Mean of the friction along a collector over that of its throat, for an area that grows evenly."""


@dataclass(frozen=True)
class CollectorFlow:
    """Collector, one value a lane; losses of total pressure over density [J/kg]."""

    throat_speed: Lanes
    """In the throat [m/s]."""
    arriving_swirl: Lanes
    """Circumferential speed in the middle of the throat, of fluid that keeps its moment [m/s]."""
    throat_loss: Lanes
    """Radial head, and swirl that mixes into the throat."""
    friction_loss: Lanes
    """Friction on the way to the throat."""
    cone_loss: Lanes
    """Cone between throat and port."""


def collect(
    *,
    density: Array,
    viscosity: Array,
    swirl: Array,
    radial_speed: Array,
    mass_flow: Array,
    radius: Array,
    throat_area: Array,
    port_diameter: Array,
    throat_factor: Array,
    cone_loss: Array,
) -> CollectorFlow:
    """Lose what a collector of round section takes between the ring and the port.

    All arguments broadcast; the results have their common shape.

    Parameters
    ----------
    density, viscosity : Array
        Of the fluid [kg/m3], [Pa s].
    swirl, radial_speed : Array
        Where the collector begins [m/s].
    mass_flow : Array
        Delivered flow [kg/s].
    radius : Array
        Where the collector begins [m].
    throat_area : Array
        Of the throat [m2].
    port_diameter : Array
        Inner diameter of the port behind the cone [m].
    throat_factor : Array
        Factor on the loss of mixing [-]; 1 where nothing better is known.
    cone_loss : Array
        Loss of the cone over the dynamic pressure of the change of speed [-].

    Returns
    -------
    CollectorFlow
        Speeds and losses.

    Notes
    -----
    The radial head is lost. Fluid that arrives with the swirl v at the middle of the throat mixes
    into a stream of speed c: (v - c)^2 / 2 (Borda and Carnot). Methods that charge half of the
    swirl head (Weber and Koronowski 1986, title from memory) make an ever larger throat best for so
    fast a swirl. Friction: a spiral pipe whose area grows evenly, 2/3 of that at the throat. It is
    kinder than the truth where the throat is less wide than the stack is high.

    References
    ----------
    Borda and Carnot; friction factor: Churchill 1977 as in `flow.hose.friction_factor`. The factor
    2/3 is derived here. Cone of 0.15: Idelchik, Handbook of Hydraulic Resistance, 3rd ed. 1994, ch.
    5 (from memory).

    Examples
    --------
    A throat as fast as the swirl mixes without loss.

    >>> found = collect(density=1000.0, viscosity=1e-3, swirl=5.0, radial_speed=0.0, mass_flow=0.5,
    ...     radius=1e6, throat_area=1e-4, port_diameter=0.02, throat_factor=1.0, cone_loss=0.15)
    >>> round(float(found.throat_loss), 6)
    0.0

    """
    given = (density, viscosity, swirl, radial_speed, mass_flow, radius, throat_area)
    rho, mu, v, u, flow, r, area = (np.asarray(value, dtype=float) for value in given)
    width = np.sqrt(4 * area / np.pi)
    middle = r + width / 2
    speed = flow / (rho * area)
    arriving = v * r / middle
    mixing = throat_factor * (arriving - speed) ** 2 / 2
    drag = friction_factor(reynolds=rho * speed * width / mu, roughness_ratio=0.0)
    friction = drag * SPIRAL * 2 * np.pi * middle / width * speed**2 / 2
    port = flow / (rho * np.pi / 4 * np.square(port_diameter))
    cone = cone_loss * (speed - port) ** 2 / 2
    shape = np.broadcast_shapes(mixing.shape, friction.shape, np.shape(cone), u.shape)
    found = (speed, arriving, u**2 / 2 + mixing, friction, cone)
    return CollectorFlow(*(np.broadcast_to(value, shape) for value in found))
