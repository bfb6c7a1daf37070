"""An old bracket measured hole by hole: its pattern is master, never mirrored or smoothed, its oval hole told."""

import re
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.distance import pdist
from scipy.spatial.transform import Rotation

from fabplan.errors import JobError
from fabplan.forecast.makes import make_of
from fabplan.geom.laid_over import laid_over
from fabplan.model.arrays import FloatArray
from fabplan.model.plan import Plan
from fabplan.rules.tolerances import read_tolerances
from fabplan.sheets.check_sheet import check_sheet
from fabplan.sheets.lint import lint
from fabplan.sheets.measured_sheet import measured_sheets
from fabplan.sheets.record import plan_record
from fabplan.way.assembly import assembled
from fabplan.way.forecast import foretell
from fabplan.way.plan import plan
from tests.body.plates import BEND, FLAT, FOLDED, along, draw, plate
from tests.body.plates import planned as pieced
from tests.kits.build import Array, Frame, Kit, Piece, Plate, Seam, drilled, rectangle
from tests.kits.draw import write_drawings
from tests.kits.job_file import job_text
from tests.kits.random_kits import STATED, X, Y, Z
from tests.sheets.words import words_of

ACROSS = np.array([40.0, 80.0, 120.0, 160.0, 200.0, 242.0, 280.0])
HOLES: Array = np.vstack([np.c_[ACROSS, np.full(7, 40.0)], np.c_[ACROSS, np.full(7, 100.0)]])


