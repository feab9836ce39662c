"""Commands that show the rack, and the terms of remnants."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .names import metal_names
from .options import Command, FiniteRange, as_json, print_json, quiet
from .stock_options import at_rack, entry_record, sentence, show

if TYPE_CHECKING:
    from nestlib.stock import Wanted


def filters(command: Command) -> Command:
    """Add the options that say which items are wanted."""
    options = (
        click.option(
            "--metal", help="Material, for example mild-steel.", shell_complete=metal_names
        ),
        click.option("--thickness", help='"1.5", "16 ga" or "0.060 in".'),
        click.option("--remnants/--sheets", "remnant", default=None, help="Only one of both."),
        click.option("--place", help="Where it lies."),
        click.option("--heat", help="Heat number."),
        click.option("--lot", help="Lot of the supplier."),
        click.option(
            "--document",
            type=click.Choice(["2.1", "2.2", "3.1", "3.2"]),
            help="Inspection document by EN 10204, this one or better.",
        ),
        click.option("--fits", help="A rectangle that goes in, such as 400x300."),
        click.option("--hold", help="Held for this name."),
        click.option("--free", is_flag=True, help="Only what is not all held."),
        click.option("--gone", is_flag=True, help="Also what is used up."),
    )
    for option in reversed(options):
        command = option(command)
    return command


def wanted_of(words: dict[str, Any]) -> Wanted:
    """Return what the options say; they are taken out of the words."""
    from nestlib.metals import material, metal, parse_size
    from nestlib.stock import Wanted

    thickness, fits = words.pop("thickness"), words.pop("fits")
    name = words.pop("metal")
    if thickness is not None and name is None:
        raise click.UsageError("--thickness also needs --metal, whose gauge it may be")
    return Wanted(
        metal=None if name is None else material(name).name,
        thickness=None if thickness is None else metal(name, thickness).thickness,
        place=words.pop("place"),
        fits=None if fits is None else parse_size(fits),
        **{key: words.pop(key) for key in ("remnant", "heat", "lot", "document", "hold")},
        **{key: words.pop(key) for key in ("free", "gone")},
    )


@click.command("list")
@filters
@at_rack
@as_json
@quiet
def stock_list(where: str | None, as_json: bool, quiet: bool, **words: Any) -> None:
    """List what is on the rack.

    \b
    Examples:
      nestlib stock list
      nestlib stock list --metal mild-steel --thickness 3 --remnants --fits 400x300 --free
    """
    from nestlib.stock import Rack, today
    from nestlib.stock.export import record
    from nestlib.stock.table import lines

    rack = Rack(where, make=False)
    items, terms, day = rack.items(wanted_of(words)), rack.terms, today()
    if as_json:
        print_json([record(item, terms, day) for item in items])
    elif not quiet:
        show(lines(items, terms, day))


@click.command("history")
@click.argument("item", required=False)
@at_rack
@as_json
@quiet
def stock_history(item: str | None, where: str | None, as_json: bool, quiet: bool) -> None:
    """Show every entry of the ledger, or those of ITEM, oldest first.

    \b
    Example:
      nestlib stock history S12
    """
    from nestlib.stock import Rack

    rack = Rack(where, make=False)
    entries = rack.history(None if item is None else rack.labelled(item).id)
    if as_json:
        print_json([entry_record(entry) for entry in entries])
    elif not quiet:
        show(
            f"{entry.at[:19]}Z  {sentence(entry)}" + (f" ({entry.note})" if entry.note else "")
            for entry in entries
        )


@click.command("export")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@filters
@at_rack
@as_json
@quiet
def stock_export(file: Path, where: str | None, as_json: bool, quiet: bool, **words: Any) -> None:
    """Write the list to FILE: CSV, or JSON with outlines, by the end of its name.

    \b
    Examples:
      nestlib stock export rack.csv
      nestlib stock export rack.json --metal mild-steel
    """
    from nestlib.from_stock import export
    from nestlib.stock import Rack

    count = export(Rack(where, make=False), file, wanted_of(words))
    _wrote(file, count, "item", as_json=as_json, quiet=quiet)


@click.command("label")
@click.argument("items", nargs=-1, required=True)
@click.option("--out", type=click.Path(path_type=Path), default=Path("labels.pdf"), help="PDF.")
@at_rack
@as_json
@quiet
def stock_label(
    items: tuple[str, ...], out: Path, where: str | None, as_json: bool, quiet: bool
) -> None:
    """Write labels for ITEMS: a PDF, one page of A6 each, with a QR code and the outline.

    \b
    Example:
      nestlib stock label S12 R40 --out labels.pdf
    """
    from nestlib.from_stock import write_labels
    from nestlib.stock import Rack

    rack = Rack(where, make=False)
    labelled = [rack.labelled(item) for item in items]
    write_labels(rack, [item.id for item in labelled], out)
    for code in dict.fromkeys(item.code for item in labelled if not item.there):
        click.echo(f"{code} is used up: there is none of it on the rack.", err=True)
    _wrote(out, len(items), "label", as_json=as_json, quiet=quiet)


@click.command("money")
@click.option("--share", type=FiniteRange(0, 1), help="Of the price, when a remnant is made.")
@click.option("--half-life", type=FiniteRange(0, min_open=True), help="Days until half is left.")
@click.option("--keeping", type=FiniteRange(0), help="Price of a square metre for a year.")
@click.option("--stay", type=FiniteRange(0), help="Days that a remnant lies there, as a rule.")
@at_rack
@as_json
@quiet
def stock_money(where: str | None, as_json: bool, quiet: bool, **values: float | None) -> None:
    """Show or set what remnants are worth and what keeping them costs, for everybody who uses
    this rack. `nestlib nest --from-stock` weighs it.

    \b
    Example:
      nestlib stock money --share 0.6 --half-life 365 --keeping 12
    """
    from nestlib.stock import Rack

    rack = Rack(where, make=False)
    terms = replace(rack.terms, **{k: v for k, v in values.items() if v is not None})
    if terms != rack.terms:
        rack.set_terms(terms)
    if as_json:
        print_json(vars(terms))
    elif not quiet:
        click.echo(
            f"A remnant is worth {terms.share:.0%} of its price when it is made, for its area away "
            f"from the edges,\nand half of that after {terms.half_life:g} days. Keeping costs "
            f"{terms.keeping:g} a square metre and year;\nit stays for {terms.stay:g} days."
        )


def _wrote(file: Path, count: int, noun: str, *, as_json: bool, quiet: bool) -> None:
    if as_json:
        print_json({"file": str(file), f"{noun}s": count})
    elif not quiet:
        click.echo(f"Wrote {file}: {count} {noun}{'' if count == 1 else 's'}")
