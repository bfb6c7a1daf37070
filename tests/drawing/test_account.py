"""Entities in are entities used, set aside or reported: counted a second time here, from the bare tags of each file."""

import io
from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import Any

import ezdxf.filemanagement
import pytest

from fabplan.drawing import source
from fabplan.drawing.read import read_drawing
from fabplan.model.drawing import Drawing, Intake
from tests.drawing.plates import Draft, strip
from tests.fuzz.cases import account_fault, lost
from tests.fuzz.structure import drawn, restructured, structures, tags_of, written

HOLE = Intake(hole_diameters=(11.0,))


def plate(version: str = "R2010") -> bytes:
    """A strap with 13 holes, as a file."""
    document = ezdxf.filemanagement.new(version, units=4)
    document.modelspace().add_polyline2d(
        [(0, 0), (600, 0), (600, 60), (0, 60)], close=True, dxfattribs={"layer": "CUT"}
    )
    for x in range(30, 571, 45):
        document.modelspace().add_circle((x, 30), 5.5, dxfattribs={"layer": "RIVET lap"})
    return file_of(document)


def file_of(document: Any) -> bytes:
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def read(data: bytes, folder: Path) -> Drawing:
    path = folder / "plate.dxf"
    path.write_bytes(data)
    drawing = read_drawing(path, HOLE)
    assert account_fault(drawing) == ""
    assert lost(drawing, tags_of(data)) == ""
    return drawing


def checks(drawing: Drawing) -> list[str]:
    return [finding.check for finding in drawing.findings]


@pytest.mark.parametrize("first", range(0, 200, 50))
def test_marks_doubled_dropped_and_moved_lose_nothing(first: int, tmp_path: Path) -> None:
    for seed in range(first, first + 50):
        random = Random(seed)
        read(written(restructured(random.choice(structures()), random)), tmp_path)


def circle(handle: str = "F00D") -> bytes:
    marks = "100\nAcDbEntity\n8\nRIVET lap\n100\nAcDbCircle\n"
    return f"0\nCIRCLE\n5\n{handle}\n{marks}10\n575.0\n20\n20.0\n40\n5.5\n".encode()


SECTION, ENDSEC = b"  0\nSECTION\n  2\n%b\n", b"  0\nENDSEC\n"


def within(title: bytes) -> Callable[[bytes], bytes]:
    """Put a circle at the end of a section."""

    def put(data: bytes) -> bytes:
        at = data.index(ENDSEC, data.index(SECTION % title))
        return data[:at] + circle() + data[at:]

    return put


@pytest.mark.parametrize(("name", "paper"), [("$MODEL_SPACE", 0), ("*Model_Space", 0), ("$PAPER_SPACE", 1)])
def test_blocks_that_stand_for_a_space_are_that_space(name: str, paper: int, tmp_path: Path) -> None:
    """DXF reference: the blocks of the two spaces are called $MODEL_SPACE and $PAPER_SPACE up to R12."""
    head = f"0\nBLOCK\n8\n0\n2\n{name}\n70\n0\n10\n0.0\n20\n0.0\n".encode()
    held = b"0\nCIRCLE\n8\nRIVET lap\n10\n575.0\n20\n20.0\n40\n5.5\n"
    line = b"0\nLINE\n8\nNOTE\n10\n0.0\n20\n0.0\n11\n9.0\n21\n9.0\n"
    data = SECTION % b"BLOCKS" + head + held + b"0\nENDBLK\n" + ENDSEC + SECTION % b"ENTITIES" + line + ENDSEC
    drawing = read(data + b"0\nEOF\n", tmp_path)
    assert (len(drawing.paper), len(drawing.holes)) == (paper, 1 - paper)


ASTRAY: dict[str, tuple[Callable[[bytes], bytes], str]] = {
    "before the sections": (lambda data: circle() + data, "outside the sections"),
    "between sections": (lambda data: data.replace(ENDSEC, ENDSEC + circle(), 2), "outside the sections"),
    "after the end mark": (lambda data: data + circle(), "outside the sections"),
    "header": (within(b"HEADER"), "in the section HEADER"),
    "tables": (within(b"TABLES"), "in the section TABLES"),
    "objects": (within(b"OBJECTS"), "in the section OBJECTS"),
    "between blocks": (within(b"BLOCKS"), "between the blocks"),
    "unknown section": (lambda data: SECTION % b"ENTITY" + circle() + ENDSEC + data, "in the section ENTITY"),
    "no name": (lambda data: b"0\nSECTION\n" + circle() + ENDSEC + data, "in the section without a name"),
    "a kind of its own": (
        lambda data: SECTION % b"EXTRA" + circle().replace(b"CIRCLE", b"RIVETHEAD") + ENDSEC + data,
        "in the section EXTRA",
    ),
}


