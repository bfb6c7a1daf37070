"""The tools of the gang, and where each stands at a rivet: a chain of rods and bars on the axis and beside it."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.body import Stacks
from fabplan.model.job import Job
from fabplan.model.lookup import find_head
from fabplan.model.tables import Tables
from fabplan.model.tool import Tool

GAP = 0.2  # mm between a tool and the face it stands on, so that touching plies are not hit
HEAD_FACTOR = 1.75  # of d, where no table lists the head (round heads of DIN 660)
HEIGHT_FACTOR = 0.7  # of d, where no table lists the head (snap heads of BS 275)
POINT = 1.75  # of d, shank for the point: the most of the published rules, German hand driving (from memory)
BANDS = 3  # into which the swing of a hammer is cut
LENGTHS = 5  # into which the handle of a spanner is cut
SPANNERS = ("turn", "keep")
"""Uses of tools that serve bolts alone."""


@dataclass(frozen=True, slots=True, eq=False)
class Seat:
    """One side of n rivets, as a tool finds it. Lengths mm, body frame.

    Attributes:
        foot: (n, 3) where a tool stands, just off the face.
        out: (n, 3) unit vectors away from the face.
        head, other: (n,) diameters of the head on this side and on the other.
        through: (n,) between the faces that the heads lie on.
        rivet: (n,) length of a rivet before it is put in, with its head.
    """

    foot: FloatArray
    out: FloatArray
    head: FloatArray
    other: FloatArray
    through: FloatArray
    rivet: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """A rod or a bar of a tool at n rivets, mm.

    Attributes:
        start: (n,) height over the foot at which it begins.
        length: (n,) along the axis.
        radius: (n,).
        aside: from the rivet's axis to the middle of its near end.
        across: how much further aside a bar goes.
        plies: True where the rivet's own plies must be clear of it too.
    """

    start: FloatArray
    length: FloatArray
    radius: FloatArray
    aside: float = 0.0
    across: float = 0.0
    plies: bool = False

    @property
    def turned(self) -> bool:
        """True where it lies elsewhere at each turn."""
        return self.aside != 0.0 or self.across != 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """The pieces of a tool, nose first, and where hands must get: height (n,) over the foot and distance aside, mm."""

    pieces: tuple[Piece, ...]
    height: FloatArray
    aside: float


def shop_tools(job: Job, tables: Tables) -> tuple[Tool, ...]:
    """The tools of the tables, those that the shop states in place of theirs of the same name, and its others.

    Where assumed tools do not count, the table's stay for putting rivets in, and for bolts.
    """
    stated = {tool.name: tool for tool in job.shop.tools}
    kept = [stated.pop(tool.name, tool) for tool in tables.tools]
    counts = job.shop.assumed_tools
    counted = [tool for tool in kept if counts or not tool.assumed or tool.use not in ("drive", "hold", "squeeze")]
    return (*counted, *stated.values())


def seats(job: Job, stacks: Stacks, tables: Tables) -> tuple[Seat, Seat]:
    """The made heads' side and the points' side of all rivets."""
    sizes = [_heads(job, stacks, tables, side) for side in (0, 1)]
    through = np.linalg.norm(stacks.point_face - stacks.head_face, axis=1)
    shank = through + POINT * _diameter(stacks)
    found = []
    for side, (face, out) in enumerate(((stacks.head_face, -stacks.axis), (stacks.point_face, stacks.axis))):
        (head, height), (other, _) = sizes[side], sizes[1 - side]
        made = height if side == 0 else sizes[0][1]
        found.append(Seat(face + GAP * out, out, head, other, through, shank + made))
    return found[0], found[1]


def _diameter(stacks: Stacks) -> FloatArray:
    """(n,) of the rivets; 1 mm less than the hole where it is unknown."""
    return np.where(stacks.diameter > 0.0, stacks.diameter, np.maximum(stacks.hole - 1.0, 1.0))


def _heads(job: Job, stacks: Stacks, tables: Tables, side: int) -> tuple[FloatArray, FloatArray]:
    """(n,) diameter and (n,) height of the head on one side, mm."""
    listed = np.full((len(job.rivets) + 1, 2), np.nan)
    for number, rivet in enumerate(job.rivets):
        row = find_head(tables, rivet, rivet.head if side == 0 else rivet.point)
        if row is not None:
            listed[number] = row.head_diameter, row.head_height
    unknown = _diameter(stacks)[:, None] * np.array([HEAD_FACTOR, HEIGHT_FACTOR])
    sizes = np.where(np.isnan(listed[stacks.rivet]), unknown, listed[stacks.rivet])
    return sizes[:, 0], sizes[:, 1]


def served(job: Job, stacks: Stacks, tool: Tool) -> BoolArray:
    """(n,) True for rivets that a tool serves by their size and closing; those of an unknown kind count as hot."""
    hot = np.array([*(rivet.closing == "hot" for rivet in job.rivets), True])[stacks.rivet]
    served: BoolArray = large_enough(stacks, tool) & ((tool.closing == "") | (hot == (tool.closing == "hot")))
    return served


def large_enough(stacks: Stacks, tool: Tool) -> BoolArray:
    """(n,) True where a tool serves the diameter."""
    return np.asarray((tool.largest <= 0.0) | (_diameter(stacks) <= tool.largest), dtype=np.bool_)


def fits(stacks: Stacks, tool: Tool, tools: Sequence[Tool]) -> BoolArray:
    """(n,) True where a tool fits the bolts; a table's spanner those alone that its next smaller one does not."""
    alike = [one.largest for one in tools if (one.use, one.swing, one.assumed) == (tool.use, tool.swing, True)]
    smaller = max((size for size in alike if size < tool.largest), default=0.0) if tool.assumed else 0.0
    return np.asarray(large_enough(stacks, tool) & (_diameter(stacks) > smaller), dtype=np.bool_)


