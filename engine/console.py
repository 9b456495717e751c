"""What the terminal shows. The only home of rich; the console object is passed in."""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

from rich.console import Console
from rich.table import Table as Grid
from rich.text import Text

from engine import pump_columns
from engine.columns import (
    COLUMNS,
    LOSSES,
    Column,
    columns_of,
    is_chance,
    is_share,
)
from engine.fluids.by_name import GASES
from engine.model.cautions import cautions_of
from engine.model.ladder import Rung, ladder
from engine.model.limits import STATUS_MEANING
from engine.model.parts import nut_note
from engine.model.worth import told, worth_of
from engine.search.space import Space, budget
from engine.study.study import Study
from engine.study.values import Limit
from engine.units import counted, fixed, percent

if TYPE_CHECKING:
    from engine.run.log import Progress
    from engine.run.point import Point
    from engine.run.preview import Preview
    from engine.run.runner import Outcome

Chain: TypeAlias = tuple[str, tuple[str, ...], str, str]
CHAINS: Mapping[str, Chain] = {
    "turbine": ("isentropic_power", LOSSES, "electric_power", "From supply to terminals"),
    "pump": (
        "electric_power",
        pump_columns.LOSSES,
        "hydraulic_power",
        "From terminals to discharge",
    ),
}
"""By kind of machine: power that comes, losses, power that is left, and the name of the table."""

CLOCK_FROM = 600.0
"""Above this time left [s] the end is given as a time of day."""


def terminal() -> Console:
    """Make the console that commands print to."""
    return Console(highlight=False)


def value_text(key: str, value: Any, digits: int = 4) -> str:
    """Write a value of a column in its drawing unit."""
    column = COLUMNS[key]
    if column.is_text:
        return str(value)
    drawn = float(column.to_drawing(value))
    if not math.isfinite(drawn):
        return "-"
    if key in ("survives_load_loss", "survives_trip"):
        return "yes" if drawn else "no"
    if key == "fatigue_cycles":
        return f"about {counted(10.0 ** round(math.log10(max(drawn, 1.0))))}"
    if is_share(key):
        return percent(drawn, 0) if is_chance(key) else f"{fixed(100 * drawn, digits)} %"
    number = fixed(drawn, digits)
    unit = "" if column.unit.symbol == "count" else column.unit.symbol
    return f"{number}°" if unit == "deg" else f"{number} {unit}".strip()


def limit_text(key: str, limit: Limit[float]) -> str:
    """Bounds of a limit in drawing units."""
    bounds = {"at least": limit.min, "at most": limit.max}
    return " and ".join(
        f"{word} {value_text(key, bound)}" for word, bound in bounds.items() if bound is not None
    )


def show_point(console: Console, study: Study, point: "Point") -> None:
    """One build: every result, every loss, every limit."""
    from engine.run.sections import SECTIONS  # noqa: PLC0415  not before it is needed

    columns = {**COLUMNS, **columns_of(study.works_as)}
    row = {key: values[0] for key, values in point.results.items()}
    console.print(Text(f"{study.title}: one build, {row['status']}", style="bold"))
    if point.impossible:
        console.print(Text("This build cannot be made:", style="bold red"))
        show_sentences(console, [f"- {reason}." for reason in point.impossible])
    elif row["status"] in STATUS_MEANING:
        console.print(f"No operating point: {STATUS_MEANING[row['status']]}.")
    for title, keys in SECTIONS[study.works_as].items():
        grid = Grid(title=title, title_justify="left", show_header=False, min_width=64)
        known = [key for key in keys if key in row and value_text(key, row[key]) not in ("-", "")]
        if title == "Fluid" and study.supply.fluid in GASES:
            continue  # no droplets, no boiler
        for key in known:
            grid.add_row(columns[key].label, value_text(key, row[key]) + _forced_by(key, row))
        if known:
            console.print(grid)
    whole, losses, left, title = CHAINS[study.kind]
    if math.isfinite(row[whole]):
        console.print(_losses(row, columns, (whole, losses, left, title)))
    if study.kind == "turbine":
        _show_turbine(console, study, row)
    if point.socket:
        console.print(_socket(point))
    console.print(_limits(row, point))
    if point.plane is not None:
        console.print(_plane(row, point))
    if note := nut_note(row):
        console.print(Text(note, style="yellow"))
    if row["validity"]:
        console.print(Text(f"Outside its valid range: {row['validity']}", style="yellow"))
    show_cautions(console, study)


