"""Tell what files hold, and what a command does."""

from __future__ import annotations

import difflib

import click
from click.shell_completion import CompletionItem

from .topics import TOPICS, text


def _names(ctx: click.Context, param: click.Parameter, begun: str) -> list[CompletionItem]:
    """Complete topics and commands."""
    from . import COMMANDS

    told = {name: topic.title for name, topic in TOPICS.items()} | COMMANDS
    return [CompletionItem(n, help=words) for n, words in told.items() if n.startswith(begun)]


@click.command()
@click.argument("topic", nargs=-1, shell_complete=_names)
@click.pass_context
def help(ctx: click.Context, topic: tuple[str, ...]) -> None:
    """Tell about TOPIC: a file that nestlib reads or writes, or a command. Without one, the
    topics are listed.

    \b
    Examples:
      nestlib help
      nestlib help job
      nestlib help part list
      nestlib help stock add
    """
    name = "-".join(topic).lower()
    if not topic:
        click.echo(_listed())
    elif name in TOPICS:
        click.echo(text(name))
    else:
        click.echo(_help_of_command(ctx, topic))


def _listed() -> str:
    lines = [f"  {name:14}{topic.title}" for name, topic in TOPICS.items()]
    lines += ["", "nestlib help COMMAND, or nestlib COMMAND --help, tells about a command."]
    return "\n".join(["nestlib help TOPIC tells the", "", *lines])


def _help_of_command(ctx: click.Context, words: tuple[str, ...]) -> str:
    """Return what ``--help`` of a command, or of one within it, prints."""
    root = ctx.find_root()
    command, within = root.command, click.Context(root.command, info_name="nestlib")
    for word in words:
        found = command.get_command(within, word) if isinstance(command, click.Group) else None
        if found is None:
            raise click.UsageError(
                f'there is no topic or command "{" ".join(words)}"{_near(words)}'
            )
        command, within = found, click.Context(found, info_name=word, parent=within)
    return command.get_help(within)


def _near(words: tuple[str, ...]) -> str:
    from . import COMMANDS

    near = difflib.get_close_matches("-".join(words), [*TOPICS, *COMMANDS], n=1)
    return f". Did you mean {near[0]}?" if near else ". nestlib help lists the topics."
