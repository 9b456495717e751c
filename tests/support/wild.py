"""Random builds for every kind of fluid, in plausible and in wild ranges."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.study.study import Study

Columns = dict[str, NDArray[Any]]

SUPPLIES: dict[str, dict[str, str]] = {
    "air": {"fluid": "air", "pressure": "6 bar gauge", "temperature": "20 degC"},
    "saturated steam": {"fluid": "steam", "pressure": "5 bar gauge", "quality": "1"},
    "wet steam": {"fluid": "steam", "pressure": "5 bar gauge", "quality": "0.9"},
    "superheated steam": {"fluid": "steam", "pressure": "5 bar gauge", "superheat": "60 K"},
    "R245fa": {
        "fluid": "R245fa",
        "pressure": "8 bar absolute",
        "superheat": "5 K",
        "back_pressure": "2 bar absolute",
    },
    "water": {"fluid": "water", "pressure": "0.5 bar gauge", "temperature": "12 degC"},
    "oil": {
        "fluid": "oil",
        "pressure": "8 bar gauge",
        "temperature": "60 degC",
        "oil_density": "870 kg/m3",
        "oil_viscosity_40": "10 mm2/s",
        "oil_viscosity_100": "2.7 mm2/s",
    },
}
JETS = {"air": 450.0, "R245fa": 200.0, "water": 10.0, "oil": 43.0}
"""About the speed of the jets [m/s]; 850 for steam."""


def study_on(supply: dict[str, str]) -> Study:
    """A study on a fluid, with ranges as wide as the builds of these tests."""
    machine = {"nozzle_width": "0.5 mm", "seal_clearance": "0.05 mm", "seal_throttles": 3}
    ranges = {
        "disc_count": {"min": 4, "max": 40},
        "disc_diameter": {"min": "80 mm", "max": "200 mm"},
        "gap": {"min": "0.1 mm", "max": "0.6 mm"},
        "inlet_angle": {"min": "5 deg", "max": "30 deg"},
        "exhaust_bore": {"min": "20 mm", "max": "100 mm"},
        "speed": {"min": "100 rpm", "max": "40000 rpm"},
    }
    return Study.model_validate(
        {"title": "another fluid", "supply": supply, "machine": machine, "ranges": ranges}
    )


def wild_builds(name: str, n_builds: int, seed: int, *, wild: bool) -> Columns:
    """Builds with speeds about that of the jets; in wild ranges nobody would build most of them."""
    random = np.random.default_rng(seed)

    def even(low: float, high: float) -> NDArray[Any]:
        """Even in the logarithm."""
        return np.exp(random.uniform(np.log(low), np.log(high), n_builds))

    diameter = even(0.03, 0.4) if wild else even(0.08, 0.2)
    bore = diameter * (random.uniform(0.15, 0.9, n_builds) if wild else random.uniform(0.2, 0.7))
    turning = even(0.03, 3.0) if wild else even(0.15, 1.5)
    angle = random.uniform(3, 60, n_builds) if wild else random.uniform(5, 30, n_builds)
    forms = ["convergent"] if name in ("water", "oil") else ["convergent", "convergent-divergent"]
    shaft = np.clip(bore / 2, 3e-3, 8e-3)
    return {
        "disc_count": np.round(even(2, 80) if wild else even(4, 40)),
        "disc_diameter": diameter,
        "gap": even(5e-5, 3e-3) if wild else even(1e-4, 6e-4),
        "inlet_angle": np.radians(angle),
        "exhaust_bore": bore,
        "speed": turning * JETS.get(name, 850.0) / (diameter / 2),
        "nozzle_width": even(1e-4, 8e-3) if wild else even(2e-4, 3e-3),
        "nozzle_count": random.integers(1, 9, n_builds) * 1.0,
        "nozzle_form": random.choice(forms, n_builds),
        "rim_clearance": even(1e-4, 3e-3) if wild else even(3e-4, 1e-3),
        "seal_clearance": even(1e-5, 4e-4) if wild else even(3e-5, 2e-4),
        "exhaust_blockage": random.uniform(0, 0.5, n_builds),
        "shaft_diameter": shaft,
        "bearing": np.select(
            [shaft >= 8e-3, shaft >= 6e-3, shaft >= 5e-3], ["608", "626", "625"], "623"
        ),
    }
