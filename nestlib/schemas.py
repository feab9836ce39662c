"""The JSON Schemas (draft 2020-12) of what is written for scripts."""

from __future__ import annotations

import json
from functools import cache
from importlib import resources
from typing import Any


def schema(name: str) -> dict[str, Any]:
    """Return a schema; it may be changed without harm.

    Parameters
    ----------
    name : str
        ``"plan"``, ``"buy"`` or ``"feedback"``.
    """
    found: dict[str, Any] = json.loads(_text(name))
    return found


@cache
def _text(name: str) -> str:
    file = resources.files("nestlib.writing.schema") / f"{name}.schema.json"
    return file.read_text(encoding="utf-8")
