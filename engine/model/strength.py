"""Stresses in the discs, the speeds at which a build fails, and its safety margin."""

from dataclasses import dataclass, replace
from functools import cache
from io import BytesIO
from typing import Any

import numpy as np

from engine.catalogue import (
    ASSEMBLY_TEMPERATURE,
    MaterialState,
    clamp_materials,
    material_state,
    of_names,
    processes,
    state_as_cut,
)
from engine.columns import Builds, Results
from engine.files import shared_file
from engine.model.bearings import limit_speed
from engine.model.bolts import bolts_of_build, has_bolts
from engine.model.lasting import lasting
from engine.physics.arrays import Array, Lanes
from engine.physics.machine.bolts import BoltCircle
from engine.physics.machine.disc import (
    DiscStress,
    bore_hoop_stress,
    burst_speed,
    elastic_growth,
    rotating_stress,
    rub_speed,
    thermal_growth,
    thermal_stress,
    yield_speed,
)
from engine.physics.machine.margins import safety_margin, stress_margin
from engine.physics.machine.vibration import ModeChart, mode_chart
from engine.physics.machine.web import NODAL_DIAMETERS, WebShape, web_shape
from engine.physics.machine.web_places import WEB_TABLES, Places, WebTables, web_tables
from engine.physics.machine.web_waves import (
    Hold,
    WebWaves,
    forced_wave,
    peak_stress_ratio,
    web_waves,
)

WORSE = {"density": np.maximum, "yield_strength": np.minimum, "ultimate_strength": np.minimum}
"""Which of two metals fails first in the same shape."""


@dataclass(frozen=True)
class StressThrough:
    """Stress along the radius of each disc, by rotation and heat together, (lane, radius)."""

    radius: Lanes  # bore to rim [m]
    running: DiscStress  # at operating speed
    tripped: DiscStress  # at trip speed
    notched: Lanes  # (lane,) largest stress beside a notch of the bore, at trip speed [Pa]
    yield_strength: Lanes  # (lane,) of the cut edge, at the disc's temperature [Pa]


def strength(
    build: Builds,
    *,
    places: Places,
    critical_speed: Lanes,
    disc_temperature: Lanes,
    rim_hotter_by: Lanes,
    fluid_density: Lanes,
) -> Results:
    """Stresses, failing speeds and the safety margin of every lane, by column key.

    `places` are those of `places_of`, `critical_speed` [rad/s] is the shaft's. `disc_temperature`
    [K] sets strength and growth, `rim_hotter_by` [K] the thermal stress, and `fluid_density`
    [kg/m3] the mass that the waves of the discs move in the gaps.
    """
    sheet = state_as_cut(build["material"], build["process"], disc_temperature)
    metal = weakest_metal(build, sheet, disc_temperature)
    build = {**build, "notch_factor": notch_factor(build, places)}
    stresses = bore_stresses(build, metal, rim_hotter_by)
    elastic, thermal = growth(build, metal, disc_temperature, radius=build["disc_diameter"] / 2)
    bore = growth(build, metal, disc_temperature, radius=build["exhaust_bore"] / 2)
    fluid = 2 * fluid_density * build["gap"] / (sheet.density * build["disc_thickness"])
    waves = _waves(build, places, sheet, rim_hotter_by, fluid)
    wave = forced_wave(speed=waves.speed, nozzle_count=build["nozzle_count"])
    failing = failing_speeds(
        build,
        metal,
        critical_speed=critical_speed,
        stresses=stresses,
        wave_speed=wave.any_speed,
        growth=(elastic, thermal),
        bore_growth=bore,
    )
    margin = safety_margin(
        speed=build["speed"],
        yield_speed=failing["yield_speed"],
        burst_speed=failing["burst_speed"],
        wave_speed=failing["wave_speed"],
        shaft_speed=failing["shaft_critical_speed"],
        bearing_speed=failing["bearing_limit_speed"],
        rub_speed=failing["rub_speed"],
        generator_speed=failing["generator_limit_speed"],
        seal_rub_speed=failing["seal_rub_speed"],
    )
    columns: dict[str, Any] = {
        **failing,
        **stresses,
        "wave_nodal_diameters": wave.any_nodal_diameters,
        "forced_wave_speed": wave.speed,
        "forced_wave_nodal_diameters": wave.nodal_diameters,
        "peak_stress_ratio": build["notch_factor"],
        "gap_fluid_mass": fluid,
        "safety_margin": margin.margin,
        "governing_mode": margin.mode,
        "rim_growth": elastic + thermal,
        "bore_growth": bore[0] + bore[1],
        **lasting(build, metal, stresses["stress_margin"]),
        "rim_over_bore": rim_hotter_by,
        "disc_temperature": disc_temperature,
    }
    return {key: np.asarray(values) for key, values in columns.items()}