def kit() -> Kit:
    """A bracket of 14 holes in two lines, on a new plate."""
    pieces: list[Piece] = [
        Plate("N1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(320.0, 140.0), 6.0, keys=STATED),
        Plate("B1", Frame((0.0, 0.0, 6.0), X, Y), rectangle(320.0, 140.0), 6.0, keys=STATED),
    ]
    seams = [Seam("A", ("N1", "B1"), np.hstack([HOLES, np.zeros((14, 1))]), Z, {"head": "inside"})]
    return drilled(Kit(pieces, seams, {"title": "Bracket", "number": "K6", "datum": "N1", "drawings": "."}))


def by_tape(places: FloatArray, sizes: str, holes: str = "") -> dict[str, str]:
    """Tables of what a tape shows: running along both lines, then "0-13+2" from hole 0 to hole 13, 2 mm too much."""
    rows = []
    for first in (0, 7):
        unit = (places[first + 6] - places[first]) / np.linalg.norm(places[first + 6] - places[first])
        for k in range(first + 1, first + 7):
            way = places[k] - places[first]
            off = f"{unit[0] * way[1] - unit[1] * way[0]:.3f}"
            rows.append(f"A {first + 1},A {k + 1},{way @ unit:.3f},A {first + 7},{off}")
    for one, other, more in re.findall(r"(\d+)-(\d+)((?:[+-][\d.]+)?)(?: |$)", sizes):
        apart = np.linalg.norm(places[int(other)] - places[int(one)]) + float(more or 0.0)
        rows.append(f"A {int(one) + 1},A {int(other) + 1},{apart:.3f},,")
    tables = {"tape": "\n".join(["from,to,length,along,off", *rows])}
    return tables | ({"holes": "hole,diameter,least_diameter\n" + holes} if holes else {})


def planned_by(folder: Path, tables: dict[str, str], accuracy: float = 0.3) -> Plan:
    """The plan with the bracket measured by tables of the job."""
    write_drawings(kit(), folder)
    for name, table in tables.items():
        (folder / f"{name}.csv").write_text(table, "utf-8")
    named = ", ".join(f'{name} = "{name}.csv"' for name in tables)
    measured = f'measured = {{ {named}, accuracy = {accuracy}, source = "steel tape" }}'
    text = job_text(kit()).replace('mark = "B1"\n', f'mark = "B1"\n{measured}\n')
    (folder / "job.toml").write_text(text, "utf-8")
    return plan(folder / "job.toml")


def planned(
    folder: Path, sizes: FloatArray, more: dict[int, str] | None = None, *, drawn: FloatArray | None = None
) -> Plan:
    """The plan with the bracket measured: `sizes` (14, 2) hole by hole, `more` the diameters of some.

    The new plate has its holes where the bracket's are drawn, or at `drawn`.
    """
    folder.mkdir(exist_ok=True)
    made = kit()
    plate = made.piece("N1")
    if drawn is not None and isinstance(plate, Plate):
        plate.rows["A"] = drawn
    write_drawings(made, folder)
    rows = [f"A {k + 1},{x:.3f},{y:.3f},{(more or {}).get(k, ',')}" for k, (x, y) in enumerate(sizes.tolist())]
    (folder / "bracket.csv").write_text("\n".join(["hole,x,y,diameter,least_diameter", *rows]), "utf-8")
    measured = 'measured = { holes = "bracket.csv", accuracy = 0.3, source = "steel tape" }'
    text = job_text(kit()).replace('mark = "B1"\n', f'mark = "B1"\n{measured}\n')
    (folder / "job.toml").write_text(text, "utf-8")
    return plan(folder / "job.toml")


def numbered() -> FloatArray:
    """The places in the order of the numbers of the check sheet: along x, the lower line first."""
    return HOLES.copy()


def elsewhere(places: FloatArray) -> FloatArray:
    """The same places in other axes: from another datum hole, the tape laid at 37 degrees."""
    turn = Rotation.from_euler("z", 37.0, degrees=True).as_matrix()[:2, :2]
    return places @ turn.T + [812.0, -95.0]


def told(found: Plan, check: str) -> list[str]:
    return [one.what for one in found.findings if one.check == check]


def test_the_fit_against_scipy() -> None:
    """`align_vectors` of points about their middles, held upright by two vectors along z that outweigh them."""
    rng = np.random.default_rng(1)
    own = rng.uniform(0.0, 600.0, (20, 2))
    fixed = elsewhere(own) + rng.normal(0.0, 0.5, (20, 2))
    a, b = (np.c_[one - one.mean(axis=0), np.zeros(20)] for one in (own, fixed))
    up = np.array([[0.0, 0.0, 1.0], [0.0, 0.0, -1.0]])
    turn, _ = Rotation.align_vectors(np.vstack([b, up]), np.vstack([a, up]), weights=np.r_[np.ones(20), 1e9, 1e9])
    assert laid_over(own, fixed) == pytest.approx(turn.apply(a)[:, :2] + fixed.mean(axis=0), abs=1e-4)


def test_the_pattern_that_was_measured_is_that_of_the_body(tmp_path: Path) -> None:
    """One hole 0.8 mm out along x: the mate's hole, drawn, is that far from it; the thirteen others hold the piece."""
    sizes = numbered()
    sizes[3, 0] += 0.8
    found = planned(tmp_path, elsewhere(sizes))
    (what,) = told(found, "measured-holes")
    assert "14 holes are taken as measured (steel tape)" in what
    assert "1 off the drawing by more than the accuracy of 0.3 mm, the worst A 4" in what
    assert found.stacks is not None
    out = dict(zip(found.stacks.number, found.stacks.misfit.tolist(), strict=True))
    assert out["A 4"] == pytest.approx(0.8, abs=0.01)
    assert max(out[f"A {k}"] for k in (1, 7, 8, 14)) < 0.1


def test_an_oval_hole_is_told_by_its_sizes(tmp_path: Path) -> None:
    found = planned(tmp_path, numbered(), {5: "12.4,11.2"})
    assert told(found, "oval-hole") == ["B1: hole A 6 is oval, 12.4 by 11.2 mm, diameters within 0.2 mm"]
    assert told(found, "measured-grows") == []


def test_a_row_that_grows_is_told_and_one_hole_astray_is_not(tmp_path: Path) -> None:
    """Each line stretched by 1 in 200: 240 mm become 241.2."""
    found = planned(tmp_path, numbered() * [1.005, 1.0])
    (what,) = told(found, "measured-grows")
    assert "row A is 1.20 mm longer than drawn" in what


def test_a_pattern_measured_on_the_wrong_face_is_not_taken(tmp_path: Path) -> None:
    found = planned(tmp_path, numbered() * [-1.0, 1.0])
    assert len(told(found, "measured-mirrored")) == 1
    assert told(found, "measured-holes") == []
    assert found.stacks is not None
    assert found.stacks.misfit.max() < 0.01


def test_holes_that_no_drawing_has_are_told(tmp_path: Path) -> None:
    planned(tmp_path, numbered())
    table = tmp_path / "bracket.csv"
    table.write_text(table.read_text("utf-8").replace("A 14,", "A 15,"), "utf-8")
    found = plan(tmp_path / "job.toml")
    assert told(found, "measured-unknown") == ["B1: 1 measured holes are not on its drawing: A 15"]


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("A 2,", "A 1,", "hole A 1 was measured 2 times"),
        ("A 2,80.000", "A 2,eighty", "x"),
        ("hole,x,y", "hole,z,y", "z"),
    ],
)
def test_faults_of_the_table_are_told_with_their_row(tmp_path: Path, old: str, new: str, fault: str) -> None:
    planned(tmp_path, numbered())
    table = tmp_path / "bracket.csv"
    table.write_text(table.read_text("utf-8").replace(old, new), "utf-8")
    with pytest.raises(JobError) as failed:
        plan(tmp_path / "job.toml")
    assert any(fault in f"{one}" for one in failed.value.faults)


def test_the_tape_tells_the_pattern_too(tmp_path: Path) -> None:
    """Two rows by running sizes, two diagonals and both ends: hole A 4 is 0.8 mm out, and A 11 0.6 mm beside."""
    steel = numbered()
    steel[3, 0] += 0.8
    steel[10, 1] += 0.6
    found = planned_by(tmp_path, by_tape(steel, "0-13 6-7 0-7 6-13"))
    (what,) = told(found, "measured-holes")
    assert "2 off the drawing by more than the accuracy of 0.3 mm, the worst A 4" in what
    (record,) = found.measured
    assert pdist(record.laid) == pytest.approx(pdist(steel), abs=2e-3)
    assert record.by_tape[:, 0] == pytest.approx([one.length for one in record.tape], abs=2e-3)
    assert found.stacks is not None
    out = dict(zip(found.stacks.number, found.stacks.misfit.tolist(), strict=True))
    assert (out["A 4"], out["A 11"]) == (pytest.approx(0.8, abs=0.1), pytest.approx(0.6, abs=0.1))


