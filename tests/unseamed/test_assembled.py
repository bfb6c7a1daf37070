"""Kits put together from their holes alone, judged by where metal and holes were built: never a wrong body."""

from dataclasses import replace

import numpy as np
import pytest

from fabplan.geom.pose import compose
from fabplan.kit.contact import contact
from fabplan.kit.find import assembled
from fabplan.kit.shape import shape_of
from fabplan.model.part import Part
from fabplan.model.pose import Pose
from tests.kits.build import Array, Frame, Kit, Piece, Plate, Seam, drilled, line, minus, rectangle
from tests.unseamed.campaign import bare_pieces
from tests.unseamed.folder import BARE, PLAIN, ROWS
from tests.unseamed.judge import LISTED, SOLVED, offered, outcome, true_pose
from tests.unseamed.kits import kit
from tests.unseamed.lay import X, Y, Z, angle, job
from tests.unseamed.shell import Shell

TEN = [
    ("box", 1, ROWS, {SOLVED}),
    ("box", 3, BARE, {SOLVED, LISTED}),
    ("hopper", 0, BARE, {LISTED}),
    ("hopper", 1, ROWS, {LISTED}),
    ("panel", 1, PLAIN, {LISTED}),
    ("plating", 1, ROWS, {LISTED}),
    ("plating", 2, PLAIN, {LISTED}),
    ("plating", 3, BARE, {SOLVED, LISTED}),
    ("shell", 3, ROWS, {LISTED}),
    ("box", 9, ROWS, {SOLVED}),
]


@pytest.mark.parametrize(("name", "seed", "layers", "right"), TEN)
def test_ten_kits_come_together_right_or_are_left_open(name: str, seed: int, layers: str, right: set[str]) -> None:
    known = kit(name, seed)
    parts, marks = bare_pieces(known, layers)
    assert outcome(known, parts, marks, assembled(parts, work=100_000)) in right


def test_a_search_that_gives_up_says_so() -> None:
    parts, _ = bare_pieces(kit("box", 1), BARE)
    assert not assembled(parts, work=20).whole


def test_a_ring_that_can_turn_in_its_shell_is_listed_at_each_pitch_and_its_end_goes_along() -> None:
    """One pitch throughout: 2 int(pi r / p / 2) spaces to a half, as the kit was laid out."""
    shell = Shell(14, uniform=True)
    pitch = shell.lay.one
    assert pitch is not None
    spaces = 2 * int(np.pi * shell.radius / pitch / 2.0)
    known = shell.made()
    parts, marks = bare_pieces(known, BARE)
    found = assembled(parts)
    assert found.whole
    for turns in (0, 1, spaces // 2):
        angle = np.radians(180.0 * turns / spaces)
        turn = np.array([[1.0, 0.0, 0.0], [0.0, np.cos(angle), -np.sin(angle)], [0.0, np.sin(angle), np.cos(angle)]])
        poses = {mark: true_pose(known, mark) for mark in marks}
        poses |= {mark: compose(Pose(turn, np.zeros(3)), poses[mark]) for mark in ("R21", "R22", "E2")}
        assert offered(found, parts, [poses[mark] for mark in marks]), turns


def test_pieces_that_do_not_belong_together_make_no_body() -> None:
    """A box and the angles of another one: too many holes would be left without a mate."""
    own, marks = bare_pieces(kit("box", 1), BARE)
    others, _ = bare_pieces(kit("box", 3), BARE)
    mixed = tuple(
        others[k] if mark.startswith(("A", "C")) else part
        for k, (part, mark) in enumerate(zip(own, marks, strict=True))
    )
    found = assembled(mixed, work=2500)
    assert all(len(body) < len(mixed) or found.bare > 0 for body in found.bodies) or not found.whole


def test_pieces_alike_are_one_kind_whatever_their_marks() -> None:
    """Cleats at either edge of a panel bear two marks and are one piece of steel; so are copies of one part."""
    parts, marks = bare_pieces(kit("panel", 0), ROWS)
    kinds = assembled(parts, work=1).kinds
    cleats = {k for k, mark in enumerate(marks) if mark.startswith(("V", "W"))}
    assert any(set(kind) == cleats for kind in kinds)
    copies = (parts[0], replace(parts[0], mark="copy"))
    assert assembled(copies, work=1).kinds == ((0, 1),)


@pytest.mark.parametrize(("shorter", "kinds"), [(2.0, 3), (0.4, 2)])
def test_bars_of_two_lengths_are_two_kinds_though_their_holes_are_alike(shorter: float, kinds: int) -> None:
    """Either end lies half as far back: 1 mm is another piece, 0.2 mm is within 0.3 mm, as sizes are drawn rounded."""
    plate = Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(600.0, 300.0), 6.0)
    pieces: list[Piece] = [plate]
    seams = []
    for mark, y, length in (("D1", 50.0, 408.0), ("D2", 200.0, 408.0 - shorter)):
        frame = Frame((300.0 - length / 2.0, y, 5.0), X, Y)
        pieces.append(Plate(mark, frame, rectangle(length, 50.0), 5.0))
        seams.append(Seam(mark, ("P1", mark), line((120.0, y + 25.0, 0.0), (480.0, y + 25.0, 0.0), 40.0), Z))
    parts, _ = bare_pieces(drilled(Kit(pieces, seams, job("Doubled", "P1"))), BARE)
    assert len(assembled(parts, work=1).kinds) == kinds


