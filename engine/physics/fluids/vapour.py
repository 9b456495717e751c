"""A real fluid, superheated or wet, read from a table made for one supply state."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from engine.physics.arrays import Array, Lanes, as_lanes
from engine.physics.compiled import entry
from engine.physics.fluids.fluid import FluidRecord, Kind
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.fluids.vapour_kernel import vapour_entropy


@dataclass(frozen=True, eq=False)
class VapourTable:
    """A fluid's table as Chebyshev series, made by `engine.fluids.vapour_table`.

    The series run in x, which is ln p mapped to -1 ... 1, and in the dry region also in y, from the
    dew line (-1) to the top of the table (1). So the kink at the dew line lies on an edge.
    """

    pressures: Lanes  # lowest and highest [Pa]
    top_enthalpy: Lanes  # one element [J/kg]
    along: Lanes  # along pressure: (Line, order of x)
    dry: Lanes  # over pressure and enthalpy: (Dry, order of y, order of x)
    expanding: Lanes  # over pressure and entropy: (Expanding, order of y, order of x)


@entry
def _read_entropy(record: FluidRecord, pressure: Lanes, enthalpy: Lanes, out: Lanes) -> None:
    for i in range(pressure.size):
        out[i] = vapour_entropy(record, pressure[i], enthalpy[i])


@dataclass(frozen=True, eq=False)
class Vapour(Fluid):
    """A pure fluid as vapour, or as vapour and droplets in equilibrium (homogeneous mixture).

    Below the dew line the mixture has the boiling temperature. Volume and entropy are the means of
    vapour and liquid by mass. The viscosity is 1 / mu = x / mu_vapour + (1 - x) / mu_liquid with
    the vapour share x (McAdams, Woods and Heroman 1942, Trans. ASME 64, 193-200, from memory), the
    speed of sound that of full equilibrium. Real droplets form late: a nozzle then passes up to 5 %
    more flow than calculated here (common practice, no source). Outside the table every property
    is NaN.
    """

    name: str
    table: VapourTable

    @cached_property
    def record(self) -> FluidRecord:
        """The fluid as the kernels read it, with the properties on the last axis."""
        table = self.table
        dry, expanding = (
            np.ascontiguousarray(np.moveaxis(rows, 0, -1)) for rows in (table.dry, table.expanding)
        )
        numbers = np.array([*np.log(table.pressures), *table.top_enthalpy])
        return FluidRecord(int(Kind.VAPOUR), numbers, np.array(table.along), dry, expanding)

    def entropy(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Entropy [J/(kg K)] at a pressure [Pa] and enthalpy [J/kg]."""
        (p, h), shape = as_lanes(pressure, enthalpy)
        found = np.empty_like(p)
        _read_entropy(self.record, p, h, found)
        return found.reshape(shape)


def dilute_viscosity(
    *,
    temperature: Array,
    critical_temperature: Array,
    critical_volume: Array,
    molar_mass: Array,
    acentric_factor: Array,
) -> Lanes:
    """Viscosity of a dilute vapour by corresponding states, for fluids without measured values.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    temperature, critical_temperature : Array
        Temperature [K] and that of the critical point [K].
    critical_volume : Array
        Molar volume at the critical point [m3/mol].
    molar_mass : Array
        Molar mass [kg/mol].
    acentric_factor : Array
        Pitzer's acentric factor [-].

    Returns
    -------
    Lanes
        Dynamic viscosity [Pa s], good to about 3 %, for strongly polar molecules 10 %.

    Notes
    -----
    40.785 F sqrt(M T) / (V^(2/3) W) micropoise with M in g/mol and V in cm3/mol, W the collision
    integral at 1.2593 T / T_c, F = 1 - 0.2756 times the acentric factor. The dipole term is left
    out.

    References
    ----------
    Chung, Ajlan, Lee and Starling 1988, Ind. Eng. Chem. Res. 27, 671-679; collision integral of
    Neufeld, Janzen and Aziz 1972 (both from memory).

    Examples
    --------
    Nitrogen at 300 K: 17.9 micropascal seconds.

    >>> value = dilute_viscosity(temperature=300.0, critical_temperature=126.2,
    ...     critical_volume=89.4e-6, molar_mass=0.028013, acentric_factor=0.037)
    >>> round(float(value) * 1e6, 1)
    17.8

    """
    reduced = 1.2593 * np.asarray(temperature) / critical_temperature
    integral = 1.16145 * reduced**-0.14874 + 0.52487 * np.exp(-0.77320 * reduced)
    integral = integral + 2.16178 * np.exp(-2.43787 * reduced)
    shape = 1 - 0.2756 * np.asarray(acentric_factor)
    root = np.sqrt(molar_mass * 1e3 * np.asarray(temperature))
    size = (np.asarray(critical_volume) * 1e6) ** (2 / 3)
    return np.asarray(40.785e-7 * shape * root / (size * integral))
