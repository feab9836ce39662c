"""What of the documentation is made from the code, so that the two cannot differ.

A line ``<!-- generated: NAME WORD -->`` of a page is replaced by what NAME makes of WORD.
"""

from __future__ import annotations

import inspect
import re
import textwrap
from collections.abc import Iterator, Sequence
from importlib import import_module
from types import ModuleType
from typing import Any

import click
from nestlib_cli import main
from nestlib_cli.topics import text

import nestlib
from nestlib.jobs.entries import PartEntry, SheetEntry
from nestlib.jobs.job_file import JobFile, RuleTable, SpacingTable
from nestlib.schemas import schema
from nestlib.validation import Table
from nestlib.writing import plain_template_text
from nestlib.writing.layers import LAYERS

#: Links to files of the project that are no pages.
_OUTSIDE = re.compile(r"\]\(((?:\.\./)+(?:README|benchmarks/\w+)\.md)\)")

#: Files that a page shows with their names.
_NAMED = re.compile(r'^```(\w+) title="([^"]+)"$', re.MULTILINE)

_MARK = re.compile(r"^<!-- generated: (\w+)(?: (\S+))? -->$", re.MULTILINE)


def fill_in(app: object, page: str, source: list[str]) -> None:
    """Replace each mark of a page by what it names; Sphinx calls it for every page it reads.

    Names of files and links out of the pages become what Sphinx understands.
    """
    linked = _OUTSIDE.sub(r"](path:\1)", source[0])
    linked = _NAMED.sub(r"```{code-block} \1\n:caption: \2\n", linked)
    source[0] = _MARK.sub(lambda found: _MAKERS[found[1]](found[2] or ""), linked)


def _docstring(module: str) -> str:
    """What `nestlib help` prints, too."""
    return _rst(f".. automodule:: {module}\n   :no-members:\n   :no-index:")


def _topic(name: str) -> str:
    """A topic of `nestlib help` as it is printed."""
    return f"```text\n{text(name)}\n```\n"


def _commands(_: str) -> str:
    """All commands, in the order of the work and in the words of their own help."""
    return "\n".join(_command(main, click.Context(main, info_name="nestlib")))


def _command(command: click.Command, context: click.Context) -> Iterator[str]:
    yield f"## {context.command_path}\n\n```text\n{command.get_usage(context)}\n```\n"
    yield _described(command.help or "")
    options = [p for p in command.get_params(context) if isinstance(p, click.Option)]
    records = [option.get_help_record(context) for option in options if "--help" not in option.opts]
    rows = [(f"`{name}`", words) for name, words in filter(None, records)]
    yield _table(("Option", "What"), rows) if rows else ""
    if isinstance(command, click.Group):
        for name in command.list_commands(context):
            inner = command.get_command(context, name)
            assert inner is not None
            yield from _command(inner, click.Context(inner, info_name=name, parent=context))


def _described(words: str) -> str:
    """The help of a command, what is not to be wrapped in it as a block of its own."""
    told = []
    for paragraph in inspect.cleandoc(words).split("\n\n"):
        if paragraph.startswith("\b\n"):
            title, *lines = paragraph[2:].splitlines()
            paragraph = f"{title}\n\n```text\n{textwrap.dedent(chr(10).join(lines))}\n```"
        told.append(paragraph)
    return "\n\n".join(told) + "\n"


def _layers(_: str) -> str:
    return _table(
        ("Layer", "What lies on it"),
        [(f"`{layer.name}`", layer.what) for layer in LAYERS.values()],
    )


def _template(_: str) -> str:
    return f"```toml\n{plain_template_text()}```\n"


def _keys(_: str) -> str:
    """Kinds, limits and defaults of the keys of a job file, table by table."""
    tables = {
        "the job": JobFile,
        "[spacing]": SpacingTable,
        "[[sheet]]": SheetEntry,
        "[[part]]": PartEntry,
        "[[rule]]": RuleTable,
    }
    return "\n".join(f"### Keys of {name}\n\n{_keys_of(table)}" for name, table in tables.items())


