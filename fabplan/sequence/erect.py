"""Setting up: the datum, then each piece onto what stands, loose and closing ones last."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import networkx as nx
import numpy as np

from fabplan.model.arrays import BoolArray
from fabplan.model.sequence import Step
from fabplan.sequence.footing import GOES_OVER, UNDER, going_over, raised, raised_words
from fabplan.sequence.lifting import lifts_of
from fabplan.sequence.phases import HeldBack
from fabplan.sequence.scene import Scene
from fabplan.sequence.ways_on import Known, way_on

LIFTING = "Weigh and sling every piece; nobody under the load; edges cut: gloves. A bolted body racks: brace it."
FEW = 4  # pieces that others join are named up to so many; as many go on in one step, plates and bars together


@dataclass(frozen=True, slots=True)
class Stage:
    """Pieces that are set up in one step, in order."""

    title: str
    reason: str
    parts: tuple[int, ...]


def erection(scene: Scene, placed: BoolArray, back: HeldBack, off: Sequence[int], known: Known) -> Iterator[Step]:
    """The steps of setting up; `off` are the instances that are lifted off again before riveting.

    Ways on of loose pieces that are found are added to those that are `known`.
    """
    present: list[int] = []
    held: BoolArray = np.asarray(scene.member[scene.stacks.clear > 0.0].any(axis=0), dtype=np.bool_)
    stages = _with_way(scene, list(_stages(scene, placed, back, off)), back.loose.tolist(), known)
    for number, stage in enumerate(stages):
        before = tuple(present)
        present += stage.parts
        single = [(i,) for i in stage.parts]
        over = going_over(scene, before, single)
        up = raised(scene, before, single, np.zeros(len(scene.member), dtype=np.bool_))
        first = "stands level on the table, packed all round" if number == 0 else "all holes enter finger tight"
        welded = {i: _welds(scene, i) for i in stage.parts if number and not scene.member[:, i].any()}
        loose = [i for i in stage.parts if number and not held[i] and not welded.get(i)]
        yield Step(
            0,
            "datum" if number == 0 else "erect",
            stage.title,
            stage.reason,
            stage.parts,
            tuple(present),
            bolts=scene.bolts_through(stage.parts, np.isin(np.arange(len(placed)), present)),
            checks=(
                first,
                *((f"no hole yet in {scene.marks(loose)}: clamped, and on the crane till drilled",) if loose else ()),
                *(
                    f"{scene.mark(i)} held by {own} alone: tacked, hot work by permit, or clamped till welded"
                    for i, own in welded.items()
                    if own
                ),
                f"marks and hands read off the steel: {scene.marks(stage.parts)}",
                *raised_words(scene, up),
                *((over,) if over else ()),
            ),
            cautions=(*((GOES_OVER,) if over else ()), *((UNDER,) if up else ()), LIFTING),
            lift=scene.lift(stage.parts),
            lifts=(*up, *lifts_of(scene, stage.parts)),
        )


def _welds(scene: Scene, instance: int) -> str:
    """The welds that join a piece, in words; "" for none."""
    own = [weld.mark for weld in scene.job.welds if scene.mark(instance) in weld.pieces]
    return f"weld{'s' if len(own) > 1 else ''} {', '.join(own)}" if own else ""


def assembly_graph(member: BoolArray, placed: BoolArray) -> "nx.Graph[int]":
    """Pieces joined where a rivet goes through both; the weight is the number of rivets."""
    shared = member.T.astype(np.float64) @ member.astype(np.float64)
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(np.nonzero(placed)[0].tolist())
    for i, j in zip(*np.nonzero(np.triu(shared, 1)), strict=True):
        graph.add_edge(int(i), int(j), weight=int(shared[i, j]))
    return graph


def _stages(scene: Scene, placed: BoolArray, back: HeldBack, off: Sequence[int]) -> Iterator[Stage]:
    """Datum; rings of pieces round it, plates before bars; loose pieces and closing ones with what hangs on them."""
    graph = assembly_graph(scene.member, placed)
    marks = [one.mark for one in scene.body.instances]
    for weld in scene.job.welds:
        own = [i for i in map(marks.index, weld.pieces) if placed[i]]
        graph.add_edges_from((one, other) for one, other in pairwise(own) if not graph.has_edge(one, other))
    loose, closing = back.loose.tolist(), back.closing.tolist()
    early = set(graph) - {*loose, *closing}
    standing = {scene.datum}
    yield Stage(f"Set down the datum {scene.mark(scene.datum)}", "all other pieces are set from it", (scene.datum,))
    yield from _rings(scene, graph, standing, early)
    for own, what, reason in (
        (loose, "loose", "to prove their holes with the rest"),
        (closing, "closing", "last, so that nothing is forced; nothing is tightened before"),
    ):
        if own:
            standing |= set(own)
            again = "; off again before riveting" if set(own) & set(off) else ""
            title = f"Fit the {what} piece{'s' if len(own) > 1 else ''} {scene.marks(own)}"
            yield Stage(title, f"{reason}{again}", tuple(own))
        yield from _rings(scene, graph, standing, early)
    apart = sorted(set(graph) - standing)
    if apart:
        yield Stage(f"Set in place {scene.marks(apart)}", "no rivet ties them to the datum", tuple(apart))


def _with_way(scene: Scene, stages: list[Stage], loose: Sequence[int], known: Known) -> list[Stage]:
    """The stages with the loose pieces before those that would shut their way on, where that opens it."""
    own = next((k for k, stage in enumerate(stages) if loose and set(stage.parts) == set(loose)), 0)
    if not own or _open(scene, stages[own].parts, stages[:own], known):
        return stages
    for k in range(own - 1, 0, -1):
        if _joined(scene, stages[own].parts, stages[:k]) and _open(scene, stages[own].parts, stages[:k], known):
            then = f"before {scene.few(stages[k].parts)}: with that on there is no way on any more"
            return [*stages[:k], replace(stages[own], reason=then), *stages[k:own], *stages[own + 1 :]]
    return stages


def _open(scene: Scene, parts: Sequence[int], before: Sequence[Stage], known: Known) -> bool:
    """True where each of some pieces has a way on, one after the other, onto what was set up before."""
    standing = np.zeros(len(scene.body.instances), dtype=np.bool_)
    standing[[i for stage in before for i in stage.parts]] = True
    for i in parts:
        asked = (i,), standing.tobytes()
        if asked not in known:
            known[asked] = way_on(scene, (i,), standing)
        if known[asked].shut:
            return False
        standing[i] = True
    return True


def _joined(scene: Scene, parts: Sequence[int], before: Sequence[Stage]) -> bool:
    """True where some pieces join what was set up before, or one another that do."""
    standing = {i for stage in before for i in stage.parts}
    left = list(parts)
    while left:
        ready = [
            i for i in left if standing & set(np.nonzero(scene.member[scene.member[:, i]].any(axis=0))[0].tolist())
        ]
        if not ready:
            return False
        standing |= set(ready)
        left = [i for i in left if i not in ready]
    return True


def _rings(scene: Scene, graph: "nx.Graph[int]", standing: set[int], wanted: set[int]) -> Iterator[Stage]:
    """Stages of the wanted pieces that join what stands, ring by ring; `standing` grows with each."""
    while ring := nx.node_boundary(graph, standing, wanted):
        before = frozenset(standing)
        bars = {i for i in ring if scene.body.part_of(i).section}
        for kind in (ring - bars, bars) if len(ring) > FEW else (ring,):
            own = sorted(kind, key=lambda i: (-scene.mass(i), i))
            if own:
                yield _ring(scene, own, sorted(before & {j for i in own for j in graph[i]}))
        standing |= ring


def _ring(scene: Scene, own: list[int], onto: list[int]) -> Stage:
    words = scene.marks(own)
    title = f"Bolt on {words}" if len(words) < 60 else f"Bolt on {len(own)} pieces"
    stands = f"{scene.marks(onto)}, which {'stands' if len(onto) == 1 else 'stand'}"
    joins = f"{'it joins' if len(own) == 1 else 'they join'} {stands if len(onto) <= FEW else 'pieces that stand'}"
    masses = [scene.mass(i) for i in own]
    heavy = "; heaviest first" if min(masses) > 0.0 and max(masses) > min(masses) else ""
    return Stage(title, f"{joins}{heavy}; bolts finger tight", tuple(own))
