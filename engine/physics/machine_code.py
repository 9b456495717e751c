"""Machine code kept on disk, so that a formula is compiled once for a user, not once for a process.

It lies in a folder named by a digest of all that it depends on: every module that contributes to
it, the libraries that make it, and the processor. Numba alone compares the file of a function, not
the files of the functions that it calls, and would run old code after a change there. It also keeps
code for one place of that file. Here all environments of one user share the code, wherever they
lie. The folder is private to its user, because what lies there is run. Each file begins with a
digest of the rest: a file that was cut or altered is compiled anew.

A process that needs a function which another is compiling waits for it. The system ends a lock with
its holder. No two wait for each other: a process holds locks of callers alone while it waits, and
no function calls its caller.
"""

import errno
import hashlib
import logging
import os
import pickle
import re
import shutil
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from functools import cache, partial
from importlib import import_module
from pathlib import Path
from tempfile import TemporaryFile
from typing import Any, TypeVar

import llvmlite
import numba
import numpy as np
from llvmlite.binding import get_host_cpu_name
from numba import _dynfunc
from numba.core import config, sigutils
from numba.core.caching import (
    CompileResultCacheImpl,
    FunctionCache,
    IndexDataCacheFile,
    _CacheLocator,
)
from numba.core.codegen import get_host_cpu_features
from numba.core.compiler_lock import global_compiler_lock

from engine.private import OTHERS, cache_folder, make_private, mistrust

R = TypeVar("R")

SEAL = hashlib.sha256().digest_size
"""Bytes of the digest before the content of a file."""
NAME = "compiled-"
"""What the names of folders of machine code begin with."""
MOST_KEPT = 12
"""Folders of machine code that a user keeps, the last used ones; some 4 MB each."""
LOG = logging.getLogger("swirlstack")
_IMPORTED = re.compile(
    r"^\s*from engine\.physics\.([\w.]+) import (\([^)]*\)|[^\n(]+)", re.MULTILINE
)


def keep_code(made: R, *, python_calls: int = 0) -> R:
    """Let a function of Numba read its code from `code_folder`, and write it there; give it back.

    Without such a folder nothing changes. `python_calls` is the place of what Python is to call
    instead of a function that others call by its name; 0 for an entry.
    """
    function: Any = made
    if code_folder() is not None:
        function._cache = _Kept(function.py_func, python_calls)
        function.compile = partial(_compile_once, function)
    return made


def _compile_once(function: Any, sign: Any) -> Any:
    """Compile a function for a signature, unless it is on disk or another process compiles it."""
    kept = function._cache
    with global_compiler_lock, kept.turn():
        begins = type(function).compile(function, sign)
        if kept.python_calls:
            kinds, _ = sigutils.normalize_signature(sign)
            made = function.overloads[tuple(kinds)]
            name, module = function.py_func.__qualname__, function.py_func.__module__
            needed = _Needed(module, name, made.fndesc.mangled_name, tuple(kinds))
            made.library._reload_init.add(needed)
        return begins


class _GoneError(Exception):
    """What a caller on disk needs is not there any more."""


@dataclass(frozen=True)
class _Needed:
    """A function that others call by its name: called before one of these is read from disk."""

    module: str
    name: str
    symbol: str
    kinds: tuple[Any, ...]

    def __call__(self) -> None:
        """Read it from disk, or compile it."""
        try:
            function = getattr(import_module(self.module), self.name)
            function.compile(self.kinds)
            found = function.overloads[self.kinds].fndesc.mangled_name
        except (ImportError, AttributeError) as error:
            raise _GoneError from error
        if found != self.symbol:
            raise _GoneError