def test_a_diagonal_that_disagrees_is_told_and_the_drawing_stands(tmp_path: Path) -> None:
    """One diagonal 3 mm too long: it, or the other one as much too short; neither is evened out into the holes."""
    found = planned_by(tmp_path, by_tape(numbered(), "0-13+3 6-7 0-7 6-13"))
    (what,) = told(found, "tape-disagrees")
    assert re.search(r"A 1 to A 14 by \+3\.0 mm", what)
    assert re.search(r"A 7 to A 8 by \+3\.\d mm", what)
    assert told(found, "measured-holes") == []
    assert found.stacks is not None
    assert found.stacks.misfit.max() < 0.01
    assert [record.taken for record in found.measured] == [False]


def test_sizes_that_err_within_the_accuracy_do_not_disagree(tmp_path: Path) -> None:
    found = planned_by(tmp_path, by_tape(numbered(), "0-13+0.5 6-7 0-7 6-13"), accuracy=0.5)
    assert told(found, "tape-disagrees") == []
    assert len(told(found, "measured-holes")) == 1


def test_two_diagonals_alone_leave_a_hinge(tmp_path: Path) -> None:
    found = planned_by(tmp_path, by_tape(numbered(), "0-13 6-7"))
    (finding,) = [one for one in found.findings if one.check == "tape-loose"]
    assert "leave the pattern free to hinge" in finding.what
    (one, other) = re.findall(r"A (\d+)", finding.mend)
    assert (int(one) <= 7) != (int(other) <= 7)  # a size from one row to the other


def test_diameters_stand_in_a_table_beside_the_tape(tmp_path: Path) -> None:
    found = planned_by(tmp_path, by_tape(numbered(), "0-13 6-7 0-7 6-13", "A 6,12.4,11.2\n"))
    assert told(found, "oval-hole") == ["B1: hole A 6 is oval, 12.4 by 11.2 mm, diameters within 0.2 mm"]


def test_a_new_plate_drawn_from_the_old_bracket_meets_it(tmp_path: Path) -> None:
    """Fourteen holes strayed by up to 2 mm, one oval; the new plate is drilled where they are, and all meet.

    By the old drawing it would not: then holes are out by more than the rivet's clearance.
    """
    steel = numbered() + np.random.default_rng(3).uniform(-2.0, 2.0, (14, 2))
    told_oval = {5: "12.4,11.2"}
    by_drawing = planned(tmp_path / "old", elsewhere(steel), told_oval)
    assert told(by_drawing, "misfit")
    new = planned(tmp_path / "new", elsewhere(steel), told_oval, drawn=steel)
    assert new.stacks is not None
    assert new.stacks.misfit == pytest.approx(np.zeros(14), abs=0.01)
    assert told(new, "misfit") == []
    assert len(told(new, "oval-hole")) == 1


@pytest.mark.parametrize(
    ("holes", "tape", "fault"),
    [
        ("hole,x,y\nA 1,0,0\n", "from,to,length\nA 1,A 2,40\n", "hole A 1 has a place, and `tape` tells places too"),
        ("hole,diameter\nA 1,11\n", "", "hole A 1 has no place"),
        ("hole,x\nA 1,0\n", "", "`x` and `y`, or neither"),
        ("", "from,to,length\nA 1,A 1,40\n", "unlike holes"),
        ("", "from,to,length,off\nA 1,A 2,40,2\n", "`along`, the hole that the tape is stretched to"),
        ("", "from,to,length\nA 1,A 2,forty\n", "forty"),
        ("", "from,to,length\n", "no row stands in tape.csv"),
        ("hole,x\nA 1,0\n", "", "holes.csv row 2: its entries do not go together, or lack one. Expected `x` and `y`"),
    ],
)
def test_faults_of_a_tape_are_told(tmp_path: Path, holes: str, tape: str, fault: str) -> None:
    tables = {name: text for name, text in (("holes", holes), ("tape", tape)) if text}
    with pytest.raises(JobError) as failed:
        planned_by(tmp_path, tables)
    assert any(fault in f"{one}" for one in failed.value.faults)


def test_no_two_old_pieces_share_their_sizes(tmp_path: Path) -> None:
    planned(tmp_path, numbered())
    job = tmp_path / "job.toml"
    job.write_text(job.read_text("utf-8").replace('mark = "B1"\n', 'mark = "B1"\nquantity = 2\n'), "utf-8")
    with pytest.raises(JobError, match="measured sizes of more than one piece"):
        plan(job)


