"""What CAD programs really write: every version, code page, kind of damage and kind of entity.

Judges: ezdxf's own counts and geometry, GDAL, scipy's least squares, and the figures that the DXF reference fixes.
"""

import io
import math
import time
import warnings
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from random import Random
from typing import Any

import ezdxf.filemanagement
import numpy as np
import pyogrio
import pytest
import shapely
from ezdxf import recover
from ezdxf.lldxf.const import DXFStructureError
from scipy.optimize import least_squares

from fabplan.drawing.circles import fitted
from fabplan.drawing.fingerprint import fingerprint
from fabplan.drawing.hand import other_hand
from fabplan.drawing.mend import NEEDED
from fabplan.drawing.read import read_drawing
from fabplan.drawing.shares import shared_out
from fabplan.geom.profile import area
from fabplan.model.drawing import Drawing, Intake
from tests.drawing.plates import STRIP_ROW, Draft, cover, gusset, strip
from tests.fuzz.cases import account_fault
from tests.fuzz.damage import damaged, sources

HOLE = Intake(hole_diameters=(11.0,))
SIZE = Intake(stated_size=(600.0, 60.0))
VERSIONS = ("R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018")


def text_of(draft: Draft) -> str:
    stream = io.StringIO()
    draft.doc.write(stream)
    return stream.getvalue()


def read_text(text: str | bytes, folder: Path, intake: Intake = HOLE) -> Drawing:
    path = folder / "plate.dxf"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    drawing = read_drawing(path, intake)
    assert len(drawing.account) == drawing.scanned
    assert len({entry.handle for entry in drawing.account}) == drawing.scanned
    return drawing


def read_draft(draft: Draft, folder: Path, intake: Intake = HOLE) -> Drawing:
    return read_text(text_of(draft), folder, intake)


def checks(drawing: Drawing) -> list[str]:
    return [finding.check for finding in drawing.findings]


def tags(*rows: tuple[int, Any]) -> str:
    return "".join(f"{code}\n{value}\n" for code, value in rows)


def fragment(entities: str, header: str = "") -> str:
    """The smallest file: a header of the variables given, and entities."""
    head = tags((0, "SECTION"), (2, "HEADER")) + header + tags((0, "ENDSEC"), (0, "SECTION"), (2, "ENTITIES"))
    return head + entities + tags((0, "ENDSEC"), (0, "EOF"))


def ring(corners: Iterator[tuple[float, float]] | list[tuple[float, float]], layer: str = "CUT") -> str:
    """A closed light polyline without handle and subclass markers."""
    rows = list(corners)
    points = "".join(tags((10, x), (20, y)) for x, y in rows)
    return tags((0, "LWPOLYLINE"), (8, layer), (90, len(rows)), (70, 1)) + points


STRIP = [(0.0, 0.0), (600.0, 0.0), (600.0, 60.0), (0.0, 60.0)]
CIRCLE = tags((0, "CIRCLE"), (8, "RIVET lap"), (10, 30.0), (20, 30.0), (40, 5.5))


# --- versions and formats ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("binary", [False, True], ids=["text", "binary"])
@pytest.mark.parametrize("version", VERSIONS)
def test_every_version_in_text_and_binary(version: str, binary: bool, tmp_path: Path) -> None:
    """Judge: ezdxf's entities of the model space; the independent scan counts the same ones."""
    document = ezdxf.filemanagement.new(version, units=4)
    space = document.modelspace()
    space.add_polyline2d(STRIP, close=True, dxfattribs={"layer": "CUT"})
    for x in range(30, 600, 45):
        space.add_circle((x, 30), 5.5, dxfattribs={"layer": "RIVET lap"})
    space.add_text("strap", dxfattribs={"layer": "NOTE", "insert": (10, -20)})
    path = tmp_path / "plate.dxf"
    document.saveas(path, fmt="bin" if binary else "asc")
    drawing = read_drawing(path, SIZE)
    truth = ezdxf.filemanagement.readfile(path).modelspace()
    assert [entry.handle for entry in drawing.account] == [entity.dxf.handle for entity in truth]
    assert drawing.scanned == len(truth) == 15
    assert (len(drawing.holes), drawing.scale, drawing.findings) == (13, 1.0, ())
    assert drawing.dxf_version == document.dxfversion


def test_a_binary_file_states_its_unit(tmp_path: Path) -> None:
    """The header of a binary file is read too: the forgiving reader opens none of them."""
    document = ezdxf.filemanagement.new("R2000", units=1)
    document.modelspace().add_circle((0, 0), 2.0, dxfattribs={"layer": "CUT"})
    path = tmp_path / "plate.dxf"
    document.saveas(path, fmt="bin")
    drawing = read_drawing(path, Intake(stated_size=(101.6, 101.6)))
    assert (drawing.scale, drawing.findings) == (25.4, ())


@pytest.mark.parametrize("share", [0.97, 0.9, 0.75])
def test_a_binary_file_cut_short_gives_what_is_whole(share: float, tmp_path: Path) -> None:
    stream = io.BytesIO()
    cover(Draft()).doc.write(stream, fmt="bin")
    data = stream.getvalue()
    start = data.index(b"ENTITIES")
    whole = data.index(b"OBJECTS", start)
    drawing = read_text(data[: start + int((whole - start) * share)], tmp_path)
    assert "damaged-drawing" in checks(drawing)
    assert 2 < drawing.scanned <= 30
    assert sum(entry.fate == "used" for entry in drawing.account) >= drawing.scanned - 2


# --- code pages -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("version", "codec", "note"),
    [
        ("R2000", "cp1252", False),
        ("R2000", "utf-8", True),
        ("R2010", "utf-8", False),
        ("R2010", "cp1252", True),
    ],
)
def test_layer_names_are_read_in_whatever_code_page(version: str, codec: str, note: bool, tmp_path: Path) -> None:
    draft = strip(Draft(ezdxf.filemanagement.new(version, units=4)), [])
    draft.hole(300.0, 30.0, layer="RIVET süd")
    draft.note("Stoß", 10.0, -30.0)
    stream = io.StringIO()
    draft.doc.write(stream)
    drawing = read_text(stream.getvalue().encode(codec), tmp_path)
    assert drawing.holes.row == ("süd",)
    assert "Stoß" in [label.text for label in drawing.labels]
    assert checks(drawing) == ["text-encoding"] * note


