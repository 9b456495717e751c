"""How far discs that are neither flat nor alike bend at speed, as an order of magnitude."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from engine.columns import Builds
from engine.model.strength import waves_of_builds
from engine.physics.machine.web import NODAL_DIAMETERS

LONG_WAVES = (2, 3, 4)
"""Nodal diameters of the waves that sheet has when it comes off a roll or is let out of a clamp;
common practice, no source."""


@dataclass(frozen=True)
class Warp:
    """Bending of the discs of one build at operating speed, over that at rest [-]."""

    kept: float
    """Of a wave of the sheet, which turns with the disc; the most of `LONG_WAVES`."""
    grown: float
    """Of what stands still in space where a wave is forced; infinite from that wave on."""


def warp(values: Mapping[str, float | str]) -> Warp:
    """Bending of a build with its results.

    In the frame of the disc a wave of the sheet is at rest: bending stiffness K holds its shape and
    the stress of spin, B times speed^2 for unit mass, pulls it flat, or on where it presses: it
    keeps K / (K + B speed^2). What stands still in space turns backward and bends the disc by
    1 / (1 - (speed / wave speed)^2). Derived here from Lamb and Southwell 1921. NaN where no wave
    is known.
    """
    build: Builds = {key: np.array([value]) for key, value in values.items()}
    found, speed = waves_of_builds(build), float(values["speed"])
    wave, stiffening = found.speed[0], found.stiffening[0]
    if np.isnan(wave).any():
        return Warp(np.nan, np.nan)
    long = np.isin(NODAL_DIAMETERS, LONG_WAVES) & np.isfinite(wave)
    room = np.square(NODAL_DIAMETERS[long]) - stiffening[long]
    pulled = stiffening[long] * np.square(speed / wave[long])
    with np.errstate(divide="ignore"):
        kept = room / np.maximum(room + pulled, 0.0)
    share = speed / float(values["forced_wave_speed"])
    return Warp(float(kept.max(initial=0.0)), 1 / (1 - share**2) if share < 1 else np.inf)
