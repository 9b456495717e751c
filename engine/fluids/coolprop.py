"""Pure fluids one state at a time, for fits and tables. Only this module uses CoolProp."""

from dataclasses import dataclass
from functools import lru_cache
from math import inf, nan
from typing import Any, Literal

from engine.physics.fluids.vapour import dilute_viscosity

Pair = Literal["pT", "ph", "ps", "pq"]
"""What defines a state together with its pressure: temperature, enthalpy, entropy or quality."""
_INPUTS = {
    "pT": "PT_INPUTS",
    "ph": "HmassP_INPUTS",
    "ps": "PSmass_INPUTS",
    "pq": "PQ_INPUTS",
}


@dataclass(frozen=True)
class Point:
    """One state."""

    pressure: float  # [Pa]
    temperature: float  # [K]
    enthalpy: float  # [J/kg]
    entropy: float  # [J/(kg K)]
    density: float  # [kg/m3]
    is_wet: bool
    viscosity: float  # [Pa s]; NaN in the wet region, inf for a liquid whose viscosity is unknown
    by_pressure: float = nan  # slope of density at constant enthalpy; NaN on and in the dome
    by_enthalpy: float = nan  # slope of density at constant pressure
    sound_speed: float = nan  # [m/s]


class RealFluid:
    """One pure fluid by its name in CoolProp; methods may raise ValueError, as CoolProp does."""

    def __init__(self, name: str) -> None:
        self._coolprop = _coolprop()
        self._state = self._coolprop.AbstractState("HEOS", name)
        state = self._state
        self.molar_mass: float = state.molar_mass()  # [kg/mol]
        self.gas_constant: float = state.gas_constant() / self.molar_mass  # [J/(kg K)]
        self.critical_temperature: float = state.T_critical()
        self.critical_pressure: float = state.p_critical()
        self.triple_pressure: float = self._coolprop.PropsSI("PTRIPLE", name)
        self.coldest: float = state.Tmin()
        self.hottest: float = state.Tmax()
        self.highest_pressure: float = state.pmax()
        self.for_corresponding_states: dict[str, float] = {
            "critical_temperature": self.critical_temperature,
            "critical_volume": 1 / state.rhomolar_critical(),
            "molar_mass": self.molar_mass,
            "acentric_factor": state.acentric_factor(),
        }

    def at(self, pair: Pair, pressure: float, other: float) -> Point:
        """State at a pressure [Pa] and one other property."""
        state, coolprop = self._state, self._coolprop
        first, second = (other, pressure) if pair == "ph" else (pressure, other)
        state.update(getattr(coolprop, _INPUTS[pair]), float(first), float(second))
        edge = pair == "pq" and other in (0, 1)
        is_wet = 0 <= state.Q() <= 1 and not edge
        slopes: tuple[float, ...] = ()
        if not is_wet and not edge:
            slopes = (
                state.first_partial_deriv(coolprop.iDmass, coolprop.iP, coolprop.iHmass),
                state.first_partial_deriv(coolprop.iDmass, coolprop.iHmass, coolprop.iP),
                state.speed_sound(),
            )
        viscosity = nan if is_wet else self._viscosity()
        return Point(
            state.p(), state.T(), state.hmass(), state.smass(), state.rhomass(), is_wet,
            viscosity, *slopes,
        )  # fmt: skip

    def thin_gas(self, temperature: float, *, pressure: float) -> tuple[float, float, float]:
        """Ideal heat capacity [J/(kg K)], second virial coefficient [m3/kg] and its slope."""
        self._state.update(self._coolprop.PT_INPUTS, pressure, temperature)
        virial, slope = self._state.Bvirial(), self._state.dBvirial_dT()
        return self._state.cp0mass(), virial / self.molar_mass, slope / self.molar_mass

    def saturation_pressure(self, temperature: float) -> float:
        """Pressure at which the fluid boils [Pa]."""
        self._state.update(self._coolprop.QT_INPUTS, 0.0, temperature)
        return float(self._state.p())

    def heat_capacity(self, pressure: float, temperature: float) -> float:
        """Heat capacity at constant pressure [J/(kg K)]."""
        self._state.update(self._coolprop.PT_INPUTS, pressure, temperature)
        return float(self._state.cpmass())

    def _viscosity(self) -> float:
        state = self._state
        try:
            return float(state.viscosity())
        except ValueError:  # no viscosity model, or outside its range
            if state.rhomolar() * self.for_corresponding_states["critical_volume"] > 1:
                return inf
        return float(dilute_viscosity(temperature=state.T(), **self.for_corresponding_states))


@lru_cache(maxsize=1)
def pure_fluids() -> tuple[str, ...]:
    """Names of all pure fluids in CoolProp."""
    coolprop = _coolprop()
    names = coolprop.get_global_param_string("FluidsList").split(",")
    pure = (n for n in names if coolprop.get_fluid_param_string(n, "pure") == "true")
    return tuple(sorted(pure, key=str.lower))


def _coolprop() -> Any:
    # Imported here because it takes most of a second to load.
    import CoolProp.CoolProp  # noqa: PLC0415

    return CoolProp.CoolProp
