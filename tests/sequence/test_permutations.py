"""Peeling against every order of driving, and of setting up: small bodies with either-or tools, all permutations tried.

The judge knows nothing of peeling. It goes forwards: with each rivet its plies come on, for good, and the rivet is
driven where some tool drives it and another holds it up and brings it in, or one squeezes it, and nothing that is on
stands in their way.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from itertools import permutations
from pathlib import Path

import numpy as np
import pytest
import shapely

from fabplan.geom.clearance import Grid
from fabplan.geom.flood import Sizes, Space
from fabplan.geom.prism import Solid
from fabplan.model.arrays import BoolArray
from fabplan.model.pose import Pose
from fabplan.model.tool import Tool
from fabplan.rules.tables import read_tables
from fabplan.sequence.access import Site, access, site
from fabplan.sequence.blocked import Blocked
from fabplan.sequence.peel import in_no_order, peel, plies
from fabplan.sequence.reach import DRIVE, ENTER, HOLD, Panels, Ways, panels_of, ways
from tests.body.made import Made, made
from tests.kits.build import Kit
from tests.sequence.test_cures import lidded

DATUM = 0
Row = tuple[int, int, int, int, frozenset[int]]
"""One way: rivet, side, use, tool, the pieces that stand in it."""


@dataclass(frozen=True)
class Case:
    """A body as tables: the plies of each rivet, and all ways; a squeeze's two rows follow one another."""

    pieces: int
    plies: tuple[frozenset[int], ...]
    rows: tuple[Row, ...]

    def reached(self, rivet: int, present: frozenset[int]) -> bool:
        """Whether one rivet can be driven, by the rows alone."""
        clear = {(side, use) for of, side, use, tool, shut in self.rows if of == rivet and not shut & present}
        return any({(side, DRIVE), (1 - side, HOLD), (1 - side, ENTER)} <= clear for side in (0, 1))

    def site(self) -> Site:
        """The same as a site: pieces are small plates, and all ways end far outside."""
        face = shapely.box(0.0, 0.0, 10.0, 10.0)
        solids = tuple(Solid(Pose(origin=np.array([0.0, 0.0, 20.0 * k])), face, 5.0) for k in range(self.pieces))
        index = np.arange(self.pieces)
        panels = Panels(solids, index, np.zeros(self.pieces, dtype=np.int64), np.zeros(self.pieces, dtype=np.bool_))
        of = [k for k, row in enumerate(self.rows) for _ in row[4]]
        shut = [piece for row in self.rows for piece in sorted(row[4])]
        rivet, side, use, tool = (np.array([row[k] for row in self.rows], dtype=np.int64) for k in range(4))
        many = len(self.rows)
        found = Ways(
            rivet, side, use, tool, np.zeros(many, dtype=np.int64), np.zeros((many, 3)),
            Blocked(np.array(of, dtype=np.int64), np.array(shut, dtype=np.int64), many),
            np.full((many, 3), 1e4), TOOLS,
        )  # fmt: skip
        none = slice(0, 0)
        room = Space(Grid(np.zeros(3), 50.0, (0, 0, 0)), Sizes(1.0, 1.0, 1.0), (None,) * self.pieces, (none,) * 3)
        no = np.zeros(len(self.plies), dtype=np.bool_)
        return Site(panels, found, room, (), 600.0, no, no, no)

    @property
    def member(self) -> BoolArray:
        return np.array([[i in own for i in range(self.pieces)] for own in self.plies], dtype=np.bool_)


TOOLS = tuple(Tool(use, use, 1.0, 1.0, 1.0, 1.0, 0.0, "made up") for use in ("drive", "hold", "enter", "squeeze"))
SQUEEZE = 3


def drawn(seed: int) -> Case:
    """A random body of up to seven pieces and six rivets; now and then a piece that nothing is riveted to."""
    rng = np.random.default_rng(seed)
    pieces, rivets = int(rng.integers(3, 8)), int(rng.integers(2, 7))
    held = max(2, pieces - int(rng.random() < 0.3))
    own = [frozenset(rng.choice(held, 2 + int(held > 2 and rng.random() < 0.2), replace=False).tolist())
           for _ in range(rivets)]  # fmt: skip
    crowd = rng.uniform(0.05, 0.5)

    def shut(rivet: int) -> frozenset[int]:
        return frozenset(i for i in range(pieces) if i not in own[rivet] and rng.random() < crowd)

    rows: list[Row] = []
    for rivet in range(rivets):
        for side in (0, 1):
            for use in (DRIVE, HOLD, ENTER):
                rows += [(rivet, side, use, use, shut(rivet)) for _ in range(int(rng.integers(0, 4)))]
        if rng.random() < 0.3:
            both = shut(rivet)
            rows += [(rivet, 1, DRIVE, SQUEEZE, both), (rivet, 0, HOLD, SQUEEZE, both)]
    return Case(pieces, tuple(own), tuple(rows))


def ends(own: tuple[frozenset[int], ...], reached: Callable[[int, frozenset[int]], bool]) -> Iterator[frozenset[int]]:
    """For every order of driving the longest end of it that can be done, whatever came before it."""
    for order in permutations(range(len(own))):
        done: list[int] = []
        for place in reversed(range(len(order))):
            present = frozenset({DATUM}).union(*(own[rivet] for rivet in order[: place + 1]))
            if not reached(order[place], present):
                break
            done.append(order[place])
        yield frozenset(done)


