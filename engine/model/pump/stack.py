"""The stack of a pump in the words of its mechanics, which it shares with a turbine."""

from collections.abc import Mapping

import numpy as np

from engine.columns import Builds, Results

EVEN = ("rim_over_bore", "thermal_stress")
"""Columns of uneven warmth."""
CUTWATERS = 1
"""Places of a collector that force waves in the discs: its one tongue."""


def stack_of(build: Builds) -> Results:
    """Build by the names that the mechanics of a stack know; one of a turbine stays as it is.

    The discs end inside at the eye, and what a drive can give by mistake stands for the speed at
    which a turbine's trip acts.
    """
    if "eye_diameter" not in build:
        return dict(build)
    of_motor = {
        f"generator_{word}": build[f"motor_{word}"] for word in ("power", "speed", "overspeed")
    }
    return {
        **build,
        **of_motor,
        "generator_efficiency": np.ones(np.shape(build["speed"])),  # its rating is at the shaft
        "exhaust_bore": build["eye_diameter"],
        "exhaust_ends": build["suction_ends"],
        "exhaust_blockage": build["eye_blockage"],
        "trip_factor": build["overspeed_factor"],
        "nozzle_count": np.full(np.shape(build["speed"]), CUTWATERS),
        # It takes in through a closed ring: nothing goes straight on between arms of a plate.
        "outlet_open_share": np.zeros(np.shape(build["speed"])),
        # Its discs are as warm everywhere as the fluid.
        **dict.fromkeys(EVEN, np.zeros(np.shape(build["speed"]))),
    }


def as_stack(values: Mapping[str, float | str]) -> Mapping[str, float | str]:
    """Give one build with its results the names of `stack_of` too; one of a turbine stays.

    Its one tongue forces every wave of the discs, and it runs away to what its drive can give.
    """
    if "eye_diameter" not in values:
        return values
    lane = stack_of({key: np.array([value]) for key, value in values.items()})
    known = {key: lane[key][0].item() for key in lane if key not in values}
    return {
        **values,
        **known,
        "forced_wave_speed": values.get("wave_speed", np.nan),
        "runaway_ratio": values["overspeed_factor"],
    }


RENAMED = {"generator_limit_speed": "motor_limit_speed"}
"""Columns of the mechanics that a pump has by another name."""
MODES = {"generator limit": "motor limit", "seal rub": "wear ring rub"}
"""The same of ways to fail."""
NOT_OF_PUMPS = ("forced_wave_speed", "forced_wave_nodal_diameters", *EVEN)
"""Columns of the mechanics that a pump has not: its one tongue forces every wave."""


def as_of_pump(mechanics: Results) -> Results:
    """Columns of the mechanics by the names of a pump."""
    found = {
        RENAMED.get(key, key): values
        for key, values in mechanics.items()
        if key not in NOT_OF_PUMPS
    }
    mode = found["governing_mode"]
    for old, new in MODES.items():
        mode = np.where(mode == old, new, mode)
    return found | {"governing_mode": mode}
