"""Rules by which a drawing says what is cut, what is etched and what is neither.

A rule looks at the layer, the linetype and the kind of an entity. The first rule that
fits decides; what no rule fits is cut.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields
from fnmatch import fnmatchcase
from typing import Literal, get_args

from nestlib.drawings.sketch import Style
from nestlib.errors import JobError, Problem

Action = Literal["cut", "mark", "ignore"]
ACTIONS: tuple[str, ...] = get_args(Action)


@dataclass(frozen=True)
class Rule:
    """What to do with entities of some layer, linetype and kind.

    Patterns know ``*``, ``?`` and ``[...]``; case does not matter.

    Parameters
    ----------
    action : {"cut", "mark", "ignore"}
        What becomes of them.
    layer, linetype, kind : str
        Patterns, all of which have to fit.

    Examples
    --------
    >>> Rule("mark", layer="*etch*").fits(Style("LINE", "10_ETCHING"))
    True
    """

    action: Action
    layer: str = "*"
    linetype: str = "*"
    kind: str = "*"

    def fits(self, style: Style) -> bool:
        """Whether this rule is about an entity drawn so."""
        pairs = (
            (style.layer, self.layer),
            (style.linetype, self.linetype),
            (style.kind, self.kind),
        )
        return all(fnmatchcase(v.lower(), p.lower()) for v, p in pairs)

    def __str__(self) -> str:
        asked = [f'{n} "{getattr(self, n)}"' for n in ("layer", "linetype", "kind")]
        return "rule for " + (", ".join(a for a in asked if '"*"' not in a) or "everything")


@dataclass(frozen=True)
class Rules:
    """Rules in order: the first that fits decides.

    Parameters
    ----------
    rules : tuple of Rule
        What no rule fits is cut.
    """

    rules: tuple[Rule, ...] = ()
    _known: dict[tuple[str, str, str], Rule | None] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def first(self, style: Style) -> Rule | None:
        """Return the rule that decides about an entity drawn so; None if it is just cut."""
        key = (style.layer, style.linetype, style.kind)
        if key not in self._known:  # a drawing has many entities and few ways to draw them
            self._known[key] = next((rule for rule in self.rules if rule.fits(style)), None)
        return self._known[key]

    def action(self, style: Style) -> str:
        """Return what becomes of an entity drawn so: ``"cut"``, ``"mark"`` or ``"ignore"``."""
        rule = self.first(style)
        return rule.action if rule else "cut"

    def before(self, others: Rules) -> Rules:
        """Return rules that ask these first, then the others."""
        return Rules(self.rules + others.rules)


_SIZES = "*dim* *text* *bemass* *bemaß* *beschrift* *cotation* *cotes* *acota* cotas *note*"
_FRAMES = (
    "*frame* *title* *border* *rahmen* *schriftfeld* *cartouche* *cadre* *marco* "
    "*cajetin* *cajetín*"
)
_AXES = "*center* *centre* *axis* *axes* *mittellin* *mittenlin* *achse* axe axes_* eje ejes"
_BENDS = "*bend* *fold* *biege* *biegung* *abkant* *falz* *pliage* plis plis_* *plegado* *plieg*"
_HIDDEN = "*hidden* *verdeckt* *unsichtbar* *caché* *cache* *ocult*"
_HELP = "*construct* *hilfslin* *konstrukt* *construcc* *guide* defpoints viewport*"
_MARKS = (
    "*mark* *etch* *engrav* *score* *scribe* *gravur* *gravier* *gravure* *graver* *grabado* "
    "*grabar* *ritz* *anreis* *anreiß* *kennzeich* *marquage* *marca*"
)
_LINES = "center* centre* hidden* dashed* dashdot* phantom* divide* border* dot* acad_iso* *mitte*"

#: Layers of a written sheet that are not the parts on it.
_OURS = "sheet sheet_keep_out lead_in cut_order cut_skeleton cut_off remnant part_name"


def _layers(action: Action, words: str) -> list[Rule]:
    return [Rule(action, layer=word) for word in words.split()]


#: Plain words in English, German, French and Spanish. Centre lines come before marks,
#: because "centre marks" are not etched; marks come before the rest, because whoever
#: writes "etched text" means it.
DEFAULT_RULES = Rules(
    (
        *_layers("ignore", _AXES),
        *_layers("mark", _MARKS),
        *_layers("ignore", " ".join((_SIZES, _FRAMES, _BENDS, _HIDDEN, _HELP, _OURS))),
        *(Rule("ignore", linetype=word) for word in _LINES.split()),
    )
)


def rules_from(
    records: Iterable[Mapping[str, object]], *, file: str = "", base: Rules = DEFAULT_RULES
) -> Rules:
    """Return rules as they stand in a job file, followed by the usual ones.

    Parameters
    ----------
    records : iterable of mapping
        One for each rule, with ``action`` and any of ``layer``, ``linetype``, ``kind``.
    file : str
        Named in messages.
    base : Rules
        Asked after these.

    Returns
    -------
    Rules

    Raises
    ------
    JobError
        With all that is wrong.

    Examples
    --------
    >>> rules = rules_from([{"action": "cut", "layer": "frame*"}])
    >>> rules.action(Style("LINE", "FRAME_BRACKET"))
    'cut'
    """
    problems: list[Problem] = []
    made = [_rule(r, f"rule {i}", file, problems) for i, r in enumerate(records, start=1)]
    if problems:
        raise JobError(problems)
    return Rules(tuple(made)).before(base)


def _rule(record: Mapping[str, object], place: str, file: str, problems: list[Problem]) -> Rule:
    """Make one rule, adding what is wrong to `problems`."""
    known = {f.name for f in fields(Rule)}
    for key in sorted(set(record) - known):
        remedy = "Use action, layer, linetype and kind"
        problems.append(Problem(file, place, f'there is no key "{key}"', remedy))
    patterns = {k: v for k, v in record.items() if k in known - {"action"}}
    for key, value in patterns.items():
        if not isinstance(value, str) or not value:
            remedy = 'Write a pattern such as "*bend*"'
            problems.append(Problem(file, place, f"{key} is {value!r}", remedy))
    action = record.get("action")
    if action not in ACTIONS:
        remedy = 'Write "cut", "mark" or "ignore"'
        problems.append(Problem(file, place, f"action is {action!r}", remedy))
        action = "cut"
    return Rule(action, **{k: str(v) for k, v in patterns.items()})  # type: ignore[arg-type]
