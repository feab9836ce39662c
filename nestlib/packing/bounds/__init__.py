"""Arguments that no plan can beat.

::

    case            what matters of shapes and containers
    bodies          what a shape takes at least, and what it covers
    weighting       the form of all arguments; the argument of area
    together        pieces that cannot lie in one container
    dual_feasible   weights by size
    counting        most pieces of one kind in a container
    fitting         fillings that do not fit, by exact search
    pattern_rules   what may fill one container      by_patterns   weights by mixes of pieces
    taking          what no remnant can be made of
    least           fewest or cheapest containers by all arguments
    net             the same, with set-ups and remnants
"""

from nestlib.packing.bounds.by_patterns import Mixes
from nestlib.packing.bounds.case import Case, case
from nestlib.packing.bounds.counting import by_number, most_in_one
from nestlib.packing.bounds.dual_feasible import by_size, weights
from nestlib.packing.bounds.least import least, whole_prices
from nestlib.packing.bounds.net import least_net
from nestlib.packing.bounds.pattern_rules import PatternRules
from nestlib.packing.bounds.taking import taken
from nestlib.packing.bounds.together import apart, by_pairs, cliques
from nestlib.packing.bounds.weighting import Weighting, by_area

__all__ = [
    "Case",
    "Mixes",
    "PatternRules",
    "Weighting",
    "apart",
    "by_area",
    "by_number",
    "by_pairs",
    "by_size",
    "case",
    "cliques",
    "least",
    "least_net",
    "most_in_one",
    "taken",
    "weights",
    "whole_prices",
]