@pytest.mark.parametrize("page", ["ANSI_1250", "ANSI_1251", "ANSI_1253"])
def test_the_code_page_of_the_header_counts(page: str, tmp_path: Path) -> None:
    name = {"ANSI_1250": "łuk", "ANSI_1251": "шов", "ANSI_1253": "ραφή"}[page]
    text = fragment(ring(STRIP) + CIRCLE.replace("lap", name), tags((9, "$DWGCODEPAGE"), (3, page)))
    assert read_text(text.encode("cp" + page[5:]), tmp_path, SIZE).holes.row == (name,)


def test_escapes_of_old_files_are_signs(tmp_path: Path) -> None:
    text = fragment(ring(STRIP) + CIRCLE.replace("lap", r"s\U+00FCd"))
    assert read_text(text, tmp_path, SIZE).holes.row == ("süd",)


# --- missing parts of the structure -----------------------------------------------------------------------------------


def test_no_header_no_handles_no_markers_no_version(tmp_path: Path) -> None:
    """No reader of ezdxf opens a light polyline without its markers: the tags alone tell all."""
    text = fragment(ring(STRIP) + CIRCLE).split("0\nENDSEC\n", 1)[1]
    with pytest.raises(DXFStructureError):
        recover.read(io.BytesIO(text.encode()))
    drawing = read_text(text, tmp_path, SIZE)
    assert checks(drawing) == ["damaged-drawing"]
    assert "without its subclass marker" in drawing.findings[0].what
    assert drawing.outline is not None
    assert area(drawing.outline) == 36000.0
    assert drawing.scale == 1.0


def test_a_spline_without_markers_is_the_spline_it_is(tmp_path: Path) -> None:
    """Judge: the same spline with its markers, as ezdxf flattens it a hundred times finer."""
    document = ezdxf.filemanagement.new("R2000", units=4)
    turn = np.radians(np.arange(0, 361, 30))
    points = [(float(x), float(y), 0.0) for x, y in zip(80 * np.cos(turn), 50 * np.sin(turn), strict=True)]
    spline = document.modelspace().add_spline_control_frame(points, dxfattribs={"layer": "CUT"})
    stream = io.StringIO()
    document.write(stream)
    text = stream.getvalue().replace("100\nAcDbSpline\n", "").replace("100\nAcDbEntity\n", "")
    with pytest.raises(DXFStructureError):
        recover.read(io.BytesIO(text.encode()))
    drawing = read_text(text, tmp_path)
    truth = shapely.Polygon([point.vec2 for point in spline.flattening(1e-4)])
    assert drawing.outline is not None
    assert area(drawing.outline) == pytest.approx(truth.area, abs=0.01 * truth.length)


def test_bare_entities_are_a_file_too(tmp_path: Path) -> None:
    drawing = read_text(ring(STRIP) + CIRCLE, tmp_path, SIZE)
    assert (checks(drawing), drawing.scanned, len(drawing.holes)) == (["damaged-drawing"], 2, 1)


def test_coordinates_out_of_order(tmp_path: Path) -> None:
    """Both x before both y, as ten files of a corpus of 867 have it."""
    sides = zip(STRIP, STRIP[1:] + STRIP[:1], strict=True)
    lines = "".join(tags((0, "LINE"), (8, "CUT"), (10, a), (11, c), (20, b), (21, d)) for (a, b), (c, d) in sides)
    drawing = read_text(fragment(lines + CIRCLE), tmp_path, SIZE)
    assert drawing.outline is not None
    assert (area(drawing.outline), checks(drawing)) == (36000.0, ["damaged-drawing"])
    assert "4 times an entity with its coordinates out of order" in drawing.findings[0].what


# --- line ends and damage ---------------------------------------------------------------------------------------------

SPOILT: dict[str, tuple[Callable[[bytes], bytes], bool]] = {
    "bare carriage returns": (lambda data: data.replace(b"\n", b"\r"), True),
    "both": (lambda data: data.replace(b"\n", b"\r\n"), True),
    "three signs": (lambda data: data.replace(b"\n", b"\r\r\n"), False),
    "byte order mark": (lambda data: b"\xef\xbb\xbf" + data, False),
    "sixteen bits": (lambda data: data.decode().encode("utf-16"), False),
    "blank lines first": (lambda data: b"\n\n\n" + data, False),
    "words first": (lambda data: b"made by hand\n" + data, False),
    "a comment first": (lambda data: b"999\nmade by hand\n" + data, True),
    "no end": (lambda data: data.removesuffix(b"  0\nEOF\n"), False),
    "decimal commas": (lambda data: data.replace(b".", b","), False),
    "blanks round": (lambda data: data.replace(b"\n", b"  \n  "), False),
}


@pytest.mark.parametrize("how", sorted(SPOILT))
def test_the_same_plate_through_every_spoiling(how: str, tmp_path: Path) -> None:
    """Judge: the sound file; what is spoilt has the same profiles and holes, hence the same fingerprint."""
    spoil, sound = SPOILT[how]
    data = text_of(cover(Draft())).encode()
    truth = read_text(data, tmp_path)
    drawing = read_text(spoil(data), tmp_path)
    assert drawing.fingerprint == truth.fingerprint
    assert [entry.handle for entry in drawing.account] == [entry.handle for entry in truth.account]
    assert checks(drawing) == ["damaged-drawing"] * (not sound)


