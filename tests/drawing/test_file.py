"""The file itself: units, the account of entities, damage, and what stops a run."""

import io
import os
from pathlib import Path
from random import Random
from typing import Any

import ezdxf.filemanagement
import pytest

from fabplan.drawing.find import find_drawings
from fabplan.drawing.read import read_drawing
from fabplan.drawing.roles import Role, role_of
from fabplan.drawing.stated import size_differs
from fabplan.errors import DrawingError
from fabplan.model.drawing import FATES, Drawing, Intake
from tests.drawing.faults import FAULTS, FOLDER
from tests.drawing.plates import Draft, cover, strip

VERSIONS = ("R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018")
UNITS = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0}  # $INSUNITS of the DXF reference, mm
NAMES = {1: "inch", 2: "foot", 4: "mm", 5: "cm", 6: "metre"}


def scaled_strip(factor: float, units: int, version: str = "R2000") -> Any:
    """The strap of 600 x 60 with its 13 holes of 11 mm, drawn in units of `factor` mm, header as told."""
    document = ezdxf.filemanagement.new(version, units=units)
    space = document.modelspace()
    ring = [(x / factor, y / factor) for x, y in ((0, 0), (600, 0), (600, 60), (0, 60))]
    space.add_polyline2d(ring, close=True, dxfattribs={"layer": "CUT"})
    for number in range(13):
        space.add_circle(((30 + 45 * number) / factor, 30 / factor), 5.5 / factor, dxfattribs={"layer": "RIVET lap"})
    return document


def read(document: Any, folder: Path, intake: Intake) -> Drawing:
    path = folder / "plate.dxf"
    document.saveas(path)
    return read_drawing(path, intake)


SIZE, HOLE, BOTH = (
    Intake(stated_size=(60.0, 600.0)),
    Intake(hole_diameters=(11.0,)),
    Intake(stated_size=(600.0, 60.0), hole_diameters=(9.0, 11.0)),
)


@pytest.mark.parametrize("intake", [SIZE, HOLE, BOTH, Intake()], ids=["size", "hole", "both", "nothing"])
@pytest.mark.parametrize("code", sorted(UNITS))
def test_a_true_header_is_taken(code: int, intake: Intake, tmp_path: Path) -> None:
    """One other than mm is not taken without a proof unasked: cm and inch are stated by mistake too."""
    drawing = read(scaled_strip(UNITS[code], code), tmp_path, intake)
    assert (drawing.scale, drawing.units) == (UNITS[code], NAMES[code])
    told = [finding.what for finding in drawing.findings if finding.check == "units-in-doubt"]
    assert len(drawing.findings) == len(told) == (intake == Intake() and code != 4)
    assert all(f"the header says {NAMES[code]}, and no stated size or known hole proves" in what for what in told)
    assert drawing.holes.diameter == pytest.approx([11.0] * 13, abs=1e-9)


@pytest.mark.parametrize("intake", [SIZE, HOLE, BOTH], ids=["size", "hole", "both"])
@pytest.mark.parametrize("code", sorted(UNITS))
def test_without_a_header_the_proofs_settle_the_unit(code: int, intake: Intake, tmp_path: Path) -> None:
    drawing = read(scaled_strip(UNITS[code], 0), tmp_path, intake)
    assert (drawing.scale, drawing.findings) == (UNITS[code], ())


@pytest.mark.parametrize(("true", "said"), [(4, 1), (1, 4), (4, 6), (6, 4), (5, 4)])
def test_a_wrong_header_is_a_query_with_its_figures(true: int, said: int, tmp_path: Path) -> None:
    drawing = read(scaled_strip(UNITS[true], said), tmp_path, BOTH)
    (finding,) = drawing.findings
    assert finding.check == "units-in-doubt"
    assert NAMES[said] in finding.what
    assert "600 x 60" in finding.what
    assert drawing.scale == UNITS[true]


def test_a_silent_header_and_nothing_known_is_a_query(tmp_path: Path) -> None:
    for units, version in ((0, "R2000"), (4, "R12")):  # R12 has no unit in its header
        drawing = read(scaled_strip(1.0, units, version), tmp_path, Intake())
        assert [finding.check for finding in drawing.findings] == ["units-in-doubt"]
        assert drawing.units_reason.startswith("mm assumed")


@pytest.mark.parametrize("code", [1, 5])
def test_a_thickness_proves_no_unit(code: int, tmp_path: Path) -> None:
    drawing = read(scaled_strip(UNITS[code], code), tmp_path, Intake(thickness=6.0))
    assert [finding.check for finding in drawing.findings] == ["units-in-doubt"]


