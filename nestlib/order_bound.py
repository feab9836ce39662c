"""What no order for a shop can cost less than, whatever its layouts."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import replace

from nestlib.bundling import plain_things
from nestlib.buying.choosing import Case
from nestlib.buying.lengths import bands
from nestlib.buying.proving import least_cost
from nestlib.for_packer import containers_of, nearest_shapes, remnants_first
from nestlib.layouts_to_buy import Shop, new_sheet, own_sheet
from nestlib.model import Sheet
from nestlib.packing import Proof

#: Effort of a proof that time ends as a rule.
_MUCH = 1000.0


def bound_of(
    shop: Shop, case: Case, seconds: float = 0.0, go_on: Callable[[], bool] = lambda: True
) -> tuple[int, str]:
    """Return what no order can cost less than, in hundredths, and what proves it.

    Lengths that are cut to order count in bands: a band holds what its longest length holds.
    What is bought in packs or in least orders and not cut keeps its value at most, so the
    price of the sheets that have to be cut is a bound; packs and least orders raise it.

    Parameters
    ----------
    shop : Shop
        What is wanted, at hand and offered.
    case : Case
        Formats, terms and how many pieces of each part count.
    seconds : float
        So long more is proved, on top of what is usual.
    go_on : callable
        Asked now and then whether that is still wanted.
    """
    sheets, formats = _kinds(shop)
    pairs = zip(shop.job.parts, case.wanted, strict=True)
    parts = tuple(replace(part, quantity=wanted) for part, wanted in pairs)
    job = replace(shop.job, parts=parts, sheets=tuple(sheets))
    # The packer's order, remnants first.
    groups = [formats[sheet.name] for sheet in remnants_first(job)]
    shapes, containers = nearest_shapes(job, plain_things(job)), containers_of(job)
    proof = Proof(shapes, containers)
    plain = proof.bound()
    if seconds:
        end = time.monotonic() + seconds
        plain = proof.bound(_MUCH, lambda: time.monotonic() > end or not go_on())
    least = math.ceil(plain.cost - 1e-6)
    found = proof.demands()
    packed = least_cost(case, groups, [d.capacities for d in found], [d.total for d in found])
    if packed > least:
        return packed, f"{plain.method}; with packs, least orders and delivery"
    return least, plain.method


def _kinds(shop: Shop) -> tuple[list[Sheet], dict[str, list[int]]]:
    """Sheets that the packer proves with, and the formats that each of them stands for."""
    sheets = [own_sheet(shop, i) for i in range(len(shop.job.sheets))]
    formats = {sheet.name: [i] for i, sheet in enumerate(sheets)}
    at = len(sheets)
    for number, offer in enumerate(shop.offers):
        for shortest, longest in bands(offer.lengths):
            name = f"offer {number}: up to {longest:g}"
            sheets.append(new_sheet(name, longest, offer.width, offer.price(shortest)))
            inside = [n for n in offer.lengths if shortest <= n <= longest]
            formats[name] = list(range(at, at + len(inside)))
            at += len(inside)
    return sheets, formats
