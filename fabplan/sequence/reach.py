"""Which tools reach which rivet, from which side, and what stands in their way.

side      0 the made head's, 1 the point's
use       0 driving, 1 holding up, 2 putting the rivet in; of bolts turning the nut, keeping the head, putting in
way       one tool at one turn: upright on the axis, or leaning or lying aside in one of 16 directions
blocked   by instance: a piece that stands in the way's room
"""

from dataclasses import dataclass

import numpy as np

from fabplan.geom.envelope import Metal, metal
from fabplan.geom.prism import Solid, solid
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.body import Body, Stacks
from fabplan.model.job import Job
from fabplan.model.tables import Tables
from fabplan.model.tool import Tool
from fabplan.sequence.around import Around, across, around
from fabplan.sequence.blocked import Blocked, joined
from fabplan.sequence.tools import (
    SPANNERS,
    Piece,
    Seat,
    chains,
    fits,
    seats,
    served,
    shop_tools,
    spanners,
    spread_turns,
)

TURNS = 16
KEPT = 3  # ways kept for each rivet, side and tool: those with the fewest pieces in their room
USES = ("drive", "hold", "enter")
DRIVE, HOLD, ENTER = range(3)
OF_BOLTS = {"turn": DRIVE, "keep": HOLD}
"""What spanners do at a bolt, as the uses of a rivet's tools."""

SAME_ROUND = 0.97  # cosine of 14 degrees: facets nearer than that are the plate that the nose stands on


@dataclass(frozen=True, slots=True, eq=False)
class Panels:
    """All panels of the placed pieces in the body frame.

    Attributes:
        solids: k panels.
        owner: (k,) the instance of each.
        panel: (k,) its number in the part.
        facet: (k,) True where it is a facet of a round.
    """

    solids: tuple[Solid, ...]
    owner: IntArray
    panel: IntArray
    facet: BoolArray


@dataclass(frozen=True, slots=True, eq=False)
class Ways:
    """All ways of reaching all rivets.

    A tool that squeezes has two ways for each of its places: one drives from the point's side, the next holds up.

    Attributes:
        rivet, side, use, tool: (w,) indices.
        stance: (w,) which of the tool's chains it is, see `fabplan.sequence.tools.chains`.
        aside: (w, 3) unit vectors: which way what lies aside of the axis is turned.
        blocked: what stands in each way.
        end: (w, 3) where hands must get to work the tool, mm.
        tools: the tools that the indices mean.
    """

    rivet: IntArray
    side: IntArray
    use: IntArray
    tool: IntArray
    stance: IntArray
    aside: FloatArray
    blocked: Blocked
    end: FloatArray
    tools: tuple[Tool, ...]


