"""At which frequencies one disc rings when it is clamped, at rest, and tapped."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from engine.catalogue import ASSEMBLY_TEMPERATURE, MaterialState, material_state
from engine.columns import Builds
from engine.model.strength import places_of, tables_of_webs
from engine.physics.arrays import Lanes
from engine.physics.machine.web import LARGEST_HUB, ROUND_WASHER, WASHERS
from engine.physics.machine.web_places import Places
from engine.physics.machine.web_waves import RestModes, modes_at_rest

RADII = 41
"""Radii to which a disc may be held, from hub to exhaust bore."""


@dataclass(frozen=True)
class TappedDisc:
    """Modes of one disc by how far out its spacers hold it."""

    radius: Lanes
    """To which it is held, from hub to exhaust bore, or around each bolt to its washer [m]."""
    frequency: Lanes
    """Of the lowest modes, (radius, mode), rising along both [Hz]."""


def tapped_disc(values: Mapping[str, float | str]) -> TappedDisc:
    """Modes of the disc of a build, as computed: without its wave factor.

    NaN where the tables do not hold the disc. Spacers that press further out than the hub hold it
    as a larger hub would; from `LARGEST_HUB` of the bore to the bore, by equal ratios of frequency,
    and with round holes from their hub on. A bolt that is not tight holds the disc as a smaller
    washer would, down to the bolt itself.
    """
    build: Builds = {key: np.full(RADII, value) for key, value in values.items()}
    sheet = material_state(build["material"], ASSEMBLY_TEMPERATURE)
    drawn, r_outer = places_of(build), build["disc_diameter"] / 2
    if drawn.bolts is not None:
        radius = np.linspace(build["bolt_diameter"][0] / 2, drawn.bolts.washer[0], RADII)
        # What the narrowest washer of the tables holds, as in `washer_place`.
        least = WASHERS[0] / ROUND_WASHER * (r_outer - build["exhaust_bore"] / 2)
        bolts = replace(drawn.bolts, washer=np.maximum(radius, least))
        places = drawn.of(
            tables_of_webs(),
            web=drawn.web,
            spokes=build["spokes"],
            r_inner=build["exhaust_bore"] / 2,
            r_outer=r_outer,
            bolts=bolts,
        )
        return TappedDisc(radius, _modes(build, sheet, places).hub / (2 * np.pi))
    hub, bore = float(drawn.web.hub_radius[0]), float(build["exhaust_bore"][0] / 2)
    radius = np.linspace(hub, bore, RADII)
    places = drawn.of(
        tables_of_webs(),
        web=replace(drawn.web, hub_radius=np.minimum(radius, max(hub, LARGEST_HUB * bore))),
        spokes=build["spokes"],
        r_inner=build["exhaust_bore"] / 2,
        r_outer=r_outer,
    )
    modes = _modes(build, sheet, places)
    # The tables have one hub for round holes.
    start = hub / bore if np.any(drawn.web.holes) else LARGEST_HUB
    out = np.clip((radius / bore - start) / (1 - start), 0.0, 1.0)[:, np.newaxis]
    return TappedDisc(radius, modes.hub ** (1 - out) * modes.web**out / (2 * np.pi))


def _modes(build: Builds, sheet: MaterialState, places: Places) -> RestModes:
    """Modes of discs at rest [rad/s]."""
    return modes_at_rest(
        places=places,
        r_outer=build["disc_diameter"] / 2,
        thickness=build["disc_thickness"],
        density=sheet.density,
        youngs_modulus=sheet.youngs_modulus,
        poisson=sheet.poisson,
        tables=tables_of_webs(),
    )