def _show_turbine(console: Console, study: Study, row: Mapping[str, Any]) -> None:
    """Show what only a turbine has: its ladder of angular momentum, and what its power is worth."""
    if rungs := ladder(row):
        console.print(_ladder(rungs))
    if row["electric_power"] > 0:
        show_sentences(console, told(worth_of(study, row)))


def show_cautions(console: Console, study: Study) -> None:
    """Say what comes before any number of a study."""
    for caution in cautions_of(study):
        console.print(Text(caution, style="dim"))


def _forced_by(key: str, row: Mapping[str, Any]) -> str:
    """Say how many nozzles force a wave, beside its nodal diameters."""
    from engine.model.strength import forcing_counts  # noqa: PLC0415  not before it is needed

    if not key.endswith("wave_nodal_diameters") or "nozzle_count" not in row:
        return ""
    counts = ", ".join(map(str, forcing_counts(int(row[key]))))
    return f" (forced by nozzles: {counts})"


def _socket(point: "Point") -> Grid:
    """Tell where it settles as the loads come on one after the other."""
    heads = ("At the socket, switched on", "rpm", "V", "A", "W to loads")
    grid = Grid(*heads, title_justify="left", min_width=64)
    for row in point.socket:
        rpm = float(COLUMNS["speed"].to_drawing(row.speed))
        numbers = (rpm, row.voltage, row.current, row.power)
        cells = [fixed(each, 4) if math.isfinite(each) else "-" for each in numbers]
        name = row.switched_on if row is point.socket[0] else f"+ {row.switched_on}"
        grid.add_row(f"{name} (cuts in and out)" if row.cutting else name, *cells)
    return grid


def _losses(row: Mapping[str, Any], columns: Mapping[str, Column], chain: Chain) -> Grid:
    whole, losses, left, title = chain
    grid = Grid(title, "W", "Share", title_justify="left", min_width=64)
    grid.columns[1].justify = grid.columns[2].justify = "right"
    signs = [(whole, 1), *((key, -1) for key in losses), (left, 1)]
    for key, sign in signs:
        style = "bold" if sign > 0 else ""
        share = sign * row[key] / row[whole]
        grid.add_row(columns[key].label, f"{sign * row[key]:.2f}", percent(share), style=style)
    return grid


def _ladder(rungs: Sequence[Rung]) -> Grid:
    """Angular momentum from jets to outlet, and what takes it."""
    grid = Grid("Angular momentum", "mN m", "Taken", "by", title_justify="left", min_width=64)
    grid.columns[1].justify = grid.columns[2].justify = "right"
    before = rungs[0].passing
    for rung in rungs:
        taken = f"{1e3 * (before - rung.passing):.2f}" if rung.taken_by else ""
        grid.add_row(rung.place, f"{1e3 * rung.passing:.2f}", taken, rung.taken_by)
        before = rung.passing
    return grid


def _plane(row: Mapping[str, Any], point: "Point") -> Grid:
    """Powers and torques of the model beside those of the flow in the plane of the discs."""
    flow = point.plane
    grid = Grid("", "Model", "Plane", title="In the plane of the discs", title_justify="left")
    grid.columns[1].justify = grid.columns[2].justify = "right"
    if flow is None:
        return grid
    by_plane, swirl = point.plane_powers, row["rim_swirl_ratio"] * row["rim_speed"]
    torque = by_plane["rotor_power"] / row["speed"]
    rows: list[tuple[str, float, float, float, str]] = [
        ("Electric power", row["electric_power"], by_plane["electric_power"], 1, "W"),
        ("Checked power", row["resolved_power"], math.nan, 1, "W"),
        ("Rotor power", row["rotor_power"], by_plane["rotor_power"], 1, "W"),
        ("Rotor torque", row["rotor_torque"], torque, 1e3, "mN m"),
        ("Friction on the casing", math.nan, flow.casing_torque, 1e3, "mN m"),
        ("Heat of that", math.nan, flow.casing_heat, 1, "W"),
        ("Swirl into the gaps", swirl, flow.inflow_swirl, 1, "m/s"),
        ("Pressure around the rim", row["rim_pressure"], flow.ring_pressure, 1e-5, "bar"),
        ("Flow", row["mass_flow"], flow.mass_flow, 1e3, "g/s"),
        ("Largest residual of the balances", math.nan, flow.worst_residual, 100, "%"),
    ]
    for name, model, plane, scale, unit in rows:
        both = (model * scale, plane * scale)
        shown = [f"{fixed(x, 4)} {unit}" if math.isfinite(x) else "-" for x in both]
        grid.add_row(name, *shown)
    if not flow.settled:
        grid.caption = Text("It did not come to rest: do not use these numbers.", style="red")
    return grid


