"""Names with signs that the DXF reference forbids: as readable as any, on every kind of entity, and told in a note."""

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf.filemanagement
import pytest

from fabplan.drawing.names import SIGNS, refused
from fabplan.drawing.read import read_drawing
from fabplan.model.drawing import Drawing, Intake

NAME, HOLE = "aQQQb", Intake(hole_diameters=(11.0,))
ON = {"layer": NAME}
CORNERS = [(5.0, 5.0), (9.0, 5.0), (9.0, 9.0)]


def eye(document: Any) -> str:
    if "EYE" not in document.blocks:
        document.blocks.new("EYE").add_circle((0.0, 0.0), 5.5)
    return "EYE"


ENTITIES: dict[str, Callable[[Any, Any], Any]] = {
    "LINE": lambda _, space: space.add_line((0, 0), (5, 5), ON),
    "CIRCLE": lambda _, space: space.add_circle((30, 30), 5.5, ON),
    "ARC": lambda _, space: space.add_arc((30, 30), 5.5, 0, 90, dxfattribs=ON),
    "POLYLINE": lambda _, space: space.add_polyline2d(CORNERS, close=True, dxfattribs=ON),
    "INSERT": lambda document, space: space.add_blockref(eye(document), (30, 30), ON),
    "ATTRIB": lambda document, space: space.add_blockref(eye(document), (30, 30), ON).add_attrib("N", "1", (1, 1), ON),
    "TEXT": lambda _, space: space.add_text("x", dxfattribs=ON),
    "POINT": lambda _, space: space.add_point((1, 1), ON),
    "SOLID": lambda _, space: space.add_solid(CORNERS, ON),
    "LWPOLYLINE": lambda _, space: space.add_lwpolyline(CORNERS, close=True, dxfattribs=ON),
    "SPLINE": lambda _, space: space.add_spline(CORNERS, dxfattribs=ON),
    "ELLIPSE": lambda _, space: space.add_ellipse((30, 30), (9, 0), 0.5, dxfattribs=ON),
    "MTEXT": lambda _, space: space.add_mtext("x", ON),
    "HATCH": lambda _, space: space.add_hatch(dxfattribs=ON),
}
OLD = ("LINE", "CIRCLE", "ARC", "POLYLINE", "INSERT", "ATTRIB", "TEXT", "POINT", "SOLID")


def plate(version: str) -> Any:
    document = ezdxf.filemanagement.new(version, units=4)
    document.modelspace().add_polyline2d(
        [(0, 0), (600, 0), (600, 60), (0, 60)], close=True, dxfattribs={"layer": "CUT"}
    )
    return document


def told(document: Any, name: str, folder: Path) -> tuple[Any, ...]:
    """What is read where the name stands for `NAME`, the name itself and the note on it left out."""
    stream = io.StringIO()
    document.write(stream)
    path = folder / "plate.dxf"
    path.write_text(stream.getvalue().replace(NAME, name), "utf-8")
    drawing = read_drawing(path, HOLE)
    entries = [(one.kind, one.layer.replace(name, NAME), one.fate, one.reason) for one in drawing.account]
    findings = [one.check for one in drawing.findings if one.check != "refused-name"]
    return entries, findings, len(drawing.holes), len(drawing.labels), drawing


@pytest.mark.parametrize("held", ["model space", "block", "mirrored block"])
@pytest.mark.parametrize(
    ("version", "kind"), [(v, kind) for v in ("R12", "R2010") for kind in ENTITIES if v != "R12" or kind in OLD]
)
def test_every_sign_on_every_kind_of_entity(version: str, kind: str, held: str, tmp_path: Path) -> None:
    """Judge: the same drawing with a name of plain letters. Each name is shown as it is written."""
    document = plate(version)
    space = document.modelspace()
    if held != "model space":
        space = document.blocks.new("HELD")
        place = {"layer": "RIVET a", "xscale": -1.0, "rotation": 20.0} if "mirrored" in held else {"layer": "RIVET a"}
        document.modelspace().add_blockref("HELD", (30.0, 30.0), place)
    ENTITIES[kind](document, space)
    *truth, _ = told(document, "a_b", tmp_path)
    for sign in (*SIGNS, "|", "<>"):
        *got, drawing = told(document, f"a{sign}b", tmp_path)
        assert got == truth, sign
        layers = {entry.layer for entry in drawing.account}
        notes = [one.what for one in drawing.findings if one.check == "refused-name"]
        assert len(notes) == (f"a{sign}b" in layers and sign != "|"), sign
        assert all(f"layer a{sign}b" in note for note in notes)


def frozen(document: Any) -> None:
    document.layers.add(NAME).freeze()
    document.modelspace().add_polyline2d(CORNERS, dxfattribs=ON)


def styled(document: Any) -> None:
    document.styles.add(NAME, font="txt")
    document.modelspace().add_text("x", dxfattribs={"layer": "NOTE", "style": NAME})


def dashed(document: Any) -> None:
    document.linetypes.add(NAME, [0.2, 0.1, -0.1])
    document.modelspace().add_polyline2d(CORNERS, dxfattribs={"layer": "NOTE", "linetype": NAME})


def of_block(document: Any) -> None:
    document.blocks.new(NAME).add_circle((0, 0), 5.5)
    document.modelspace().add_blockref(NAME, (30, 30), {"layer": "RIVET a"})


def of_inner_block(document: Any) -> None:
    document.blocks.new(NAME).add_circle((0, 0), 5.5)
    document.blocks.new("OUTER").add_blockref(NAME, (0, 0))
    document.modelspace().add_blockref("OUTER", (30, 30), {"layer": "RIVET a"})


@pytest.mark.parametrize("make", [frozen, styled, dashed, of_block, of_inner_block])
@pytest.mark.parametrize("version", ["R12", "R2000", "R2010"])
def test_every_sign_in_tables_and_blocks(version: str, make: Callable[[Any], None], tmp_path: Path) -> None:
    document = plate(version)
    make(document)
    *truth, _ = told(document, "a_b", tmp_path)
    for sign in (*SIGNS, "|"):
        *got, drawing = told(document, f"a{sign}b", tmp_path)
        assert got == truth, sign
        named = sign != "|" and make in (frozen, of_block, of_inner_block)
        assert ("refused-name" in [one.check for one in drawing.findings]) == named


def test_signs_within_a_code_page_and_a_damaged_file(tmp_path: Path) -> None:
    r"""The second byte of a sign of ANSI_932 may be that of a backslash: 0x95 0x5C is one sign, not two."""
    document = plate("R2000")
    document.modelspace().add_polyline2d(CORNERS, dxfattribs=ON)
    stream = io.StringIO()
    document.write(stream)
    data = stream.getvalue().replace("ANSI_1252", "ANSI_932").replace(NAME, "表/b").encode("cp932")
    for spoilt in (data, data.removesuffix(b"  0\nEOF\n")):
        (tmp_path / "plate.dxf").write_bytes(spoilt)
        drawing: Drawing = read_drawing(tmp_path / "plate.dxf", HOLE)
        assert drawing.account[-1].layer == "表/b"
        assert drawing.account[-1].fate == "reported"


def test_what_programs_name_themselves_is_no_fault() -> None:
    assert not any(map(refused, ("*U12", "*Model_Space", "x|y", "RIVET a-b", "s\\U+00FCd", "0")))
    assert all(refused(f"a{sign}") for sign in SIGNS)