def weakest_metal(build: Builds, sheet: MaterialState, disc_temperature: Lanes) -> MaterialState:
    """Metal of the discs, `sheet`; on bolts as weak, and as heavy, as their wide end clamps."""
    wide, names = has_bolts(build), clamp_materials(build["material"])
    if not (wide & (names != build["material"])).any():
        return sheet
    clamp = state_as_cut(names, build["process"], disc_temperature)
    both = {key: (getattr(sheet, key), getattr(clamp, key)) for key in WORSE}
    worse = {key: np.where(wide, WORSE[key](*pair), pair[0]) for key, pair in both.items()}
    return replace(sheet, **worse)


def bore_stresses(build: Builds, metal: MaterialState, rim_hotter_by: Lanes) -> dict[str, Array]:
    """Hoop stresses at the bore of the discs, and the stress margin, by column key."""
    annulus = _annulus(build)
    spin = bore_hoop_stress(
        **annulus, density=metal.density, speed=build["speed"], poisson=metal.poisson
    )
    heat = thermal_stress(
        **annulus,
        youngs_modulus=metal.youngs_modulus,
        expansion=metal.expansion,
        temperature_difference=rim_hotter_by,
        radius=annulus["r_inner"],
    ).hoop
    margin = stress_margin(
        bore_stress=spin,
        yield_strength=metal.yield_strength,
        notch_factor=build["notch_factor"],
        trip_factor=build["trip_factor"],
        thermal_stress=heat,
    )
    return {"bore_stress": spin, "thermal_stress": heat, "stress_margin": margin}


def growth(
    build: Builds, metal: MaterialState, disc_temperature: Lanes, *, radius: Lanes
) -> tuple[Array, Array]:
    """Growth of the discs at a radius, by rotation and by warming since assembly [m].

    A free annulus keeps its shape as it warms, so each radius grows by its own share. The collar
    seals are taken to follow the exhaust bore, free of the hub and spokes that hold it back.
    """
    elastic = elastic_growth(
        **_annulus(build),
        density=metal.density,
        speed=build["speed"],
        poisson=metal.poisson,
        youngs_modulus=metal.youngs_modulus,
        radius=radius,
    )
    rise = disc_temperature - ASSEMBLY_TEMPERATURE
    thermal = thermal_growth(expansion=metal.expansion, r_outer=radius, temperature_rise=rise)
    return elastic, thermal


