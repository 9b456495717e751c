"""A run reduced to what the page says, as plain frozen data. No text layout, no charts."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS, LOSSES
from engine.front import Merits, knee, merits
from engine.limits import MATCHED, violations, with_standing
from engine.physics.gap_profiles import GapProfiles
from engine.physics.vibration import ModeChart
from engine.study import Limit, Study
from reports.inside import Inside, Recheck, inside_of, recheck_of

Table: TypeAlias = Mapping[str, NDArray[Any]]
"""Columns by key, SI, all of one length."""
Values: TypeAlias = Mapping[str, float | str]
"""One row of a table."""
Role: TypeAlias = Literal["most", "knee", "safest"]
Side: TypeAlias = Literal["min", "max"]
ROLES: tuple[Role, ...] = ("most", "knee", "safest")
"""The marked candidates: best first aim at the required margin, the knee, the safest useful one."""

NEAR = 0.03
"""A bound holds a design where its result is within this share of it: discs come by the piece."""
AT_END = 0.01
"""A variable sits at an end of its range within this share of the range."""
CROWDED = 0.1
"""A range end is told where this share of the front sits at it."""
TABLE_ONLY = (
    "resolved_power",
    "shaft_power",
    "supply_efficiency",
    "rim_speed",
    "runaway_ratio",
    "stored_energy",
)
"""Columns of the front table that a dot does not show."""
CLOSEST = 5
"""So many closest designs are shown when nothing is feasible."""


@dataclass(frozen=True)
class RunData:
    """Everything the page is made from."""

    study: Study
    study_text: str
    provenance: Mapping[str, str]
    """Name to text: versions, seed, hash, times."""
    designs: Table
    """Every design evaluated; 'feasible' is 1 or 0."""
    front: Table
    """The non-dominated feasible designs, same keys as `designs`."""
    speed_curves: Mapping[Role, Table] = field(default_factory=dict)
    """By role of `marked`: one build at many speeds."""
    gaps: Mapping[Role, GapProfiles] = field(default_factory=dict)
    """By role: inside one gap of the build, an axis of one lane first."""
    waves: Mapping[Role, tuple[NDArray[np.float64], ModeChart]] = field(default_factory=dict)
    """By role: speeds, and frequencies of a disc's waves there, an axis of one lane first."""


@dataclass(frozen=True)
class Aim:
    """One objective; the first two span the chart."""

    key: str
    maximise: bool
    required: float | None
    """The level that a candidate must reach (SI), None where any will do."""


@dataclass(frozen=True)
class Loss:
    """One step on the way from supply to terminals."""

    key: str
    watts: float
    share: float
    """Of the isentropic power."""


@dataclass(frozen=True)
class Candidate:
    """One marked build of the front."""

    roles: tuple[Role, ...]
    design: int
    """Number of the design, as the table shows it."""
    values: Values
    losses: tuple[Loss, ...]
    """In the order of the flow."""
    curve: Table
    """Against speed; empty where none was computed."""
    inside: Inside


@dataclass(frozen=True)
class LimitFact:
    """What one bound did to the search."""

    key: str
    side: Side
    bound: float
    failed: int
    """Matched designs past the bound."""
    binding: int
    """Front designs within `NEAR` of the bound."""
    span: tuple[float, float] | None
    """First aim over those front designs, lowest and highest."""


@dataclass(frozen=True)
class RangeEnd:
    """Front designs that sit at an end of a variable's range."""

    key: str
    end: Literal["smallest", "largest"]
    value: float
    share: float
    """Of the front."""


@dataclass(frozen=True)
class CloseDesign:
    """An infeasible design that came near."""

    values: Values
    missed: tuple[tuple[str, Side, float], ...]
    """Key, side and bound of each limit it breaks."""


@dataclass(frozen=True)
class Facts:
    """The whole page in numbers."""

    title: str
    study: Study
    study_text: str
    provenance: Mapping[str, str]
    aims: tuple[Aim, ...]
    evaluated: int
    matched: int
    feasible: int
    statuses: tuple[tuple[str, int], ...]
    """Why designs have no operating point, most frequent first."""
    candidates: tuple[Candidate, ...]
    front: Table
    """Best first aim first, with 'design' as number."""
    cloud: Table
    """Aims of every feasible design."""
    hover: tuple[str, ...]
    """Keys that a dot of the chart shows."""
    columns: tuple[str, ...]
    """Keys that the table of the front shows, those of `hover` first."""
    spans: Mapping[str, tuple[float, float]]
    """Ends of the ranges of the variables that vary."""
    limits: tuple[LimitFact, ...]
    range_ends: tuple[RangeEnd, ...]
    outside: tuple[tuple[str, int], ...]
    """Relations used outside their published range, with the number of front designs."""
    recheck: Recheck | None
    closest: tuple[CloseDesign, ...]
    """Only where nothing is feasible."""


