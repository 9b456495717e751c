"""What is said of a lost load with the trip acting, of wear, and of what a valve may take."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from reports.kit.quantities import MISSING, THIN, duration, number, percent, quantity

MOST_AXIAL = 0.25
"""Axial load over static rating that small deep-groove bearings bear (catalogues, from memory)."""

WARM_GREASE = 353.15
"""Temperature of a bearing above which usual grease ages fast [K]; common practice."""
STIFF_GREASE = 300e-6
"""Viscosity of a base oil above which a small bearing turns heavily [m2/s]; common practice."""
SHORT_LIFE = 2000 * 3600.0
"""Rated life that is worth a word [s]."""

Values = Mapping[str, float | str]


@dataclass(frozen=True)
class Moment:
    """One row of the table of a lost load."""

    name: str
    speed: float
    """[rad/s]"""
    ratio: float
    """Over running speed."""
    time: str
    """Since the load was lost."""
    bad: bool = False


def moments(values: Values) -> tuple[Moment, ...]:
    """List what happens when the load is lost, in its order; nothing where it was not computed."""
    speed, trip, margin = (_of(values, key) for key in ("speed", "trip_factor", "safety_margin"))
    peak, tripped = _of(values, "peak_ratio"), _of(values, "trip_time")
    if not math.isfinite(peak):
        return ()
    failing = tripped + _of(values, "shutoff_time_allowed")
    return (
        Moment("Runs", speed, 1.0, _short(0.0)),
        Moment("Trips", trip * speed, trip, _short(tripped), bad=trip >= margin),
        Moment("Peaks", peak * speed, peak, _short(_of(values, "peak_time")), bad=peak > margin),
        Moment("Fails, with full pressure left on", margin * speed, margin, _short(failing)),
    )


def peak_text(values: Values) -> str:
    """Say how far it gets with the trip acting; '' where it was not computed."""
    peak, margin = _of(values, "peak_ratio"), _of(values, "safety_margin")
    if not (math.isfinite(peak) and math.isfinite(margin)):
        return ""
    shuts = (
        f"With the trip at {number(_of(values, 'trip_factor'))} times, a valve that begins to shut "
        f"after {quantity('trip_delay', _of(values, 'trip_delay'))} and takes "
        f"{quantity('valve_closing', _of(values, 'valve_closing'))}, and "
        f"{quantity('valve_volume', _of(values, 'valve_volume'))} behind it"
    )
    if "trip_delay" not in values:
        shuts = "With its trip acting"
    ends = f"the peak is {number(peak, 4)} times, after {_time(_of(values, 'peak_time'))}"
    if not math.isfinite(_of(values, "peak_time")):
        ends = f"it runs away to {number(peak)} times, below the trip"
    if margin >= peak:
        return f"{shuts}, {ends}."
    return f"{shuts}, {ends}: something fails first. Do not build it like this."


def allowed_text(values: Values) -> str:
    """Say what valve and hose are allowed; '' where it was not computed."""
    time, hose = _of(values, "shutoff_time_allowed"), _of(values, "hose_allowed")
    if math.isnan(time):
        return ""
    if math.isinf(time):
        return "It reaches no failing speed, however slowly the supply is shut."
    if time == 0:
        return "No valve is fast enough: something fails before the trip acts."
    text = f"From trip speed full torque takes it to the first failure in {_time(time)}."
    if math.isnan(hose):
        return f"{text} Delay and half of the closing must take less."
    largest = quantity("hose_allowed", hose) if hose > 0 else "nothing"
    return (
        f"{text} Delay, half of the closing and the emptying of the hose must take less: behind "
        f"this valve the hose may hold at most {largest}."
    )


def survives_with_trip(values: Values) -> bool:
    """Whether nothing fails with the trip acting, as far as was computed."""
    return not _of(values, "peak_ratio") > _of(values, "safety_margin")


def swing_text(values: Values) -> str:
    """Say how much of a swing of the supply the inertia takes away; '' where it is not known."""
    constant = _of(values, "speed_time_constant")
    if not math.isfinite(constant):
        return ""
    left = 1 / math.hypot(1.0, 2 * math.pi * constant)
    return (
        f"Speed follows a swing of the supply with a time constant of {_time(constant)}: of one "
        f"swing a second {percent(left)} is left, of a lasting change all"
    )


def wear_notes(values: Values) -> list[str]:
    """List what wears this build out sooner than one might think."""
    found = []
    thrust, load = _of(values, "axial_thrust"), _of(values, "axial_load_ratio")
    if thrust > 0:
        text = (
            f"Pressure pushes the stack towards its open end with up to "
            f"{quantity('axial_thrust', thrust)}. With the preload, one bearing bears "
            f"{percent(load)} of its static rating"
        )
        most = f"catalogues allow some {percent(MOST_AXIAL)} for small ball bearings"
        found.append(f"{text}; {most}{': take a larger one' if load > MOST_AXIAL else ''}.")
    found += _bearing_notes(values)
    creeps, warm = _of(values, "creep_temperature"), _of(values, "disc_temperature")
    if creeps < warm:
        found.append(
            f"The discs become {quantity('disc_temperature', warm)} warm, and "
            f"{values.get('material', 'their material')} creeps above "
            f"{quantity('creep_temperature', creeps)}: gaps and clearances close with time."
        )
    return found


def _bearing_notes(values: Values) -> list[str]:
    """List what the bearings suffer from."""
    found = []
    warm, stiff = _of(values, "bearing_temperature"), _of(values, "grease_running")
    if warm > WARM_GREASE:
        found.append(
            f"The warmer bearing runs at some {quantity('bearing_temperature', warm)} by estimate. "
            "Above 70 °C each 15 K halve the life of usual grease (common practice): take grease "
            "for hot bearings, and measure."
        )
    if stiff > STIFF_GREASE:
        fluid = "fluid" if "hydraulic_power" in values else "exhaust"
        found.append(
            f"The {fluid} keeps the colder bearing so cold that its grease is stiff, "
            f"{quantity('grease_running', stiff)} when running: take grease for the cold, or keep "
            f"the {fluid} off the bearings."
        )
    least, preload = _of(values, "least_load_ratio"), _of(values, "bearing_preload")
    if least < 1:
        wanted = f" (some {quantity('bearing_preload', preload / least)})" if preload > 0 else ""
        found.append(
            f"The less loaded bearing bears {percent(least)} of the least load, a hundredth of its "
            f"rating (common practice): its balls may slide. Take a stronger spring{wanted} or a "
            "smaller bearing."
        )
    life = _of(values, "bearing_life")
    if life < SHORT_LIFE:
        found.append(
            f"One in ten bearings fails within {quantity('bearing_life', life)} by its rating "
            "(ISO 281): change them before, or take larger ones."
        )
    return found


def fatigue_text(values: Values) -> str:
    """Say after how many runs a crack may start; '' where no estimate applies."""
    cycles = _of(values, "fatigue_cycles")
    if not math.isfinite(cycles):
        return "No estimate of fatigue is made for this material."
    return (
        f"Runs from rest to trip speed that start a crack where the stress peaks: "
        f"{quantity('fatigue_cycles', cycles)}, an order of magnitude only (uniform material law "
        "of Baeumel and Seeger, smooth surface). A cut edge, a scratch or rust costs much of it."
    )


def _of(values: Values, key: str) -> float:
    return float(values.get(key, math.nan))


def _short(seconds: float) -> str:
    """Write a time of the table, in milliseconds."""
    if math.isinf(seconds):
        return "never"
    return MISSING if math.isnan(seconds) else duration(seconds)


def _time(seconds: float) -> str:
    """Write a time as it is said."""
    return f"{number(seconds)}{THIN}s" if 1 <= seconds < math.inf else _short(seconds)
