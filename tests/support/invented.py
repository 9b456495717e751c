"""The inside of invented builds, from smooth formulas: no physics is tested with it."""

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.model.strength import StressThrough
from engine.physics.gap.profiles import GapProfiles
from engine.physics.machine.disc import DiscStress
from engine.physics.machine.vibration import ModeChart, mode_chart
from engine.physics.plane.answer import PlaneField, PlaneFlow

Columns = dict[str, NDArray[Any]]


def gap(build: Mapping[str, float]) -> GapProfiles:
    """Swirl past the discs falls toward the bore; two turns in all, twice as fast as the discs."""
    ends = (build["disc_diameter"] / 2, build["exhaust_bore"] / 2)
    radius, share = np.linspace(*ends, 31), np.linspace(0, 1, 31)
    across = np.linspace(0, 1, 9)
    shape = 6 * across * (1 - across)
    past = 150 * (1 - 0.8 * share)
    inflow = 5 * radius[0] / radius
    path = 4 * np.pi * share
    lane = {
        "radius": radius,
        "pressure": 1.3e5 - 2e4 * share,
        "mean_swirl": past + build["speed"] * radius,
        "mean_inflow": inflow,
        "path_angle": path,
        "path_angle_on_disc": path / 2,
        "height": build["gap"] * across,
        "inflow": inflow[:, None] * shape,
        "swirl": past[:, None] * shape + build["speed"] * radius[:, None],
        "turns": np.array(2.0),
        "residence_time": np.array(2 * np.pi / build["speed"]),
    }
    return GapProfiles(**{name: values[None] for name, values in lane.items()})


def stress(build: Mapping[str, float]) -> StressThrough:
    """Hoop stress falls toward the rim, radial stress vanishes at both ends."""
    radius = np.linspace(build["exhaust_bore"] / 2, build["disc_diameter"] / 2, 41)[None]
    share = np.linspace(0, 1, 41)[None]
    running = DiscStress(20e6 * 4 * share * (1 - share), 60e6 * (1 - 0.7 * share))
    tripped = DiscStress(1.3 * running.radial, 1.3 * running.hoop)
    return StressThrough(radius, running, tripped, np.array([156e6]), np.array([205e6]))


def waves(standing: float) -> tuple[NDArray[np.float64], ModeChart]:
    """Waves of three nodal diameters stand still first."""
    nodal = np.arange(13)
    speed = np.linspace(0, 1.2 * standing, 40)
    still = standing * np.where(nodal == 3, 1, 1.3)
    return speed, mode_chart(
        frequency=(nodal * still)[None, None], stiffening=0.0 * still[None, None], speed=speed[None]
    )


def plane(build: Mapping[str, float]) -> PlaneFlow:
    """A steady spiral, a little faster behind the mouth; balances close."""
    rim, bore = build["disc_diameter"] / 2, build["exhaust_bore"] / 2
    faces = np.append(np.linspace(bore, rim, 13), rim + 2.5e-4 * np.arange(1, 4))
    sides = np.linspace(0, np.pi, 25)
    radius, angle = (faces[1:] + faces[:-1])[:, None] / 2, (sides[1:] + sides[:-1]) / 2
    swirl = 300 * radius / rim + 80 * np.exp(-8 * angle)
    inward = -12 * rim / radius * np.ones_like(angle)
    even = np.ones_like(swirl)
    return PlaneFlow(
        rotor_torque=0.1,
        gap_torque=0.09,
        edge_torque=0.01,
        casing_torque=0.03,
        casing_heat=200.0,
        gap_heat=300.0,
        inflow_swirl=310.0,
        outflow_swirl=120.0,
        ring_pressure=1.4e5,
        mouth_pressure=1.6e5,
        mass_flow=0.012,
        rotor_flow=0.011,
        leakage_flow=0.001,
        jet_speed=415.0,
        jet_thickness=7e-4,
        mouth_arc=4e-3,
        casing_angle=0.18,
        passed_share=0.1,
        outward_share=0.2,
        jet_mach=1.4,
        largest_mach=1.9,
        mass_residual=2e-4,
        momentum_residual=-1e-4,
        energy_residual=3e-4,
        swing=1e-4,
        settled=True,
        steps=9000,
        exponent=1.4,
        field=PlaneField(
            faces=faces,
            sides=sides,
            n_gap=12,
            density=1.6 * even,
            radial_speed=inward,
            swirl=swirl,
            pressure=1.3e5 * even,
            mach=swirl / 320,
        ),
    )


def checks(results: Columns, share: NDArray[np.float64]) -> Columns:
    """Recheck, validity and shop: what the page prints beside the two aims."""
    speed, gap = results["speed"], results["gap"]
    difference = 0.08 * (share - 0.1)
    return {
        "wave_speed": 1.3 * results["safety_margin"] * speed,
        "wave_nodal_diameters": np.full(speed.shape, 3.0),
        "forced_wave_speed": 1.3 * results["safety_margin"] * speed,
        "forced_wave_nodal_diameters": np.full(speed.shape, 3.0),
        "peak_stress_ratio": np.full(speed.shape, 2.5),
        "resolved_difference": difference,
        "resolved_power": results["electric_power"] * (1 + difference),
        "backflow_share": np.clip(share - 0.2, 0, 1),
        "gap_reynolds": 6e7 * gap,
        "turbulent_share": np.clip(share, 0, 1),
        "ekman_number": gap * np.sqrt(speed / 5e-6),
        "gap_mach": 3 * share,
        "stress_margin": 2 * results["safety_margin"],
        "gap_hold": 1 - 0.1e-3 / gap,
        "smallest_gap": np.full(speed.shape, 0.2e-3),
        "raw_unbalance": np.full(speed.shape, 20e-6),
        "permissible_unbalance": 2e-3 / speed,
    }


def trip(results: Columns) -> Columns:
    """Make up a lost load: it runs away slowly, and the trip acts at 1.15 times operating speed."""
    margin, peak = results["safety_margin"], np.full(results["speed"].shape, 1.18)
    late = np.maximum(margin - 1.15, 0.0)
    return {
        "trip_factor": np.full(peak.shape, 1.15),
        "peak_ratio": peak,
        "survives_trip": (margin >= peak) * 1.0,
        "trip_time": np.full(peak.shape, 0.8),
        "peak_time": np.full(peak.shape, 1.0),
        "shutoff_time_allowed": 5.0 * late,
        "hose_allowed": 0.004 * late,
        "start_time": np.full(peak.shape, 4.1),
        "speed_time_constant": np.full(peak.shape, 3.2),
        "fatigue_cycles": np.full(peak.shape, 3e5),
    }
