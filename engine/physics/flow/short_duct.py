"""Discharge and velocity coefficients of nozzles whose throat is a short parallel duct.

The duct loses by its entry and by friction on its walls. Both are one loss coefficient, over the
dynamic pressure in the duct. A liquid loses that much speed; a choked gas follows the Fanno line.
Behind the throat of a convergent-divergent nozzle the walls rub on, along the Fanno line of an area
that grows.
"""

import numpy as np

from engine.physics.arrays import Array, Lanes, ValidRange

DUCT_RANGE = ValidRange(
    "ISO 5167-3 and ISO 9300 at the low end, drawn tubes at the high one",
    {"reynolds": (1e3, 3e6), "land_ratio": (0.0, 200.0)},
)
"""Reynolds number of the throat, by its hydraulic diameter; parallel length over width."""
SHARP_RANGE = ValidRange("Idelchik 1994, diagram 4-18, from memory", {"land_ratio": (2.0, np.inf)})
"""Shorter behind a sharp entry, the jet does not fill the duct again."""
SHARP_ENTRY = 0.5
"""Loss of a sharp-edged entry from a large room (Idelchik 1994, diagram 3-1, from memory)."""
ROUNDED_ENTRY = 0.0075
"""Loss of a rounded entry beside its friction: what keeps both ISO laws below 1 at any Reynolds
number (0.9965 in ISO 5167-3 for long-radius nozzles, 0.9959 in ISO 9300 for toroidal ones)."""
ENTRY_LENGTH = 0.3
"""Length of duct, over hydraulic diameter, whose friction is that of a rounded entry: with the 0.6
of a long-radius nozzle's throat it gives that nozzle's coefficient (ISO 5167-3)."""
INCOMPRESSIBLE = 10.0
"""Isentropic exponent from which a fluid counts as a liquid; gases and vapours are below 1.7."""
NEWTON_STEPS = 6
DIVERGENCE = float(np.radians(5.0))
"""Angle between the walls behind the throat of a convergent-divergent nozzle, as it is drawn
[rad]; common practice, no source."""
_PLACES, _WEIGHTS = (each / 2 for each in np.polynomial.legendre.leggauss(4))


def duct_loss(
    *, land_ratio: Array, width: Array, height: Array, reynolds: Array, sharp_entry: Array
) -> Lanes:
    """Loss of a parallel slot with its entry, over the dynamic pressure in it.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    land_ratio : Array
        Length of the parallel part over its width [-].
    width, height : Array
        Sides of the slot [m].
    reynolds : Array
        Reynolds number of the slot by its hydraulic diameter [-]; see `DUCT_RANGE`.
    sharp_entry : Array
        1 where the entry is sharp-edged, 0 where it is rounded by half a width or more [-].

    Returns
    -------
    Lanes
        Loss coefficient [-]; NaN where an argument is.

    Notes
    -----
    Friction is the larger of two laws: that of a laminar boundary layer that grows from the entry
    and fills the duct, and that of developed turbulent flow. They cross where the length Reynolds
    number is some 4e5 in a short duct, and at a Reynolds number of 2,000 in a long one.

    References
    ----------
    Laminar, between parallel plates: Shah and London, Laminar Flow Forced Convection in Ducts, 1978
    (from memory). Its short end, 13.76 sqrt(L / (D Re)), is the displacement of Blasius's boundary
    layer. Turbulent: Blasius 1913. Entry: see `SHARP_ENTRY`, `ROUNDED_ENTRY` and `ENTRY_LENGTH`.

    Examples
    --------
    >>> slot = {"width": 0.3e-3, "height": 15e-3, "reynolds": 5e4}
    >>> round(float(duct_loss(land_ratio=2.0, sharp_entry=0.0, **slot)), 3)
    0.078

    """
    ratio, w, h, re, sharp = np.broadcast_arrays(
        *(np.asarray(v, dtype=float) for v in (land_ratio, width, height, reynolds, sharp_entry))
    )
    diameter = 2 * w * h / (w + h)
    length = ratio * w / diameter + np.where(sharp > 0, 0.0, ENTRY_LENGTH)
    place = np.maximum(length / re, 1e-12)
    early = 3.44 / np.sqrt(place)
    friction = early + (24 + 0.674 / (4 * place) - early) / (1 + 0.000029 / place**2)
    laminar = 4 * friction * place
    turbulent = 0.3164 * re**-0.25 * length
    entry = np.where(sharp > 0, SHARP_ENTRY, ROUNDED_ENTRY)
    return np.asarray(entry + np.maximum(laminar, turbulent))