PLATES = {
    "inches": ([(0, 0), (23.625, 0), (23.625, 11.8125), (10.0625, 11.8125), (0, 8)], 0.0, True),
    "inches from an odd origin": ([(3.3, 1.1), (26.925, 1.1), (26.925, 12.9125), (13.3625, 12.9125)], 0.0, True),
    "halves and quarters": ([(0, 0), (123.5, 0), (123.5, 60.75), (10.25, 60.75), (0, 8)], 0.0, False),
    "one eighth": ([(0, 0), (123.5, 0), (123.5, 60.125), (10.25, 60.125), (0, 8)], 0.0, False),
    "tenths": ([(0, 0), (123.6, 0), (123.6, 60.1), (10.3, 60.1), (0, 8)], 0.0, False),
    "as large as metric ones": ([(0, 0), (623.625, 0), (623.625, 311.8125), (10.0625, 311.8125)], 0.0, False),
    "with a rivet's hole": ([(0, 0), (123.625, 0), (123.625, 111.8125), (10.0625, 111.8125)], 5.5, False),
    "with a hole for no rivet": ([(0, 0), (123.625, 0), (123.625, 111.8125), (10.0625, 111.8125)], 0.5, True),
}


@pytest.mark.parametrize("name", PLATES)
def test_a_header_of_mm_over_sizes_of_inches_is_a_query(name: str, tmp_path: Path) -> None:
    """Sixteenths, and no hole that tells otherwise: nobody draws 11.8125 mm; 11 13/16 inch is 300 mm."""
    corners, radius, doubtful = PLATES[name]
    document = ezdxf.filemanagement.new("R2000", units=4)
    document.modelspace().add_polyline2d(corners, close=True, dxfattribs={"layer": "CUT"})
    if radius:
        document.modelspace().add_circle((60.0, 40.0), radius, dxfattribs={"layer": "CUT"})
    drawing = read(document, tmp_path, Intake())
    assert [finding.check for finding in drawing.findings] == ["units-in-doubt"] * doubtful
    assert drawing.scale == 1.0


def test_rows_of_rivets_tell_the_unit_beside_a_manhole(tmp_path: Path) -> None:
    """A plate drawn in cm under a header of mm: its holes of 1.1 would be 1.1 mm, whatever its one large opening is."""
    document = scaled_strip(10.0, 4)
    document.modelspace().add_circle((30.0, 3.0), 2.5, dxfattribs={"layer": "CUT"})
    (finding,) = [one for one in read(document, tmp_path, Intake()).findings if one.check == "units-in-doubt"]
    assert "commonest hole would be 1.1 mm" in finding.what


def test_a_block_in_another_unit_is_not_taken_as_it_stands(tmp_path: Path) -> None:
    document = scaled_strip(1.0, 4, "R2010")
    block = document.blocks.new("INCH")
    block.units = 1
    block.add_circle((0.0, 0.0), 0.2)
    document.modelspace().add_blockref("INCH", (300.0, 50.0), dxfattribs={"layer": "BOLT"})
    drawing = read(document, tmp_path, HOLE)
    assert [finding.check for finding in drawing.findings] == ["units-in-doubt"]
    assert drawing.account[-1].fate == "reported"


def test_the_size_is_met_whichever_way_the_plate_lies_and_round_plates_too(tmp_path: Path) -> None:
    document = ezdxf.filemanagement.new("R2000", units=4)
    document.modelspace().add_circle((900.0, 40.0), 130.0, dxfattribs={"layer": "CUT"})
    drawing = read(document, tmp_path, Intake(stated_size=(260.0, 260.0)))
    assert (*drawing.findings, *size_differs(drawing, (260.0, 260.0))) == ()
    (finding,) = size_differs(drawing, (262.0, 260.0))
    assert (finding.check, finding.required) == ("size-differs", 262.0)