def _limits(row: Mapping[str, Any], point: "Point") -> Grid:
    grid = Grid("Limit", "Bound", "Here", "", title_justify="left", min_width=64)
    for key, limit in point.limits.items():
        here = value_text(key, row[key])
        missed = "unknown" if here == "-" else "missed"
        verdict = Text(missed, style="red") if key in point.missed else Text("met")
        grid.add_row(COLUMNS[key].label, limit_text(key, limit), here, verdict)
    return grid


def show_preview(console: Console, study: Study, found: "Preview") -> None:
    """Show what a sample of the space tells before the run."""
    size = "unlimited (a range has no step)" if found.size == float("inf") else counted(found.size)
    console.print(Text(study.title, style="bold"))
    console.print(f"Builds in the space: {size}; the run evaluates {counted(found.evaluated)}")
    console.print(f"Sampled {found.sampled}: {percent(found.matched, 0)} have an operating point")
    for reason, count in found.unmatched.items():
        console.print(f"  no operating point, {reason}: {percent(count / found.sampled, 0)}")
    grid = Grid("Limit", "Bound", "Share inside")
    for key, limit in study.all_limits.items():
        grid.add_row(COLUMNS[key].label, limit_text(key, limit), percent(found.met[key], 0))
    console.print(grid)
    if found.bites:
        console.print(f"Hardest limit to meet: {COLUMNS[found.bites].label.lower()}")
    console.print(f"Inside every limit: {percent(found.feasible)}")
    if found.hose_drop[1] > 0 and study.supply.dial == "before-hose":
        middle, most = (f"{drop / 1e5:.2g} bar" for drop in found.hose_drop)
        console.print(
            f"The hose takes {middle} in the middle build that can be fed, "
            f"{percent(found.hose_share, 0)} of the power in the flow; in one of ten over {most}"
        )
    tried, seconds = found.firm
    if tried:
        console.print(
            f"Then up to {counted(tried)} builds around the front are looked at as they may turn "
            f"out, in {duration(seconds)} of the time at most"
        )
    after = ", then the front is rechecked" if study.kind == "turbine" else ""
    console.print(f"Expected time: {duration(found.seconds)}{after}")
    show_cautions(console, study)


def duration(seconds: float) -> str:
    """Write a time in seconds, minutes or hours."""
    if seconds < 90:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"


@contextmanager
def progress_bar(console: Console, study: Study) -> "Iterator[Callable[[Progress], None]]":
    """Show the progress of a run; the function it gives is called after each generation."""
    from rich.progress import BarColumn, TextColumn  # noqa: PLC0415  not before it is needed
    from rich.progress import Progress as Bar  # noqa: PLC0415

    from engine.run.log import clock_time  # noqa: PLC0415

    aim = next(iter(study.aims))
    whole = sum(budget(study, Space.of(study)))
    bar = Bar(
        TextColumn("{task.fields[done]} of {task.fields[whole]}"),
        BarColumn(bar_width=12),
        TextColumn("{task.fields[told]}"),
        console=console,
    )
    with bar:
        task = bar.add_task("", total=whole, done="0", whole=counted(whole), told="")

        def show(progress: "Progress") -> None:
            best = value_text(aim, progress.best) if progress.front else "none yet"
            last = not progress.stage
            left = f"{duration(progress.remaining)} left"
            if last:
                left = "finishing"
            elif progress.remaining > CLOCK_FROM:
                left = f"ends {clock_time(progress.remaining)}"
            share = percent(progress.feasible_share, 0)
            told = f"{share} feasible, front {progress.front}, {best}, {left}"
            told = told if last else f"{progress.stage}: {told}"
            done = counted(progress.designs)
            bar.update(task, completed=progress.designs, done=done, told=told)

        yield show