def aims_of(study: Study) -> tuple[Aim, ...]:
    """List the aims in the order of the study, each with the level that a limit asks for."""
    aims = []
    for key, sense in study.aims.items():
        maximise = sense == "maximise"
        limit = study.all_limits.get(key)
        required = None if limit is None else limit.min if maximise else limit.max
        if required is None and key == "safety_margin" and maximise:
            required = 1.0  # below it the first failure comes before operating speed
        aims.append(Aim(key, maximise, required))
    return tuple(aims)


def marked(study: Study, front: Table) -> dict[Role, int]:
    """Front rows of the marked candidates; empty where no design reaches the required levels.

    Useful is what has at least half the best first aim, or at most twice the least one. The knee
    is that of the useful designs, and is left out where none stands out between their ends. Its
    aims are taken by their logarithms where they allow it: percent is traded for percent.
    """
    aims = aims_of(study)
    if not len(front.get(aims[0].key, ())):
        return {}
    merit = merits(front, study.aims)
    rows = np.flatnonzero(_reaches_required(merit, aims))
    if rows.size == 0:
        return {}
    best = merit[rows, 0].max()
    useful = rows[merit[rows, 0] >= (best / 2 if best > 0 else 2 * best)]
    merit = merit[useful]
    most = _best(merit[:, 0], merit[:, 1])
    safest = _best(merit[:, 1], merit[:, 0])
    bend = _bend({aim.key: np.asarray(front[aim.key])[useful] for aim in aims}, study.aims)
    found: dict[Role, int] = {"most": int(useful[most]), "safest": int(useful[safest])}
    ends = merit[[most, safest]].tolist()
    if merit[bend].tolist() not in ends or useful.size == 1:
        found["knee"] = int(useful[bend])
    return {role: found[role] for role in ROLES if role in found}


def _bend(values: Table, aims: Mapping[str, str]) -> int:
    positive = all((column > 0).all() for column in values.values())
    scaled = {key: np.log(column) for key, column in values.items()} if positive else values
    return knee(merits(scaled, aims))


def _reaches_required(merit: Merits, aims: tuple[Aim, ...]) -> NDArray[np.bool_]:
    required = [
        -np.inf if aim.required is None else aim.required if aim.maximise else -aim.required
        for aim in aims
    ]
    return np.asarray((merit >= required).all(axis=1), dtype=np.bool_)


def _best(first: NDArray[np.float64], second: NDArray[np.float64]) -> int:
    return int(np.lexsort((-second, -first))[0])


def facts_of(data: RunData) -> Facts:
    """Reduce a run to its page."""
    aims = aims_of(data.study)
    empty = {key: column[:0] for key, column in data.designs.items()}
    front = _sorted_front(data.front or empty, data.study.aims)
    feasible = np.asarray(data.designs["feasible"], dtype=float) == 1
    status = np.asarray(data.designs["status"]).astype(str)
    hover = (*study_keys(data.study), "turbine_efficiency", "mass_flow", "governing_mode")
    spans = _spans(data.study)
    return Facts(
        title=data.study.title,
        study=data.study,
        study_text=data.study_text,
        provenance=data.provenance,
        aims=aims,
        evaluated=len(feasible),
        matched=int(np.count_nonzero(status == MATCHED)),
        feasible=int(np.count_nonzero(feasible)),
        statuses=tuple(Counter(s for s in status.tolist() if s != MATCHED).most_common()),
        candidates=_candidates(data, front),
        front=front,
        cloud={aim.key: np.asarray(data.designs[aim.key], dtype=float)[feasible] for aim in aims},
        hover=tuple(dict.fromkeys(key for key in hover if key in front)),
        columns=tuple(dict.fromkeys(key for key in (*hover, *TABLE_ONLY) if key in front)),
        spans=spans,
        limits=_limits(data.study, data.designs, front, aims[0]),
        range_ends=_range_ends(spans, front),
        outside=_outside(front),
        recheck=recheck_of(front),
        closest=() if feasible.any() else _closest(data.study, data.designs),
    )


def study_keys(study: Study) -> tuple[str, ...]:
    """List the aims, the six variables, then every machine number that the study searches too."""
    return (*study.aims, *study.searched())


