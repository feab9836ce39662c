"""What the people at the machine should know about a metal.

A caution reminds; it neither makes a job safe nor chooses power, gas or protection. What
counts are the instructions of the machine's maker, the local rules and the judgement of
licensed people, and every list of cautions ends by saying so.
"""

from __future__ import annotations

from nestlib.metals.machines import why_not
from nestlib.model.machine import Machine
from nestlib.model.metal import Metal
from nestlib.model.sheet import Sheet

#: What is heavier than this, in kg, is not lifted by one person: common practice, no source.
_HEAVY = 20.0

_ALWAYS = (
    "Laser: cutting sources are class 4. Only a closed and interlocked machine keeps people"
    " from the beam; opening a guard or defeating a switch changes the hazard"
    " (IEC 60825-1, ISO 11553-1).",
    "Fire: keep what burns 11 m (35 ft) away or cover it, and keep a fire watch for at least"
    " 30 minutes after cutting (29 CFR 1910.252), longer where the local rule asks for it"
    " (NFPA 51B: 1 hour).",
    "Films and coatings: never cut PVC film or a chlorinated coating; it gives off hydrogen"
    " chloride. Find out what a protective film is made of before it goes under the beam.",
)
_GAS = {
    "oxygen": "Oxygen: in enriched oxygen things burn violently. Keep oil and grease off its"
    " fittings, and never cool or dust off anything with it.",
    "nitrogen": "Nitrogen: it displaces the air that people breathe. Extract it and air the room.",
    "argon": "Argon: it displaces the air that people breathe and collects in low places."
    " Extract it and air the room.",
}
_FAMILY = {
    "stainless": "Stainless steel: its fume holds hexavalent chromium, which has an exposure"
    " limit of its own (29 CFR 1910.1026). Extract it at the cut and filter it.",
    "galvanised": "Zinc: cutting galvanised steel gives zinc oxide fume, which brings on"
    " metal fume fever. Extract it at the cut or wear a respirator (29 CFR 1910.252(c)).",
    "brass": "Zinc: brass holds zinc, and the fume of zinc oxide brings on metal fume fever."
    " Extract it at the cut or wear a respirator (29 CFR 1910.252(c)).",
    "titanium": "Titanium: never cut it with oxygen. Its fines and swarf catch fire and can"
    " explode, and water can make that worse: collect them apart from steel sparks and have a"
    " class D agent at hand (NFPA 484, now in NFPA 660).",
    "aluminium": "Aluminium fines catch fire and can explode, and water can make that worse:"
    " collect them apart from steel sparks and have a class D agent at hand (NFPA 484, now in"
    " NFPA 660).",
}
_REFLECTS = ("aluminium", "brass", "copper")
_DEFER = (
    "These are reminders only. The instructions of the machine's maker, local codes and the"
    " practice of licensed people come first."
)


def cautions(metal: Metal, machine: Machine, sheet: Sheet | None = None) -> tuple[str, ...]:
    """Return the cautions that apply to cutting a metal on a machine.

    Parameters
    ----------
    metal : Metal
        What is cut.
    machine : Machine
        What it is cut on; the gas is that of the row it would use.
    sheet : Sheet, optional
        The largest one that is handled, whose weight is worth knowing.

    Returns
    -------
    tuple of str
        The most particular first, led by a limit that is exceeded; the last one says
        whose word counts.

    Examples
    --------
    >>> from nestlib.metals import machine, metal
    >>> cautions(metal("stainless-304", 1), machine("co2-400"))[0][:16]
    'Stainless steel:'
    """
    family = metal.material.family
    setting = machine.setting(family, metal.thickness)
    found = [
        _beyond(metal, machine),
        _FAMILY.get(family),
        _reflection(family),
        _GAS.get(setting.gas) if setting else None,
    ]
    if family == "titanium" and setting and setting.gas == "oxygen":
        found.insert(0, "Titanium and oxygen: the machine's table names oxygen for titanium. Stop.")
    return (*(c for c in found if c), *_ALWAYS, _handling(metal, sheet), _DEFER)


def _beyond(metal: Metal, machine: Machine) -> str | None:
    problem = why_not(machine, metal)
    return f"Limit: {problem.problem}." if problem else None


def _reflection(family: str) -> str | None:
    if family not in _REFLECTS:
        return None
    return (
        f"Reflection: {family} can send the beam back into the source. Cut it only on a"
        " machine whose maker says that it is protected for that."
    )


def _handling(metal: Metal, sheet: Sheet | None) -> str:
    sharp = "Handling: edges are sharp and pieces stay hot; wear gloves."
    if sheet is None:
        return sharp
    width, height = sheet.size
    weight = metal.weight(sheet.area)
    lift = ": use lifting gear or enough people" if weight > _HEAVY else ""
    kilos = f"{weight:.0f}" if weight >= 10 else f"{weight:.1f}"
    return f"{sharp} A sheet of {width:.0f} x {height:.0f} mm weighs about {kilos} kg{lift}."
