"""Properties of gases, vapours and liquids, as functions of pressure and enthalpy."""
