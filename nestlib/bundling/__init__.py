"""Common lines: pieces of a part exactly one kerf apart, which share their cuts.

Terms
-----
pattern
    A few pieces of one part laid edge to edge, as seen from a (0, 0) of its own, with the
    lines in the middle of the slots between them and the outline around all of it.
bundle
    A pattern where it lies on a sheet (`nestlib.model.Bundle`).
thing
    What the packer places: a part by itself, or a pattern of it as one shape.
"""

from nestlib.bundling.pattern import Pattern, joined, reaching, single
from nestlib.bundling.patterns import patterns, saved_length
from nestlib.bundling.things import Thing, allowed_turns, as_part, plain_things, things, usable
from nestlib.bundling.unpacking import put

__all__ = [
    "Pattern",
    "Thing",
    "allowed_turns",
    "as_part",
    "joined",
    "patterns",
    "plain_things",
    "put",
    "reaching",
    "saved_length",
    "single",
    "things",
    "usable",
]
