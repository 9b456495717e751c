"""Which designs of a robust search are sampled: those that may come on its front or be bred from.

The samples of a design take some twelve times what it takes as drawn. So each design is first
evaluated as drawn. It gets no bands if it misses a limit by more than samples mend, or if its poor
end cannot count: if all that the front keeps of the aims as drawn, at most, would bring it neither
on the front nor among the parents. A design without bands is held against the limits as drawn, and
is never feasible. Those that only a design had beaten which the recheck takes off the front are
sampled then.

So the search proposes the builds that it would if all were sampled, and comes to the same front.
Eleven searches did, to the last build: studies/lane-workshop-night.yaml of 30,000 designs by five
seeds, greenhouse-vapour.yaml of 10,000 by five, and orchard-boiler.yaml of 10,000. They sample 49
to 62 % of the designs, the longer the search the fewer. A search that differs in one parent ends at
another front, which covers 3 % more or less, as that of another seed does: so nothing less than all
that changes it was taken. Were only front and feasible parents to stay, but neither the order of
infeasible parents nor the spread by which crowding is measured, 38 % would be sampled; if poor ends
were known exactly, 33 %. What the nearest designs of the front keep, those that fail in the same
way, or a fit to what the front keeps, leave out one or two more in a hundred.
"""

from collections.abc import Callable
from typing import TypeAlias

import numpy as np

from engine.bands.results import UNSAMPLED, plain_limits
from engine.columns import CHANCE_ALL, Builds, Results, base_key
from engine.model.lanes import rows_of
from engine.model.limits import Limits, matched, violations, with_standing
from engine.physics.arrays import Mask, repeated
from engine.search.front import Merits, beaten, merits
from engine.search.staged import Outlook
from engine.study.study import Study

Hopeless: TypeAlias = Callable[[Outlook], Mask]
"""Finds designs that cannot count."""

SLACK = 0.01
"""What samples may mend, as a share: how far a design may be past a limit as drawn, and by how much
its poor end may be better than what the front keeps."""
FEAR = 0.1
FEWEST = 10
"""Designs of the front from which is learned what the poor end keeps."""


def evaluated(
    study: Study,
    builds: Builds,
    *,
    evaluate: Callable[[Study, Builds], Results],
    front: Results,
    hopeless: Hopeless,
) -> Results:
    """Evaluate builds as drawn, and add bands to those that may count.

    Parameters
    ----------
    study
        A robust study.
    builds
        Builds by key, SI.
    evaluate
        Gives what `engine.bands.results.evaluate_judged` gives.
    front
        Front of the designs known, in the columns of `known_by`; empty where there is none.
    hopeless
        Finds which builds would not count with these merits.
    """
    count = len(next(iter(builds.values())))
    results = evaluate(study, {**builds, UNSAMPLED: repeated(1.0, count)})
    rows = np.flatnonzero(may_count(study, results, front, hopeless))
    # Without any the columns are wanted all the same.
    sampled = evaluate(study, rows_of(results, rows if rows.size else np.arange(1)))
    for key in sampled.keys() - results.keys():
        results[key] = np.full(count, np.nan)
        results[key][rows] = sampled[key][: rows.size]
    return results


def may_count(study: Study, results: Results, front: Results, hopeless: Hopeless) -> Mask:
    """Find designs, evaluated as drawn, whose poor end may count."""
    limits = with_standing(plain_limits(study), study.works_as)
    past = violations(results, limits)
    least = (1.0 - SLACK) * np.where(past > SLACK, past, 0.0).sum(axis=1)
    best, worst = _poor_ends(study, results, front)
    return np.asarray(matched(results) & ~hopeless(Outlook(best, worst, least)))


def may_join(study: Study, designs: Results, front: Results) -> Mask:
    """Find designs without bands whose poor end may bring them on a front."""
    merit = merits(front, study.aims) if front else np.zeros((0, len(study.aims)))

    def hopeless(outlook: Outlook) -> Mask:
        return np.asarray((outlook.violation > 0.0) | beaten(outlook.best, merit))

    alike = unsampled(designs)
    if "gap_flow" in front:  # no design of another level comes on it
        alike &= designs["gap_flow"] == front["gap_flow"][0]
    return np.asarray(alike & may_count(study, designs, front, hopeless))


def known_by(study: Study) -> tuple[str, ...]:
    """List the columns of a front that tell what the poor end keeps."""
    return ("gap_flow", *dict.fromkeys((*study.aims, *map(base_key, study.aims))))


def unsampled(results: Results) -> Mask:
    """Designs of a robust study, with an operating point, that have no bands."""
    if CHANCE_ALL not in results:
        return np.zeros(len(results["status"]), dtype=np.bool_)
    return np.asarray(matched(results) & np.isnan(results[CHANCE_ALL]))


def held_against(results: Results, limits: Limits) -> Results:
    """Results that limits are held against: those as drawn of designs without bands."""
    bare = unsampled(results)
    if not bare.any():
        return results
    drawn = {
        key: np.where(bare, results[base_key(key)], results[key])
        for key in limits
        if base_key(key) != key
    }
    return results | drawn


def _poor_ends(study: Study, results: Results, front: Results) -> tuple[Merits, Merits]:
    """Merits at the poor end at best and at worst.

    At best they keep the share of those as drawn that the front keeps at most, and slack. At worst
    they lose as much as any design of the front does. Infinite where too little is known.
    """
    as_drawn = {base_key(key): way for key, way in study.aims.items()}
    usual = merits(results, as_drawn)
    best, worst = np.full(usual.shape, np.inf), np.full(usual.shape, -np.inf)
    if len(front.get(next(iter(study.aims)), ())) < FEWEST:
        return best, worst
    known, poor = merits(front, as_drawn), merits(front, study.aims)
    worst = usual - (known - poor).max(axis=0)
    for aim, sign in ((aim, sign) for aim in range(usual.shape[1]) for sign in (1.0, -1.0)):
        alike = (sign * known[:, aim] > 0) & (sign * poor[:, aim] > 0)
        some = sign * usual[:, aim] > 0
        if alike.any():
            kept = sign * (sign * poor[alike, aim] / known[alike, aim]).max()
            best[some, aim] = usual[some, aim] * kept + SLACK * np.abs(usual[some, aim])
    return best, worst
