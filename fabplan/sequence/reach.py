"""Which tools reach which rivet, from which side, and what stands in their way.

side      0 the made head's, 1 the point's
use       0 driving, 1 holding up
way       one tool at one turn: centred on the axis, or its body set off in one of 16 directions
blocked   by instance: True where that piece stands in the way's room
"""

from dataclasses import dataclass

import numpy as np

from fabplan.geom.hull import hull_planes, outside, way_out
from fabplan.geom.prism import Solid, solid
from fabplan.geom.reach import boxes_near, lines_hit, spread_directions, tool_boxes, tools_hit
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.body import Body, Stacks
from fabplan.model.job import Job
from fabplan.model.lookup import find_head
from fabplan.model.tables import Tables, Tool

TURNS = 16
KEPT = 3  # ways kept for each rivet, side and tool: those with the fewest pieces in their room
GAP = 0.2  # mm between a tool and the face it stands on, so that touching plies are not hit
SIDES, USES = ("head", "point"), ("drive", "hold")
SAME_ROUND = 0.97  # cosine of 14 degrees: facets nearer than that are the plate that the nose stands on
HEAD_FACTOR = 1.75  # of d, where no table lists the head (round heads of DIN 660)
DIRECTIONS = 48  # tried for a straight line to the outside


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

    Attributes:
        rivet, side, use, tool: (w,) indices.
        blocked: (w, m) by instance.
        end: (w, 3) the far end of the tool's body, mm.
        open: (w,) True where that end lies outside the hull of the whole body.
        tools: the tools that the indices mean.
        lines: of straight lines from an end to the outside, no longer than a hand reaches: the way of each (l,), and
            the instances on it (l, m).
        hull: (k, 4) planes of the hull of the whole body.
    """

    rivet: IntArray
    side: IntArray
    use: IntArray
    tool: IntArray
    blocked: BoolArray
    end: FloatArray
    open: BoolArray
    tools: tuple[Tool, ...]
    lines: tuple[IntArray, BoolArray]
    hull: FloatArray


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


def shop_tools(job: Job, tables: Tables) -> tuple[Tool, ...]:
    """The tools of the tables, those that the shop states in place of theirs of the same name, and its others."""
    stated = {
        tool.name: Tool(
            tool.name,
            tool.use,
            tool.nose_diameter,
            tool.nose_length,
            tool.body_diameter,
            tool.body_length,
            tool.body_offset,
            "stated by the shop",
            assumed=False,
        )
        for tool in job.shop.tools
    }
    kept = tuple(stated.pop(tool.name, tool) for tool in tables.tools)
    return kept + tuple(stated.values())


def ways(job: Job, body: Body, stacks: Stacks, panels: Panels, tables: Tables) -> Ways:
    """Every way of reaching every rivet, with what stands in its room."""
    tools, exempt = shop_tools(job, tables), _own_panels(stacks, panels)
    rows = [
        _tool_ways(job, body, stacks, panels, tables, tools, exempt, side, number)
        for side in (0, 1)
        for number in range(len(tools))
    ]
    rivet, side, tool, end = (np.concatenate([row[k] for row in rows]) for k in (0, 1, 2, 4))
    blocked = np.vstack([row[3] for row in rows])
    use = np.array([USES.index(one.use) for one in tools], dtype=np.int64)[tool]
    corners = np.vstack([one.corners for one in panels.solids])
    planes = hull_planes(corners)
    open_end = outside(planes, end)
    return Ways(
        rivet,
        side,
        use,
        tool,
        blocked,
        end,
        open_end,
        tools,
        _lines(panels, planes, end, _asked(rivet, side, tool, open_end), len(body.instances), job.shop.reach_length),
        planes,
    )


def _head_diameter(job: Job, stacks: Stacks, tables: Tables, side: int) -> FloatArray:
    """(n,) diameter of the head on one side, mm."""
    found = np.full(len(job.rivets) + 1, np.nan)
    for number, rivet in enumerate(job.rivets):
        row = find_head(tables, rivet, rivet.head if side == 0 else rivet.point)
        found[number] = row.head_diameter if row is not None else HEAD_FACTOR * rivet.diameter
    diameter: FloatArray = found[stacks.rivet]
    return np.where(np.isnan(diameter), HEAD_FACTOR * np.maximum(stacks.hole - 1.0, 1.0), diameter)


_Row = tuple[IntArray, IntArray, IntArray, BoolArray, FloatArray]


def _tool_ways(
    job: Job,
    body: Body,
    stacks: Stacks,
    panels: Panels,
    tables: Tables,
    tools: tuple[Tool, ...],
    exempt: BoolArray,
    side: int,
    number: int,
) -> _Row:
    """The best `KEPT` ways of one tool on one side, for all rivets."""
    tool, count = tools[number], len(stacks)
    out = stacks.axis if side == 1 else -stacks.axis
    foot = (stacks.point_face if side == 1 else stacks.head_face) + GAP * out
    head = _head_diameter(job, stacks, tables, side)
    nose = head + tool.nose_over_head if tool.assumed else np.full(count, tool.nose_over_head)
    index = np.arange(count)
    length = np.full(count, tool.nose_length)
    by_nose = _blocked(body, panels, exempt, index, foot, out, length, nose / 2.0)
    shoulder = foot + tool.nose_length * out
    first, second = _across(out)
    found: list[tuple[IntArray, BoolArray, FloatArray]] = []
    todo = index
    for turn in range(TURNS + 1):
        angle = 2.0 * np.pi * (turn - 1) / TURNS
        aside = (
            np.zeros((count, 3)) if turn == 0 else tool.body_offset * (np.cos(angle) * first + np.sin(angle) * second)
        )
        start = shoulder + aside
        body_length = np.full(len(todo), tool.body_length)
        radius = np.full(len(todo), tool.body_diameter / 2.0)
        hit = by_nose[todo] | _blocked(body, panels, exempt, todo, start[todo], out[todo], body_length, radius)
        found.append((todo, hit, start[todo] + tool.body_length * out[todo]))
        if turn == 0:
            todo = todo[hit.any(axis=1)]
            if len(todo) == 0 or tool.body_offset <= 0.0:
                break
    return _fewest(found, side, number)


def _fewest(found: list[tuple[IntArray, BoolArray, FloatArray]], side: int, tool: int) -> _Row:
    """Of all turns of a tool the `KEPT` ways with the fewest pieces in their room, by rivet."""
    rivet = np.concatenate([one[0] for one in found])
    blocked = np.vstack([one[1] for one in found])
    end = np.vstack([one[2] for one in found])
    turn = np.concatenate([np.full(len(one[0]), k) for k, one in enumerate(found)])
    order = np.lexsort((turn, blocked.sum(axis=1), rivet))
    ranked = rivet[order]
    starts = np.searchsorted(ranked, ranked, side="left")
    kept = order[np.arange(len(order)) - starts < KEPT]
    return rivet[kept], np.full(len(kept), side), np.full(len(kept), tool), blocked[kept], end[kept]


def _across(axis: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Two directions (n, 3) square to each axis and to one another."""
    helper = np.eye(3)[np.abs(axis).argmin(axis=1)]
    first = np.cross(helper, axis)
    first /= np.linalg.norm(first, axis=1)[:, None]
    return first, np.cross(axis, first)


