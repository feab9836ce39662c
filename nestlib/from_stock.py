"""From the rack to a nest that holds its sheets, and from a plan back to the rack."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from operator import itemgetter
from pathlib import Path
from uuid import uuid4

from nestlib.errors import InputError, Problem, StockError
from nestlib.model import Job, Layout, Plan
from nestlib.rack_sheets import on_rack, with_sheets_of
from nestlib.stock import Booked, Item, Made, Rack, Wanted, number_of, today
from nestlib.stock.export import COLUMNS, outline_record, record
from nestlib.writing import layout_files, read_plan, write_bytes, write_text
from nestlib.writing.failures import output_error
from nestlib.writing.tables import csv_text

#: How often a job is nested anew because others took the sheets meanwhile.
_TRIES = 3


def nest_from_stock(
    job: Job,
    rack: Rack,
    make: Callable[[Job], Plan],
    write: Callable[[Plan], Plan],
    folder: str | Path,
    document: str | None = None,
) -> Plan:
    """Nest a job from the rack, hold what the plan uses, and write the plan.

    If others took sheets of the plan while it was made, it is made again from what is left.
    What an older plan in the folder held is released once the new one is there.

    Parameters
    ----------
    job : Job
        Its own sheets are left out.
    rack : Rack
        Where from.
    make : callable
        Makes a plan from a job, such as `nestlib.nest`.
    write : callable
        Writes a plan to the folder, such as `nestlib.write`.
    folder : path-like
        Where an older plan may lie.
    document : str, optional
        As for `job_from_stock`.

    Returns
    -------
    Plan
        As written, with the name of its hold; its cautions name the sheets that were left out
        because they are priced in another currency.

    Raises
    ------
    StockError
        If nothing fits, or others were faster every time.
    OutputError
        If the older plan is booked as cut.
    """
    demand_not_cut(folder, rack)
    before = held_by(folder)
    plan = _held_plan(job, rack, make, document)
    try:
        written = write(plan)
    except BaseException:
        if plan.hold:
            rack.release(plan.hold, note="the plan could not be written")
        raise
    if before and rack.held(before):
        rack.release(before, note=f"planned anew as {plan.hold or 'nothing'}")
    return written


def demand_not_cut(folder: str | Path, rack: Rack) -> None:
    """Raise if a folder holds a plan that is booked as cut, whose record would be lost.

    Parameters
    ----------
    folder : path-like
        Where a plan is to be written.
    rack : Rack
        Where it would be booked.

    Raises
    ------
    OutputError
        If it was.
    """
    hold = held_by(folder)
    if hold and rack.booked(_key(hold)):
        problem = f"the plan in it is booked as cut ({hold})"
        raise output_error(Path(folder), problem, "Choose another folder, so that its record stays")


def demand_not_held(folder: str | Path) -> None:
    """Raise if a folder holds a plan from the rack, whose sheets nobody could release any more.

    Parameters
    ----------
    folder : path-like
        Where a plan that is not from the rack is to be written.

    Raises
    ------
    OutputError
        If it does.
    """
    hold = held_by(folder)
    if hold:
        problem = f"the plan in it is from the rack, its sheets are known there as {hold}"
        remedy = "Choose another folder, or plan anew from the rack: --from-stock --overwrite"
        raise output_error(Path(folder), problem, remedy)


def _held_plan(job: Job, rack: Rack, make: Callable[[Job], Plan], document: str | None) -> Plan:
    for tries in range(1, _TRIES + 1):
        there = on_rack(job, rack, document=document)
        plan = make(with_sheets_of(job, there, rack, document))
        plan = replace(plan, cautions=(*there.left_out, *plan.cautions))
        try:
            return hold_plan(plan, rack)
        except StockError:
            if tries == _TRIES or plan.stopped:
                raise
    raise AssertionError("the last try returns or raises")


def hold_plan(plan: Plan, rack: Rack) -> Plan:
    """Hold the sheets of a plan, all or none.

    Returns
    -------
    Plan
        With the name of its hold, which is like no other.

    Raises
    ------
    StockError
        If they are not free any more.
    """
    taken = _taken(plan)
    if not taken:
        return plan
    words = re.sub(r"\W+", "-", plan.job.title).strip("-").lower()
    hold = f"{words or 'plan'}-{uuid4().hex[:8]}"
    rack.hold(hold, taken, note=f"nest {plan.job.title}")
    return replace(plan, hold=hold)


def use_plan(folder: str | Path, rack: Rack) -> Booked:
    """Book that a plan was cut: its sheets are gone, its remnants lie on the rack.

    Parameters
    ----------
    folder : path-like
        A plan folder that was made from the rack.
    rack : Rack
        The same rack.

    Returns
    -------
    Booked
        Not `fresh` if the plan was booked before; nothing is changed then.

    Raises
    ------
    InputError
        If it is not a plan folder, was not made from the rack, or its DXF files are gone.
    StockError
        If the rack does not have the sheets, or does not hold them for the plan any more.
    """
    plan = read_plan(folder)
    if not plan.hold:
        remedy = "Make it by nestlib nest --from-stock, or count what is left: nestlib stock count"
        raise InputError(Problem(str(folder), "", "the plan is not from the rack", remedy))
    key, taken = _key(plan.hold), _taken(plan)
    if not rack.booked(key):
        _demand_layouts(plan, Path(folder))
        _demand_held(rack, plan.hold, taken)
    made = [m for layout in plan.layouts for m in _made(layout, rack)]
    return rack.use(plan.hold, taken, made, key=key, note=f"cut {plan.job.title}")


def _demand_layouts(plan: Plan, folder: Path) -> None:
    """Refuse a plan whose DXF files are gone: what was cut, if it was, came from elsewhere."""
    home = folder if folder.is_dir() else folder.parent  # it may be named by its plan.json
    missing = [name for name in layout_files(plan) if not (home / name).is_file()]
    if missing:
        problem = f"{', '.join(missing)} of the plan {'is' if len(missing) == 1 else 'are'} missing"
        remedy = "Nothing was booked; put them back, or count what is left: nestlib stock count"
        raise InputError(Problem(str(folder), "", problem, remedy))


def _demand_held(rack: Rack, hold: str, taken: dict[int, int]) -> None:
    """Refuse a plan whose hold was released: others may have cut its sheets, or planned anew."""
    held = rack.held(hold)
    short = {n: count - held.get(n, 0) for n, count in taken.items() if count > held.get(n, 0)}
    if short:
        gone = {rack.item(n).code: count for n, count in sorted(short.items())}
        words = ", ".join(f"{count} x {code}" for code, count in gone.items())
        problem = f"the plan needs {words} more than is held for {hold}: that was released"
        code, count = next(iter(gone.items()))
        again = f"nestlib stock hold {code} --for {hold} --quantity {count}"
        remedy = f"Nest it anew; if it was cut all the same: {again}, then this once more"
        raise StockError(Problem(rack.place, "", problem, remedy))


def export(rack: Rack, file: str | Path, wanted: Wanted | None = None) -> int:
    """Write the list of the rack as JSON with outlines, or as CSV.

    Parameters
    ----------
    rack : Rack
        What to list.
    file : path-like
        Where to; a name that ends in ``.json`` gets JSON, ``.csv`` gets CSV.
    wanted : Wanted, optional
        What of it; all by default.

    Returns
    -------
    int
        How many items were written.

    Raises
    ------
    InputError
        If the name ends otherwise.
    OutputError
        If the file cannot be written.
    """
    file = Path(file)
    if file.suffix.lower() not in (".csv", ".json"):
        problem = f'the form "{file.suffix}" is not known'
        raise InputError(Problem(str(file), "", problem, "End the name in .csv or .json"))
    items, terms, day = rack.items(wanted), rack.terms, today()
    records = [record(item, terms, day) for item in items]
    if file.suffix.lower() == ".csv":
        write_text(file, csv_text({name: itemgetter(name) for name in COLUMNS}, records))
    else:
        outlines = rack.outlines(item.id for item in items)
        whole = [
            {**r, **outline_record(outlines[i.id])} for r, i in zip(records, items, strict=True)
        ]
        write_text(file, json.dumps(whole, ensure_ascii=False, allow_nan=False, indent=1) + "\n")
    return len(records)


def write_labels(rack: Rack, numbers: Sequence[int], file: str | Path) -> None:
    """Write labels with QR codes and outlines as a PDF.

    Parameters
    ----------
    rack : Rack
        Where the items lie.
    numbers : sequence of int
        Of the items, one page each.
    file : path-like
        Where to; it is replaced if it exists.

    Raises
    ------
    StockError
        If an item is not there.
    OutputError
        If the file cannot be written.
    """
    from nestlib.stock.label import label_pdf

    outlines = rack.outlines(numbers)
    labels = [(rack.item(n), outlines.get(n, ())) for n in numbers]
    write_bytes(file, label_pdf(labels))


def _key(hold: str) -> str:
    """Under which key it is booked that what was held is used."""
    return f"use {hold}"


def held_by(folder: str | Path) -> str:
    """Return under which name the sheets of a plan folder are held; empty if there is none."""
    try:
        return read_plan(folder).hold
    except InputError:
        return ""


def _taken(plan: Plan) -> dict[int, int]:
    """How many pieces of which items a plan uses."""
    runs: Counter[int] = Counter()
    for layout in plan.layouts:
        if layout.sheet.item:
            runs[number_of(layout.sheet.item)] += layout.runs
    return dict(runs)


def _made(layout: Layout, rack: Rack) -> Iterator[Made]:
    """What is left of the sheets of a layout, with the papers of their item."""
    if not layout.remnants:
        return
    parent = rack.item(number_of(layout.sheet.item))
    for remnant in layout.remnants:
        price = None if parent.price is None else parent.price * remnant.area / parent.area
        item = Item(
            metal=parent.metal,
            thickness=parent.thickness,
            outline=remnant.outline,
            remnant=True,
            grain=parent.grain,
            place=parent.place,
            price=price,
            currency=parent.currency,
            lot=parent.lot,
            heat=parent.heat,
            document=parent.document,
            since=today(),
            parent=parent.id,
        )
        yield Made(item, layout.runs)
