"""Properties of gases, vapours and liquids, as functions of pressure and enthalpy.

Three kinds answer the same questions (`fluid_kernel.Fluid`): `gas`, `vapour` and `liquid`. Their
numbers come from `engine.fluids`. What was decided, why, and the number it rests on:

- Gas. Heat capacity as a function of temperature, and the second virial coefficient. At 7 bar and
  room temperature density and choked flow are within 0.04 % of Lemmon et al. 2000; an ideal gas is
  0.3 and 0.4 % low. Departures are slopes with pressure at constant enthalpy, so a state takes no
  iteration.
- Vapours. A table is a set of Chebyshev series in ln p and enthalpy, not splines: 80 points hold
  steam to 5e-6 where a grid needs thousands. Dry and wet are read apart. The dry patch is
  stretched to begin on the dew line, so the kink there is an edge. Below it p v, 1 / viscosity and
  entropy are straight lines of enthalpy at constant pressure and need series of pressure alone.
  How a table is made and checked stands in `engine.fluids`.
- Speed of sound follows from the slopes of density (1 / a^2 along dh = dp / rho), wet or dry, and
  so agrees with the march by itself.
- Choking. The throat is where the flux along the isentrope is largest. For a vapour that is found
  by golden section (`vapour_kernel.vapour_critical_pressure`): the speed of sound jumps at the dew
  line, so "speed equals speed of sound" may have no root. A gas takes its isentropic exponent at
  the supply (`gas_kernel.gas_critical_pressures`).
- Droplets are in equilibrium with their vapour. Supersaturated steam passes a few per cent more
  through a nozzle; no relaxation is modelled.
"""