def test_cut_anywhere_only_what_is_whole_is_used(tmp_path: Path) -> None:
    """Each entity up to the cut is used or told as lost; none is made up from half its numbers."""
    data = text_of(cover(Draft())).encode()
    truth = read_text(data, tmp_path)
    known = {tuple(row) for row in np.column_stack([truth.holes.xy, truth.holes.diameter]).tolist()}
    start, end = data.index(b"ENTITIES"), data.index(b"OBJECTS")
    for cut in range(start + 500, end, 463):
        drawing = read_text(data[:cut], tmp_path)
        got = {tuple(row) for row in np.column_stack([drawing.holes.xy, drawing.holes.diameter]).tolist()}
        assert got <= known, cut
        lost = [entry for entry in drawing.account if entry.fate == "reported" and "damaged within" in entry.reason]
        assert len(lost) <= 1
        assert bool(lost) == ("account-open" in checks(drawing))
        assert len(got) >= drawing.scanned - 4  # profile, opening, note and the one that was cut


def test_a_line_without_its_end_is_not_drawn_to_the_origin(tmp_path: Path) -> None:
    """Both readers put the origin in the place of an end that is missing (LINE, DXF reference: 11, 21)."""
    text = fragment(ring(STRIP) + CIRCLE + tags((0, "LINE"), (8, "CUT"), (5, "7F"), (10, 5.0), (20, 5.0)))
    drawing = read_text(text, tmp_path, SIZE)
    (finding,) = [finding for finding in drawing.findings if finding.check == "account-open"]
    assert finding.where.handles == ("7F",)
    assert drawing.open_lines == ()


@pytest.mark.parametrize(
    ("head", "why"),
    [("\ufeff", "a byte order mark before the first line"), ("", "entities without a section")],
)
def test_what_was_mended_is_said_in_words_of_the_drawing(head: str, why: str, tmp_path: Path) -> None:
    """Both are DXF but for their first lines; a reader says of them that they are none."""
    own = ring(STRIP) + CIRCLE
    drawing = read_text(head + fragment(own) if head else own + tags((0, "EOF")), tmp_path, SIZE)
    (told,) = [finding.what for finding in drawing.findings if finding.check == "damaged-drawing"]
    assert why in told
    assert "not a DXF file" not in told
    assert (drawing.scanned, len(drawing.holes)) == (len(drawing.account), 1)


@pytest.mark.parametrize(("far", "why"), [(1e13, "lies further than 1e+10"), (math.nan, "is no finite number")])
def test_what_cannot_be_placed_is_told_by_its_other_end(far: float, why: str, tmp_path: Path) -> None:
    """1e13 is a finite number; the end that can be placed is where to look."""
    lines = [tags((0, "LINE"), (8, "CUT"), (10, far), (20, y), (11, 7.0), (21, y)) for y in (5.0, 6.0)]
    drawing = read_text(fragment(ring(STRIP) + CIRCLE + "".join(lines)), tmp_path, SIZE)
    (told,) = [finding for finding in drawing.findings if finding.check == "bad-coordinates"]
    assert told.what.startswith("2 LINE on layer CUT cannot be placed: a coordinate ")
    assert why in told.what
    assert told.where.xy == (7.0, 5.0)


def test_what_any_reader_opens_is_opened(tmp_path: Path) -> None:
    """Judge: both readers of ezdxf. What lines and texts they show stand in the account.

    Where lines are lost in the middle of an entity, a reader may take its rest for one more: one is allowed for.
    """
    drawings, opened = sources(), 0
    for seed in range(300, 380):
        random = Random(seed)
        path = tmp_path / "damaged.dxf"
        path.write_bytes(damaged(random.choice(drawings), random))
        shown = max(_entities(ezdxf.filemanagement.readfile, path), _entities(recover.readfile, path))
        drawing = read_drawing(path)
        assert account_fault(drawing) == ""
        opened += shown > 0
        assert shown <= len(drawing.account) + 1, seed
        assert shown <= 0 or "unreadable-drawing" not in checks(drawing), seed
    assert opened > 15


def _entities(reader: Callable[[Path], Any], path: Path) -> int:
    try:
        read = reader(path)
        space = (read[0] if isinstance(read, tuple) else read).modelspace()
        return len({entity.dxf.handle for entity in space if entity.dxftype() in NEEDED})
    except Exception:  # readers raise all kinds on damage
        return -1


# --- entities ---------------------------------------------------------------------------------------------------------


def test_what_cannot_be_flat_is_said_by_handle(tmp_path: Path) -> None:
    """Judge: ezdxf's handles of all that is no line."""
    draft = gusset(Draft(ezdxf.filemanagement.new("R2010", units=4, setup=True)))
    space, layer = draft.space, {"layer": "CUT"}
    corners = [(100, 60), (130, 60), (130, 80)]
    odd = [
        space.add_3dface(corners, dxfattribs=layer),
        space.add_mline([(90, 60), (120, 60)], dxfattribs=layer),
        space.add_hatch(dxfattribs=layer),
        space.add_solid(corners, dxfattribs=layer),
        space.add_point((90, 90), dxfattribs=layer),
        space.add_blockref("nowhere", (90, 90), dxfattribs=layer),
    ]
    apart = [
        space.add_hatch(dxfattribs={"layer": "NOTE"}),
        space.add_point((90, 90), dxfattribs={"layer": "MARK"}),
        space.add_leader([(0, 0), (10, 10), (20, 10)], dxfattribs={"layer": "NOTE"}),
        space.add_mtext("stamp", dxfattribs={"layer": "NOTE"}),
        space.add_3dface(corners, dxfattribs={"layer": "NOTE"}),
    ]
    drawing = read_draft(draft, tmp_path)
    told = [finding for finding in drawing.findings if finding.check == "unsupported-entity"]
    assert {handle for finding in told for handle in finding.where.handles} == {one.dxf.handle for one in odd}
    assert set(checks(drawing)) == {"unsupported-entity"}
    fates = {entry.handle: entry.fate for entry in drawing.account}
    assert [fates[one.dxf.handle] for one in odd] == ["reported"] * len(odd)
    assert [fates[one.dxf.handle] for one in apart] == ["set aside"] * len(apart)
    assert len({finding.what.split(": ")[1] for finding in told}) >= 4


