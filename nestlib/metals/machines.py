"""Cutting machines, and what they can cut."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from functools import cache
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

from nestlib.errors import InputError, Problem
from nestlib.metals.data_files import names
from nestlib.metals.gauges import INCH
from nestlib.metals.materials import FAMILIES
from nestlib.model.machine import CutSetting, Machine
from nestlib.model.metal import Metal
from nestlib.suggesting import did_you_mean

#: Metals and gases in which they burn; never cut so (NFPA 484, now in NFPA 660, from memory).
_BURNS = {("titanium", "oxygen")}

_PREFIX = "machine-"


@dataclass(frozen=True)
class Capability:
    """What a machine can do with one family of metals.

    Parameters
    ----------
    family : str
        As in `Material.family`.
    thickness : float, or None
        Greatest thickness in mm; None if the machine has no row for the family.
    bands : tuple of CutSetting
        Rows of its cutting table, thinnest first; each is used up to its thickness.
    known : bool
        Whether the machine says anything about the family.
    """

    family: str
    thickness: float | None
    bands: tuple[CutSetting, ...] = ()
    known: bool = True

    def record(self) -> dict[str, Any]:
        """Return the same as plain data, for JSON."""
        return {
            "family": self.family,
            "thickness": self.thickness,
            "inches": self.inches,
            "known": self.known,
            "bands": [
                {k: v for k, v in asdict(band).items() if k != "family"} for band in self.bands
            ],
        }

    @property
    def inches(self) -> float | None:
        """Greatest thickness in inches."""
        return None if self.thickness is None else self.thickness / INCH


def machines() -> tuple[Machine, ...]:
    """Return the generic machines that come with the package."""
    return tuple(_built_in(name) for name in names(_PREFIX))


def machine(name_or_path: str | Path) -> Machine:
    """Return a generic machine by its name, or a shop's own by the path of its file.

    Parameters
    ----------
    name_or_path : str or Path
        ``"co2-400"``, or a TOML file as `nestlib.metals.machine_file` describes it.

    Raises
    ------
    InputError
        If there is no such machine.
    JobError
        With every problem of the file.

    Examples
    --------
    >>> machine("co2-400").limit("mild-steel")
    4.7625
    """
    name = str(name_or_path).strip()
    if name in names(_PREFIX):
        return _built_in(name)
    if _is_path(name):
        from nestlib.metals.machine_file import read_machine

        return read_machine(name_or_path)
    remedy = f"{did_you_mean(name, names(_PREFIX))}; or give the path of a .toml file"
    raise InputError(Problem("", "", f'there is no machine "{name}"', remedy))


def capabilities(machine: Machine) -> tuple[Capability, ...]:
    """Return what a machine can do, one row for each family of metals.

    Examples
    --------
    >>> [c.family for c in capabilities(machine("co2-150")) if c.thickness]
    ['mild-steel', 'stainless']
    """
    rows = sorted(machine.settings, key=lambda s: s.thickness)
    return tuple(
        Capability(
            family,
            machine.limit(family),
            tuple(s for s in rows if s.family == family),
            family in machine.cannot or machine.limit(family) is not None,
        )
        for family in FAMILIES
    )


def why_not(machine: Machine, metal: Metal) -> Problem | None:
    """Return why a machine cannot cut a metal; None if it can.

    Examples
    --------
    >>> from nestlib.metals import metal
    >>> print(why_not(machine("co2-150"), metal("stainless-304", "3 mm")).problem)
    co2-150 cuts stainless up to 1.905 mm (0.075 in), not 3 mm
    """
    family = metal.material.family
    limit = machine.limit(family)
    if family in machine.cannot:
        problem = f"{machine.name} does not cut {family}"
        return Problem("", "", problem, "Choose another machine")
    if limit is None:
        problem = f"{machine.name} has no row for {family}, so its limit is not known"
        remedy = (
            "Take the limit from the machine's own papers and add it to a machine file of"
            " your own, or choose another machine"
        )
        return Problem("", "", problem, remedy)
    row = machine.setting(family, metal.thickness)
    if row and (family, row.gas) in _BURNS:
        problem = f"{machine.name} has a row that cuts {family} with {row.gas}, in which it burns"
        return Problem("", "", problem, "Put argon, or what the machine's maker says, in its row")
    if row:
        return None
    problem = (
        f"{machine.name} cuts {family} up to {limit:.5g} mm ({limit / INCH:.4g} in),"
        f" not {metal.thickness:.4g} mm"
    )
    return Problem("", "", problem, "Choose a thinner sheet or another machine")


@cache
def _built_in(name: str) -> Machine:
    from nestlib.metals.machine_file import read_machine

    with as_file(files("nestlib.metals.data").joinpath(f"{_PREFIX}{name}.toml")) as path:
        return read_machine(path)


def _is_path(name: str) -> bool:
    return name.lower().endswith(".toml") or "/" in name or "\\" in name
