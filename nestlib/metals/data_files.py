"""The TOML files that come with the package."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any


@cache
def load(name: str) -> dict[str, Any]:
    """Return the content of a data file, read once; nobody changes it."""
    text = files("nestlib.metals.data").joinpath(name).read_text(encoding="utf-8")
    return tomllib.loads(text)


def names(prefix: str) -> tuple[str, ...]:
    """Return what follows a prefix in the names of the data files, sorted.

    Examples
    --------
    >>> names("mater")
    ('ials',)
    """
    found = (f.name for f in files("nestlib.metals.data").iterdir())
    return tuple(
        sorted(n.removeprefix(prefix).removesuffix(".toml") for n in found if n.startswith(prefix))
    )