def test_a_bracket_of_three_holes_finds_its_place_in_a_zigzag_of_seven() -> None:
    """It is laid on the plate and the plate on it: whichever is asked first, both must know of the same places."""
    across = np.arange(7)
    zigzag = np.column_stack([100.0 + 40.0 * across, 100.0 + 24.0 * (across % 2), np.zeros(7)])
    plate = Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(600.0, 300.0), 6.0)
    bracket = Plate("B1", Frame((80.0, 80.0, 5.0), X, Y), rectangle(120.0, 64.0), 5.0)
    bar = angle("D1", Frame((50.0, 200.0, 0.0), X, Y), (40.0, 40.0, 5.0), 500.0)
    row = line((80.0, 222.0, 0.0), (520.0, 222.0, 0.0), 37.0)
    seams = [Seam("Z", ("P1/z", "B1/z"), zigzag[:3], minus(Z)), Seam("D", ("P1/d", "D1/d"), row, minus(Z))]
    known = drilled(Kit([plate, bracket, bar], seams, job("Zigzag", "P1")))
    plate.rows["z"] = zigzag[:, :2]  # four of its holes stay without a mate
    parts, marks = bare_pieces(known, ROWS)
    assert outcome(known, parts, marks, assembled(parts)) == LISTED


def test_rows_in_line_read_as_one_meet_by_the_length_they_share() -> None:
    """Four plates in two layers whose joints are staggered: the middle lap is part of a longer row on either plate."""
    upper = [
        Plate(mark, Frame((x, 0.0, 0.0), X, Y), rectangle(wide, 80.0), 6.0)
        for mark, x, wide in (("U1", 0.0, 600.0), ("U2", 601.0, 399.0))
    ]
    lower = [
        Plate(mark, Frame((x, 0.0, -6.0), X, Y), rectangle(wide, 80.0), 6.0)
        for mark, x, wide in (("L1", 0.0, 400.0), ("L2", 401.0, 599.0))
    ]
    laps = (
        ("A", "U1", "L1", 30.0, 370.0, 34.0),
        ("B", "U1", "L2", 430.0, 570.0, 35.0),
        ("C", "U2", "L2", 640.0, 970.0, 33.0),
    )
    seams = [
        Seam(mark, (f"{one}/{mark}", f"{two}/{mark}"), line((start, 40.0, -6.0), (end, 40.0, -6.0), pitch), Z)
        for mark, one, two, start, end, pitch in laps
    ]
    known = drilled(Kit([*upper, *lower], seams, job("Staggered", "U1")))
    parts, marks = bare_pieces(known, BARE)
    assert {len(set(part.holes.holes.row)) for part in parts} == {1}
    assert outcome(known, parts, marks, assembled(parts)) == LISTED


