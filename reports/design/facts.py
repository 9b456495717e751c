"""A design reduced to what its build sheet and bench plan say, as plain frozen data."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from engine.bench.readings import BenchReadings
from engine.bench.telling import TellingTest
from engine.catalogue import (
    Bearing,
    bearings,
    clamp_material,
    materials,
    process_values,
)
from engine.columns import COLUMNS
from engine.model.clamping import Clamping, clamping
from engine.model.pump.stack import as_stack
from engine.model.shaft_layout import CLAMP_THICKNESS, ShaftLayout, shaft_layout, whole_height
from engine.model.socket import AtSocket
from engine.model.warp import Warp, warp
from engine.study.study import Study
from reports.design.as_made import Rounding, web_from
from reports.design.casing import Casing, Housing
from reports.design.collector import Collector
from reports.design.expected import (
    LockedReading,
    Reading,
    locked_of,
    readings_of,
    torque_at_start,
)
from reports.design.housings import casing_of, collector_of
from reports.design.outlines import Flat, Part, Web, disc, spacer
from reports.design.ring_bolts import RingBolts, ring_bolts, ring_on_bolts
from reports.design.shop_sizes import general_tolerance
from reports.design.staging import Staged, heights_of
from reports.run.charts.stacks import Stack, stacks_of
from reports.run.facts import Candidate, Role, losses_of
from reports.run.inside import inside_of
from reports.run.search_facts import Table, row_of

REAMED = ((3.0, 10), (6.0, 12), (10.0, 15), (18.0, 18), (30.0, 21), (50.0, 25), (80.0, 30))
"""H7 of ISO 286-2: up to this size [mm], wider by at most [um]; from memory."""


MOTOR_PULLS = 2.5
"""Highest torque of an induction motor over that of its rating, as it starts; common practice."""


@dataclass(frozen=True)
class BuildData:
    """Everything that a build sheet or a bench plan is made from."""

    study: Study
    front: Table
    row: int
    """Row of the design in the front."""
    letter: str
    """Mark of the candidate that it is, '' for none."""
    roles: tuple[Role, ...]
    readings: BenchReadings
    """The design at the speeds of the bench run; `NO_READINGS` for a pump, as `locked`."""
    locked: BenchReadings
    """The design with its rotor locked, from low supply pressure to full."""
    provenance: Mapping[str, str]
    """Name to text."""
    telling: TellingTest | None = None
    """The test that tells how hard the casing rubs; None where that is taken as known."""
    rounding: Rounding = field(default_factory=Rounding)
    """What rounding its sizes did to the numbers in its row."""
    socket: AtSocket | None = None
    """Where it settles with the loads, where the study says enough for that."""


@dataclass(frozen=True)
class Tolerances:
    """Tolerances of discs and spacers as the shop makes them, SI."""

    thickness: float
    """Plus or minus."""
    wedge: float
    """Change of thickness across one disc."""
    lean: float
    """Most that a rim is out of the plane of its clamped part."""
    spacer: float
    """Plus or minus."""
    run_out: float
    """Axial, total reading at the rim."""
    eccentricity: float
    """Offset of the rim from the shaft hole."""


@dataclass(frozen=True)
class GapCheck:
    """Local gap at the rim with every tolerance at its limit."""

    narrowest: float
    """At rest [m]; 0 where discs may touch."""
    widest: float
    """At rest [m]."""
    running: float
    """Narrowest at speed, including bending by pressure and heat [m]."""


@dataclass(frozen=True)
class RimRoom:
    """The rim clearance, and what reduces it."""

    cold: float
    growth: float
    eccentricity: float
    size: float
    """Half of the diameter's tolerance."""

    @property
    def left(self) -> float:
        """Least clearance at running speed [m]."""
        return self.cold - self.growth - self.eccentricity - self.size


