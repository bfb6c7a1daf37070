"""What a body tells of a piece stands on the check sheet of its drawing, before the DXF goes out."""

from dataclasses import replace
from pathlib import Path

import ezdxf.filemanagement
import numpy as np
import pypdf
import pytest
import shapely

from fabplan.model.joints import RivetSpec
from fabplan.model.page import Arc, Page, Stroke, Text
from fabplan.model.plan import Plan
from fabplan.sheets.check_sheet import check_sheet, check_sheets
from fabplan.sheets.clip import clipped
from fabplan.sheets.lint import lint
from fabplan.sheets.pen import box
from fabplan.sheets.report import report
from fabplan.sheets.schedule import drawing_schedule
from fabplan.way.check import check_files
from fabplan.way.look import Outcome, Wanted, look
from fabplan.way.papers import write_check_sheet
from fabplan.way.plan import plan
from tests.kits.defects import hole_missing, places
from tests.kits.draw import write_drawings
from tests.kits.job_file import job_text
from tests.kits.random_kits import box as random_box

KIT = random_box(0)
PLACE = places(KIT, "F1", "Aw")[-1]  # of the floor's hole whose mate is left out, as the kit was built in space


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A box whose floor angle A2 has one hole too few at the end of its row."""
    folder = tmp_path_factory.mktemp("box")
    kit = hole_missing(KIT, "A2", "Aw", -1)
    write_drawings(kit, folder)
    (folder / "job.toml").write_text(job_text(kit), "utf-8")
    return folder / "job.toml"


@pytest.fixture(scope="module")
def made(job: Path) -> Plan:
    return plan(job)


def words(page: Page) -> str:
    return " ".join(item.text for item in page.items if isinstance(item, Text))


def test_a_hole_without_a_mate_is_ringed_and_listed_on_its_drawing(made: Plan) -> None:
    (floor,) = (one for one in made.checked if one.drawing.name == "F1.dxf")
    (lone,) = (finding for finding in floor.of_body if finding.check == "no-mate")
    assert lone.where.xy == pytest.approx(PLACE)
    page = check_sheet(floor, made.job)[0]
    assert "no-mate:" in words(page)
    assert f"hole {lone.where.holes[0]}" in words(page)
    listed = sorted([*floor.findings, *floor.of_body], key=lambda one: one.level)
    number = next(n for n, one in enumerate(listed, start=1) if one is lone)
    assert number in {ring.number for ring in page.rings}
    assert lint(page) == ()


def test_every_sheet_is_struck_for_the_stops_of_the_plan(made: Plan) -> None:
    """The stops are on the floor and on bars; the sides and ends, without one, must not go out either."""
    stops = sum(finding.blocks for finding in made.findings)
    assert stops > 0
    assert sum(any(finding.blocks for finding in one.findings) for one in made.checked) == 1
    pages = check_sheets(made)
    assert len(pages) >= len(made.checked)
    for page in pages:
        assert f"Not for issue: {stops} stop" in words(page)
        assert lint(page) == ()


def test_a_drawing_by_itself_is_not_struck_for_its_body(job: Path, tmp_path: Path) -> None:
    outcome = look(Wanted(job.parent / "S1.dxf"))
    assert "Not for issue" not in _printed(outcome, tmp_path)
    assert "Not for issue" in _printed(look(Wanted(job)), tmp_path)


def _printed(outcome: Outcome, folder: Path) -> str:
    """The check sheets as pypdf reads them."""
    write_check_sheet(outcome, folder / "sheet.pdf")
    return " ".join(page.extract_text() for page in pypdf.PdfReader(folder / "sheet.pdf").pages)


def test_findings_of_the_body_are_of_its_own_piece_alone(bowser_plan: Plan, made: Plan) -> None:
    for one in [*bowser_plan.checked, *made.checked]:
        assert one.part is not None
        assert all(finding.where.part.startswith(one.part.spec.mark) for finding in one.of_body)
    assert "F1.dxf" in {one.drawing.name for one in made.checked if one.of_body}


def test_up_to_six_holes_of_one_finding_are_ringed_each(made: Plan) -> None:
    (floor,) = (one for one in made.checked if one.drawing.name == "F1.dxf")
    (lone,) = (finding for finding in floor.of_body if finding.check == "no-mate")
    for count, rings in ((1, 1), (6, 6), (7, 1)):
        holes, xy = floor.drawing.holes.number[:count], floor.drawing.holes.xy[0]
        where = replace(lone.where, holes=holes, xy=(float(xy[0]), float(xy[1])))
        (page,) = check_sheet(replace(floor, findings=(), of_body=(replace(lone, where=where),)), made.job)
        assert len(page.rings) == rings
        assert lint(page) == ()


def test_lines_that_are_not_cut_have_a_key_and_texts_their_words(faulty: Outcome) -> None:
    """The lines are those that the drawings were made with: a fold, a layer without a role, a face to be marked."""
    told = {one.drawing.name: one for one in faulty.checked}
    for name, key in (
        ("near-fold.dxf", "dashed: fold"),
        ("near-fold.roll.dxf", "long dashes: roll"),
        ("layer-without-role.dxf", "dotted: set aside, not cut"),
        ("open-profile.dxf", "heavy: a cut that does not close"),
        ("hole-for-rivet.dxf", ""),
    ):
        page = words(check_sheet(told[name], faulty.job)[0])
        assert (key in page) if key else not any(word in page for word in ("dashed:", "dotted:", "heavy:"))
    stated = words(check_sheet(told["thickness-differs.dxf"], faulty.job)[0])
    assert any(f'text: "{label.text}"' in stated for label in told["thickness-differs.dxf"].drawing.labels)


@pytest.fixture(scope="module")
def faulty() -> Outcome:
    return look(Wanted(Path(__file__).parents[2] / "drawings" / "faulty"))


@pytest.mark.parametrize("seed", range(20))
def test_a_line_over_the_edge_of_the_picture_is_cut_off_there(seed: int) -> None:
    """Judge: shapely's intersection of the line with the box."""
    points = np.random.default_rng(seed).uniform(-20.0, 60.0, (8, 2))
    box_of = (0.0, 0.0, 40.0, 30.0)
    runs = clipped([(float(x), float(y)) for x, y in points], box_of)
    expected = shapely.intersection(shapely.LineString(points), shapely.box(*box_of))
    drawn = shapely.unary_union([shapely.LineString(run) for run in runs]) if runs else shapely.LineString()
    assert drawn.length == pytest.approx(expected.length)
    assert drawn.hausdorff_distance(expected) < 1e-6 if runs else expected.is_empty


