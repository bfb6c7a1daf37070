"""Poses against the known bodies; what is told where the seams decide nothing."""

from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from fabplan.model.finding import Level
from fabplan.way.plan import plan
from tests.body.made import made, true_pose
from tests.kits import defects
from tests.kits.build import Plate
from tests.kits.punt import punt
from tests.kits.random_kits import MAKERS, box, laps

LAP = Path(__file__).parents[2] / "examples" / "first-lap"
CASES = [(name, seed) for name in MAKERS for seed in range(6)]


@pytest.mark.parametrize(("name", "seed"), CASES)
def test_an_exact_kit_is_placed_as_it_was_made_and_nothing_is_found(name: str, seed: int, tmp_path: Path) -> None:
    kit = MAKERS[name](seed)
    result = made(kit, tmp_path)
    assert result.findings == ()
    for instance, pose in zip(result.body.instances, result.body.poses, strict=True):
        assert pose is not None
        true = true_pose(kit, instance.mark)
        np.testing.assert_allclose(pose.origin, true.origin, atol=1e-6)
        np.testing.assert_allclose(pose.rotation, true.rotation, atol=1e-9)


@pytest.mark.parametrize("seed", range(3))
def test_the_datum_may_stand_anywhere(seed: int, tmp_path: Path) -> None:
    kit = box(seed)
    turn = Rotation.from_rotvec([0.3, -1.1, 0.7]).as_matrix()
    origin = np.array([400.0, -70.0, 1250.0])
    x, y = ([float(v) for v in turn[:, k]] for k in (0, 1))
    kit.extra = f'[[place]]\npart = "F1"\norigin = {origin.tolist()}\nx = {x}\ny = {y}'
    result = made(kit, tmp_path)
    assert result.findings == ()
    for instance, pose in zip(result.body.instances, result.body.poses, strict=True):
        assert pose is not None
        true = true_pose(kit, instance.mark)
        np.testing.assert_allclose(pose.origin, turn @ true.origin + origin, atol=1e-6)
        np.testing.assert_allclose(pose.rotation, turn @ true.rotation, atol=1e-9)


def test_two_bodies_are_told_where_nothing_decides(tmp_path: Path) -> None:
    kit = laps(1)
    last = kit.pieces[-1]
    last.keys = {}
    kit.seams[-1] = type(kit.seams[-1])(*(getattr(kit.seams[-1], name) for name in ("mark", "plies", "points", "axis")))
    result = made(kit, tmp_path)
    (found,) = result.findings
    assert (found.check, found.where.part) == ("two-bodies", last.mark)


def test_a_piece_without_a_seam_is_not_placed(tmp_path: Path) -> None:
    kit = laps(0)
    kit.seams.pop()
    result = made(kit, tmp_path)
    assert [one.where.part for one in result.of("not-placed")] == [kit.pieces[-1].mark]
    assert result.body.poses[-1] is None


@pytest.mark.parametrize("mark", ["P1", "P2"])
@pytest.mark.parametrize(
    ("line", "why"),
    [("", "its thickness is not stated"), ("thickness = 6\nfolds = [FOLD]", "it cannot be formed as stated")],
)
def test_a_piece_without_a_form_says_why(mark: str, line: str, why: str, tmp_path: Path) -> None:
    """The datum P1 too: without metal it holds nothing, and what hangs on it is told for that."""
    fold = '{ line = "FOLD 1", angle = 90, inside_radius = 6 }'
    text = (LAP / "job.toml").read_text("utf-8")
    stated = f'drawing = "{mark}.dxf"\nthickness = 6'
    assert stated in text
    (tmp_path / "job.toml").write_text(
        text.replace(stated, stated[:-13] + line.replace("[FOLD]", f"[{fold}]")), "utf-8"
    )
    for name in ("P1.dxf", "P2.dxf"):
        (tmp_path / name).write_bytes((LAP / name).read_bytes())
    told = {one.where.part: one.what for one in plan(tmp_path / "job.toml").findings if one.check == "not-placed"}
    assert f": {why}" in told[mark]
    assert sorted(told) == (["P1", "P2"] if mark == "P1" else ["P2"])


def test_a_group_that_no_seam_ties_to_the_datum_says_so(tmp_path: Path) -> None:
    """The chain breaks before the last two pieces: each is told where its seams lead."""
    kit = laps(0)
    first, second = kit.seams[-2:]
    kit.seams = [seam for seam in kit.seams if seam is not first]
    one, other = (ply.partition("/")[0] for ply in second.plies)
    told = {found.where.part: found.what for found in made(kit, tmp_path).of("not-placed")}
    assert told[one].endswith(f"its seams lead only to {other}, and no seam leads from there to the datum")
    assert told[other].endswith(f"its seams lead only to {one}, and no seam leads from there to the datum")


def test_a_single_hole_leaves_a_turn(tmp_path: Path) -> None:
    kit = laps(0)
    last = kit.seams[-1]
    for ply in last.plies:
        piece = kit.piece(ply.partition("/")[0])
        assert isinstance(piece, Plate)
        piece.rows[last.mark] = piece.rows[last.mark][:1]
    (found,) = made(kit, tmp_path).of("not-placed")
    assert (found.where.part, found.what.split(": ")[-1]) == (
        kit.pieces[-1].mark,
        "a single hole leaves it free to turn",
    )


TRAY = [(piece.mark, row) for piece in box(0).pieces for row in piece.rows]


@pytest.mark.parametrize("by", [(0.3, 0.0), (0.0, 0.3), (0.4, 0.0), (0.0, -0.4)])
@pytest.mark.parametrize(("mark", "row"), TRAY[::3])
def test_a_row_within_the_clearance_is_taken_up(mark: str, row: str, by: tuple[float, float], tmp_path: Path) -> None:
    """A tray of 13 pieces, holes 0.1 mm astray and one row 0.3 or 0.4 mm out: rivets of 10 in 11 take up 0.63 mm."""
    result = made(defects.row_shifted(defects.shaken(box(0), 1, 0.1), mark, row, by), tmp_path)
    assert [one for one in result.findings if one.level is not Level.NOTE] == []


@pytest.mark.parametrize("by", [(1.3, 0.0), (0.0, 1.3)])
@pytest.mark.parametrize(("mark", "row"), TRAY[::5])
def test_a_row_out_by_more_is_told_alone(mark: str, row: str, by: tuple[float, float], tmp_path: Path) -> None:
    """More than two seams in a chain can take up; the piece is named, be it that a bar hangs on it."""
    result = made(defects.row_shifted(box(0), mark, row, by), tmp_path)
    stops = [one for one in result.findings if one.level is Level.STOP]
    assert {one.check for one in stops} == {"misfit"}
    assert any(mark in one.what for one in stops)


def test_a_long_body_of_many_like_pieces(tmp_path: Path) -> None:
    """Four bays of a punt, alike but for their place: one way only, and that the true one."""
    kit = punt(4)
    result = made(kit, tmp_path)
    assert (result.findings, result.placing.doubt) == ((), None)
    for instance, pose in zip(result.body.instances, result.body.poses, strict=True):
        assert pose is not None
        true = true_pose(kit, instance.mark)
        np.testing.assert_allclose(pose.origin, true.origin, atol=1e-6)
        np.testing.assert_allclose(pose.rotation, true.rotation, atol=1e-9)
