"""What to buy for some jobs, and what was asked about it."""

from __future__ import annotations

from dataclasses import dataclass, field

from nestlib.model.layout import Placement
from nestlib.model.metal import Metal
from nestlib.model.plan import Unplaced


@dataclass(frozen=True)
class PurchaseLine:
    """One format on an order, or of what is at hand.

    Parameters
    ----------
    format : str
        What the order calls it.
    size : (float, float)
        Length and width in mm.
    sheets : int
        Sheets ordered; 0 of what is at hand.
    pack : int
        Sheets of one pack.
    used : int
        Sheets that are cut.
    price : int
        Price of one sheet, in hundredths.
    weight : float
        Of one sheet, in kg.
    lead_weeks : int
        Weeks from the order to the delivery.
    at_hand : int
        Sheets that are at hand.
    order_by : str
        Week in which it has to be ordered: as the schedule plans it, or else to be there in
        the first week in which anything may be wanted. Empty if that is not known, or before
        week 1 of weeks that are whole numbers.
    """

    format: str
    size: tuple[float, float]
    sheets: int
    pack: int
    used: int
    price: int
    weight: float
    lead_weeks: int = 0
    at_hand: int = 0
    order_by: str = ""

    @property
    def amount(self) -> int:
        """Price of all sheets ordered, in hundredths."""
        return self.sheets * self.price

    @property
    def to_stock(self) -> int:
        """Sheets that are ordered and not cut; below 0, sheets of what is at hand that are."""
        return self.sheets - self.used


@dataclass(frozen=True)
class BoughtLayout:
    """A layout that the order was made for.

    Parameters
    ----------
    format : str
        From which it is cut.
    runs : int
        How often.
    pieces : dict
        Pieces of each part on one sheet.
    used : float
        Share of the sheet that is parts, 0 to 1.
    leftover : (float, float), or None
        Sides of what one straight cut can save, in mm; None if nothing is worth keeping.
    placements : tuple of Placement
        Where the pieces lie.
    """

    format: str
    runs: int
    pieces: dict[str, int]
    used: float
    leftover: tuple[float, float] | None = None
    placements: tuple[Placement, ...] = ()


@dataclass(frozen=True)
class Asked:
    """The answer to one question: an order under some condition.

    Parameters
    ----------
    about : str
        The format alone, or without; empty where the question is about a number.
    formats : tuple of (str, int)
        Each format ordered, and how many sheets.
    cost : int, or None
        In hundredths; None if not all can be made under that condition.
    exact : bool
        Whether no order for these layouts costs less.
    """

    about: str
    formats: tuple[tuple[str, int], ...]
    cost: int | None
    exact: bool = True


@dataclass(frozen=True)
class ServiceRow:
    """What it costs to be short more or less often.

    Parameters
    ----------
    service : float
        Chance with which each part shall suffice, 0 to 1.
    cost : int
        Of the order, in hundredths.
    expected_cost : float
        Of the order and of what is short, on average, in hundredths.
    short : float
        Chance that pieces of any part are short, 0 to 1.
    error : float
        Standard error of that chance.
    """

    service: float
    cost: int
    expected_cost: float
    short: float
    error: float


@dataclass(frozen=True)
class WeekRow:
    """What is ordered and cut in one week.

    Parameters
    ----------
    week : str
        As people write it.
    ordered : tuple of (str, int)
        Formats that are ordered in this week, and how many sheets.
    cut : tuple of (str, int)
        Formats that are cut in this week, and how many sheets.
    needed : dict
        Pieces of each part that are due.
    made : dict
        Pieces of each part that are cut.
    parts_kept, sheets_kept : float
        What stays in stock after the week, in kg.
    """

    week: str
    ordered: tuple[tuple[str, int], ...]
    cut: tuple[tuple[str, int], ...]
    needed: dict[str, int]
    made: dict[str, int]
    parts_kept: float
    sheets_kept: float


@dataclass(frozen=True)
class Schedule:
    """What is ordered and cut week by week, and what it costs.

    Parameters
    ----------
    weeks : tuple of WeekRow
        In their order.
    cost : int
        Purchase, deliveries and storage, less what is left in stock, in hundredths.
    paid, deliveries, storage : int
        Parts of it, in hundredths.
    week_by_week : int, or None
        Cost if nothing were cut before the week it is due, in hundredths; None if not known.
    exact : bool
        Whether no schedule of these layouts costs less.
    """

    weeks: tuple[WeekRow, ...]
    cost: int
    paid: int
    deliveries: int
    storage: int
    week_by_week: int | None
    exact: bool