def failing_speeds(
    build: Builds,
    metal: MaterialState,
    *,
    critical_speed: Lanes,
    stresses: dict[str, Array],
    wave_speed: Lanes,
    growth: tuple[Array, Array],
    bore_growth: tuple[Array, Array],
) -> dict[str, Array]:
    """Speed at which each kind of failure begins [rad/s], by column key.

    `critical_speed` is the shaft's; `stresses`, `growth` and `bore_growth` are those of
    `bore_stresses`, `rim_growth` and `bore_growth`.
    """
    elastic, thermal = growth
    spinning = {**_annulus(build), "density": metal.density}
    return {
        "yield_speed": yield_speed(
            **spinning,
            poisson=metal.poisson,
            yield_strength=metal.yield_strength,
            notch_factor=build["notch_factor"],
            thermal_stress=stresses["thermal_stress"],
        ),
        "burst_speed": burst_speed(
            **spinning,
            ultimate_strength=metal.ultimate_strength,
            burst_factor=build["burst_factor"],
        ),
        "wave_speed": wave_speed,
        "shaft_critical_speed": critical_speed,
        "bearing_limit_speed": limit_speed(build),
        "rub_speed": rub_speed(
            growth=elastic,
            speed=build["speed"],
            clearance=build["rim_clearance"],
            thermal_growth=thermal,
        ),
        "generator_limit_speed": (
            build["generator_speed"] * build["generator_overspeed"] * build["drive_ratio"]
        ),
        "seal_rub_speed": rub_speed(
            growth=bore_growth[0],
            speed=build["speed"],
            clearance=build["seal_clearance"] - collar_eccentricity(build),
            thermal_growth=bore_growth[1],
        ),
    }


def collar_eccentricity(build: Builds) -> Lanes:
    """Offset of the collars from the shaft [m]."""
    offsets = {key: row.eccentricity for key, row in processes().items()}
    return np.asarray(of_names(build["collar_process"], offsets))


def web_of_build(build: Builds) -> WebShape:
    """Hub with spokes, or with round holes around it, of every lane; with bolts, of end plates."""
    return web_shape(
        shaft_radius=build["shaft_diameter"] / 2,
        bore_radius=build["exhaust_bore"] / 2,
        blockage=build["exhaust_blockage"],
        spokes=build["spokes"],
        holes=build["hold"] == "holes",
    )


def hub_of_build(build: Builds) -> Lanes:
    """Hub radius of every lane [m], by key where it is known already."""
    return build["hub_radius"] if "hub_radius" in build else web_of_build(build).hub_radius


def places_of(build: Builds, web: WebShape | None = None) -> Places:
    """Where the discs of every lane lie in the tables of discs on webs or bolts.

    `web` is that of the builds, where it is known.
    """
    return _places(build, web or web_of_build(build), bolts_of_build(build))


def _places(build: Builds, web: WebShape, bolts: BoltCircle | None) -> Places:
    annulus, spokes = _annulus(build), build["spokes"]
    return Places.of(tables_of_webs(), web=web, spokes=spokes, bolts=bolts, **annulus)


def notch_factor(build: Builds, places: Places) -> Lanes:
    """Peak stress over the plain ring's at its bore: what the study states, else the computed.

    Where bolts hold the discs, the end clamps are as wide and turn as fast, with the web that a
    disc on spokes would have. What a plate's own mass does to it does not go with its thickness, so
    their stress is that of such a disc, and the larger of both counts: mostly theirs (`bolts`). A
    clamp without openings has less. Its holes for the bolts, midway in its ring, are not counted
    beside its spokes.
    """
    stated = np.asarray(build["notch_factor"], dtype=float)
    computed = _peak(build, places)
    if places.bolts is not None:
        clamps = _peak(build, _places(build, places.web, None))
        computed = np.where(places.bolts.chosen, np.maximum(computed, clamps), computed)
    return np.where(np.isnan(stated), computed, stated)


def _peak(build: Builds, places: Places) -> Array:
    return peak_stress_ratio(
        places=places,
        shaft_radius=build["shaft_diameter"] / 2,
        r_inner=build["exhaust_bore"] / 2,
        tables=tables_of_webs(),
    )


def forcing_counts(nodal_diameters: int) -> tuple[int, ...]:
    """Numbers of equal nozzles that force a wave: those that divide its nodal diameters."""
    numbers = range(1, nodal_diameters + 1)
    return tuple(number for number in numbers if nodal_diameters % number == 0)


