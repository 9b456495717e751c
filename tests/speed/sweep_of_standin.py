"""Sweep of a stand-in model: prints designs, seconds and memory [MiB] as it goes."""

import resource
import sys
import time
from pathlib import Path

from engine.run.log import Progress
from engine.run.runner import run
from engine.study.reader import parse_study
from tests.support import standin


def main(path: str, designs: str, every: str) -> None:
    _, text = standin.study_of()
    asked = text[text.index("search:") :]
    text = text.replace(asked, f"search: {{method: sobol, designs: {designs}, seed: 3}}\n")
    for key, step in (("exhaust_bore", ", step: 2 mm"), ("inlet_angle", ", step: 1 deg")):
        line = next(each for each in text.splitlines() if each.strip().startswith(key))
        text = text.replace(line, line.replace(step, ""))
    began = time.perf_counter()
    told = [0]

    def tell(now: Progress) -> None:
        if now.designs - told[0] >= int(every) or not now.stage:
            told[0] = now.designs
            memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            print(now.designs, f"{time.perf_counter() - began:.2f} {memory:.0f}", flush=True)  # noqa: T201

    run(
        study=parse_study(text, "sweep.yaml"),
        study_text=text,
        path=Path(path),
        evaluate=standin.evaluate,
        model_version=1,
        progress=tell,
    )


if __name__ == "__main__":
    main(*sys.argv[1:])
