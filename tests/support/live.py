"""A small study to try live, and a server of its page."""

import json
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, nullcontext
from pathlib import Path
from unittest.mock import patch

from reports.live.asked import Asked, Pairs
from reports.live.desk import Desk
from reports.live.serve import tried
from reports.live.work import Found, answered
from tests.support.starter import plain_starter

HOSTILE = "<script>window.hit=1</script><img src=x onerror=window.hit=1>"
START = {
    "disc_count": "12", "disc_diameter": "110 mm", "gap": "0.3 mm", "inlet_angle": "8 deg",
    "exhaust_bore": "40 mm", "speed": "14000 rpm",
}  # fmt: skip


def live_study(folder: Path) -> Path:
    """Write a study whose bands take few samples."""
    text = plain_starter("told").replace('"told"', json.dumps(HOSTILE))
    text = text.replace("designs: 20000", "designs: 250") + "\nuncertainty:\n  samples: 16\n"
    (folder / "tried.yaml").write_text(text, encoding="utf-8")
    return folder / "tried.yaml"


class Near:
    """Answers as a process does, without one."""

    def __init__(self, asked: Asked) -> None:
        self.desk = Desk(asked)

    def ask(self, name: str, pairs: Pairs, _: float | None = None) -> Found:
        return answered(self.desk, name, pairs)

    def end(self) -> None:
        pass


@contextmanager
def near(study: Path) -> Iterator[str]:
    """Serve a study from this process alone; gives the host, once it is ready."""
    never = nullcontext(lambda: False)
    with ExitStack() as stack:
        stack.enter_context(patch("reports.live.serve.Worker", Near))
        with patch("reports.kit.serving.first_signal", lambda _: never):
            address, serve = stack.enter_context(tried(study))
        thread = threading.Thread(target=serve, daemon=True)
        thread.start()
        yield address.removeprefix("http://").rstrip("/")
    thread.join()
