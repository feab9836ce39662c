"""Is a written plan right? Answered from its files alone.

Nothing here shares code with the stages that made the plan: arcs, distances and
transformations are worked out anew, so an error there cannot hide itself here.
"""

from nestlib.verifying.verdict import verify

__all__ = ["verify"]
