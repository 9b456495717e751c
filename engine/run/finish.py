"""Columns that take so long that only the designs of a front get them."""

import numpy as np

from engine.bands.results import with_bands
from engine.columns import Results
from engine.model.evaluation import (
    with_evenness,
    with_recheck,
    with_runaway,
    with_swing,
    with_trip,
)
from engine.model.lanes import some_lanes, together
from engine.model.loads import carried
from engine.model.pump.evaluation import pump_rechecked, with_shear, with_shut
from engine.study.pump.study import PumpStudy
from engine.study.study import Study


def finished(study: Study, results: Results) -> Results:
    """Add swing, runaway, trip, recheck, evenness, bands and appliances to a few designs.

    A pump has recheck and bands alone of these, and its head when shut and shear in the gaps.
    Designs that stand by their resolved flow may lie beside others.
    """
    level = results.get("gap_flow", np.full(len(results["speed"]), ""))
    alike = [np.flatnonzero(level == each) for each in np.unique(level)]
    done: Results = together(
        [(lanes, _of_one_level(study, some_lanes(results, lanes))) for lanes in alike]
    )
    return done


def _of_one_level(study: Study, results: Results) -> Results:
    """Designs whose gap flow is of one level, as one call must have it."""
    if isinstance(study, PumpStudy):
        if not np.isfinite(results["head_difference"]).any():
            results = pump_rechecked(study, results)
        return with_bands(study, with_shear(study, with_shut(study, results)))
    results = with_swing(study, with_trip(study, with_runaway(study, results)))
    if not np.isfinite(results["resolved_difference"]).any():
        results = with_recheck(study, results)
    results = with_bands(study, with_evenness(study, results))
    if study.loads is None:
        return results
    return results | {"loads_carried": carried(study.loads, results["electric_power_p10"])}
