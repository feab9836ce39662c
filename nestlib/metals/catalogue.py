"""Everything that comes with the package, as plain data for tables and JSON."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from nestlib.metals.formats import formats
from nestlib.metals.gauges import INCH, gauge_numbers, gauge_tables, gauge_thickness
from nestlib.metals.machines import capabilities, machines
from nestlib.metals.materials import materials


def catalogue() -> dict[str, Any]:
    """Return materials, gauges, formats and machines as plain data.

    Returns
    -------
    dict
        ``materials`` (name, family, title, density in g/cm³, source, gauge), ``gauges``
        ({table: [number, mm, inches]}), ``formats`` (name, length, width, system) and
        ``machines`` (name, title, beam, power, bed, source, can_cut).

    Examples
    --------
    >>> sorted(catalogue())
    ['formats', 'gauges', 'machines', 'materials']
    """
    return {
        "materials": [asdict(m) for m in materials()],
        "gauges": {table: _gauge_rows(table) for table in gauge_tables()},
        "formats": [asdict(f) for f in formats()],
        "machines": [
            {
                "name": m.name,
                "title": m.title,
                "beam": m.beam,
                "power": m.power,
                "bed": list(m.bed),
                "source": m.source,
                "can_cut": [c.record() for c in capabilities(m)],
            }
            for m in machines()
        ],
    }


def _gauge_rows(table: str) -> list[dict[str, float]]:
    sizes = {number: gauge_thickness(table, number) for number in gauge_numbers(table)}
    return [{"number": n, "mm": mm, "inches": mm / INCH} for n, mm in sizes.items()]
