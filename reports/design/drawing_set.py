"""Every sheet of a design in order: arrangement, view, parts list, exploded view, each part."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import partial

from reports.design.arrangement import section_sheet, view_sheet
from reports.design.casing import Casing
from reports.design.collector import Collector
from reports.design.drawings.flat import detail_sheet, flat_sheet
from reports.design.drawings.frames import Block
from reports.design.drawings.lathe import turned_sheet
from reports.design.drawings.paper import A4, Format, Paper
from reports.design.exploded import exploded_pages, exploded_sheet
from reports.design.facts import BuildFacts
from reports.design.items import Item, items_of, whole_list
from reports.design.part_drawings import block_of, drawing_of, nozzle_drawing
from reports.design.parts_sheet import list_pages, list_sheet
from reports.design.plate import Plate
from reports.design.pump.drawings import collector_drawing
from reports.design.stage_drawings import stage_of
from reports.design.turned_drawings import turned_drawing
from reports.design.turned_parts import TurnedPart
from reports.kit.quantities import count


@dataclass(frozen=True)
class Sheet:
    """A finished sheet, with its file's name without the end."""

    file: str
    paper: Paper
    block: Block


@dataclass(frozen=True)
class _Plan:
    """A sheet to be drawn."""

    title: str
    draw: Callable[[Block], Paper]
    item: Item | None = None


def drawing_set(
    facts: BuildFacts, items: tuple[Item, ...] | None = None, size: Format = A4
) -> tuple[Sheet, ...]:
    """Draw every sheet of a design, on this size of paper."""
    plans = list(_plans(facts, items_of(facts) if items is None else items, size))
    found = []
    for number, plan in enumerate(plans, 1):
        block = replace(_block(facts, plan, number, len(plans)), format=size)
        found.append(Sheet(plan.title.replace(" ", "-"), plan.draw(block), block))
    return tuple(found)


def _plans(facts: BuildFacts, items: tuple[Item, ...], size: Format) -> Iterable[_Plan]:
    yield _Plan("general arrangement", partial(section_sheet, facts, items))
    if facts.housing is not None:
        yield _Plan("view from the drive", partial(view_sheet, facts, items))
    for number, page in enumerate(list_pages(whole_list(facts, items), size), 1):
        name = "parts list" if number == 1 else f"parts list {number}"
        yield _Plan(name, partial(list_sheet, facts, page))
    for number, rows in enumerate(exploded_pages(facts, items), 1):
        name = "exploded view" if number == 1 else f"exploded view {number}"
        yield _Plan(name, partial(exploded_sheet, facts, rows))
    for item in items:
        part = item.part
        if isinstance(part, Plate):
            yield _Plan(part.name, partial(_flat, facts, part), item)
            if facts.casing is not None and part.name.startswith("nozzle plate"):
                own = facts.casing
                if facts.staged is not None:
                    own = stage_of(facts.staged, part.name).casing
                name = part.name.replace("nozzle plate", "nozzle")
                yield _Plan(name, partial(_nozzle, facts, own), item)
            if facts.collector is not None and part.name == "collector plate":
                yield _Plan("collector", partial(_collector, facts, facts.collector), item)
        elif isinstance(part, TurnedPart) and not part.bought:
            yield _Plan(part.name, partial(_turned, facts, part), item)


def _flat(facts: BuildFacts, plate: Plate, block: Block) -> Paper:
    return flat_sheet(drawing_of(facts, plate, block))


def _nozzle(facts: BuildFacts, casing: Casing, block: Block) -> Paper:
    return detail_sheet(nozzle_drawing(facts, casing, block))


def _collector(facts: BuildFacts, casing: Collector, block: Block) -> Paper:
    return detail_sheet(collector_drawing(facts, casing, block))


def _turned(facts: BuildFacts, made: TurnedPart, block: Block) -> Paper:
    return turned_sheet(turned_drawing(facts, made, block))


def _block(facts: BuildFacts, plan: _Plan, number: int, of: int) -> Block:
    if plan.item is None:
        return block_of(facts, plan.title, number, of)
    made = plan.item
    return block_of(
        facts, plan.title, number, of, material=made.material, pieces=count(made.part.pieces)
    )