@pytest.mark.parametrize(
    ("version", "how"), [(v, how) for v in ("R12", "R2010") for how in ASTRAY if (v, how) != ("R12", "objects")]
)
def test_what_stands_nowhere_is_told_by_its_handle(version: str, how: str, tmp_path: Path) -> None:
    """No reader shows it: ezdxf, asked here, gives the plate alone."""
    spoil, why = ASTRAY[how]
    data = spoil(plate(version))
    drawing = read(data, tmp_path)
    told = [finding for finding in drawing.findings if finding.check == "account-open"]
    assert "F00D" in {handle for finding in told for handle in finding.where.handles}
    assert all(why in finding.what and "not one" not in finding.what for finding in told)
    assert checks(drawing)[0] == "damaged-drawing"
    assert drawing.scanned == len(drawing.account) == 15 + 1 * (how == "between sections")
    assert len(drawing.holes) == 13


def test_a_second_section_of_entities_is_part_of_the_drawing(tmp_path: Path) -> None:
    """The reader keeps the last of two sections of one name."""
    data = plate().replace(b"  0\nEOF\n", SECTION % b"ENTITIES" + circle() + ENDSEC + b"  0\nEOF\n")
    path = tmp_path / "plate.dxf"
    path.write_bytes(data)
    assert len(ezdxf.filemanagement.readfile(path).modelspace()) == 1
    drawing = read(data, tmp_path)
    assert (len(drawing.holes), drawing.scanned) == (14, 15)
    (finding,) = drawing.findings
    assert (finding.check, finding.what) == (
        "damaged-drawing",
        "the file is damaged: mended: a further section ENTITIES",
    )


def test_what_the_block_of_the_model_space_holds_is_drawn(tmp_path: Path) -> None:
    """As ezdxf shows it."""
    data = plate()
    at = data.index(b"  0\nENDBLK", data.index(b"*Model_Space", data.index(SECTION % b"BLOCKS")))
    drawing = read(data[:at] + circle() + data[at:], tmp_path)
    truth = ezdxf.filemanagement.readfile(tmp_path / "plate.dxf").modelspace()
    assert {entry.handle for entry in drawing.account} == {entity.dxf.handle for entity in truth}
    assert (len(drawing.holes), drawing.findings) == (14, ())


BLOCK = {"layer": "RIVET lap"}


def with_block(folder: Path) -> bytes:
    draft = strip(Draft())
    draft.doc.blocks.new("EYE").add_circle((0.0, 0.0), 5.5)
    draft.doc.blocks.new("FOOT").add_circle((0.0, 0.0), 5.5)
    for x, name in ((575.0, "EYE"), (575.0, "FOOT")):
        draft.space.add_blockref(name, (x, 20.0 + 20.0 * (name == "FOOT")), dxfattribs=BLOCK)
    return file_of(draft.doc)


@pytest.mark.parametrize("last", [False, True])
def test_a_block_without_its_end_is_read_up_to_the_next(last: bool, tmp_path: Path) -> None:
    """The reader drops such a block without a word."""
    data = with_block(tmp_path)
    start = data.index(b"FOOT" if last else b"EYE", data.index(SECTION % b"BLOCKS"))
    at, beyond = data.index(b"  0\nENDBLK", start), 0
    beyond = data.index(b"  0\n", at + 3)
    drawing = read(data[:at] + data[beyond:], tmp_path)
    assert len(drawing.holes) == 15
    assert checks(drawing) == ["damaged-drawing"]
    assert "a block without its end" in drawing.findings[0].what


def test_of_two_blocks_of_one_name_the_first_is_taken_and_it_is_said(tmp_path: Path) -> None:
    """The reader throws the two together."""
    data = with_block(tmp_path).replace(b"\nFOOT\n", b"\nEYE\n")
    drawing = read(data, tmp_path)
    assert len(drawing.holes) == 15
    assert "a block that stands twice" in drawing.findings[0].what


def test_texts_of_a_block_that_are_not_announced(tmp_path: Path) -> None:
    """Without its flag 66 an INSERT ends before its texts: they are its own all the same, as no other can be meant."""
    draft = strip(Draft())
    draft.doc.blocks.new("EYE").add_circle((0.0, 0.0), 5.5)
    draft.space.add_blockref("EYE", (575.0, 20.0), dxfattribs=BLOCK).add_attrib(
        "N", "1", (0.0, 90.0), {"layer": "NOTE"}
    )
    data = file_of(draft.doc)
    assert data.count(b" 66\n1\n") == 1
    drawing = read(data.replace(b" 66\n1\n", b""), tmp_path)
    assert (len(drawing.holes), drawing.scanned) == (14, 16)
    assert "ATTRIB" not in [entry.kind for entry in drawing.account]


