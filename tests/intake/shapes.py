"""Exports as several offices write them, each with the rows that it means.

Forms of headers, numbers, dates and gauges: common practice of the trade, no source.
"""

from __future__ import annotations

import io
import json
from dataclasses import dataclass
from datetime import datetime

import openpyxl

Row = tuple[str, str, int, str, float, str | None]

#: What most shapes mean: line, part, quantity, metal, mm, due.
USUAL: list[Row] = [
    ("4711/10", "A-1", 12, "mild-steel", 3.0, "2030-05-01"),
    ("4711/20", "B-2", 1200, "stainless-304", 1.5, "2030-05-13"),
    ("4712/10", "A-1", 4, "mild-steel", 3.0, "2030-04-30"),
]


@dataclass(frozen=True)
class Shape:
    """An export, what it means, and how many rows repeat others or are set aside."""

    name: str
    file: str
    data: bytes
    expected: list[Row]
    again: int = 0
    aside: int = 0


def text(lines: str, encoding: str = "utf-8") -> bytes:
    """Lines of a text, as a file of the office's own encoding."""
    return lines.replace("\n", "\r\n").encode(encoding)


def workbook(rows: list[list[object]], merged: tuple[str, ...] = ()) -> bytes:
    """A workbook of one sheet."""
    book = openpyxl.Workbook()
    sheet = book.active
    for row in rows:
        sheet.append(row)
    for cells in merged:
        sheet.merge_cells(cells)
    data = io.BytesIO()
    book.save(data)
    return data.getvalue()


GERMAN = """\
Auftrag;Pos.;Artikelnummer;Stückzahl;Werkstoff;Blechstärke;Liefertermin;Preis €
4711;10;A-1;12;S235JR;3,0;01.05.2030;12,50
4711;20;B-2;1.200;1.4301;1,5;13.05.2030;1.234,50
4712;10;A-1;4;S235JR;3,0;30.04.2030;4,00
"""

ENGLISH = """\
Order No,Line,Part Number,Qty,Material,Thickness (mm),Due Date
4711,10,A-1,12,mild steel,3,5/1/2030
4711,20,B-2,"1,200",304,1.5,5/13/2030
4712,10,A-1,4,mild steel,3.0,4/30/2030
"""

FRENCH = """\
Commande\tLigne\tRéférence pièce\tQté\tMatière\tÉpaisseur\tDate de livraison
4711\t10\tA-1\t12\tacier S235\t3\t01/05/2030
4711\t20\tB-2\t1\u202f200\tinox 304L\t1,5\t13/05/2030
4712\t10\tA-1\t4\tacier S235\t3,0\t30/04/2030
"""

SPANISH = """\
Pedido;Línea;Código de pieza;Cantidad;Material;Espesor;Fecha de entrega
4711;10;A-1;12 uds;acero al carbono;3,00;01/05/2030
4711;20;B-2;1.200 uds;acero inoxidable 304;1,50;13/05/2030
4712;10;A-1;4 uds;acero al carbono;3,00;30/04/2030
"""

GAUGES = '''\
Work Order,Item,Part No,Qty,Grade,Gauge,Ship Date
9,1,A-1,3,CRS,16 ga,2030-05-01
9,2,B-2,5,304,16GA,2030-05-01
9,3,A-1,7,galv,GA 16,2030-05-01
9,4,B-2,2,6061,1/8,2030-05-01
9,5,A-1,1,A36,"3/16""",2030-05-01
9,6,B-2,1,A36,.1875 in,
'''

#: 16 gauge as published charts round it: 0.0598 in of carbon steel (Manufacturers'
#: Standard), 0.0625 in of stainless and 0.0635 in of galvanised steel.
GAUGE_ROWS: list[Row] = [
    ("9/1", "A-1", 3, "mild-steel", 0.0598 * 25.4, "2030-05-01"),
    ("9/2", "B-2", 5, "stainless-304", 0.0625 * 25.4, "2030-05-01"),
    ("9/3", "A-1", 7, "galvanised", 0.0635 * 25.4, "2030-05-01"),
    ("9/4", "B-2", 2, "aluminium-6061", 25.4 / 8, "2030-05-01"),
    ("9/5", "A-1", 1, "mild-steel", 25.4 * 3 / 16, "2030-05-01"),
    ("9/6", "B-2", 1, "mild-steel", 25.4 * 3 / 16, None),
]