def row_of(table: Table, row: int) -> Values:
    """One row as plain numbers and words."""
    return {
        key: str(column[row]) if _is_text(key) else float(column[row])
        for key, column in table.items()
    }


def _is_text(key: str) -> bool:
    return key in COLUMNS and COLUMNS[key].is_text


def _sorted_front(front: Table, aims: Mapping[str, str]) -> Table:
    merit = merits(front, aims)
    numbered = {"design": np.arange(1, len(merit) + 1), **front}
    order = np.lexsort((-merit[:, 1], -merit[:, 0]))
    return {key: np.asarray(column)[order] for key, column in numbered.items()}


def _candidates(data: RunData, front: Table) -> tuple[Candidate, ...]:
    rows = marked(data.study, front)
    found = []
    for row in dict.fromkeys(rows.values()):
        roles = tuple(role for role in ROLES if rows.get(role) == row)
        values = row_of(front, row)
        found.append(
            Candidate(
                roles=roles,
                design=int(float(values["design"])),
                values=values,
                losses=losses_of(values),
                curve=data.speed_curves.get(roles[0], {}),
                inside=inside_of(values, data.gaps.get(roles[0]), data.waves.get(roles[0])),
            )
        )
    return tuple(found)


def losses_of(values: Values) -> tuple[Loss, ...]:
    """Every known loss in the order of the flow."""
    whole = float(values.get("isentropic_power", np.nan))
    return tuple(
        Loss(key, float(values[key]), float(values[key]) / whole)
        for key in LOSSES
        if key in values and np.isfinite(float(values[key])) and whole > 0
    )


def _sides(study: Study) -> list[tuple[str, Side, float]]:
    found: list[tuple[str, Side, float]] = []
    for key, limit in with_standing(study.all_limits).items():
        if limit.min is not None:
            found.append((key, "min", limit.min))
        if limit.max is not None:
            found.append((key, "max", limit.max))
    return found


def _past(designs: Table, key: str, side: Side, bound: float) -> NDArray[np.float64]:
    limit = Limit[float](min=bound) if side == "min" else Limit[float](max=bound)
    return violations(designs, {key: limit})[:, 0]


def _limits(study: Study, designs: Table, front: Table, first: Aim) -> tuple[LimitFact, ...]:
    matched = designs["status"] == MATCHED
    found = []
    for key, side, bound in _sides(study):
        near = np.abs(np.asarray(front[key], dtype=float) - bound) <= NEAR * abs(bound)
        reach = np.asarray(front[first.key], dtype=float)[near]
        found.append(
            LimitFact(
                key,
                side,
                bound,
                failed=int(np.count_nonzero(matched & (_past(designs, key, side, bound) > 0))),
                binding=reach.size,
                span=(float(reach.min()), float(reach.max())) if reach.size else None,
            )
        )
    return tuple(sorted(found, key=lambda fact: (-fact.failed, -fact.binding)))


def _spans(study: Study) -> dict[str, tuple[float, float]]:
    return {
        key: (float(values.lowest), float(values.highest))
        for key, values in study.searched().items()
        if not _is_text(key) and not values.is_fixed
    }


def _range_ends(spans: Mapping[str, tuple[float, float]], front: Table) -> tuple[RangeEnd, ...]:
    found = []
    for key, (low, high) in spans.items():
        values = np.asarray(front[key], dtype=float)
        if not values.size:
            continue
        reach = AT_END * (high - low)
        found += [
            RangeEnd(key, "smallest", low, float(np.mean(values <= low + reach))),
            RangeEnd(key, "largest", high, float(np.mean(values >= high - reach))),
        ]
    return tuple(sorted((f for f in found if f.share >= CROWDED), key=lambda f: -f.share))


def _outside(front: Table) -> tuple[tuple[str, int], ...]:
    notes: Counter[str] = Counter()
    for text in np.asarray(front.get("validity", ())).astype(str).tolist():
        notes.update({part.strip() for part in text.split(";") if part.strip()})
    return tuple(notes.most_common())


def _closest(study: Study, designs: Table) -> tuple[CloseDesign, ...]:
    """Find the matched designs with the smallest sum of violations."""
    sides = _sides(study)
    each = np.stack([_past(designs, *side) for side in sides], axis=1)
    rows = np.flatnonzero(designs["status"] == MATCHED)
    nearest = rows[np.argsort(each[rows].sum(axis=1), kind="stable")[:CLOSEST]]
    return tuple(
        CloseDesign(
            row_of(designs, int(row)),
            tuple(side for side, past in zip(sides, each[row], strict=True) if past > 0),
        )
        for row in nearest
    )
