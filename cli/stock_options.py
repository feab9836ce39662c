"""Options and texts that the commands of the rack share."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any

import click

from .options import Command, print_json

if TYPE_CHECKING:
    from nestlib.stock import Booked


def at_rack(command: Command) -> Command:
    """Add --stock."""
    text = (
        "Where the rack is kept: a file or a URL.  [default: $NESTLIB_STOCK, or your data folder]"
    )
    return click.option("--stock", "where", metavar="PATH|URL", help=text)(command)


def sheets_from_rack(words: str) -> Callable[[Command], Command]:
    """Add --from-stock, which does what these words say, and what goes with it."""

    def add(command: Command) -> Command:
        for option in (
            click.option(
                "--document",
                type=click.Choice(["2.1", "2.2", "3.1", "3.2"]),
                help="With --from-stock: inspection document by EN 10204 that is needed at least.",
            ),
            click.option(
                "--stock", "place", metavar="PATH|URL", help="With --from-stock: where the rack is."
            ),
            click.option("--from-stock", is_flag=True, help=words),
        ):
            command = option(command)
        return command

    return add


def demand_from_stock(from_stock: bool, place: str | None, document: str | None) -> None:
    """Refuse what goes with --from-stock without it."""
    if not from_stock and (place is not None or document is not None):
        raise click.UsageError("--stock and --document go with --from-stock")


def noted(command: Command) -> Command:
    """Add --note."""
    return click.option("--note", default="", help="Why, for the ledger.")(command)


def tell(booked: Booked, *, as_json: bool, quiet: bool) -> None:
    """Print what was booked."""
    if as_json:
        entries = [entry_record(entry) for entry in booked.entries]
        print_json({"booking": booked.key, "fresh": booked.fresh, "entries": entries})
    elif not quiet:
        if not booked.fresh:
            click.echo("Booked before; nothing was changed. It was:")
        show(sentence(entry) for entry in booked.entries)


def show(lines: Iterable[str]) -> None:
    """Print lines, at once, without characters that could steer a terminal."""
    from nestlib.reporting.texts import plain

    click.echo("\n".join(plain(line) for line in lines))


def sentence(entry: Any) -> str:
    """Say an entry in words."""
    if entry.kind == "moved":
        return f"{entry.code}: moved to {entry.place}"
    count = abs(entry.held if entry.kind in ("held", "released") else entry.there)
    signed = f"{entry.there:+d}" if entry.kind == "counted" else str(count)
    hold = f" for {entry.hold}" if entry.hold else ""
    return f"{entry.code}: {signed} {entry.kind}{hold}"


def entry_record(entry: Any) -> dict[str, Any]:
    """Return an entry for scripts."""
    return {"item": entry.code, **{k: v for k, v in entry._asdict().items() if k != "item"}}
