"""A run reduced to what its page says, as plain frozen data. No wording, no charts."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from engine.bands.sources import Indices
from engine.bench.telling import TellingTest
from engine.columns import LOSSES, base_key, restated
from engine.model.limits import MATCHED
from engine.model.socket import AtSocket
from engine.model.strength import StressThrough
from engine.physics.gap.profiles import GapProfiles
from engine.physics.machine.vibration import ModeChart
from engine.physics.plane.answer import PlaneFlow
from engine.run.pick import is_other_speed, picks_of
from engine.run.read import Growth
from engine.run.rubbing import Rubbing
from engine.search.front import merits
from engine.study.study import Study
from reports.run.bands import (
    Band,
    Carries,
    Source,
    bands_of,
    carries_of,
    chance_of_all,
    sources_of,
)
from reports.run.inside import Inside, Recheck, inside_of, recheck_of
from reports.run.listed import listed_of
from reports.run.search_facts import (
    Aim,
    CloseDesign,
    LimitFact,
    RangeEnd,
    Table,
    Values,
    closest_designs,
    limit_facts,
    outside,
    range_ends,
    row_of,
    spans_of,
)
from reports.run.stages import BestOfStages, best_of_stages, without_idle
from reports.run.steps import Step, steps_of

Role: TypeAlias = str
ROLES: tuple[Role, ...] = ("pick", "calmer", "calmest")
"""Roles of the builds that the page shows: the one to cut, and two calmer ones."""
NAMES: Mapping[Role, str] = {"pick": "Pick", "calmer": "Calmer", "calmest": "Calmest"}
NEAR_EQUAL = 0.03
"""A build is nearly equal where it loses no more than this share of the pick's first two aims."""
TABLE_ONLY = (
    "flow",
    "head",
    "wire_to_water",
    "free_passage",
    "npsh_margin",
    "resolved_power",
    "electric_power_p10",
    "electric_power_p90",
    "chance_all",
    "shaft_power",
    "supply_efficiency",
    "rim_speed",
    "runaway_ratio",
    "stored_energy",
)
"""Columns of the table of all builds besides aims, variables and how it fails."""


@dataclass(frozen=True)
class Counts:
    """Designs of a run by what became of them."""

    evaluated: int
    feasible: int
    statuses: Mapping[str, int]
    missed: Mapping[str, int]
    """By limit: designs with an operating point that miss it."""
    fallen: Mapping[str, str] = field(default_factory=dict)
    """Designs taken off the front after the recheck, by number, each with the reason."""
    unsampled: int = 0
    """Designs of a robust search that were evaluated as drawn only."""


@dataclass(frozen=True)
class RunData:
    """Everything the page is made from."""

    study: Study
    study_text: str
    provenance: Mapping[str, str]
    """Name to text: versions, seed, hash, times."""
    designs: Table
    """Every design evaluated, or an even sample of them; 'feasible' is 1 or 0."""
    front: Table
    """The non-dominated feasible designs, same keys as `designs`."""
    speed_curves: Mapping[Role, Table] = field(default_factory=dict)
    """By role of `marked`: one design at many speeds."""
    gaps: Mapping[Role, GapProfiles] = field(default_factory=dict)
    """By role: inside one gap, an axis of one lane first."""
    later_gaps: Mapping[Role, Sequence[GapProfiles]] = field(default_factory=dict)
    """The same of each stage behind the first that the study allows."""
    waves: Mapping[Role, tuple[NDArray[np.float64], ModeChart]] = field(default_factory=dict)
    """By role: speeds, and frequencies of a disc's waves there, an axis of one lane first."""
    steps: Mapping[Role, Table] = field(default_factory=dict)
    """By role: the design with one variable at a time a step lower or higher."""
    stresses: Mapping[Role, StressThrough] = field(default_factory=dict)
    """By role: stress through its disc, an axis of one lane first."""
    sockets: Mapping[Role, AtSocket | None] = field(default_factory=dict)
    """By role: where it settles with the loads, where the study says enough."""
    planes: Mapping[Role, PlaneFlow] = field(default_factory=dict)
    """By role: the flow in the plane of the discs, where the study asks for it."""
    counts: Counts | None = None
    """Of all designs, where `designs` is only a sample."""
    closest: Table = field(default_factory=dict)
    """The closest of all designs where none is feasible."""
    growth: Growth | None = None
    sources: Mapping[Role, Mapping[str, Indices]] = field(default_factory=dict)
    """By role: which inputs cause the bands of some results."""
    rubbing: tuple[Rubbing, ...] = ()
    """What the marked designs lose if the casing rubs half or twice as much."""
    telling: TellingTest | None = None
    """The bench test of the first of them that tells how much."""


@dataclass(frozen=True)
class Loss:
    """One loss between supply and terminals."""

    key: str
    watts: float
    share: float
    """Of the isentropic power."""