def test_a_line_within_the_picture_stays_one() -> None:
    """And one that runs out and in again is two."""
    inside = [(1.0, 1.0), (3.0, 1.0), (3.0, 2.0)]
    assert clipped(inside, (0.0, 0.0, 4.0, 4.0)) == [tuple(inside)]
    out = [(1.0, 1.0), (5.0, 1.0), (5.0, 2.0), (1.0, 2.0)]
    assert clipped(out, (0.0, 0.0, 4.0, 4.0)) == [((1.0, 1.0), (4.0, 1.0)), ((4.0, 2.0), (1.0, 2.0))]
    assert clipped([(5.0, 0.0), (5.0, 4.0)], (0.0, 0.0, 4.0, 4.0)) == []


def test_a_leader_passes_no_other_hole(bowser_plan: Plan) -> None:
    """The strap B1: two rows at one height; measured here with shapely, all holes as points on the paper."""
    found = 0
    for one in bowser_plan.checked:
        page = check_sheet(one, bowser_plan.job)[0]
        circles = [item for item in page.items if isinstance(item, Arc) and item.fill == 1.0]
        leaders = [item for item in page.items if isinstance(item, Stroke) and item.width == 0.1 and not item.closed]
        middles = {circle.centre for circle in circles}
        for line in (one for one in leaders if one.points[0] in middles and one.points[1] not in middles):
            others = [circle for circle in circles if circle.centre != line.points[0]]
            path = shapely.LineString(line.points)
            assert all(path.distance(shapely.Point(circle.centre)) > circle.radius for circle in others)
            found += 1
    assert found >= 6


def test_each_of_several_pieces_is_drawn_named_and_sized(tmp_path: Path) -> None:
    """Sizes, runs and places are those put into the drawing."""
    document = ezdxf.filemanagement.new("R2010", units=4)
    space = document.modelspace()
    for x, y, wide, high, name, count in ((0, 0, 500, 200, "F1", 12), (0, 240, 300, 120, "G2", 6)):
        ring = [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]
        space.add_lwpolyline(ring, close=True, dxfattribs={"layer": "CUT"})
        for k in range(count):
            space.add_circle((x + 30 + 40 * k, y + 30), 5.5, dxfattribs={"layer": "RIVET A"})
        space.add_text(name, height=15, dxfattribs={"layer": "NOTE", "insert": (x + wide / 2, y + high / 2)})
    document.saveas(tmp_path / "two.dxf")
    (one,) = check_files([tmp_path / "two.dxf"], (6.0, None), "en1993-1-8-2005", str)
    pages = check_sheet(one, None)
    assert [fault for page in pages for fault in lint(page)] == []
    first, large, small = (words(page) for page in pages[:3])
    assert "Holes of F1: 12 holes" in first
    assert "Holes of G2: 6 holes" in first
    assert "11 @ 40 = 440" in first
    assert "5 @ 40 = 200" in first
    assert "500.0 x 200.0" in large
    assert "12" in large
    assert "30 30" in large
    assert "300.0 x 120.0" in small
    assert "5 @ 40 = 200" in small
    assert "30 30" in small
    metal = [[item for item in page.items if isinstance(item, Stroke) and item.fill == 0.95] for page in pages[:3]]
    assert [len(own) for own in metal] == [2, 1, 1]
    groups = drawing_schedule(one.drawing)
    assert [(group.row, len(group.holes), group.runs) for group in groups] == [
        ("A of F1", 12, "11 @ 40 = 440"),
        ("A of G2", 6, "5 @ 40 = 200"),
    ]
    assert sorted(hole for group in groups for hole in group.holes) == list(range(18))


