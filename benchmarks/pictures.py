"""Pictures of the best layouts as small SVG files."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

import click
from shapely import Polygon

from benchmarks import options
from benchmarks.instances import Instance, instance_files, read_instance

#: Where pictures are kept.
FOLDER = Path(__file__).with_name("pictures")

#: Height of a strip in a picture.
_HIGH = 240

#: Height of the highest sheet in a picture of several.
_SHEET_HIGH = 360

#: Number of a part, its turn in degrees, and where its (0, 0) is, in mm.
Lying = tuple[int, float, float, float]

#: Fills of the parts in turn.
_FILLS = ("#7f9fb8", "#d9b36c", "#8fb58a", "#c98f7e", "#a79bc4", "#c9c27a", "#79b3ad", "#b8a08a")


def picture(instance: Instance, placements: Sequence[dict[str, Any]], length: float) -> str:
    """Return the SVG text of a strip, which lies as it is used: x to the right, y up.

    Parameters
    ----------
    instance : Instance
        Of kind strip.
    placements : sequence of dict
        As in a solution file.
    length : float
        Length of the strip.
    """
    width = instance.data["width"]
    scale = _HIGH / width
    digits = 2
    wide = length * scale
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-2 -2 {wide + 4:.1f} {_HIGH + 4}">',
        f"<title>{escape(instance.name)}</title>",
        f'<g transform="translate(0 {_HIGH}) scale(1 -1)" stroke="#333" stroke-width="0.6">',
        f'<rect width="{wide:.{digits}f}" height="{_HIGH}" fill="#f4f1ea"/>',
        "<defs>",
        *(_outline(instance, k, scale) for k in range(len(instance.items))),
        "</defs>",
    ]
    lines += [_use(instance, p, scale) for p in placements]
    return "\n".join([*lines, "</g>", "</svg>", ""])


def _outline(instance: Instance, k: int, scale: float) -> str:
    polygon = instance.items[k].polygon
    rings = [
        "M" + " ".join(f"{x * scale:.2f},{y * scale:.2f}" for x, y in list(ring.coords)[:-1]) + "z"
        for ring in (polygon.exterior, *polygon.interiors)
    ]
    fill = _FILLS[k % len(_FILLS)]
    return f'<path id="p{k}" d="{"".join(rings)}" fill="{fill}" fill-rule="evenodd"/>'


def _use(instance: Instance, placement: dict[str, Any], scale: float) -> str:
    k = instance.ids.index(placement["part"])
    moved = f"translate({placement['x'] * scale:.2f} {placement['y'] * scale:.2f})"
    turned = f" rotate({placement['rotation']:g})" if placement["rotation"] else ""
    return f'<use href="#p{k}" transform="{moved}{turned}"/>'


def sheets_picture(
    title: str, parts: Sequence[Polygon], sheets: Sequence[tuple[Polygon, Sequence[Lying]]]
) -> str:
    """Return the SVG text of several sheets, one above the other.

    Parameters
    ----------
    title : str
        What is shown.
    parts : sequence of shapely.Polygon
        Outline of each part, in mm.
    sheets : sequence of (shapely.Polygon, sequence of Lying)
        Outline of each sheet, and how its pieces lie.
    """
    scale = _SHEET_HIGH / max(sheet.bounds[3] for sheet, _ in sheets)
    lines, top = [], 0.0
    for sheet, pieces in sheets:
        top += sheet.bounds[3] * scale
        lines.append(f'<g transform="translate(0 {top:.1f}) scale(1 -1)">')
        lines.append(_path(sheet, scale, 'fill="#f4f1ea"'))
        lines += [_lying(piece, scale) for piece in pieces]
        lines.append("</g>")
        top += 12
    size = f"-2 -2 {max(sheet.bounds[2] for sheet, _ in sheets) * scale + 4:.1f} {top - 8:.1f}"
    head = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{size}">',
        f"<title>{escape(title)}</title>",
        '<g stroke="#333" stroke-width="0.4" fill-rule="evenodd">',
        "<defs>",
        *(
            _path(part, scale, f'id="p{k}" fill="{_FILLS[k % len(_FILLS)]}"')
            for k, part in enumerate(parts)
        ),
        "</defs>",
    ]
    return "\n".join([*head, *lines, "</g>", "</svg>", ""])


def _path(polygon: Polygon, scale: float, attributes: str) -> str:
    rings = [
        "M" + " ".join(f"{x * scale:.2f},{y * scale:.2f}" for x, y in list(ring.coords)[:-1]) + "z"
        for ring in (polygon.exterior, *polygon.interiors)
    ]
    return f'<path {attributes} d="{"".join(rings)}"/>'


def _lying(piece: Lying, scale: float) -> str:
    k, rotation, x, y = piece
    moved = f"translate({x * scale:.2f} {y * scale:.2f})"
    turned = f" rotate({rotation:g})" if rotation else ""
    return f'<use href="#p{k}" transform="{moved}{turned}"/>'


def best_solutions(files: Sequence[Path]) -> dict[str, dict[str, Any]]:
    """Return the densest valid solution at listed angles of every instance."""
    best: dict[str, dict[str, Any]] = {}
    for file in files:
        for line in file.read_text(encoding="utf-8").splitlines():
            found = json.loads(line)
            name = found["instance"]
            if not found["valid"] or found["angles"] != "listed":
                continue
            if name not in best or found["density"] > best[name]["density"]:
                best[name] = found
    return best


@click.command("pictures")
@click.argument("solutions", nargs=-1, required=True, type=click.Path(path_type=Path, exists=True))
@options.instances
@click.option("--into", type=click.Path(path_type=Path), default=FOLDER, help="Folder.")
def command(solutions: tuple[Path, ...], folder: Path, only: tuple[str, ...], into: Path) -> None:
    """Draw the best layout of each instance in the files of SOLUTIONS.

    A picture that shows a denser layout is left as it is.

    Example: python -m benchmarks pictures solutions.jsonl --instances instances/
    """
    into.mkdir(parents=True, exist_ok=True)
    index = into / "pictures.json"
    drawn = json.loads(index.read_text(encoding="utf-8")) if index.exists() else {}
    best = best_solutions(solutions)
    for path in instance_files(folder, ["strip"], only):
        found = best.get(path.stem)
        if found is None or drawn.get(path.stem, {}).get("density", 0) >= found["density"]:
            continue
        instance = read_instance(path)
        length = 100 * instance.area / (instance.data["width"] * found["density"])
        text = picture(instance, found["solution"]["placements"], length)
        (into / f"{path.stem}.svg").write_text(text, encoding="utf-8")
        drawn[path.stem] = {k: found[k] for k in ("density", "seconds", "workers", "seed")}
        click.echo(f"{path.stem}: {found['density']:.2f}")
    index.write_text(json.dumps(drawn, indent=1, sort_keys=True) + "\n", encoding="utf-8")