def fanno_length(*, mach: Array, exponent: Array) -> Lanes:
    """Friction length of a duct at whose end a perfect gas reaches the speed of sound.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    mach : Array
        Mach number at the entry [-], above 0 and up to 1.
    exponent : Array
        Isentropic exponent [-], above 1.

    Returns
    -------
    Lanes
        Friction factor (Darcy) times length over diameter [-].

    References
    ----------
    Fanno flow: Shapiro, The Dynamics and Thermodynamics of Compressible Fluid Flow, vol. 1, 1953,
    eq. 6.21.

    Examples
    --------
    >>> round(float(fanno_length(mach=0.5, exponent=1.4)), 4)
    1.0691

    """
    m2, k = np.asarray(mach, dtype=float) ** 2, np.asarray(exponent, dtype=float)
    ratio = (k + 1) * m2 / (2 + (k - 1) * m2)
    return np.asarray((1 - m2) / (k * m2) + (k + 1) / (2 * k) * np.log(ratio))


def choked_share(*, loss: Array, exponent: Array) -> Lanes:
    """Choked flow of a duct with friction over that of a nozzle without, by the Fanno line.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    loss : Array
        Loss coefficient of the duct with its entry [-], 0 or more.
    exponent : Array
        Isentropic exponent [-], above 1.

    Returns
    -------
    Lanes
        Share [-], 1 without loss; NaN where an argument is.

    Notes
    -----
    Newton's method for the Mach number at the entry, on the root of the friction length over the
    inverse of that Mach number: the two are nearly proportional.

    References
    ----------
    As `fanno_length`; area relation of NACA Report 1135, 1953, eq. 80.

    Examples
    --------
    >>> round(float(choked_share(loss=1.0691, exponent=1.4)), 4)
    0.7464

    """
    loss, k = np.broadcast_arrays(np.asarray(loss, dtype=float), np.asarray(exponent, dtype=float))
    wanted = np.sqrt(np.maximum(loss, 1e-12))
    inverse = 1 + np.sqrt(k * (k + 1)) * wanted / 2
    for _ in range(NEWTON_STEPS):
        mach = 1 / inverse
        here = np.sqrt(np.maximum(fanno_length(mach=mach, exponent=k), 1e-24))
        rise = (1 - mach**2) / (k * mach * (1 + (k - 1) / 2 * mach**2)) / here
        inverse = np.maximum(inverse - (here - wanted) / rise, 1 + 1e-9)
    mach = 1 / inverse
    cooling = 2 / (k + 1) * (1 + (k - 1) / 2 * mach**2)
    return np.asarray(mach * cooling ** (-(k + 1) / (2 * (k - 1))))


def duct_coefficients(
    *, loss: Array, exponent: Array, mach: Array, thrust_ratio: Array
) -> tuple[Lanes, Lanes]:
    """Discharge and velocity coefficients of a nozzle that ends in a short duct.

    All arguments broadcast; the results have their common shape.

    Parameters
    ----------
    loss : Array
        Loss coefficient of the duct with its entry [-].
    exponent : Array
        Isentropic exponent at the throat [-]; above `INCOMPRESSIBLE` the fluid is a liquid.
    mach : Array
        Mach number of an isentropic expansion at the throat [-], 1 where it chokes.
    thrust_ratio : Array
        Pressure behind the nozzle times exit area, over ideal choked flow times ideal jet speed
        [-]; counts where the throat chokes.

    Returns
    -------
    tuple[Lanes, Lanes]
        Real over isentropic flow, and real over isentropic jet speed [-].

    Notes
    -----
    A liquid keeps 1 / sqrt(1 + loss) of flow and speed. Friction takes flow from a choked duct, but
    the jet still leaves it at the speed of sound; its speed follows from the stream thrust, as in
    `nozzle.jet_from_nozzle`, whose exit pressure falls with the flow. Between the two, the square
    of the Mach number is the weight: both are then within 1 % of those along the
    Fanno line where the loss is below 0.2, within 2 % below 0.7.
    Friction in the divergent part is that of `divergent_velocity`.

    References
    ----------
    Shapiro 1953, ch. 6; the stream thrust and the weight are derived here.

    """
    loss, k, mach, thrust = np.broadcast_arrays(
        *(np.asarray(v, dtype=float) for v in (loss, exponent, mach, thrust_ratio))
    )
    slow = 1 / np.sqrt(1 + loss)
    liquid = k >= INCOMPRESSIBLE
    gas = np.where(liquid, 1.4, np.maximum(k, 1.01))
    fast = choked_share(loss=loss, exponent=gas)
    weight = np.where(liquid, 0.0, np.clip(mach, 0.0, 1.0) ** 2)
    behind = np.where(mach < 1, 1 / gas, thrust)
    jet = np.clip(1 - behind * (1 / fast - 1), slow, 1.0)
    return (
        np.asarray(weight * fast + (1 - weight) * slow),
        np.asarray(weight * jet + (1 - weight) * slow),
    )


