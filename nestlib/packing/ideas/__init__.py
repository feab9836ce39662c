"""Ideas that a search tries in turn, each a module: what all share is in `shared`."""
