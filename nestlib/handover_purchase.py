"""From a purchase to its folder: whole, or not at all."""

from __future__ import annotations

from pathlib import Path

from nestlib.errors import InputError, Problem
from nestlib.interrupts import finishing
from nestlib.model import Purchase
from nestlib.reporting import purchase_html, purchase_pdf
from nestlib.reporting.cost_picture import cost_svg
from nestlib.reporting.paper import PAPERS
from nestlib.writing import (
    demand_free,
    plan_folder,
    read_purchase,
    write_bytes,
    write_text,
    writing_to,
)
from nestlib.writing.buy_json import (
    BUY,
    PAGE_FILE,
    PICTURE_FILE,
    PRINT_FILE,
    write_lists,
    write_purchase,
)


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
    purchase: Purchase, folder: str | Path, *, overwrite: bool = False, paper: str = "a4"
) -> None:
    """Write the order into a folder of its own: a page, a PDF, lists, a picture, ``buy.json``.

    Parameters
    ----------
    purchase : Purchase
        What `nestlib.buy` returned.
    folder : path-like
        Where to; it must not exist, unless it is an older purchase and `overwrite` is set.
    overwrite : bool
        Whether an older purchase may be replaced.
    paper : {"a4", "letter"}
        Size of the pages of the PDF.

    Raises
    ------
    InputError
        If there is no such paper.
    OutputError
        If the folder cannot be written.
    """
    _demand_paper(paper)
    with finishing(), plan_folder(folder, overwrite=overwrite, kind=BUY) as temporary:
        write_purchase(purchase, temporary)
        _write_pages(purchase, temporary, paper)


def rewrite_purchase(folder: str | Path, paper: str = "a4") -> Path:
    """Write the pages, the picture and the lists of a purchase again, from its buy.json alone.

    Parameters
    ----------
    folder : path-like
        The folder of a purchase, or its ``buy.json``.
    paper : {"a4", "letter"}
        Size of the pages of the PDF.

    Returns
    -------
    pathlib.Path
        The page.

    Raises
    ------
    InputError
        If it is not the folder of a purchase, or there is no such paper.
    OutputError
        If the folder cannot be written.
    """
    _demand_paper(paper)
    purchase, folder = read_purchase(folder), Path(folder)
    folder = folder if folder.is_dir() else folder.parent
    with writing_to(folder):
        write_lists(purchase, folder)
        _write_pages(purchase, folder, paper)
    return folder / PAGE_FILE


def _write_pages(purchase: Purchase, folder: Path, paper: str) -> None:
    write_text(folder / PAGE_FILE, purchase_html(purchase))
    write_bytes(folder / PRINT_FILE, purchase_pdf(purchase, paper))
    write_text(folder / PICTURE_FILE, cost_svg(purchase))


def _demand_paper(paper: str) -> None:
    if paper not in PAPERS:
        remedy = f"Name one of {', '.join(PAPERS)}"
        raise InputError(Problem("", "", f"there is no paper {paper!r}", remedy))
