"""How unevenly the gaps of a tall stack share the flow, because the exhaust gathers it."""

import numpy as np

from engine.physics.arrays import Array, Lanes

MOMENTUM = (2.0, 2.66)
"""Momentum that the gathering stream needs, over half of density times speed squared: of an even
stream that fluid joins without speed along it, and as measured in headers that gather (Bajura and
Jones 1976, from memory)."""
FRICTION = (0.02, 0.05)
"""Darcy's factor of smooth walls and of walls made of disc edges and gaps (Moody 1944, relative
roughness 0 and 2 %, from memory)."""
MOST_UNEVEN = 10.0
"""Given where a gap passes more against a higher pressure, or the number would be beyond it."""


def uneven_flow(
    *,
    dynamic_pressure: Array,
    stiffness: Array,
    length_ratio: Array,
    momentum: Array,
    friction: Array,
) -> Lanes:
    """Flow of the gap nearest an outlet less that of the gap farthest from one, over the mean.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    dynamic_pressure : Array
        Half of density times the square of the axial speed at the outlet [Pa].
    stiffness : Array
        Pressure by which that behind a gap must fall for each e-fold of more flow [Pa].
    length_ratio : Array
        Length along which the flow joins towards one outlet, over hydraulic diameter [-].
    momentum : Array
        Factor on the momentum of the gathering stream [-], see `MOMENTUM`.
    friction : Array
        Darcy's friction factor [-].

    Returns
    -------
    Lanes
        Share [-], at most `MOST_UNEVEN`; NaN where an argument is.

    Notes
    -----
    Along the axis z of a gathering stream of speed V, p' = -rho (momentum V V' + friction V^2 /
    (2 D)). The fall of pressure over its length is the dynamic pressure times momentum + friction
    length / (3 D), the third because the speed grows from 0. It does not depend on how unevenly the
    flow joins, but for friction, which is small. Gaps follow in proportion to that pressure, so the
    number is a guide where it is above a half. Pressure around the rim is even: nozzles are as high
    as the stack. The spokes turn the fluid at each height alike.

    References
    ----------
    Bajura and Jones, J. Fluids Eng. 98, 1976, 654-665 (from memory).

    Examples
    --------
    >>> round(float(uneven_flow(dynamic_pressure=500.0, stiffness=20e3, length_ratio=1.0,
    ...                         momentum=2.0, friction=0.03)), 5)
    0.05025

    """
    head, stiff, ratio, turn, rub = (
        np.asarray(each, dtype=float)
        for each in (dynamic_pressure, stiffness, length_ratio, momentum, friction)
    )
    fall = head * (turn + rub * ratio / 3)
    share = np.minimum(fall / np.where(stiff > 0, stiff, 1.0), MOST_UNEVEN)
    return np.asarray(np.where(stiff <= 0, MOST_UNEVEN + 0 * fall, share + 0 * stiff))