@dataclass(frozen=True)
class BuildFacts:
    """The whole sheet in numbers."""

    study: Study
    candidate: Candidate
    letter: str
    place: int
    """Rank on the front by the first aim, the best first."""
    front_size: int
    provenance: Mapping[str, str]
    web: Web
    """Of the discs; where bolts hold these, of the end clamps alone."""
    disc: Flat
    spacer: Part
    bolts: RingBolts | None
    """That hold the discs; None where a web does."""
    casing: Casing | None
    """Of a turbine, its first stage; None where it cannot be drawn, and for a pump."""
    staged: Staged | None
    """All stages of that casing, where there is more than one."""
    collector: Collector | None
    """The same of a pump."""
    no_casing: str
    """Why no casing is drawn, '' where it is."""
    tolerances: Tolerances
    gap: GapCheck
    room: RimRoom
    clamp: Clamping
    warp: Warp
    stacks: tuple[Stack, ...]
    """Where each stack stands on the shaft."""
    layout: ShaftLayout
    """Shaft, what it carries and what carries it: one lane."""
    span: float
    """Between the middles of the bearings [m]."""
    bearing: Bearing
    readings: tuple[Reading, ...]
    locked: tuple[LockedReading, ...]
    telling: TellingTest | None
    rounding: Rounding

    @property
    def housing(self) -> Housing | None:
        """Casing of a machine of either kind."""
        return self.casing or self.collector

    @property
    def is_pump(self) -> bool:
        """Whether it is one."""
        return self.study.kind == "pump"

    @property
    def drive(self) -> str:
        """What is on the other side of coupling or belt."""
        return "motor" if self.is_pump else "generator"

    @property
    def bore(self) -> str:
        """What the inner edge of the rings of the discs is called."""
        return "eye" if self.is_pump else "exhaust bore"

    @property
    def between(self) -> str:
        """What keeps two discs apart."""
        return "spacer" if self.bolts is None else "washer"

    @property
    def seal(self) -> str:
        """What runs in an end plate."""
        return "wear ring" if self.is_pump else "collar"

    @property
    def whole_height(self) -> float:
        """From the lower face of the stack, or of the first one, to the upper one [m]."""
        if len(self.stacks) == 1:
            return self.number("stack_height")
        return float((self.layout.span - 2 * self.layout.bearing_distance)[0])

    @property
    def closed(self) -> bool:
        """Whether an end of the stack has no opening."""
        return self.number("exhaust_ends") == 1

    @property
    def blanks(self) -> int:
        """Number of discs without openings: one closes the end, but rings on bolts their clamp."""
        return 1 if self.closed and self.bolts is None else 0

    @property
    def wide_clamp(self) -> float:
        """Thickness of end clamps as wide as the discs, 0 where they are not [mm]."""
        return 1e3 * CLAMP_THICKNESS if self.bolts is not None else 0.0

    @property
    def clamp_sheet(self) -> str:
        """What the end clamps are cut from, as it is ordered."""
        return materials()[clamp_material(self.word("material"))].title

    @property
    def beside(self) -> float:
        """From an end disc to the plate of the casing: side gap, and end clamp if wide [mm]."""
        return 1e3 * self.number("side_gap") + self.wide_clamp

    def number(self, key: str) -> float:
        """One number of the design, SI."""
        return float(self.candidate.values[key])

    def laid(self, name: str) -> float:
        """One length of the layout, in mm."""
        return float(COLUMNS["gap"].to_drawing(getattr(self.layout, name)[0]))

    def drawn(self, key: str) -> float:
        """Give a dimension to be made, SI: never what a fit found in its place."""
        fit = self.study.fit
        return self.number(key) if fit is None else fit.drawn.get(key, self.number(key))

    def word(self, key: str) -> str:
        """One word of the design."""
        return str(self.candidate.values[key])


