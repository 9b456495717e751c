"""The sheets with the parts list."""

import textwrap
from collections.abc import Iterator, Sequence

from reports.design.drawings.frames import INSET, LINE, Block, finish, free, sheet
from reports.design.drawings.paper import SOFT, Format, Paper, fitting, width_of
from reports.design.facts import BuildFacts
from reports.design.items import Listed

ROW, TOP = 5.6, 8.0
"""Of the list, and where its head stands [mm]."""
LEFT, NAME = 61.0, 38.5
"""Where the last column begins, and room for a name [mm]."""


def list_pages(items: Sequence[Listed], size: Format) -> Iterator[tuple[Listed, ...]]:
    """Part the list into what fits a sheet each."""
    room, page, level = free(size), list[Listed](), TOP
    for item in items:
        high = ROW + LINE * (len(_lines(item, size)) - 1)
        if page and level + high > room:
            yield tuple(page)
            page, level = [], TOP
        page.append(item)
        level += high
    yield tuple(page)


def _lines(item: Listed, size: Format) -> list[str]:
    about = item.material if item.file else item.part.remark
    return textwrap.wrap(about, int((size.width - LEFT - 2) / width_of("x"))) or [""]


def list_sheet(facts: BuildFacts, items: Sequence[Listed], block: Block) -> Paper:
    """Write a sheet with parts of the list, or all."""
    title = f"Parts list of design {facts.candidate.design}"
    paper, level = sheet(title, block.format), TOP
    columns = ((INSET, "Item"), (12.0, "Pcs"), (22.0, "Part"), (LEFT, "Material or standard"))
    for left, name in columns:
        paper.text(name, (left, level), colour=SOFT)
    paper.line((INSET, level + 1.2), (paper.width - INSET, level + 1.2))
    for item in items:
        level += ROW
        lines = _lines(item, block.format)
        cells = (str(item.number), str(item.part.pieces), fitting(item.name, NAME), lines[0])
        for (left, _), text in zip(columns, cells, strict=True):
            paper.text(text, (left, level))
        for line in lines[1:]:
            level += LINE
            paper.text(line, (LEFT, level))
    finish(paper, block)
    return paper