def test_proxies_and_kinds_of_other_programs_are_reported(tmp_path: Path) -> None:
    kinds = ("ACAD_PROXY_ENTITY", "3DLINE", "REGION", "3DSOLID", "BODY", "MESH", "HELIX", "SHAPE")
    strangers = "".join(tags((0, kind), (5, str(71 + k)), (8, "CUT")) for k, kind in enumerate(kinds))
    drawing = read_text(fragment(strangers + ring(STRIP) + CIRCLE), tmp_path, SIZE)
    told = {handle: one.what for one in drawing.findings for handle in one.where.handles if one.check[0] == "u"}
    assert set(told) == {str(71 + k) for k in range(len(kinds))}
    assert "another program" in told["71"]
    assert {entry.layer for entry in drawing.account} == {"CUT", "RIVET lap"}


def test_a_smoothed_polyline_leaves_its_frame_out(tmp_path: Path) -> None:
    """The frame points of a smoothed POLYLINE (flag 16, DXF reference) steer the curve and are not on it."""
    draft = Draft()
    poly = draft.space.add_polyline2d(STRIP, close=True, dxfattribs={"layer": "CUT", "flags": 5})
    for point in ((0, 0), (700, -90), (0, 900)):
        poly.append_vertices([point], {"flags": 16})
    drawing = read_draft(draft, tmp_path)
    assert drawing.outline is not None
    assert area(drawing.outline) == 36000.0


def test_a_lone_line_extruded_sideways_is_where_its_ends_are(tmp_path: Path) -> None:
    """Ends of a LINE are places in space whatever its extrusion (DXF reference)."""
    draft = Draft()
    for a, b in zip(STRIP, STRIP[1:] + STRIP[:1], strict=True):
        draft.space.add_line(a, b, dxfattribs={"layer": "CUT", "extrusion": (1.0, 0.0, 0.0)})
    draft.space.add_circle((30, 30), 5.5, dxfattribs={"layer": "RIVET", "extrusion": (1.0, 0.0, 0.0)})
    drawing = read_draft(draft, tmp_path)
    assert (checks(drawing), drawing.outline is not None) == (["not-flat"], True)
    assert drawing.account[-1].fate == "reported"


@pytest.mark.parametrize("up", [1.0, -1.0])
def test_an_elliptic_arc_of_equal_axes_seen_from_below(up: float, tmp_path: Path) -> None:
    """Judge: the polygon of the same entities as ezdxf flattens them."""
    draft = Draft()
    seen = {"extrusion": (0.0, 0.0, up), "layer": "CUT"}
    arc = draft.space.add_ellipse((50.0, 0.0), (50.0, 0.0), 1.0, 0.0, math.pi, dxfattribs=seen)
    chain = [(0.0, 0.0), (0.0, 90.0), (100.0, 90.0), (100.0, 0.0)]
    for a, b in pairwise(chain):
        draft.line(a, b)
    drawing = read_draft(draft, tmp_path)
    truth = shapely.Polygon([point.vec2 for point in arc.flattening(1e-5)] + chain[1:-1])
    assert drawing.outline is not None
    assert area(drawing.outline) == pytest.approx(truth.area, rel=1e-6)


@pytest.mark.parametrize("noise", [1e-9, 1e-5, 0.004])
def test_noise_in_z_does_no_harm(noise: float, tmp_path: Path) -> None:
    draft, random = Draft(), np.random.default_rng(7)
    for a, b in zip(STRIP, STRIP[1:] + STRIP[:1], strict=True):
        z = random.uniform(-noise, noise, 2).tolist()
        draft.space.add_line((*a, z[0]), (*b, z[1]), dxfattribs={"layer": "CUT"})
    draft.space.add_circle((30, 30, noise), 5.5, dxfattribs={"layer": "RIVET lap"})
    assert read_draft(draft, tmp_path).findings == ()


@pytest.mark.parametrize("far", [5.5e6, 1e9])
def test_far_from_the_origin(far: float, tmp_path: Path) -> None:
    """Places of doubles lie 9e-10 apart at 5.5e6 and 1.2e-7 at 1e9."""
    draft = Draft()
    draft.loose([(x + far, y - far) for x, y in STRIP])
    draft.row("lap", [(far + 30 + 45 * k, 30 - far) for k in range(13)])
    drawing = read_draft(draft, tmp_path, SIZE)
    assert (drawing.findings, len(drawing.holes)) == ((), 13)
    assert drawing.outline is not None
    assert area(drawing.outline) == pytest.approx(36000.0, rel=1e-6)


def test_absurdly_far_is_no_place(tmp_path: Path) -> None:
    draft = strip(Draft())
    draft.hole(1e15, 0.0)
    assert checks(read_draft(draft, tmp_path)) == ["bad-coordinates"]


# --- layers and spaces ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("how", ["off", "frozen", "invisible", "block"])
def test_what_is_not_seen_is_set_aside_and_asked(how: str, tmp_path: Path) -> None:
    draft = strip(Draft(ezdxf.filemanagement.new("R2010", units=4)))
    layer = draft.doc.layers.add("RIVET OLD")
    if how == "block":
        draft.doc.blocks.new("OLD").add_circle((0, 0), 5.5)
        hidden = draft.space.add_blockref("OLD", (300, 50), dxfattribs={"layer": "RIVET OLD"})
    else:
        hidden = draft.space.add_circle((300, 50), 5.5, dxfattribs={"layer": "rivet old"})
    if how == "invisible":
        hidden.dxf.invisible = 1
    elif how == "off":
        layer.off()
    else:
        layer.freeze()
    drawing = read_draft(draft, tmp_path)
    (finding,) = drawing.findings
    assert (finding.check, finding.where.handles) == ("hidden-layer", (hidden.dxf.handle,))
    assert (len(drawing.holes), drawing.account[-1].fate) == (13, "set aside")


