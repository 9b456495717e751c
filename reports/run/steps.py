"""What one step of each variable changes in a design, as plain frozen data."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.model.limits import MATCHED, violations, with_standing
from engine.study.study import Study
from reports.run.search_facts import Aim, Table, Values


@dataclass(frozen=True)
class Step:
    """One variable of a design moved to the next value of its range."""

    key: str
    value: float
    """New value of the variable."""
    larger: bool
    changes: tuple[float, ...]
    """Of each aim, as a share of its value before; NaN where the step has no operating point."""
    missed: tuple[str, ...]
    """Limits that the design then misses."""

    @property
    def works(self) -> bool:
        """Whether there still is an operating point."""
        return bool(np.isfinite(self.changes).all())


def steps_of(
    study: Study, values: Values, aims: Sequence[Aim], steps: Table | None
) -> tuple[Step, ...]:
    """Compare the results of single steps with those of the design itself."""
    if steps is None or not len(steps["moved"]):
        return ()
    limits = with_standing(study.all_limits, study.works_as)
    known = {key: limit for key, limit in limits.items() if key in steps}
    matched = np.asarray(steps["status"]) == MATCHED
    past = violations(steps, known) > 0
    found = []
    for lane, key in enumerate(np.asarray(steps["moved"]).astype(str).tolist()):
        missed = [name for name, over in zip(known, past[lane], strict=True) if over]
        found.append(
            Step(
                key,
                value=float(steps[key][lane]),
                larger=bool(steps[key][lane] > float(values[key])),
                changes=tuple(
                    _change(float(values[aim.key]), float(steps[aim.key][lane]), matched[lane])
                    for aim in aims
                ),
                missed=tuple(missed) if matched[lane] else (),
            )
        )
    return tuple(found)


def _change(before: float, after: float, matched: np.bool_) -> float:
    return (after - before) / abs(before) if matched and before else np.nan