def test_a_corner_without_its_place_is_not_drawn_to_the_origin(tmp_path: Path) -> None:
    """The reader puts the origin in its place."""
    document = ezdxf.filemanagement.new("R12")
    corners = [(10.0, 70.0), (20.0, 70.0), (20.0, 80.0)]
    document.modelspace().add_polyline2d(corners, dxfattribs={"layer": "MARK"})
    data = file_of(document)
    corner = b" 10\n20.0\n 20\n80.0\n 30\n0.0\n"
    assert data.count(corner) == 1
    drawing = read(data.replace(corner, b""), tmp_path)
    assert drawing.account[-1].fate == "reported"
    assert "unsupported-entity" in checks(drawing)


# --- paper space ------------------------------------------------------------------------------------------------------

FLAG, OWNER = b" 67\n1\n", b"330\n%b\n"
PLACES: dict[str, Callable[[bytes, bytes], bytes]] = {
    "as usual": lambda one, _: one.replace(b"AcDbEntity\n", b"AcDbEntity\n" + FLAG),
    "before the markers": lambda one, _: one.replace(b"100\nAcDbEntity", FLAG + b"100\nAcDbEntity"),
    "behind all": lambda one, _: one + FLAG,
    "after the second marker": lambda one, _: one.replace(b"AcDbCircle\n", b"AcDbCircle\n" + FLAG),
    "in a group of a program": lambda one, _: one.replace(
        b"100\nAcDbEntity", b"102\n{OURS\n" + FLAG + b"102\n}\n100\nAcDbEntity"
    ),
    "twice": lambda one, _: one.replace(b"AcDbEntity\n", b"AcDbEntity\n 67\n0\n") + FLAG,
    "and unset": lambda one, _: one.replace(b"AcDbEntity\n", b"AcDbEntity\n" + FLAG) + b" 67\n0\n",
    "as a large number": lambda one, _: one.replace(b"AcDbEntity\n", b"AcDbEntity\n 67\n     7\n"),
    "by its owner": lambda one, sheet: one.replace(b"330\nMODEL\n", OWNER % sheet),
    "by its owner, not its flag": lambda one, sheet: one.replace(b"330\nMODEL\n", OWNER % sheet) + b" 67\n0\n",
    "without an owner": lambda one, _: one.replace(b"330\nMODEL\n", b"") + FLAG,
}


@pytest.mark.parametrize("way", ["lifted", "ezdxf", "mended"])
@pytest.mark.parametrize("where", PLACES)
def test_paper_space_is_told_alike_on_every_way(
    where: str, way: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Judge: ezdxf, which asks the owner first and then the flag, wherever that stands."""
    data = plate()
    path = tmp_path / "plate.dxf"
    path.write_bytes(data)
    records: Any = ezdxf.filemanagement.readfile(path).block_records
    model, sheet = (records.get(name).dxf.handle.encode() for name in ("*Model_Space", "*Paper_Space"))
    owned = b"without" not in where.encode() and ("owner" in where or where == "twice")
    one = circle().replace(b"100\nAcDbEntity", b"330\nMODEL\n100\nAcDbEntity", 1) if owned else circle()
    one = PLACES[where](one, sheet).replace(b"330\nMODEL\n", OWNER % model)
    at = data.index(ENDSEC, data.index(SECTION % b"ENTITIES"))
    path.write_bytes(data[:at] + one + data[at:])
    truth = "F00D" in {entity.dxf.handle for entity in ezdxf.filemanagement.readfile(path).modelspace()}
    if way != "lifted":
        monkeypatch.setattr(source, "lift", lambda data: None)
    spoilt = path.read_bytes().removesuffix(b"  0\nEOF\n") if way == "mended" else path.read_bytes()
    drawing = read(spoilt, tmp_path)
    assert ("F00D" in {entry.handle for entry in drawing.account}) == truth
    assert ("F00D" in {entry.handle for entry in drawing.paper}) != truth
    assert len(drawing.holes) == 13 + truth
    assert checks(drawing) == ["damaged-drawing"] * (way == "mended") + ["paper-space"] * (not truth)


def test_what_is_lost_on_paper_is_set_aside_by_name(tmp_path: Path) -> None:
    document = ezdxf.filemanagement.new("R2010", units=4)
    strip(Draft(document))
    document.layout("Layout1").add_text("title", dxfattribs={"layer": "NOTE"})
    document.layout("Layout1").add_hatch()
    data = file_of(document).removesuffix(b"  0\nEOF\n")
    kinds = sorted(entry.kind for entry in read(data, tmp_path).paper if entry.kind != "VIEWPORT")
    assert kinds == ["HATCH", "TEXT"]
    assert drawn(tags_of(data))["HATCH"] == 1