def test_a_size_from_a_photograph_carries_its_doubt(tmp_path: Path) -> None:
    """Without `doubt` it is refused; with it the finding, the check sheet and plan.json say it."""
    planned(tmp_path, numbered())
    job = tmp_path / "job.toml"
    text = job.read_text("utf-8")
    job.write_text(text.replace('"steel tape"', '"from a photograph"'), "utf-8")
    with pytest.raises(JobError, match="without their `doubt`"):
        plan(job)
    doubt = '"from a photograph", doubt = "lens not corrected"'
    job.write_text(text.replace('"steel tape"', doubt), "utf-8")
    found = plan(job)
    assert "doubt: lens not corrected" in told(found, "measured-holes")[0]
    (record,) = plan_record(found)["measured"]
    assert (record["part"], record["doubt"], len(record["holes"])) == ("B1", "lens not corrected", 14)
    checked = next(one for one in found.checked if one.part is not None and one.part.mark == "B1")
    words = " ".join(words_of(check_sheet(checked, found.job)[0]))
    assert "from a photograph; 14 holes within 0.3 mm; doubt: lens not corrected" in words


@pytest.mark.parametrize("source", ["image IMG_2211.jpg", "foto 3", "scan.PNG", "Camera of the works"])
def test_a_photograph_is_known_by_other_words_too(tmp_path: Path, source: str) -> None:
    planned(tmp_path, numbered())
    job = tmp_path / "job.toml"
    job.write_text(job.read_text("utf-8").replace("steel tape", source), "utf-8")
    with pytest.raises(JobError, match="without their `doubt`"):
        plan(job)


def test_a_photograph_is_named_by_its_own_key(tmp_path: Path) -> None:
    """Whatever the words of its source; its `doubt` is wanted, and the finding names it."""
    planned(tmp_path, numbered())
    job = tmp_path / "job.toml"
    text = job.read_text("utf-8").replace('"steel tape"', '"the archive", photograph = "plate 14, box 3"')
    job.write_text(text, "utf-8")
    with pytest.raises(JobError, match="without their `doubt`"):
        plan(job)
    job.write_text(text.replace('box 3"', 'box 3", doubt = "lens not corrected"'), "utf-8")
    (what,) = told(plan(job), "measured-holes")
    assert "(the archive; photograph plate 14, box 3; doubt: lens not corrected)" in what


def test_one_hole_misread_makes_no_row_grow(tmp_path: Path) -> None:
    """A 3 is 10 mm out along its row: of the slopes from hole to hole the middle one is none."""
    sizes = numbered()
    sizes[2, 0] += 10.0
    assert told(planned(tmp_path, sizes), "measured-grows") == []


def test_exchanged_holes_are_named(tmp_path: Path) -> None:
    """A 3 and A 4 are 40 mm apart: each lies 40 mm off, and where the other is drawn."""
    found = planned(tmp_path, elsewhere(numbered()[[0, 1, 3, 2, *range(4, 14)]]))
    (one,) = [one for one in found.findings if one.check == "measured-exchanged"]
    assert "holes A 3 and A 4 lie where the other is drawn" in one.what
    assert one.measured == pytest.approx(40.0, abs=0.5)
    assert told(found, "measured-grows") == []


def test_the_measured_sheet_passes_the_linter_and_lists_every_hole_and_size(tmp_path: Path) -> None:
    steel = numbered()
    steel[3, 0] += 0.8
    found = planned_by(tmp_path, by_tape(steel, "0-13 6-7 0-7 6-13", "A 5,11,11\nA 6,12.4,11.2\n"))
    pages = measured_sheets(found)
    assert len(pages) == 1  # what does not fit beside the picture stands under it
    assert [problem for page in pages for problem in lint(page)] == []
    words = " ".join(word for page in pages for word in words_of(page))
    assert all(f"A {k}" in words for k in range(1, 15))
    assert "12.4 by 11.2" in words
    assert "11 by 11" not in words
    assert "247.4" in words  # A 1 to A 14: the root of 240^2 + 60^2


def test_a_forecast_lets_measured_holes_stray_by_their_accuracy_alone(tmp_path: Path) -> None:
    """Each hole by half of 0.3 mm, two standard deviations within the limit; the plate beside it by ISO 9013."""
    found = planned(tmp_path, numbered())
    assert found.body is not None
    new, old = (make_of(part, "laser", read_tolerances()) for part in found.body.parts)
    assert np.sqrt(np.diag(old.mix @ old.mix.T)) == pytest.approx(np.full(14, 0.15), abs=1e-6)
    far = new.mix @ new.mix.T
    assert far[0, 0] + far[6, 6] - 2.0 * far[0, 6] > 2.0 * 0.15**2 / 4.0
    assert "holes of B1: as measured, within 0.3 mm" in foretell(tmp_path / "job.toml", 100, 1).forecast.assumptions


