"""From a run folder to its report."""

from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np

from engine.bands.sources import sources_of_rows
from engine.bench.telling import telling_test
from engine.columns import Results
from engine.errors import RunFolderError
from engine.model.limits import MATCHED, with_standing
from engine.model.version import MODEL_VERSION
from engine.physics.gap.profiles import GapProfiles
from engine.physics.plane.answer import Progress as PlaneProgress
from engine.run import details
from engine.run.folder import (
    CLOSEST,
    read_designs,
    read_front,
    read_state,
)
from engine.run.planes import plane_of_design, stored_plane
from engine.run.read import read_history, study_of_run
from engine.run.rubbing import rubbing_of_run
from engine.run.state import Provenance, RunState
from engine.run.unfinished import front_so_far, runaway_of
from engine.study.pump.study import PumpStudy
from engine.study.study import Study, most_stages
from reports.kit.quantities import count
from reports.run import page
from reports.run.facts import Counts, Role, RunData, shown
from reports.run.pump import page as pump_page

SAMPLE = 200_000
"""Most designs that a page is made from, besides the front; of more, an even sample."""


def report_of_run(folder: Path) -> str:
    """Make the page of a run folder.

    Raises RunFolderError where it is no run folder, damaged, or of another version of the model.
    """
    return page_of(data_of_run(folder))


def page_of(data: RunData) -> str:
    """Make the page of a run, by the kind of machine that its study asks for."""
    if data.study.kind == "pump":
        return pump_page.write_report(data)
    return page.write_report(data)


def follow_shown(folder: Path, tell: Callable[[PlaneProgress], None]) -> int:
    """Follow the builds shown of a run that has ended in the plane, where its study asks for it.

    Gives their number. What has been stored before is kept, so a run that was killed goes on.
    """
    study, _ = study_of_run(folder)
    if study.search.closer != "plane" or read_state(folder)[1].state != "done":
        return 0
    front = read_front(folder)
    rows = {*shown(study, front).values()} if front else set[int]()
    judged = details.as_judged(study, front)
    for row in sorted(rows):
        plane_of_design(folder, judged, front, row, tell)
    return len(rows)


def refuse_other_model(folder: Path, provenance: Provenance) -> None:
    """Raise RunFolderError where a run was made by another version of the model.

    What is computed of its designs now would not agree with what the run stored.
    """
    if provenance.model_version != MODEL_VERSION:
        msg = f"{folder}: was made by model version {provenance.model_version}, and this is version"
        msg += f" {MODEL_VERSION}: run its study again, into another folder"
        raise RunFolderError(msg)


def data_of_run(folder: Path, *, in_depth: bool = True) -> RunData:
    """Read what a run folder holds; of a run that still goes on, what it has stored so far.

    `in_depth` computes the charts of each candidate too. That takes seconds, and the run must be
    of this version of the model.
    """
    provenance, state = read_state(folder)
    if in_depth:
        refuse_other_model(folder, provenance)
    study, text = study_of_run(folder)
    keys = (*study.aims, *study.searched(), *with_standing(study.all_limits, study.works_as))
    keys = tuple(dict.fromkeys((*keys, "design", "status", "feasible", "violation")))
    designs = read_designs(folder, keys, SAMPLE) or {key: np.empty(0) for key in keys}
    n_matched = state.statuses.get(MATCHED, 0)
    going_on = state.state == "running"
    front = front_so_far(study, folder) if going_on else read_front(folder)
    front = front or {key: values[:0] for key, values in designs.items()}
    rows = shown(study, front) if in_depth else {}
    judged = details.as_judged(study, front)
    if going_on:
        front = runaway_of(study, front, list(rows.values()))
    return RunData(
        study=study,
        study_text=text,
        provenance=_origin(provenance, state),
        designs=designs,
        counts=Counts(
            state.designs,
            state.feasible,
            state.statuses,
            {key: n_matched - met for key, met in state.limits_met.items()},
            state.fallen,
            state.unsampled,
        ),
        closest={} if state.feasible else read_front(folder, CLOSEST),
        growth=read_history(folder),
        front=front,
        speed_curves={role: details.speed_curve(judged, front, row) for role, row in rows.items()},
        gaps=dict(zip(rows, details.gap_profiles(study, front, list(rows.values())), strict=False)),
        later_gaps=_later_gaps(study, front, rows),
        waves={role: details.disc_waves(front, row) for role, row in rows.items()},
        # The page of a run that goes on is made again and again, so these are left out.
        steps={}
        if going_on
        else {role: details.single_steps(study, front, row) for role, row in rows.items()},
        sources={}
        if going_on
        else dict(zip(rows, sources_of_rows(study, front, list(rows.values())), strict=True)),
        planes={
            role: flow
            for role, row in rows.items()
            if study.search.closer == "plane"
            and (flow := stored_plane(folder, int(front["design"][row]))) is not None
        },
        sockets={}
        if going_on
        else dict(zip(rows, details.at_sockets(judged, front, list(rows.values())), strict=True)),
        stresses={role: details.disc_stress(front, row) for role, row in rows.items()},
        rubbing=()
        if going_on or not rows or study.kind == "pump"
        else rubbing_of_run(folder, study, designs, front, list(dict.fromkeys(rows.values()))),
        telling=None
        if going_on or not rows or study.kind == "pump"
        else telling_test(study, front, rows["pick"]),
    )


def _later_gaps(
    study: Study | PumpStudy, front: Results, rows: Mapping[Role, int]
) -> dict[Role, tuple[GapProfiles, ...]]:
    """Flow inside one gap of each stage behind the first, of each build shown."""
    places = list(rows.values())
    later = [
        details.gap_profiles(study, front, places, stage=stage)
        for stage in range(2, most_stages(study) + 1)
    ]
    return dict(zip(rows, zip(*later, strict=True), strict=True)) if later and rows else {}


def _origin(provenance: Provenance, state: RunState) -> dict[str, str]:
    """List the origin of a run, name to text."""
    search = f"{count(state.designs)} designs"
    if state.ended_early:
        search = f"ended early, after {count(state.searched)} of {count(state.budget)} designs: "
        search += "the front grew no more"
    return {
        "Study": provenance.study_hash[:16],
        "Seed": str(provenance.seed),
        "Model version": str(provenance.model_version),
        **provenance.versions,
        "Started": state.started,
        "Time spent": f"{state.seconds:.0f} s",
        "Search": search,
    }
