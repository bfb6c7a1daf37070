"""Closing errors: how far each loop of pieces fails to close when its seams are laid hole on hole one by one.

The least squares over the whole body shares a fault out among all neighbours; round a loop it stays whole.
"""

from collections.abc import Sequence
from itertools import pairwise

import networkx as nx
import numpy as np

from fabplan.body.fit import NEAR_ROW, fit
from fabplan.body.place import Placing
from fabplan.body.rows import Link
from fabplan.geom.pose import best_fit, compose, inverse, to_outer
from fabplan.model.arrays import FloatArray
from fabplan.model.job import Job
from fabplan.model.loop import Loop
from fabplan.model.pose import Pose

LEAST = 2  # mated holes: one alone leaves a turn
OFF_FACE = 100.0  # mm off the faces, where the second points of the fit lie: they hold the tilt


def loops(job: Job, placing: Placing) -> tuple[Loop, ...]:
    """All independent loops of the placed pieces, the worst first.

    Every seam beyond a tree of shortest ways from the datum closes one; its loop is the shortest way round.
    """
    laid = [(link, own) for link in placing.links for own in [_laid(placing, link)] if own is not None]
    datum = next(i for i, instance in enumerate(placing.body.instances) if instance.mark == job.datum)
    graph: nx.Graph[int] = nx.Graph()
    for number, (link, _) in enumerate(laid):
        if not graph.has_edge(link.a, link.b):
            graph.add_edge(link.a, link.b, laid=number)
    if datum not in graph:
        return ()
    tree = {frozenset(edge) for edge in nx.bfs_edges(graph, datum)}
    seen: set[frozenset[int]] = set()
    found = []
    for number, (link, _) in enumerate(laid):
        pair = frozenset((link.a, link.b))
        if pair in tree and pair not in seen:  # the first seam of a pair in the tree closes nothing
            seen.add(pair)
            continue
        way = _way(graph, link, number)
        if way:
            found.append(_loop(job, placing, laid, (number, way, graph)))
    return tuple(sorted(found, key=lambda one: (-round(one.apart, 6), one.pieces, one.seams)))


def _laid(placing: Placing, link: Link) -> Pose | None:
    """The pose of b in the frame of a that this seam alone gives; None where it does not settle one."""
    poses = placing.body.poses[link.a], placing.body.poses[link.b]
    if poses[0] is None or poses[1] is None:
        return None
    near = fit(link, poses[0], poses[1], NEAR_ROW)
    if len(near.mate_a) < LEAST or not np.isfinite(near.gap):
        return None
    (at_a, out_a), (at_b, out_b) = link.row_a.face(near.back_a), link.row_b.face(near.back_b)
    mine, theirs = near.mate_a, near.mate_b
    to = np.vstack([at_a[mine], at_a[mine] + OFF_FACE * out_a[mine]])
    return best_fit(np.vstack([at_b[theirs], at_b[theirs] - OFF_FACE * out_b[theirs]]), to)


def _way(graph: "nx.Graph[int]", link: Link, number: int) -> list[int]:
    """The shortest way from b back to a that does not take the seam itself; empty where there is none."""
    if graph.edges[link.a, link.b]["laid"] != number:
        return [link.b, link.a]  # another seam joins the same two pieces
    view = nx.restricted_view(graph, [], [(link.a, link.b)])
    try:
        return list(nx.shortest_path(view, link.b, link.a))
    except nx.NetworkXNoPath:
        return []


def _loop(
    job: Job,
    placing: Placing,
    laid: Sequence[tuple[Link, Pose]],
    closing: tuple[int, list[int], "nx.Graph[int]"],
) -> Loop:
    """The loop that one seam closes: its b carried round to its a, held against where the seam itself wants it."""
    number, way, graph = closing
    link, wanted = laid[number]
    steps = [laid[graph.edges[one, other]["laid"]] for one, other in pairwise(way)]
    pose = Pose()
    for (step, own), start in zip(reversed(steps), reversed(way[1:]), strict=True):  # from a outwards to b
        pose = compose(pose, own if step.a == start else inverse(own))
    carried = to_outer(pose, link.row_b.points)
    apart = float(np.linalg.norm(carried - to_outer(wanted, link.row_b.points), axis=1).max())
    return Loop(
        tuple(placing.body.instances[i].mark for i in reversed(way)),
        (*(job.seams[step.seam].mark for step, _ in reversed(steps)), job.seams[link.seam].mark),
        apart,
        _turn(pose.rotation.T @ wanted.rotation),
    )


def _turn(rotation: FloatArray) -> float:
    """The angle of a rotation, degrees."""
    sine = np.array([rotation[2, 1] - rotation[1, 2], rotation[0, 2] - rotation[2, 0], rotation[1, 0] - rotation[0, 1]])
    return float(np.degrees(np.arctan2(np.linalg.norm(sine) / 2.0, (np.trace(rotation) - 1.0) / 2.0)))