def driven_at_all(own: tuple[frozenset[int], ...], reached: Callable[[int, frozenset[int]], bool]) -> frozenset[int]:
    """Rivets that at least one order of driving drives, whichever others it leaves out."""
    found: set[int] = set()
    for order in permutations(range(len(own))):
        present = frozenset({DATUM})
        for rivet in order:
            present |= own[rivet]
            if reached(rivet, present):
                found.add(rivet)
    return frozenset(found)


@pytest.mark.parametrize("block", range(12))
def test_peeling_undoes_what_some_order_of_driving_does(block: int) -> None:
    """Feasible exactly where some permutation is; the core is what no end of any permutation drives.

    Of the core those are told to be driven in no order that no permutation drives, whichever others it leaves out.
    """
    feasible = 0
    for seed in range(25 * block, 25 * block + 25):
        case = drawn(seed)
        reached = cache(case.reached)
        found = set(ends(case.plies, reached))
        everything = frozenset(range(len(case.plies)))
        ground = case.site()
        peeling = peel(ground, case.member, np.ones(case.pieces, dtype=np.bool_), DATUM)
        undone = frozenset(np.nonzero(peeling.round >= 0)[0].tolist())
        assert (undone == everything) == (everything in found), seed
        assert undone == frozenset().union(*found), seed
        left = np.nonzero(peeling.round < 0)[0]
        never = frozenset(in_no_order(ground, case.member, left, DATUM).tolist()) if len(left) else frozenset()
        assert never == everything - driven_at_all(case.plies, reached), seed
        feasible += undone == everything
    assert 0 < feasible < 25


def some(marks: str, stiffener: float) -> Kit:
    """Some pieces of the closed box with the seams between them."""
    whole = lidded(stiffener=stiffener)
    own = marks.split()
    seams = [seam for seam in whole.seams if set(seam.plies) <= set(own)]
    return Kit([piece for piece in whole.pieces if piece.mark in own], seams, whole.job)


class Body:
    """A small body in space, and which rivets are driven while some of its pieces stand."""

    def __init__(self, found: Made) -> None:
        self.count, self.datum = len(found.body.instances), found.index("F1")
        panels = panels_of(found.body)
        reach = ways(found.job, found.body, found.stacks, panels, read_tables())
        self.site = site(found.job, found.body, found.stacks, panels, reach)
        self.member = plies(found.stacks, self.count)
        self.states: dict[frozenset[int], frozenset[int]] = {}

    def driven(self, standing: frozenset[int]) -> frozenset[int]:
        if standing not in self.states:
            present = np.isin(np.arange(self.count), sorted(standing))
            whole = ~(self.member & ~present).any(axis=1)
            now = access(self.site, len(self.member), present).reached & whole
            self.states[standing] = frozenset(np.nonzero(now)[0].tolist())
        return self.states[standing]

    def ends(self) -> Iterator[frozenset[int]]:
        """For every order of setting up what is driven in the longest end of it that leaves no rivet of its pieces."""
        others = [i for i in range(self.count) if i != self.datum]
        held = [frozenset(np.nonzero(self.member[:, i])[0].tolist()) for i in range(self.count)]
        for order in permutations(others):
            standing = frozenset({self.datum, *others})
            done = self.driven(standing)
            for piece in reversed(order):
                if not held[piece] <= done:
                    break
                standing -= {piece}
                done |= self.driven(standing)
            yield done

    def driven_at_all(self) -> frozenset[int]:
        """What at least one order of setting up drives at some time."""
        others = [i for i in range(self.count) if i != self.datum]
        for order in permutations(others):
            for many in range(len(order) + 1):
                self.driven(frozenset({self.datum, *order[:many]}))
        return frozenset().union(*self.states.values())


@pytest.mark.parametrize(
    ("marks", "stiffener", "feasible"),
    [
        ("F1 S1 A1 X1", 12.0, True),
        ("F1 S1 A1 X1", 30.0, True),
        ("F1 S1 E1 A1 A3 X1", 10.0, False),
        ("F1 S1 S2 A1 A2 T1 B1", 0.0, False),
    ],
)
def test_peeling_against_every_order_of_setting_up(
    tmp_path: Path, marks: str, stiffener: float, feasible: bool
) -> None:
    """Real pieces and tools: every permutation of up to six pieces on the floor plate."""
    body = Body(made(some(marks, stiffener), tmp_path))
    found = set(body.ends())
    everything = frozenset(range(len(body.member)))
    peeling = peel(body.site, body.member, np.ones(body.count, dtype=np.bool_), body.datum)
    undone = frozenset(np.nonzero(peeling.round >= 0)[0].tolist())
    assert undone == frozenset().union(*found)
    assert (undone == everything) == (everything in found)
    assert (undone == everything) == feasible
    left = np.nonzero(peeling.round < 0)[0]
    never = set(in_no_order(body.site, body.member, left, body.datum).tolist()) if len(left) else set()
    assert never == everything - body.driven_at_all()
