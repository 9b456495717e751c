"""What the flow meets in a build, put together from its dimensions apart from the model."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.model.circuit import NOZZLE_COEFFICIENTS, UNCHANGED
from engine.model.shaft_layout import collar_radius
from engine.physics.flow.match import Circuit
from engine.physics.flow.nozzle import nozzle_from_supply
from engine.physics.machine.web import web_shape
from engine.study.study import Study
from engine.study.supply import source_of

Columns = dict[str, NDArray[Any]]


def circuit_by_hand(study: Study, lanes: Columns) -> Circuit:
    """Circuit of some builds of a study that states the coefficients of its nozzles."""
    n_lanes = len(lanes["speed"])
    every: dict[str, Any] = {**study.fixed(), **lanes}
    source, supply = source_of(study.supply), study.supply

    def full(value: Any) -> NDArray[np.float64]:
        return np.broadcast_to(np.asarray(value, dtype=float), (n_lanes,))

    def of(key: str) -> NDArray[np.float64]:
        return full(every[key])

    height = of("disc_count") * of("disc_thickness") + (of("disc_count") - 1) * of("gap")
    widens = np.broadcast_to(every["nozzle_form"], (n_lanes,)) == "convergent-divergent"
    annulus = np.pi / 4 * (of("exhaust_bore") ** 2 - of("shaft_diameter") ** 2)
    return Circuit(
        nozzle=nozzle_from_supply(
            fluid=source.fluid,
            pressure=full(supply.pressure),
            enthalpy=full(source.enthalpy),
            area_ratio=np.where(widens, of("nozzle_area_ratio"), 1.0),
        ),
        throat_area=of("nozzle_count") * of("nozzle_width") * height,
        exhaust_area=of("exhaust_ends") * annulus * (1 - of("exhaust_blockage")),
        rim_radius=of("disc_diameter") / 2,
        hub_radius=web_shape(
            shaft_radius=of("shaft_diameter") / 2,
            bore_radius=of("exhaust_bore") / 2,
            blockage=of("exhaust_blockage"),
            spokes=of("spokes"),
        ).hub_radius,
        bore_radius=of("exhaust_bore") / 2,
        seal_radius=collar_radius(of("exhaust_bore")),
        stack_height=height,
        gap_count=of("disc_count") - 1,
        angular_speed=of("speed"),
        back_pressure=full(supply.back_pressure),
        seal_count=of("exhaust_ends"),
        **{key: of(key) for key in (*NOZZLE_COEFFICIENTS, *UNCHANGED)},
    )
