"""Where compiled kernels are kept."""

import importlib
import os
import sys
from pathlib import Path

import numpy as np
import pytest

from nestlib import kernel_cache
from nestlib.engine.kernel import grown
from nestlib.packing.kernels import decompose


def test_a_read_only_package_caches_in_the_users_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    """The package folder cannot be written: numba is sent to the user's cache folder."""
    monkeypatch.setenv("NUMBA_CACHE_DIR", "")
    monkeypatch.setattr("os.access", lambda *_: False)
    folder = kernel_cache.choose_cache_folder()
    assert "nestlib" in folder.parts
    assert kernel_cache.os.environ["NUMBA_CACHE_DIR"] == str(folder)


def test_compiled_kernels_are_recognised(tmp_path: Path) -> None:
    """By the index files that numba writes, at any depth."""
    assert not kernel_cache.is_compiled("kernels", tmp_path)
    (tmp_path / "deep").mkdir()
    (tmp_path / "deep" / "kernels.place-314.py311.nbi").touch()
    assert kernel_cache.is_compiled("kernels", tmp_path)


def test_kernels_of_other_sources_are_not_ready(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Those of today's sources are; old ones of others are removed, and nothing else is."""
    monkeypatch.setattr(kernel_cache, "CACHE_FOLDER", tmp_path)
    sources, other = kernel_cache.SOURCES, "nestlib_0123456789abcdef"
    old, recent = tmp_path / f"kernels.{other}.place-1.nbi", tmp_path / f"kernels.{other}.push.nbi"
    foreign = tmp_path / "kernels.place-314.py311.nbi"
    for path in (old, recent, foreign):
        path.touch()
    for path in (old, foreign):
        os.utime(path, (0, 0))
    assert not kernel_cache.ready("kernels")
    assert sorted(tmp_path.iterdir()) == sorted([recent, foreign])
    (tmp_path / f"kernels.{sources}.place-314.py311.nbi").touch()
    assert kernel_cache.ready("kernels")


def test_every_kernel_source_counts(tmp_path: Path) -> None:
    """Another text, another name, one file more: each gives another digest; other files do not."""
    (tmp_path / "engine").mkdir()
    a, b = tmp_path / "engine" / "a.py", tmp_path / "engine" / "b.py"
    found = []
    for path, text in ((a, "1"), (b, "1"), (b, "2")):
        path.write_text(text)
        found.append(kernel_cache.digest(tmp_path))
    b.rename(tmp_path / "engine" / "c.py")
    found.append(kernel_cache.digest(tmp_path))
    assert len(set(found)) == 4
    (tmp_path / "other.py").write_text("3")
    assert kernel_cache.digest(tmp_path) == found[-1]


CALLEE = """
from pathlib import Path
from numba import njit
from nestlib import kernel_cache

def kernel(function):
    sources = kernel_cache.digest(Path(__file__).parent, ["*.py"])
    return kernel_cache.compiled_from(sources, njit(cache=True), function)

@kernel
def callee():
    return {}
"""

CALLER = """
from called_kernel import callee, kernel

@kernel
def caller():
    return callee() + 1
"""


def called() -> int:
    """What the caller returns in a program that begins now."""
    importlib.invalidate_caches()
    for name in ("called_kernel", "calling_kernel"):
        sys.modules.pop(name, None)
    return int(importlib.import_module("calling_kernel").caller())


def test_a_change_of_a_kernel_that_is_called_is_noticed(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The caller's own file stays as it is; both versions keep their own kernels."""
    monkeypatch.setattr("sys.dont_write_bytecode", True)
    monkeypatch.syspath_prepend(tmp_path)
    (tmp_path / "calling_kernel.py").write_text(CALLER)
    for value in (1, 2, 1):
        (tmp_path / "called_kernel.py").write_text(CALLEE.format(value))
        assert called() == value + 1
    files = list(tmp_path.rglob("calling_kernel.nestlib_*.nbi"))
    assert len(files) == 2 or os.environ.get("NUMBA_CACHE_DIR")


def test_kernels_of_both_packages_are_named_by_their_sources() -> None:
    """A kernel of each that was called is found in the cache under the digest."""
    grown(np.ones((1, 2)), 1, 2)
    decompose(np.array([[0.0, 0.0, 1.0, 0.0], [0.0, 1.0, 1.0, 1.0]]), np.array([0.0, 1]))
    for module in ("kernel", "kernels"):
        assert kernel_cache.ready(module)
