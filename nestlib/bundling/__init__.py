"""Common lines: pieces exactly one kerf apart, which share their cuts.

Terms
-----
pattern
    A few pieces of one part, or of several, laid edge to edge, as seen from a (0, 0) of its
    own, with the lines in the middle of the slots between them and the outline around it all.
bundle
    A pattern where it lies on a sheet (`nestlib.model.Bundle`).
thing
    What the packer places: a part by itself, or a pattern as one shape.
"""

from nestlib.bundling.joining import joined
from nestlib.bundling.mixed import with_others
from nestlib.bundling.pattern import Pattern, reaching, single
from nestlib.bundling.patterns import patterns, saved_length
from nestlib.bundling.things import Thing, as_part, plain_things, things, usable
from nestlib.bundling.turns import allowed_turns, grain_of, may_flip
from nestlib.bundling.unpacking import put

__all__ = [
    "Pattern",
    "Thing",
    "allowed_turns",
    "as_part",
    "grain_of",
    "joined",
    "may_flip",
    "patterns",
    "plain_things",
    "put",
    "reaching",
    "saved_length",
    "single",
    "things",
    "usable",
    "with_others",
]
