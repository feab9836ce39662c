"""Groups of commands that tell what a mistyped one may mean."""

from __future__ import annotations

import click


class Group(click.Group):
    """A group that names the command which a mistyped one is most like."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command that is called."""
        try:
            return super().resolve_command(ctx, args)
        except click.UsageError as error:
            from nestlib.suggesting import nearest

            near = nearest(args[0], self.list_commands(ctx))
            if near is None:
                raise
            raise click.UsageError(f'{error.message} Did you mean "{near}"?', ctx) from error
