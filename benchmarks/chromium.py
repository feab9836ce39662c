"""A browser without a screen, for what is shown in one."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import Browser

#: It asks nothing of the network on its own, and needs neither a screen nor a sandbox.
_FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
)


def missing() -> str:
    """Return why there is no browser, in plain words; empty if there is one."""
    if shutil.which("chromium") is None:
        return "the program chromium is not installed"
    try:
        import playwright.sync_api  # noqa: F401
    except ImportError:
        return "the package playwright is not installed"
    return ""


@contextmanager
def browser() -> Iterator[Browser]:
    """Open the system's Chromium for as long as the context lasts.

    Raises
    ------
    RuntimeError
        If it or the package that drives it is missing.
    """
    if missing():
        raise RuntimeError(missing())
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=shutil.which("chromium"), args=_FLAGS)
        try:
            yield opened
        finally:
            opened.close()
