"""What a burst stack and the full supply pressure ask of a casing: estimates for a specialist.

No limit and no aim may rest on them: the estimates of one wall differ by a factor of several.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from engine.catalogue import ASSEMBLY_TEMPERATURE, clamp_material, material_state
from engine.model.shaft_layout import CLAMP_THICKNESS
from engine.physics.machine.containment import (
    bolt_force,
    end_plate_thickness,
    fragment_energy,
    fragment_radius,
    perforation_thickness,
    ring_thickness,
    shell_thickness,
    wall_hoop_stress,
)
from engine.physics.machine.rotor import annulus_mass

PIECES = 3
"""Fragments of a burst stack: thirds carry the most energy of motion."""
RING_STRESS, RING_STRAIN = 400e6, 0.1
"""Flow stress [Pa] and strain of a ductile steel ring; common practice, no source."""
ALLOWABLE, JOINT = 138e6, 0.7
"""Of plain steel to 150 degC (ASME II-D, from memory) [Pa], and of a weld not examined."""
WALL = 10e-3
"""Wall [m] for which the stress by pressure is given."""
BOLTS = 6
"""Where the casing is not drawn."""
PROOF_STRESS = 580e6
"""Of bolts of class 8.8 up to M16 (ISO 898-1, from memory) [Pa]."""
BOLT_AREAS = {"M5": 14.2e-6, "M6": 20.1e-6, "M8": 36.6e-6, "M10": 58.0e-6}
"""Stress area of a coarse thread (ISO 898-1, from memory) [m2]."""


@dataclass(frozen=True)
class CasingEstimates:
    """Estimates for one build, SI."""

    speed: float
    """At which it is taken to burst: the lower of burst and runaway speed."""
    fragment_mass: float
    fragment_speed: float
    fragment_energy: float
    """Energy of motion of a third of the stack, with that of wide end clamps."""
    disc_energy: float
    """The same of a third of one disc."""
    perforation: tuple[float, float]
    """Wall that such a third perforates, with the whole chord and with a corner striking."""
    stretching: float
    """Wall whose stretching takes up all three."""
    pressure: float
    """Over the surroundings; 0 where the supply has none."""
    shell: float
    hoop_stress: float
    """In a wall of `WALL`."""
    end_plate: float
    bolts: int
    bolt_force: float
    """On each of them."""
    bolt_shares: Mapping[str, float]
    """Of the proof load, by size."""

    @property
    def walls(self) -> tuple[float, ...]:
        """Every estimate of the wall, the thinnest first."""
        return tuple(sorted((*self.perforation, self.stretching)))


def casing_estimates(
    values: Mapping[str, float | str], *, pressure: float, bolts: int = BOLTS
) -> CasingEstimates:
    """Estimate wall, shell, plates and bolts for one build with its results [SI].

    `pressure` is that inside over that of the surroundings. Where bolts hold the discs, both end
    clamps are as wide as these and burst with them.
    """
    of = {key: float(value) for key, value in values.items() if not isinstance(value, str)}
    rim, bore = of["disc_diameter"] / 2, of["exhaust_bore"] / 2
    inside, wide = rim + of["rim_clearance"], values.get("hold") == "bolts"
    clamps = 2 * CLAMP_THICKNESS if wide else 0.0
    height = of["stack_height"] + clamps
    runaway = of["runaway_ratio"] * of["speed"]
    speed = float(np.fmin(of["burst_speed"], runaway))
    material = str(values["material"])
    density, thick = (
        float(material_state(name, ASSEMBLY_TEMPERATURE).density)
        for name in (material, clamp_material(material))
    )
    ring = annulus_mass(density=density, thickness=of["disc_thickness"], r_inner=bore, r_outer=rim)
    radius = fragment_radius(r_inner=bore, r_outer=rim)
    disc = float(fragment_energy(mass=ring / PIECES, speed=speed, radius=radius))
    # Both clamps weigh as much as so many discs more.
    discs = of["disc_count"] + clamps * thick / (of["disc_thickness"] * density)
    whole = disc * discs
    chord = 2 * rim * np.sin(np.pi / 3)
    perforation = tuple(
        float(perforation_thickness(energy=whole, diameter=2 * np.sqrt(area / np.pi)))
        for area in (chord * height, height**2)
    )
    force = float(bolt_force(pressure=pressure, diameter=2 * inside, bolts=bolts))
    return CasingEstimates(
        speed=speed,
        fragment_mass=float(ring / PIECES * discs),
        fragment_speed=float(speed * radius),
        fragment_energy=whole,
        disc_energy=disc,
        perforation=(perforation[0], perforation[1]),
        stretching=float(
            ring_thickness(
                energy=PIECES * whole,
                radius=inside,
                height=height + 2 * of["side_gap"],
                stress=RING_STRESS,
                strain=RING_STRAIN,
            )
        ),
        pressure=pressure,
        shell=float(
            shell_thickness(pressure=pressure, radius=inside, stress=ALLOWABLE, joint=JOINT)
        ),
        hoop_stress=float(
            wall_hoop_stress(pressure=pressure, r_inner=inside, r_outer=inside + WALL)
        ),
        end_plate=float(
            end_plate_thickness(pressure=pressure, diameter=2 * inside, stress=ALLOWABLE)
        ),
        bolts=bolts,
        bolt_force=force,
        bolt_shares={size: force / (PROOF_STRESS * area) for size, area in BOLT_AREAS.items()},
    )