@dataclass(frozen=True)
class MetalPurchase:
    """What to buy of one metal in one thickness.

    Parameters
    ----------
    metal : Metal
        What it is.
    jobs : tuple of str
        Titles of the jobs it is for.
    wanted : dict
        Pieces of each part that the order is made for.
    lines : tuple of PurchaseLine
        The order, and what is used of what is at hand.
    paid : int
        For all that is ordered, in hundredths.
    cost : int
        What is paid, less what the stock gains or more what it loses, in hundredths.
    bound : int
        No order costs less, in hundredths: proved.
    bound_by : str
        What proves it.
    exact : bool
        Whether no order for the layouts that were found costs less.
    layouts_found : int
        How many different layouts there were to choose from.
    parts_area : float
        Area of all pieces wanted, in mm².
    sheets_area : float
        Area of all sheets that are cut, in mm².
    layouts : tuple of BoughtLayout
        What is cut from what.
    by_number : tuple of Asked
        With at most one format ordered, two and so on.
    alone : tuple of Asked
        With each format alone.
    missing : tuple of Asked
        Without each format of the order.
    unplaced : tuple of Unplaced
        What cannot be made of anything offered.
    services : tuple of ServiceRow
        For uncertain demand, what it costs to be short more or less often.
    schedule : Schedule, or None
        Week by week, if the parts are due in several.
    notes : tuple of str
        What else a purchaser should know.
    service : float, or None
        Chance with which each part suffices that is bought for; None if nothing is left to
        chance.
    """

    metal: Metal
    jobs: tuple[str, ...]
    wanted: dict[str, int]
    lines: tuple[PurchaseLine, ...]
    paid: int
    cost: int
    bound: int
    bound_by: str
    exact: bool
    layouts_found: int
    parts_area: float
    sheets_area: float
    layouts: tuple[BoughtLayout, ...] = ()
    by_number: tuple[Asked, ...] = ()
    alone: tuple[Asked, ...] = ()
    missing: tuple[Asked, ...] = ()
    unplaced: tuple[Unplaced, ...] = ()
    services: tuple[ServiceRow, ...] = ()
    schedule: Schedule | None = None
    notes: tuple[str, ...] = ()
    service: float | None = None

    @property
    def utilisation(self) -> float:
        """Area of the pieces over that of the sheets that are cut, 0 to 1."""
        return self.parts_area / self.sheets_area if self.sheets_area else 0.0

    @property
    def weight(self) -> float:
        """Weight of all sheets ordered, in kg."""
        return sum(line.sheets * line.weight for line in self.lines)

    @property
    def gap(self) -> float:
        """How much more the order costs than the bound, as a share of its cost, 0 to 1."""
        return (self.cost - self.bound) / self.cost if self.cost else 0.0


@dataclass(frozen=True)
class Purchase:
    """What to buy for some jobs.

    Parameters
    ----------
    metals : tuple of MetalPurchase
        Each metal in each thickness by itself.
    currency : str
        Unit of all amounts.
    stock_value : float
        What a sheet in stock is worth: this share of its price.
    prices : str
        The price list.
    seed : int
        Of all chance.
    seconds : float
        What it took.
    stopped : bool
        Whether the user stopped it: then it is the best so far.
    settings : dict
        What else it was asked with.
    notes : tuple of str
        What else a purchaser should know, of all metals.
    """

    metals: tuple[MetalPurchase, ...]
    currency: str = ""
    stock_value: float = 0.0
    prices: str = ""
    seed: int = 0
    seconds: float = 0.0
    stopped: bool = False
    settings: dict[str, float] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    @property
    def paid(self) -> int:
        """For all that is ordered, in hundredths."""
        return sum(m.paid for m in self.metals)

    @property
    def cost(self) -> int:
        """What is paid, less what the stock gains or more what it loses, in hundredths."""
        return sum(m.cost for m in self.metals)

    @property
    def bound(self) -> int:
        """No order costs less, in hundredths."""
        return sum(m.bound for m in self.metals)

    @property
    def complete(self) -> bool:
        """Whether everything that is wanted can be made."""
        return not any(m.unplaced for m in self.metals)
