"""Where compiled kernels are kept."""

from pathlib import Path

import pytest

from nestlib import kernel_cache


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
