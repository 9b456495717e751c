"""A gas far from condensing, as one bundle of fitted numbers."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from engine.physics.arrays import Array, Lanes
from engine.physics.fluid import FluidState

NEWTON_STEPS = 5

Fit = tuple[float, ...]
"""Ascending powers of the reduced enthalpy z."""


_FITTED = ("temperature", "cooling", "crowding", "viscosity", "thickening", "entropy")
_TOGETHER = {
    "temperature": ("temperature", "cooling"),
    "heating": ("heating",),
    "density": ("temperature", "crowding"),
    "viscosity": ("viscosity", "thickening"),
    "entropy": ("temperature", "cooling", "crowding", "entropy"),
    "state": (
        "temperature", "heating", "crowding", "crowding_slope", "viscosity", "thickening",
    ),
}  # fmt: skip
"""Fits that are read together, in this order."""


@dataclass(frozen=True)
class Gas:
    """A gas whose heat capacity depends on temperature and that departs from the ideal a little.

    Every property is a polynomial of one reduced variable z = (h - h_mid) / h_half, -1 <= z <= 1
    over the fitted range, plus its first slope with pressure: a state given by pressure and
    enthalpy needs no iteration. The slopes are those of the second virial coefficient. Outside the
    fitted range every property is NaN.
    """

    name: str
    gas_constant: float
    """Specific gas constant [J/(kg K)]."""
    h_mid: float
    """Enthalpy at the middle of the fit [J/kg]."""
    h_half: float
    """Half of the fitted enthalpy span [J/kg]."""
    temperature_fit: Fit
    """Temperature of the thin gas [K]."""
    cooling_fit: Fit
    """Slope of temperature with pressure at constant enthalpy (Joule and Thomson) [K/Pa]."""
    crowding_fit: Fit
    """Slope of ln(density over that of the thin gas) with pressure at constant enthalpy [1/Pa]."""
    entropy_log: float
    """Heat capacity [J/(kg K)] whose logarithmic part of the entropy is taken exactly."""
    entropy_fit: Fit
    """Rest of the integral of cp dT / T [J/(kg K)]."""
    viscosity_fit: Fit
    """Dynamic viscosity of the thin gas [Pa s]."""
    thickening_fit: Fit
    """Slope of viscosity with pressure at constant enthalpy [s]."""

    def temperature(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Temperature [K] at a pressure [Pa] and enthalpy [J/kg]."""
        thin, cooling = self._values(enthalpy, "temperature")
        return np.asarray(thin + pressure * cooling)

    def density(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Density [kg/m3] at a pressure [Pa] and enthalpy [J/kg]."""
        thin, crowding = self._values(enthalpy, "density")
        return np.asarray(pressure / (self.gas_constant * thin) * (1 + pressure * crowding))

    def quality(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Share of vapour [-]: 1 wherever the gas is known."""
        return np.asarray(0 * self.temperature(pressure=pressure, enthalpy=enthalpy) + 1)

    def state(self, *, pressure: Array, enthalpy: Array) -> FluidState:
        """Density with its slopes, viscosity and speed of sound in one go."""
        thin, thin_slope, crowding, crowding_slope, viscosity, thickening = self._values(
            enthalpy, "state"
        )
        ideal = 1 / (self.gas_constant * thin)
        density = pressure * ideal * (1 + pressure * crowding)
        by_pressure = ideal * (1 + 2 * pressure * crowding)
        by_enthalpy = ideal * pressure**2 * crowding_slope - density * thin_slope / thin
        return FluidState(
            density=density,
            by_pressure=by_pressure,
            by_enthalpy=by_enthalpy,
            viscosity=viscosity + pressure * thickening,
            sound_speed=1 / np.sqrt(by_pressure + by_enthalpy / density),
        )

    def viscosity(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Dynamic viscosity [Pa s] at a pressure [Pa] and enthalpy [J/kg]."""
        thin, thickening = self._values(enthalpy, "viscosity")
        return np.asarray(thin + pressure * thickening)

    def sound_speed(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Speed of sound [m/s] at a pressure [Pa] and enthalpy [J/kg]."""
        return self.state(pressure=pressure, enthalpy=enthalpy).sound_speed

    def enthalpy(self, *, pressure: Array, temperature: Array) -> Lanes:
        """Enthalpy [J/kg] at a pressure [Pa] and temperature [K]."""
        guess = np.full(np.broadcast(pressure, temperature).shape, self.h_mid)
        for _ in range(NEWTON_STEPS):
            kept = self._kept(guess)
            slope = self._values(kept, "heating")[0]
            excess = self.temperature(pressure=pressure, enthalpy=kept) - temperature
            guess = kept - excess / slope
        return np.where(np.abs(self._reduced(guess)) <= 1, guess, np.nan)

    def isentropic_enthalpy(
        self, *, pressure: Array, enthalpy: Array, end_pressure: Array
    ) -> Lanes:
        """Enthalpy [J/kg] after an isentropic change from (pressure, enthalpy) to end_pressure."""
        ratio = np.asarray(end_pressure / pressure)
        start, temperature = self._entropy(pressure, enthalpy)
        target = start + self.gas_constant * np.log(ratio)
        cp = 1 / self._values(enthalpy, "heating")[0]
        end = enthalpy + cp * temperature * (ratio ** (self.gas_constant / cp) - 1)
        for _ in range(NEWTON_STEPS):
            kept = self._kept(end)
            found, temperature = self._entropy(end_pressure, kept)
            # dh = T ds at constant pressure, so this is Newton's rule.
            end = kept + temperature * (target - found)
        return np.where(np.abs(self._reduced(end)) <= 1, end, np.nan)

    def critical_pressure(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Throat pressure [Pa] at which flow from a stagnation state chokes.

        Taken with the isentropic exponent of the stagnation state; its small change towards the
        throat moves the choked mass flux only in second order, because the flux has its maximum
        there.
        """
        here = self.state(pressure=pressure, enthalpy=enthalpy)
        k = here.density * here.sound_speed**2 / pressure
        return np.asarray(pressure * (2 / (k + 1)) ** (k / (k - 1)))

    def _values(self, enthalpy: Array, wanted: str) -> Lanes:
        """Polynomials of the reduced enthalpy that `_TOGETHER` lists, one row each."""
        z, powers = self._reduced(enthalpy), self._powers[wanted]
        row = (-1,) + (1,) * z.ndim
        values = np.empty((powers.shape[1], *z.shape))
        values[:] = powers[-1].reshape(row)
        for coefficients in powers[-2::-1]:
            values *= z
            values += coefficients.reshape(row)
        return values

    @cached_property
    def _powers(self) -> dict[str, Lanes]:
        """Coefficients by power and property, for each set of `_TOGETHER`."""
        fits = {name: getattr(self, f"{name}_fit") for name in _FITTED}
        fits["heating"] = tuple(c / self.h_half for c in _slope(self.temperature_fit))
        fits["crowding_slope"] = tuple(c / self.h_half for c in _slope(self.crowding_fit))
        powers = {}
        for wanted, names in _TOGETHER.items():
            longest = max(len(fits[name]) for name in names)
            powers[wanted] = np.zeros((longest, len(names)))
            for column, name in enumerate(names):
                powers[wanted][: len(fits[name]), column] = fits[name]
        return powers

    def _entropy(self, pressure: Array, enthalpy: Array) -> tuple[Lanes, Lanes]:
        """Entropy without its R ln p [J/(kg K)], and temperature [K]."""
        thin, cooling, crowding, rest = self._values(enthalpy, "entropy")
        # Consistent with the slopes: (ds/dp) at constant enthalpy is -1 / (density T).
        departure = self.gas_constant * (crowding + cooling / thin)
        entropy = self.entropy_log * np.log(thin) + rest + pressure * departure
        return entropy, thin + pressure * cooling

    def _reduced(self, enthalpy: Array) -> Lanes:
        z = (np.asarray(enthalpy, dtype=float) - self.h_mid) / self.h_half
        return np.where(np.abs(z) <= 1, z, np.nan)

    def _kept(self, enthalpy: Lanes) -> Lanes:
        # Iterates may step just outside the fit on their way to a solution inside it.
        return np.clip(enthalpy, self.h_mid - self.h_half, self.h_mid + self.h_half)


def _slope(coefficients: Fit) -> Fit:
    return tuple(k * c for k, c in enumerate(coefficients))[1:]
