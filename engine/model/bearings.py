"""What the bearings bear, how warm they run, how much they brake and how long they last."""

from dataclasses import dataclass

import numpy as np

from engine.catalogue import (
    ASSEMBLY_TEMPERATURE,
    BearingValues,
    bearing_seals,
    bearing_values,
    of_names,
)
from engine.columns import Builds, Results
from engine.model.shaft import GRAVITY, RotorLine
from engine.physics.arrays import Array, Lanes, is_repeated
from engine.physics.machine.bearing import (
    bearing_limit_speed,
    bearing_torque,
    friction_load,
    lip_torque,
    load_factor,
    static_load,
)
from engine.physics.machine.bearing_heat import (
    grease_viscosity,
    running_temperature,
    seat_conductance,
)
from engine.physics.machine.bearing_load import (
    LEAST_SHARE,
    belt_load,
    equivalent_load,
    rating_life,
)

ROOM = ASSEMBLY_TEMPERATURE
"""Temperature of the workshop [K]."""
CARRIER_SHARE = 0.5
"""How far a bearing's carrier follows the exhaust around it, the rest the workshop; estimate."""


@dataclass(frozen=True)
class Running:
    """Both bearings as they run, that at the free end first; (2, lane) but for the lips."""

    radial: Lanes
    """Weight, permissible unbalance and belt [N]."""
    axial: Lanes
    """Preload, and at the free end the thrust [N]."""
    light: Lanes
    """Weight alone [N]."""
    temperature: Lanes
    """[K]"""
    viscosity: Lanes
    """[m2/s]"""
    grease: Lanes
    """Drag of balls and grease [N m]."""
    lips: Lanes
    """Drag of the lips of one bearing, (lane,) [N m]."""

    @property
    def drag(self) -> Lanes:
        """Drag of both bearings with their lips [N m]."""
        return np.asarray(self.grease.sum(axis=0) + 2 * self.lips)


def run_bearings(
    build: Builds,
    line: RotorLine,
    *,
    shaft_temperature: Array,
    thrust: Array = 0.0,
    torque: Array = 0.0,
    sideways: Array = 0.0,
) -> Running:
    """Follow load, warmth and drag of both bearings.

    `shaft_temperature` [K] is that of the exhaust around shaft and carriers, `thrust` [N] loads the
    bearing at the free end, and a belt carries `torque` [N m] where there is one. `sideways` [N] is
    a force of the fluid across the stack, half of it on each bearing.
    """
    row = _values(build)
    weight, radial, axial = _loads(build, line, thrust=thrust, torque=torque)
    radial = radial + np.abs(sideways) / 2
    lips = np.asarray(build["bearing_seal_factor"] * _lips(build, row))
    load = static_load(radial=radial, axial=axial)
    loaded = {
        "load_factor": load_factor(load=load, static_rating=row.static_rating),
        "load": friction_load(radial=radial, axial=axial),
    }
    rolling = _drag(build, row, viscosity=0.0, **loaded) - _drag(build, row, viscosity=0.0)
    inner, outer = (
        seat_conductance(seat_diameter=size, width=row.width)
        for size in (row.bore, row.outside_diameter)
    )
    carrier = CARRIER_SHARE * shaft_temperature + (1 - CARRIER_SHARE) * ROOM
    cooled = build["bearing_cooling"] * (inner + outer)
    rest = (inner * shaft_temperature + outer * carrier) / (inner + outer)
    # Grease is as warm as the laws of its drag say: `bearing_factor` then scales drag as it stands.
    warm = running_temperature(
        rest_temperature=rest,
        conductance=cooled,
        speed=build["speed"],
        mean_diameter=row.mean_diameter,
        lubrication_factor=row.lubrication_grease,
        viscosity_40=build["grease_viscosity"],
        steady_torque=rolling + lips,
    )
    stated = np.asarray(build["bearing_viscosity"], dtype=float)
    viscosity = np.where(
        np.isnan(stated),
        grease_viscosity(viscosity_40=build["grease_viscosity"], temperature=warm),
        stated,
    )
    law = _drag(build, row, viscosity=viscosity, **loaded)
    grease = np.asarray(build["bearing_factor"] * law)
    return Running(
        radial=radial,
        axial=axial,
        light=weight,
        temperature=np.asarray(rest + build["speed"] * (grease + lips) / cooled),
        viscosity=viscosity,
        grease=grease,
        lips=lips,
    )


