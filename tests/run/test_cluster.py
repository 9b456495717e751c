"""A Dask cluster on this machine: the same front even if a worker is killed, and clear messages."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from engine.errors import WorkerError
from engine.model.evaluation import evaluate
from engine.model.version import MODEL_VERSION
from engine.run import cluster
from engine.run.folder import FRONT, LOG, read_state
from engine.run.runner import run
from engine.study.reader import parse_study, study_text_hash
from tests.support.on_cluster import unjudged
from tests.support.places import STUDIES, SUPPORT
from tests.support.waiting import PATIENCE

SCRIPT = SUPPORT / "on_cluster.py"
STUDY = STUDIES / "lane-workshop.yaml"


@pytest.fixture(scope="module")
def few(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write a study of 1200 designs."""
    text = STUDY.read_text(encoding="utf-8")
    for line in text.splitlines():
        if line.startswith("  designs:"):
            text = text.replace(line, "  designs: 1200\n  generation: 200")
    study = tmp_path_factory.mktemp("few") / "few.yaml"
    study.write_text("\n".join(x for x in text.splitlines() if x != "  generation: 400"))
    return study


def in_one_process(study: Path, folder: Path) -> bytes:
    """Run, or continue a run; give the front."""
    text = study.read_text(encoding="utf-8")
    run(
        study=parse_study(text, "few.yaml"),
        study_text=text,
        path=folder,
        evaluate=evaluate,
        model_version=MODEL_VERSION,
        recheck=unjudged,
    )
    return (folder / FRONT).read_bytes()


@pytest.fixture(scope="module")
def plain(few: Path) -> bytes:
    """Front of a run in one process."""
    return in_one_process(few, few.parent / "plain")


@pytest.fixture(scope="module")
def told(few: Path) -> dict[str, str]:
    """Run on one cluster, which loses something after 400 designs, three times; how each ended."""
    lines = said_by(str(SCRIPT), str(few), str(few.parent), "400").splitlines()
    return dict(line.split(": ", 1) for line in lines)


def said_by(*given: str) -> str:
    """Run Python in a process of its own; give what it prints."""
    process = subprocess.run(  # noqa: S603
        [sys.executable, *given],
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
        timeout=PATIENCE,
    )
    assert process.returncode == 0, process.stderr
    return process.stdout


@pytest.mark.slow
def test_a_cluster_gives_the_run_of_one_process_even_if_a_worker_is_killed(
    few: Path, plain: bytes, told: dict[str, str]
) -> None:
    assert told["worker"] == "done 1"
    assert (few.parent / "worker" / FRONT).read_bytes() == plain


@pytest.mark.slow
@pytest.mark.parametrize(
    ("lost", "words"),
    [
        ("workers", "all workers are lost, and no new one came in 3 s; start workers with dask"),
        ("scheduler", "the scheduler is lost; start it again with dask scheduler"),
    ],
)
def test_a_lost_cluster_ends_the_run_with_a_message_and_the_run_can_continue(
    few: Path, plain: bytes, told: dict[str, str], lost: str, words: str
) -> None:
    folder = few.parent / lost
    assert words in told[lost]
    assert "give the same command again: everything stored is safe" in told[lost]
    assert read_state(folder)[1].designs >= 400
    assert in_one_process(few, folder) == plain
    log = (folder / LOG).read_text(encoding="utf-8")
    assert "stopped by WorkerError" in log
    assert "no worker is left" in log or lost == "scheduler"


def test_without_the_extra_the_message_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(WorkerError, match=r"pip install 'swirlstack\[cluster\]'"):
        cluster.Cluster("", "tcp://127.0.0.1:1").__enter__()


def test_a_scheduler_that_does_not_answer_is_named() -> None:
    code = (
        "from engine.run.cluster import Cluster\n"
        "from engine.errors import WorkerError\n"
        "for address in ('tcp://127.0.0.1:1', 'nonsense'):\n"
        "    try: Cluster('', address, patience=0.5).__enter__()\n"
        "    except WorkerError as error: print(error)\n"
    )
    told = said_by("-c", code)
    first, second = told.splitlines()
    assert first.startswith("tcp://127.0.0.1:1: the scheduler does not answer; start it with dask")
    assert second.startswith("nonsense: the scheduler does not answer")


@pytest.mark.slow
def test_a_scheduler_without_workers_is_named() -> None:
    code = (
        "from distributed import LocalCluster\n"
        "from engine.run.cluster import Cluster\n"
        "from engine.errors import WorkerError\n"
        "with LocalCluster(n_workers=0, dashboard_address=None, processes=False) as local:\n"
        "    try: Cluster('', local.scheduler_address, patience=0.5).__enter__()\n"
        "    except WorkerError as error: print(error)\n"
    )
    told = said_by("-c", code)
    assert "the scheduler has no worker; start it with dask scheduler" in told


@pytest.mark.slow
def test_a_cluster_gives_the_bands_of_one_process_to_the_last_byte(tmp_path: Path) -> None:
    text = re.sub("designs: .*", "designs: 400\n  robust: true", STUDY.read_text(encoding="utf-8"))
    robust = tmp_path / "robust.yaml"
    robust.write_text(text, encoding="utf-8")
    code = (
        "import numpy as np\n"
        "from distributed import LocalCluster\n"
        "from engine.bands.results import evaluate_judged\n"
        "from engine.run.cluster import Cluster\n"
        "from engine.search.space import Space\n"
        "from engine.study.reader import parse_study\n"
        f"text = open({str(robust)!r}, encoding='utf-8').read()\n"
        "study = parse_study(text, 'robust.yaml')\n"
        "space = Space.of(study)\n"
        "builds = space.builds(space.sample(70, np.random.default_rng(4)))\n"
        "workers = {'n_workers': 2, 'threads_per_worker': 1, 'dashboard_address': None}\n"
        "with LocalCluster(**workers) as local:\n"
        "    with Cluster(text, local.scheduler_address) as cluster:\n"
        "        found = cluster(study, builds)\n"
        "known = evaluate_judged(study, builds)\n"
        "assert list(found) == list(known)\n"
        "print(*(key for key in known if found[key].tobytes() != known[key].tobytes()))\n"
        "print(np.isfinite(known['electric_power_p10']).sum())\n"
    )
    others, judged = said_by("-c", code).splitlines()
    assert others == ""
    assert int(judged) > 40


def test_a_worker_with_another_model_or_study_says_so() -> None:
    told = cluster._evaluated(
        {}, text="a", study_hash=study_text_hash("a"), model_version=MODEL_VERSION + 1
    )
    assert told == (
        f"a worker has model version {MODEL_VERSION}, but this is version {MODEL_VERSION + 1}"
    )
    told = cluster._evaluated(
        {}, text="a", study_hash=study_text_hash("b"), model_version=MODEL_VERSION
    )
    assert told == "a worker received another study than was sent"
