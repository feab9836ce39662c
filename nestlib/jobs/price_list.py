"""Price lists of sheet metal, as TOML or as a list (CSV or XLSX).

In TOML, with a ``[[offer]]`` for each format::

    currency = "EUR"
    stock_value = 0.8      # a sheet in stock is worth this share of its price; left out: nothing
    storage = 0.01         # of a kilogram, sheets or parts, for a week; left out: nothing
    delivery = 60.00       # of each week in which anything arrives; left out: nothing

    [[offer]]
    name = "sheet 2500"    # optional: its name in the order; its size by default
    metal = "mild-steel"
    thickness = "3 mm"     # or "11 ga"
    size = "2500x1250"
    price_per_kg = 1.12    # or price_per_sheet
    pack = 5               # sold in packs of five
    minimum_order = 10     # ten sheets or none; minimum_weight = 500 means kilograms
    lead_weeks = 2

    [[offer]]              # cut to order: one width, lengths from 1000 to 4000 in steps of 100 mm
    metal = "mild-steel"
    thickness = "3 mm"
    width = 1250
    shortest = 1000
    longest = 4000
    step = 100
    price_per_kg = 1.31

The columns of a list are the keys of an offer; the currency and what stands above the offers
is then said where the list is used. Numbers may have a decimal comma.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, Field, model_validator

from nestlib.errors import JobError, Problem
from nestlib.jobs.entries import MOST, LookUps, look_up
from nestlib.jobs.plain_list import read_plain_list
from nestlib.validation import Location, Table, fault, read_toml, shown, validate

#: More lengths than this of one offer are a step that is too small.
_MOST_LENGTHS = 500

_WHOLE = ("pack", "minimum_order", "lead_weeks")
_REAL = (
    "width", "shortest", "longest", "step", "price_per_kg", "price_per_sheet", "minimum_weight",
)  # fmt: skip


class OfferEntry(Table):
    """One format, or one width in many lengths, and its terms."""

    metal: Annotated[str, AfterValidator(look_up)] = Field(
        description='the material, for example "mild-steel"'
    )
    thickness: Annotated[str, AfterValidator(look_up)] = Field(
        description='the thickness, for example "1.5 mm" or "16 ga"'
    )
    name: str = Field(default="", description="a name; that of the size by default")
    size: Annotated[str, AfterValidator(look_up)] | None = Field(
        default=None, description='the size, for example "3000x1500" or "48x96in"'
    )
    width: float | None = Field(default=None, gt=0, le=1e5, description="the width in mm")
    shortest: float | None = Field(default=None, gt=0, le=1e5, description="a length in mm")
    longest: float | None = Field(default=None, gt=0, le=1e5, description="a length in mm")
    step: float | None = Field(
        default=None, gt=0, le=1e5, description="the difference of two lengths in mm"
    )
    price_per_kg: float | None = Field(
        default=None, ge=0, le=1e7, description="the price of a kilogram"
    )
    price_per_sheet: float | None = Field(
        default=None, ge=0, le=1e7, description="the price of one sheet"
    )
    pack: int = Field(default=1, ge=1, le=MOST, description="how many sheets are in a pack")
    minimum_order: int = Field(
        default=0, ge=0, le=MOST, description="the least number of sheets of an order"
    )
    minimum_weight: float = Field(
        default=0.0, ge=0, le=1e7, description="the least weight of an order in kg"
    )
    lead_weeks: int = Field(default=0, ge=0, le=520, description="the weeks from order to delivery")

    @model_validator(mode="after")
    def _whole(self) -> OfferEntry:
        cut = (self.width, self.shortest, self.longest, self.step)
        if (self.size is None) == all(v is None for v in cut) or (
            self.size is None and None in cut
        ):
            remedy = 'Give one of: size = "3000x1500"; width, shortest, longest and step'
            raise fault("the offer needs a size", remedy)
        if (self.price_per_kg is None) == (self.price_per_sheet is None):
            raise fault("the offer needs one price", "Give price_per_kg or price_per_sheet")
        if self.size is None:
            self._demand_lengths()
        return self

    def _demand_lengths(self) -> None:
        shortest, longest, step = self.shortest or 0.0, self.longest or 0.0, self.step or 1.0
        if longest < shortest:
            remedy = "Give the shorter one as shortest"
            raise fault(f"shortest {shortest:g} is longer than longest {longest:g}", remedy)
        if (longest - shortest) / step >= _MOST_LENGTHS:
            problem = f"step {step:g} makes over {_MOST_LENGTHS} lengths"
            raise fault(problem, "Give a larger step")
        if self.price_per_sheet is not None:
            remedy = "Give price_per_kg"
            raise fault("sheets of many lengths have no one price of a sheet", remedy)

    @property
    def lengths(self) -> tuple[float, ...]:
        """All lengths that are cut to order, in mm; none if the offer is one format."""
        if self.shortest is None or self.longest is None or self.step is None:
            return ()
        number = int((self.longest - self.shortest) / self.step + 1e-9) + 1
        return tuple(round(self.shortest + i * self.step, 6) for i in range(number))


class PriceListFile(Table):
    """A whole price list."""

    currency: str = Field(default="", description='the currency, for example "EUR"')
    stock_value: float = Field(
        default=0.0, ge=0, le=1, description="a share of the price from 0 to 1"
    )
    storage: float = Field(
        default=0.0, ge=0, le=1e5, description="the price of keeping a kilogram for a week"
    )
    delivery: float = Field(default=0.0, ge=0, le=1e7, description="the price of one delivery")
    offer: list[OfferEntry] = Field(
        min_length=1, max_length=200, description="an [[offer]] for each format"
    )

    @model_validator(mode="after")
    def _different_names(self) -> PriceListFile:
        names = [(o.metal, o.thickness, o.name) for o in self.offer if o.name]
        twice = next((name for *_, name in names if [n[2] for n in names].count(name) > 1), None)
        if twice is not None:
            raise fault(f"two offers are called {shown(twice)}", "Give each its own name")
        return self


@dataclass(frozen=True)
class ReadPriceList:
    """A price list and where its values stand.

    Parameters
    ----------
    file : str
        Path as the user gave it.
    table : PriceListFile
        What it says.
    place : callable
        From ``("offer", 0, "size")`` to its place in the file.
    """

    file: str
    table: PriceListFile
    place: Callable[[Location], str]


def read_price_list(path: str | Path, look_ups: LookUps | None = None) -> ReadPriceList:
    """Return what a price list says.

    Parameters
    ----------
    path : str or Path
        TOML, CSV or XLSX, as described above.
    look_ups : LookUps, optional
        How to check names that other packages know.

    Raises
    ------
    JobError
        With every problem of the file, each with its place.
    """
    look_ups = look_ups or LookUps()
    if Path(path).suffix.lower() == ".toml":
        table, place = read_toml(path, PriceListFile, look_ups)
        return ReadPriceList(str(path), table, place)
    entries = read_plain_list(path, OfferEntry, _value, look_ups)
    if not entries:
        raise JobError(Problem(str(path), "", "the list has no offers", "Add a row for each"))

    def row(location: Location) -> str:
        index = next((step for step in location if isinstance(step, int)), 0)
        return entries[index].place

    raw = {"offer": [line.entry for line in entries]}
    return ReadPriceList(str(path), validate(PriceListFile, raw, str(path), row), row)


def _value(column: str, text: str) -> Any:
    """What a cell means; what cannot be understood is left for the validator to refuse."""
    if column in _WHOLE:
        return int(text) if re.fullmatch(r"[+-]?\d{1,15}", text) else text
    if column in _REAL:
        number = text.replace(",", ".")
        return float(number) if re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)", number) else text
    return text
