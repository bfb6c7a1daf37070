"""Boxes that nothing can build as drawn: what is told to help is cut into the body, and that body is built."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fabplan.geom.pose import compose, to_own
from fabplan.model.body import Body
from fabplan.model.finding import Finding, Level
from fabplan.model.job import Job
from fabplan.model.profile import Profile
from fabplan.model.sequence import Sequence
from fabplan.model.tool import Tool
from fabplan.rules.tables import read_tables
from fabplan.sequence.order import order
from tests.body.made import Made, made
from tests.kits.build import Angle, Frame, Keys, Kit, Piece, Plate, Seam, Vector, drilled, minus, rectangle
from tests.kits.random_kits import BACK, GAP, LEG, LEG_THICK, STATED, X, Y, Z, odd_line

LONG, WIDE, HIGH, T = 600.0, 400.0, 400.0, 5.0


def _angle(mark: str, origin: Vector, x: Vector, y: Vector, length: float) -> Angle:
    return Angle(mark, Frame(origin, x, y), (LEG, LEG, LEG_THICK), length)


def _along(mark: str, plies: tuple[str, str], start: Vector, end: Vector, axis: Vector) -> Seam:
    return Seam(mark, plies, odd_line(start, end, 38.0), axis, {"head": "outside"})


def lidded(
    lid: bool = True, stiffener: float = 0.0, back: float = BACK, span: tuple[float, float] = (40.0, LONG - 40.0)
) -> Kit:
    """A box with its lid on: floor, walls and lid on angles inside, all heads outside. No opening anywhere.

    Without its lid it is open. A stiffening angle lies outside along the row B, its heel so many mm from that row, its
    own row so many from its heel; it spans so much of the side.
    """
    inner = WIDE - BACK
    pieces: list[Piece] = [
        Plate("F1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(LONG, WIDE), T, keys={"marked": "inside"}),
        Plate("S1", Frame((-T, -T, -T), X, Z), rectangle(LONG + 2 * T, HIGH + T), T, keys=STATED),
        Plate("S2", Frame((LONG + T, WIDE + T, -T), minus(X), Z), rectangle(LONG + 2 * T, HIGH + T), T, keys=STATED),
        Plate("E1", Frame((-T, WIDE, -T), minus(Y), Z), rectangle(WIDE, HIGH + T), T, keys=STATED),
        Plate("E2", Frame((LONG + T, 0.0, -T), Y, Z), rectangle(WIDE, HIGH + T), T, keys=STATED),
        Plate("T1", Frame((-T, -T, HIGH + T), X, Y), rectangle(LONG + 2 * T, WIDE + 2 * T), T, keys=STATED),
        _angle("A1", (2.0, 0.0, 0.0), X, Y, LONG - 4.0),
        _angle("A2", (LONG - 2.0, WIDE, 0.0), minus(X), minus(Y), LONG - 4.0),
        _angle("A3", (0.0, WIDE - GAP, 0.0), minus(Y), X, WIDE - 2.0 * GAP),
        _angle("A4", (LONG, GAP, 0.0), Y, minus(X), WIDE - 2.0 * GAP),
        _angle("B1", (LONG - 2.0, 0.0, HIGH), minus(X), Y, LONG - 4.0),
        _angle("B2", (2.0, WIDE, HIGH), X, minus(Y), LONG - 4.0),
    ]
    up, down = HIGH - BACK, BACK
    seams = [
        _along("A", ("F1", "A1"), (50.0, BACK, 0.0), (LONG - 44.0, BACK, 0.0), Z),
        _along("B", ("S1", "A1"), (34.0, 0.0, down), (LONG - 38.0, 0.0, down), Y),
        _along("C", ("F1", "A2"), (50.0, inner, 0.0), (LONG - 44.0, inner, 0.0), Z),
        _along("D", ("S2", "A2"), (34.0, WIDE, down), (LONG - 38.0, WIDE, down), minus(Y)),
        _along("E", ("F1", "A3"), (BACK, 62.0, 0.0), (BACK, WIDE - 68.0, 0.0), Z),
        _along("F", ("E1", "A3"), (0.0, 58.0, down), (0.0, WIDE - 60.0, down), X),
        _along("G", ("F1", "A4"), (LONG - BACK, 62.0, 0.0), (LONG - BACK, WIDE - 68.0, 0.0), Z),
        _along("H", ("E2", "A4"), (LONG, 58.0, down), (LONG, WIDE - 60.0, down), minus(X)),
        _along("J", ("S1", "B1"), (34.0, 0.0, up), (LONG - 38.0, 0.0, up), Y),
        _along("K", ("T1", "B1"), (50.0, BACK, HIGH), (LONG - 44.0, BACK, HIGH), minus(Z)),
        _along("L", ("S2", "B2"), (34.0, WIDE, up), (LONG - 38.0, WIDE, up), minus(Y)),
        _along("M", ("T1", "B2"), (50.0, inner, HIGH), (LONG - 44.0, inner, HIGH), minus(Z)),
    ]
    if stiffener:
        (first, last), low = span, down + stiffener
        pieces.append(_angle("X1", (first, -T, low), X, Z, last - first))
        seams.append(_along("X", ("X1", "S1"), (first + 20.0, -T, low + back), (last - 26.0, -T, low + back), Y))
    if not lid:
        pieces = [piece for piece in pieces if piece.mark not in ("T1", "B1", "B2")]
        seams = [seam for seam in seams if seam.mark not in ("J", "K", "L", "M")]
    job: Keys = {"title": "Closed box", "number": "K2", "datum": "F1", "exposed": True, "drawings": "."}
    return drilled(Kit(pieces, seams, job))


@pytest.fixture(scope="module")
def box(tmp_path_factory: pytest.TempPathFactory) -> Made:
    found = made(lidded(), tmp_path_factory.mktemp("closed"))
    assert found.checks() == []
    return found


def closed_by(job: Job, closing: str) -> Job:
    """The job with rivets driven hot or cold."""
    return replace(job, rivets=tuple(replace(rivet, closing=closing) for rivet in job.rivets))


def ordered(box: Made, job: Job, body: Body | None = None) -> tuple[Sequence, tuple[Finding, ...]]:
    return order(job, body or box.body, box.stacks, read_tables(), ())


def pierced(box: Made, mark: str, place: tuple[float, float, float], diameter: float) -> Body:
    """The body with a round hole, of 64 chords round the circle, in one plate."""
    body, instance = box.body, box.index(mark)
    part, pose = body.part_of(instance), body.poses[instance]
    assert pose is not None
    (panel,) = part.panels
    middle = to_own(compose(pose, panel.frame), np.array([place]))[0, :2]
    turn = 2.0 * np.pi * np.arange(64) / 64.0
    ring = middle + diameter / 2.0 / np.cos(np.pi / 64.0) * np.column_stack([np.cos(turn), np.sin(turn)])
    cut = replace(part, panels=(replace(panel, cutouts=(Profile(ring, np.zeros(64)),)),))
    return replace(body, parts=tuple(cut if one is part else one for one in body.parts))


FLANGES = ("AB", "CD", "EF", "GH", "JK", "LM")
"""Both seams of each bar of the box: one holds it to a wall, the other to floor or top."""


def only_the_bench_helps(box: Made, sequence: Sequence) -> bool:
    """True where of both rows of each bar one is driven on the bench, and the other is left."""
    left = {box.stacks.number[i].split()[0] for i in sequence.core.rivets.tolist()}
    driven = {box.stacks.number[i].split()[0] for step in sequence.steps for run in step.work for i in run.rivets}
    bench = all(step.title.startswith("On the bench") for step in sequence.steps if step.work)
    return bench and not left & driven and all(len(left.intersection(pair)) == 1 for pair in FLANGES)


def test_the_hand_hole_told_makes_a_closed_box_that_can_be_built(box: Made) -> None:
    """No order builds the box; with the hole cut as told, in the plate and at the place named, all of it is built."""
    job = closed_by(box.job, "cold")
    sequence, _ = ordered(box, job)
    assert only_the_bench_helps(box, sequence)
    (told,) = [line for line in sequence.core.help if line.startswith("A hand hole")]
    assert "all of them can be driven then (tried)" in told
    found = re.match(r"A hand hole of (\d+) mm in (\w+) at (-?\d+) (-?\d+) (-?\d+)", told)
    assert found is not None
    size, mark, *place = found.groups()
    assert float(size) >= job.shop.arm_opening
    x, y, z = (float(value) for value in place)
    built, _ = ordered(box, job, pierced(box, mark, (x, y, z), float(size)))
    assert len(built.core.rivets) == 0
    assert any("arm" in (work.driver_access, work.holder_access) for step in built.steps for work in step.work)


def test_a_hole_too_small_for_a_hand_builds_nothing(box: Made) -> None:
    job = closed_by(box.job, "cold")
    built, _ = ordered(box, job, pierced(box, "T1", (300.0, 200.0, 402.5), job.shop.hand_opening - 10.0))
    assert only_the_bench_helps(box, built)


def test_the_tap_rivets_told_make_a_closed_box_that_can_be_built(box: Made) -> None:
    """Hot rivets want tongs inside; told are a piece put on last, and tap rivets through it, which then build it."""
    job = closed_by(box.job, "hot")
    sequence, _ = ordered(box, job)
    (told,) = [line for line in sequence.core.help if "put on last" in line]
    mark = told.split(" put on last")[0]
    assert "want tap rivets from the side that is reached (tried)" in told
    (rivet,) = job.rivets
    tap = replace(rivet, mark="T10", kind="tap rivet")
    through = {seam.mark for seam in job.seams if any(ply.instance == mark for ply in seam.plies)}
    seams = tuple(replace(seam, rivet="T10") if seam.mark in through else seam for seam in job.seams)
    tapped = replace(job, rivets=(rivet, tap), seams=seams)
    own = np.isin(box.stacks.seam, [k for k, seam in enumerate(job.seams) if seam.mark in through])
    changed = replace(box, stacks=replace(box.stacks, rivet=np.where(own, 1, box.stacks.rivet)))
    built, _ = ordered(changed, tapped)
    assert len(built.core.rivets) == 0


def test_tools_that_the_shop_lacks_are_told_where_they_help(box: Made) -> None:
    """A shop that has one hammer and one bar a metre long: in a box of 0.6 m with a hand hole the bar has no room."""
    body = pierced(box, "T1", (300.0, 200.0, 402.5), 200.0)
    own = (
        Tool("our hammer", "drive", 30.0, 60.0, 70.0, 240.0, 0.0, "stated", assumed=False),
        Tool("our bar", "hold", 30.0, 60.0, 50.0, 1000.0, 0.0, "stated", assumed=False),
    )
    job = closed_by(box.job, "cold")
    job = replace(job, shop=replace(job.shop, tools=own, assumed_tools=False))
    sequence, _ = ordered(box, job, body)
    assert len(sequence.core.rivets) > 0
    assert any(
        line.startswith("The assumed tools of the table beside the shop's own: all of them")
        for line in sequence.core.help
    )
    job = replace(job, shop=replace(job.shop, assumed_tools=True))
    built, _ = ordered(box, job, body)
    assert len(built.core.rivets) == 0


def test_a_row_beside_a_stiffener_is_driven_before_it_is_on(tmp_path: Path) -> None:
    """The narrowest assumed snap is 6.35 mm wider than the head all round (practice of 1912): 12 mm are too few."""
    close = made(lidded(lid=False, stiffener=12.0), tmp_path)
    sequence, _ = ordered(close, closed_by(close.job, "cold"))
    assert len(sequence.core.rivets) == 0
    along, bar = close.stacks.point[:, 0], close.index("X1")
    row = np.array([number.startswith("B ") for number in close.stacks.number])
    beside = set(np.nonzero(row & (along > 40.0) & (along < LONG - 40.0))[0].tolist())
    runs = [(step, set(work.rivets.tolist()) & beside) for step in sequence.steps for work in step.work]
    assert {i for _, own in runs for i in own} == beside
    assert all(bar not in step.present for step, own in runs if own)


def test_a_row_too_near_to_its_own_upstand_is_named(tmp_path: Path) -> None:
    """The leg is 5 mm thick, the row 13 mm from its heel: 8 mm of room, the narrowest assumed snap wants more."""
    close = made(lidded(lid=False, stiffener=60.0, back=13.0), tmp_path)
    sequence, found = ordered(close, closed_by(close.job, "cold"))
    row = {number for number in close.stacks.number if number.startswith("X ")}
    assert row <= {close.stacks.number[i] for i in sequence.core.rivets.tolist()}
    (told,) = [one for one in found if row & set(one.where.holes)]
    assert told.level is Level.STOP
    assert set(told.where.holes) == row
    assert "in the way: X1" in told.what

    assert "another tool, or another place for the row" in told.mend


def test_a_stiffener_clear_of_a_row_stops_nothing(tmp_path: Path) -> None:
    clear = made(lidded(lid=False, stiffener=60.0), tmp_path)
    sequence, _ = ordered(clear, closed_by(clear.job, "cold"))
    assert len(sequence.core.rivets) == 0
