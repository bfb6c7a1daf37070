"""A piece in another place and what goes with it, on cubes of 10 mm laid out by hand."""

from typing import cast

import numpy as np

from fabplan.kit.carry import carried
from fabplan.kit.stances import Stances
from fabplan.model.pose import Pose

Place = tuple[float, float]


class Cubes:
    """Places of cubes of two kinds: those that touch hold one another, two in one place foul."""

    def __init__(self) -> None:
        """Start without any place."""
        self.known: list[tuple[int, Place]] = []

    def at(self, x: float, y: float, kind: int = 0) -> int:
        """The number of a place."""
        if (kind, (x, y)) not in self.known:
            self.known.append((kind, (x, y)))
        return self.known.index((kind, (x, y)))

    def kind(self, number: int) -> int:
        """The kind of its cube."""
        return self.known[number][0]

    def pose(self, number: int) -> Pose:
        """Its pose."""
        return Pose(np.eye(3), np.array([*self.known[number][1], 0.0]))

    def after(self, move: Pose, number: int) -> int:
        """Where a motion brings it."""
        x, y, _ = (self.pose(number).origin + move.origin).tolist()
        return self.at(x, y, self.kind(number))

    def unsound(self, number: int, some: int) -> int:
        """Of some places, as bits, those in the same spot."""
        spot = self.known[number][1]
        return sum(1 << k for k, (_, place) in enumerate(self.known) if some >> k & 1 and place == spot)

    def met(self, one: int, two: int) -> int:
        """Not 0 where two touch."""
        (a, b), (c, d) = self.known[one][1], self.known[two][1]
        return int(abs(a - c) + abs(b - d) == 10.0)


def laid(cubes: Cubes, start: list[int], places: list[int], number: int) -> list[list[Place]]:
    """Where the cubes stand in each body that is carried."""
    found = carried(cast(Stances, cubes), start, places, number)
    return [[cubes.known[place][1] for place in body] for body in found]


def test_with_what_hangs_on_it_without_and_with_all() -> None:
    """The second cube hangs on the first; the third is held by what stands."""
    cubes = Cubes()
    places = [cubes.at(10.0, 0.0), cubes.at(20.0, 0.0), cubes.at(0.0, 10.0)]
    assert laid(cubes, [cubes.at(0.0, 0.0)], places, cubes.at(0.0, -10.0)) == [
        [(0.0, -10.0), (10.0, -10.0), (0.0, 10.0)],
        [(0.0, -10.0), (20.0, 0.0), (0.0, 10.0)],
        [(0.0, -10.0), (10.0, -10.0), (-10.0, 0.0)],
    ]


def test_a_cube_that_stands_in_the_new_place_must_go_too() -> None:
    """The first goes to where the third stands: that goes by the same motion, hung or not; each body is given once."""
    cubes = Cubes()
    places = [cubes.at(10.0, 0.0), cubes.at(20.0, 0.0), cubes.at(0.0, 10.0)]
    assert laid(cubes, [cubes.at(0.0, 0.0)], places, cubes.at(0.0, 10.0)) == [
        [(0.0, 10.0), (10.0, 10.0), (-10.0, 20.0)],
        [(0.0, 10.0), (20.0, 0.0), (-10.0, 20.0)],
    ]


def test_a_place_of_another_kind_carries_nothing() -> None:
    cubes = Cubes()
    places = [cubes.at(10.0, 0.0), cubes.at(20.0, 0.0)]
    assert laid(cubes, [cubes.at(0.0, 0.0)], places, cubes.at(0.0, -10.0, kind=1)) == []
