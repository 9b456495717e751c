"""Pages and charts made from a finished run."""

from pathlib import Path

from engine import api
from engine.limits import with_standing
from reports.facts import RunData, marked
from reports.page import write_report

__all__ = ["RunData", "marked", "report_of_run", "write_report"]


def report_of_run(folder: Path) -> str:
    """Page of a run folder; raises RunFolderError where it is damaged or none."""
    study, text = api.study_of_run(folder)
    provenance, state = api.read_state(folder)
    keys = (*study.aims, *study.searched(), *with_standing(study.all_limits))
    designs = api.read_designs(folder, tuple(dict.fromkeys((*keys, "status", "feasible"))))
    front = api.read_front(folder) or {key: values[:0] for key, values in designs.items()}
    rows = marked(study, front)
    judged = api.as_judged(study, front)
    early = state.state == "done" and state.front > 0 and state.designs < state.budget
    return write_report(
        RunData(
            study=study,
            study_text=text,
            provenance={
                "Study": provenance.study_hash[:16],
                "Seed": str(provenance.seed),
                "Model version": str(provenance.model_version),
                **provenance.versions,
                "Started": state.started,
                "Time spent": f"{state.seconds:.0f} s",
                "Search": f"ended early, after {state.designs:,} of {state.budget:,} designs: "
                "the front grew no more"
                if early
                else f"{state.designs:,} designs",
            },
            designs=designs,
            front=front,
            speed_curves={role: api.speed_curve(judged, front, row) for role, row in rows.items()},
            gaps=dict(zip(rows, api.gap_profiles(study, front, list(rows.values())), strict=True)),
            waves={role: api.disc_waves(front, row) for role, row in rows.items()},
            steps={role: api.single_steps(study, front, row) for role, row in rows.items()},
            sources=dict(
                zip(rows, api.band_sources(study, front, list(rows.values())), strict=True)
            ),
            stresses={role: api.disc_stress(front, row) for role, row in rows.items()},
        )
    )
