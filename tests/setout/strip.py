"""A copy of a demo from which the holes of some seams are taken out again, so that they can be set out anew."""

import re
import shutil
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import ezdxf.filemanagement
import numpy as np
import numpy.typing as npt

from fabplan.job.read import read_job
from fabplan.model.marks import instance_marks
from tests.kits.build import Piece

ROOT = Path(__file__).parents[2]


def stripped(job: Path, folder: Path, seams: Iterable[str], more: str) -> Path:
    """A copy of a job in `folder`, its drawings in it, without the holes of some seams, and with `more` at its end.

    Rows stand each on a line of its own in the demos' job files.
    """
    stated = read_job(job)
    folder.mkdir(parents=True, exist_ok=True)
    for drawing in sorted(stated.drawings.glob("*.dxf")):
        shutil.copyfile(drawing, folder / drawing.name)
    owner = {mark: part for part in stated.parts for mark, _ in instance_marks(part)}
    rows: dict[str, set[str]] = {}
    for seam in (one for one in stated.seams if one.mark in set(seams)):
        for ply in seam.plies:
            rows.setdefault(owner[ply.instance].mark, set()).add(ply.row)
    text = job.read_text("utf-8")
    for part in (one for one in stated.parts if one.mark in rows):
        if part.drawing:
            _without_rows(folder / part.drawing, rows[part.mark])
        else:
            text = _without_lines(text, part.mark, rows[part.mark])
    text = re.sub(r"^drawings = .*$", 'drawings = "."', text, flags=re.MULTILINE)
    path = folder / "job.toml"
    path.write_text(f"{text}\n{more}", "utf-8")
    return path


def _without_rows(drawing: Path, rows: set[str]) -> None:
    document: Any = ezdxf.filemanagement.readfile(drawing)
    space = document.modelspace()
    layers = {f"RIVET {row}".replace(" ", "_").casefold() for row in rows}
    for entity in [one for one in space if one.dxf.layer.replace(" ", "_").casefold() in layers]:
        space.delete_entity(entity)
    document.saveas(drawing)


def _without_lines(text: str, mark: str, rows: set[str]) -> str:
    before, after = text.split(f'[[part]]\nmark = "{mark}"\n')
    own, stop, rest = after.partition("\n[[")
    kept = [line for line in own.split("\n") if not any(f'row = "{row}",' in line for row in rows)]
    return f'{before}[[part]]\nmark = "{mark}"\n' + "\n".join(kept) + stop + rest


def circles(drawing: Path, layer: str) -> npt.NDArray[np.float64]:
    """Centres and diameters (n, 3), mm, of the circles of a layer as ezdxf itself reads them, sorted."""
    document: Any = ezdxf.filemanagement.readfile(drawing)
    unit = 25.4 if document.header.get("$INSUNITS", 4) == 1 else 1.0
    found = [
        (one.dxf.center.x, one.dxf.center.y, 2.0 * one.dxf.radius)
        for one in document.modelspace().query("CIRCLE")
        if one.dxf.layer.replace("_", " ").casefold() == layer.casefold()
    ]
    return unit * np.array(sorted(found)).reshape(-1, 3)


def place(piece: Piece) -> str:
    """A table that says where a piece of a demo stands, as it was built."""
    frame = piece.frame
    rows = [f"{key} = {[float(one) for one in value]}" for key, value in frame.__dict__.items()]
    return "\n".join(["", "[[place]]", f'part = "{piece.mark}"', *rows, ""])
