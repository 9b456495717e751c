"""Runs that start a crack: an order of magnitude from two numbers of a tensile test."""

import numpy as np

from engine.physics.arrays import Array, Lanes, Mask

STEEL = (1.5, -0.087, 0.59, -0.58)
"""Uniform material law of steels: factor and exponent of the elastic, then the plastic line."""
LIGHT_ALLOY = (1.67, -0.095, 0.35, -0.69)
"""The same for alloys of aluminium and titanium."""
MOST_CYCLES = 1e7
"""Above it the law says nothing; it stands for all above [-]."""
NEWTON_STEPS = 8


def cycles_to_crack(
    *, peak_stress: Array, ultimate_strength: Array, youngs_modulus: Array, light_alloy: Mask | bool
) -> Lanes:
    """Cycles from no stress to a peak stress that start a crack.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    peak_stress : Array
        Highest stress at the notch, as elasticity gives it, also above yield [Pa], >= 0.
    ultimate_strength : Array
        Of the material at its temperature [Pa].
    youngs_modulus : Array
        Of the material at its temperature [Pa].
    light_alloy : Mask
        Whether it is an alloy of aluminium or titanium; else it is a steel.

    Returns
    -------
    Lanes
        Cycles [-], from 0.5 (it breaks at once) to `MOST_CYCLES`, which stands for more. NaN where
        a number is missing.

    Notes
    -----
    Smith, Watson and Topper's product of highest stress and strain amplitude is
    sf^2 (2N)^(2b) + sf ef E (2N)^(b + c). By Neuber's rule that product is the elastic one,
    peak^2/(2 E), also where the notch yields. The constants follow from ultimate strength and
    modulus by the uniform material law. Surface, corrosion and cut edges are not in it; a laser-cut
    edge costs much of the life. Good to an order of magnitude at best.

    References
    ----------
    Baeumel and Seeger, Materials Data for Cyclic Loading, Supplement 1, 1990 (uniform material
    law); Smith, Watson and Topper, J. Materials 5 (1970) 767; Neuber, J. Appl. Mech. 28 (1961) 544;
    all from memory.

    Examples
    --------
    >>> float(cycles_to_crack(peak_stress=600e6, ultimate_strength=600e6, youngs_modulus=200e9,
    ...                       light_alloy=False).round(-2))
    34200.0

    """
    law = [np.where(light_alloy, *pair) for pair in zip(LIGHT_ALLOY, STEEL, strict=True)]
    ratio = np.asarray(ultimate_strength) / youngs_modulus
    soft = np.where(light_alloy, 1.0, np.clip(1.375 - 125 * ratio, 0.0, 1.0))
    strength, modulus = law[0] * np.asarray(ultimate_strength), np.asarray(youngs_modulus)
    with np.errstate(divide="ignore", invalid="ignore"):
        wanted = np.log(np.square(peak_stress) / 2)
        lines = (
            (2 * np.log(strength), 2 * law[1]),
            (np.log(strength * law[2] * soft * modulus), law[1] + law[3]),
        )
        # The sum of both lines is convex in log 2N, so Newton's steps from the longer of the two
        # lives come from below and never pass the root.
        at = np.maximum(*((wanted - start) / slope for start, slope in lines))
        for _ in range(NEWTON_STEPS):
            terms = [start + slope * at for start, slope in lines]
            whole = np.logaddexp(*terms)
            falls = sum(
                slope * np.exp(term - whole) for term, (_, slope) in zip(terms, lines, strict=True)
            )
            at = at + (wanted - whole) / falls
        cycles = np.exp(np.minimum(at, np.log(2 * MOST_CYCLES))) / 2
    found = np.where(np.equal(peak_stress, 0), MOST_CYCLES, cycles)
    return np.maximum(found, 0.5)