def test_an_oval_hole_goes_to_the_next_size_by_a_concession_with_its_reason(tmp_path: Path) -> None:
    """Hole A 6 is opened to 13 mm in both plies for a rivet of 12 mm; the others keep theirs of 10 mm."""
    made = planned(tmp_path, numbered(), {5: "12.4,11.2"})
    (oval,) = [one for one in made.findings if one.check == "oval-hole"]
    assert "12 mm in 13 mm holes" in oval.mend
    job = tmp_path / "job.toml"
    text = job.read_text("utf-8")
    text += '[[rivet]]\nmark = "R12"\ndiameter = 12\nhole = 13\n\n'
    state = 'state = "reamed"\ninstead = [{ holes = [6], fastener = "R12" }]\n'
    text = text.replace('rivet = "R10"\n', f'rivet = "R10"\n{state}')
    job.write_text(text, "utf-8")
    text += (
        f'[[accept]]\ncheck = "oval-hole"\npart = "B1"\nholes = ["A 6"]\nfingerprint = "{plan(job).fingerprint[:8]}"\n'
    )
    text += 'by = "works engineer"\ndate = 2026-11-02\nreason = "reamed to 13 with its mate"\n'
    job.write_text(text, "utf-8")
    found = plan(job)
    (now,) = [one for one in found.findings if one.check == "oval-hole"]
    assert now.accepted == "accepted by works engineer, 2026-11-02: reamed to 13 with its mate"
    assert sorted((line.diameter, line.count) for line in found.supply.rivets) == [(10.0, 13), (12.0, 1)]
    table = tmp_path / "bracket.csv"
    table.write_text(table.read_text("utf-8").replace("12.4,11.2", "14.6,11.2"), "utf-8")
    again = plan(job)  # the drawing is the same, the hole is not
    assert [one.accepted for one in again.findings if one.check == "oval-hole"] == [""]
    assert [one.check for one in again.findings if one.check.startswith("acceptance")] == ["acceptance-lapsed"]


def test_a_piece_that_strays_is_known_from_its_wrong_face(tmp_path: Path) -> None:
    """Holes up to 2 mm off the drawing, within 0.3 mm: turned over they fit so still, as drawn rows change places."""
    steel = numbered() + np.random.default_rng(3).uniform(-2.0, 2.0, (14, 2))
    found = planned(tmp_path, elsewhere(steel * [-1.0, 1.0]))
    assert len(told(found, "measured-mirrored")) == 1
    assert told(found, "measured-holes") == []


@pytest.mark.parametrize(("aside", "queries"), [(0.0, 0), (0.9, 1)])
def test_one_straight_row_cannot_prove_its_face(tmp_path: Path, aside: float, queries: int) -> None:
    """Its middle hole lies 0.9 mm beside the line of the others, and from the other face as far on its other side."""
    sizes = numbered()[:7]
    sizes[3, 1] += aside
    found = planned(tmp_path, sizes)
    (what,) = told(found, "measured-holes")
    assert "one straight row cannot prove from which face it was measured" in what
    asked = [one for one in found.findings if one.check == "measured-face"]
    assert len(asked) == queries
    assert all(one.measured == pytest.approx(2.0 * 0.9, abs=0.02) for one in asked)


def table_of(folder: Path, rows: dict[int, str], head: str, stated: str = "accuracy = 0.3") -> Plan:
    """The plan with columns after `x` and `y` of a table of holes where they are drawn, and `stated` of all."""
    planned(folder, numbered())
    lines = [f"A {k + 1},{x},{y}{rows.get(k, '')}" for k, (x, y) in enumerate(numbered().tolist())]
    (folder / "bracket.csv").write_text("\n".join([f"hole,x,y{head}", *lines]), "utf-8")
    job = folder / "job.toml"
    job.write_text(job.read_text("utf-8").replace("accuracy = 0.3", stated), "utf-8")
    return plan(job)


def test_cells_beyond_the_heading_are_refused_with_their_row(tmp_path: Path) -> None:
    """Bare decimal commas: 40,0 by 40,0 is four cells."""
    with pytest.raises(JobError) as failed:
        table_of(tmp_path, {4: ",0"}, "")
    assert any("bracket.csv row 6 has 4 cells, its heading names 3" in f"{one}" for one in failed.value.faults)


def test_exchanged_columns_of_diameters_are_refused(tmp_path: Path) -> None:
    with pytest.raises(JobError, match="are the two columns exchanged"):
        table_of(tmp_path, {4: ",11.1,13.2"}, ",diameter,least_diameter")


@pytest.mark.parametrize(("stated", "across", "ovals"), [
    ("accuracy = 0.3", "11.2,11.0", 0),  # at the 0.2 mm that is taken where nothing is stated
    ("accuracy = 0.3", "11.3,11.0", 1),
    ("accuracy = 5", "11.3,11.0", 1),
    ("accuracy = 0.3, diameter_accuracy = 0.4", "11.3,11.0", 0),
])  # fmt: skip
def test_a_hole_is_oval_beyond_the_accuracy_of_its_diameters(
    tmp_path: Path, stated: str, across: str, ovals: int
) -> None:
    found = table_of(tmp_path, {4: f",{across}"}, ",diameter,least_diameter", stated)
    assert len(told(found, "oval-hole")) == ovals