def spanners(tools: Sequence[Tool]) -> tuple[Tool, ...]:
    """Of some tools those for bolts: spanners, and what puts cold rivets in, by hand."""
    return tuple(tool for tool in tools if tool.use in SPANNERS or (tool.use == "enter" and tool.closing != "hot"))


def chains(tool: Tool, seat: Seat) -> tuple[tuple[Chain, bool], ...]:
    """How a tool may stand: each chain, and whether it may be turned about the axis; a straight tool first upright."""
    if tool.use in SPANNERS:
        return ((_spanner(tool, seat), True),)
    if tool.throat > 0.0:
        return ((_yoke(tool, seat), True),)
    if tool.handle > 0.0:
        return ((_swung(tool, seat), True),)
    if tool.crank > 0.0:
        return ((_cranked(tool, seat), True),)
    straight = (_straight(tool, seat, 0.0), False)
    return (straight, (_straight(tool, seat, tool.body_offset), True)) if tool.body_offset > 0.0 else (straight,)


def _nose(tool: Tool, seat: Seat) -> Piece:
    over = seat.head + tool.nose_over_head if tool.assumed else np.full(len(seat.head), tool.nose_over_head)
    length = np.full(len(seat.head), tool.nose_length) + (seat.rivet if tool.use == "enter" else 0.0)
    return Piece(np.zeros(len(seat.head)), length, over / 2.0)


def _rod(start: FloatArray, length: float, diameter: float, aside: float = 0.0, across: float = 0.0) -> Piece:
    return Piece(start, np.full(len(start), length), np.full(len(start), diameter / 2.0), aside, across)


def _straight(tool: Tool, seat: Seat, lean: float) -> Chain:
    """A body behind the nose, its middle `lean` off the axis, and the room behind it, as much further off as back."""
    nose = _nose(tool, seat)
    steep = (nose.length + tool.body_length + tool.room_length / 2.0) / (nose.length + tool.body_length / 2.0)
    return _behind(tool, (nose,), nose.length, (lean, lean * float(steep.min())))


def _behind(tool: Tool, before: tuple[Piece, ...], start: FloatArray, aside: tuple[float, float]) -> Chain:
    """A body that begins at a height, aside, and the room behind it, aside."""
    body = _rod(start, tool.body_length, tool.body_diameter, aside[0])
    pieces, end = (*before, *_neck(before[-1], body), body), start + tool.body_length
    if tool.room_length <= 0.0:
        return Chain(pieces, end, aside[0])
    room = _rod(end, tool.room_length, tool.room_diameter, aside[1])
    return Chain((*pieces, *_neck(body, room), room), end + tool.room_length, aside[1])


def _neck(one: Piece, two: Piece) -> tuple[Piece, ...]:
    """A bar from one piece to the next further aside, as wide as the thinner, where a plate could pass between them."""
    far = one.aside + one.across
    if two.aside - far < float((one.radius + two.radius).min()):
        return ()
    radius = np.minimum(one.radius, two.radius)
    return (Piece(two.start, np.minimum(2.0 * radius, two.length), radius, far, two.aside - far),)


def _cranked(tool: Tool, seat: Seat) -> Chain:
    """A nose, an arm across as thick as the body, and the body at the arm's end."""
    nose = _nose(tool, seat)
    arm = _rod(nose.length, tool.body_diameter, tool.body_diameter, 0.0, tool.crank)
    return _behind(tool, (nose, arm), nose.length, (tool.crank, tool.crank))


