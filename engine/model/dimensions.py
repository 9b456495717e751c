"""Lengths of a build, and the ratios that tell whether it can be built."""

import numpy as np

from engine.catalogue import bearing_values
from engine.columns import Builds
from engine.physics.arrays import Lanes
from engine.physics.flow.geometry import (
    casing_angle,
    edge_share,
    mouth_depth,
    nozzle_footprint,
    stack_height,
)
from engine.physics.machine.thread import nut_clearance


def dimensions_of(build: Builds) -> dict[str, Lanes]:
    """Lengths of a build, and the ratios that tell whether it can be built, by column key."""
    return {
        "stack_height": stack_height(
            disc_count=build["disc_count"],
            disc_thickness=build["disc_thickness"],
            gap=build["gap"],
        ),
        "edge_share": edge_share(
            disc_count=build["disc_count"],
            disc_thickness=build["disc_thickness"],
            gap=build["gap"],
        ),
        "nozzle_footprint": nozzle_footprint(
            nozzle_count=build["nozzle_count"],
            exit_width=build["nozzle_width"] * area_ratio(build),
            inlet_angle=build["inlet_angle"],
            rim_radius=build["disc_diameter"] / 2,
        ),
        "casing_angle": casing_angle(
            inlet_angle=build["inlet_angle"],
            rim_radius=build["disc_diameter"] / 2,
            rim_clearance=build["rim_clearance"],
        ),
        "mouth_depth": mouth_depth(
            inlet_angle=build["inlet_angle"],
            rim_radius=build["disc_diameter"] / 2,
            rim_clearance=build["rim_clearance"],
            exit_width=build["nozzle_width"] * area_ratio(build),
        ),
        "bore_ratio": build["exhaust_bore"] / build["disc_diameter"],
        "bore_wall": (build["exhaust_bore"] - build["shaft_diameter"]) / 2,
        "nut_clearance": room_of_nut(build),
        "rim_speed": build["speed"] * build["disc_diameter"] / 2,
    }


def room_of_nut(build: Builds) -> Lanes:
    """By how much the clamp nut is wider than the seat that it passes [m]; below 0 it does not."""
    seat = bearing_values(build["bearing"]).bore
    return nut_clearance(shaft=build["shaft_diameter"], seat=seat)


def area_ratio(build: Builds) -> Lanes:
    """Exit over throat area of the nozzles; a convergent nozzle ends in its throat."""
    divergent = build["nozzle_form"] == "convergent-divergent"
    return np.where(divergent, build["nozzle_area_ratio"], 1.0)
