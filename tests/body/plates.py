"""Small kits of formed plates, drawn and told as a draughtsman would: what several tests of forming stand on."""

from math import pi
from pathlib import Path

import ezdxf.filemanagement
import numpy as np

from fabplan.model.body import Body, Stacks
from fabplan.model.plan import Plan
from fabplan.way.plan import plan

BEND = pi / 2.0 * (6.0 + 0.7380 * 2.0)  # DIN 6935: k = 0.738 for r 6 in 4 mm; zone on the blank, mm
FLAT = 100.0 - 10.0  # leg of 100 mm outside less inside radius and thickness
FOLDED = 'folds = [{ line = "FOLD 1", angle = 90, inside_radius = 6 }]'
INSIDE = 'marked = "inside"'


def draw(
    path: Path,
    size: tuple[float, float],
    rows: dict[str, np.ndarray],
    folds: dict[str, tuple[float, ...]],
    hole: float = 11.0,
) -> None:
    """A rectangle with rows of holes (x, y, and its diameter where it is not `hole`), lines of forming by layer."""
    document = ezdxf.filemanagement.new("R2010", units=4)
    space = document.modelspace()
    ring = [(0.0, 0.0), (size[0], 0.0), size, (0.0, size[1])]
    space.add_lwpolyline(ring, close=True, dxfattribs={"layer": "CUT"})
    for row, places in rows.items():
        for x, y, *own in places.tolist():
            space.add_circle((x, y), (own or [hole])[0] / 2.0, dxfattribs={"layer": f"RIVET {row}"})
    for layer, (x0, y0, x1, y1) in folds.items():
        space.add_line((x0, y0), (x1, y1), dxfattribs={"layer": layer})
    document.saveas(path)


def along(x: float) -> np.ndarray:
    """Seven holes along y, one space odd, so that no piece can be turned end for end."""
    return np.array([[x, y] for y in (20.0, 50.0, 80.0, 110.0, 140.0, 170.0, 215.0)])


def plate(drawing: str, thickness: float, *more: str) -> str:
    """The lines of a plate in a job file."""
    return "\n".join([f'drawing = "{drawing}"', f"thickness = {thickness:g}", *more])


def planned(folder: Path, pieces: dict[str, str], more: str = "", **seams: tuple[str, ...]) -> Plan:
    """The plan of a kit: pieces by mark, the datum first, the plies of each seam; 10 mm rivets in 11 mm holes."""
    head = f'[job]\ndatum = "{next(iter(pieces))}"\nexposed = true\nrules = "en1993-1-8-2005"\n'
    parts = "".join(f'[[part]]\nmark = "{mark}"\n{told}\n' for mark, told in pieces.items())
    joined = "".join(
        f'[[seam]]\nmark = "{mark}"\nparts = {str(list(plies)).replace(chr(39), chr(34))}\nrivet = "R10"\n'
        for mark, plies in seams.items()
    )
    rivet = '[[rivet]]\nmark = "R10"\ndiameter = 10\nhole = 11\n'
    (folder / "job.toml").write_text(head + rivet + parts + joined + more, "utf-8")
    return plan(folder / "job.toml")


def met(made: Plan, rivets: int, out: float) -> tuple[Body, Stacks]:
    """Body and stacks of a kit in which so many rivets meet within `out` mm and nothing stops the work."""
    assert made.body is not None
    assert made.stacks is not None
    assert len(made.stacks) == rivets
    assert made.stacks.misfit.max() < out
    assert [finding.check for finding in made.findings if finding.blocks] == []
    return made.body, made.stacks


def bracket(folder: Path, form: str = FOLDED) -> Plan:
    """A folded angle of 100 by 60 mm outside on a base plate, with a wall riveted to the outside of its upright leg."""
    middle = FLAT + BEND / 2.0
    upright = FLAT + BEND + 30.0 - 10.0  # 30 mm over the outside of the base leg
    draw(folder / "base.dxf", (300.0, 240.0), {"A": along(100.0)}, {})
    rows = {"A": along(40.0), "B": along(upright)}
    draw(folder / "fold.dxf", (FLAT + BEND + 50.0, 240.0), rows, {"FOLD 1": (middle, 0.0, middle, 240.0)})
    draw(folder / "wall.dxf", (200.0, 240.0), {"B": along(25.0)}, {})
    pieces = {
        "BASE": plate("base.dxf", 6),
        "F": plate("fold.dxf", 4, "fixed = [40, 120]", form),
        "WALL": plate("wall.dxf", 5),
    }
    return planned(folder, pieces, A=("F/A", "BASE/A"), B=("F/B", "WALL/B"))


def shell(folder: Path, radius: float = 400.0) -> Plan:
    """A half shell of 400 mm inside radius and a band round it: holes at the same angles, so at other pitches flat."""
    angles = np.concatenate([np.radians(np.linspace(5.0, 165.0, 31)), [np.radians(172.0)]])
    for name, round_it in (("shell", 403.0), ("band", 409.0)):
        row = np.column_stack([round_it * angles, np.full(len(angles), 30.0)])
        draw(folder / f"{name}.dxf", (round_it * pi, 60.0 if name == "band" else 500.0), {"C": row}, {})
    pieces = {
        "SHELL": plate("shell.dxf", 6, f'roll = {{ axis = "y", inside_radius = {radius} }}'),
        "BAND": plate("band.dxf", 6, 'roll = { axis = "y", inside_radius = 406 }', INSIDE),
    }
    return planned(folder, pieces, C=("BAND/C", "SHELL/C"))


def joggled(folder: Path, depth: float = 6.0, run: float = 30.0) -> Plan:
    """A plate whose edge is joggled over its mate, so that both lie flush."""
    draw(folder / "P.dxf", (300.0, 240.0), {"A": along(275.0)}, {})
    draw(folder / "J.dxf", (400.0, 240.0), {"A": along(25.0)}, {"FOLD 1": (70.0, 0.0, 70.0, 240.0)})
    joggle = f'joggles = [{{ line = "FOLD 1", depth = {depth}, run = {run}, inside_radius = 12 }}]'
    pieces = {"P": plate("P.dxf", 6), "J": plate("J.dxf", 6, 'grade = "S235"', INSIDE, joggle)}
    return planned(folder, pieces, A=("J/A", "P/A"))
