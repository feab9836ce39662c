"""The reference of Python names says everything that can be given."""

from __future__ import annotations

import inspect
import re
from importlib import import_module

import pytest

import nestlib
import nestlib.engine
import nestlib.model
import nestlib.stock

#: Errors take a message, and rows of a table are plain tuples.
_PLAIN = (Exception, tuple)

_NAMES = sorted(
    {
        (package.__name__, name)
        for package in (nestlib, nestlib.engine, nestlib.model, nestlib.stock)
        for name in package.__all__
        if callable(value := getattr(package, name))
        and not (isinstance(value, type) and issubclass(value, _PLAIN))
    }
)


@pytest.mark.parametrize(("package", "name"), _NAMES)
def test_every_parameter_is_described(package: str, name: str) -> None:
    """Each parameter of a public function or class stands in its docstring, before a colon."""
    value = getattr(import_module(package), name)
    said = re.findall(r"^\*{0,2}(\w[\w, ]*) ?:", inspect.getdoc(value) or "", re.MULTILINE)
    described = {word.strip() for line in said for word in line.split(",")}
    assert set(inspect.signature(value).parameters) - described == set()
