"""Machine files: a TOML file that describes what a cutting machine can do.

::

    name = "our-laser"             # short name, used in jobs
    title = "The laser in hall 2"  # optional
    beam = "CO2"                   # or "fibre"
    power = 400                    # W
    bed = [3000, 1500]             # largest sheet in mm
    rapid = 20000                  # optional, mm/min between contours
    mark_feed = 3000               # optional, mm/min when etching
    hourly_rate = 85               # optional, in the currency of the jobs
    acceleration = 5000            # optional, mm/s² while the beam is on
    rapid_acceleration = 8000      # optional, mm/s² between contours
    jerk = 50000                   # optional, mm/s³ by which the acceleration changes: S-curves
    rapid_jerk = 80000             # optional, mm/s³ between contours
    corner_deviation = 0.02        # optional, mm by which a corner may be rounded
    corner_jump = 600              # optional, mm/min by which the velocity may jump there
    lift = 0.4                     # optional, s to raise and lower the head at a rapid
    source = "our own tests"       # optional, where the figures come from
    cannot = ["copper"]            # optional, families that it does not cut at all

    [support]                      # optional, what the sheet lies on
    kind = "slats"                 # or "spikes"
    pitch = 60                     # mm from one to the next; [60, 80] along x and along y
    along = "y"                    # which way slats run, "x" or "y"
    offset = 20                    # where one stands, from the sheet's corner, or [20, 10];
                                   # left out: a sheet is laid anywhere

    [[row]]                        # one for each metal and greatest thickness
    family = "mild-steel"
    thickness = "2 mm"             # the row is used up to this; "0.090 in" works too
    gas = "oxygen"                 # air, oxygen, nitrogen or argon
    kerf = 0.2                     # width of the slot in mm
    feed = 2200                    # mm/min
    pierce = 0.4                   # s
    gas_flow = 6.0                 # optional, m³/h while the beam pierces and cuts
    least_feature = 1.0            # optional, mm: narrowest hole, slot or web that comes out well;
                                   # left out: the thickness (common practice, no source)

    [gas_price]                    # optional, of a m³, in the currency of the jobs
    oxygen = 1.90

The thickest row of a family is the machine's limit. Of a family without a row nothing is
known, so jobs in it are refused until the owner of the machine adds one. Where an optional
figure is missing, times and costs that need it are said to be not stated.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from nestlib.errors import InputError
from nestlib.metals.materials import FAMILIES
from nestlib.metals.thickness import parse_thickness
from nestlib.model.machine import CutSetting, Machine, Support
from nestlib.validation import Table, fault, read_toml

Gas = Literal["air", "oxygen", "nitrogen", "argon"]


#: Speeds that a file may leave out; what is taken then is common practice, no source.
_STARTING = ("rapid", "mark_feed")


def _mm(value: object) -> float:
    if not isinstance(value, str | int | float) or isinstance(value, bool):
        raise fault("the thickness is neither a text nor a number")
    try:
        return parse_thickness(value).mm
    except InputError as error:
        raise fault(error.problems[0].problem) from None


def _family(value: str) -> str:
    if value not in FAMILIES:
        raise fault(f'there is no family "{value}"', f"Choose one of: {', '.join(FAMILIES)}")
    return value


def _both_ways(value: object) -> object:
    """Take one number for both axes."""
    if isinstance(value, list):
        return tuple(value)
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return (value, value) if is_number else value


Pitch = Annotated[float, Field(ge=5, le=1000)]


class Row(Table):
    """One row of the cutting table."""

    family: Annotated[str, AfterValidator(_family)] = Field(description="a family of metals")
    thickness: Annotated[float, BeforeValidator(_mm)] = Field(
        description='the greatest thickness, for example "2 mm" or "0.090 in"'
    )
    gas: Gas = Field(description="the assist gas")
    kerf: float = Field(gt=0, lt=5, description="the width of the slot in mm")
    feed: float = Field(gt=0, description="the cutting speed in mm/min")
    pierce: float = Field(ge=0, description="the time to pierce in s")
    gas_flow: float | None = Field(
        default=None, ge=0, description="the gas used in m³/h while the beam pierces and cuts"
    )
    least_feature: float | None = Field(
        default=None, gt=0, lt=100, description="the narrowest hole, slot or web in mm"
    )


class SupportTable(Table):
    """What the sheet lies on."""

    kind: Literal["slats", "spikes"] = Field(description='"slats" or "spikes"')
    pitch: Annotated[tuple[Pitch, Pitch], BeforeValidator(_both_ways)] = Field(
        description="the distance from one to the next in mm, or [60, 80] along x and along y"
    )
    offset: Annotated[tuple[float, float], BeforeValidator(_both_ways)] | None = Field(
        default=None, description="where one stands in mm, or [20, 10] along x and along y"
    )
    along: Literal["x", "y"] = Field(default="y", description='the way slats run, "x" or "y"')


class MachineFile(Table):
    """A whole machine file."""

    name: str = Field(min_length=1, description='a short name, for example "our-laser"')
    title: str = Field(default="", description="a name for people")
    beam: Literal["CO2", "fibre"] = Field(description='"CO2" or "fibre"')
    power: float = Field(gt=0, description="the power of the beam in W")
    bed: list[Annotated[float, Field(gt=0)]] = Field(
        min_length=2, max_length=2, description="the largest sheet in mm, for example [3000, 1500]"
    )
    rapid: float = Field(default=20000.0, gt=0, description="the speed between contours in mm/min")
    mark_feed: float = Field(default=3000.0, gt=0, description="the speed of etching in mm/min")
    hourly_rate: float = Field(default=0.0, ge=0, description="the cost of an hour")
    acceleration: float | None = Field(
        default=None, gt=0, description="the acceleration while the beam is on in mm/s²"
    )
    rapid_acceleration: float | None = Field(
        default=None, gt=0, description="the acceleration between contours in mm/s²"
    )
    jerk: float | None = Field(
        default=None, gt=0, description="the jerk while the beam is on in mm/s³"
    )
    rapid_jerk: float | None = Field(
        default=None, gt=0, description="the jerk between contours in mm/s³"
    )
    corner_jump: float | None = Field(
        default=None, ge=0, description="the allowed jump of the velocity at a corner in mm/min"
    )
    corner_deviation: float | None = Field(
        default=None, ge=0, description="the allowed deviation at a corner in mm"
    )
    lift: float | None = Field(
        default=None, ge=0, le=60, description="the time to raise and lower the head in s"
    )
    gas_price: dict[Gas, Annotated[float, Field(ge=0)]] = Field(
        default={}, description="the price of a m³ of each gas"
    )
    source: str = Field(default="", description="where the figures come from")
    cannot: list[Annotated[str, AfterValidator(_family)]] = Field(
        default=[], description="families that it does not cut"
    )
    support: SupportTable | None = Field(default=None, description="a table [support]")
    row: list[Row] = Field(min_length=1, description="at least one [[row]]")

    @model_validator(mode="after")
    def _rows_differ(self) -> MachineFile:
        jerk = self.jerk is not None or self.rapid_jerk is not None
        if jerk and self.acceleration is None:
            raise fault("a jerk without an acceleration limits nothing", "Add acceleration")
        seen: set[tuple[str, float]] = set()
        for row in self.row:
            if (row.family, row.thickness) in seen:
                problem = f"two rows for {row.family} up to {row.thickness:g} mm"
                raise fault(problem, "Keep one of them")
            if row.family in self.cannot:
                problem = f"{row.family} has a row and stands under cannot"
                raise fault(problem, "Keep one of them")
            seen.add((row.family, row.thickness))
        return self


def read_machine(path: str | Path) -> Machine:
    """Return the machine that a file describes.

    Parameters
    ----------
    path : str or Path
        A TOML file as described above.

    Raises
    ------
    JobError
        With every problem of the file.
    """
    data, _ = read_toml(path, MachineFile)
    return Machine(
        name=data.name,
        title=data.title or data.name,
        beam=data.beam,
        power=data.power,
        bed=(data.bed[0], data.bed[1]),
        settings=tuple(CutSetting(**row.model_dump()) for row in data.row),
        rapid=data.rapid,
        mark_feed=data.mark_feed,
        hourly_rate=data.hourly_rate,
        cannot=tuple(data.cannot),
        source=data.source,
        acceleration=data.acceleration,
        rapid_acceleration=data.rapid_acceleration,
        jerk=data.jerk,
        rapid_jerk=data.rapid_jerk,
        corner_jump=data.corner_jump,
        corner_deviation=data.corner_deviation,
        gas_prices=tuple(sorted(data.gas_price.items())),
        assumed=tuple(key for key in _STARTING if key not in data.model_fields_set),
        support=None if data.support is None else Support(**data.support.model_dump()),
        lift=data.lift,
    )