def test_diameters_are_taken_by_their_own_accuracy(tmp_path: Path) -> None:
    """Places within 5 mm say nothing of a hole that is 14 by 13: the least of it is the body's."""
    found = table_of(tmp_path, {4: ",14,13"}, ",diameter,least_diameter", "accuracy = 5")
    assert found.body is not None
    old = next(part for part in found.body.parts if part.mark == "B1")
    assert old.holes.holes.diameter[list(old.holes.holes.number).index("A 5")] == 13.0


@pytest.mark.parametrize(("stated", "own", "beyond"), [
    ('accuracy = 0.3', {2: ",2"}, 0),  # a row states its own beside that of all
    ('accuracy = 0.3', {2: ",0.3", 13: ",5"}, 1),
    ('doubt = "none"', {k: ",5" if k == 13 else ",0.3" for k in range(14)}, 1),
])  # fmt: skip
def test_each_hole_has_its_own_accuracy(tmp_path: Path, stated: str, own: dict[int, str], beyond: int) -> None:
    """A 3 lies 0.8 mm out: that is within 2 mm and not within 0.3, whatever the last hole is good for."""
    planned(tmp_path, numbered())
    sizes = numbered()
    sizes[2, 0] += 0.8
    rows = [f"A {k + 1},{x},{y}{own.get(k, ',')}" for k, (x, y) in enumerate(sizes.tolist())]
    (tmp_path / "bracket.csv").write_text("\n".join(["hole,x,y,accuracy", *rows]), "utf-8")
    job = tmp_path / "job.toml"
    job.write_text(job.read_text("utf-8").replace("accuracy = 0.3", stated), "utf-8")
    (what,) = told(plan(job), "measured-holes")
    assert f"{beyond} off the drawing" in what


def test_the_weighed_fit_against_scipy() -> None:
    """`align_vectors` with the same weights, about the weighed middles."""
    rng = np.random.default_rng(2)
    own = rng.uniform(0.0, 600.0, (20, 2))
    fixed, weight = elsewhere(own) + rng.normal(0.0, 0.5, (20, 2)), rng.uniform(0.1, 9.0, 20)
    middle = np.average(fixed, axis=0, weights=weight)
    a, b = (np.c_[one - np.average(one, axis=0, weights=weight), np.zeros(20)] for one in (own, fixed))
    up = np.array([[0.0, 0.0, 1.0], [0.0, 0.0, -1.0]])
    turn, _ = Rotation.align_vectors(np.vstack([b, up]), np.vstack([a, up]), weights=np.r_[weight, 1e9, 1e9])
    assert laid_over(own, fixed, weight) == pytest.approx(turn.apply(a)[:, :2] + middle, abs=1e-4)


def test_a_forecast_keeps_the_accuracy_where_a_hole_is_left_out(tmp_path: Path) -> None:
    """Thirteen of fourteen within 5 mm: each strays by half of that, the last like the worst, and it is told."""
    planned(tmp_path, numbered())
    table = tmp_path / "bracket.csv"
    table.write_text("\n".join(table.read_text("utf-8").splitlines()[:-1]), "utf-8")
    job = tmp_path / "job.toml"
    job.write_text(job.read_text("utf-8").replace("accuracy = 0.3", "accuracy = 5"), "utf-8")
    assert spread(plan(job)) == pytest.approx(np.full(14, 2.5))
    told_of = "holes of B1: 13 of 14 as measured, within 5 mm; not measured and taken within 5 mm of the drawing: A 14"
    assert told_of in foretell(job, 100, 1).forecast.assumptions


def test_a_forecast_takes_no_old_piece_for_one_that_the_laser_cuts(tmp_path: Path) -> None:
    """Only its thickness was measured: holes stray by half of 1 mm, which is assumed and told."""
    planned(tmp_path, numbered())
    job = tmp_path / "job.toml"
    origin = (
        'provenance = { origin = "original", evidence = "seen", doubt = "none known" }\nmeasured = { thickness = 5.6 }'
    )
    text = re.sub(r"measured = .*", origin, job.read_text("utf-8"))
    job.write_text(text, "utf-8")
    assert spread(plan(job)) == pytest.approx(np.full(14, 0.5))
    told_of = "holes of B1: there already and not measured, taken within 1 mm of the drawing (assumed)"
    assert told_of in foretell(job, 100, 1).forecast.assumptions


def spread(found: Plan) -> FloatArray:
    """(n,) standard deviation of each hole of the bracket in a forecast, in one direction."""
    assert found.body is not None
    mix = make_of(next(one for one in found.body.parts if one.mark == "B1"), "laser", read_tolerances()).mix
    deviation: FloatArray = np.sqrt(np.diag(mix @ mix.T))
    return deviation