def test_hidden_notes_are_nobodys_trouble(tmp_path: Path) -> None:
    draft = strip(Draft())
    draft.doc.layers.add("NOTE").freeze()
    assert read_draft(draft, tmp_path).findings == ()


def test_a_part_in_paper_space_is_pointed_at(tmp_path: Path) -> None:
    draft = Draft()
    poly = draft.doc.layout("Layout1").add_lwpolyline(STRIP, close=True)
    drawing = read_draft(draft, tmp_path)
    assert checks(drawing) == ["empty-drawing"]
    assert "paper space holds 1 entity" in drawing.findings[0].what
    assert poly.dxf.handle in {entry.handle for entry in drawing.paper}


@pytest.mark.parametrize("held", ["model space", "block", "array"])
@pytest.mark.parametrize("kind", ["CIRCLE", "ARC"])
def test_a_negative_radius_is_told_as_what_it_is(kind: str, held: str, tmp_path: Path) -> None:
    """GDAL leaves the sign of a circle out and draws an arc beyond its centre: what is meant nobody knows."""
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": "0.5"})
    draft = gusset(Draft())
    space = draft.space if held == "model space" else draft.doc.blocks.new("HELD")
    if kind == "CIRCLE":
        space.add_circle((80.0, 90.0), 7.123, dxfattribs={"layer": "CUT"})
    else:
        space.add_arc((80.0, 90.0), 7.123, 10.0, 80.0, dxfattribs={"layer": "CUT"})
    if held != "model space":
        grid = {"row_count": 2, "row_spacing": 20.0} if held == "array" else {}
        draft.space.add_blockref("HELD", (0.0, 0.0), dxfattribs={"layer": "CUT", **grid})
    text = text_of(draft)
    assert text.count("\n7.123\n") == 1
    drawing = read_text(text.replace("\n7.123\n", "\n-7.123\n"), tmp_path)
    (finding,) = [one for one in drawing.findings if one.check == "negative-radius"]
    assert drawing.account[-1].fate == "reported"
    assert finding.where.handles == (drawing.account[-1].handle,)
    if held == "model space":
        assert "has a negative radius: -7.123, which some programs draw" in finding.what
        assert finding.where.xy == (80.0, 90.0)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            _, _, geometry, _ = pyogrio.raw.read(tmp_path / "plate.dxf")
        lines = shapely.from_wkb(geometry)
        near = [
            one for one in lines if one.length < 2.01 * math.pi * 7.123 and one.distance(shapely.Point(80, 90)) < 7.2
        ]
        beyond = shapely.Point(80.0, 90.0) if kind == "CIRCLE" else shapely.Point(77.0, 87.0)
        assert any(shapely.box(*one.bounds).contains(beyond) for one in near)


# --- rounds drawn as straight lines -----------------------------------------------------------------------------------


def polygon(x: float, y: float, r: float, count: int, digits: int, first: float = 0.3) -> list[tuple[float, float]]:
    turn = first + np.arange(count) * math.tau / count
    return np.round(np.column_stack([x + r * np.cos(turn), y + r * np.sin(turn)]), digits).tolist()  # type: ignore[no-any-return]


