"""One fault in a known kit gives its finding, with its numbers, and no other stop."""

from dataclasses import replace
from pathlib import Path

import pytest

from fabplan.model.clearance import usable_clearance
from fabplan.model.finding import Finding, Level
from tests.body.made import Made, drawing, made
from tests.kits import defects
from tests.kits.bowser import bowser
from tests.kits.build import Plate
from tests.kits.first_lap import first_lap
from tests.kits.random_kits import box, double_butt, panel

SEEDS = (0, 1, 2, 3)


def stops(result: Made) -> list[str]:
    return sorted({one.check for one in result.findings if one.level == Level.STOP})


def only(result: Made, check: str) -> Finding:
    assert stops(result) == [check]
    (found,) = result.of(check)
    return found


@pytest.mark.parametrize("seed", SEEDS[:2])
@pytest.mark.parametrize(("mark", "row", "seam"), [("S1", "Bs", "Bs"), ("A2", "Aw", "Aw"), ("C1", "Kws", "Kws")])
@pytest.mark.parametrize("hole", [0, 3, -2])
def test_a_hole_moved(seed: int, mark: str, row: str, seam: str, hole: int, tmp_path: Path) -> None:
    kit = box(seed)
    found = only(made(defects.hole_moved(kit, mark, row, hole, (2.0, 0.0)), tmp_path), "misfit")
    assert found.where.seam == seam
    assert found.measured == pytest.approx(2.0, abs=0.02)
    assert found.required == pytest.approx(11.0 - 0.25 - 10.0 * 1.012)


def test_the_hole_that_strayed_is_named_and_not_its_mate(tmp_path: Path) -> None:
    for mark, row in (("S1", "Bs"), ("C1", "Kws"), ("F1", "Aw"), ("A2", "Aw")):
        for hole in (2, 5):
            found = only(made(defects.hole_moved(box(0), mark, row, hole, (2.0, 0.0)), tmp_path), "misfit")
            assert found.where.part == mark
            assert "Move the hole by 2.0" in found.mend


@pytest.mark.parametrize("seed", SEEDS)
def test_a_row_short_by_one(seed: int, tmp_path: Path) -> None:
    kit = box(seed)
    count = len(next(one.points for one in kit.seams if one.mark == "Aw"))
    result = made(defects.hole_missing(kit, "A2", "Aw", -1), tmp_path)
    assert stops(result) == ["count-differs", "no-mate"]
    (differs,), (lone,) = result.of("count-differs"), result.of("no-mate")
    assert sorted((differs.measured or 0.0, differs.required or 0.0)) == [count - 1, count]
    assert (lone.where.part, lone.measured, len(lone.where.holes)) == ("F1", 1, 1)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_hole_missing_within_a_row(seed: int, tmp_path: Path) -> None:
    result = made(defects.hole_missing(box(seed), "E1", "Bw", 4), tmp_path)
    assert stops(result) == ["count-differs", "no-mate"]
    assert [one.where.part for one in result.of("no-mate")] == ["A2"]


@pytest.mark.parametrize(
    ("mark", "row", "by", "part"),
    [
        ("S1", "Bs", (2.0, 0.0), "S1"),
        ("S1", "Bs", (0.0, 2.0), "S1"),
        ("S1", "Kws", (0.0, 2.0), ""),
        ("E1", "Bw", (2.0, 0.0), ""),
        ("A2", "Bw", (0.0, 2.0), "A2"),
    ],
)
def test_a_shifted_row_is_told_once(mark: str, row: str, by: tuple[float, float], part: str, tmp_path: Path) -> None:
    """By how far and which way; its piece where other pieces tell, else among those that may be it.

    Bolts draw faces together, so that a row across the leg of a bar shows in its holes, not as a gap.
    """
    found = only(made(defects.row_shifted(bowser(), mark, row, by), tmp_path), "misfit")
    assert abs(found.measured or 0.0) == pytest.approx(2.0, abs=1e-3)
    assert mark in found.what.split("look first at ")[1]
    assert not part or found.where.part == part
    along = by[1] if row == "Kws" else by[0]  # that row runs upright, along y of its plate
    assert f"lie {along:.2f} mm along the row and {2.0 - along:.2f} mm across it" in found.what


def test_a_long_row_does_not_outweigh_the_short_ones_that_are_right(tmp_path: Path) -> None:
    """66 holes that hold the top against some 30 at each of its neighbours; its twin on the other side fits."""
    found = only(made(defects.row_shifted(bowser(), "T1", "Ds", (0.0, 2.0)), tmp_path), "misfit")
    assert (found.where.seam, found.where.part) == ("Ds", "T1")
    assert found.measured == pytest.approx(2.0, abs=1e-3)


@pytest.mark.parametrize(("x", "y", "out"), [(0.64, 0.0, 0.64), (0.4, 0.5, 0.6403), (3.0, -4.0, 5.0), (0.62, 0.0, 0.0)])
def test_a_stated_place_that_is_out_is_named_once(x: float, y: float, out: float, tmp_path: Path) -> None:
    """10 in 11 hot: 0.63 mm usable."""
    kit = first_lap()
    kit.extra = f'[[place]]\npart = "P2"\norigin = [{x}, {160.0 + y}, 6]\nx = [1, 0, 0]\ny = [0, 1, 0]\n'
    result = made(kit, tmp_path)
    if not out:
        assert not stops(result)
        return
    found = only(result, "misfit")
    assert found.measured == pytest.approx(out, abs=1e-4)
    assert f"lie {x:.2f} mm along the row and {abs(y):.2f} mm across it" in found.what
    assert "look first at P2: P2 stands where its [[place]] puts it" in found.what


