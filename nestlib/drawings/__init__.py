"""Drawings read, checked and shown."""

from nestlib.drawings.check import check_drawing
from nestlib.drawings.codes import CODES, Code, finding
from nestlib.drawings.picture import picture
from nestlib.drawings.read import read_drawing
from nestlib.drawings.rules import DEFAULT_RULES, Rule, Rules, rules_from
from nestlib.drawings.summary import check_record

__all__ = [
    "CODES",
    "DEFAULT_RULES",
    "Code",
    "Rule",
    "Rules",
    "check_drawing",
    "check_record",
    "finding",
    "picture",
    "read_drawing",
    "rules_from",
]
