"""A tap test: the frequencies at which one clamped disc rings, and what they say of its modes."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from engine.bench.fit import COEFFICIENTS
from engine.bench.log import BenchLog, Exclusion
from engine.errors import Problem, StudyError
from engine.model.tapped import TappedDisc, tapped_disc
from engine.study.fit import Fit
from engine.study.study import Study

Numbers = NDArray[np.float64]

MODEL_SHARE = 0.025
"""Standard uncertainty of one computed frequency beside those of the other modes; their places
between the tables, and fillets, which are left out (tests/physics/machine/test_web_at_rest.py)."""
CUT = 3.0
"""Uncertainties beyond which a frequency is taken for something else than a mode of the disc."""
STRANGE_SHARE = 0.25
"""Share of such frequencies from which the pattern is not that of the disc."""
LOOSE = 0.8
"""Lowest frequency over that of a disc held at its hub alone, below which the clamp is loose."""
NORMAL_REACH = 1.96
"""Half of the 95 % interval of a normal distribution, in standard uncertainties."""
MOST = 60
"""Frequencies of a tap test at most; more are a whole spectrum, not its peaks."""
FACTORS = np.geomspace(0.6, 1.6, 491)
REMEDY = "degrease, tighten the nut as the build sheet says and tap again; check the build above"


@dataclass(frozen=True)
class TapTest:
    """What a tap test shows, SI."""

    log: BenchLog
    heard: Numbers
    """Frequencies that are modes of the disc [Hz]."""
    uncertainty: Numbers
    """Standard uncertainty of each, that of the computed mode included [Hz]."""
    mode: NDArray[np.int64]
    """Which mode each of them is, 1 for the lowest."""
    fitted: Numbers
    """Frequencies of those modes with the fitted factor and radius."""
    disc: TappedDisc
    held_to: float
    """Radius to which the disc seems to be held [m]."""
    fit: Fit
    """The factor on the computed frequencies."""
    reach: dict[str, float]
    """Half of its 95 % interval."""
    start: dict[str, float]


def fit_tap_test(study: Study, log: BenchLog) -> TapTest:
    """Find the factor on the disc's frequencies, and how far out it is held, from a tap test.

    Each frequency is taken for the mode nearest to it; one that is near none is left out. Known
    before the test: the factor within its width of `COEFFICIENTS`, and that the disc is held at
    least at its hub and at most at its whole web. Errors of the computed modes are the same in
    every test of one design, so a second test makes the factor seem surer than it is.

    Raises
    ------
    StudyError
        Where the disc is not held, or the frequencies are not those of the disc.
    """
    disc = tapped_disc({**study.fixed(), **log.build})
    if not np.isfinite(disc.frequency).all():
        found = "the disc lies outside the tables of discs on spokes, with holes or on bolts"
        raise StudyError([Problem(file=log.file, key="build", found=found, remedy="check it")])
    heard = log.columns["frequency"]
    if heard.size > MOST:
        found, expected = f"{heard.size} frequencies", f"the peaks alone, at most {MOST}"
        remedy = "keep the frequencies that return at every tap"
        raise StudyError([Problem(file=log.file, found=found, expected=expected, remedy=remedy)])
    _refuse_loose(log, heard, disc)
    spread = np.hypot(MODEL_SHARE, log.uncertainty["frequency"] / heard)
    # Logarithm over each mode: factor, radius, mode, frequency.
    off = np.log(heard) - np.log(disc.frequency)[..., np.newaxis]
    off = (off - np.log(FACTORS)[:, np.newaxis, np.newaxis, np.newaxis]) / spread
    nearest = np.abs(off).min(axis=2)
    prior = np.square(np.log(FACTORS) / COEFFICIENTS["wave_factor"].width)[:, np.newaxis]
    cost = np.square(np.minimum(nearest, CUT)).sum(axis=-1) + prior
    likely = np.exp((cost.min() - cost) / 2)
    share = likely.sum(axis=1) / likely.sum()
    value = float(share @ FACTORS)
    standard = float(np.sqrt(share @ np.square(FACTORS - value)))
    best, radius = np.unravel_index(int(np.argmin(cost)), cost.shape)
    is_mode = nearest[best, radius] < CUT
    _refuse_strange(log, heard, is_mode, value)
    nearest_mode = np.abs(off[best, radius]).argmin(axis=0)[is_mode]
    mode = _of_alike(nearest_mode, heard[is_mode], disc.frequency[radius])
    _refuse_unheld(log, mode)
    key = "wave_factor"
    return TapTest(
        log=replace(
            log,
            lines=log.lines[is_mode],
            columns={name: values[is_mode] for name, values in log.columns.items()},
            uncertainty={name: values[is_mode] for name, values in log.uncertainty.items()},
            excluded=(*log.excluded, *_strange(log, heard, is_mode)),
        ),
        heard=heard[is_mode],
        uncertainty=(spread * heard)[is_mode],
        mode=mode + 1,
        fitted=FACTORS[best] * disc.frequency[radius, mode],
        disc=disc,
        held_to=float(disc.radius[radius]),
        fit=Fit({key: value}, {key: standard}, np.eye(1)),
        reach={key: NORMAL_REACH * standard},
        start={key: float(log.build.get(key, study.fixed().get(key, 1.0)))},
    )


def _of_alike(nearest: NDArray[np.int64], heard: Numbers, frequency: Numbers) -> NDArray[np.int64]:
    """Take the first of modes that ring almost alike for the lowest sound near them, and so on.

    `frequency` are those of the modes. The nearest mode alone would leave some of them unheard: a
    disc on bolts has up to as many within 1 % as it has bolts.
    """
    found = nearest.copy()
    group = np.concatenate([[0], np.cumsum(np.diff(np.log(frequency)) > MODEL_SHARE)])
    for number in np.unique(group[nearest]):
        modes, sounds = np.flatnonzero(group == number), np.flatnonzero(group[nearest] == number)
        place = np.minimum(np.arange(sounds.size), modes.size - 1)
        found[sounds[np.argsort(heard[sounds])]] = modes[place]
    return found


def _refuse_loose(log: BenchLog, heard: Numbers, disc: TappedDisc) -> None:
    """Raise StudyError where the disc rings lower than its hub allows."""
    lowest, least = float(heard.min()), float(disc.frequency[0, 0])
    if lowest >= LOOSE * least:
        return
    problem = Problem(
        file=log.file,
        line=int(log.lines[int(np.argmin(heard))]),
        key="frequency",
        found=f"the disc rings at {lowest:.0f} Hz; held at its hub alone it cannot ring below "
        f"about {least:.0f} Hz: the clamp is loose, or it is another disc",
        remedy=REMEDY,
    )
    raise StudyError([problem])


def _refuse_unheld(log: BenchLog, mode: NDArray[np.int64]) -> None:
    """Raise StudyError where the lowest mode is missing: the others ring much alike in any disc."""
    if mode.min() == 0:
        return
    problem = Problem(
        file=log.file,
        key="frequency",
        found="the lowest mode was not heard, and a disc that is not held has none: the clamp may "
        "be loose",
        remedy=f"listen for it closer to the rim; else {REMEDY}",
    )
    raise StudyError([problem])


def _refuse_strange(
    log: BenchLog, heard: Numbers, is_mode: NDArray[np.bool_], value: float
) -> None:
    """Raise StudyError where the frequencies are not those of the disc."""
    unknown = COEFFICIENTS["wave_factor"]
    strange = ", ".join(f"{each:.0f}" for each in heard[~is_mode])
    found = ""
    if (~is_mode).sum() > STRANGE_SHARE * heard.size:
        found = f"{strange} Hz are no modes of this disc, however far out it is held: the pattern "
        found += "is that of another disc, of a loose clamp, or of what holds the shaft"
    elif not unknown.lower <= value <= unknown.upper:
        found = (
            f"the disc rings at {value:.2f} times its computed frequencies, more than sheet and "
        )
        found += "material can explain"
    if found:
        raise StudyError([Problem(file=log.file, key="frequency", found=found, remedy=REMEDY)])


def _strange(log: BenchLog, heard: Numbers, is_mode: NDArray[np.bool_]) -> list[Exclusion]:
    return [
        Exclusion(int(line), f"no mode of the disc rings at {frequency:.0f} Hz")
        for line, frequency in zip(log.lines[~is_mode], heard[~is_mode], strict=True)
    ]