@dataclass(frozen=True)
class Candidate:
    """One of the builds that the page shows."""

    roles: tuple[Role, ...]
    design: int
    """Number of the design, as the table shows it."""
    values: Values
    losses: tuple[Loss, ...]
    """In the order of the flow."""
    curve: Table
    """Against speed; empty where none was computed."""
    inside: Inside
    steps: tuple[Step, ...] = ()
    """What one step of each variable changes; empty where none was computed."""
    bands: tuple[Band, ...] = ()
    """Of aims and limited results; empty where none were made."""
    chance: float = np.nan
    """How likely every limit is met."""
    sources: Mapping[str, tuple[Source, ...]] = field(default_factory=dict)
    """Inputs that cause the band of a result, the strongest first."""
    carries: Carries | None = None
    """None where the study lists no loads."""
    plane: PlaneFlow | None = None
    """None where it was not followed in the plane of the discs."""
    socket: AtSocket | None = None
    """None where the study says too little of generator and loads."""

    misses: tuple[str, ...] = ()
    """Metal limits that it does not hold in nine of ten, and `TOO_NEAR`."""
    same_parts: bool = False
    """Whether it is the stack of the pick at another speed."""

    @property
    def name(self) -> str:
        """What the page calls it."""
        return NAMES[self.roles[0]]

    @property
    def told(self) -> str:
        """What a sentence calls it."""
        return "the pick" if self.roles[0] == "pick" else f"the {self.roles[0]} build"

    @property
    def running(self) -> tuple[str, ...]:
        """Appliances that run together, in the order of the study."""
        return tuple(str(self.values.get("loads_carried", "")).split(", "))


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
    unsampled: int
    """Designs of a robust search without bands."""
    sampled: int
    """The cloud holds one design in this many."""
    statuses: tuple[tuple[str, int], ...]
    """Why designs have no operating point, most frequent first."""
    fallen: tuple[tuple[str, str], ...]
    """Designs taken off the front after the recheck, each with the reason."""
    candidates: tuple[Candidate, ...]
    """The pick first; none where nothing is feasible."""
    most: Values | None
    """The best first aim of all, where it is not the pick."""
    most_misses: tuple[str, ...]
    """As `Candidate.misses`."""
    holds: bool
    """Whether the pick holds its metal limits in nine of ten."""
    judged: bool
    """Whether there are bands, by which the pick was judged."""
    front: Table
    """Best first aim first, with 'design' as number."""
    listed: Table
    """Those of the front that chart and table of all builds show, in the same order."""
    near: Table
    """Feasible designs, of those stored, that are nearly equal to the pick: aims and variables."""
    columns: tuple[str, ...]
    """Keys that the table of all builds shows."""
    spans: Mapping[str, tuple[float, float]]
    """Ends of the ranges of the variables that vary."""
    limits: tuple[LimitFact, ...]
    range_ends: tuple[RangeEnd, ...]
    outside: tuple[tuple[str, int], ...]
    """Relations used outside their published range, with the number of front designs."""
    recheck: Recheck | None
    closest: tuple[CloseDesign, ...]
    """Only where nothing is feasible."""
    growth: Growth | None
    rubbing: tuple[Rubbing, ...] = ()
    telling: TellingTest | None = None
    stages: tuple[BestOfStages, ...] = ()
    """Only where their number is searched."""

    @property
    def pick(self) -> Candidate:
        """The build that the page leads with."""
        return self.candidates[0]


def aims_of(study: Study) -> tuple[Aim, ...]:
    """List the aims in the order of the study, each with the level that a limit requires."""
    aims = []
    for key, sense in study.aims.items():
        maximise = sense == "maximise"
        limit = study.all_limits.get(key)
        required = None if limit is None else limit.min if maximise else limit.max
        if required is None and base_key(key) == "safety_margin" and maximise:
            required = 1.0  # below it the first failure comes before running speed
        aims.append(Aim(key, maximise, required))
    return tuple(aims)


def shown(study: Study, front: Table) -> dict[Role, int]:
    """Find the front rows of the builds that the page shows; empty for an empty front."""
    picks = picks_of(study, dict(front))
    return {} if picks is None else {role: picks.rows[role] for role in ROLES}


