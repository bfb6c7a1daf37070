"""An old bracket measured hole by hole: its pattern is master, never mirrored or smoothed, its oval hole told."""

from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from fabplan.errors import JobError
from fabplan.geom.laid_over import laid_over
from fabplan.model.arrays import FloatArray
from fabplan.model.plan import Plan
from fabplan.way.plan import plan
from tests.kits.build import Array, Frame, Kit, Piece, Plate, Seam, drilled, rectangle
from tests.kits.draw import write_drawings
from tests.kits.job_file import job_text
from tests.kits.random_kits import STATED, X, Y, Z

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


def planned(folder: Path, sizes: FloatArray, more: dict[int, str] | None = None, accuracy: float = 0.3) -> Plan:
    """The plan with the bracket measured: `sizes` (14, 2) hole by hole, `more` the diameters of some."""
    write_drawings(kit(), folder)
    rows = [f"A {k + 1},{x:.3f},{y:.3f},{(more or {}).get(k, ',')}" for k, (x, y) in enumerate(sizes.tolist())]
    (folder / "bracket.csv").write_text("\n".join(["hole,x,y,diameter,least_diameter", *rows]), "utf-8")
    measured = f'measured = {{ holes = "bracket.csv", accuracy = {accuracy}, source = "steel tape" }}'
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
    assert told(found, "oval-hole") == ["B1: hole A 6 is oval, 12.4 by 11.2 mm"]
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
