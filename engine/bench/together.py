"""Several logs in one fit: what each says is added to what was known."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from engine.bench.fit import Unknown, coefficients_of
from engine.study.fit import Fit
from engine.study.knowledge import Knowledge
from engine.study.study import Study

FAR = 3.0
"""Uncertainties by which a log may move what was known before without a caution."""


def together(study: Study, found: Fit, *, log: str, sha: str) -> Fit:
    """Add what a log says to the fit that a study names.

    Told are the coefficients that were told before and those that the log tells; the others are at
    the study's values. The result does not depend on the order of the logs but for how far the
    model bends between their fits.
    """
    earlier = study.fit
    logs = {**(earlier.logs if earlier is not None else {}), log: sha}
    unknowns = coefficients_of(study)
    fixed = {key: float(value) for key, value in study.fixed().items() if key in unknowns}
    fixed = {key: value for key, value in fixed.items() if np.isfinite(value)}
    forms = [found.known, *([earlier.known] if earlier is not None else [])]
    # What the study searches or computes has no value of its own; it stays where a log was fitted.
    centres = {key: at for form in forms for key, at in zip(form.keys, form.centre, strict=True)}
    at = {**centres, **fixed, **found.values}
    known = found.known.added(earlier.known if earlier is not None else None, at)
    told = tuple(dict.fromkeys((*(earlier.values if earlier else ()), *found.values)))
    return replace(_solved(unknowns, known, told, at), knowledge=known, logs=logs)


def disagreements(before: Fit | None, after: Fit) -> list[str]:
    """Say which coefficients a log moves further than their uncertainty lets expect."""
    if before is None:
        return []
    moved = {
        key: abs(after.values[key] - before.values[key]) / before.standard[key]
        for key in before.values.keys() & after.values.keys()
    }
    return [
        f"{key}: this log moves it by {times:.1f} of its standard uncertainties: the logs disagree;"
        " look for a changed build or a wrong reading"
        for key, times in sorted(moved.items())
        if times > FAR
    ]


def with_fit(study: Study, fit: Fit) -> Study:
    """Study with the numbers of a fit in place of its own."""
    machine = study.machine.model_copy(update=dict(fit.values))
    return study.model_copy(update={"machine": machine, "fit": fit})


def _solved(
    unknowns: Mapping[str, Unknown],
    known: Knowledge,
    told: tuple[str, ...],
    at: Mapping[str, float],
) -> Fit:
    """Find the most likely values of some keys, with the others held."""
    there = known.of_keys(known.keys, {key: at.get(key, 0.0) for key in known.keys})
    places = [known.keys.index(key) for key in told]
    information = there.information[np.ix_(places, places)]
    covariance = np.linalg.pinv(information, hermitian=True)
    moved = there.centre[places] - covariance @ there.slope[places]
    lower, upper = (
        np.array([getattr(unknowns[key], end) for key in told]) for end in ("lower", "upper")
    )
    standard = np.sqrt(np.diag(covariance))
    return Fit(
        dict(zip(told, np.clip(moved, lower, upper).tolist(), strict=True)),
        dict(zip(told, standard.tolist(), strict=True)),
        covariance / np.outer(standard, standard),
    )
