"""Small jobs of plates and bars without holes, drawn and written for a test."""

from dataclasses import replace
from pathlib import Path

import numpy as np

from tests.kits.build import Angle, Frame, Keys, Kit, Piece, Plate, Ring, Seam, rectangle
from tests.kits.draw import Style, draw, fixed_data
from tests.kits.job_file import job_text
from tests.setout.strip import place

X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
PLAIN = Style()
JOB: Keys = {"title": "made", "datum": "P1", "exposed": True}


def write(kit: Kit, folder: Path, more: str, style: Style = PLAIN) -> Path:
    """Drawings and job of a kit, every piece held by a place; the job file."""
    folder.mkdir(parents=True, exist_ok=True)
    with fixed_data():
        for piece in kit.pieces:
            if isinstance(piece, Plate):
                draw(piece, kit.rivet[1], style).saveas(folder / f"{piece.mark}.dxf")
    held = "".join(place(piece) for piece in kit.pieces)
    text = "\n".join(line for line in job_text(kit).split("\n") if line not in ("rows = [", "]"))
    path = folder / "job.toml"
    path.write_text(f"{text}\n{held}\n{more}", "utf-8")
    return path


def lapped(long: float, lap: float, thick: float, rivet: float = 10.0, **keys: str | float | bool) -> Kit:
    """P2 lies on P1 with a lap, both `long` and 200 mm wide; the seam A has no holes yet."""
    lower = Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(long, 200.0), thick)
    upper = Plate("P2", Frame((0.0, 200.0 - lap, thick), X, Y), rectangle(long, 200.0), thick)
    seam = Seam("A", ("P2", "P1"), np.zeros((0, 3)), (0.0, 0.0, -1.0), {**keys})
    return Kit([lower, upper], [seam], dict(JOB), rivet=(rivet, rivet + 1.0))


def with_outline(kit: Kit, mark: str, outline: Ring) -> Kit:
    """The kit with another outline of one plate."""
    pieces: list[Piece] = []
    for piece in kit.pieces:
        pieces.append(replace(piece, outline=outline) if isinstance(piece, Plate) and piece.mark == mark else piece)
    return replace(kit, pieces=pieces)


def on_bar(long: float, bar: Angle, thick: float) -> Kit:
    """An angle on a plate, both `long`: leg a lies on the marked face of P1, its heel along the middle of the plate."""
    plate = Plate("P1", Frame((0.0, -300.0, 0.0), X, Y), rectangle(long, 600.0), thick)
    seam = Seam("A", (bar.mark, "P1"), np.zeros((0, 3)), (0.0, 0.0, -1.0))
    return Kit([plate, bar], [seam], dict(JOB))