def test_plates_alike_that_lap_by_half_of_their_holes_do_so_where_more_holes_meet() -> None:
    """Strakes S-1 on F1 and S-2 on G1 lapped by one of their two rows of three; any two of them could lap so."""
    ground = Plate("G1", Frame((0.0, 0.0, -6.0), X, Y), rectangle(900.0, 300.0), 6.0)
    ground.cutouts = [
        [(x0, 60.0, 0.0), (x1, 60.0, 0.0), (x1, 240.0, 0.0), (x0, 240.0, 0.0)]
        for x0, x1 in ((330.0, 500.0), (210.0, 250.0))
    ]
    upper = Plate("F1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(300.0, 300.0), 6.0)
    one = Plate("S-1", Frame((200.0, 80.0, 6.0), X, Y), rectangle(260.0, 140.0), 6.0, part="S")
    two = Plate("S-2", Frame((660.0, 220.0, 0.0), minus(X), minus(Y)), rectangle(260.0, 140.0), 6.0, part="S")

    def holes(x: float, y: tuple[float, ...], z: float) -> Array:
        return np.array([[x, own, z] for own in y])

    seams = [
        Seam("A", ("F1/e", "S-1/e"), holes(230.0, (110.0, 145.0, 185.0), 0.0), Z),
        Seam("B", ("G1/e", "S-2/e"), holes(630.0, (190.0, 155.0, 115.0), -6.0), Z),
        Seam("C", ("S-1/m", "S-2/m"), holes(430.0, (115.0, 150.0, 185.0), 0.0), Z),
        Seam("D", ("F1/g", "G1/g"), line((40.0, 40.0, -6.0), (40.0, 260.0, -6.0), 37.0), Z),
    ]
    known = drilled(Kit([ground, upper, one, two], seams, job("Strakes", "G1")))
    parts, marks = bare_pieces(known, ROWS)
    found = assembled(parts)
    assert found.doubles
    assert found.bare == 0
    assert outcome(known, parts, marks, found) == LISTED


def test_sheets_thinner_than_a_millimetre_run_into_one_another() -> None:
    """Two sheets of 0.8 mm in one plane that overlap by 50 mm are in one another's way; side by side they are not."""
    sheet = Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(300.0, 200.0), 0.8)
    strap = Plate("B1", Frame((0.0, 0.0, 0.8), X, Y), rectangle(300.0, 40.0), 0.8)
    seam = Seam("A", ("P1", "B1"), line((20.0, 20.0, 0.0), (280.0, 20.0, 0.0), 26.0), Z)
    parts, marks = bare_pieces(drilled(Kit([sheet, strap], [seam], job("Thin", "P1"))), ROWS)
    shape = shape_of(parts[marks.index("P1")])
    assert contact(shape, shape, Pose(np.eye(3), np.array([250.0, 0.0, 0.0]))).fouls
    assert not contact(shape, shape, Pose(np.eye(3), np.array([300.0, 0.0, 0.0]))).fouls


def test_a_strip_of_holes_of_two_sizes_has_two_ends() -> None:
    """Four holes of 11 mm and four of 14: both strips stand where each size has its own, one turned end for end.

    A strip of holes alike could stand either way round; none of these can, so that two strips on one row leave eight
    holes of the plate without a mate.
    """
    plate = Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(500.0, 300.0), 6.0)
    one = Plate("D-1", Frame((100.0, 30.0, 5.0), X, Y), rectangle(292.0, 60.0), 5.0, part="D")
    two = Plate("D-2", Frame((392.0, 210.0, 5.0), minus(X), minus(Y)), rectangle(292.0, 60.0), 5.0, part="D")
    seams = [
        Seam("A", ("P1/a", "D-1/r"), line((120.0, 60.0, 0.0), (372.0, 60.0, 0.0), 36.0), Z),
        Seam("B", ("P1/b", "D-2/r"), line((372.0, 180.0, 0.0), (120.0, 180.0, 0.0), 36.0), Z),
    ]
    parts, marks = bare_pieces(drilled(Kit([plate, one, two], seams, job("Sizes", "P1"))), ROWS)

    def wide(x: float, y: float, mark: str) -> bool:
        return x > 146.0 if mark == "D" else (x > 246.0) == (y < 100.0)

    def sized(part: Part) -> Part:
        holes = part.holes.holes
        size = np.array([14.0 if wide(x, y, part.mark) else 11.0 for x, y in holes.xy.tolist()])
        return replace(part, holes=replace(part.holes, holes=replace(holes, diameter=size)))

    known = {id(part): sized(part) for part in parts}
    found = assembled(tuple(known[id(part)] for part in parts))
    assert found.whole
    assert found.bare == 0
    strips = [marks.index("D-1"), marks.index("D-2")]
    for body in found.bodies:
        turn = body[strips[0]].rotation[:, 0] @ body[strips[1]].rotation[:, 0]
        assert turn == pytest.approx(-1.0)


