"""Kits put together from their holes alone, judged by where metal and holes were built: never a wrong body."""

from dataclasses import replace

import numpy as np
import pytest

from fabplan.geom.pose import compose, inverse
from fabplan.kit.find import assembled
from tests.unseamed.campaign import bare_pieces
from tests.unseamed.folder import BARE, PLAIN, ROWS
from tests.unseamed.judge import LISTED, SOLVED, UNSURE, outcome
from tests.unseamed.kits import kit
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
    assert outcome(known, parts, marks, assembled(parts, work=60_000)) in right


def test_a_search_that_gives_up_says_so() -> None:
    parts, _ = bare_pieces(kit("box", 1), BARE)
    assert not assembled(parts, work=20).whole


def test_where_not_all_was_looked_at_three_pieces_are_laid_anew_and_it_is_said() -> None:
    known = kit("panel", 6)
    parts, marks = bare_pieces(known, BARE)
    found = assembled(parts, work=1000)
    assert (found.whole, found.near, found.bare) == (False, 3, 0)
    assert outcome(known, parts, marks, found) == UNSURE


def test_a_ring_that_can_turn_in_its_shell_is_listed_at_each_pitch_and_its_end_goes_along() -> None:
    """One pitch throughout: 2 int(pi r / p / 2) spaces to a half, as the kit was laid out."""
    known = Shell(2, uniform=True)
    pitch = known.lay.one
    assert pitch is not None
    spaces = 2 * int(np.pi * known.radius / pitch / 2.0)
    parts, marks = bare_pieces(known.made(), BARE)
    found = assembled(parts)
    assert not found.whole
    ring, shell = marks.index("R21"), marks.index("S1")
    turns = set()
    for body in found.bodies:
        one, other = (compose(inverse(some[shell]), some[ring]) for some in (found.bodies[0], body))
        turn = other.rotation @ one.rotation.T
        if np.allclose(turn[:, 0], [1.0, 0.0, 0.0], atol=1e-6) and abs(other.origin[0] - one.origin[0]) < 0.1:
            turns.add(round(float(np.degrees(np.arctan2(turn[2, 1], turn[1, 1]))) * spaces / 180.0, 3) % spaces)
    assert turns == {float(k) for k in range(spaces)}, "two halves that are alike: a half turn changes nothing"


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
