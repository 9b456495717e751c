"""How hard the stack must be clamped, and what the waves are if the clamp holds more or less."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from engine.catalogue import ASSEMBLY_TEMPERATURE, material_state
from engine.columns import Builds
from engine.model.strength import places_of, tables_of_webs, waves_of_builds
from engine.physics.machine.clamp import (
    LEAST_FRICTION,
    LEAST_NUT_FACTOR,
    USUAL_FRICTION,
    USUAL_NUT_FACTOR,
    clamp_force,
    pressed_radius,
    spoke_pull,
    thread_stress,
)
from engine.physics.machine.web_waves import Hold, forced_wave

SHAFT_SHARE = 0.6
"""Most tension in the shaft by its clamp, over yield strength; common practice, no source."""


@dataclass(frozen=True)
class Clamping:
    """Clamp of one build: forces [N], torques [N m], speeds [rad/s]."""

    torque: float
    """Most that the shaft carries."""
    pull: float
    """Of one spoke on its hub, at trip speed."""
    force: tuple[float, float]
    """At which friction holds the hubs at trip speed: degreased, and with a trace of oil."""
    usual: float
    """Force to clamp with: the larger of both, but no more than the shaft should carry."""
    nut_torque: tuple[float, float]
    """For that force: thread greased, and dry."""
    pressed: float
    """Radius to which the nut presses [m]."""
    wave_of_web: float
    """Lowest speed at which a wave stands still where spacers grip the web whole."""
    wave_of_hub: float
    """The same where they hold the hub alone."""


def clamping(
    values: Mapping[str, float | str], *, torque: float, clamp_thickness: float
) -> Clamping:
    """Clamp of a build with its results, its thread as wide as the shaft."""
    build: Builds = {key: np.array([value]) for key, value in values.items()}
    sheet = material_state(build["material"], build["disc_temperature"])
    shaft = material_state(build["shaft_material"], ASSEMBLY_TEMPERATURE)
    places, diameter = places_of(build), float(values["shaft_diameter"])
    pull = spoke_pull(
        places=places,
        r_outer=build["disc_diameter"] / 2,
        thickness=build["disc_thickness"],
        density=sheet.density,
        speed=build["trip_factor"] * build["speed"],
        tables=tables_of_webs(),
    ).item()
    degreased, most = (
        clamp_force(
            pull=pull,
            spokes=build["spokes"],
            torque=torque,
            hub_radius=places.web.hub_radius,
            friction=friction,
        ).item()
        for friction in (USUAL_FRICTION, LEAST_FRICTION)
    )
    carried = (
        SHAFT_SHARE * shaft.yield_strength.item() / thread_stress(force=1.0, diameter=diameter)
    )
    clamp = min(most, float(carried))
    return Clamping(
        torque=torque,
        pull=pull,
        force=(degreased, most),
        usual=clamp,
        nut_torque=(LEAST_NUT_FACTOR * clamp * diameter, USUAL_NUT_FACTOR * clamp * diameter),
        pressed=float(pressed_radius(diameter=diameter, thickness=clamp_thickness)),
        wave_of_web=_lowest(build, "web"),
        wave_of_hub=_lowest(build, "hub"),
    )


def _lowest(build: Builds, hold: Hold) -> float:
    speeds = waves_of_builds(build, hold=hold).speed
    return forced_wave(speed=speeds, nozzle_count=1.0).any_speed.item()