def by_scipy(points: np.ndarray[Any, Any]) -> tuple[np.ndarray[Any, Any], float]:
    """Centre, radius and greatest residual of the circle by scipy's least squares on the true distances."""
    start = (*points.mean(axis=0), float(np.ptp(points[:, 0])) / 2.0)

    def off(p: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
        return np.hypot(points[:, 0] - p[0], points[:, 1] - p[1]) - p[2]  # type: ignore[no-any-return]

    fit = least_squares(off, start, xtol=1e-15)
    return fit.x, float(np.abs(fit.fun).max())


@pytest.mark.parametrize(
    ("count", "digits", "span"), [(36, 3, 36), (24, 2, 24), (60, 1, 60), (72, 3, 18), (200, 4, 30)]
)
def test_fits_are_those_of_scipy(count: int, digits: int, span: int) -> None:
    points = np.array(polygon(3000.0, -700.0, 40.0, count, digits)[:span])
    circle = fitted(points)
    assert circle is not None
    (x, y, r), residual = by_scipy(points)
    assert (circle.x, circle.y, circle.diameter / 2.0) == pytest.approx((x, y, r), abs=0.02 * 10.0**-digits)
    assert circle.error == pytest.approx(residual, abs=0.02 * 10.0**-digits)


def test_thirty_six_corners_of_five_rounded_to_a_thousandth(tmp_path: Path) -> None:
    """Rounding to 0.001 moves a corner by 0.00071 mm at most, and scipy's fit is off by no more and no less."""
    draft = gusset(Draft())
    draft.light(polygon(100.0, 100.0, 5.0, 36, 3, 0.0), "RIVET x")
    drawing = read_draft(draft, tmp_path, Intake(hole_diameters=(10.0, 11.0)))
    (fit,) = drawing.fits
    _, residual = by_scipy(np.array(polygon(100.0, 100.0, 5.0, 36, 3, 0.0)))
    assert fit.error == pytest.approx(residual, abs=1e-5)
    assert 0.0001 < fit.error < 0.00071
    assert fit.sag == pytest.approx(5.0 * (1.0 - math.cos(math.pi / 36.0)), abs=0.001)
    (number,) = [k for k, row in enumerate(drawing.holes.row) if row == "x"]
    assert drawing.holes.diameter[number] == pytest.approx(10.0, abs=0.0005)
    (finding,) = drawing.findings
    assert (finding.check, finding.measured) == ("drawn-in-chords", fit.error)
    assert "taken as true circles" in finding.what


@pytest.mark.parametrize(("corners", "radius"), [(6, 8.0), (7, 8.0), (8, 25.0), (11, 25.0)])
def test_a_hexagon_is_a_hexagon_and_a_large_octagon_one_too(corners: int, radius: float, tmp_path: Path) -> None:
    draft = gusset(Draft())
    draft.light(polygon(90.0, 90.0, radius, corners, 3))
    drawing = read_draft(draft, tmp_path)
    assert (drawing.findings, drawing.fits, len(drawing.cutouts)) == ((), (), 1)


@pytest.mark.parametrize("corners", [8, 11])
def test_an_octagon_of_a_holes_size_is_told_and_left_as_drawn(corners: int, tmp_path: Path) -> None:
    draft = gusset(Draft())
    draft.light(polygon(90.0, 90.0, 8.0, corners, 3))
    drawing = read_draft(draft, tmp_path)
    assert (checks(drawing), len(drawing.cutouts)) == (["drawn-in-chords"], 1)
    assert f"{corners} corners, left as drawn" in drawing.findings[0].what


@pytest.mark.parametrize("corners", [8, 11])
def test_on_a_layer_of_holes_an_octagon_is_a_hole(corners: int, tmp_path: Path) -> None:
    draft = gusset(Draft())
    draft.light(polygon(90.0, 90.0, 8.0, corners, 3), "BOLT")
    drawing = read_draft(draft, tmp_path)
    assert (checks(drawing), len(drawing.cutouts)) == (["drawn-in-chords"], 0)
    assert drawing.holes.diameter.max() == pytest.approx(16.0, abs=0.005)


def test_a_flat_ellipse_of_many_corners_is_no_circle(tmp_path: Path) -> None:
    draft = gusset(Draft())
    draft.light([(90.0 + 10.0 * math.cos(t), 90.0 + 9.9 * math.sin(t)) for t in np.linspace(0, math.tau, 49)[:-1]])
    assert len(read_draft(draft, tmp_path).cutouts) == 1


def test_arcs_of_short_lines_are_recognised_and_left_as_drawn(tmp_path: Path) -> None:
    """A slot with ends of 16 chords and a plate with one round corner of 9: true radii 12 and 50."""
    end = [math.radians(-90.0 + 180.0 * k / 16.0) for k in range(17)]
    right = [(300.0 + 12.0 * math.cos(t), 100.0 + 12.0 * math.sin(t)) for t in end]
    left = [(200.0 - 12.0 * math.cos(t), 100.0 - 12.0 * math.sin(t)) for t in end]
    corner = [math.radians(10.0 * k) for k in range(10)]
    plate = [(0.0, 0.0), (500.0, 0.0), *((450.0 + 50.0 * math.cos(t), 150.0 + 50.0 * math.sin(t)) for t in corner)]
    draft = Draft()
    draft.light([*plate, (0.0, 200.0)])
    draft.light([*right, *left])
    drawing = read_draft(draft, tmp_path)
    assert sorted(round(fit.diameter, 6) for fit in drawing.fits) == [24.0, 24.0, 100.0]
    assert {(round(fit.xy[0], 6), round(fit.xy[1], 6)) for fit in drawing.fits} == {
        (300.0, 100.0),
        (200.0, 100.0),
        (450.0, 150.0),
    }
    assert all(fit.error < 1e-9 and not fit.round for fit in drawing.fits)
    assert checks(drawing) == ["drawn-in-chords"] * 2
    assert -area(drawing.cutouts[0]) == pytest.approx(shapely.Polygon([*right, *left]).area, rel=1e-12)


# --- several pieces in one file ---------------------------------------------------------------------------------------


def sheet_of_parts() -> Draft:
    """A gusset, a washer, a frame with a cover in its waste, each with its mark."""
    draft = gusset(Draft())
    draft.note("G1", 50.0, 60.0)
    draft.light([(400.0, 0.0), (900.0, 0.0), (900.0, 400.0), (400.0, 400.0)])
    draft.light([(450.0, 50.0), (850.0, 50.0), (850.0, 350.0), (450.0, 350.0)])
    draft.light([(500.0, 100.0), (700.0, 100.0), (700.0, 250.0), (500.0, 250.0)])
    draft.row("frame", [(425.0, 30.0 + 40.0 * k) for k in range(9)])
    draft.row("lid", [(520.0, 120.0 + 40.0 * k) for k in range(3)])
    draft.note("F2", 420.0, 410.0)
    draft.note("C3", 560.0, 180.0)
    draft.hole(1000.0, 60.0, 90.0)
    draft.hole(1000.0, 60.0, 40.0)
    draft.note("W4", 960.0, 120.0)
    return draft


def test_several_pieces_are_split_and_labelled(tmp_path: Path) -> None:
    drawing = read_draft(sheet_of_parts(), tmp_path)
    got = {shape.label: (len(shape.cutouts), len(shape.holes)) for shape in drawing.shapes}
    assert got == {"F2": (1, 9), "gusset, marked face up": (0, 9), "C3": (0, 3), "W4": (0, 1)}
    (finding,) = drawing.findings
    assert (finding.check, finding.measured) == ("more-than-one-profile", 4.0)
    assert all(label in finding.what for label in got)
    assert sum(len(shape.holes) for shape in drawing.shapes) == len(drawing.holes)


MARKS: dict[str, float | None] = dict.fromkeys(("F2", "G1", "C3", "W4"))


def test_each_piece_is_a_drawing_of_its_own(tmp_path: Path) -> None:
    """A mark may be the piece's largest text, or stand among its texts as a word of its own."""
    drawing = read_draft(sheet_of_parts(), tmp_path)
    shares = shared_out(drawing, MARKS)
    assert shares.rest is None
    parts = list(shares.pieces.values())
    assert [part.name for part in parts] == [f"plate.dxf ({mark})" for mark in MARKS]
    handles = [entry.handle for part in parts for entry in part.account]
    assert sorted(handles) == sorted(entry.handle for entry in drawing.account)
    assert {entry.fate for part in parts for entry in part.account} == {"used", "set aside"}
    alone = read_draft(gusset(Draft()), tmp_path)
    assert shared_out(alone, MARKS).pieces["C3"] is alone
    same = shares.pieces["G1"]
    assert fingerprint(replace(same, labels=())) == fingerprint(replace(alone, labels=())), "its label is its own"


def test_what_goes_with_no_part_is_the_rest(tmp_path: Path) -> None:
    """A frame whose mark the job does not have, a hole beside all pieces, a mark that no piece bears."""
    draft = sheet_of_parts()
    draft.hole(350.0, 300.0, 11.0, "RIVET astray")
    drawing = read_draft(draft, tmp_path)
    shares = shared_out(drawing, {"G1": 6.0, "C3": 6.0, "W4": 6.0, "X9": 6.0})
    rest = shares.rest
    assert rest is not None
    told = {finding.check: finding for finding in rest.findings}
    assert set(told) == {"more-than-one-profile", "hole-outside"}
    assert "F2" in told["more-than-one-profile"].what
    assert told["hole-outside"].where.xy == (350.0, 300.0)
    (missing,) = shares.pieces["X9"].findings
    assert (missing.check, missing.where.drawing) == ("more-than-one-profile", "plate.dxf (X9)")
    every = [entry.handle for share in (*shares.pieces.values(), rest) for entry in share.account]
    assert sorted(every) == sorted(entry.handle for entry in drawing.account)
    assert rest.scanned + sum(part.scanned for part in shares.pieces.values()) == drawing.scanned


def test_the_other_hand_of_several_pieces_is_that_of_each(tmp_path: Path) -> None:
    drawing = read_draft(sheet_of_parts(), tmp_path)
    one_by_one = [other_hand(part).fingerprint for part in shared_out(drawing, MARKS).pieces.values()]
    mirrored = shared_out(other_hand(drawing), MARKS).pieces.values()
    assert [part.fingerprint for part in mirrored] == one_by_one


def test_a_row_as_long_as_a_sieve_is_numbered_by_place(tmp_path: Path) -> None:
    """Following a row of n holes costs n squared; beyond 3000 each is numbered by y, then x."""
    draft = Draft()
    draft.light([(0.0, 0.0), (2480.0, 0.0), (2480.0, 2000.0), (0.0, 2000.0)])
    places = [(40.0 + 40.0 * x, 40.0 + 40.0 * y) for y in range(48) for x in range(60)]
    draft.row("a", [*places, *((x + 20.0, y + 20.0) for x, y in places[:200])])
    draft.row("b", [(20.0, 100.0), (20.0, 60.0)])
    drawing = read_draft(draft, tmp_path)
    long = [k for k, row in enumerate(drawing.holes.row) if row == "a"]
    expected = sorted(drawing.holes.xy[long].tolist(), key=lambda place: (place[1], place[0]))
    assert drawing.holes.xy[long].tolist() == expected
    assert [drawing.holes.number[k] for k in long] == [f"a {k}" for k in range(1, 3081)]
    assert drawing.holes.number[:2] == ("b 1", "b 2")


# --- GDAL -------------------------------------------------------------------------------------------------------------


def test_areas_are_those_of_gdal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Mirrored and nested blocks in an array, splines, ellipses, old polylines: closed areas by GDAL within 0.1 %."""
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": "0.5"})
    draft = Draft(ezdxf.filemanagement.new("R2010", units=4))
    block = draft.doc.blocks.new("SLOT", base_point=(5.0, 0.0))
    block.add_lwpolyline([(0, 0, 0), (40, 0, 1), (40, 10, 0), (0, 10, 1)], format="xyb", close=True)
    nest = draft.doc.blocks.new("PAIR")
    nest.add_blockref("SLOT", (0, 0), dxfattribs={"xscale": -1.0, "rotation": 20.0})
    nest.add_ellipse((70.0, 30.0), (12.0, 5.0), 0.4)
    draft.light([(-200.0, -200.0), (700.0, -200.0), (700.0, 500.0, 0.3), (-200.0, 500.0)])
    grid = {"column_count": 3, "row_count": 2, "column_spacing": 180.0, "row_spacing": 160.0, "layer": "CUT"}
    draft.space.add_blockref("PAIR", (0.0, 0.0), dxfattribs={**grid, "xscale": -1.2, "yscale": 1.2})
    draft.space.add_polyline2d(
        [(600.0, 0.0, 0.5), (640.0, 0.0, 0.5), (640.0, 60.0, 0.5)],
        format="xyb",
        close=True,
        dxfattribs={"layer": "CUT"},
    )
    drawing = read_draft(draft, tmp_path)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        _, _, geometry, _ = pyogrio.raw.read(tmp_path / "plate.dxf")
    lines = shapely.from_wkb(geometry)
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
    truth = sorted(shapely.Polygon(face.exterior).area for face in faces)
    assert drawing.outline is not None
    own = sorted(abs(area(profile)) for profile in (drawing.outline, *drawing.cutouts))
    assert len(own) == 14
    assert own == pytest.approx(truth, rel=1e-3)


# --- bounded time -----------------------------------------------------------------------------------------------------


def nested_blocks(draft: Draft, deep: int, wide: int, core: bool) -> str:
    """Blocks within blocks, `wide` in each; the innermost is empty or holds a circle."""
    inner = draft.doc.blocks.new("L0")
    if core:
        inner.add_circle((0, 0), 1)
    for level in range(1, deep):
        block = draft.doc.blocks.new(f"L{level}")
        for k in range(wide):
            block.add_blockref(f"L{level - 1}", (k, 0))
    return f"L{deep - 1}"


@pytest.mark.parametrize("how", ["empty", "circles", "array", "many"])
def test_blocks_that_would_go_on_and_on_come_to_an_end(how: str, tmp_path: Path) -> None:
    """Ten to the eighteenth blocks, empty ones too; an array of a thousand million: told, within seconds."""
    draft = strip(Draft())
    name = nested_blocks(draft, 19, 10, how == "circles")
    grid: dict[str, Any] = {"layer": "CUT"}
    if how == "array":
        many: dict[str, Any] = {"row_count": 32000, "column_count": 32000, "row_spacing": 1.0, "column_spacing": 1.0}
        name, grid = "L0", {**grid, **many}
    for _ in range(40 if how == "many" else 1):
        draft.space.add_blockref(name, (0, 0), dxfattribs=grid)
    start = time.perf_counter()
    drawing = read_draft(draft, tmp_path)
    assert time.perf_counter() - start < 60.0
    assert checks(drawing) == ["unsupported-entity"]
    assert "blocks give the drawing more than" in drawing.findings[0].what


@pytest.mark.parametrize(
    ("deep", "scale", "why"),
    [
        (19, b"1.5", ""),
        (30, b"1.5", "it holds blocks within blocks, more than 20 deep"),
        (1, b"0.0", "a scale of its block is 0"),
    ],
)
def test_what_keeps_a_block_from_being_shown_is_told_as_it_is(
    deep: int, scale: bytes, why: str, tmp_path: Path
) -> None:
    draft = strip(Draft())
    name = nested_blocks(draft, deep, 1, True)
    draft.space.add_blockref(name, (300, 30), dxfattribs={"layer": "CUT", "xscale": 1.5, "yscale": 1.5})
    path = tmp_path / "plate.dxf"
    draft.doc.saveas(path)
    path.write_bytes(path.read_bytes().replace(b"\n 41\n1.5\n", b"\n 41\n%b\n" % scale))
    drawing = read_drawing(path)
    assert checks(drawing) == ["unsupported-entity"] * bool(why)
    assert all(finding.what.endswith(why) for finding in drawing.findings)


@pytest.mark.parametrize("kind", ["text", "attrib"])
def test_a_text_without_measure_is_read_within_seconds(kind: str, tmp_path: Path) -> None:
    """Five million signs: the reader's search for codes in a TEXT costs the square of its length."""
    draft = strip(Draft(ezdxf.filemanagement.new("R2010")))
    said, note = "%%uA" * 1_250_000, {"layer": "NOTE"}
    if kind == "text":
        draft.space.add_text(said, dxfattribs=note)
    else:
        draft.doc.blocks.new("TITLE").add_attdef("SAID", (0, 0))
        draft.space.add_blockref("TITLE", (0, 0), dxfattribs=note).add_attrib("SAID", said, (0, 0), dxfattribs=note)
    start = time.perf_counter()
    drawing = read_draft(draft, tmp_path)
    assert time.perf_counter() - start < 60.0
    assert drawing.account[-1].fate == "set aside"


@pytest.mark.parametrize("size", [1e5, 1e9, 1e14, 1e300])
def test_curves_of_absurd_size_come_to_an_end(size: float, tmp_path: Path) -> None:
    draft = strip(Draft())
    draft.space.add_ellipse((0, 0), (size, 0), 0.5, dxfattribs={"layer": "NOTE"})
    draft.space.add_spline([(0, 0), (size, size), (size, 0)], dxfattribs={"layer": "MARK"})
    drawing = read_draft(draft, tmp_path)
    assert ("bad-coordinates" in checks(drawing)) == (size > 1e10)
    assert len(drawing.marks) == (size < 1e10)


def test_a_long_curve_far_off_has_a_bounded_count_of_chords(tmp_path: Path) -> None:
    """2,000 points strewn over a square of 2e9: a hundredth of a millimetre would take thousands of millions."""
    draft = strip(Draft())
    points = np.random.default_rng(0).uniform(-1e9, 1e9, (300, 2))
    draft.space.add_spline(dxfattribs={"layer": "MARK"}).control_points = [(x, y, 0.0) for x, y in points]
    draft.space.add_spline([(5 * k, 8 * (k % 2)) for k in range(300)], dxfattribs={"layer": "MARK"})
    far, near = read_draft(draft, tmp_path).marks
    assert len(points) < len(far.points) < 1_000_000
    fine = np.array([point.vec2 for point in draft.space[-1].flattening(1e-4)])
    away = shapely.distance(shapely.LineString(near.points), shapely.points(fine)).max()
    assert away <= 0.0101, "a curve of this world keeps its hundredth"


def test_a_heap_of_thousands_of_like_holes_and_a_text_without_measure(tmp_path: Path) -> None:
    draft = strip(Draft())
    for _ in range(3000):
        draft.hole(300.0, 45.0, 11.0, "RIVET lap")
    draft.space.add_mtext("word \\P{\\fArial;x} " * 50_000, dxfattribs={"layer": "NOTE"})
    drawing = read_draft(draft, tmp_path)
    assert len(drawing.holes) == len(STRIP_ROW) + 1
    assert checks(drawing) == ["doubled-line"]
    assert max(len(label.text) for label in drawing.labels) <= 10_000
    assert sum(entry.fate == "reported" for entry in drawing.account) == 2999


def test_a_circle_drawn_as_a_spline_is_one_with_its_error(tmp_path: Path) -> None:
    """A cubic spline through points of a circle is none: through 32 it lies near enough, through 8 it does not.

    Judge: its distances from the circle that scipy lays through ezdxf's own fine flattening.
    """
    draft = gusset(Draft())
    for count, x in ((33, 90.0), (9, 50.0)):
        turn = np.linspace(0.0, math.tau, count)
        points = [(x + 8.0 * math.cos(t), 110.0 + 8.0 * math.sin(t)) for t in turn]
        spline = draft.space.add_spline(points, dxfattribs={"layer": "CUT"})
        if count == 33:
            _, residual = by_scipy(np.array([point.vec2 for point in spline.flattening(1e-4)]))
    drawing = read_draft(draft, tmp_path)
    (fit,) = drawing.fits
    assert (fit.corners, fit.sag) == (0, 0.0)
    assert fit.error == pytest.approx(residual, rel=0.2)
    assert checks(drawing) == ["drawn-in-chords"]
    assert (drawing.holes.purpose.count("open"), len(drawing.cutouts)) == (1, 1)
