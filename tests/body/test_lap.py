"""Two plates and one row of rivets, the smallest kit: what is told of rows that do not agree, and of two ways to stand.

Expected lengths and offsets are plain arithmetic on the pitches that are drawn: n holes at p run (n - 1) p, and rows
laid middle on middle are out by half the difference at their ends.
"""

import re
from pathlib import Path

import numpy as np
import pytest

from fabplan.model.finding import Finding
from tests.body.made import Made, made
from tests.kits.build import Frame, Kit, Piece, Plate, Seam, drilled, rectangle
from tests.kits.first_lap import X, Y, first_lap

CLEARANCE = 0.63  # of 10 mm rivets in 11 mm holes, driven hot: shop data, ISO 9013 class 1 and 1.2 % growth


def row(count: int, pitch: float, y: float = 30.0) -> np.ndarray:
    """Places (n, 2) of a row in a plate, from 20 mm on."""
    return np.column_stack([20.0 + pitch * np.arange(count), np.full(count, y)])


def lap(own: np.ndarray, extra: str = "", width: float = 410.0, **keys: str) -> Kit:
    """P1 with ten holes at 40, P2 with `own`, one seam."""
    plates: list[Piece] = [
        Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(400.0, 200.0), 6.0, rows={"A": row(10, 40.0)}),
        Plate("P2", Frame((0.0, 0.0, 6.0), X, Y), rectangle(width, 200.0), 6.0, keys={**keys}, rows={"A": own}),
    ]
    seam = Seam("A", ("P2", "P1"), np.zeros((0, 3)), (0.0, 0.0, -1.0))
    return Kit(plates, [seam], first_lap().job, extra=extra)


def told(result: Made, check: str) -> Finding:
    (found,) = result.of(check)
    return found


@pytest.mark.parametrize(("count", "pitch"), [(9, 45.0), (11, 36.0), (5, 40.0), (8, 40.0)])
def test_a_row_of_another_count_is_told_with_counts_and_lengths(count: int, pitch: float, tmp_path: Path) -> None:
    result = made(lap(row(count, pitch), marked="inside"), tmp_path)
    found = told(result, "count-differs")
    assert (found.measured, found.required) == (10, count)
    own = f"P2 has {count} holes over {(count - 1) * pitch:.2f} mm, {pitch:.2f} mm a space"
    assert f"{own}, P1 has 10 over 360.00 mm, 40.00 mm a space" in found.what
    assert "not-placed" not in result.checks()
    assert "misfit" not in result.checks()


@pytest.mark.parametrize("pitch", [40.2, 40.3, 40.5, 41.0, 39.6])
def test_a_pitch_that_is_off_is_told_once_with_both_lengths(pitch: float, tmp_path: Path) -> None:
    result = made(lap(row(10, pitch), marked="inside"), tmp_path)
    found = told(result, "misfit")
    assert f"P2 runs {9.0 * pitch:.2f} mm and row A of P1 runs 360.00 mm" in found.what
    assert f"{abs(pitch - 40.0):.3f} mm a space" in found.what
    assert found.measured == pytest.approx(abs(9.0 * pitch - 360.0) / 2.0, abs=1e-3)
    assert found.required == pytest.approx(CLEARANCE)
    assert set(result.checks()) <= {"misfit", "two-bodies"}


def test_a_pitch_that_the_holes_allow_is_let_pass(tmp_path: Path) -> None:
    """Ten holes at 40.13 are out by 0.585 at the ends, at 40.15 by 0.675: 0.63 lies between."""
    assert "misfit" not in made(lap(row(10, 40.13), marked="inside"), tmp_path).checks()
    assert "misfit" in made(lap(row(10, 40.15), marked="inside"), tmp_path).checks()


def test_one_hole_astray_is_no_wrong_pitch(tmp_path: Path) -> None:
    own = row(10, 40.0)
    own[9, 0] += 1.5
    found = told(made(lap(own, marked="inside"), tmp_path), "misfit")
    assert found.where.holes == ("A 10",)
    assert "a space" not in found.what


def two_lines(along: float, across: float) -> np.ndarray:
    """Two lines of nine at 45, the second this far along and across from the first."""
    first = np.column_stack([20.0 + 45.0 * np.arange(9), np.full(9, 25.0)])
    return np.vstack([first, first + np.array([along, across])])


@pytest.mark.parametrize(("along", "across"), [(3.0, 40.0), (-4.0, 40.0), (0.0, 45.0), (2.0, 37.0)])
def test_a_line_of_a_row_that_lies_elsewhere_is_told_once(along: float, across: float, tmp_path: Path) -> None:
    kit = lap(two_lines(along, across), marked="inside")
    first = kit.pieces[0]
    assert isinstance(first, Plate)
    first.rows["A"] = two_lines(0.0, 40.0)
    found = told(made(kit, tmp_path), "misfit")
    assert f"line 2 of holes lies {across:.2f} mm off in row A of P2 and 40.00 mm off in row A of P1" in found.what
    assert f"{abs(along):.2f} mm elsewhere along it" in found.what


