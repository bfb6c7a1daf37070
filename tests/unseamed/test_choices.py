"""What bodies as good differ in, told as motions: a plate with two doublings, laid out by hand."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from fabplan.geom.motion import middle_of
from fabplan.geom.pose import matrix, to_outer
from fabplan.geom.prism import thick
from fabplan.kit.alike import kinds_of
from fabplan.kit.find import Bodies, assembled
from fabplan.kit.fit import Fit
from fabplan.kit.propose import chosen, proposal
from fabplan.kit.search import Search
from fabplan.kit.stances import Stances
from fabplan.model.choice import moving
from fabplan.model.part import Part
from fabplan.model.pose import Pose
from tests.kits.build import Frame, Kit, Piece, Plate, Seam, drilled, line, rectangle
from tests.unseamed.campaign import bare_pieces
from tests.unseamed.folder import ROWS
from tests.unseamed.kits import kit
from tests.unseamed.lay import X, Y, Z, job


def strip(mark: str, low: float, high: float, y: float) -> Plate:
    """A doubling 40 mm broad and 5 mm thick on the face z = 0, its row along its middle."""
    ring = [(low, y - 20.0, 0.0), (high, y - 20.0, 0.0), (high, y + 20.0, 0.0), (low, y + 20.0, 0.0)]
    return Plate(mark, Frame((0.0, 0.0, 5.0), X, Y), ring, 5.0)


@pytest.fixture(scope="module")
def doubled() -> tuple[tuple[Part, ...], tuple[str, ...], Bodies]:
    """A plate of 600 by 200 by 6 mm; D1 from 60 to 320 about a row from 100 to 260, D2 from 260 to 520, 300 to 450."""
    plate = Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(600.0, 200.0), 6.0)
    one = Seam("A", ("P1", "D1"), line((100.0, 50.0, 0.0), (260.0, 50.0, 0.0), 40.0), Z)
    two = Seam("B", ("P1", "D2"), line((300.0, 150.0, 0.0), (450.0, 150.0, 0.0), 50.0), Z)
    pieces: list[Piece] = [plate, strip("D1", 60.0, 320.0, 50.0), strip("D2", 260.0, 520.0, 150.0)]
    parts, marks = bare_pieces(drilled(Kit(pieces, [one, two], job("Doubled", "P1"))), ROWS)
    return parts, marks, assembled(parts, marks.index("P1"))


def test_what_lies_free_of_one_another_is_told_apart_and_not_as_all_pairs(
    doubled: tuple[tuple[Part, ...], tuple[str, ...], Bodies],
) -> None:
    """Each lies on either face, this end or that end on: 16 bodies, 3 ways more of each doubling."""
    _, marks, found = doubled
    assert found.whole
    assert sorted([marks[i] for i in moving(way)] for way in found.ways) == [["D1"]] * 3 + [["D2"]] * 3


def test_pieces_alike_that_turn_each_by_itself_are_not_told_once_more_as_a_pair() -> None:
    """Rows of six at 40 mm, at y = 50 and 150, doublings with 60 mm before and 40 behind them.

    A half turn of both about the middle between the rows brings each over the other's row, turned end for end: the
    same steel as where each is turned by itself. Either has 4 places, so that there are 3 ways more of each.
    """
    plate = Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(600.0, 300.0), 6.0)
    low = Plate("D-1", Frame((40.0, 30.0, 5.0), X, Y), rectangle(300.0, 40.0), 5.0, part="D")
    high = replace(low, mark="D-2", frame=Frame((40.0, 130.0, 5.0), X, Y), rows={}, keys={})
    seams = [
        Seam(mark, (f"P1/{mark}", f"D-{number}/r"), line((100.0, y, 0.0), (300.0, y, 0.0), 40.0), Z)
        for mark, number, y in (("A", 1, 50.0), ("B", 2, 150.0))
    ]
    parts, marks = bare_pieces(drilled(Kit([plate, low, high], seams, job("Doubled", "P1"))), ROWS)
    found = assembled(parts, marks.index("P1"))
    assert found.whole
    assert sorted([marks[i] for i in moving(way)] for way in found.ways) == [["D-1"]] * 3 + [["D-2"]] * 3


@pytest.fixture(scope="module")
def four() -> tuple[tuple[Part, ...], tuple[str, ...]]:
    """Four doublings, each on either face, this end or that end on: 4 ** 4 = 256 bodies."""
    pieces: list[Piece] = [Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(600.0, 400.0), 6.0)]
    seams = []
    for k, pitch in enumerate((37.0, 41.0, 45.0, 49.0)):
        y, last = 50.0 + 100.0 * k, 100.0 + 6.0 * pitch
        pieces.append(strip(f"D{k}", 60.0, last + 60.0, y))
        seams.append(Seam(f"S{k}", ("P1", f"D{k}"), line((100.0, y, 0.0), (last, y, 0.0), pitch), Z))
    return bare_pieces(drilled(Kit(pieces, seams, job("Doubled", "P1"))), ROWS)


def test_bodies_too_many_to_list_are_told_by_what_makes_those_taken_at_random(
    four: tuple[tuple[Part, ...], tuple[str, ...]],
) -> None:
    """Three ways more of each doubling make all 256 bodies."""
    parts, marks = four
    found = assembled(parts, marks.index("P1"))
    assert found.whole
    assert (len(found.bodies) < 256, found.taken) == (True, 60)
    assert sorted([marks[i] for i in moving(way)] for way in found.ways) == [[f"D{k}"] for k in range(4) for _ in "123"]


def test_bodies_at_random_hold_every_two_places_that_go_together(
    four: tuple[tuple[Part, ...], tuple[str, ...]],
) -> None:
    """Six pairs of doublings, 4 * 4 places each, are 96; those bodies that are listed are not drawn."""
    kinds = kinds_of(four[0])
    stances = Stances(kinds)
    stances.datum = stances.number(four[1].index("P1"), Pose())
    search = Search(kinds, stances)
    listed = search.run().bodies
    drawn = [body for _ in range(4) for body in search.others()]
    assert len(drawn) == 240
    assert len({*map(frozenset, drawn)} | {*map(frozenset, listed)}) > 0.8 * 256
    assert len({pair for body in (*listed, *drawn) for pair in combinations(sorted(body[1:]), 2)}) == 96


def test_how_far_each_way_carries_a_doubling(doubled: tuple[tuple[Part, ...], tuple[str, ...], Bodies]) -> None:
    """The middle 190 of D1 lies 10 mm past that of its row, 180: turned end for end it goes 20 mm along.

    To the other face it goes 6 + 5 = 11 mm. D2's middle 390 is 15 mm past that of its row, 375: 30 mm.
    """
    parts, marks, found = doubled
    told, fit = proposal(parts, found), Fit(parts)
    shifts = {"D1": set[tuple[float, float, float]](), "D2": set[tuple[float, float, float]]()}
    for number, choice in enumerate(told.choices, 1):
        (piece,) = choice.pieces
        for way in range(2, len(choice.ways) + 1):
            after = chosen(told, {number: way}, fit)[piece]
            corners = np.vstack([thick(panel).corners for panel in parts[piece].panels])
            far = middle_of(to_outer(after, corners)) - middle_of(to_outer(told.poses[piece], corners))
            x, y, z = np.abs(far).round(3).tolist()
            shifts[marks[piece]].add((x, y, z))
    assert shifts == {
        "D1": {(20.0, 0.0, 0.0), (0.0, 0.0, 11.0), (20.0, 0.0, 11.0)},
        "D2": {(30.0, 0.0, 0.0), (0.0, 0.0, 11.0), (30.0, 0.0, 11.0)},
    }


def test_answers_to_two_choices_hold_together(doubled: tuple[tuple[Part, ...], tuple[str, ...], Bodies]) -> None:
    parts, marks, found = doubled
    told, fit = proposal(parts, found), Fit(parts)
    both = chosen(told, {1: 2, 2: 3}, fit)
    for number, way in ((1, 2), (2, 3)):
        (piece,) = told.choices[number - 1].pieces
        alone = chosen(told, {number: way}, fit)
        assert set(alone) == {piece}
        assert np.allclose(both[piece].rotation, alone[piece].rotation)
        assert np.allclose(both[piece].origin, alone[piece].origin)
    assert {marks[i] for i in both} == {"D1", "D2"}


def test_no_two_ways_of_a_choice_make_the_same_body() -> None:
    """Strakes of a plating: ways that another one hides were once told twice."""
    parts, _ = bare_pieces(kit("plating", 1), ROWS)
    told, fit = proposal(parts, assembled(parts)), Fit(parts)
    assert told.choices
    for number, choice in enumerate(told.choices, 1):
        bodies = [{**told.poses, **chosen(told, {number: way}, fit)} for way in range(1, len(choice.ways) + 1)]
        poses = np.array([np.concatenate([matrix(body[i]).ravel() for i in sorted(body)]) for body in bodies])
        assert all(np.abs(one - other).max() > 0.1 for one, other in combinations(poses, 2))
