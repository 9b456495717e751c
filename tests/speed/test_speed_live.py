"""How soon a turned knob shows its numbers, and what many requests leave behind.

python -m pytest tests/speed/test_speed_live.py -m speed -s
"""

import http.client
import json
import os
import statistics
import threading
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlencode

import pytest

from reports.live.serve import Live, tried
from tests.support.browser import Page, opened, until
from tests.support.places import STUDIES

pytestmark = pytest.mark.speed

STUDY = STUDIES / "lane-workshop.yaml"
TURNS = 200
REQUESTS = 10_000
WARM = 500
"""Requests before the size of the processes is noted."""
TURN = """(async () => {
  const slider = document.querySelector('[data-key=speed] input[type=range]');
  slider.value = (Number(slider.value) + 7) % Number(slider.max);
  const start = performance.now();
  slider.dispatchEvent(new Event('input'));
  while (byId('answers').dataset.shown !== queryOf(build)) {
    await new Promise((resolve) => { setTimeout(resolve, 0); });
  }
  return performance.now() - start;
})()"""


@pytest.fixture(scope="module")
def live() -> Iterator[tuple[str, Live]]:
    made: list[Live] = []
    whole = Live.__init__

    def noted(self: Live, *given: object) -> None:
        whole(self, *given)  # type: ignore[arg-type]
        made.append(self)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Live, "__init__", noted)
        with tried(STUDY) as (address, serve):
            patch.undo()
            thread = threading.Thread(target=_until_ended, args=(serve,), daemon=True)
            thread.start()
            made[0].ready.wait()
            yield address, made[0]


def _until_ended(serve: object) -> None:
    assert callable(serve)
    serve()


def test_time_from_knob_to_number(live: tuple[str, Live], tmp_path: Path) -> None:
    for page in opened(tmp_path):
        page._go(live[0])
        until(page, "!document.querySelector('.turns').disabled")
        _turn(page, "first", 1)
        processes: tuple[int | str, ...] = ("self", live[1].quick.process.pid or 0)
        before = [_worked(each) for each in processes]
        _turn(page, "each of the next", TURNS)
        server, quick = (
            1e3 * (_worked(each) - old) / TURNS for each, old in zip(processes, before, strict=True)
        )
        # What a machine with other work to do tells best.
        print(f"processor time of a turn: server {server:.1f} ms, model {quick:.1f} ms")  # noqa: T201


def _turn(page: Page, which: str, times: int) -> None:
    found = [float(page.ask(TURN)) for _ in range(times)]
    middle, worst = statistics.median(found), max(found)
    print(f"{which} {times}: median {middle:.0f} ms, worst {worst:.0f} ms")  # noqa: T201


def _worked(process: int | str) -> float:
    """Time that a process has had a processor [s]."""
    fields = Path(f"/proc/{process}/stat").read_text("ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _size(process: int | str) -> float:
    """Memory of a process that is its own [MB]."""
    text = Path(f"/proc/{process}/smaps_rollup").read_text("ascii")
    rows = dict(line.split(":") for line in text.splitlines()[1:])
    return sum(float(rows[key].split()[0]) for key in ("Private_Clean", "Private_Dirty")) / 1024


def test_growth_over_many_requests(live: tuple[str, Live]) -> None:
    host = live[0].removeprefix("http://").rstrip("/")
    line = http.client.HTTPConnection(host, timeout=120)

    def ask(path: str) -> tuple[int, bytes]:
        line.request("GET", path)
        answer = line.getresponse()
        return answer.status, answer.read()

    start = json.loads(ask("/state")[1])["start"]
    first = ask(f"/build?{urlencode(start)}")
    processes: tuple[int | str, ...] = (
        "self",
        live[1].quick.process.pid or 0,
        live[1].slow.process.pid or 0,
    )
    before = [0.0, 0.0, 0.0]
    for n in range(REQUESTS):
        turned = urlencode({**start, "speed": f"{4000 + n % 3000} rpm"})
        # Half are wrong in one way or another, as different from each other as can be.
        wrong = (
            f"/build?{turned}&depth{n}=1", f"/build?{turned}&side_gap={n}+furlongs{n}",
            f"/build?gap={n}e300+mm", f"/nudge?to=x{n}&{turned}", f"/study?kept=x{n}", f"/x{n}",
        )  # fmt: skip
        path = wrong[n // 2 % len(wrong)] if n % 2 else f"/build?{turned}"
        status, _ = ask(path)
        assert status == (200 if n % 2 == 0 else 404 if path.startswith("/x") else 400)
        if n == WARM:
            before = [_size(each) for each in processes]
    grown = [_size(each) - old for each, old in zip(processes, before, strict=True)]
    names = ("server", "quick", "slow")
    told = ", ".join(f"{name} {by:+.1f} MB" for name, by in zip(names, grown, strict=True))
    print(f"\n{REQUESTS} requests: {told}, together {sum(grown):+.1f} MB")  # noqa: T201
    assert ask(f"/build?{urlencode(start)}") == first