def test_a_butt_strap_joins_plates_edge_to_edge(tmp_path: Path) -> None:
    """Nothing states where heads or faces are: no plate is laid over the rivets of another for want of holes there."""
    row_at = [np.column_stack([np.full(6, x), 20.0 + 52.0 * np.arange(6)]) for x in (375.0, 25.0, 25.0, 75.0)]
    plates: list[Piece] = [
        Plate("L", Frame((0.0, 0.0, 0.0), X, Y), rectangle(400.0, 300.0), 6.0, rows={"A": row_at[0]}),
        Plate("R", Frame((400.0, 0.0, 0.0), X, Y), rectangle(400.0, 300.0), 6.0, rows={"B": row_at[1]}),
        Plate("K", Frame((350.0, 0.0, 6.0), X, Y), rectangle(100.0, 300.0), 6.0, rows={"A": row_at[2], "B": row_at[3]}),
    ]
    seams = [
        Seam("A", ("K", "L"), np.zeros((0, 3)), (0.0, 0.0, -1.0)),
        Seam("B", ("K", "R"), np.zeros((0, 3)), (0.0, 0.0, -1.0)),
    ]
    kit = Kit(plates, seams, {**first_lap().job, "datum": "L"})
    result = made(kit, tmp_path)
    assert result.checks() == ["two-bodies"]
    assert "R can also stand on the other face of K" in told(result, "two-bodies").what
    pose = result.body.poses[result.index("R")]
    assert pose is not None
    assert abs(pose.origin[0]) == pytest.approx(400.0)
    kit.extra = ""
    seams[:] = [Seam(one.mark, one.plies, one.points, one.axis, {"head": "inside"}) for one in seams]
    assert made(kit, tmp_path).checks() == []


def test_plies_listed_out_of_order_are_told_so(tmp_path: Path) -> None:
    """P on Q on R, 6 mm each, listed P, R, Q: what lies between P and R is Q."""
    plates: list[Piece] = [
        Plate(mark, Frame((0.0, 0.0, z), X, Y), rectangle(400.0, 200.0), 6.0, rows={"A": row(10, 40.0)})
        for mark, z in (("P", 12.0), ("Q", 6.0), ("R", 0.0))
    ]
    places = "".join(
        f'[[place]]\npart = "{mark}"\norigin = [0, 0, {z}]\nx = [1, 0, 0]\ny = [0, 1, 0]\n'
        for mark, z in (("P", 12), ("Q", 6))
    )
    seam = Seam("A", ("P", "R", "Q"), np.zeros((0, 3)), (0.0, 0.0, -1.0))
    found = made(Kit(plates, [seam], {**first_lap().job, "datum": "R"}, extra=places), tmp_path).of("plies-apart")
    assert any("Q, a ply of the same seam, fills the gap" in one.what for one in found)


def test_plates_in_the_same_space_are_told_as_such(tmp_path: Path) -> None:
    place = '[[place]]\npart = "P2"\norigin = [0, 0, 0]\nx = [1, 0, 0]\ny = [0, 1, 0]\n'
    found = told(made(lap(row(10, 40.0), place), tmp_path), "plies-apart")
    assert found.measured == pytest.approx(-6.0)
    assert "6.0 mm into one another" in found.what


def test_holes_too_small_that_lie_fair_are_no_misfit(tmp_path: Path) -> None:
    """Clearance would be under 0, 10 - 0.25 - 10.12: hole-for-rivet tells it, and a fair row is fair."""
    small = lap(row(10, 40.0), marked="inside")
    small.rivet = (10.0, 10.0)
    assert "misfit" not in made(small, tmp_path).checks()
    astray = row(10, 40.0)
    astray[4, 0] += 2.0
    worse = lap(astray, marked="inside")
    worse.rivet = (10.0, 10.0)
    found = told(made(worse, tmp_path), "misfit")
    assert found.measured == pytest.approx(2.0, abs=0.05)
    assert found.required == 0.0


@pytest.mark.parametrize("kept", ["marked", "none"])
def test_what_settles_two_bodies_does_settle_them(kept: str, tmp_path: Path) -> None:
    """The [[place]] that the finding offers, written into the job as it stands, leaves one body."""
    kit = lap(row(10, 40.0), width=400.0, **({"marked": "inside"} if kept == "marked" else {}))
    found = told(made(kit, tmp_path), "two-bodies")
    place = re.search(r"\[\[place\]\] (part = .*?), (origin = .*?), (x = .*?), (y = .*?), if it", found.mend)
    assert place is not None
    kit.extra = "\n".join(["[[place]]", *place.groups()]) + "\n"
    assert made(kit, tmp_path).checks() == []


def test_a_plate_turned_half_round_is_told_so(tmp_path: Path) -> None:
    """A plate 200 wide that turns about a row 30 from its edge carries its middle 2 x (100 - 30) = 140 mm away."""
    kit = lap(row(10, 40.0), width=400.0, marked="inside")
    found = told(made(kit, tmp_path), "two-bodies")
    assert "P2 can also stand turned half round in its plane, moved 140.0 mm along its y" in found.what
    assert "marked =" not in found.mend


def test_a_statement_is_offered_where_it_settles(tmp_path: Path) -> None:
    """A row with an odd end space cannot turn in its plane: two bodies are left, told apart by the face alone."""
    kit = drilled(first_lap())
    kit.pieces[1].keys = {}
    found = told(made(kit, tmp_path), "two-bodies")
    assert 'marked = "inside" or "outside" on P2' in found.mend
    for side in ("inside", "outside"):
        kit.pieces[1].keys = {"marked": side}
        assert "two-bodies" not in made(kit, tmp_path).checks()
