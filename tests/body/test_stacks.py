"""Rivet stacks against a double loop over all pairs of holes, and against what the kit was made of."""

from pathlib import Path

import numpy as np
import pytest

from fabplan.geom.stack import least_radius
from tests.body.made import Made, made
from tests.kits.bowser import bowser
from tests.kits.random_kits import MAKERS, box, double_butt, laps


def looped(result: Made) -> set[frozenset[tuple[int, int]]]:
    """Stacks by brute force: two holes belong together when a face of one meets a face of the other."""
    holes = result.holes
    count = len(holes.hole)
    group = list(range(count))

    def root(i: int) -> int:
        while group[i] != i:
            i = group[i]
        return i

    for i in range(count):
        for j in range(i):
            apart = holes.marked[i] - holes.marked[j]
            if np.linalg.norm(apart) > 30.0 or abs(holes.normal[i] @ holes.normal[j]) < 0.9998:
                continue
            for face_i, out_i in ((holes.marked[i], holes.normal[i]), (holes.back[i], -holes.normal[i])):
                for face_j, out_j in ((holes.marked[j], holes.normal[j]), (holes.back[j], -holes.normal[j])):
                    step = face_i - face_j
                    along = step @ out_i
                    if out_i @ out_j < 0 and abs(along) <= 0.5 and np.linalg.norm(step - along * out_i) <= 4.0:
                        group[root(i)] = root(j)
    sets: dict[int, set[tuple[int, int]]] = {}
    for i in range(count):
        sets.setdefault(root(i), set()).add((int(holes.instance[i]), int(holes.hole[i])))
    return {frozenset(one) for one in sets.values() if len(one) > 1}


def stacked(result: Made) -> list[frozenset[tuple[int, int]]]:
    stacks = result.stacks
    plies = list(zip(stacks.ply_instance.tolist(), stacks.ply_hole.tolist(), strict=True))
    return [frozenset(plies[a:b]) for a, b in zip(stacks.first[:-1], stacks.first[1:], strict=True)]


@pytest.mark.parametrize(("name", "seed"), [(name, 1) for name in MAKERS])
def test_stacks_are_those_of_a_double_loop(name: str, seed: int, tmp_path: Path) -> None:
    result = made(MAKERS[name](seed), tmp_path)
    found = stacked(result)
    assert len(found) == len(set(found)) == sum(len(one.points) for one in result.kit.seams)
    assert set(found) == looped(result)


@pytest.mark.parametrize("name", list(MAKERS))
def test_places_axes_and_numbers_are_those_the_kit_was_made_with(name: str, tmp_path: Path) -> None:
    kit = MAKERS[name](2)
    stacks = made(kit, tmp_path).stacks
    for number, seam in enumerate(kit.seams):
        own = stacks.seam == number
        assert own.sum() == len(seam.points)
        np.testing.assert_allclose(stacks.axis[own], np.tile(seam.axis, (own.sum(), 1)), atol=1e-9)
        across = stacks.point[own][:, None, :] - seam.points[None, :, :]
        across = across - (across @ np.array(seam.axis))[..., None] * np.array(seam.axis)
        assert np.linalg.norm(across, axis=2).min(axis=1).max() < 1e-6
        along = np.linalg.norm(stacks.point[own] - stacks.point[own][0], axis=1)
        assert np.all(np.diff(along) > 0.0), "numbers run along the seam from one end"
        numbers = [stacks.number[i] for i in np.nonzero(own)[0]]
        assert numbers == [f"{seam.mark} {k}" for k in range(1, len(seam.points) + 1)]


def test_the_head_side_is_the_first_listed_ply(tmp_path: Path) -> None:
    result = made(box(3), tmp_path)
    stacks = result.stacks
    for i in range(len(stacks)):
        first = int(stacks.ply_instance[stacks.first[i]])
        listed = result.job.seams[int(stacks.seam[i])].plies[0].instance
        assert result.body.instances[first].mark == listed
        assert (stacks.point_face[i] - stacks.head_face[i]) @ stacks.axis[i] == pytest.approx(stacks.grip[i])
        step = (stacks.point[i] - stacks.head_face[i]) @ stacks.axis[i]
        assert step == pytest.approx(stacks.ply_thickness[stacks.first[i]])


@pytest.mark.parametrize("seed", range(3))
def test_grips_are_the_sums_of_the_thicknesses(seed: int, tmp_path: Path) -> None:
    kit = double_butt(seed)
    stacks = made(kit, tmp_path).stacks
    thickness = {piece.mark: getattr(piece, "thickness", 0.0) for piece in kit.pieces}
    expected = thickness["B1"] + thickness["P1"] + thickness["B2"]
    np.testing.assert_allclose(stacks.grip, expected, atol=1e-9)
    assert set(np.diff(stacks.first).tolist()) == {3}
    assert stacks.ply_listed.all()


def test_laps_grip_two_plates(tmp_path: Path) -> None:
    kit = laps(2)
    stacks = made(kit, tmp_path).stacks
    thickness = [getattr(piece, "thickness", 0.0) for piece in kit.pieces]
    for number in range(len(kit.seams)):
        np.testing.assert_allclose(
            stacks.grip[stacks.seam == number], thickness[number] + thickness[number + 1], atol=1e-9
        )


def test_corners_of_three_plies(tmp_path: Path) -> None:
    """The bowser's straps run through the rows of the floor and top angles: 8 corners, angle, side and strap."""
    result = made(bowser(), tmp_path)
    stacks = result.stacks
    triple = np.nonzero(np.diff(stacks.first) == 3)[0]
    assert len(triple) == 8
    for i in triple:
        plies = stacks.ply_instance[stacks.first[i] : stacks.first[i + 1]]
        marks = [result.body.instances[int(k)].mark[:1] for k in plies]
        assert marks in (["A", "S", "B"], ["D", "S", "B"])
        assert stacks.grip[i] == pytest.approx(6.0 + 6.0 + 5.0)
    assert not stacks.ply_listed.all()
    assert {one.check for one in result.findings} == {"unlisted-ply"}
    assert sum(len(one.where.holes) for one in result.findings) == 8
    assert int(np.sum(stacks.seam >= 0)) == len(stacks) >= 1200


@pytest.mark.parametrize("seed", range(10))
def test_three_holes_are_out_by_the_circle_that_holds_them(seed: int) -> None:
    """Plane geometry: half the longest side of an obtuse triangle, else a b c / 4 times its area."""
    rng = np.random.default_rng(seed)
    axis = rng.normal(size=3)
    axis /= np.linalg.norm(axis)
    points = rng.normal(size=(3, 3))
    across = points - np.outer(points @ axis, axis)
    a, b, c = sorted(float(np.linalg.norm(across[k] - across[k - 1])) for k in range(3))
    area = float(np.linalg.norm(np.cross(across[1] - across[0], across[2] - across[0]))) / 2.0
    expected = c / 2.0 if a * a + b * b <= c * c else a * b * c / (4.0 * area)
    assert least_radius(points, axis) == pytest.approx(expected, rel=1e-9)