def show_outcome(console: Console, outcome: "Outcome", report: Path) -> None:
    """Say how a run ended, and where its report is."""
    from engine.run.read import study_of_run  # noqa: PLC0415  not before it is needed

    state = outcome.state
    beside = f", {counted(state.beside)} more beside the front," if state.beside else ""
    console.print(
        f"{counted(state.searched)} designs{beside} in {duration(state.seconds)}, "
        f"{counted(state.feasible)} inside every limit, {counted(state.front)} on the front"
    )
    if state.unsampled:
        console.print(
            f"{counted(state.unsampled)} of them were evaluated as drawn only: their samples could "
            "not have brought them on the front."
        )
    if outcome.exhausted:
        console.print("The whole space was evaluated before the budget was used up.")
    if outcome.stalled:
        console.print("Ended early: the front no longer grew.")
    if not state.feasible:
        limits = ", ".join(COLUMNS[key].label.lower() for key in outcome.biting[:3])
        console.print(f"Nothing meets every limit. Most missed: {limits}.")
    if state.state == "interrupted":
        console.print("Interrupted; the same command continues from here.")
    if state.state == "done" and state.front:
        show_sentences(console, _picks(outcome.folder))
    show_sentences(console, [f"Read {report}"])
    show_cautions(console, study_of_run(outcome.folder)[0])


def _picks(folder: Path) -> list[str]:
    """Say which build to cut, and which calmer ones stand beside it."""
    from engine.run.folder import read_front  # noqa: PLC0415  not before it is needed
    from engine.run.pick import TOO_NEAR, picks_of  # noqa: PLC0415
    from engine.run.read import study_of_run  # noqa: PLC0415

    study, front = study_of_run(folder)[0], read_front(folder)
    picks = picks_of(study, front)
    if picks is None or not picks.judged:
        return []
    aim = next(iter(study.aims))

    def build(role: str) -> str:
        row = picks.rows[role]
        value = value_text(aim, front[aim][row])
        margin = value_text("safety_margin", front["safety_margin"][row], 3)
        return f"design {int(front['design'][row])}, {value}, first failure at {margin} x speed"

    lacking = [COLUMNS[key].label.lower() for key in picks.misses["pick"] if key != TOO_NEAR]
    if TOO_NEAR in picks.misses["pick"]:
        lacking.append("safety margin above the peak after a lost load")
    first = "The pick, whose metal limits hold in nine of ten"
    if not picks.holds:
        first = f"No build holds its {', '.join(lacking)} in nine of ten; the nearest"
    calm = [role for role in ("calmer", "calmest") if picks.rows[role] != picks.rows["pick"]]
    others = {picks.rows[role]: f"{role.capitalize()}: {build(role)}." for role in calm}
    return [f"{first}: {build('pick')}.", *others.values()]


def show_queue(
    console: Console, ended: "Sequence[tuple[Path, int, Outcome | str]]", left: Sequence[Path]
) -> None:
    """Sum up several studies: how each ended, and which were not started."""
    grid = Grid("Study", "Ended", "Designs", "Front", "Time", title="All studies", min_width=64)
    for path, code, outcome in ended:
        if isinstance(outcome, str):
            first, *more = outcome.splitlines() or [""]
            rest = f" (and {len(more)} more)" if more else ""
            grid.add_row(Text(path.name), Text(f"failed: {first}{rest}", style="red"))
            continue
        state = outcome.state
        word = {0: "done", 3: "nothing feasible"}.get(code, "interrupted")
        numbers = (counted(state.searched), counted(state.front), duration(state.seconds))
        grid.add_row(Text(path.name), word, *numbers)
    for path in left:
        grid.add_row(Text(path.name), "not started")
    console.print(grid)


def show_sheet(console: Console, folder: Path, names: Sequence[str], study: Study) -> None:
    """Say which files a build sheet or a bench plan consists of, and where they are."""
    first, *others = names
    named = others if len(others) < 10 else [*others[:5], f"{len(others) - 5} more"]
    show_sentences(console, [f"Print {folder / first}; beside it {', '.join(named)}"])
    for caution in cautions_of(study):
        console.print(Text(caution, style="dim"))


def show_sentences(console: Console, sentences: Sequence[str]) -> None:
    """Say sentences, one a line: wrapped between words, a long path left whole to be copied."""
    for sentence in sentences:
        console.print(Text(sentence), overflow="ignore", crop=False)