@cache
def code_folder() -> Path | None:
    """Folder of the machine code: in the user's cache folder, or else beside the modules.

    Where the user's folder is not his alone, no code is kept.
    """
    here = Path(__file__).parent
    name = NAME + _digest(here)
    ours = cache_folder()
    for folder in (Path(config.CACHE_DIR),) if config.CACHE_DIR else (ours, here / "__pycache__"):
        place = folder / name
        try:
            why = make_private(folder) if folder == ours else ""
            why = why or make_private(place)
            if why == OTHERS and folder != ours:
                continue  # installed for everybody
            if why:
                LOG.warning("%s", mistrust(place, why))
                return None
            with TemporaryFile(dir=place):
                os.utime(place)
        except OSError:
            continue  # we may not write here
        if folder == ours:
            _drop_unused(folder)
        return place
    return None


def _drop_unused(folder: Path) -> None:
    """Delete the folders of machine code that were not used for longest."""
    found = [place for place in folder.glob(f"{NAME}*") if place.is_dir()]
    for place in sorted(found, key=_last_used, reverse=True)[MOST_KEPT:]:
        shutil.rmtree(place, ignore_errors=True)


def _last_used(place: Path) -> float:
    try:
        return place.stat().st_mtime
    except OSError:
        return 0.0  # another process deleted it


def _digest(here: Path) -> str:
    """Name all that machine code depends on."""
    processor = (
        config.CPU_NAME or get_host_cpu_name(),
        config.CPU_FEATURES or get_host_cpu_features(),
    )
    versions = numba.__version__, llvmlite.__version__, np.__version__, sys.version
    digest = hashlib.sha256(f"{versions} {processor}".encode())
    for module, text in _sources(here).items():
        digest.update(f"{module}\n{text}".encode())
    return digest.hexdigest()[:16]


def _sources(here: Path) -> dict[str, str]:
    """Texts by dotted name: modules with compiled functions, and all they import from physics."""
    texts = {
        ".".join(module.relative_to(here).with_suffix("").parts): module.read_text("utf-8")
        for module in sorted(here.rglob("*.py"))
    }
    found = {name for name, text in texts.items() if "engine.physics.compiled import" in text}
    found |= {"compiled"}
    while more := {n for name in found for n in _imports(texts[name])} & {*texts} - found:
        found |= more
    return {name: texts[name] for name in sorted(found)}


def _imports(text: str) -> set[str]:
    """Dotted names that a module imports from physics: modules, and names in them."""
    found = set()
    for module, names in _IMPORTED.findall(text):
        found |= {module, *(f"{module}.{name}" for name in re.findall(r"\w+", names))}
    return found


class _Place(_CacheLocator):  # type: ignore[misc]
    """Where the code of a function lies, wherever its module does."""

    def __init__(self, function: Any, file: str) -> None:
        self._py_file = file
        self._line = function.__code__.co_firstlineno

    def get_cache_path(self) -> str:
        """Folder of the code: one for each package, as two may hold modules of one name."""
        return str((code_folder() or Path()) / Path(self._py_file).parent.name)

    def get_source_stamp(self) -> int:
        """Give the same for all, as the folder is named by the text of the sources."""
        return 0

    def get_disambiguator(self) -> str:
        """Tell functions of one name in a module apart."""
        return str(self._line)

    @classmethod
    def from_function(cls, function: Any, file: str) -> "_Place":
        """Give the place of a function."""
        return cls(function, file)


class _Code(CompileResultCacheImpl):  # type: ignore[misc]
    _locator_classes = (_Place,)


