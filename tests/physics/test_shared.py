"""Functions that are compiled once for all their callers, in this process and in others."""

import importlib.util
import os
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from engine.physics import compiled, machine_code
from engine.physics.arrays import Lanes
from tests.support.places import ROOT

KERNELS = """
from engine.physics.compiled import compiled, entry, shared


@compiled
def square(x):
    return x * x


@shared
def total(values):
    found = 0.0
    for k in range(values.size):
        found += square(values[k])
    return found


@shared
def total_and_one(values):
    return total(values) + 1


@entry
def once(values):
    return total(values)


@entry
def twice(values):
    return total_and_one(values) + total(values)
"""
VALUES = np.arange(4.0)
on_posix = pytest.mark.skipif(sys.platform == "win32", reason="asks the system of POSIX for a lock")


@pytest.fixture(autouse=True)
def no_module_left() -> Iterator[None]:
    """Forget a module of a test after it."""
    yield
    sys.modules.pop("shared_kernel", None)


def loaded(folder: Path, text: str = KERNELS) -> Any:
    """Load the kernels as a new process would."""
    module = folder / "shared_kernel.py"
    module.write_text(text, encoding="utf-8")
    spec = importlib.util.spec_from_file_location("shared_kernel", module)
    assert spec is not None
    assert spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = made  # where callers on disk look for what they need
    exec(compile(text, str(module), "exec"), made.__dict__)  # noqa: S102  no old bytecode
    return made


def counted(function: Any) -> tuple[int, int]:
    """How often a function was read from disk, and how often compiled."""
    stats = function.stats
    return sum(stats.cache_hits.values()), sum(stats.cache_misses.values())


def test_what_two_callers_share_is_compiled_once_and_read_before_them(
    tmp_path: Path, place: Path
) -> None:
    first = loaded(tmp_path)
    assert (first.once(VALUES), first.twice(VALUES)) == (14.0, 29.0)
    assert [counted(f) for f in (first.total, first.total_and_one)] == [(0, 1), (0, 1)]
    names = Counter(path.name.split("-")[0] for path in place.rglob("*.nbc"))
    assert names["shared_kernel.total"] == names["shared_kernel.once"] == 1
    then = loaded(tmp_path)
    assert (then.once(VALUES), then.twice(VALUES)) == (14.0, 29.0)
    for function in (then.once, then.twice, then.total, then.total_and_one):
        assert counted(function) == (1, 0)


@pytest.mark.usefixtures("place")
def test_a_caller_holds_no_copy(tmp_path: Path) -> None:
    kernels = loaded(tmp_path)
    kernels.once(VALUES)
    (caller,), (callee,) = kernels.once.overloads.values(), kernels.total.overloads.values()
    name = callee.fndesc.mangled_name
    assert caller.library._final_module.get_function(name).is_declaration


@pytest.mark.usefixtures("place")
def test_a_changed_shared_function_is_seen_by_its_callers(tmp_path: Path) -> None:
    assert loaded(tmp_path).twice(VALUES) == 29.0
    changed = loaded(tmp_path, KERNELS.replace("found = 0.0", "found = 100.0 * values.size"))
    assert changed.twice(VALUES) == 829.0
    assert counted(changed.once) == (0, 0)


@pytest.mark.parametrize("ending", ["nbc", "nbi"])
@pytest.mark.parametrize("content", [None, b"", b"noise"])
def test_a_damaged_shared_function_is_made_anew_for_callers_that_are_not(
    tmp_path: Path, place: Path, ending: str, content: bytes | None
) -> None:
    loaded(tmp_path).twice(VALUES)
    (path,) = place.rglob(f"shared_kernel.total-*.{ending}")
    if content is None:
        path.unlink()
    else:
        path.write_bytes(content)
    then = loaded(tmp_path)
    assert then.twice(VALUES) == 29.0
    assert counted(then.total) == (0, 1)
    assert counted(then.twice) == (1, 0)
    again = loaded(tmp_path)
    again.once(VALUES)
    assert counted(again.total) == (1, 0)


@pytest.mark.usefixtures("place")
def test_a_caller_whose_shared_function_is_gone_is_compiled_anew(tmp_path: Path) -> None:
    loaded(tmp_path).once(VALUES)
    without = KERNELS.replace("total(", "sum_of(").replace("def total_and_one", "def sum_and_one")
    then = loaded(tmp_path, without.replace("total_and_one", "sum_and_one"))
    assert then.once(VALUES) == 14.0
    assert counted(then.sum_of) == (0, 1)


def test_without_a_folder_shared_functions_are_compiled_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(machine_code, "code_folder", lambda: None)
    kernels = loaded(tmp_path)
    assert (kernels.once(VALUES), kernels.twice(VALUES)) == (14.0, 29.0)


