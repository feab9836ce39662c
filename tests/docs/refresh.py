"""Write what commands print and draw now into pages: ``python -m tests.docs.refresh README.md``.

Only what differs is replaced, with all that is printed; look at the difference, and leave out
again with ``…`` what no reader needs.
"""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path

from tests.docs.pages import Block, Reader, blocks, pictures, same, steps


def refreshed(page: Path) -> str:
    """Return a page with what its commands print in the current folder."""
    reader, text, moved = Reader(Path()), page.read_text(encoding="utf-8"), 0
    for block in blocks(page):
        if block.language != "console":
            _try(reader, block)
            continue
        new = _console(block, reader)
        start, end = block.span
        text = text[: start + moved] + new + text[end + moved :]
        moved += len(new) - len(block.text)
    return text


def _try(reader: Reader, block: Block) -> None:
    """Do what a block shows, and say what is wrong with it."""
    try:
        reader.read(block)
    except Exception as error:
        print(f"{error}\n", file=sys.stderr)


def _console(block: Block, reader: Reader) -> str:
    told = []
    for command, shown in steps(block.text):
        printed = reader.printed(command, shown)
        kept = shown if same(shown, printed) else "\n".join(map(str.rstrip, printed.splitlines()))
        told.append(f"$ {command}\n" + (f"{kept.strip(chr(10))}\n" if kept.strip() else ""))
    return "".join(told)


def main() -> None:
    """Refresh the pages that are named."""
    here = Path.cwd()
    for page in [Path(name).resolve() for name in sys.argv[1:]]:
        with tempfile.TemporaryDirectory() as folder:
            os.chdir(folder)
            (Path(folder) / "drawings").mkdir()
            os.environ |= {"NESTLIB_STOCK": f"{folder}/rack.sqlite", "COLUMNS": "110"}
            page.write_text(refreshed(page), encoding="utf-8")
            for shown, made in pictures(page, Path(folder)):
                shown.write_bytes(made.read_bytes())
            os.chdir(here)


if __name__ == "__main__":
    main()