def panels_of(body: Body) -> Panels:
    """The panels of the placed pieces."""
    found = [
        (solid(panel, pose), i, k, panel.kind != "flat")
        for i, pose in enumerate(body.poses)
        if pose is not None
        for k, panel in enumerate(body.part_of(i).panels)
    ]
    return Panels(
        tuple(one for one, _, _, _ in found),
        np.array([i for _, i, _, _ in found], dtype=np.int64),
        np.array([k for _, _, k, _ in found], dtype=np.int64),
        np.array([facet for _, _, _, facet in found], dtype=np.bool_),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Place:
    """What all tools are held against: the rivets' sides and plies, the panels.

    Attributes:
        seats: both sides of the n rivets.
        panels, metal: k panels.
        own: (n, k) True for panels that a rivet's tools stand on.
        plies: (n, m) True for instances that a rivet holds.
    """

    seats: tuple[Seat, Seat]
    panels: Panels
    metal: Metal
    own: BoolArray
    plies: BoolArray


@dataclass(frozen=True, slots=True, eq=False)
class _Found:
    """Ways of one tool on one side; the columns are those of `Ways`."""

    rivet: IntArray
    stance: IntArray
    aside: FloatArray
    end: FloatArray
    blocked: Blocked

    def take(self, kept: IntArray) -> "_Found":
        return _Found(self.rivet[kept], self.stance[kept], self.aside[kept], self.end[kept], self.blocked.take(kept))


def _every(found: list[_Found]) -> _Found:
    """Several, one after the other."""
    return _Found(
        np.concatenate([one.rivet for one in found]),
        np.concatenate([one.stance for one in found]),
        np.vstack([one.aside for one in found]),
        np.vstack([one.end for one in found]),
        joined([one.blocked for one in found]),
    )


def ways(job: Job, body: Body, stacks: Stacks, panels: Panels, tables: Tables, bolts: BoolArray | None = None) -> Ways:
    """Every way of reaching every rivet, with what stands in its room; or every bolt of `bolts` (n,), with spanners."""
    listed, place = shop_tools(job, tables), _place(job, body, stacks, panels, tables)
    tools = tuple(tool for tool in listed if tool.use not in SPANNERS) if bolts is None else spanners(listed)
    rows = []
    for number, tool in enumerate(tools):
        serves = served(job, stacks, tool) if bolts is None else bolts & fits(stacks, tool, tools)
        if bolts is not None and not serves.any():
            continue
        for side in (1,) if tool.use == "squeeze" else (0, 1):
            found = _tool_ways(place, tool, side, serves)
            rows += [(found, at, use, number) for at, use in _uses(tool, side)]
    sides, uses, tool_of = (np.concatenate([np.full(len(row[0].rivet), row[k]) for row in rows]) for k in (1, 2, 3))
    every = _every([row[0] for row in rows])
    stands = every.stance, every.aside, every.blocked, every.end
    return Ways(every.rivet, sides, uses, tool_of, *stands, tools)


def _uses(tool: Tool, side: int) -> tuple[tuple[int, int], ...]:
    """Sides and uses for which a tool that stands on one side counts."""
    if tool.use == "squeeze":
        return (1, DRIVE), (0, HOLD)
    return ((side, OF_BOLTS[tool.use] if tool.use in OF_BOLTS else USES.index(tool.use)),)


def _place(job: Job, body: Body, stacks: Stacks, panels: Panels, tables: Tables) -> _Place:
    plies = np.zeros((len(stacks), len(body.instances)), dtype=np.bool_)
    plies[np.repeat(np.arange(len(stacks)), np.diff(stacks.first)), stacks.ply_instance] = True
    return _Place(seats(job, stacks, tables), panels, metal(panels.solids), own_panels(stacks, panels), plies)


def _tool_ways(place: _Place, tool: Tool, side: int, serves: BoolArray) -> _Found:
    """The best `KEPT` ways of one tool on one side, for the rivets that it serves.

    A rivet is tried at further turns until nothing stands in its way; no turn helps where a ply of its own stands in
    what lies on the axis.
    """
    seat, found = place.seats[side], []
    first, second = across(seat.out)
    todo, all_stand = serves.copy(), np.ones(place.plies.shape[1], dtype=np.bool_)
    for stance, (chain, turned) in enumerate(chains(tool, seat)):
        near = around(place.metal, place.panels.owner, seat, chain, np.nonzero(todo)[0])
        upright = np.zeros(len(near.whose), dtype=np.bool_)
        for piece in chain.pieces:
            if not piece.turned:
                upright[near.hit(piece, _near(place, near, piece, upright), 0.0)] = True
        turning = [(piece, _near(place, near, piece, upright)) for piece in chain.pieces if piece.turned]
        for number, turn in enumerate(spread_turns(TURNS)[: TURNS if turned else 1].tolist()):
            if number and not todo.any():
                break
            angle, hit = 2.0 * np.pi * turn / TURNS, upright.copy()
            for piece, pairs in turning:
                asked = pairs[todo[near.rivet[pairs]] & ~hit[near.group[pairs]]]
                hit[near.hit(piece, asked, angle)] = True
            aside = np.cos(angle) * first + np.sin(angle) * second
            end = seat.foot + chain.height[:, None] * seat.out + chain.aside * aside
            index = np.nonzero(todo)[0]
            blocked = _of(index, near.whose[hit])
            found.append(_Found(index, np.full(len(index), stance), aside[index], end[index], blocked))
            todo[index[blocked.free(all_stand)]] = False
            if turned and number == 0:
                todo[_hopeless(place, near.whose[upright])] = False
    return _fewest(found)


def _near(place: _Place, near: Around, piece: Piece, hit: BoolArray) -> IntArray:
    """The pairs that a piece comes near, but for what is hit already; own plies too if it asks for them."""
    asked = ~hit[near.group]
    return near.near(piece, asked if piece.plies else asked & ~place.own[near.rivet, near.panel])


def _hopeless(place: _Place, pairs: IntArray) -> IntArray:
    """Of pairs (p, 2) of a rivet and what stands in its way the rivets with a ply of their own there."""
    return np.asarray(pairs[place.plies[pairs[:, 0], pairs[:, 1]], 0])


def _of(rivets: IntArray, pairs: IntArray) -> Blocked:
    """What stands in the ways of some rivets (w,), one each, of pairs (p, 2) of a rivet and an instance."""
    number = np.minimum(np.searchsorted(rivets, pairs[:, 0]), len(rivets) - 1)
    own = rivets[number] == pairs[:, 0]
    return Blocked(number[own], pairs[own, 1], len(rivets))


def _fewest(found: list[_Found]) -> _Found:
    """Of all turns of a tool the `KEPT` ways with the fewest pieces in their room, by rivet."""
    every = _every(found)
    number = np.bincount(every.blocked.of, minlength=every.blocked.count)
    order = np.lexsort((number, every.rivet))
    ranked = every.rivet[order]
    return every.take(order[np.arange(len(order)) - np.searchsorted(ranked, ranked, side="left") < KEPT])


def own_panels(stacks: Stacks, panels: Panels) -> BoolArray:
    """(n, k) True where a panel is a ply of the rivet's own stack, or a facet beside it of the same round."""
    own = np.zeros((len(stacks), len(panels.solids)), dtype=np.bool_)
    place = {(int(i), int(p)): k for k, (i, p) in enumerate(zip(panels.owner, panels.panel, strict=True))}
    owner = np.repeat(np.arange(len(stacks)), np.diff(stacks.first))
    column = [place[int(i), int(p)] for i, p in zip(stacks.ply_instance, stacks.ply_panel, strict=True)]
    own[owner, column] = True
    return (
        own
        if not panels.facet.any()
        else own | (own[:, panels.facet].astype(np.float32) @ _beside(panels)[panels.facet].astype(np.float32) > 0.5)
    )


def _beside(panels: Panels) -> BoolArray:
    """(k, k) True for facets of one piece that a nose standing on one of them may lie against."""
    normal = np.array([one.frame.rotation[:, 2] for one in panels.solids])
    alike = (panels.owner[:, None] == panels.owner[None]) & (normal @ normal.T > SAME_ROUND)
    beside: BoolArray = alike & panels.facet[:, None] & panels.facet[None]
    return beside
