"""Sheet metals with their density and its source."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from nestlib.errors import InputError, Problem
from nestlib.metals.data_files import load
from nestlib.metals.thickness import parse_thickness
from nestlib.model.metal import Material, Metal
from nestlib.suggesting import did_you_mean

#: What machine tables and cautions go by.
FAMILIES = ("mild-steel", "stainless", "galvanised", "aluminium", "brass", "copper", "titanium")


@cache
def materials() -> tuple[Material, ...]:
    """Return all materials, family by family."""
    return tuple(Material(name=name, **row) for name, row in load("materials.toml").items())


def material(name: str) -> Material:
    """Return the material of that name.

    Parameters
    ----------
    name : str
        A short name, in capitals or not, such as ``"stainless-304"``; `materials` has them all.

    Raises
    ------
    InputError
        If there is none; a family of several materials is not guessed at.

    Examples
    --------
    >>> material("stainless-304").density
    7.9
    """
    wanted = name.strip().lower()
    known = {m.name: m for m in materials()}
    if wanted in known:
        return known[wanted]
    family = [m.name for m in materials() if m.family == wanted]
    if family:
        problem = f'"{name}" is a family of metals'
        raise InputError(Problem("", "", problem, f"Choose one of: {', '.join(family)}"))
    raise InputError(Problem("", "", f'there is no metal "{name}"', did_you_mean(wanted, known)))


def metal(material_name: str, thickness: str | float, density: float | None = None) -> Metal:
    """Return a material in one thickness.

    Parameters
    ----------
    material_name : str
        For example ``"mild-steel"``.
    thickness : str or float
        ``"1.5"`` or 1.5 (mm), ``"1.5 mm"``, ``"16 ga"``, ``"0.060 in"``, ``"1/8 in"``.
    density : float, optional
        In g/cm³, in place of the material's.

    Raises
    ------
    InputError
        With everything that is wrong with the two.

    Examples
    --------
    >>> round(metal("mild-steel", "16 ga").thickness, 3)
    1.518
    """
    found = material(material_name)
    size = parse_thickness(thickness, found.gauge)
    if density is not None:
        found = replace(found, density=density, source="given with the job")
    return Metal(found, size.mm, size.gauge)