def divergent_velocity(
    *,
    area_ratio: Array,
    width: Array,
    height: Array,
    reynolds: Array,
    exponent: Array,
    thrust_ratio: Array,
) -> Lanes:
    """Speed of the jet of a choked gas with friction behind the throat, over that without.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    area_ratio : Array
        Exit over throat area [-], 1 or more; 1 is a convergent nozzle.
    width, height : Array
        Sides of the throat [m]; the width grows by `DIVERGENCE`.
    reynolds : Array
        Reynolds number of the throat by its hydraulic diameter [-].
    exponent : Array
        Isentropic exponent at the throat [-]; above `INCOMPRESSIBLE` the fluid is a liquid, which
        is not choked.
    thrust_ratio : Array
        Pressure at the exit times exit area, over flow times jet speed, without friction [-].

    Returns
    -------
    Lanes
        Share [-], 1 for a convergent nozzle and for a liquid; NaN where an argument is.

    Notes
    -----
    Friction takes stagnation pressure, k M^2 / 2 of it for each friction length, wherever the area
    goes. At the exit, with area and flow as they are, that takes the same share of pressure times
    area from the stream thrust, as on a Fanno line there; the jet's speed follows from the thrust.
    To first order: Mach numbers are those without friction. Against the equations integrated, a
    loss of speed of 0.5 to 3.5 % is 1 to 6 % of itself too large.

    References
    ----------
    Shapiro 1953, vol. 1, ch. 8 (influence coefficients); area relation of NACA Report 1135, 1953,
    eq. 80; friction: Blasius 1913 and, in a slot, Poiseuille. The rest is derived here.

    Examples
    --------
    >>> slot = {"width": 0.3e-3, "height": 15e-3, "reynolds": 5e4}
    >>> share = divergent_velocity(area_ratio=1.3, exponent=1.4, thrust_ratio=0.3, **slot)
    >>> round(float(share), 3)
    0.986

    """
    ratio, w, h, re, k, thrust = np.broadcast_arrays(
        *(
            np.asarray(v, dtype=float)
            for v in (area_ratio, width, height, reynolds, exponent, thrust_ratio)
        )
    )
    gas = np.where(k >= INCOMPRESSIBLE, 1.4, np.maximum(k, 1.01))
    friction = np.maximum(0.3164 * re**-0.25, 96 / re)
    lost = np.zeros(ratio.shape)
    for place, weight in zip(_PLACES + 0.5, _WEIGHTS, strict=True):
        # Evenly in the root of the area, as is the Mach number behind a throat.
        area = 1 + (ratio - 1) * place**2
        wide = area * w
        slope = 2 * place * (ratio - 1) * w / np.tan(DIVERGENCE)
        rubbed = friction * slope * (wide + h) / (2 * wide * h)
        lost = lost + weight * rubbed * gas * _supersonic(area, gas) ** 2 / 2
    share = 1 - np.minimum(lost, 1.0) * thrust
    return np.asarray(np.where(k >= INCOMPRESSIBLE, 1.0 + 0 * thrust, share))


def _supersonic(area: Lanes, exponent: Lanes) -> Lanes:
    """Mach number behind a throat at an area over that of the throat, by Newton's method."""
    power = (exponent + 1) / (2 * (exponent - 1))
    mach = 1 + np.sqrt((area - 1) * (exponent + 1) / 2)
    for _ in range(NEWTON_STEPS):
        heat = 1 + (exponent - 1) / 2 * mach**2
        log = power * np.log(2 / (exponent + 1) * heat) - np.log(mach)
        slope = (mach**2 - 1) / (mach * heat)
        mach = np.maximum(mach - (log - np.log(area)) / np.maximum(slope, 1e-12), 1 + 1e-9)
    return mach
