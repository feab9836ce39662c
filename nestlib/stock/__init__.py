"""The rack: sheets and remnants in a ledger that several programs share."""

from nestlib.stock.database import VARIABLE, usual_place
from nestlib.stock.item import DOCUMENTS, Item, Stocked, code_of, number_of
from nestlib.stock.ledger import Dated, today
from nestlib.stock.rack import Booked, Made, Rack
from nestlib.stock.wanted import Wanted
from nestlib.stock.worth import Terms

__all__ = [
    "DOCUMENTS",
    "VARIABLE",
    "Booked",
    "Dated",
    "Item",
    "Made",
    "Rack",
    "Stocked",
    "Terms",
    "Wanted",
    "code_of",
    "number_of",
    "today",
    "usual_place",
]