def test_where_nothing_can_be_locked_code_is_compiled_all_the_same(
    tmp_path: Path, place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(_handle: int) -> None:
        raise OSError

    monkeypatch.setattr(machine_code, "_wait_for", refused)
    assert loaded(tmp_path).twice(VALUES) == 29.0
    assert [*place.rglob("*.nbc")]


@pytest.mark.usefixtures("place")
def test_a_shared_function_is_none_to_python(tmp_path: Path) -> None:
    for _ in range(2):  # compiled, then read from disk
        kernels = loaded(tmp_path)
        kernels.once(VALUES)
        with pytest.raises(TypeError):
            kernels.total(VALUES)


@pytest.mark.usefixtures("place")
def test_a_formula_may_be_shared_and_an_entry_too(tmp_path: Path) -> None:
    for _ in range(2):
        kernels = loaded(tmp_path)
        assert kernels.once(VALUES) == 14.0
        assert compiled.entry(kernels.total.py_func)(VALUES) == 14.0


def test_shared_functions_may_own_arrays_and_be_made_in_functions(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(machine_code, "code_folder", lambda: None)

    def last_of(factor: float) -> Any:
        @compiled.shared
        def scaled(values: Lanes) -> Lanes:
            made = np.empty(values.size)
            for k in range(values.size):
                made[k] = factor * values[k]
            return made

        @compiled.entry
        def last(values: Lanes) -> float:
            found = scaled(values)
            return float(found[-1])

        return last

    assert (last_of(2.0)(VALUES), last_of(3.0)(VALUES)) == (6.0, 9.0)


ONE_OF_TWO = """
import sys; sys.path.insert(0, sys.argv[1])
import numpy as np, shared_kernel as k
k.twice(np.arange(4.0))
for f in (k.twice, k.total_and_one, k.total):
    print(sum(f.stats.cache_hits.values()), sum(f.stats.cache_misses.values()))
"""


def test_one_of_two_processes_compiles_and_the_other_waits(tmp_path: Path) -> None:
    (tmp_path / "shared_kernel.py").write_text(KERNELS, encoding="utf-8")
    kept = {"NUMBA_CACHE_DIR": str(tmp_path / "kept"), "PYTHONPATH": str(ROOT)}
    started = [
        subprocess.Popen(  # noqa: S603  fixed arguments
            [sys.executable, "-c", ONE_OF_TWO, str(tmp_path)],
            env={**os.environ, **kept},
            stdout=subprocess.PIPE,
            text=True,
        )
        for _ in range(2)
    ]
    said = [process.communicate(timeout=300)[0].split() for process in started]
    assert [process.returncode for process in started] == [0, 0]
    hits = [int(one) + int(other) for one, other in zip(*(s[0::2] for s in said), strict=True)]
    misses = [int(one) + int(other) for one, other in zip(*(s[1::2] for s in said), strict=True)]
    assert misses == [1, 1, 1]
    assert hits == [1, 1, 1]


HOLDER = """
import sys, time
from pathlib import Path
from engine.physics import machine_code
with machine_code._locked(Path(sys.argv[1]), "name"):
    print("held", flush=True)
    time.sleep(3600)
"""


def is_free(folder: Path) -> bool:
    """Ask in another process, as the holder of a lock may always take it again."""
    asked = (
        "import fcntl, os, sys; h = os.open(sys.argv[1], os.O_RDWR);"
        " fcntl.lockf(h, fcntl.LOCK_EX | fcntl.LOCK_NB)"
    )
    command = [sys.executable, "-c", asked, str(folder / "name.lock")]
    return subprocess.run(command, check=False, capture_output=True).returncode == 0  # noqa: S603


@on_posix
def test_a_lock_ends_with_its_holder(tmp_path: Path) -> None:
    holder = subprocess.Popen(  # noqa: S603  fixed arguments
        [sys.executable, "-c", HOLDER, str(tmp_path)],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        assert not is_free(tmp_path)
    finally:
        holder.kill()
        holder.communicate()
    with machine_code._locked(tmp_path, "name"):
        assert not is_free(tmp_path)
    assert is_free(tmp_path)


@on_posix
def test_a_process_forked_meanwhile_holds_no_lock(tmp_path: Path) -> None:
    ends, begins = os.pipe()
    with machine_code._locked(tmp_path, "name"):
        child = os.fork()
        if child == 0:
            os.close(begins)
            os.read(ends, 1)  # until the test closes its side
            os._exit(0)
    try:
        assert is_free(tmp_path)
    finally:
        os.close(begins)
        os.close(ends)
        os.waitpid(child, 0)