def build_facts_of(data: BuildData) -> BuildFacts:
    """Reduce a design to what its sheet says; raises NoWebError where its disc cannot be drawn."""
    values = as_stack(row_of(data.front, data.row))
    size = {key: float(values[key]) for key in COLUMNS if _is_length(key) and key in values}
    web = web_from(values)
    diameter = _drawn("disc_diameter", size["disc_diameter"])
    bolts = ring_bolts(values, web)
    cut: Flat = disc(diameter=diameter, web=web)
    between = spacer(web=web)
    if bolts is not None:
        cut = ring_on_bolts(diameter=diameter, web=web, bolts=bolts)
    fit = data.study.fit
    is_pump = data.study.kind == "pump"
    tolerances = _tolerances(str(values["process"]), size)
    made = {**values, **(fit.drawn if fit else {})}
    lane = {key: np.array([value]) for key, value in made.items()}
    heights = heights_of(lane)
    layout = shaft_layout(lane, height=whole_height(lane, heights))
    drawn_sizes = size | dict(fit.drawn if fit is not None else {})
    housing = (None, None, "") if is_pump else casing_of(values, drawn_sizes, data.study)
    around = collector_of(values, drawn_sizes, layout) if is_pump else (None, "")
    readings, locked = readings_of(data.readings), locked_of(data.locked)
    return BuildFacts(
        study=data.study,
        candidate=Candidate(
            roles=data.roles,
            design=int(float(values["design"])),
            values=values,
            losses=losses_of(values),
            curve={},
            inside=inside_of(values, None, None),
        ),
        letter=data.letter,
        place=int(float(values.get("rank", data.row + 1))),
        front_size=len(data.front["design"]),
        provenance=data.provenance,
        web=web,
        disc=cut,
        spacer=between,
        bolts=bolts,
        casing=housing[0],
        staged=housing[1],
        collector=around[0],
        no_casing=housing[2] or around[1],
        tolerances=tolerances,
        gap=_gap_check(size, tolerances),
        room=RimRoom(
            cold=size["rim_clearance"],
            growth=size["rim_growth"],
            eccentricity=tolerances.eccentricity,
            size=_si(general_tolerance(_drawn("disc_diameter", size["disc_diameter"])) / 2),
        ),
        clamp=clamping(
            values,
            torque=_motor_torque(values) if is_pump else torque_at_start((*readings, *locked)),
            clamp_thickness=CLAMP_THICKNESS,
        ),
        warp=warp(values),
        stacks=stacks_of(lane),
        layout=layout,
        span=float(layout.span[0]),
        bearing=bearings()[str(values["bearing"])],
        readings=readings,
        locked=locked,
        telling=data.telling,
        rounding=data.rounding,
    )


def _motor_torque(values: Mapping[str, float | str]) -> float:
    """Find the highest torque that a motor gives the shaft of its pump [N m]."""
    rated = float(values["motor_power"]) / float(values["motor_speed"])
    return MOTOR_PULLS * rated / float(values["drive_ratio"])


def reamed(size: float) -> float:
    """Find how much wider than its size a reamed hole may be; both in mm."""
    return next((wider for most, wider in REAMED if size <= most), REAMED[-1][1]) / 1000


def _is_length(key: str) -> bool:
    return COLUMNS[key].unit.dimension == "length"


def _drawn(key: str, value: float) -> float:
    return float(COLUMNS[key].to_drawing(value))


def _si(millimetres: float) -> float:
    return float(COLUMNS["gap"].to_si(millimetres))


def _tolerances(process: str, size: Mapping[str, float]) -> Tolerances:
    found = process_values(process, size["disc_thickness"])
    return Tolerances(
        thickness=float(found.thickness_tolerance),
        wedge=float(found.wedge_share * found.thickness_tolerance),
        lean=float(found.flatness * size["disc_diameter"]),
        spacer=float(found.spacer_tolerance),
        run_out=float(found.run_out),
        eccentricity=float(found.eccentricity),
    )


def _gap_check(size: Mapping[str, float], tolerances: Tolerances) -> GapCheck:
    off = 2 * tolerances.lean + tolerances.spacer + tolerances.run_out
    return GapCheck(max(size["gap"] - off, 0.0), size["gap"] + off, size["rim_gap"])
