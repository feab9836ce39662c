"""Names that a shell can complete: metals, machines, templates."""

from __future__ import annotations

from collections.abc import Iterable

import click
from click.shell_completion import CompletionItem


def metal_names(ctx: click.Context, param: click.Parameter, begun: str) -> list[CompletionItem]:
    """Complete the built-in materials."""
    from nestlib.metals import materials

    return _beginning(((metal.name, metal.title) for metal in materials()), begun)


def machine_names(ctx: click.Context, param: click.Parameter, begun: str) -> list[CompletionItem]:
    """Complete the built-in machines; where none fits, files."""
    from nestlib.metals import machines

    return _beginning(((m.name, m.title) for m in machines()), begun) or _files(begun)


def templates(ctx: click.Context, param: click.Parameter, begun: str) -> list[CompletionItem]:
    """Complete the plain template; where it does not fit, files."""
    return _beginning([("plain", "The plain template")], begun) or _files(begun)


def _beginning(names: Iterable[tuple[str, str]], begun: str) -> list[CompletionItem]:
    return [CompletionItem(name, help=title) for name, title in names if name.startswith(begun)]


def _files(begun: str) -> list[CompletionItem]:
    """Leave it to the shell to complete the path of a file."""
    return [CompletionItem(begun, type="file")]
