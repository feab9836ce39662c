"""Stopping rules and the kernel cache."""

from pathlib import Path

import pytest

from nestlib.packing import After, First, Iterations, SearchState, Stalled, kernel_cache


def test_each_rule_looks_at_its_own_figure() -> None:
    """Time, rounds and rounds without improvement."""
    state = SearchState(seconds=5, iterations=3, stalled=2)
    assert After(5)(state)
    assert not After(5.1)(state)
    assert Iterations(3)(state)
    assert not Iterations(4)(state)
    assert Stalled(2)(state)
    assert not Stalled(3)(state)


def test_the_first_rule_that_says_stop_stops() -> None:
    """Any of several is enough, and none of none."""
    state = SearchState(seconds=5, iterations=3)
    assert First(After(100), Iterations(3))(state)
    assert not First(After(100), Iterations(9))(state)
    assert not First()(state)


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