@pytest.mark.parametrize(
    ("across", "hole", "mend"),
    [
        # 12.4 mm less 1 mm is 11.4, so the next even shank is 12 mm, in 13 mm holes
        ("12.4,12.4", 11.0, "12 mm in 13 mm holes, named by `instead`"),
        ("12.7,11.1", 13.0, 'Ream it to 13 mm with its mates, by `state = "reamed"` in its seam'),
    ],
)
def test_a_worn_hole_is_told_as_measured_with_its_remedy(tmp_path: Path, across: str, hole: float, mend: str) -> None:
    """Nobody is told to draw what the steel is not; a least size of some 7/16 in is no inch drawing either."""
    table_of(tmp_path, {4: f",{across}"}, ",diameter,least_diameter", "accuracy = 0.3, diameter_accuracy = 0.05")
    job = tmp_path / "job.toml"
    job.write_text(job.read_text("utf-8").replace("hole = 11", f"hole = {hole:g}"), "utf-8")
    made = plan(job)
    worn = [one for one in made.findings if one.check == "hole-for-rivet" and "measures" in one.what]
    least = across.split(",")[1]
    assert [f"measures {float(least):g} mm" in one.what for one in worn] == [True]
    assert mend in worn[0].mend
    assert "Draw" not in worn[0].mend
    assert told(made, "inch-size") == []


@pytest.mark.parametrize(("size", "unit"), [(25.4, "inches"), (10.0, "cm"), (1000.0, "m")])
def test_sizes_in_another_unit_are_told_and_not_taken(tmp_path: Path, size: float, unit: str) -> None:
    (what,) = told(planned(tmp_path / "holes", elsewhere(numbered()) / size), "measured-unit")
    times, named = re.findall(r"are ([\d.]+) times smaller than drawn, as if in (\w+),", what)[0]
    assert named == unit
    assert float(times) == pytest.approx(size, rel=2e-3)  # places are written to 0.001
    found = planned_by(tmp_path, by_tape(numbered() / size, "0-13 6-7 0-7 6-13"))
    assert len(told(found, "measured-unit")) == 1
    assert told(found, "measured-holes") == []


def test_a_straight_row_by_lengths_alone_is_told_to_be_measured_beside(tmp_path: Path) -> None:
    """All three sizes are there: no fourth one between the same holes helps."""
    found = planned_by(tmp_path, {"tape": "from,to,length\nA 1,A 4,120\nA 4,A 7,120\nA 1,A 7,240\n"})
    (one,) = [one for one in found.findings if one.check == "tape-loose"]
    assert "do not tell how far a hole lies beside it" in one.what
    assert "beside that line" in one.mend


def test_a_forecast_lets_holes_that_were_not_taken_stray_by_no_accuracy_of_theirs(tmp_path: Path) -> None:
    """Measured from the wrong face, within 0.3 or within 5 mm: nobody knows the holes, 1 mm is assumed for both."""
    planned(tmp_path, numbered() * [-1.0, 1.0])
    job = tmp_path / "job.toml"
    close = foretell(job, 200, 1).forecast
    job.write_text(job.read_text("utf-8").replace("accuracy = 0.3", "accuracy = 5"), "utf-8")
    wide = foretell(job, 200, 1).forecast
    assert [one.share.tolist() for one in close.choices] == [one.share.tolist() for one in wide.choices]
    told_of = "holes of B1: its measured holes are not taken, so within 1 mm of the drawing (assumed)"
    assert told_of in close.assumptions
    part = next(one for one in assembled(job).placing.body.parts if one.mark == "B1")
    loose = make_of(part, "laser", read_tolerances(), taken=False)
    assert np.diag(loose.mix) == pytest.approx(np.full(14, 0.5))


def test_plan_json_has_the_accuracy_of_each_hole(tmp_path: Path) -> None:
    found = table_of(tmp_path, {2: ",2"}, ",accuracy")
    (record,) = plan_record(found)["measured"]
    assert {one["number"]: one["accuracy"] for one in record["holes"]} == {
        f"A {k}": 2.0 if k == 3 else 0.3 for k in range(1, 15)
    }


def test_a_misread_hole_is_named_with_the_size_it_should_have_and_shifts_no_other(tmp_path: Path) -> None:
    """A 3 stands at x = 120; 130 is written. The others are as drawn, so all of the 10 mm are its own.

    Least squares over all fourteen would shift every other hole by 10 / 14 = 0.7 mm, and turn them besides.
    """
    sizes = numbered()
    sizes[2, 0] = 130.0
    found = planned(tmp_path, sizes + np.array([5.0, -3.0]))
    (one,) = [one for one in found.findings if one.check == "measured-misread"]
    assert one.what == (
        "B1: hole A 3 stands out, +10.00 in x, +0.00 in y off the drawing, where 13 others keep within 0.00 mm: "
        "it was misread, or made there"
    )
    assert "its line would read x = 125.0, y = 37.0" in one.mend
    assert one.where.holes == ("A 3",)
    (record,) = found.measured
    assert record.left_out == ("A 3",)
    assert np.abs(np.delete(record.off, 2, axis=0)).max() < 1e-6
    assert record.off[2] == pytest.approx([10.0, 0.0], abs=1e-6)
    assert found.stacks is not None
    out = dict(zip(found.stacks.number, found.stacks.misfit.tolist(), strict=True))
    assert max(out.values()) < 0.01
    assert "no-mate" in {finding.check for finding in found.findings}  # 10 mm off, A 3 meets nothing


