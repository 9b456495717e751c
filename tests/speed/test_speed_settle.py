"""How fast many builds settle with several sets of loads, over their evaluation.

python -m pytest tests/speed/test_speed_settle.py -m speed -s
"""

import sys
import time
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from engine.model.evaluation import evaluate
from engine.model.settle import settled
from engine.study.loads import Loads
from engine.study.study import Study
from tests.model.test_settle import SHEET

SEVEN: Any = {
    "voltage": "36 V",
    "appliances": {
        "filament-lamp": {"running": "40 W"}, "led-lamp": "4", "laptop": "", "bench-fan": "",
        "soldering-iron": "", "radio": "", "phone-charger": "2",
    },
}  # fmt: skip


@pytest.mark.speed
def test_speed_of_settling(
    shop_air: Study, random_builds: Callable[[int, int], dict[str, Any]]
) -> None:
    """1,000 builds with eight sets: nothing, and seven loads one after the other."""
    machine = shop_air.machine.model_copy(update=SHEET)
    loads = Loads.model_validate(SEVEN)
    study = shop_air.model_copy(update={"machine": machine, "loads": loads}).unjudged()
    builds = random_builds(1000, 1)
    evaluate(study, {key: values[:8] for key, values in builds.items()})
    start = time.process_time()
    results = evaluate(study, builds)
    once = time.process_time() - start
    start = time.process_time()
    found = settled(study, results)
    took = time.process_time() - start
    share = np.isfinite(found.speed).mean()
    sys.stdout.write(
        f"\n1,000 builds settled with {found.speed.shape[1]} sets in {took:.2f} s of one core, "
        f"{took / once:.1f} times their evaluation; {share:.0%} settle\n"
    )
