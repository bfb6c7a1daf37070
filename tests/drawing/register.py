"""Faulty drawings and their clear twins: how they are kept, stated in a job file, and written as DXF."""

import io
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ezdxf import transform
from ezdxf.math import Matrix44

from tests.drawing.plates import Draft

DRAWINGS = Path(__file__).parents[2] / "drawings"

SUPPLIERS = """\
[shop]
hoist = 200

[[supplier]]
name = "cutter"
limits_dated = 2026-03-01
process = "laser"
smallest_hole = "0.8 t"
smallest_web = "1.0 t"
smallest_slot = "1.0 t"
smallest_corner = 3
smallest_part = [60, 40]
bed = [3100, 1550]
sheet = [2990, 1490]
greatest_thickness = 20
dxf_versions = ["R2000", "R2010"]
units = "mm"
marking = "cut face"

[[supplier]]
name = "plasma shop"
process = "plasma"

[[supplier]]
name = "water jet"
process = "water jet"

[[supplier]]
name = "two layers"
layers = { CUT = "CUT", RIVET = "RIVET" }

[[supplier]]
name = "no marks"
marking = "none"
"""


@dataclass(frozen=True)
class Fault:
    """How one drawing is made: drawn, perhaps spoilt as text, and stated in the job file.

    Attributes:
        draw: draws it.
        check: the check that finds it.
        spoil: what is done to the text of the file.
        stated: further lines of its [[part]].
        quantity, thickness: as stated.
        seam: further lines of a seam of two of them by their row "lap"; "" for no seam.
    """

    draw: Callable[[], Draft]
    check: str
    spoil: Callable[[str], str] = str
    stated: str = ""
    quantity: int = 1
    thickness: float = 6.0
    seam: str = ""


@dataclass
class Folder:
    """A folder of drawings by the names of their files, without endings."""

    path: Path
    title: str
    kept: dict[str, Fault] = field(default_factory=dict)

    def keep(self, name: str, **stated: Any) -> Callable[[Callable[[], Draft]], Callable[[], Draft]]:
        """Keep a drawing; its name is the check's, perhaps with a dot and a word behind it."""

        def take(draw: Callable[[], Draft]) -> Callable[[], Draft]:
            assert name not in self.kept, name
            self.kept[name] = Fault(draw, name.split(".")[0], **stated)
            return draw

        return take


FAULTY = Folder(DRAWINGS / "faulty", "Faulty drawings")
CLEAR = Folder(DRAWINGS / "clear", "Drawings just clear of a fault")


def turned(draft: Draft, move: Matrix44 | None) -> Any:
    """The document, its model space turned and shifted."""
    if move is not None:
        _, log = transform.inplace(draft.space, move), None
        assert log is None
    return draft.doc


def text_of(fault: Fault, move: Matrix44 | None = None) -> str:
    """The DXF file of a fault, the same at every writing; turned and shifted where `move` says so."""
    from ezdxf._options import options

    fixed, options.write_fixed_meta_data_for_testing = options.write_fixed_meta_data_for_testing, True
    try:
        stream = io.StringIO()
        turned(fault.draw(), move).write(stream)
    finally:
        options.write_fixed_meta_data_for_testing = fixed
    return fault.spoil(stream.getvalue())


def job_text(folder: Folder, named: Callable[[str], str] = str) -> str:
    """The job file of a folder; `named` gives the file name of each drawing without its ending."""
    lines = [
        "# Each file bears the name of a check.",
        "[job]",
        f'title = "{folder.title}"',
        'number = "X1"',
        'rules = "en1993-1-8-2005"',
        'datum = "least-pitch"',
        "exposed = true",
        "",
        "[[rivet]]",
        'mark = "R10"',
        "diameter = 10",
        "hole = 11",
        'closing = "hot"',
        "",
        SUPPLIERS,
    ]
    seams = []
    for name, one in folder.kept.items():
        lines += ["[[part]]", f'mark = "{name}"', f'drawing = "{named(name)}.dxf"', f"thickness = {one.thickness:g}"]
        lines += [one.stated] * bool(one.stated) + [f"quantity = {one.quantity}"] * (one.quantity > 1) + [""]
        if one.seam:
            plies = f'parts = ["{name}-1/lap", "{name}-2/lap"]'
            seams += ["[[seam]]", f'mark = "{name}"', plies, 'rivet = "R10"', one.seam, ""]
    return "\n".join([*lines, *seams])


def write(folder: Folder, into: Path, move: Matrix44 | None = None, named: Callable[[str], str] = str) -> None:
    """All drawings of a folder and their job file."""
    into.mkdir(parents=True, exist_ok=True)
    for name, one in folder.kept.items():
        (into / f"{named(name)}.dxf").write_text(text_of(one, move), "utf-8")
    (into / "job.toml").write_text(job_text(folder, named), "utf-8")