@pytest.mark.parametrize("version", VERSIONS)
def test_every_entity_once_as_ezdxf_counts_them(version: str, tmp_path: Path) -> None:
    """Judge: the handles of the model space by ezdxf. Paper space, vertices, attributes and blocks do not count."""
    document = ezdxf.filemanagement.new(version, units=4, setup=True)
    space = document.modelspace()
    space.add_polyline2d([(0, 0), (200, 0), (200, 90), (0, 90)], close=True, dxfattribs={"layer": "CUT"})
    document.blocks.new("TAG").add_circle((0, 0), 5.5)
    document.blocks.get("TAG").add_attdef("NUMBER", (0, 0))
    for x in (30, 70, 110):
        space.add_blockref("TAG", (x, 30), dxfattribs={"layer": "RIVET a"}).add_attrib(
            "NUMBER", str(x), (x, 40), {"layer": "NOTE"}
        )
    space.add_text("67", dxfattribs={"layer": "NOTE", "insert": (0, -20)})
    space.add_point((1, 1), dxfattribs={"layer": "MARK"})
    space.add_line((10, 60), (190, 60), dxfattribs={"layer": "FOLD 1"})
    document.layout("Layout1").add_line((0, 0), (100, 0))
    document.layout("Layout1").add_text("ENTITIES")
    drawing = read(document, tmp_path, Intake(hole_diameters=(11.0,)))
    truth = ezdxf.filemanagement.readfile(tmp_path / "plate.dxf").modelspace()
    assert [entry.handle for entry in drawing.account] == [entity.dxf.handle for entity in truth]
    assert [entry.kind for entry in drawing.account] == [entity.dxftype() for entity in truth]
    assert drawing.scanned == len(drawing.account) == 7
    assert {entry.fate for entry in drawing.account} <= set(FATES)
    assert [finding.check for finding in drawing.findings] == ["paper-space"]
    document = ezdxf.filemanagement.readfile(tmp_path / "plate.dxf")
    layouts = [layout for layout in document.layouts if layout.name != "Model"]
    on_paper = [entity.dxf.handle for layout in layouts for entity in layout]
    assert [entry.handle for entry in drawing.paper] == on_paper
    assert {entry.fate for entry in drawing.paper} == {"set aside"}


@pytest.mark.parametrize("name", sorted(FAULTS))
def test_the_account_of_every_faulty_drawing_adds_up(name: str) -> None:
    drawing = read_drawing(FOLDER / f"{name}.dxf")
    if name != "unreadable-drawing":
        assert drawing.scanned == len(drawing.account)
        assert all(entry.fate in FATES and entry.reason for entry in drawing.account)
        assert len({entry.handle for entry in drawing.account}) == len(drawing.account)


def test_no_entity_of_a_doubled_handle_is_lost(tmp_path: Path) -> None:
    """The forgiving reader drops one of two entities of one handle; the strict one is made to fail by a lost ending."""
    stream = io.StringIO()
    cover(Draft()).doc.write(stream)
    text = stream.getvalue().removesuffix("  0\nENDSEC\n  0\nEOF\n")
    at = text.index("CIRCLE", text.index("ENTITIES"))
    first = text[at:].split("\n", 3)
    second = text.index("CIRCLE", at + 10)
    handle = text[second:].split("\n", 3)[2]
    path = tmp_path / "doubled.dxf"
    path.write_text(text[:second] + text[second:].replace(handle, first[2], 1))
    drawing = read_drawing(path, Intake(hole_diameters=(11.0,)))
    assert [finding.check for finding in drawing.findings] == ["damaged-drawing"]
    assert "a handle that stands twice" in drawing.findings[0].what
    assert drawing.scanned == len(drawing.account) == len({entry.handle for entry in drawing.account})
    assert len(drawing.holes) == text.count("\nCIRCLE\n")


def test_no_damage_raises(tmp_path: Path) -> None:
    """Files cut short, bytes changed, lines lost: always a drawing, never an error; seeds are fixed."""
    stream = io.StringIO()
    cover(Draft()).doc.write(stream)
    whole = stream.getvalue().encode()
    start = whole.index(b"ENTITIES")
    path = tmp_path / "damaged.dxf"
    for seed in range(40):
        random = Random(seed)
        data = bytearray(whole)
        if seed % 3 == 0:
            del data[random.randrange(start, len(data)) :]
        for _ in range(seed % 7):
            data[random.randrange(start, len(data))] = random.randrange(256)
        if seed % 5 == 0:
            lines = bytes(data).split(b"\n")
            del lines[random.randrange(len(lines))]
            data = bytearray(b"\n".join(lines))
        path.write_bytes(bytes(data))
        assert isinstance(read_drawing(path, Intake(hole_diameters=(11.0,))), Drawing)


@pytest.mark.parametrize(
    ("content", "check"),
    [
        (b"", "unreadable-drawing"),
        (b"AC1032\0\0\0", "unreadable-drawing"),
        (b"\x89PNG\r\n\x1a\n", "unreadable-drawing"),
        (b"AutoCAD Binary DXF\r\n\x1a\x00\x00\x00", "unreadable-drawing"),
        (b"no drawing at all", "unreadable-drawing"),
    ],
)
def test_what_is_no_drawing_is_a_stop(content: bytes, check: str, tmp_path: Path) -> None:
    path = tmp_path / "a.dxf"
    path.write_bytes(content)
    (finding,) = read_drawing(path).findings
    assert (finding.check, finding.level) == (check, 0)


def test_binary_files_are_read(tmp_path: Path) -> None:
    path = tmp_path / "binary.dxf"
    strip(Draft()).doc.saveas(path, fmt="bin")
    drawing = read_drawing(path, HOLE)
    assert (drawing.findings, len(drawing.holes)) == ((), 13)


