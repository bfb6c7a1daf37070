"""Closing errors round loops of pieces, and residuals of single holes: known shifts put into known kits."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from fabplan.body.loops import loops
from fabplan.body.residuals import residuals
from tests.body.made import Made, made
from tests.kits.bowser import bowser
from tests.kits.build import Kit, Plate
from tests.kits.random_kits import box


def moved_row(kit: Kit, by: tuple[float, float]) -> tuple[Kit, str]:
    """The kit with one row of one of its plates moved by mm in the plate's own axes, and the plate's mark."""
    plate = next(piece for piece in kit.pieces if isinstance(piece, Plate) and len(piece.rows) > 2)
    row = sorted(plate.rows)[0]
    plate.rows[row] = plate.rows[row] + np.array(by)
    return kit, plate.mark


@pytest.fixture(scope="module")
def true_bowser(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return made(bowser(), tmp_path_factory.mktemp("bowser"))


def test_every_loop_of_the_true_demo_closes(true_bowser: Made) -> None:
    """As many loops as seams beyond a tree of pieces (graph theory: links less pieces plus one)."""
    found = loops(true_bowser.job, true_bowser.placing)
    assert len(found) == len(true_bowser.placing.links) - len(true_bowser.body.instances) + 1
    assert max(one.apart for one in found) < 0.05
    assert max(one.turn for one in found) < 0.01


@pytest.mark.parametrize("by", [(2.0, 0.0), (0.0, 1.5)])
def test_a_row_out_of_place_opens_its_loops_by_as_much(tmp_path: Path, by: tuple[float, float]) -> None:
    """Seams laid hole on hole leave the whole shift at the closing one: 2 or 1.5 mm, and no other loop is open."""
    kit, mark = moved_row(box(3), by)
    found = loops((put := made(kit, tmp_path)).job, put.placing)
    open_ones = [one for one in found if one.apart > 0.05]
    assert open_ones
    assert len(open_ones) < len(found)
    size = float(np.hypot(*by))
    assert all(mark in one.pieces for one in open_ones)
    assert max(one.apart for one in open_ones) == pytest.approx(size, abs=0.05)
    assert all(one.turn < 0.1 for one in open_ones)


def test_residuals_are_told_in_the_axes_of_the_ply(true_bowser: Made) -> None:
    """Offsets put on the plies by hand, turned into the row's axes by scipy's rotations."""
    body, stacks = true_bowser.body, true_bowser.stacks
    rng = np.random.default_rng(5)
    off = rng.normal(size=(len(stacks.ply_hole), 3))
    told = residuals(body, replace(stacks, ply_offset=off))
    for k in rng.choice(len(off), 40, replace=False).tolist():
        instance, hole = int(stacks.ply_instance[k]), int(stacks.ply_hole[k])
        part, pose = body.part_of(instance), body.poses[instance]
        assert pose is not None
        panel = int(part.holes.panel[hole])
        own = [i for i, name in enumerate(part.holes.holes.row)
               if name == part.holes.holes.row[hole] and part.holes.panel[i] == panel]  # fmt: skip
        xy = part.holes.holes.xy[own]
        way = np.gradient(xy, axis=0)[own.index(hole)]
        turn = Rotation.from_matrix(pose.rotation) * Rotation.from_matrix(part.panels[panel].frame.rotation)
        flat = turn.inv().apply(off[k])
        angle = np.arctan2(way[1], way[0])
        expected = Rotation.from_euler("z", -angle).apply(flat)
        assert told[k, :2] == pytest.approx(expected[:2], abs=1e-9)


def test_gaps_of_the_true_demo_are_closed(true_bowser: Made) -> None:
    assert np.abs(true_bowser.stacks.ply_gap).max() < 0.05