def waves(results: Builds, *, speed: Lanes) -> ModeChart:
    """Frequencies of the waves in the discs over speed [rad/s], (lane, speed, nodal diameters).

    From no nodal diameter up; NaN where no wave of that number ever stands still.
    """
    found = waves_of_builds(results)
    room = np.square(NODAL_DIAMETERS) - found.stiffening
    stands = np.isfinite(found.speed) & (room > 0)
    frequency = np.where(stands, found.speed * np.sqrt(np.maximum(room, 0.0)), np.nan)
    none = np.full((frequency.shape[0], 1), np.nan)
    return mode_chart(
        frequency=np.concatenate([none, frequency], axis=1)[:, None],
        stiffening=np.concatenate([none, found.stiffening], axis=1)[:, None],
        speed=speed,
    )


def waves_of_builds(results: Builds, hold: Hold = "either") -> WebWaves:
    """All waves in the discs of builds with their results, by nodal diameters."""
    metal = material_state(results["material"], results["disc_temperature"])
    fluid = results["gap_fluid_mass"]
    return _waves(results, places_of(results), metal, results["rim_over_bore"], fluid, hold=hold)


def stress_through(results: Builds, *, points: int = 41) -> StressThrough:
    """Stress along the radius of the discs, counted as in the stress margin."""
    hot = results["disc_temperature"]
    sheet = state_as_cut(results["material"], results["process"], hot)
    metal = weakest_metal(results, sheet, hot)
    inner, outer = results["exhaust_bore"] / 2, results["disc_diameter"] / 2
    radius = np.linspace(inner, outer, points, axis=1)
    radius[:, -1] = outer  # by rounding, linspace may end beyond the rim
    annulus = {"r_inner": inner[:, None], "r_outer": outer[:, None], "radius": radius}
    heat = thermal_stress(
        **annulus,
        youngs_modulus=metal.youngs_modulus[:, None],
        expansion=metal.expansion[:, None],
        temperature_difference=results["rim_over_bore"][:, None],
    )

    def stress(speed: Lanes) -> DiscStress:
        """Stress by rotation at a speed, and by heat."""
        spin = rotating_stress(
            **annulus,
            density=metal.density[:, None],
            speed=speed[:, None],
            poisson=metal.poisson[:, None],
        )
        return DiscStress(spin.radial + heat.radial, spin.hoop + heat.hoop)

    # At the notch of the bore: as in `stress_margin`.
    trip = results["trip_factor"]
    bore = results["bore_stress"] * trip**2 + np.maximum(results["thermal_stress"], 0.0)
    return StressThrough(
        radius=radius,
        running=stress(results["speed"]),
        tripped=stress(results["speed"] * trip),
        notched=np.asarray(results["peak_stress_ratio"] * bore),
        yield_strength=metal.yield_strength,
    )


@cache
def tables_of_webs() -> WebTables:
    """Tables of discs on webs, as `tests/support/web_tables.py` solved them."""
    with np.load(BytesIO(shared_file(WEB_TABLES).read_bytes()), allow_pickle=False) as stored:
        return web_tables(**{key: stored[key] for key in stored.files})


def _annulus(build: Builds) -> Results:
    """Radii of the discs [m]."""
    return {"r_inner": build["exhaust_bore"] / 2, "r_outer": build["disc_diameter"] / 2}


def _waves(
    build: Builds,
    places: Places,
    metal: MaterialState,
    rim_hotter_by: Lanes,
    fluid: Lanes,
    *,
    hold: Hold = "either",
) -> WebWaves:
    """Waves of the discs; `fluid` is the mass in both gaps of a disc over that of the disc."""
    found = web_waves(
        places=places,
        r_outer=build["disc_diameter"] / 2,
        density=metal.density,
        thickness=build["disc_thickness"],
        youngs_modulus=metal.youngs_modulus,
        poisson=metal.poisson,
        expansion=metal.expansion,
        temperature_difference=rim_hotter_by,
        fluid_mass=fluid,
        gap=build["gap"],
        tables=tables_of_webs(),
        hold=hold,
    )
    return replace(found, speed=found.speed * build["wave_factor"][:, np.newaxis])
