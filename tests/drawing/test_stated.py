"""What is stated twice: thicknesses, inch sizes, faces, hands."""

from dataclasses import replace

import numpy as np
import pytest

from fabplan.drawing.check import check_drawing
from fabplan.drawing.stated import likely_thicknesses, thicknesses
from fabplan.geom.profile import rectangle
from fabplan.model.drawing import Drawing, Label, Line
from fabplan.model.figures import sixteenths
from fabplan.model.finding import Finding
from fabplan.model.holes import Holes
from fabplan.model.job import PartSpec, Supplier
from fabplan.model.ordered import Ordered

PLATE = Drawing("plate.dxf", outline=rectangle(0.0, 0.0, 400.0, 200.0))


def found(check: str, drawing: Drawing, thickness: float | None = 6.0, ordered: Ordered | None = None) -> list[Finding]:
    told = check_drawing(drawing, None, thickness, ordered or Ordered())
    return [finding for finding in told if finding.check == check]


def noted(*words: str, name: str = "plate.dxf") -> Drawing:
    return replace(PLATE, name=name, labels=tuple(Label(one, (0.0, 0.0), 5.0, "NOTE", "A") for one in words))


@pytest.mark.parametrize(
    ("words", "sizes"),
    [("F1 t=6 marked face up", [6.0]), ("t = 6,5", [6.5]), ("THK 8", [8.0]), ("thickness: 10 mm", [10.0]),
     ("6 mm plate", [6.0]), ("6mm thk", [6.0]), ('1/4" plate', [6.35]), ("1/4 in thick", [6.35]),
     ("3/8 thk", [9.525]), ('1 1/4" plate', [31.75]), ("t=6 or t=8", [6.0, 8.0]),
     ("P4", []), ("600 mm", []), ("plate 6", []), ("part=6", []), ("6 plates", []), ("t=1/0", []), ("t=600", []),
     ("FL50x6 thk", []), ("PL8", [8.0]), ("PL 8 S275", [8.0]), ("PL8x200x400", []), ("Plate 8 mm", [8.0]),
     ("plate 8", []), ("t8", [8.0]), ("T8", []), ("P1-t8x", []), ("400 x 200 x 8", [8.0]), ("400x200x8 mm", [8.0]),
     ("GUSSET 1/4 PLATE", [6.35]), ("1 1/4 plate", [31.75]), ("plate 1/2", []), ("1/4 plates", []),
     ("8 THK", [8.0]), ("8THK", [8.0]),
     ("50x50x6", []), ("100x100x10 angle", []), ("hole 400 x 200", []), ("400x200x300", [])],
)  # fmt: skip
def test_thicknesses_in_texts(words: str, sizes: list[float]) -> None:
    assert thicknesses(words) == pytest.approx(sizes)


@pytest.mark.parametrize(
    ("name", "faulty"),
    [("P4-8mm.dxf", True), ("P4 8 mm rev B.dxf", True), ("P4_t=8.dxf", True), ("P4_t8mm.dxf", True),
     ("P4-6mm.dxf", False), ("T8.dxf", False), ("P4-600mm.dxf", False), ("P8.dxf", False)],
)  # fmt: skip
def test_thickness_in_the_file_name(name: str, faulty: bool) -> None:
    assert bool(found("thickness-differs", noted(name=name))) == faulty


JOB = Ordered(PartSpec("P1"), names=("P1", "T5", "T50", "7", "P2-t4", "A"))


@pytest.mark.parametrize(
    ("words", "sizes"),
    [("T8", [8.0]), ("P1 T8 S275", [8.0]), ("T1.5", [1.5]), ("plate 8", [8.0]), ("Plate  8", [8.0]),
     ("T5", []), ("see T5", []), ("T50", []), ("plate 7", []), ("T8-2", []), ("T80", []), ("AT8", []),
     ("plate 8 of 9", []), ("T1", []), ("2 plate 8", [])],
)  # fmt: skip
def test_what_may_be_a_mark_is_a_thickness_where_no_piece_bears_it(words: str, sizes: list[float]) -> None:
    assert likely_thicknesses(words, JOB.names) == pytest.approx(sizes)
    assert likely_thicknesses(words, ()) == [], "without a job nobody can tell"
    assert bool(found("thickness-differs", noted(words), 6.0, JOB)) == bool(sizes)
    assert not found("thickness-differs", noted(words), sizes[0] if sizes else 6.0, JOB)


def test_a_text_on_the_steel_is_a_mark() -> None:
    written = replace(PLATE, labels=(Label("T8", (0.0, 0.0), 5.0, "MARK", "A"),))
    assert not found("thickness-differs", written, 6.0, JOB)


@pytest.mark.parametrize(
    ("name", "faulty"),
    [("side-t8.dxf", True), ("SIDE_T8.dxf", True), ("side-t8-rev b.dxf", True), ("side-t6.dxf", False),
     ("side-t5.dxf", False), ("P2-t4.dxf", False), ("T8.dxf", False), ("side-t80.dxf", False)],
)  # fmt: skip
def test_a_thickness_like_a_mark_in_the_file_name(name: str, faulty: bool) -> None:
    """T5 and P2-t4 are pieces of the job."""
    assert bool(found("thickness-differs", noted(name=name), 6.0, JOB)) == faulty


