"""How large the page is, and how soon a reader can use it, with a night of designs in it.

python -m pytest tests/speed/test_speed_page.py -m speed -s
"""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from reports.run.facts import RunData
from reports.run.page import write_report
from tests.support.browser import Page, opened

DESIGNS = 20_000
TIMES = 5
MOMENTS = """(() => {
  const [loading] = performance.getEntriesByType('navigation');
  const [ready] = performance.getEntriesByName('interactive');
  return [loading.domContentLoadedEventEnd, ready.startTime];
})()"""


@pytest.fixture
def page(tmp_path: Path) -> Iterator[Page]:
    yield from opened(tmp_path / "profile")


@pytest.mark.speed
def test_time_until_the_page_can_be_used(
    page: Page, tmp_path: Path, make_run: Callable[..., RunData]
) -> None:
    run = make_run(n_designs=DESIGNS)
    text = write_report(run)
    file = tmp_path / "report.html"
    file.write_text(text, encoding="utf-8")
    size, n_front = len(text.encode()) / 1e6, len(run.front["design"])
    print(f"\n{DESIGNS} designs, {n_front} on the front: {size:.2f} MB")  # noqa: T201  read on the terminal
    for width in (1400, 390):
        found = []
        for _ in range(TIMES):
            page.open(file, width=width)
            loaded, ready = page.ask(MOMENTS)
            found.append((ready, loaded))
        ready, loaded = (1e-3 * sorted(each)[TIMES // 2] for each in zip(*found, strict=True))
        print(  # noqa: T201  read on the terminal
            f"{width} px wide: charts and table answer after {ready:.2f} s, document ready "
            f"after {loaded:.2f} s (medians of {TIMES})"
        )