def facts_of(data: RunData) -> Facts:
    """Reduce a run to what its page says."""
    aims = aims_of(data.study)
    empty = {key: column[:0] for key, column in data.designs.items()}
    front = _sorted_front(data.front or empty, data.study.aims)
    feasible = np.asarray(data.designs["feasible"], dtype=float) == 1
    counts = data.counts or _counted(data.designs, feasible)
    statuses = Counter(counts.statuses)
    matched = statuses.pop(MATCHED, 0)
    columns = (*study_keys(data.study), "turbine_efficiency", "mass_flow", "governing_mode")
    spans = spans_of(data.study)
    picks = picks_of(data.study, dict(front))
    most = None if picks is None or picks.rows["most"] == picks.rows["pick"] else picks.rows["most"]
    candidates = _candidates(data, front)
    return Facts(
        title=data.study.title,
        study=data.study,
        study_text=data.study_text,
        provenance=data.provenance,
        aims=aims,
        evaluated=counts.evaluated,
        matched=matched,
        feasible=counts.feasible,
        unsampled=counts.unsampled,
        sampled=max(1, round(counts.evaluated / max(len(feasible), 1))),
        statuses=tuple(statuses.most_common()),
        fallen=tuple(counts.fallen.items()),
        candidates=candidates,
        most=None if most is None else row_of(front, most),
        most_misses=() if picks is None else tuple(picks.misses.get("most", ())),
        holds=picks is not None and picks.holds,
        judged=picks is not None and picks.judged,
        front=without_idle(front),
        listed=listed_of(front, aims, () if picks is None else picks.rows.values()),
        near=without_idle(_near_equal(data, candidates, feasible)),
        columns=tuple(dict.fromkeys(key for key in (*columns, *TABLE_ONLY) if key in front)),
        spans=spans,
        limits=limit_facts(data.study, data.designs, front, aims[0], counts.missed),
        range_ends=range_ends(spans, without_idle(front), aims[0]),
        outside=outside(front),
        recheck=recheck_of(front),
        closest=()
        if counts.feasible
        else closest_designs(data.study, data.closest or data.designs),
        growth=data.growth,
        rubbing=data.rubbing,
        telling=data.telling,
        stages=best_of_stages(data.study, data.designs),
    )


def _counted(designs: Table, feasible: NDArray[np.bool_]) -> Counts:
    status = np.asarray(designs["status"]).astype(str)
    return Counts(len(feasible), int(np.count_nonzero(feasible)), Counter(status.tolist()), {})


def study_keys(study: Study) -> tuple[str, ...]:
    """List the aims, then every variable that the study searches, the angle at both radii."""
    return (*study.aims, *restated(study.searched()))


def _sorted_front(front: Table, aims: Mapping[str, str]) -> Table:
    merit = merits(front, aims)
    numbered = {"design": np.arange(1, len(merit) + 1), **front}
    order = np.lexsort((-merit[:, 1], -merit[:, 0]))
    return {key: np.asarray(column)[order] for key, column in numbered.items()}


def _candidates(data: RunData, front: Table) -> tuple[Candidate, ...]:
    picks = picks_of(data.study, dict(front))
    if picks is None:
        return ()
    rows = shown(data.study, front)
    aims = aims_of(data.study)
    found = []
    for row in dict.fromkeys(rows.values()):
        roles = tuple(role for role in ROLES if rows[role] == row)
        values = row_of(front, row)
        found.append(
            Candidate(
                roles=roles,
                design=int(float(values["design"])),
                values=values,
                losses=losses_of(values),
                curve=data.speed_curves.get(roles[0], {}),
                inside=inside_of(
                    values,
                    data.gaps.get(roles[0]),
                    data.waves.get(roles[0]),
                    data.stresses.get(roles[0]),
                    data.later_gaps.get(roles[0], ()),
                ),
                steps=steps_of(data.study, values, aims, data.steps.get(roles[0])),
                bands=bands_of(data.study, values),
                chance=chance_of_all(values),
                sources=sources_of(data.sources.get(roles[0], {})),
                carries=carries_of(data.study, values),
                plane=data.planes.get(roles[0]),
                socket=data.sockets.get(roles[0]),
                misses=tuple(picks.misses.get(roles[0], ())),
                same_parts=is_other_speed(data.study, dict(front), rows["pick"], row),
            )
        )
    return tuple(found)


def _near_equal(
    data: RunData, candidates: tuple[Candidate, ...], feasible: NDArray[np.bool_]
) -> Table:
    """Feasible designs that lose next to nothing against the pick in the first two aims."""
    if not candidates:
        return {}
    near = feasible.copy()
    for aim in aims_of(data.study)[:2]:
        best = float(candidates[0].values[aim.key])
        room = NEAR_EQUAL * abs(best)
        values = np.asarray(data.designs[aim.key], dtype=float)
        near &= (values >= best - room) if aim.maximise else (values <= best + room)
    keys = dict.fromkeys([*data.study.aims, *data.study.searched(), "design"])
    return {key: np.asarray(data.designs[key])[near] for key in keys if key in data.designs}


def losses_of(values: Values) -> tuple[Loss, ...]:
    """List every known loss in the order of the flow."""
    whole = float(values.get("isentropic_power", np.nan))
    return tuple(
        Loss(key, float(values[key]), float(values[key]) / whole)
        for key in LOSSES
        if key in values and np.isfinite(float(values[key])) and whole > 0
    )