def test_thickness_is_compared_among_all_that_state_it() -> None:
    assert not found("thickness-differs", noted("t=6", name="P4-6mm.dxf"))
    assert not found("thickness-differs", noted("t=6"), 6.05)
    assert found("thickness-differs", noted("t=6"), 6.051)
    assert found("thickness-differs", noted("t=6"), float("nan"))
    (finding,) = found("thickness-differs", noted("t=8", name="P4-6mm.dxf"), None)
    assert (finding.measured, finding.required) == (8.0, 6.0)
    assert not found("thickness-differs", noted("t=8"), None)
    (finding,) = found("thickness-differs", noted('1/4" plate'))
    assert finding.measured == pytest.approx(6.35)


@pytest.mark.parametrize(
    ("size", "words"),
    [(6.35, "1/4 in"), (4.7625, "3/16 in"), (4.76, "3/16 in"), (7.94, "5/16 in"), (11.11, "7/16 in"), (11.1, "7/16 in"),
     (12.7, "1/2 in"), (17.4625, "11/16 in"), (25.4, "1 in"),
     (6.0, ""), (9.5, ""), (11.0, ""), (11.5, ""), (12.0, ""), (14.0, ""), (3.2, ""), (1.6, ""), (4.8, ""), (17.5, "")],
)  # fmt: skip
def test_sixteenths_of_an_inch(size: float, words: str) -> None:
    """An inch is 25.4 mm (British Standards Institution 1930, by treaty 1959)."""
    assert sixteenths(size) == words


def holed(size: float, purpose: str = "rivet") -> Drawing:
    holes = Holes(np.array([[200.0, 100.0]]), np.array([size]), ("",), ("1",), (purpose,), ("H",))
    return replace(PLATE, holes=holes)


def test_inch_holes_and_plates_in_a_metric_drawing() -> None:
    assert found("inch-size", PLATE, 6.35)
    assert not found("inch-size", PLATE, 6.0)
    assert found("inch-size", holed(11.11))
    assert not found("inch-size", holed(11.11), 6.0, Ordered(holes=(11.1125,)))  # the job means it
    assert not found("inch-size", holed(11.11, "open"))
    assert not found("inch-size", replace(holed(11.11), units="inch"))
    assert not found("inch-size", holed(float("nan")))  # told by others


@pytest.mark.parametrize(
    ("size", "inch", "rivet", "hole"),
    [(12.7, "1/2 in", "12 mm", "13 mm"), (11.1125, "7/16 in", "10 mm", "11 mm"),
     (20.6375, "13/16 in", "20 mm", "21 mm"), (9.525, "3/8 in", "8 mm", "8.4 mm"), (3.175, "1/8 in", "3 mm", "3.2 mm")],
)  # fmt: skip
def test_an_inch_hole_names_the_nearest_metric_rivet(size: float, inch: str, rivet: str, hole: str) -> None:
    """Rivets of DIN 124 in d + 1 (German steelwork practice), of DIN 660 in 8.4 and 3.2 mm."""
    (told,) = found("inch-size", holed(size))
    assert inch in told.what
    assert f"a rivet of {rivet} in a hole of {hole}" in told.mend
    assert inch in told.mend


@pytest.mark.parametrize(("size", "plate"), [(12.7, 12), (6.35, 6), (7.9375, 8), (4.7625, 5), (9.525, 10)])
def test_an_inch_plate_names_the_nearest_plate_in_stock(size: float, plate: int) -> None:
    (told,) = found("inch-size", PLATE, size)
    assert f"nearest in stock {plate} mm" in told.mend


def marked(layer: str) -> Drawing:
    return replace(PLATE, marks=(Line(layer, np.array([[10.0, 10.0], [20.0, 10.0]]), "M"),))


@pytest.mark.parametrize(
    ("layer", "faulty"), [("MARK", False), ("MARK back", True), ("mark_other-side", True), ("MARK backrest", False)]
)
def test_marks_for_the_other_face(layer: str, faulty: bool) -> None:
    assert bool(found("wrong-face", marked(layer))) == faulty
    both = check_drawing(marked(layer), Supplier("s", marking="both faces"), None)
    assert not [finding for finding in both if finding.check == "wrong-face"]


@pytest.mark.parametrize(
    ("words", "said"),
    [("marked face looks outside", "outside"), ("MARKED FACE INSIDE", "inside"), ("seen from the outside", "outside"),
     ("drawn from inside", "inside"), ("marked face up", ""), ("inside edge", "")],
)  # fmt: skip
def test_words_about_the_face_against_the_job(words: str, said: str) -> None:
    for stated in ("inside", "outside", ""):
        told = found("wrong-face", noted(words), 6.0, Ordered(PartSpec("P1", marked=stated)))
        assert bool(told) == (bool(said and stated) and said != stated)
    assert not found("wrong-face", noted(words))


def test_a_pair_wants_a_mark_on_the_steel() -> None:
    pair = Ordered(PartSpec("P1", hand="pair"))
    assert found("hand-not-told", PLATE, 6.0, pair)
    assert not found("hand-not-told", PLATE, 6.0, Ordered(PartSpec("P1")))
    assert not found("hand-not-told", marked("MARK"), 6.0, pair)
    unmarked = check_drawing(marked("MARK"), Supplier("s", marking="none"), None, pair)
    assert [finding.check for finding in unmarked] == ["hand-not-told", "supplier-marking"]
