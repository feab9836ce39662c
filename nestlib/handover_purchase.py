"""From a purchase to its folder: whole, or not at all."""

from __future__ import annotations

from pathlib import Path

from nestlib.interrupts import finishing
from nestlib.model import Purchase
from nestlib.reporting.cost_picture import cost_svg
from nestlib.writing import demand_free, plan_folder, write_text
from nestlib.writing.buy_json import BUY, PICTURE_FILE, write_purchase


def demand_free_for_purchase(folder: str | Path, *, overwrite: bool = False) -> None:
    """Raise now what `write_purchase_folder` would raise later.

    Parameters
    ----------
    folder : path-like
        Where to.
    overwrite : bool
        Whether an older purchase may be replaced.

    Raises
    ------
    OutputError
        If something is in the way.
    """
    demand_free(folder, overwrite=overwrite, kind=BUY)


def write_purchase_folder(
    purchase: Purchase, folder: str | Path, *, overwrite: bool = False
) -> None:
    """Write the order, the lists, the picture and ``buy.json`` into a folder of their own.

    Parameters
    ----------
    purchase : Purchase
        What `nestlib.buy` returned.
    folder : path-like
        Where to; it must not exist, unless it is an older purchase and `overwrite` is set.
    overwrite : bool
        Whether an older purchase may be replaced.

    Raises
    ------
    OutputError
        If the folder cannot be written.
    """
    with finishing(), plan_folder(folder, overwrite=overwrite, kind=BUY) as temporary:
        write_purchase(purchase, temporary)
        write_text(temporary / PICTURE_FILE, cost_svg(purchase))