def test_a_row_a_little_out_is_told_once(tmp_path: Path) -> None:
    """0.8 mm along a lap: the holes still take one another, the rivets do not pass (10 in 11 hot: 0.63 mm)."""
    kit = first_lap()
    found = only(made(defects.hole_moved(kit, "P1", "A", 4, (0.8, 0.0)), tmp_path), "misfit")
    assert found.what.startswith("rivet A 5: holes out by 0.80 mm")


def test_a_row_within_the_clearance_is_let_pass(tmp_path: Path) -> None:
    """0.6 mm is taken up by clearances of 0.63 mm all round the loop: nothing to mend."""
    assert not stops(made(defects.row_shifted(bowser(), "S1", "Bs", (0.6, 0.0)), tmp_path))


@pytest.mark.parametrize("seed", SEEDS)
def test_a_row_set_out_from_the_wrong_end(seed: int, tmp_path: Path) -> None:
    found = only(made(defects.row_reversed(box(seed), "S1", "Bs"), tmp_path), "strip-reversed")
    assert (found.measured or 0.0) * 2 < (found.required or 0.0)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("mark", ["A2", "C3"])
def test_a_bar_measured_from_its_wrong_end(seed: int, mark: str, tmp_path: Path) -> None:
    found = only(made(defects.bar_reversed(box(seed), mark), tmp_path), "strip-reversed")
    assert found.where.part == mark
    assert (found.measured or 0.0) < (found.required or 0.0)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("mark", ["E1", "S1"])
def test_a_plate_drawn_from_its_other_face(seed: int, mark: str, tmp_path: Path) -> None:
    found = only(made(defects.plate_mirrored(box(seed), mark), tmp_path), "plate-mirrored")
    assert found.where.part == mark
    assert "looks inside, the job states outside" in found.what


@pytest.mark.parametrize("seed", SEEDS)
def test_a_mirrored_datum_is_the_one_fault(seed: int, tmp_path: Path) -> None:
    found = only(made(defects.plate_mirrored(box(seed), "F1"), tmp_path), "plate-mirrored")
    assert found.where.part == "F1"
    assert "datum" in found.what


@pytest.mark.parametrize("seed", SEEDS)
def test_pieces_of_the_wrong_hand(seed: int, tmp_path: Path) -> None:
    result = made(defects.hand_swapped(box(seed), "A1R", "A1L"), tmp_path)
    assert stops(result) == ["plate-mirrored"]
    assert [one.where.part for one in result.of("plate-mirrored")] == ["A1R", "A1L"]


@pytest.mark.parametrize(("thickness", "gap"), [(5.0, 1.0), (8.0, 2.0)])
def test_a_plate_of_another_thickness_between_straps(thickness: float, gap: float, tmp_path: Path) -> None:
    for seed in SEEDS:
        found = only(made(defects.thickness_wrong(double_butt(seed), "P2", thickness), tmp_path), "plies-apart")
        assert found.measured == pytest.approx(gap, abs=1e-6)


def test_a_plate_through_another(tmp_path: Path) -> None:
    found = only(made(defects.plate_grown(box(0), "E1", (30.0, 0.0, 0.0, 0.0)), tmp_path), "plates-clash")
    assert "S2 and E1" in found.what


def test_metal_without_a_hole(tmp_path: Path) -> None:
    for seed in SEEDS:
        kit = panel(seed)
        count = len(next(one.points for one in kit.seams if one.mark == "V1"))
        worse = defects.plate_grown(kit, "D1", (60.0, 0.0, 0.0, 0.0))
        found = only(made(worse, tmp_path), "no-hole")
        assert (found.where.part, found.where.seam) == ("D1", "V1")
        assert found.measured == count


def test_a_seam_that_the_job_forgot(tmp_path: Path) -> None:
    kit = box(0)
    count = len(next(one.points for one in kit.seams if one.mark == "Kws"))
    found = only(made(defects.seam_forgotten(kit, "Kws"), tmp_path), "unclaimed-stack")
    assert found.measured == count


def test_holes_of_unlike_size(tmp_path: Path) -> None:
    kit = box(0)
    plates = [piece for piece in kit.pieces if isinstance(piece, Plate)]
    drawings = {plate.mark: drawing(plate, 11.0) for plate in plates}
    for mark in drawings:
        (tmp_path / f"{mark}.dxf").touch()
    old = drawings["E1"]
    size = old.holes.diameter.copy()
    size[old.holes.row.index("Bw")] = 13.0
    drawings["E1"] = replace(old, holes=replace(old.holes, diameter=size))
    result = made(kit, tmp_path, drawings)
    (found,) = result.findings
    assert (found.check, found.level, found.measured, found.required) == ("hole-sizes-differ", Level.QUERY, 13.0, 11.0)


def test_usable_clearance_of_ten_in_eleven(tmp_path: Path) -> None:
    """0.63 mm: 11 less 0.25 (ISO 9013 class 1) less 10 grown by 1.2 % when hot; cold 0.75 mm."""
    job = made(double_butt(0), tmp_path).job
    assert usable_clearance(job, 0, 11.0) == pytest.approx(0.63)
    cold = replace(job, rivets=(replace(job.rivets[0], closing="cold"),))
    assert usable_clearance(cold, 0, 11.0) == pytest.approx(0.75)