def test_a_misread_hole_by_tape_is_named_with_its_sizes(tmp_path: Path) -> None:
    """A 3 lies 80 mm along its line from A 1; by the tape 83, which no other size contradicts."""
    steel = numbered()
    steel[2, 0] += 3.0
    found = planned_by(tmp_path, by_tape(steel, "0-13 6-7 0-7 6-13"))
    (one,) = [one for one in found.findings if one.check == "measured-misread"]
    assert "hole A 3 stands out, +3.00 in x, +0.00 in y" in one.what
    assert "A 1 to A 3 would be 80.0 mm" in one.mend


@pytest.mark.parametrize("seed", range(3))
def test_a_pattern_that_strays_as_a_whole_has_no_misread_hole_and_is_fitted_by_least_squares(
    tmp_path: Path, seed: int
) -> None:
    """Holes off by up to 2 mm in each direction: the fit is that of scipy's `align_vectors`, none left out."""
    steel = numbered() + np.random.default_rng(seed).uniform(-2.0, 2.0, (14, 2))
    found = planned(tmp_path, elsewhere(steel))
    assert told(found, "measured-misread") == []
    (record,) = found.measured
    assert record.left_out == ()
    a, b = (np.c_[one - one.mean(axis=0), np.zeros(14)] for one in (elsewhere(steel), record.drawn))
    up = np.array([[0.0, 0.0, 1.0], [0.0, 0.0, -1.0]])
    turn, _ = Rotation.align_vectors(np.vstack([b, up]), np.vstack([a, up]), weights=np.r_[np.ones(14), 1e9, 1e9])
    assert record.laid == pytest.approx(turn.apply(a)[:, :2] + record.drawn.mean(axis=0), abs=2e-3)


def test_the_wrong_face_is_told_although_a_hole_was_misread_too(tmp_path: Path) -> None:
    sizes = numbered()
    sizes[2, 0] += 10.0
    found = planned(tmp_path, sizes * [-1.0, 1.0])
    assert len(told(found, "measured-mirrored")) == 1


def test_a_measured_hole_is_never_the_one_to_move(tmp_path: Path) -> None:
    """One hole of the old bracket is 0.9 mm out: its mate, which is drawn, is to follow it."""
    sizes = numbered()
    sizes[3, 0] += 0.9
    (one,) = [one for one in planned(tmp_path, sizes).findings if one.check == "misfit"]
    assert "look first at hole A 4 of N1" in one.what
    assert one.where.part == "N1"
    assert one.mend.startswith("Draw the holes of N1 where those of B1 were measured")


def test_where_an_old_row_is_longer_its_mate_is_to_follow(tmp_path: Path) -> None:
    """Stretched by 1 in 80, 240 mm become 243: nothing else tells which is wrong, but steel is not drawn anew."""
    told_of = [one for one in planned(tmp_path, numbered() * [1.0125, 1.0]).findings if one.check == "misfit"]
    assert told_of
    for one in told_of:
        assert "look first at N1: the holes of B1 are where they were measured, and are master" in one.what
        assert one.mend.startswith("Draw the holes of N1 where those of B1 were measured")


@pytest.mark.parametrize(("rows", "asked"), [("A", 0), ("B", 0), ("AB", 1)])
def test_holes_on_both_legs_of_a_folded_piece_are_asked_for_on_the_blank(tmp_path: Path, rows: str, asked: int) -> None:
    """A table of both legs is flat, the piece is not: one leg alone is as it was drawn."""
    places = {"A": along(40.0), "B": along(FLAT + BEND + 30.0)}
    line = FLAT + BEND / 2.0
    draw(tmp_path / "F.dxf", (FLAT + BEND + 60.0, 240.0), places, {"FOLD 1": (line, 0.0, line, 240.0)})
    draw(tmp_path / "P.dxf", (200.0, 240.0), {"A": along(40.0)}, {})
    draw(tmp_path / "C.dxf", (60.0, 240.0), {"B": along(30.0)}, {})
    lines = [f"{row} {k + 1},{x:.2f},{y:.2f}" for row in rows for k, (x, y) in enumerate(places[row].tolist())]
    (tmp_path / "f.csv").write_text("\n".join(["hole,x,y", *lines]), "utf-8")
    old = 'measured = { holes = "f.csv", accuracy = 0.3 }'
    pieces = {"P": plate("P.dxf", 6), "F": plate("F.dxf", 4, "fixed = [10, 10]", FOLDED, old), "C": plate("C.dxf", 5)}
    found = told(pieced(tmp_path, pieces, A=("F", "P"), B=("C", "F")), "measured-formed")
    assert len(found) == asked
    assert all(one.startswith("F: its measured holes lie on both sides of FOLD 1") for one in found)