def test_rows_by_which_a_lone_plate_could_lie_on_its_like_are_bare_all_the_same() -> None:
    """Eighteen holes along two edges, for what is bolted on later: there is no second plate that could meet them."""
    plate = Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(600.0, 400.0), 6.0)
    strip = Plate("S1", Frame((25.0, 175.0, 5.0), X, Y), rectangle(500.0, 50.0), 5.0)
    tie = Plate("S2", Frame((27.0, 95.0, 5.0), X, Y), rectangle(501.0, 50.0), 5.0)
    seams = [
        Seam("A", ("P1/a", "S1/r"), line((50.0, 200.0, 0.0), (490.0, 200.0, 0.0), 40.0), Z),
        Seam("B", ("P1/b", "S2/r"), line((52.0, 120.0, 0.0), (503.0, 120.0, 0.0), 41.0), Z),
    ]
    known = drilled(Kit([plate, strip, tie], seams, job("Spare", "P1")))
    plate.rows |= {mark: np.array([[60.0 + 60.0 * k, y] for k in range(9)]) for mark, y in (("c", 30.0), ("d", 370.0))}
    parts, marks = bare_pieces(known, ROWS)
    found = assembled(parts)
    assert found.bare == 18
    assert outcome(known, parts, marks, found) == LISTED


def test_what_belongs_to_another_body_keeps_nothing_back() -> None:
    """A plate with a strip, and another plate with another strip: no hole of either pair suits one of the other."""
    pieces: list[Piece] = []
    seams = []
    for mark, x, pitch in (("P", 0.0, 40.0), ("Q", 900.0, 33.0)):
        pieces.append(Plate(f"{mark}1", Frame((x, 0.0, 0.0), X, Y), rectangle(600.0, 200.0), 6.0))
        pieces.append(Plate(f"{mark}2", Frame((x + 60.0, 70.0, 5.0), X, Y), rectangle(500.0, 60.0), 5.0))
        row = line((x + 100.0, 100.0, 0.0), (x + 100.0 + 10.0 * pitch, 100.0, 0.0), pitch)
        seams.append(Seam(mark, (f"{mark}1", f"{mark}2"), row, Z))
    parts, marks = bare_pieces(drilled(Kit(pieces, seams, job("Two", "P1"))), ROWS)
    found = assembled(parts, marks.index("P1"))
    assert found.whole
    assert {frozenset(marks[i] for i in body) for body in found.bodies} == {frozenset({"P1", "P2"})}
    assert found.bare == 22


def test_plates_that_could_be_piled_up_without_end_are_piled_as_many_as_there_are() -> None:
    """A packer and a strap on one row of a plate, any of the three on any other: 3 on end in 3! orders, 6 bodies.

    Each new place of one has a place of the others beyond it, so that only their number ends the search.
    """
    skew = [(0.0, 0.0, 0.0), (500.0, 0.0, 0.0), (500.0, 300.0, 0.0), (0.0, 280.0, 0.0)]
    plate = Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), skew, 6.0)
    packer = Plate("W1", Frame((30.0, 35.0, 3.0), X, Y), rectangle(260.0, 50.0), 3.0)
    strap = Plate("S1", Frame((10.0, 30.0, 8.0), X, Y), rectangle(300.0, 60.0), 5.0)
    row = line((60.0, 60.0, 0.0), (260.0, 60.0, 0.0), 40.0)
    known = drilled(Kit([plate, packer, strap], [Seam("A", ("P1", "W1", "S1"), row, Z)], job("Packed", "P1")))
    parts, marks = bare_pieces(known, ROWS)
    found = assembled(parts, marks.index("P1"), work=20_000)
    assert found.whole
    assert len(found.bodies) == 6
    assert outcome(known, parts, marks, found) == LISTED