def two_folded(path: Path) -> None:
    """Two equal plates, their fold lines drawn 10 mm past both edges; a bolt of the second 3 mm from its fold."""
    document = ezdxf.filemanagement.new("R2010", units=4)
    space = document.modelspace()
    for x in (0.0, 500.0):
        ring = [(x, 0.0), (x + 400.0, 0.0), (x + 400.0, 180.0), (x + 60.0, 200.0), (x, 200.0)]
        space.add_lwpolyline(ring, close=True, dxfattribs={"layer": "CUT"})
        space.add_line((x - 10.0, 80.0), (x + 410.0, 80.0), dxfattribs={"layer": "FOLD 1"})
    space.add_circle((700.0, 90.0), 7.0, dxfattribs={"layer": "BOLT"})
    document.saveas(path)


def test_the_page_of_a_piece_shows_its_folds_and_explains_its_rings(tmp_path: Path) -> None:
    two_folded(tmp_path / "two.dxf")
    (one,) = check_files([tmp_path / "two.dxf"], (6.0, None), "en1993-1-8-2005", str)
    pages = check_sheet(one, None)
    assert [fault for page in pages for fault in lint(page)] == []
    second = next(page for page in pages if "piece 2, of two.dxf" in words(page))
    folds = [item for item in second.items if isinstance(item, Stroke) and item.dash == (4.0, 1.5)]
    assert len(folds) == 1
    assert "near-fold: hole 1 3.0 mm from fold line FOLD 1" in words(second)
    column = {item.text for item in second.items if isinstance(item, Text) and not item.bold}
    assert second.rings
    assert {str(ring.number) for ring in second.rings} <= column


def test_overall_sizes_and_places_of_holes_are_those_of_the_plate(tmp_path: Path) -> None:
    """A hole drawn 20 mm left of a plate of 400 x 300 makes it no wider, and moves no other."""
    document = ezdxf.filemanagement.new("R2010", units=4)
    space = document.modelspace()
    ring = [(0.0, 0.0), (400.0, 0.0), (400.0, 300.0), (0.0, 300.0)]
    space.add_lwpolyline(ring, close=True, dxfattribs={"layer": "CUT"})
    space.add_circle((-20.0, 150.0), 5.5, dxfattribs={"layer": "RIVET B"})
    for k in range(6):
        space.add_circle((35.0 + 60.0 * k, 25.0), 5.5, dxfattribs={"layer": "RIVET A"})
    document.saveas(tmp_path / "plate.dxf")
    outcome = look(Wanted(tmp_path / "plate.dxf", thickness=6.0))
    (page, *_) = check_sheet(outcome.checked[0], None)
    texts = [item.text for item in page.items if isinstance(item, Text)]
    assert {"400", "300", "35 25", "-20 150"} <= set(texts)
    assert "420" not in texts
    screen = report(outcome.checked, None, outcome.findings)
    assert ">400</text>" in screen
    assert ">420</text>" not in screen
    assert "35, 25" in screen


def test_numbers_of_rings_in_a_row_cover_no_ring_and_keep_apart(tmp_path: Path) -> None:
    """Six holes 30 mm apart, too near to the edge in two ways; at 1:2.5 twelve millimetres of paper between them."""
    document = ezdxf.filemanagement.new("R2010", units=4)
    space = document.modelspace()
    ring = [(0.0, 0.0), (400.0, 0.0), (400.0, 300.0), (0.0, 300.0)]
    space.add_lwpolyline(ring, close=True, dxfattribs={"layer": "CUT"})
    for k in range(6):
        space.add_circle((40.0 + 30.0 * k, 8.0), 5.5, dxfattribs={"layer": "RIVET A"})
    document.saveas(tmp_path / "plate.dxf")
    known = (6.0, RivetSpec("R10", 10.0, 11.0))
    (one,) = check_files([tmp_path / "plate.dxf"], known, "en1993-1-8-2005", str)
    (page, *_) = check_sheet(one, None)
    names = [item for item in page.items if isinstance(item, Text) and item.bold and item.halo]
    assert len(names) == 6
    boxes = [shapely.box(*box(name)) for name in names]
    assert min(a.distance(b) for k, a in enumerate(boxes) for b in boxes[:k]) >= 1.0
    rings = [shapely.Point(ring.centre).buffer(ring.radius) for ring in page.rings]
    assert not any(own.intersects(ring) for own in boxes for ring in rings)
