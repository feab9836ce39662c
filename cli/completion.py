"""Print what makes a shell complete commands, options and names."""

from __future__ import annotations

import click
from click.shell_completion import get_completion_class

#: Variable by which a shell asks for completions; click's own choice for this name.
_VARIABLE = "_NESTLIB_COMPLETE"


@click.command()
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
@click.pass_context
def completion(ctx: click.Context, shell: str) -> None:
    """Print the script by which SHELL completes commands, options and names of metals and
    machines with the Tab key. A new shell has it once it is in place:

    \b
    Examples:
      nestlib completion bash > ~/.local/share/bash-completion/completions/nestlib
      nestlib completion zsh >> ~/.zshrc
      nestlib completion fish > ~/.config/fish/completions/nestlib.fish
    """
    made = get_completion_class(shell)
    assert made is not None  # the choices above are click's
    click.echo(made(ctx.find_root().command, {}, "nestlib", _VARIABLE).source())
