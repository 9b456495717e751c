"""Working fluids as frozen bundles of fitted numbers: arrays of states in, arrays out."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes

NEWTON_STEPS = 5


@dataclass(frozen=True)
class FluidState:
    """What a marching flow needs at one state."""

    density: Lanes  # [kg/m3]
    by_pressure: Lanes  # slope of density with pressure [s2/m2]
    by_enthalpy: Lanes  # slope of density with enthalpy [kg2/(m3 J)]
    viscosity: Lanes  # dynamic [Pa s]
    sound_speed: Lanes  # [m/s]


@dataclass(frozen=True)
class IdealGas:
    """An ideal gas whose heat capacity depends on temperature.

    Temperature, entropy function and viscosity are polynomials of one reduced variable
    z = (h - h_mid) / h_half, -1 <= z <= 1 over the fitted range, so that a state given by pressure
    and enthalpy needs no iteration. Outside the fitted range every property is NaN.
    """

    name: str
    gas_constant: float
    """Specific gas constant [J/(kg K)]."""
    h_mid: float
    """Enthalpy at the middle of the fit [J/kg]."""
    h_half: float
    """Half of the fitted enthalpy span [J/kg]."""
    temperature_fit: tuple[float, ...]
    """Temperature [K] in ascending powers of z."""
    entropy_log: float
    """Heat capacity [J/(kg K)] whose logarithmic part of the entropy is taken exactly."""
    entropy_fit: tuple[float, ...]
    """Rest of the integral of cp dT / T [J/(kg K)], in ascending powers of z."""
    viscosity_fit: tuple[float, ...]
    """Dynamic viscosity [Pa s] in ascending powers of z."""

    def temperature(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Temperature [K] at a pressure [Pa] and enthalpy [J/kg]."""
        return np.asarray(self._temperature(enthalpy) + 0 * np.asarray(pressure))

    def density(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Density [kg/m3] at a pressure [Pa] and enthalpy [J/kg]."""
        return np.asarray(pressure / (self.gas_constant * self._temperature(enthalpy)))

    def state(self, *, pressure: Array, enthalpy: Array) -> FluidState:
        """Density with its slopes, viscosity and speed of sound in one go."""
        z = self._reduced(enthalpy)
        temperature = _polynomial(self.temperature_fit, z)
        cp = self.h_half / _polynomial(_slope(self.temperature_fit), z)
        by_pressure = 1 / (self.gas_constant * temperature)
        density = by_pressure * pressure
        return FluidState(
            density=density,
            by_pressure=by_pressure,
            by_enthalpy=-density / (cp * temperature),
            viscosity=_polynomial(self.viscosity_fit, z),
            sound_speed=np.sqrt(cp / ((cp - self.gas_constant) * by_pressure)),
        )

    def viscosity(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Dynamic viscosity [Pa s] at a pressure [Pa] and enthalpy [J/kg]."""
        value = _polynomial(self.viscosity_fit, self._reduced(enthalpy))
        return np.asarray(value + 0 * np.asarray(pressure))

    def sound_speed(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Speed of sound [m/s] at a pressure [Pa] and enthalpy [J/kg]."""
        square = self._heat_ratio(enthalpy) * self.gas_constant * self._temperature(enthalpy)
        return np.asarray(np.sqrt(square) + 0 * np.asarray(pressure))

    def enthalpy(self, *, pressure: Array, temperature: Array) -> Lanes:
        """Enthalpy [J/kg] at a pressure [Pa] and temperature [K]."""
        guess = np.full(np.broadcast(pressure, temperature).shape, self.h_mid)
        for _ in range(NEWTON_STEPS):
            kept = self._kept(guess)
            guess = kept - (self._temperature(kept) - temperature) * self._heat_capacity(kept)
        return np.where(np.abs(self._reduced(guess)) <= 1, guess, np.nan)

    def isentropic_enthalpy(
        self, *, pressure: Array, enthalpy: Array, end_pressure: Array
    ) -> Lanes:
        """Enthalpy [J/kg] after an isentropic change from (pressure, enthalpy) to end_pressure."""
        ratio = np.asarray(end_pressure / pressure)
        target = self._entropy_function(enthalpy) + self.gas_constant * np.log(ratio)
        temperature = self._temperature(enthalpy)
        cp = self._heat_capacity(enthalpy)
        end = enthalpy + cp * temperature * (ratio ** (self.gas_constant / cp) - 1)
        for _ in range(NEWTON_STEPS):
            kept = self._kept(end)
            # dh = T ds at constant pressure, so this is Newton's rule.
            end = kept + self._temperature(kept) * (target - self._entropy_function(kept))
        return np.where(np.abs(self._reduced(end)) <= 1, end, np.nan)

    def critical_pressure(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Throat pressure [Pa] at which flow from a stagnation state chokes.

        Taken with the heat ratio of the stagnation state; its small change towards the throat moves
        the choked mass flux only in second order, because the flux has its maximum there.
        """
        k = self._heat_ratio(enthalpy)
        return np.asarray(pressure * (2 / (k + 1)) ** (k / (k - 1)))

    def _temperature(self, enthalpy: Array) -> Lanes:
        return _polynomial(self.temperature_fit, self._reduced(enthalpy))

    def _heat_capacity(self, enthalpy: Array) -> Lanes:
        return self.h_half / _polynomial(_slope(self.temperature_fit), self._reduced(enthalpy))

    def _heat_ratio(self, enthalpy: Array) -> Lanes:
        cp = self._heat_capacity(enthalpy)
        return cp / (cp - self.gas_constant)

    def _reduced(self, enthalpy: Array) -> Lanes:
        z = (np.asarray(enthalpy, dtype=float) - self.h_mid) / self.h_half
        return np.where(np.abs(z) <= 1, z, np.nan)

    def _kept(self, enthalpy: Lanes) -> Lanes:
        # Iterates may step just outside the fit on their way to a solution inside it.
        return np.clip(enthalpy, self.h_mid - self.h_half, self.h_mid + self.h_half)

    def _entropy_function(self, enthalpy: Array) -> Lanes:
        rest = _polynomial(self.entropy_fit, self._reduced(enthalpy))
        return self.entropy_log * np.log(self._temperature(enthalpy)) + rest


def _slope(coefficients: tuple[float, ...]) -> tuple[float, ...]:
    return tuple(k * c for k, c in enumerate(coefficients))[1:]


def _polynomial(coefficients: tuple[float, ...], z: Lanes) -> Lanes:
    result = np.full_like(z, coefficients[-1])
    for coefficient in reversed(coefficients[:-1]):
        result = result * z + coefficient
    return np.asarray(result)
