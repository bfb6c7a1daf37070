"""The random kits are what they are said to be: built in space, each hole with its mates, and the same for a seed."""

import numpy as np
import pytest
from scipy.spatial import cKDTree

from fabplan.geom.pose import compose, inverse, to_outer, turned
from fabplan.kit.contact import MEET, contact
from fabplan.kit.shape import shape_of
from fabplan.model.part import Part
from fabplan.model.pose import Pose
from tests.kits.build import Array, Plate
from tests.unseamed.campaign import bare_pieces
from tests.unseamed.folder import BARE
from tests.unseamed.judge import true_pose
from tests.unseamed.kits import MAKERS, kit, uniform


@pytest.mark.parametrize("name", list(MAKERS))
def test_a_seed_gives_the_same_kit(name: str) -> None:
    one, two = kit(name, 7), kit(name, 7)
    assert [piece.mark for piece in one.pieces] == [piece.mark for piece in two.pieces]
    for a, b in zip(one.seams, two.seams, strict=True):
        np.testing.assert_array_equal(a.points, b.points)


@pytest.mark.parametrize("name", list(MAKERS))
def test_kits_are_as_asked(name: str) -> None:
    """Up to 30 pieces; three in ten have one pitch throughout; some have spare holes or pieces of both hands."""
    kits = [kit(name, seed) for seed in range(20)]
    assert max(len(one.pieces) for one in kits) <= 30
    assert sum(map(uniform, range(100))) == 30


def test_spare_holes_both_hands_and_corners_of_three_plies_occur() -> None:
    kits = [kit(name, seed) for name in MAKERS for seed in range(12)]
    assert any("spare" in piece.rows for one in kits for piece in one.pieces if isinstance(piece, Plate))
    assert any(piece.mark == "A1L" for one in kits for piece in one.pieces)
    assert any(len(seam.plies) == 3 for one in kits for seam in one.seams)


@pytest.mark.parametrize(("name", "seed"), [*((name, 3) for name in MAKERS), ("panel", 8), ("plating", 6)])
def test_every_hole_of_the_truth_meets_its_mates_and_no_metal(name: str, seed: int) -> None:
    """Read back from bare blanks and put where they were built: forming by the program, truth by `tests.kits.bent`.

    Mates are held against scipy's nearest neighbours and against a double loop over all holes.
    """
    known = kit(name, seed)
    parts, marks = bare_pieces(known, BARE)
    shapes = {id(part): shape_of(part) for part in parts}
    spare = sum(
        len(piece.rows["spare"]) for piece in known.pieces if isinstance(piece, Plate) and "spare" in piece.rows
    )
    met = [np.zeros(len(shapes[id(part)]), dtype=np.bool_) for part in parts]
    for a in range(len(parts)):
        for b in range(a):
            lie = compose(inverse(true_pose(known, marks[a])), true_pose(known, marks[b]))
            found = contact(shapes[id(parts[a])], shapes[id(parts[b])], lie)
            assert found.sound, (marks[a], marks[b])
            assert set(zip(found.one.tolist(), found.two.tolist(), strict=True)) == _mates(parts[a], parts[b], lie)
            met[a][found.one] = True
            met[b][found.two] = True
    assert sum(int((~own).sum()) for own in met) == spare


def _mates(one: Part, two: Part, lie: Pose) -> set[tuple[int, int]]:
    """Pairs of holes whose faces meet, by a k-d tree, and again by a double loop."""
    first, second = shape_of(one), shape_of(two)
    faces, out = to_outer(lie, second.faces), turned(lie, second.out)
    near: set[tuple[int, int]] = set()
    for k in (0, 1):
        for m in (0, 1):
            pairs = cKDTree(first.faces[:, k]).query_ball_tree(cKDTree(faces[:, m]), MEET)
            for i, js in enumerate(pairs):
                near |= {(i, j) for j in js if _facing(first.out[i], out[j], k == m)}
    loop = {
        (i, j)
        for i in range(len(first))
        for j in range(len(second))
        for k in (0, 1)
        for m in (0, 1)
        if float(np.linalg.norm(first.faces[i, k] - faces[j, m])) <= MEET and _facing(first.out[i], out[j], k == m)
    }
    assert near == loop
    return near


def _facing(one: Array, two: Array, same: bool) -> bool:
    cosine = float(one @ two)
    return (cosine if same else -cosine) < -0.99
