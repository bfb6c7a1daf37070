"""Motions of pieces with what hangs on them, on cubes of 10 mm laid out by hand: those that touch hold one another."""

from collections.abc import Mapping
from itertools import permutations

import numpy as np

from fabplan.kit.fit import Fit
from fabplan.kit.hang import Hanging, Pairs
from fabplan.model.choice import Step
from fabplan.model.pose import Pose
from tests.kits.build import Frame, Kit, Plate, Seam, drilled, line, minus, rectangle
from tests.unseamed.campaign import bare_pieces
from tests.unseamed.folder import ROWS
from tests.unseamed.judge import true_pose
from tests.unseamed.lay import X, Y, Z, angle, job

Place = tuple[float, float, float]

CHAIN: dict[int, Place] = {
    0: (0.0, 0.0, 0.0),
    1: (10.0, 0.0, 0.0),
    2: (20.0, 0.0, 0.0),
    3: (30.0, 0.0, 0.0),  # on 2 alone
    4: (10.0, 10.0, 0.0),
    5: (20.0, 10.0, 0.0),  # on 2 and on 4
    6: (90.0, 90.0, 0.0),  # on nothing
}


def touching(body: Mapping[int, Place]) -> Pairs:
    return [
        (one, two)
        for one, two in permutations(body, 2)
        if sum(abs(a - b) for a, b in zip(body[one], body[two], strict=True)) == 10.0
    ]


def shifted(move: Pose, place: Place) -> Place:
    x, y, z = (place + move.origin).tolist()
    return x, y, z


HANGING = Hanging[Place](0, touching, shifted)


def by(*shift: float) -> Pose:
    return Pose(np.eye(3), np.array(shift))


def test_pieces_between_each_and_the_datum() -> None:
    assert HANGING.depths(CHAIN) == {0: 0, 1: 1, 2: 2, 4: 2, 3: 3, 5: 3, 6: len(CHAIN)}


def test_what_nothing_else_holds_hangs_on_a_piece() -> None:
    assert HANGING.hung(CHAIN, {2}) == {3}
    assert HANGING.hung(CHAIN, {2, 4}) == {3, 5}
    assert HANGING.hung(CHAIN, {1}) == {2, 3, 4, 5}
    assert HANGING.hung(CHAIN, {3}) == set()
    assert HANGING.hung(CHAIN, ()) == set()


def test_pieces_are_one_lot_where_they_or_what_hangs_on_them_touch() -> None:
    assert HANGING.lots(CHAIN, {2, 3}) == [(2, 3)]
    assert HANGING.lots(CHAIN, {2, 4}) == [(2, 4)]  # 5 hangs on both
    assert HANGING.lots(CHAIN, {3, 4}) == [(3,), (4,)]  # 5 stays on 2
    assert HANGING.lots(CHAIN, (6, 1)) == [(1,), (6,)]
    assert HANGING.lots(CHAIN, ()) == []


def test_a_step_takes_along_what_hangs_on_it_and_nothing_else() -> None:
    up = by(0.0, 0.0, 10.0)
    assert HANGING.moved(CHAIN, [Step((2,), up, 2)]) == CHAIN | {2: (20.0, 0.0, 10.0), 3: (30.0, 0.0, 10.0)}
    assert HANGING.moved(CHAIN, [Step((2,), up, 2, alone=True)]) == CHAIN | {2: (20.0, 0.0, 10.0)}
    assert HANGING.moved(CHAIN, ()) == CHAIN


def test_steps_further_out_go_first_whatever_their_order_and_are_taken_back() -> None:
    """2 with 3 goes under 1; then 1 onto the datum, with all that hangs on it, 2 and 3 in their new places too."""
    near, far = Step((1,), by(-10.0, 0.0, 10.0), 1), Step((2,), by(-10.0, -10.0, 0.0), 2)
    expected = {
        0: (0.0, 0.0, 0.0),
        1: (0.0, 0.0, 10.0),
        2: (0.0, -10.0, 10.0),
        3: (10.0, -10.0, 10.0),
        4: (0.0, 10.0, 10.0),
        5: (10.0, 10.0, 10.0),
        6: (90.0, 90.0, 0.0),
    }
    for steps in ([near, far], [far, near]):
        assert HANGING.moved(CHAIN, steps) == expected
        assert HANGING.taken_back(expected, steps) == CHAIN


def test_steps_of_one_depth_look_at_the_body_before_either() -> None:
    """2 and 4 change places: 5, on both, hangs on neither and stays; 3 hangs on 2."""
    swap = [Step((2,), by(-10.0, 10.0, 0.0), 2), Step((4,), by(10.0, -10.0, 0.0), 2)]
    places = {2: (10.0, 10.0, 0.0), 4: (20.0, 0.0, 0.0), 3: (20.0, 10.0, 0.0)}
    assert HANGING.moved(CHAIN, swap) == CHAIN | places


def test_a_rivet_through_three_plies_holds_each_to_those_beside_it() -> None:
    """A plate, an angle on it, a cleat on the angle's leg: the cleat hangs on the angle, not on the plate beneath."""
    plate = Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(600.0, 300.0), 6.0)
    bar = angle("B1", Frame((100.0, 120.0, 0.0), X, Y), (50.0, 50.0, 6.0), 300.0)
    cleat = Plate("C1", Frame((190.0, 134.0, 11.0), X, Y), rectangle(120.0, 116.0), 5.0)
    row = line((120.0, 150.0, 0.0), (360.0, 150.0, 0.0), 40.0)
    seams = [
        Seam("A", ("P1/a", "B1/a"), row[[0, 1, 5, 6]], minus(Z)),
        Seam("B", ("P1/b", "B1/b", "C1/b"), row[2:5], minus(Z)),
    ]
    known = drilled(Kit([plate, bar, cleat], seams, job("Cleat", "P1")))
    parts, marks = bare_pieces(known, ROWS)
    held = Fit(parts).held({k: true_pose(known, mark) for k, mark in enumerate(marks)})
    assert {frozenset((marks[a], marks[b])) for a, b in held} == {frozenset(["P1", "B1"]), frozenset(["B1", "C1"])}