def _keys_of(table: type[Table]) -> str:
    rows = [
        (f"`{name}`", field.description or "", _limits(field.metadata), _default(field))
        for name, field in table.model_fields.items()
    ]
    return _table(("Key", "What to write", "Limits", "Left out"), rows)


def _limits(metadata: Sequence[Any]) -> str:
    words = {"ge": "≥", "gt": ">", "le": "≤", "lt": "<"}
    return ", ".join(
        f"{sign} {getattr(m, name):g}"
        for m in metadata
        for name, sign in words.items()
        if hasattr(m, name)
    )


def _default(field: Any) -> str:
    if field.is_required():
        return "needed"
    value = field.default
    plain = isinstance(value, bool | int | float) or (isinstance(value, str) and value)
    return f"`{str(value).lower() if isinstance(value, bool) else value}`" if plain else ""


def _schema(name: str) -> str:
    """A JSON Schema as a table for each kind of object in it."""
    whole = schema(name)
    parts = [f"{whole['description']}\n", _table(_FIELDS, list(_fields(whole)))]
    for kind, said in whole.get("$defs", {}).items():
        parts.append(f"### {kind}\n\n{said.get('description', '')}\n")
        parts.append(_table(_FIELDS, list(_fields(said))) if "properties" in said else "")
    return "\n".join(parts)


_FIELDS = ("Key", "Type", "What")


def _fields(said: dict[str, Any], above: str = "") -> Iterator[tuple[str, str, str]]:
    """Yield a row for each key, those of objects within it included."""
    for key, value in said.get("properties", {}).items():
        name = f"{above}{key}"
        yield f"`{name}`", _kind(value), value.get("description", "")
        inner = value.get("items", value)
        many = "[]." if inner is not value else "."
        yield from _fields(inner, f"{name}{many}")


def _kind(value: dict[str, Any]) -> str:
    if "$ref" in value:
        kind = value["$ref"].rsplit("/", 1)[-1]
        return f"[{kind}](#{kind.replace('_', '-')})"
    if "const" in value:
        return f"`{value['const']}`"
    if "enum" in value:
        return ", ".join(f"`{v}`" for v in value["enum"])
    for choice in ("anyOf", "oneOf"):
        if choice in value:
            return " or ".join(_kind(v) for v in value[choice])
    if "items" in value:
        return f"list of {_kind(value['items'])}"
    kinds = value.get("type", "")
    return " or ".join([kinds] if isinstance(kinds, str) else kinds)


def _python(module: str) -> str:
    """Public names of the package, or of one of its packages: functions, then classes."""
    home = import_module(module)
    names = {
        name: getattr(home, name)
        for name in home.__all__
        if not name.startswith("_") and (home is nestlib or name not in nestlib.__all__)
    }
    errors = [n for n, v in names.items() if isinstance(v, type) and issubclass(v, Exception)]
    classes = [n for n, v in names.items() if isinstance(v, type) and n not in errors]
    functions = [n for n, v in names.items() if callable(v) and n not in (*classes, *errors)]
    groups = (("Functions", functions), ("Classes", classes), ("Errors", errors))
    return "\n".join(
        f"### {title} of {module}\n\n" + "".join(_documented(home, name) for name in group)
        for title, group in groups
        if group
    )


def _documented(home: ModuleType, name: str) -> str:
    value = getattr(home, name)
    full = f"{home.__name__}.{name}"
    if isinstance(value, type):
        return _rst(f".. autoclass:: {full}\n   :members:")
    return _rst(f".. autofunction:: {full}")


def _rst(lines: str) -> str:
    return f"```{{eval-rst}}\n{lines}\n```\n\n"


def _table(titles: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    lines = [titles, tuple("---" for _ in titles), *rows]
    cells = [[cell.replace("|", "\\|").replace("\n", " ") for cell in line] for line in lines]
    return "".join(f"| {' | '.join(line)} |\n" for line in cells)


_MAKERS = {
    "docstring": _docstring,
    "topic": _topic,
    "commands": _commands,
    "layers": _layers,
    "template": _template,
    "keys": _keys,
    "schema": _schema,
    "python": _python,
}