def test_a_decimal_comma_is_read_as_what_it_is(tmp_path: Path) -> None:
    stream = io.StringIO()
    strip(Draft()).doc.write(stream)
    path = tmp_path / "comma.dxf"
    path.write_text(stream.getvalue().replace("\n5.5\n", "\n5,5\n"))
    drawing = read_drawing(path, HOLE)
    (finding,) = drawing.findings
    assert finding.check == "damaged-drawing"
    assert "13 times a number with a decimal comma" in finding.what
    assert drawing.holes.diameter.tolist() == [11.0] * 13


def test_blocks_without_end_are_reported(tmp_path: Path) -> None:
    document = scaled_strip(1.0, 4)
    for name, other in (("A", "B"), ("B", "A")):
        document.blocks.new(name).add_blockref(other, (1.0, 1.0))
    deep = ""
    for level in range(7):
        block = document.blocks.new(f"L{level}")
        for k in range(10):
            block.add_blockref(deep, (k, 0)) if deep else block.add_circle((k, 0), 1.0)
        deep = block.name
    for name in ("A", deep, "MISSING"):
        document.modelspace().add_blockref(name, (0.0, 0.0), dxfattribs={"layer": "CUT"})
    drawing = read(document, tmp_path, HOLE)
    assert [entry.fate for entry in drawing.account[-3:]] == ["reported"] * 3
    assert {finding.check for finding in drawing.findings} == {"unsupported-entity"}


def test_dimensions_in_blocks_are_not_cut(tmp_path: Path) -> None:
    document = scaled_strip(1.0, 4)
    document = ezdxf.filemanagement.new("R2010", units=4, setup=True)
    block = document.blocks.new("PART")
    block.add_lwpolyline([(0, 0), (600, 0), (600, 60), (0, 60)], close=True, dxfattribs={"layer": "CUT"})
    block.add_linear_dim((0, 90), (0, 0), (600, 0), dxfattribs={"layer": "NOTE"}).render()
    document.modelspace().add_blockref("PART", (5, 5), dxfattribs={"layer": "0"})
    document.modelspace().add_circle((305, 35), 20, dxfattribs={"layer": "CUT"})
    drawing = read(document, tmp_path, HOLE)
    assert drawing.findings == ()
    assert drawing.outline is not None


def test_errors_say_what_and_how_to_mend(tmp_path: Path) -> None:
    with pytest.raises(DrawingError, match="there is no drawing"):
        read_drawing(tmp_path / "none.dxf")
    with pytest.raises(DrawingError, match="is a folder"):
        read_drawing(tmp_path)
    with pytest.raises(DrawingError, match="holds no DXF file"):
        find_drawings(tmp_path)
    with pytest.raises(DrawingError, match="there is no folder"):
        find_drawings(tmp_path / "none")
    if os.geteuid() != 0:
        path = tmp_path / "closed.dxf"
        path.write_text("")
        path.chmod(0)
        with pytest.raises(DrawingError, match="cannot be read"):
            read_drawing(path)


def test_drawings_are_found_by_name_in_any_case(tmp_path: Path) -> None:
    for name in ("b.DXF", "a.dxf", "c.txt", "B2.Dxf"):
        (tmp_path / name).write_text("")
    assert [path.name for path in find_drawings(tmp_path)] == ["B2.Dxf", "a.dxf", "b.DXF"]


@pytest.mark.parametrize(
    ("layer", "role"),
    [
        ("CUT", Role("CUT")),
        ("cut", Role("CUT")),
        ("Rivet left", Role("RIVET", "left")),
        ("RIVET_left", Role("RIVET", "left")),
        ("rivet-left", Role("RIVET", "left")),
        ("RIVET", Role("RIVET")),
        ("Bolt_a b", Role("BOLT", "a b")),
        ("FOLD 1", Role("FOLD")),
        ("NOTE DIM", Role("NOTE")),
        ("RIVETS", Role("")),
        ("CUTTING", Role("")),
        ("0", Role("")),
    ],
)
def test_roles_by_name(layer: str, role: Role) -> None:
    assert role_of(layer) == role


@pytest.mark.parametrize("pipe", [True, False], ids=["pipe", "device"])
def test_what_never_ends_is_refused(pipe: bool, tmp_path: Path) -> None:
    path = tmp_path / "plate.dxf"
    if pipe:
        os.mkfifo(path)
    else:
        path.symlink_to("/dev/zero")
    with pytest.raises(DrawingError, match="a pipe or a device"):
        read_drawing(path)


def test_a_unit_that_is_not_read_is_told_by_its_code(tmp_path: Path) -> None:
    """13 is the micron by the DXF reference."""
    (finding,) = read(scaled_strip(1.0, 13), tmp_path, Intake()).findings
    assert finding.check == "units-in-doubt"
    assert "unit 13" in finding.what
    assert "silent" not in finding.what