def _swung(tool: Tool, seat: Seat) -> Chain:
    """A snap, the sector that hammer and handle sweep as bars one over the other, never too small, and the hand."""
    nose = _nose(tool, seat)
    half = float(np.hypot(tool.body_length, tool.body_diameter)) / 2.0  # of the head, whichever way it stands
    middle, spare = nose.length + tool.body_length / 2.0, half - tool.body_diameter / 2.0
    turn = np.radians(tool.swing) * np.arange(BANDS + 1) / BANDS
    bands = []
    for low, high in pairwise(turn.tolist()):
        near = tool.handle * (1.0 - np.cos(low)) - spare
        far = tool.handle - tool.handle * np.sin(low) / np.tan(turn[-1])
        far = max(far, tool.handle * (1.0 - np.cos(high)) + spare)
        tall = tool.handle * (np.sin(high) - np.sin(low)) + 2.0 * half
        start = np.maximum(middle + tool.handle * np.sin(low) - half, nose.length)
        bands.append(_rod(start, float(tall), tool.body_diameter, float(near), float(far - near)))
    hand = _rod(middle - tool.room_length / 2.0, tool.room_length, tool.room_diameter, tool.handle)
    return Chain((nose, *bands, hand), middle, tool.handle)


def _spanner(tool: Tool, seat: Seat) -> Chain:
    """A jaw, the sector that the handle goes through as bars one beyond the other, never too small, and the hand."""
    jaw, half = _nose(tool, seat), float(np.radians(tool.swing)) / 2.0
    start, wide = jaw.length - tool.body_length, 2.0 * float(np.sin(half))
    bands = []
    for near, far in pairwise((tool.handle * np.arange(LENGTHS + 1) / LENGTHS).tolist()):
        begin = near or far * wide / 2.0  # behind the nut no more than half the handle's width
        bands.append(_rod(start, tool.body_length, tool.body_diameter + far * wide, begin, far - begin))
    near = tool.handle * float(np.cos(half))
    hand = _rod(start, tool.room_length, tool.room_diameter + tool.handle * wide, near, tool.handle - near)
    return Chain((jaw, *bands, hand), start + tool.room_length / 2.0, tool.handle)


def _yoke(tool: Tool, seat: Seat) -> Chain:
    """Two dies, two arms, and the back that joins them beyond the plate's edge, which the plies must be clear of."""
    die, back = _nose(tool, seat), tool.throat + tool.body_diameter / 2.0
    below = -2.0 * GAP - seat.through
    other = seat.other + tool.nose_over_head if tool.assumed else np.full(len(seat.other), tool.nose_over_head)
    arm = _rod(die.length, tool.body_length, tool.body_diameter, 0.0, back)
    under = _rod(below - die.length - tool.body_length, tool.body_length, tool.body_diameter, 0.0, back)
    tall = die.length + tool.body_length - under.start
    spine = Piece(under.start, tall, arm.radius, back, 0.0, plies=True)
    pieces = (die, Piece(below - die.length, die.length, other / 2.0), arm, under, spine)
    return Chain(pieces, below / 2.0, back + tool.body_diameter / 2.0)


def spread_turns(count: int) -> IntArray:
    """Turns 0 to `count` - 1, a power of two, each far from those before it.

    >>> spread_turns(8).tolist()
    [0, 4, 2, 6, 1, 5, 3, 7]
    """
    turns = np.zeros(1, dtype=np.int64)
    while len(turns) < count:
        turns = np.concatenate([turns, turns + count // (2 * len(turns))])
    return turns


def tool_words(tool: Tool) -> str:
    """The sizes of a tool in a line, as they are printed with what was assumed."""
    over = "head + " if tool.assumed else ""
    long = "rivet" if tool.use == "enter" else f"{tool.nose_length:g}"
    more = [
        (tool.body_offset, f"up to {tool.body_offset:g} off the axis"),
        (tool.room_length, f"behind it room of {tool.room_diameter:g} dia x {tool.room_length:g}"),
        (tool.crank, f"cranked {tool.crank:g} aside"),
        (tool.handle, f"{f'swung {tool.swing:g} degrees on ' if tool.swing else ''}a handle of {tool.handle:g}"),
        (tool.throat, f"throat {tool.throat:g}"),
        (tool.largest, f"for rivets to {tool.largest:g}"),
        (tool.closing != "", f"for {tool.closing} rivets"),
    ]
    sizes = f"nose {over}{tool.nose_over_head:g} dia x {long}, body {tool.body_diameter:g} dia x {tool.body_length:g}"
    words = ", ".join([sizes, *(text for size, text in more if size)])
    return f"{tool.name} ({tool.use}): {words}; {'assumed, ' if tool.assumed else ''}{tool.source}"
