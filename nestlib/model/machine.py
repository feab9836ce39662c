"""What the cutting machine can do."""

from __future__ import annotations

from dataclasses import dataclass, field

#: Common practice, no source: what a lift is taken for where the machine's file is silent.
_USUAL_LIFT = 0.5


@dataclass(frozen=True)
class CutSetting:
    """One row of a machine's cutting table.

    Parameters
    ----------
    family : str
        Metal family, as in `Material.family`.
    thickness : float
        Largest thickness in mm that the row is used for.
    gas : str
        Assist gas: ``"air"``, ``"oxygen"``, ``"nitrogen"`` or ``"argon"``.
    kerf : float
        Width of the slot in mm.
    feed : float
        Cutting speed in mm/min.
    pierce : float
        Time to pierce in s.
    gas_flow : float, or None
        Assist gas in m³/h while the beam pierces and cuts; None if not stated.
    least_feature : float, or None
        Width in mm of the narrowest hole, slot or web that the machine cuts well; None if
        not stated.
    """

    family: str
    thickness: float
    gas: str
    kerf: float
    feed: float
    pierce: float
    gas_flow: float | None = None
    least_feature: float | None = None


@dataclass(frozen=True)
class Support:
    """What a sheet lies on.

    Parameters
    ----------
    kind : str
        ``"slats"``, which stand on edge side by side, or ``"spikes"``.
    pitch : (float, float)
        Distance from one to the next along x and along y, in mm; of slats only the one
        across them counts.
    offset : (float, float), or None
        Where one of them stands, as seen from the sheet's (0, 0), in mm; None if a sheet
        may be laid anywhere.
    along : str
        ``"x"`` or ``"y"``: which way slats run.
    """

    kind: str
    pitch: tuple[float, float]
    offset: tuple[float, float] | None = None
    along: str = "y"


@dataclass(frozen=True)
class Machine:
    """A laser cutting machine.

    Parameters
    ----------
    name : str
        Short name used in jobs, for example ``"co2-400"``.
    title : str
        Name for people.
    beam : str
        ``"CO2"`` or ``"fibre"``.
    power : float
        Beam power in W.
    bed : (float, float)
        Largest sheet in mm, length and width.
    settings : tuple of CutSetting
        The cutting table; nothing is known of a family that has no row.
    cannot : tuple of str
        Families that are known not to be cut.
    rapid : float
        Speed between contours in mm/min.
    mark_feed : float
        Speed of etching in mm/min.
    hourly_rate : float
        Cost of one hour of cutting, in the job's currency; 0 if not stated.
    source : str
        Where the figures come from.
    acceleration, rapid_acceleration : float, or None
        While the beam is on, and between contours, in mm/s²; None if not stated, and the
        second is then the first.
    jerk, rapid_jerk : float, or None
        How fast the acceleration may change along the path, while the beam is on and between
        contours, in mm/s³; None if at once, and the second is then the first.
    corner_jump : float, or None
        Allowed jump of the velocity at a corner in mm/min.
    corner_deviation : float, or None
        Allowed deviation at a corner in mm; see `nestlib.cutting.motion`.
    lift : float, or None
        Time in s to raise and lower the head at a lifted rapid; None if not stated.
    gas_prices : tuple of (str, float)
        Price of a m³ of each gas for which it is stated, in the job's currency.
    assumed : tuple of str
        Which of ``"rapid"`` and ``"mark_feed"`` are starting values, since the machine's file
        does not state them.
    support : Support, or None
        What the sheet lies on; None if that is not known.
    """

    name: str
    title: str
    beam: str
    power: float
    bed: tuple[float, float]
    settings: tuple[CutSetting, ...] = field(default=(), repr=False)
    cannot: tuple[str, ...] = ()
    rapid: float = 20000.0
    mark_feed: float = 3000.0
    hourly_rate: float = 0.0
    source: str = ""
    acceleration: float | None = None
    rapid_acceleration: float | None = None
    corner_jump: float | None = None
    corner_deviation: float | None = None
    lift: float | None = None
    gas_prices: tuple[tuple[str, float], ...] = ()
    assumed: tuple[str, ...] = ()
    support: Support | None = None
    jerk: float | None = None
    rapid_jerk: float | None = None

    @property
    def lift_time(self) -> float:
        """Time of a lift in s, or a starting value to choose ways by where it is not stated."""
        return _USUAL_LIFT if self.lift is None else self.lift

    def limit(self, family: str) -> float | None:
        """Return the greatest thickness in mm that can be cut, None if the metal cannot."""
        return max((s.thickness for s in self.settings if s.family == family), default=None)

    def setting(self, family: str, thickness: float) -> CutSetting | None:
        """Return the row for a thickness: the thinnest that still covers it, else None."""
        rows = [s for s in self.settings if s.family == family and s.thickness >= thickness - 1e-9]
        return min(rows, key=lambda s: s.thickness, default=None)