class _Kept(FunctionCache):  # type: ignore[misc]
    """Code of a function on disk, under its signatures."""

    _impl_class = _Code

    def __init__(self, function: Any, python_calls: int) -> None:
        super().__init__(function)
        self.python_calls = python_calls
        self._turn = ExitStack()
        # One formula may be kept both for Python to call and for others to call by its name.
        self._name = f"{self._impl.filename_base}{'.shared' if python_calls else ''}"
        self._cache_file = _Sealed(
            cache_path=self._cache_path,
            filename_base=self._name,
            source_stamp=self._impl.locator.get_source_stamp(),
        )

    @contextmanager
    def turn(self) -> Iterator[None]:
        """Keep other processes from compiling the function once this one does."""
        before = self._turn
        try:
            with ExitStack() as self._turn:
                yield
        finally:
            self._turn = before

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """Read code, once another process that compiles it is done; None where there is none."""
        found = super().load_overload(sig, target_context)
        if found is None:
            self._turn.enter_context(_locked(Path(self._cache_path), self._name))
            found = super().load_overload(sig, target_context)
        return found

    def _load_overload(self, sig: Any, target_context: Any) -> Any:
        try:
            found = super()._load_overload(sig, target_context)
        except _GoneError:
            return None
        if found is None or not self.python_calls:
            return found
        name, module = found.fndesc.qualname, found.fndesc.lookup_module()
        alive = (found.library,)
        entry_point = _dynfunc.make_function(
            module, name, "", self.python_calls, found.environment, alive
        )
        return found._replace(entry_point=entry_point)


@contextmanager
def _locked(folder: Path, name: str) -> Iterator[None]:
    """Lock a name in a folder against other processes, if that is possible; wait until it is free.

    A process that is forked meanwhile does not hold the lock.
    """
    with ExitStack() as until_done:
        with suppress(OSError):
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0)
            handle = os.open(folder / f"{name}.lock", flags, 0o600)
            until_done.callback(os.close, handle)
            _wait_for(handle)
        yield


if sys.platform == "win32":
    import msvcrt

    def _wait_for(handle: int) -> None:
        """Lock a file; the system tries for ten seconds, and counts more as a deadlock."""
        while True:
            try:
                msvcrt.locking(handle, msvcrt.LK_LOCK, 1)
            except OSError as error:
                if error.errno != errno.EDEADLOCK:
                    raise
            else:
                return

else:
    import fcntl

    def _wait_for(handle: int) -> None:
        """Lock a file."""
        fcntl.lockf(handle, fcntl.LOCK_EX)


class _Sealed(IndexDataCacheFile):  # type: ignore[misc]
    """Index and machine code of a function; what is damaged counts as absent."""

    def save(self, key: Any, data: Any) -> None:
        """Keep the code of one signature, if there is room."""
        try:
            super().save(key, data)
        except OSError:
            return  # it is compiled again next time

    def _load_index(self) -> dict[Any, str]:
        try:
            version, stamp, names = self._opened(self._index_path)
        except FileNotFoundError:
            return {}
        except (OSError, ValueError):
            return _told(self._cache_path, {})
        fresh = (version, stamp) == (self._version, self._source_stamp)
        return dict(names) if fresh else {}

    def _save_index(self, names: dict[Any, str]) -> None:
        self._close(self._index_path, (self._version, self._source_stamp, names))

    def _load_data(self, name: str) -> Any:
        try:
            return self._opened(self._data_path(name))
        except FileNotFoundError:
            return None
        except (OSError, ValueError):
            return _told(self._cache_path, None)

    def _save_data(self, name: str, data: Any) -> None:
        self._close(self._data_path(name), data)

    def _opened(self, path: str) -> Any:
        """Read a file; raises ValueError where it is not as it was written."""
        sealed = Path(path).read_bytes()
        seal, content = sealed[:SEAL], sealed[SEAL:]
        if hashlib.sha256(content).digest() != seal:
            raise ValueError(path)
        return pickle.loads(content)  # noqa: S301  the folder is private to this user

    def _close(self, path: str, data: Any) -> None:
        content = self._dump(data)
        with self._open_for_write(path) as file:
            file.write(hashlib.sha256(content).digest() + content)


def _told(folder: str, nothing: R) -> R:
    """Give what stands for a damaged file, and say once that there is one."""
    _tell_damaged(folder)
    return nothing


@cache
def _tell_damaged(folder: str) -> None:
    LOG.warning("%s: compiled code is damaged, and is made anew in up to some minutes", folder)
