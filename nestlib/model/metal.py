"""What the sheet is made of."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Material:
    """A sheet metal.

    Parameters
    ----------
    name : str
        Short name used in jobs, for example ``"stainless-304"``.
    family : str
        What machine tables and cautions go by: ``"mild-steel"``, ``"stainless"``,
        ``"galvanised"``, ``"aluminium"``, ``"brass"``, ``"copper"`` or ``"titanium"``.
    title : str
        Name for people.
    density : float
        In g/cm³.
    source : str
        Where the density comes from.
    gauge : str
        Name of the gauge table that numbers of this metal are read in; empty if none.
    """

    name: str
    family: str
    title: str
    density: float
    source: str
    gauge: str = ""


@dataclass(frozen=True)
class Metal:
    """A material in one thickness.

    Parameters
    ----------
    material : Material
        What it is.
    thickness : float
        In mm.
    gauge : str
        Gauge the thickness was given by, for example ``"16 ga"``; empty if by size.
    """

    material: Material
    thickness: float
    gauge: str = ""

    def weight(self, area: float) -> float:
        """Return the weight in kg of an area in mm²."""
        return area * self.thickness * self.material.density * 1e-6

    def __str__(self) -> str:
        by = f" ({self.gauge})" if self.gauge else ""
        return f"{self.material.title} {self.thickness:g} mm{by}"
