"""A Dask cluster on this machine: same front, though a worker is killed, and clear words."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from engine import cluster
from engine.errors import WorkerError
from engine.folder import FRONT
from engine.model import MODEL_VERSION, evaluate
from engine.runner import run
from engine.studyfile import parse_study, study_text_hash

SCRIPT = Path(__file__).with_name("on_cluster.py")
STUDY = Path(__file__).parent.parent / "studies" / "lane-workshop.yaml"


@pytest.mark.slow
def test_a_cluster_gives_the_run_of_one_process_though_a_worker_is_killed(tmp_path: Path) -> None:
    text = STUDY.read_text(encoding="utf-8")
    for line in text.splitlines():
        if line.startswith("  designs:"):
            text = text.replace(line, "  designs: 1200\n  generation: 200")
    study = tmp_path / "few.yaml"
    study.write_text("\n".join(x for x in text.splitlines() if x != "  generation: 400"))
    process = subprocess.run(  # noqa: S603
        [sys.executable, str(SCRIPT), str(study), str(tmp_path / "cluster"), "400"],
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
        timeout=300,
    )
    assert process.stdout.split() == ["done", "1"], process.stderr
    text = study.read_text(encoding="utf-8")
    run(
        study=parse_study(text, "few.yaml"),
        study_text=text,
        path=tmp_path / "plain",
        evaluate=evaluate,
        model_version=MODEL_VERSION,
    )
    assert (tmp_path / "cluster" / FRONT).read_bytes() == (tmp_path / "plain" / FRONT).read_bytes()


def test_without_the_extra_the_message_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(WorkerError, match=r"pip install 'swirlstack\[cluster\]'"):
        cluster.Cluster("", "tcp://127.0.0.1:1").__enter__()


def test_a_scheduler_out_of_reach_is_named() -> None:
    code = (
        "from engine.cluster import Cluster\n"
        "from engine.errors import WorkerError\n"
        "for address in ('tcp://127.0.0.1:1', 'nonsense'):\n"
        "    try: Cluster('', address, patience=0.5).__enter__()\n"
        "    except WorkerError as error: print(error)\n"
    )
    process = subprocess.run(  # noqa: S603
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
        timeout=60,
    )
    first, second = process.stdout.splitlines()
    assert first.startswith("tcp://127.0.0.1:1: the scheduler does not answer; start it with dask")
    assert second.startswith("nonsense: the scheduler does not answer")


@pytest.mark.slow
def test_a_scheduler_without_workers_is_named() -> None:
    code = (
        "from distributed import LocalCluster\n"
        "from engine.cluster import Cluster\n"
        "from engine.errors import WorkerError\n"
        "with LocalCluster(n_workers=0, dashboard_address=None, processes=False) as local:\n"
        "    try: Cluster('', local.scheduler_address, patience=0.5).__enter__()\n"
        "    except WorkerError as error: print(error)\n"
    )
    process = subprocess.run(  # noqa: S603
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
        timeout=60,
    )
    assert "the scheduler has no worker; start it with dask scheduler" in process.stdout


def test_a_worker_with_another_model_or_study_says_so() -> None:
    told = cluster._evaluated(
        {}, text="a", study_hash=study_text_hash("a"), model_version=MODEL_VERSION + 1
    )
    assert told == (
        f"a worker holds model version {MODEL_VERSION}, and this is {MODEL_VERSION + 1}"
    )
    told = cluster._evaluated(
        {}, text="a", study_hash=study_text_hash("b"), model_version=MODEL_VERSION
    )
    assert told == "a worker read another study than was sent"
