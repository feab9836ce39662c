"""How well and how fast nestlib packs, against published values."""
