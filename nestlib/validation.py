"""Reading what people write, and telling them everything that is wrong with it at once.

Tables are described by pydantic models derived from `Table`. The description of a field
says what belongs there, so it serves both as its documentation and as the remedy in a
message; it completes the sentence "give ...".
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ConfigDict, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails, PydanticCustomError

from nestlib.errors import InputError, JobError, Problem
from nestlib.input_files import read_text
from nestlib.suggesting import did_you_mean
from nestlib.toml_lines import line_of, toml_lines

Location = tuple[str | int, ...]
_Model = TypeVar("_Model", bound="Table")

#: What a value is not, by pydantic's kind of error; the words complete "... is not".
_WANTED = {
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "int_parsing": "a whole number",
    "float_type": "a number",
    "float_parsing": "a number",
    "finite_number": "a finite number",
    "string_type": "a text in quotes",
    "bool_type": "true or false",
    "list_type": "a list",
    "dict_type": "a table",
    "model_type": "a table",
    "literal_error": "{expected}",
    "greater_than": "more than {gt}",
    "greater_than_equal": "{ge} or more",
    "less_than": "less than {lt}",
    "less_than_equal": "{le} or less",
    "too_short": "a list of {min_length} or more",
    "too_long": "a list of {max_length} or fewer",
    "string_too_short": "a text with something in it",
}


class Table(BaseModel):
    """A table that people write: no unknown keys, no silent conversion of types."""

    model_config = ConfigDict(
        extra="forbid", strict=True, frozen=True, allow_inf_nan=False, str_strip_whitespace=True
    )


def fault(problem: str, remedy: str = "") -> PydanticCustomError:
    """Return what a validator raises to have its own words shown.

    Parameters
    ----------
    problem : str
        What is wrong, with the value.
    remedy : str
        What to do; empty for the field's description.
    """
    return PydanticCustomError(
        "said",
        "{problem}",
        {"problem": problem, "remedy": remedy},
    )


def fault_from(error: InputError) -> PydanticCustomError:
    """Return what a validator raises to pass on what another reader said.

    Its problems that name a file are kept; the others get the place of the value.
    """
    return PydanticCustomError("passed", "{problems}", {"problems": error.problems})


def read_toml(
    path: str | Path, model: type[_Model], context: object = None
) -> tuple[_Model, Callable[[Location], str]]:
    """Return a TOML file as a model, and a function that says where in it things stand.

    Parameters
    ----------
    path : str or Path
        A TOML 1.0 file in UTF-8.
    model : type
        What it must look like.
    context : object
        Handed to the model's validators.

    Returns
    -------
    data : Table
        The file's content.
    place : callable
        From ``("part", 2, "quantity")`` to ``"line 12, key part[3].quantity"``.

    Raises
    ------
    JobError
        With every problem of the file.
    """
    text = read_text(path)
    try:
        raw = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise JobError(_syntax_problem(str(path), error)) from None
    lines = toml_lines(text)

    def place(location: Location) -> str:
        line = line_of(lines, location)
        key = key_name(location)
        return f"line {line}, key {key}" if line else f"key {key}" if key else ""

    def line(location: Location) -> int:
        return line_of(lines, location) or 0

    return validate(model, raw, str(path), place, context, order=line), place


def validate(
    model: type[_Model],
    raw: Mapping[str, Any],
    file: str,
    place: Callable[[Location], str],
    context: object = None,
    order: Callable[[Location], int] = lambda _: 0,
) -> _Model:
    """Return raw data as a model.

    Parameters
    ----------
    model : type
        What the data must look like.
    raw : mapping
        The data.
    file : str
        Where they come from.
    place : callable
        Says where in the file a location is.
    context : object
        Handed to the model's validators.
    order : callable
        By what the problems are sorted, given their locations; as they were found by default.

    Raises
    ------
    JobError
        With every problem of the data.
    """
    try:
        return model.model_validate(raw, context=context)
    except ValidationError as error:
        found = sorted(error.errors(include_url=False), key=lambda e: order(tuple(e["loc"])))
        raise JobError(
            problem for details in found for problem in _problems(model, details, file, place)
        ) from None


def key_name(location: Location) -> str:
    """Return a location as people write it; list items are counted from 1.

    Examples
    --------
    >>> key_name(("part", 2, "quantity"))
    'part[3].quantity'
    """
    text = ""
    for step in location:
        text += f"[{step + 1}]" if isinstance(step, int) else f".{step}" if text else step
    return text


def shown(value: object) -> str:
    """Return a value as it would stand in a TOML file, shortened.

    Examples
    --------
    >>> shown(True), shown("a"), shown(float("nan"))
    ('true', '"a"', 'nan')
    """
    try:
        text = json.dumps(value, ensure_ascii=False, default=str)
    except ValueError:
        text = str(value)
    text = {"NaN": "nan", "Infinity": "inf", "-Infinity": "-inf"}.get(text, text)
    return text if len(text) <= 60 else text[:57] + "..."


def _syntax_problem(file: str, error: Exception) -> Problem:
    if isinstance(error, RecursionError):
        return Problem(file, "", "lists or tables are nested too deeply", "Write it more plainly")
    match = re.fullmatch(r"(.*) \(at (.*)\)", str(error), re.DOTALL)
    what, place = (match[1], match[2]) if match else (str(error), "")
    what = what[:1].lower() + what[1:]
    return Problem(
        file, place, f"not valid TOML: {what}", "Text stands in quotes, and keys as key = value"
    )


def _problems(
    model: type[Table], details: ErrorDetails, file: str, place: Callable[[Location], str]
) -> list[Problem]:
    location = tuple(details["loc"])
    context: dict[str, Any] = details.get("ctx", {})
    if details["type"] == "passed":
        passed: list[Problem] = context["problems"]
        return [p if p.file else replace(p, file=file, place=place(location)) for p in passed]
    problem, remedy = _wording(model, details, location, context)
    return [Problem(file, place(location), problem, remedy)]


def _wording(
    model: type[Table], details: ErrorDetails, location: Location, context: dict[str, Any]
) -> tuple[str, str]:
    """What is wrong, and what to do about it."""
    kind = details["type"]
    field = _field_at(model, location)
    remedy = f"Give {field.description}" if field and field.description else ""
    if kind == "said":
        return str(context["problem"]), str(context["remedy"]) or remedy
    if kind == "missing":
        return f'"{location[-1]}" is missing', remedy
    if kind == "extra_forbidden":
        known = _keys_at(model, location[:-1])
        return f'unknown key "{location[-1]}"', did_you_mean(str(location[-1]), known)
    limits = {k: f"{v:g}" if isinstance(v, float) else v for k, v in context.items()}
    expected = _WANTED.get(kind, f"accepted here ({details['msg']})").format(**limits)
    return f"{shown(details['input'])} is not {expected}", remedy


def _field_at(model: type[Table], location: Location) -> FieldInfo | None:
    """The field that a location lies in: that of the last key in it."""
    keys = [(i, step) for i, step in enumerate(location) if isinstance(step, str)]
    if not keys:
        return None
    index, key = keys[-1]
    table = _table_at(model, location[:index])
    return table.model_fields.get(key) if table else None


def _keys_at(model: type[Table], location: Location) -> list[str]:
    table = _table_at(model, location)
    return list(table.model_fields) if table else []


def _table_at(model: type[Table], location: Location) -> type[Table] | None:
    table: type[Table] | None = model
    for step in location:
        if isinstance(step, str) and table:
            field = table.model_fields.get(step)
            table = _table_in(field.annotation) if field else None
    return table


def _table_in(annotation: Any) -> type[Table] | None:
    """The model somewhere inside an annotation such as ``list[PartEntry]``."""
    if isinstance(annotation, type) and issubclass(annotation, Table):
        return annotation
    return next((t for a in get_args(annotation) if (t := _table_in(a))), None)