def bearing_results(build: Builds, running: Running) -> Results:
    """Load, life and warmth of the bearings, by column key."""
    row = _values(build)
    balls = {"ball_count": row.ball_count, "ball_diameter": row.ball_diameter}
    loads, light = (
        np.asarray(equivalent_load(radial=radial, axial=running.axial, **balls))
        for radial in (running.radial, running.light)
    )
    load = loads.max(axis=0)
    life = rating_life(dynamic_rating=row.dynamic_rating, load=load, speed=build["speed"])
    return {
        "bearing_load": load,
        "bearing_life": np.asarray(life),
        "least_load_ratio": light.min(axis=0) / (LEAST_SHARE * row.dynamic_rating),
        "bearing_temperature": running.temperature.max(axis=0),
        "grease_running": running.viscosity.max(axis=0),
    }


def _values(build: Builds) -> BearingValues:
    """Give the values of each lane's bearing; one of each where all have the same."""
    names = build["bearing"]
    return bearing_values(names[:1] if is_repeated(names) else names)


def limit_speed(build: Builds) -> Lanes:
    """Speed limit of the bearings, by what closes them [rad/s]."""
    limits = {key: row.speed_limit for key, row in bearing_seals().items()}
    return np.asarray(
        bearing_limit_speed(
            speed_limit=of_names(build["bearing_seal"], limits),
            mean_diameter=bearing_values(build["bearing"]).mean_diameter,
        )
    )


def _loads(
    build: Builds, line: RotorLine, *, thrust: Array, torque: Array
) -> tuple[Lanes, Lanes, Lanes]:
    """Weight, radial and axial load of both bearings [N]; radial loads add up at their worst."""
    mass, share = line.total, np.abs(line.shares)
    weight = GRAVITY * mass * share
    unbalance = build["balance_grade"] * mass * build["speed"] * share
    layout = line.layout
    lever = layout.overhang / layout.span
    belt = belt_load(torque=torque, pulley=layout.pulley, belt_pull=build["belt_pull"])
    pulls = np.where(layout.belt, np.stack([belt * lever, belt * (1 + lever)]), 0.0)
    preload = build["bearing_preload"] + 0.0 * mass
    return (
        np.asarray(weight),
        np.asarray(weight + unbalance + pulls),
        np.stack([preload + np.abs(thrust), preload]),
    )


def _drag(
    build: Builds,
    row: BearingValues,
    *,
    viscosity: Array,
    load_factor: Array = 0.0,
    load: Array = 0.0,
) -> Lanes:
    """Torque of one bearing by Palmgren's laws, without factor and lips [N m]."""
    torque = bearing_torque(
        mean_diameter=row.mean_diameter,
        speed=build["speed"],
        kinematic_viscosity=viscosity,
        lubrication_factor=row.lubrication_grease,
        load_factor=load_factor,
        load=load,
    )
    return np.asarray(torque)


def _lips(build: Builds, row: BearingValues) -> Lanes:
    """Torque of the lips of one bearing by their law [N m]."""
    seals = bearing_seals()
    return np.asarray(
        lip_torque(
            bore=row.bore,
            outside_diameter=row.outside_diameter,
            drag=of_names(build["bearing_seal"], {k: seal.drag for k, seal in seals.items()}),
            drag_per_size=of_names(
                build["bearing_seal"], {k: seal.drag_per_size for k, seal in seals.items()}
            ),
        )
    )
