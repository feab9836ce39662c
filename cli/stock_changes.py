"""Commands that change the rack."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import click

from .names import metal_names
from .options import Day, FiniteRange, as_json, known_unit, quiet
from .stock_options import at_rack, noted, tell


@click.command("add")
@click.option(
    "--metal",
    required=True,
    help="Material, for example mild-steel.",
    shell_complete=metal_names,
)
@click.option("--thickness", required=True, help='"1.5", "16 ga" or "0.060 in".')
@click.option("--size", help="3000x1500 (mm) or 48x96in.")
@click.option("--drawing", type=click.Path(), help="DXF or SVG of the outline, with its holes.")
@click.option("--units", callback=known_unit, help="Unit of a drawing that gives none.")
@click.option(
    "--quantity", type=click.IntRange(1, 10**6), default=1, show_default=True, help="How many."
)
@click.option("--remnant", is_flag=True, help="It is a leftover of earlier work.")
@click.option("--grain", type=FiniteRange(-360, 360), default=0.0, help="Degrees, 0 along x.")
@click.option("--place", default="", help="Where it lies.")
@click.option("--price", type=FiniteRange(0), help="Of one; of a remnant: its share by area.")
@click.option("--currency", default="", help="Unit of the price, such as EUR; a price needs one.")
@click.option("--lot", default="", help="Lot of the supplier.")
@click.option("--heat", default="", help="Heat number.")
@click.option(
    "--document",
    type=click.Choice(["2.1", "2.2", "3.1", "3.2"]),
    default=None,
    help="Inspection document by EN 10204.",
)
@click.option("--since", type=Day(), metavar="YYYY-MM-DD", help="When it came.  [default: today]")
@click.option(
    "--key", default="", help="The same twice under one key is added once: number of a delivery."
)
@noted
@at_rack
@as_json
@quiet
def stock_add(
    quantity: int,
    since: datetime | None,
    document: str | None,
    key: str,
    note: str,
    where: str | None,
    as_json: bool,
    quiet: bool,
    **words: Any,
) -> None:
    """Put alike sheets on the rack, under a number of their own.

    \b
    Examples:
      nestlib stock add --metal mild-steel --thickness 3 --size 3000x1500 --quantity 4 \\
          --place A3 --price 112 --currency EUR --heat H4711 --document 3.1
      nestlib stock add --metal mild-steel --thickness 3 --drawing rest.dxf --remnant
    """
    from nestlib.receiving import item_from_words
    from nestlib.stock import Rack

    day = None if since is None else since.date()
    item = item_from_words(**words, since=day, document=document or "")
    rack = Rack(where)
    if rack.made and not (quiet or as_json):
        click.echo(f"New rack: {rack.place}", err=True)
    booked = rack.receive(item, quantity, key=key, note=note)
    tell(booked, as_json=as_json, quiet=quiet)


@click.command("hold")
@click.argument("item")
@click.option("--for", "hold", required=True, help="A name: of an order, or of a customer.")
@click.option("--quantity", type=click.IntRange(1), default=1, show_default=True, help="How many.")
@noted
@at_rack
@as_json
@quiet
def stock_hold(
    item: str, hold: str, quantity: int, note: str, where: str | None, as_json: bool, quiet: bool
) -> None:
    """Hold pieces of ITEM, so that nobody else takes them.

    \b
    Example:
      nestlib stock hold S12 --for "order 81" --quantity 2
    """
    from nestlib.stock import Rack

    rack = Rack(where, make=False)
    booked = rack.hold(hold, {rack.labelled(item).id: quantity}, note=note)
    tell(booked, as_json=as_json, quiet=quiet)


@click.command("release")
@click.argument("hold")
@click.argument("items", nargs=-1)
@noted
@at_rack
@as_json
@quiet
def stock_release(
    hold: str, items: tuple[str, ...], note: str, where: str | None, as_json: bool, quiet: bool
) -> None:
    """Let go of what is held for HOLD (a name, or the folder of a plan), or only of ITEMS.

    \b
    Examples:
      nestlib stock release plans/frame
      nestlib stock release "order 81" S12
    """
    from nestlib.from_stock import held_by
    from nestlib.stock import Rack

    name = (held_by(hold) if Path(hold).is_dir() else "") or hold
    rack = Rack(where, make=False)
    booked = rack.release(name, [rack.labelled(i).id for i in items] or None, note=note)
    tell(booked, as_json=as_json, quiet=quiet)


@click.command("use")
@click.argument("plan", type=click.Path(path_type=Path))
@at_rack
@as_json
@quiet
def stock_use(plan: Path, where: str | None, as_json: bool, quiet: bool) -> None:
    """Book that the plan in the folder PLAN was cut: its sheets are gone, and its remnants lie
    on the rack with their outlines. The same plan a second time changes nothing.

    \b
    Example:
      nestlib stock use plans/frame
    """
    from nestlib.from_stock import use_plan
    from nestlib.stock import Rack

    tell(use_plan(plan, Rack(where, make=False)), as_json=as_json, quiet=quiet)


@click.command("count")
@click.argument("item")
@click.argument("found", type=click.IntRange(0))
@noted
@at_rack
@as_json
@quiet
def stock_count(
    item: str, found: int, note: str, where: str | None, as_json: bool, quiet: bool
) -> None:
    """Book that FOUND pieces of ITEM were counted; the difference becomes an entry.

    \b
    Example:
      nestlib stock count S12 3 --note "stocktaking in May"
    """
    from nestlib.stock import Rack

    rack = Rack(where, make=False)
    booked = rack.count(rack.labelled(item).id, found, note=note)
    tell(booked, as_json=as_json, quiet=quiet)


@click.command("move")
@click.argument("items", nargs=-1, required=True)
@click.option("--place", required=True, help="Where they lie from now on.")
@noted
@at_rack
@as_json
@quiet
def stock_move(
    items: tuple[str, ...], place: str, note: str, where: str | None, as_json: bool, quiet: bool
) -> None:
    """Book that ITEMS lie in another place now, with all their pieces; how many there are and
    what is held of them stays as it is.

    \b
    Example:
      nestlib stock move S12 R40 --place B2
    """
    from nestlib.stock import Rack

    rack = Rack(where, make=False)
    booked = rack.move([rack.labelled(item).id for item in items], place, note=note)
    tell(booked, as_json=as_json, quiet=quiet)


@click.command("scrap")
@click.argument("item")
@click.option("--quantity", type=click.IntRange(1), default=1, show_default=True, help="How many.")
@noted
@at_rack
@as_json
@quiet
def stock_scrap(
    item: str, quantity: int, note: str, where: str | None, as_json: bool, quiet: bool
) -> None:
    """Book that pieces of ITEM were thrown away.

    \b
    Example:
      nestlib stock scrap R40 --note rusty
    """
    from nestlib.stock import Rack

    rack = Rack(where, make=False)
    booked = rack.scrap(rack.labelled(item).id, quantity, note=note)
    tell(booked, as_json=as_json, quiet=quiet)
