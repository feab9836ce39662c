"""Drawings with random damage: read, or refused with a message, never anything else."""

from __future__ import annotations

import random
import re
from contextlib import suppress
from pathlib import Path

import pytest

from fixtures.generate import DEMO
from nestlib.drawings import check_drawing, read_drawing
from nestlib.errors import DrawingError

NUMBERS = re.compile(rb"-?\d+\.\d+|\b\d+\b")
ODD = [b"", b"0", b"-1", b"1e308", b"nan", b"inf", b"1e-300", b"99999999999", b"2.5"]
DRAWINGS = sorted(p.name for p in (DEMO / "drawings").iterdir() if p.suffix in {".dxf", ".svg"})


def mangled(data: bytes, rng: random.Random) -> bytes:
    """Change some bytes, some numbers, or cut out or repeat a piece."""
    content = bytearray(data)
    way = rng.randrange(3)
    if way == 0:
        for _ in range(5):
            content[rng.randrange(len(content))] = rng.choice(b"0123456789.-eE \nAnif<>/")
    elif way == 1:
        found = rng.sample(list(NUMBERS.finditer(data)), 3)
        for match in sorted(found, key=lambda m: -m.start()):
            content[match.start() : match.end()] = rng.choice(ODD)
    else:
        start = rng.randrange(len(content))
        piece = content[start : start + 200]
        content[start : start + 200] = piece * rng.choice([0, 2])
    return bytes(content)


@pytest.mark.parametrize("name", DRAWINGS)
def test_damage_never_raises_anything_else(tmp_path: Path, name: str) -> None:
    """Ten kinds of damage to each drawing of the demo."""
    rng = random.Random(name)
    data = (DEMO / "drawings" / name).read_bytes()
    path = tmp_path / name
    for _ in range(10):
        path.write_bytes(mangled(data, rng))
        with suppress(DrawingError):
            check_drawing(read_drawing(path, fallback_units="mm"), thickness=3.0, kerf=0.2)
