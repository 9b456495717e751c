"""Chart of the uncertain inputs that cause the bands of power and margin of a candidate."""

from collections.abc import Mapping

from engine.columns import COLUMNS
from reports.kit.charts import AXIS, BLUE, FAINT, SOFT, Chart, blank, plain
from reports.kit.quantities import inline_label, percent
from reports.run.bands import Source
from reports.run.facts import Candidate

SHOWN = 7
"""Number of inputs drawn, the strongest for either result."""


def source_chart(letter: str, candidate: Candidate) -> Chart | None:
    """Draw the share of each input by itself, in front of its share together with others."""
    sources = candidate.sources
    if not sources or not any(source.total > 0 for of in sources.values() for source in of):
        return None
    figure = blank()
    keys = _strongest(sources)
    for place, (result, of) in enumerate(sources.items()):
        by_key = {source.key: source for source in of}
        for total in (True, False):
            values = [by_key[key].total if total else by_key[key].first for key in keys]
            figure.add_bar(
                orientation="h",
                y=list(range(len(keys))),
                x=[float(f"{100 * value:.4g}") for value in values],
                width=0.7 if total else 0.34,
                xaxis="x" if place == 0 else "x2",
                marker={"color": FAINT if total else BLUE, "line": {"width": 0}},
                hovertext=[_words(by_key[key], result) for key in keys],
                hovertemplate="%{hovertext}<extra></extra>",
                showlegend=False,
            )
    across = {"range": [0, 102], "tickvals": [0, 50, 100], "showline": False, "zerolinecolor": SOFT}
    titles = [f"{COLUMNS[result].label}<br>[%]" for result in sources]
    figure.update_layout(
        barmode="overlay",
        xaxis={**across, "domain": [0, 0.44], "title_text": titles[0]},
        xaxis2={**AXIS, **across, "domain": [0.56, 1], "title_text": titles[1]},
        yaxis={
            "tickvals": list(range(len(keys))),
            "ticktext": [COLUMNS[key].label for key in keys],
            "range": [len(keys) - 0.4, -0.6],
            "showgrid": False,
            "ticks": "",
        },
        margin={"l": 136, "r": 8, "t": 4, "b": 60},
    )
    return Chart(f"sources-{letter}", plain(figure), _alt(letter, sources))


def _strongest(sources: Mapping[str, tuple[Source, ...]]) -> list[str]:
    most: dict[str, float] = {}
    for of in sources.values():
        for source in of:
            most[source.key] = max(most.get(source.key, 0.0), source.total)
    return sorted(most, key=lambda key: -most[key])[:SHOWN]


def _words(source: Source, result: str) -> str:
    return (
        f"{COLUMNS[source.key].label}<br>of the variance of {inline_label(result)}: "
        f"{percent(source.first)} by itself, {percent(source.total)} with others"
    )


def _alt(letter: str, sources: Mapping[str, tuple[Source, ...]]) -> str:
    told = "; ".join(
        f"{inline_label(result)}: "
        + ", ".join(f"{inline_label(source.key)} {percent(source.total)}" for source in of[:3])
        for result, of in sources.items()
    )
    return f"Where the bands of candidate {letter} come from, as total indices. {told}."
