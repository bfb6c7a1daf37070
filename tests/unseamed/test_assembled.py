"""Kits put together from their holes alone, judged by where metal and holes were built: never a wrong body."""

from dataclasses import replace

import numpy as np
import pytest

from fabplan.geom.pose import compose
from fabplan.kit.find import assembled
from fabplan.model.pose import Pose
from tests.kits.build import Frame, Kit, Piece, Plate, Seam, drilled, line, rectangle
from tests.unseamed.campaign import bare_pieces
from tests.unseamed.folder import BARE, PLAIN, ROWS
from tests.unseamed.judge import LISTED, SOLVED, offered, outcome, true_pose
from tests.unseamed.kits import kit
from tests.unseamed.lay import X, Y, Z, job
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
