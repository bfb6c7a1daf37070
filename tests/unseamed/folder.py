"""A known kit as a folder of bare drawings and tables: no seam, and rows whose names tell nothing."""

import csv
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from tests.kits.build import Angle, Array, Kit, Piece, Plate
from tests.kits.draw import STYLES, Style, draw, fixed_data

ROWS, BARE, PLAIN = "rows", "bare", "plain"
"""What layers tell: holes by rows, holes alone, nothing at all (of flat plates)."""

PARTS = (
    "mark",
    "drawing",
    "section",
    "thickness",
    "length",
    "quantity",
    "hand",
    "folds",
    "rolls",
    "roll",
    "fixed",
    "ring",
)
BARS = ("part", "row", "leg", "back_mark", "at", "diameter", "by")


def write_folder(kit: Kit, folder: Path, layers: str, styles: tuple[Style, ...] = STYLES[:1]) -> None:
    """Drawings, parts.csv and rows.csv of a kit.

    Args:
        kit: the kit.
        folder: made where it is not there.
        layers: one of `ROWS`, `BARE` and `PLAIN`.
        styles: of the drawings, in turn.
    """
    folder.mkdir(parents=True, exist_ok=True)
    first: dict[str, Piece] = {}
    for piece in kit.pieces:
        first.setdefault(piece.part or piece.mark, piece)
    with fixed_data():
        for number, (name, piece) in enumerate(first.items()):
            if isinstance(piece, Plate):
                style = styles[number % len(styles)]
                doc = draw(piece, piece.hole or kit.rivet[1], style)
                _blank(doc, piece, layers)
                doc.saveas(folder / f"{name}.dxf")
    _table(folder / "parts.csv", PARTS, (_part(kit, name, piece) for name, piece in first.items()))
    bars = ((name, piece) for name, piece in first.items() if isinstance(piece, Angle))
    _table(folder / "rows.csv", BARS, (row for name, bar in bars for row in _rows(kit, name, bar)))


def _blank(doc: Any, plate: Plate, layers: str) -> None:
    """Take away what tells of seams: names of rows, and of flat plates all roles of layers."""
    names = {f"RIVET {row}": f"RIVET r{k}" for k, row in enumerate(sorted(plate.rows), 1)}
    plain = layers == PLAIN and not plate.lines
    for entity in list(doc.modelspace()):
        layer = entity.dxf.layer.replace("_", " ")
        if plain and (layer.startswith(("NOTE", "MARK"))):
            doc.modelspace().delete_entity(entity)
        elif plain:
            entity.dxf.layer = "0"
        elif layer in names:
            entity.dxf.layer = names[layer] if layers == ROWS else "RIVET"


def _part(kit: Kit, name: str, piece: Piece) -> dict[str, str]:
    marks = [one.mark.removeprefix(name) for one in kit.pieces if one.part == name]
    pair = any(mark.startswith("L") for mark in marks)
    each = len(marks) // 2 if pair else max(1, len(marks))
    told = dict(line.split(" = ", 1) for line in piece.form)
    cells = {"mark": name, "quantity": f"{each:g}", "hand": "pair" if pair else ""}
    cells |= {key: told.get(key, "") for key in ("folds", "rolls", "roll", "fixed", "ring")}
    if isinstance(piece, Plate):
        cells |= {"drawing": f"{name}.dxf", "thickness": f"{piece.thickness:g}"}
    else:
        cells |= {"section": piece.section, "length": "" if piece.measured else f"{piece.length:.10g}"}
    return cells


def _rows(kit: Kit, name: str, bar: Angle) -> Iterator[dict[str, str]]:
    """Rows of a bar; those that lie in one line of a leg are one."""
    lines: dict[tuple[str, float], list[Array]] = {}
    for leg, places in bar.rows.values():
        for mark in np.unique(np.round(places[:, 1], 4)).tolist():
            lines.setdefault((leg, mark), []).append(places[np.round(places[:, 1], 4) == mark, 0])
    for number, ((leg, mark), runs) in enumerate(sorted(lines.items(), key=lambda one: one[0]), 1):
        joined = np.concatenate(runs)
        along: Array = np.sort(np.round(np.mod(joined, 360.0) if bar.measured else joined, 6))
        yield {
            "part": name,
            "row": f"r{number}",
            "leg": leg,
            "back_mark": f"{mark:g}",
            "at": " ".join(f"{place:.10g}" for place in along.tolist()),
            "diameter": f"{kit.rivet[1]:g}",
            "by": bar.measured,
        }


def _table(path: Path, head: tuple[str, ...], rows: Iterator[dict[str, str]]) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, head)
        writer.writeheader()
        writer.writerows(rows)