PIPES = """\
Order|Pos|Part|Qty|Material|Due date
4711|10|A-1|12|S235JR 3 mm|2030-05-01
4711|20|B-2|1'200|1.4301 1,5 mm|2030-05-13
4712|10|A-1|4|S235JR 3mm|2030-04-30
"""

SERIAL = """\
Belegnummer;Pos;Artikel;Menge;Werkstoff;Dicke;Termin
4711;10;A-1;12,000;S235JR;3,00;47604
4711;20;B-2;1.200,000;1.4301;1,50;47616
4712;10;A-1;4,000;S235JR;3,00;47603
"""

JSON_LINES = [
    {"order": 4711, "line": 10, "part": "A-1", "qty": 12, "material": {"grade": "S235JR"}},
    {"order": 4711, "line": 20, "part": "B-2", "qty": 1200.0, "material": {"grade": "1.4301"}},
    {"order": 4712, "line": 10, "part": "A-1", "qty": "4", "material": {"grade": "S235JR"}},
]
for record, mm, day in zip(
    JSON_LINES, (3, 1.5, 3.0), ("2030-05-01", "20300513", "2030-04-30T00:00:00"), strict=True
):
    record |= {"thickness": mm, "due date": day}

TWICE = GERMAN + "4711;10;A-1;12;S235JR;3,0;01.05.2030;12,50\n4712;10;A-1;5;S235JR;3,0;;4,00\n"

PRINTED = """\
Open orders
;;;;;;
Printed 2030-01-07 by the office;;;;;;

Order;Line;Part;Quantity;Material;Thickness;Due date
4711;10;A-1;12;S235JR;3;2030-05-01
4711;20;B-2;1200;1.4301;1.5;2030-05-13

Order;Line;Part;Quantity;Material;Thickness;Due date
4712;10;A-1;4;S235JR;3;2030-04-30
Total;;;1216;;;
"""

HEADED = [
    ["Offene Aufträge, Stand 7. Januar", None, None, None, None, None, None],
    [None] * 7,
    ["Auftrag", "Position", "Teilenr.", "Menge", "Güte", "Dicke\n[mm]", "Termin"],
    [4711, 10, "A-1", 12, "S235JR", 3, datetime(2030, 5, 1)],
    [4711, 20, "B-2", 1200, "1.4301", 1.5, datetime(2030, 5, 13)],
    [4712, 10, "A-1", 4.0, "S235JR", 3.0, datetime(2030, 4, 30)],
]

TEXTS: list[list[object]] = [
    ["Auftrag", "Position", "Teilenr.", "Menge", "Güte", "Dicke [mm]", "Termin"],
    ["4711", "10", "A-1", "12", "S235JR", "3,0", "01.05.2030"],
    ["4711", "20", "B-2", "1.200", "1.4301", "1,5", "13.05.2030"],
    ["4712", "10", "A-1", "4", "S235JR", "3,0", "30.04.2030"],
]

SHAPES = [
    Shape("german, cp1252, semicolons", "a.csv", text(GERMAN, "cp1252"), USUAL),
    Shape("english, commas, thousands", "a.csv", text(ENGLISH), USUAL),
    Shape("french, UTF-16, tabs", "a.txt", text(FRENCH, "utf-16"), USUAL),
    Shape("french, UTF-8 with mark", "a.csv", text(FRENCH, "utf-8-sig"), USUAL),
    Shape("spanish, cp1252", "a.csv", text(SPANISH, "cp1252"), USUAL),
    Shape("german, old DOS letters", "a.csv", text(GERMAN.replace("€", "EUR"), "cp850"), USUAL),
    Shape("gauges and inches", "a.csv", text(GAUGES), GAUGE_ROWS),
    Shape("pipes, metal with its thickness", "a.csv", text(PIPES), USUAL),
    Shape("three decimals, days as numbers", "a.csv", text(SERIAL), USUAL),
    Shape("JSON lines", "a.jsonl", "\n".join(json.dumps(r) for r in JSON_LINES).encode(), USUAL),
    Shape("lines that come twice", "a.csv", text(TWICE), USUAL, again=1, aside=1),
    Shape("print with titles and a total", "a.csv", text(PRINTED), USUAL, aside=1),
    Shape("workbook under merged titles", "a.xlsx", workbook(HEADED, ("A1:G1", "A2:G2")), USUAL),
    Shape("workbook of texts", "a.xlsx", workbook(TEXTS), USUAL),
]
