"""How long the machine needs, roughly."""

from __future__ import annotations

from nestlib.model import Job, Layout


def cutting_minutes(layout: Layout, job: Job) -> float | None:
    """Estimate the time to cut one sheet: lengths over speeds, pierces and lifts.

    The head is taken to run at full speed all the time, so the true time is longer.

    Parameters
    ----------
    layout : Layout
        With its cut path.
    job : Job
        Holds the metal, and the machine with its cutting table.

    Returns
    -------
    float or None
        In minutes; None if the machine's table has no row for the metal.

    Examples
    --------
    >>> from nestlib.model import *
    >>> steel = Metal(Material("steel", "mild-steel", "Steel", 7.85, ""), 2.0)
    >>> row = CutSetting("mild-steel", 3.0, "oxygen", 0.2, feed=2000.0, pierce=3.0)
    >>> laser = Machine("m", "M", "CO2", 400, (3000, 1500), (row,), rapid=10000.0)
    >>> path = CutPath((Cut(0, "outer", 0, Contour([(1000, 0), (1500, 0), (1500, 500)])),))
    >>> layout = Layout(Sheet("s", Contour.rectangle(3000, 1500)), (), path=path)
    >>> round(cutting_minutes(layout, Job("", (), (), steel, laser)), 4)
    1.0036
    """
    machine, path = job.machine, layout.path
    setting = machine.setting(job.metal.material.family, job.metal.thickness)
    if setting is None or not (setting.feed > 0 and machine.rapid > 0 and machine.mark_feed > 0):
        return None
    return (
        path.cut_length / setting.feed
        + path.pierces * setting.pierce / 60
        + path.mark_length / machine.mark_feed
        + path.rapid_length / machine.rapid
        + path.lifts * machine.lift / 60
    )
