"""The rack: what lies there, and everything that is done with it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from uuid import uuid4

from sqlalchemy import Connection, select

from nestlib.errors import Problem, StockError
from nestlib.model import Contour
from nestlib.stock import ledger, rows
from nestlib.stock.database import Database, usual_place
from nestlib.stock.item import Item, Stocked, number_of
from nestlib.stock.ledger import Dated, Entry
from nestlib.stock.outlines import from_text
from nestlib.stock.tables import items
from nestlib.stock.wanted import Wanted, listing
from nestlib.stock.worth import Terms, read_terms, write_terms

#: So many numbers in one query at most.
_BATCH = 5000


@dataclass(frozen=True)
class Booked:
    """What a command has done with the rack.

    Parameters
    ----------
    key : str
        Of the booking.
    fresh : bool
        Whether it was done now; False if the same had been booked before.
    entries : tuple of Dated
        What was booked under the key, now or then.
    """

    key: str
    fresh: bool
    entries: tuple[Dated, ...]


@dataclass(frozen=True)
class Made:
    """Remnants that a cut leaves.

    Parameters
    ----------
    item : Item
        One of them, with the number of the item that it was cut from.
    quantity : int
        How many alike there are.
    """

    item: Item
    quantity: int


class Rack:
    """What lies on the rack, in one database.

    Every method that changes something is one transaction, done wholly or not at all, and
    takes a `key`: the same key a second time changes nothing, and `Booked.fresh` is False.

    Parameters
    ----------
    place : str, optional
        Path of a file or URL of a database; that of `usual_place` by default.
    make : bool
        Whether a rack that is not there is made; if not, that is an error.

    Raises
    ------
    StockError
        If it cannot be opened. Methods raise it, too, if there is not what they are asked
        for.
    """

    def __init__(self, place: str | None = None, *, make: bool = True) -> None:
        self._database = Database(place or usual_place(), make=make)

    @property
    def place(self) -> str:
        """Where the rack is kept, without a password."""
        return self._database.shown

    @property
    def made(self) -> bool:
        """Whether it was not there before."""
        return self._database.made

    # -- looking ------------------------------------------------------------------------

    def items(self, wanted: Wanted | None = None) -> list[Stocked]:
        """Return what is on the rack, in the order in which it came."""
        query = listing(wanted or Wanted())
        return self._database.read(lambda c: [Stocked._make(row) for row in c.execute(query)])

    def item(self, number: int) -> Stocked:
        """Return one item, even if it is used up."""
        row = self._database.read(lambda c: c.execute(rows.row_of(number)).first())
        if row is None:
            problem = f"there is no item {number} on the rack"
            raise StockError(Problem(self.place, "", problem, "Look with: nestlib stock list"))
        return Stocked._make(row)

    def labelled(self, code: str) -> Stocked:
        """Return the item of a label, even if it is used up; letter and number have to fit.

        Whoever writes R2 means a remnant, and does not get the sheet S2.
        """
        number, label = number_of(code), code.strip().upper()
        row = self._database.read(lambda c: c.execute(rows.row_of(number)).first())
        if row is None:
            problem = f"there is no {label} on the rack"
            raise StockError(Problem(self.place, "", problem, "Look with: nestlib stock list"))
        found = Stocked._make(row)
        if found.code != label:
            remedy = f"Did you mean {found.code}?"
            raise StockError(Problem(self.place, "", f"there is no {label}", remedy))
        return found

    def outlines(self, numbers: Iterable[int]) -> dict[int, tuple[Contour, ...]]:
        """Return the outline of each item, followed by its holes."""
        query = select(items.c.id, items.c.outline, items.c.holes)
        found = self._database.read(
            lambda c: [
                row
                for some in _batches(list(numbers))
                for row in c.execute(query.where(items.c.id.in_(some)))
            ]
        )
        return {number: (*from_text(edge), *from_text(holes)) for number, edge, holes in found}

    def history(self, number: int | None = None) -> list[Dated]:
        """Return all entries, or those of one item, oldest first."""
        return self._database.read(lambda c: ledger.history(c, number))

    def held(self, hold: str) -> dict[int, int]:
        """Return how many pieces of which items are held for something."""
        return self._database.read(lambda c: ledger.held_for(c, hold))

    def booked(self, key: str) -> tuple[Dated, ...]:
        """Return what was booked under a key; empty if nothing was."""
        return self._database.read(lambda c: tuple(ledger.booked(c, key)))

    @property
    def terms(self) -> Terms:
        """What remnants are worth and what keeping them costs."""
        return self._database.read(read_terms)

    def set_terms(self, terms: Terms) -> None:
        """Change what remnants are worth and what keeping them costs, for everybody."""
        self._database.write(lambda c: write_terms(c, terms))

    # -- changing -----------------------------------------------------------------------

    def receive(self, item: Item, quantity: int, *, key: str = "", note: str = "") -> Booked:
        """Put an item on the rack.

        Raises
        ------
        StockError
            If something else was booked under the key: another item, or another quantity.
        """
        _demand_count(quantity, least=1)

        def work(connection: Connection) -> list[Entry]:
            return [Entry(rows.insert(connection, item), "received", there=quantity)]

        def same(connection: Connection) -> None:
            before = ledger.booked(connection, key)
            received = [(e.kind, e.there) for e in before] == [("received", quantity)]
            if not received or not rows.is_row(connection, before[0].item, item):
                raise rows.other_content(connection, key, before)

        return self._book(work, key, note, same)

    def hold(
        self, hold: str, wanted: Mapping[int, int], *, key: str = "", note: str = ""
    ) -> Booked:
        """Hold so many pieces of some items for something; all of them or none."""
        _demand_hold(hold)

        def work(connection: Connection) -> list[Entry]:
            ledger.lock(connection, wanted)
            for number, count in wanted.items():
                _demand_free(connection, number, count)
            return [Entry(n, "held", held=count, hold=hold) for n, count in sorted(wanted.items())]

        return self._book(work, key, note)

    def release(
        self, hold: str, numbers: Iterable[int] | None = None, *, key: str = "", note: str = ""
    ) -> Booked:
        """Let go of what is held for something, or of some items of it."""
        _demand_hold(hold)
        chosen = set(numbers or ())

        def work(connection: Connection) -> list[Entry]:
            meant = chosen or set(ledger.held_for(connection, hold))
            ledger.lock(connection, meant)
            there = ledger.held_for(connection, hold)  # as it is now that nobody can change it
            if not there or not chosen <= set(there):
                raise _not_held(hold, connection, chosen - set(there))
            freed = {n: count for n, count in there.items() if n in meant}
            return [Entry(n, "released", held=-c, hold=hold) for n, c in freed.items()]

        return self._book(work, key, note)

    def use(
        self,
        hold: str,
        taken: Mapping[int, int],
        made: Iterable[Made] = (),
        *,
        key: str = "",
        note: str = "",
    ) -> Booked:
        """Book a cut: pieces that are gone, and the remnants that they leave.

        What is held for `hold` goes first; what is not held has to be free.
        """
        _demand_hold(hold)
        left = tuple(made)

        def work(connection: Connection) -> list[Entry]:
            ledger.lock(connection, taken)
            held = ledger.held_for(connection, hold)
            lines = []
            for number, count in sorted(taken.items()):
                from_hold = min(count, held.get(number, 0))
                _demand_free(connection, number, count - from_hold)
                lines.append(Entry(number, "used", -count, -from_hold, hold))
            for rest in left:
                number = rows.insert(connection, rest.item)
                lines.append(Entry(number, "remnant made", rest.quantity))
            return lines

        return self._book(work, key, note)

    def count(self, number: int, found: int, *, key: str = "", note: str = "") -> Booked:
        """Book how many pieces of an item somebody has counted."""
        _demand_count(found, least=0)

        def work(connection: Connection) -> list[Entry]:
            ledger.lock(connection, [number])
            there, held = ledger.stand(connection, number)
            if found < held:
                what = ledger.label(connection, number)
                problem = f"{held} of {what} are held, and {found} were counted"
                remedy = "Release what is not there: nestlib stock release"
                raise StockError(Problem("", "", problem, remedy))
            return [Entry(number, "counted", there=found - there)]

        return self._book(work, key, note)

    def scrap(self, number: int, quantity: int, *, key: str = "", note: str = "") -> Booked:
        """Book that pieces of an item are thrown away."""
        _demand_count(quantity, least=1)

        def work(connection: Connection) -> list[Entry]:
            ledger.lock(connection, [number])
            _demand_free(connection, number, quantity)
            return [Entry(number, "scrapped", there=-quantity)]

        return self._book(work, key, note)

    def move(self, numbers: Iterable[int], place: str, *, key: str = "", note: str = "") -> Booked:
        """Book that items lie in another place now, all their pieces, held ones too."""
        moved = sorted(set(numbers))
        if not place.strip():
            raise StockError(Problem("", "", "there is no place to move to", "Give a place"))

        def work(connection: Connection) -> list[Entry]:
            ledger.lock(connection, moved)
            for number in moved:
                there, _ = ledger.stand(connection, number)
                if not there:
                    what = ledger.label(connection, number)
                    remedy = "If there is one all the same: nestlib stock count"
                    raise StockError(Problem("", "", f"nothing is left of {what}", remedy))
            return [Entry(number, "moved", place=place.strip()) for number in moved]

        return self._book(work, key, note)

    def _book(
        self,
        work: Callable[[Connection], list[Entry]],
        key: str,
        note: str,
        same: Callable[[Connection], None] = lambda _: None,
    ) -> Booked:
        """Do what `work` says under a key, unless it was done before; `same` raises if not it."""
        key = key or uuid4().hex

        def whole(connection: Connection) -> Booked:
            fresh = ledger.begin(connection, key, note)
            if fresh:
                ledger.append(connection, key, work(connection))
            else:
                same(connection)
            return Booked(key, fresh, tuple(ledger.booked(connection, key)))

        return self._database.write(whole)


def _batches(numbers: list[int]) -> Iterator[list[int]]:
    """Parts of a list, as long as every database takes them."""
    for start in range(0, len(numbers), _BATCH):
        yield numbers[start : start + _BATCH]


def _demand_free(connection: Connection, number: int, count: int) -> None:
    there, held = ledger.stand(connection, number)
    _demand_count(count, least=0)
    if count > there - held:
        what = ledger.label(connection, number)
        problem = f"{count} of {what} wanted, {there - held} free (there: {there}, held: {held})"
        remedy = "Take fewer, or release what is held: nestlib stock release"
        raise StockError(Problem("", "", problem, remedy))


def _demand_count(count: int, *, least: int) -> None:
    if count < least:
        raise StockError(Problem("", "", f"a quantity of {count}", f"Give {least} or more"))


def _not_held(hold: str, connection: Connection, numbers: set[int]) -> StockError:
    what = f" of {ledger.label(connection, min(numbers))}" if numbers else ""
    remedy = f'Look with: nestlib stock list --hold "{hold}"'
    return StockError(Problem("", "", f'nothing{what} is held for "{hold}"', remedy))


def _demand_hold(hold: str) -> None:
    if not hold.strip():
        raise StockError(Problem("", "", "there is no name to hold for", "Give a name"))
