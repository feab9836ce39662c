"""How an export is to be understood: a TOML file, drafted by `nestlib intake`.

::

    confirmed = true                   # a draft says false, until somebody has checked it

    [file]                             # how the texts are written
    encoding = "cp1252"                # of a CSV file or JSON lines; "auto": told from each
    delimiter = ";"                    # between cells; "tab" for tabs
    decimal = ","                      # the other sign parts thousands
    days = "day month year"            # or "month day year"; years that stand first are known

    [columns]                          # titles as they stand in the export
    line = ["Auftrag", "Pos"]          # optional: what names an order line, joined by "/"
    part = "Artikel"
    quantity = "Menge"
    metal = "Werkstoff"
    thickness = "Dicke"                # left out: it stands with the metal ("S235 3 mm")
    drawing = "Zeichnung"              # optional, as are all below
    due = "Termin"
    kit = "Baugruppe"
    priority = "Prio"

    [thickness]
    unit = "mm"                        # of numbers without one; or "in", "ga"

    [metals]                           # what the export calls the metals of `nestlib metals`
    "S235JR" = "mild-steel"

    [drawings]
    folders = ["drawings"]             # searched with all folders in them
    patterns = ["{part}.dxf"]          # first one that fits; {drawing}, or any title in braces

    [job]                              # goes into each job file as it is
    machine = "co2-400"
    units = "mm"

    [[sheet]]                          # as in a job file, for all jobs or for some
    size = "3000x1500"
    for_metal = "mild-steel"           # optional
    for_thickness = "3 mm"             # optional

Paths are relative to the mapping.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from pydantic import Field, model_validator

from nestlib.errors import InputError, JobError, Problem
from nestlib.intake.days import Order
from nestlib.intake.sizes import Unit
from nestlib.intake.words import plain
from nestlib.jobs import JobFile, LookUps, SheetEntry
from nestlib.metals import material, parse_size, parse_thickness
from nestlib.validation import Table, fault, fault_from, read_toml, shown, validate

_OF_SHEETS = ("for_metal", "for_thickness")


class FileTable(Table):
    """How the texts of the export are written."""

    encoding: str = Field(default="auto", description='an encoding, for example "cp1252"')
    delimiter: str = Field(default=",", min_length=1, description='a delimiter, such as ";"')
    decimal: Literal[".", ","] = Field(default=".", description='"." or ","')
    days: Order = Field(
        default="day month year", description='"day month year" or "month day year"'
    )

    @model_validator(mode="after")
    def _one_letter(self) -> FileTable:
        if self.delimiter != "tab" and len(self.delimiter) != 1:
            raise fault(f"{shown(self.delimiter)} is not one letter", 'Give one, or "tab"')
        return self

    @property
    def letter(self) -> str:
        """The delimiter itself."""
        return "\t" if self.delimiter == "tab" else self.delimiter


class ColumnsTable(Table):
    """Titles of columns; an empty one is not there."""

    line: list[str] = Field(default=[], description='titles such as ["Order", "Line"]')
    part: str = Field(min_length=1, description="the title of the column of part numbers")
    quantity: str = Field(min_length=1, description="the title of the column of quantities")
    metal: str = Field(min_length=1, description="the title of the column of metals")
    thickness: str = Field(default="", description="a title; left out if the metal says it")
    drawing: str = Field(default="", description="a title")
    due: str = Field(default="", description="a title")
    kit: str = Field(default="", description="a title")
    priority: str = Field(default="", description="a title")

    @property
    def titles(self) -> set[str]:
        """All titles that are named."""
        return {t for t in (*self.line, *self.model_dump(exclude={"line"}).values()) if t}


class ThicknessTable(Table):
    """Thicknesses without a unit."""

    unit: Unit = Field(default="mm", description='"mm", "in" or "ga"')


class DrawingsTable(Table):
    """Where drawings are and what they are called."""

    folders: list[str] = Field(min_length=1, description='folders such as ["drawings"]')
    patterns: list[str] = Field(min_length=1, description='patterns such as ["{part}.dxf"]')


class MappingFile(Table):
    """A whole mapping."""

    confirmed: bool = Field(description="true once the mapping has been checked")
    file: FileTable = Field(default=FileTable(), description="a table [file]")
    columns: ColumnsTable = Field(description="a table [columns]")
    thickness: ThicknessTable = Field(default=ThicknessTable(), description="a table [thickness]")
    metals: dict[str, str] = Field(description='a table [metals]: "S235JR" = "mild-steel"')
    drawings: DrawingsTable = Field(description="a table [drawings]")
    job: dict[str, Any] = Field(default={}, description="a table [job] of keys of job files")
    sheet: list[dict[str, Any]] = Field(min_length=1, description="at least one [[sheet]]")

    @model_validator(mode="after")
    def _good_for_jobs(self) -> MappingFile:
        """Check what goes into each job file as it is: as a job file is checked."""
        own = [key for key in ("metal", "thickness", "parts", "part", "sheet") if key in self.job]
        if own:
            raise fault(f"[job] says {own[0]}, and each job has its own", "Take it out")
        try:
            for name in self.metals.values():
                if name:
                    material(name)
            for sheet in self.sheet:
                _check_sheet(sheet)
            JobFile.model_validate({**_SAMPLE, **self.job}, context=LookUps())
        except InputError as error:
            raise fault_from(error) from None
        return self


_SAMPLE = {"metal": "m", "thickness": "1", "parts": "p.csv", "sheet": [{"size": "1x1"}]}


@dataclass(frozen=True)
class Mapping:
    """A mapping and the file it stands in.

    Parameters
    ----------
    file : str
        Path as the user gave it.
    table : MappingFile
        What it says.
    """

    file: str
    table: MappingFile

    def metal(self, text: str) -> str | None:
        """Return the metal of a text of the export; None if the mapping does not say."""
        return {plain(key): name for key, name in self.table.metals.items()}.get(plain(text))

    def folders(self) -> list[Path]:
        """Return the folders of the drawings."""
        here = Path(self.file).parent
        return [here / folder.replace("\\", "/") for folder in self.table.drawings.folders]

    def sheets(self, metal: str, mm: float, gauge_table: str) -> list[dict[str, Any]]:
        """Return the sheets for a metal and a thickness, as job files write them."""
        fit = []
        for sheet in self.table.sheet:
            thickness = sheet.get("for_thickness")
            right = sheet.get("for_metal") in (None, metal)
            if thickness is not None:
                right = right and _equal(thickness, mm, gauge_table)
            if right:
                fit.append({key: v for key, v in sheet.items() if key not in _OF_SHEETS})
        return fit


def read_mapping(path: str | Path) -> Mapping:
    """Read a mapping.

    Parameters
    ----------
    path : str or Path
        A TOML file as described above.

    Raises
    ------
    JobError
        With everything that is wrong with it, each with its line; also if it is a draft
        that nobody has confirmed.
    """
    table, place = read_toml(path, MappingFile)
    mapping = Mapping(str(path), table)
    problems = [
        Problem(str(path), place(("metals", key)), f"no metal is said for {shown(key)}", remedy)
        for key, name in table.metals.items()
        if not name
        for remedy in ["Give one of `nestlib metals`, or take the line out to set its rows aside"]
    ]
    problems += [
        Problem(str(path), place(("drawings", "folders", i)), f"there is no folder {folder}", "")
        for i, folder in enumerate(mapping.folders())
        if not folder.is_dir()
    ]
    if problems:
        raise JobError(problems)
    return mapping


def _check_sheet(sheet: dict[str, Any]) -> None:
    own = {key: value for key, value in sheet.items() if key not in _OF_SHEETS}
    validate(SheetEntry, own, "", lambda loc: f"sheet, key {loc[0]}" if loc else "sheet", _sizes())
    if "for_metal" in sheet:
        material(str(sheet["for_metal"]))


def _sizes() -> LookUps:
    return LookUps(size=parse_size)


def _equal(thickness: object, mm: float, gauge_table: str) -> bool:
    try:
        given = parse_thickness(thickness, gauge_table)  # type: ignore[arg-type]
    except InputError:
        return False
    return abs(given.mm - mm) < 0.001