def _own_panels(stacks: Stacks, panels: Panels) -> BoolArray:
    """(n, k) True where a panel is a ply of the rivet's own stack, or a facet beside it of the same round."""
    own = np.zeros((len(stacks), len(panels.solids)), dtype=np.bool_)
    place = {(int(i), int(p)): k for k, (i, p) in enumerate(zip(panels.owner, panels.panel, strict=True))}
    owner = np.repeat(np.arange(len(stacks)), np.diff(stacks.first))
    column = [place[int(i), int(p)] for i, p in zip(stacks.ply_instance, stacks.ply_panel, strict=True)]
    own[owner, column] = True
    return own if not panels.facet.any() else own | (own[:, panels.facet] @ _beside(panels)[panels.facet])


def _beside(panels: Panels) -> BoolArray:
    """(k, k) True for facets of one piece that a nose standing on one of them may lie against."""
    normal = np.array([one.frame.rotation[:, 2] for one in panels.solids])
    alike = (panels.owner[:, None] == panels.owner[None]) & (normal @ normal.T > SAME_ROUND)
    beside: BoolArray = alike & panels.facet[:, None] & panels.facet[None]
    return beside


def _blocked(
    body: Body,
    panels: Panels,
    exempt: BoolArray,
    rivets: IntArray,
    start: FloatArray,
    out: FloatArray,
    length: FloatArray,
    radius: FloatArray,
) -> BoolArray:
    """(k, m) which instances each cylinder of the given rivets runs into."""
    blocked = np.zeros((len(rivets), len(body.instances)), dtype=np.bool_)
    low, high = tool_boxes(start, out, length, radius)
    for number, one in enumerate(panels.solids):
        near = boxes_near(one, low, high)
        near = near[~exempt[rivets[near], number]]
        if not len(near):
            continue
        blocked[near, panels.owner[number]] |= tools_hit(one, start[near], out[near], length[near], radius[near])
    return blocked


def _asked(rivet: IntArray, side: IntArray, tool: IntArray, open_end: BoolArray) -> IntArray:
    """Ways from whose ends lines are sought: inside the hull, the least blocked of each tool on each side."""
    group = (rivet * 2 + side) * (int(tool.max(initial=0)) + 1) + tool
    best = np.unique(group, return_index=True)[1]
    return np.sort(best[~open_end[best]])


def _lines(
    panels: Panels, planes: FloatArray, end: FloatArray, inner: IntArray, instances: int, reach: float
) -> tuple[IntArray, BoolArray]:
    """Straight lines from ends inside the hull to the outside, no longer than `reach`: way of each, pieces on it."""
    directions = spread_directions(DIRECTIONS)
    if len(inner) == 0:
        return np.zeros(0, dtype=np.int64), np.zeros((0, instances), dtype=np.bool_)
    far = way_out(planes, end[inner], directions)
    way, which = np.nonzero(far <= reach)
    start = end[inner[way]]
    stop = start + directions[which] * (far[way, which] + 1.0)[:, None]
    blocked = np.zeros((len(way), instances), dtype=np.bool_)
    low, high = (np.ascontiguousarray(side.T) for side in (np.minimum(start, stop), np.maximum(start, stop)))
    for number, one in enumerate(panels.solids):
        near = boxes_near(one, low, high)
        blocked[near, panels.owner[number]] |= lines_hit(one, start[near], stop[near])
    return inner[way], blocked
