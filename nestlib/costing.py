"""What a plan takes of the machine and what it costs, part by part.

The rule, layout by layout:

- a sheet's price, less what its remnants are worth, is shared by the area of the pieces on
  it, so that each piece pays for its share of the skeleton too;
- set-up, rapids and lifts are shared by area alike;
- machine time with the beam on (leads, contours, marks, pierces) and gas are each part's own;
  those of the cuts in the skeleton and of the cut-off are nobody's, and shared by area;
- what pieces of different parts cut together they bear by the length of their outer contours.

Amounts are rounded once for the whole plan, to hundredths of the currency, and handed down
to layouts and parts by largest remainders (the method of Hamilton, as seats are given to
parties), so that they add up exactly.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction

from nestlib.cutting import cut_efforts, not_stated
from nestlib.model import Cut, Effort, Job, Layout, Plan, Work
from nestlib.model.work import KINDS, Cost, CostKind, scaled
from nestlib.shares import largest_remainders

Weights = dict[str, Fraction]

#: Hundredths that each part pays, layout by layout.
Shares = list[dict[str, int]]


def work(plan: Plan) -> Work:
    """Return times and costs of a plan.

    Parameters
    ----------
    plan : Plan
        With the cut paths of its layouts.

    Returns
    -------
    Work
        What the machine's file or the job does not state is None, and said in words.
    """
    cuts = tuple(cut_efforts(layout, plan.job) for layout in plan.layouts)
    pairs = zip(plan.layouts, cuts, strict=True)
    own = [_own(layout, efforts, plan.job) for layout, efforts in pairs]
    layouts = tuple(sum(efforts, Effort()) for efforts in cuts)
    runs = [layout.runs for layout in plan.layouts]
    shared = {kind: _shared(kind, plan, own, layouts) for kind in KINDS}
    names = [part.name for part in plan.job.parts]
    return Work(
        cuts=cuts,
        layouts=layouts,
        layout_costs=tuple(_cost(shared, layout=i) for i in range(len(layouts))),
        parts={name: _all_pieces(name, plan, own) for name in names},
        part_costs={name: _cost(shared, part=name) for name in names},
        total=sum((e.times(n) for e, n in zip(layouts, runs, strict=True)), Effort()),
        cost=_cost(shared),
        not_stated=tuple(_not_stated(plan)),
        basis=plan.job.machine.source,
        second_price=_second_price(plan.job),
        gas_price=_gas_price(plan.job),
    )


def _cost(
    shared: Mapping[CostKind, Shares | None], layout: int | None = None, part: str | None = None
) -> Cost:
    """What one layout, one part or the whole plan costs, kind by kind."""

    def added(rows: Shares) -> int:
        chosen = rows if layout is None else rows[layout : layout + 1]
        return sum(n for row in chosen for name, n in row.items() if part in (None, name))

    return Cost(**{k: None if rows is None else added(rows) for k, rows in shared.items()})


def _all_pieces(name: str, plan: Plan, own: Sequence[dict[str, Effort]]) -> Effort:
    """What all placed pieces of a part take themselves."""
    on_layouts = zip(own, plan.layouts, strict=True)
    return sum((o[name].times(lay.runs) for o, lay in on_layouts if name in o), Effort())


def _shared(
    kind: CostKind, plan: Plan, own: Sequence[dict[str, Effort]], layouts: Sequence[Effort]
) -> Shares | None:
    """Hundredths that each part pays on each layout; None if not stated, or nothing is cut."""
    pairs = zip(plan.layouts, layouts, strict=True)
    amounts = [_amount(kind, layout, effort, plan) for layout, effort in pairs]
    known = [100 * Fraction(a) for a in amounts if a is not None]
    if not known or len(known) < len(amounts):
        return None
    shares = []
    by_layout = largest_remainders(round(sum(known)), known)
    for layout, efforts, whole, total in zip(plan.layouts, own, layouts, by_layout, strict=True):
        weights = _weights(kind, layout, efforts, whole, plan.job)
        parts = largest_remainders(total, list(weights.values()))
        shares.append(dict(zip(weights, parts, strict=True)))
    return shares


def _amount(kind: CostKind, layout: Layout, effort: Effort, plan: Plan) -> float | None:
    """Money for all runs of a layout; None if it cannot be known."""
    if kind == "set_ups":
        return plan.job.money.set_up
    if kind == "sheets":
        return _metal(layout, plan.job)
    if kind == "gas":
        price = _gas_price(plan.job)
        return None if price is None or effort.gas is None else price * effort.gas * layout.runs
    price = _second_price(plan.job)
    if price is None or effort.beam is None:
        return None
    seconds = effort.beam if kind == "cutting" else effort.moving
    return price * (seconds or 0.0) * layout.runs


def _metal(layout: Layout, job: Job) -> float | None:
    """Price of the sheets less what is left of them and worth keeping."""
    price = layout.sheet.cost
    kept = sum(r.area for r in layout.remnants) / layout.sheet.area * job.money.remnant_worth
    return None if price is None else price * (1 - kept) * layout.runs


def _weights(
    kind: CostKind, layout: Layout, own: dict[str, Effort], whole: Effort, job: Job
) -> Weights:
    """In which proportion the parts on a layout pay."""
    of_own: dict[CostKind, Callable[[Effort], float | None]] = {
        "cutting": lambda effort: effort.beam,
        "gas": lambda effort: effort.gas,
    }
    counts = layout.counts
    areas = {name: Fraction(job.part(name).area) * counts[name] for name in own}
    if kind not in of_own:
        return areas
    weights = {name: Fraction(of_own[kind](effort) or 0.0) for name, effort in own.items()}
    if all(cut.of_piece for cut in layout.path.cuts):
        return weights
    return _with_shared(weights, areas, of_own[kind](whole))


def _with_shared(own: Weights, areas: Weights, whole: float | None) -> Weights:
    """What is each part's own, and its share by area of what is nobody's."""
    rest = max(Fraction(0), Fraction(whole or 0.0) - sum(own.values()))
    area = sum(areas.values()) or Fraction(1)
    return {name: weight + rest * areas[name] / area for name, weight in own.items()}


def _own(layout: Layout, efforts: Sequence[Effort], job: Job) -> dict[str, Effort]:
    """What the cuts of each part on a layout take themselves, without the way there."""
    found = {name: Effort() for name in layout.counts}
    for cut, effort in zip(layout.path.cuts, efforts, strict=True):
        if not cut.of_piece:
            continue
        alone = Effort(
            effort.cut_length, effort.mark_length, 0.0, effort.pierces,
            effort.cutting, effort.marking, effort.piercing, 0.0, effort.gas,
        )  # fmt: skip
        for name, its in _by_part(cut, alone, layout, job):
            found[name] += its
    return found


def _by_part(cut: Cut, effort: Effort, layout: Layout, job: Job) -> Iterator[tuple[str, Effort]]:
    """What a cut takes, for its part; of a shared one for each, by the length of its contours."""
    numbers = cut.pieces or (cut.placement,)
    names = [layout.placements[number].part for number in numbers]
    lengths = {name: names.count(name) * job.part(name).outer.length for name in names}
    if len(lengths) == 1:
        yield names[0], effort
        return
    # A pierce is whole: that of each line counts for a piece, and that of the way around for
    # the last one.
    pierced = names[cut.index if cut.role == "shared" else -1]
    for name, length in lengths.items():
        share = length / sum(lengths.values())
        yield name, Effort(
            effort.cut_length * share, 0.0, 0.0, effort.pierces if name == pierced else 0,
            scaled(effort.cutting, share), 0.0, scaled(effort.piercing, share), 0.0,
            scaled(effort.gas, share),
        )  # fmt: skip


def _second_price(job: Job) -> float | None:
    return job.machine.hourly_rate / 3600 if job.machine.hourly_rate else None


def _gas_price(job: Job) -> float | None:
    row = job.machine.setting(job.metal.material.family, job.metal.thickness)
    return dict(job.machine.gas_prices).get(row.gas) if row else None


def _not_stated(plan: Plan) -> Iterator[str]:
    """What is missing, in the order of the work."""
    job = plan.job
    yield from not_stated(job.machine, job.metal)
    if any(layout.sheet.cost is None for layout in plan.layouts):
        yield "price of a sheet: so the metal is in no cost"
    if not job.machine.hourly_rate:
        yield "hourly rate of the machine: so its time is in no cost"
    row = job.machine.setting(job.metal.material.family, job.metal.thickness)
    if row and _gas_price(job) is None:
        yield f"price of {row.gas}: so gas is in no cost"
