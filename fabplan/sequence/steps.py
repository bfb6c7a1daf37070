"""Steps of work, one sheet each, with reasons, checks and cautions."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import networkx as nx
import numpy as np

from fabplan.geom.profile import bounds
from fabplan.model.arrays import BoolArray, IntArray
from fabplan.model.body import Body, Stacks
from fabplan.model.job import Job
from fabplan.model.sequence import ACCESS, SeamWork, Step
from fabplan.sequence.access import Access
from fabplan.sequence.driving import WORDS, driving_order
from fabplan.sequence.phases import HeldBack, Phase
from fabplan.sequence.reach import Ways

SQUARE = 3.0  # mm, greatest difference of diagonals before riveting (common practice)
HOT = (
    "Hot work: permit; clear or shield what burns to 10 m; fire watch during and 60 minutes after; catch and drop "
    "zones for hot rivets.",
    "Eyes, gloves, leather, hearing protection; change places often: trigger time of both driver and holder-up counts.",
)
INSIDE = (
    "Confined space: permit, air test, fan, attendant outside, rescue plan before anyone goes in; a rescuer without "
    "them is the next victim."
)
LIFTING = "Weigh and sling every piece; nobody under the load; edges cut: gloves. A bolted body racks: brace it."
WATER = "Water test: 1 t for each cubic metre, blocks under the floor, vent open; never air in its place."


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """What the steps are made from."""

    job: Job
    body: Body
    stacks: Stacks
    ways: Ways
    seam_bolts: Mapping[str, int]
    datum: int
    member: BoolArray

    def mark(self, instance: int) -> str:
        """Mark of an instance."""
        return self.body.instances[instance].mark

    def marks(self, instances: Sequence[int] | IntArray) -> str:
        """Marks of instances, in a list of words."""
        return ", ".join(self.mark(int(i)) for i in instances)

    def mass(self, instance: int) -> float:
        """Mass of an instance, kg; 0 where it is not known."""
        mass = self.body.part_of(instance).mass
        return float(mass) if np.isfinite(mass) else 0.0


def make_steps(scene: Scene, placed: BoolArray, phases: Sequence[Phase], back: HeldBack) -> tuple[Step, ...]:
    """All steps, numbered."""
    drafts = [
        *_erection(scene, placed, back),
        _dry_fit(scene, placed),
        _squaring(scene, placed),
        *_riveting(scene, phases, back),
        *_test(scene, placed),
    ]
    return tuple(replace(step, number=number) for number, step in enumerate(drafts, start=1))


def _lift(scene: Scene, parts: Sequence[int]) -> float:
    return max((scene.mass(i) for i in parts), default=0.0)


def _erection(scene: Scene, placed: BoolArray, back: HeldBack) -> Iterator[Step]:
    """The datum, then pieces by how far they stand from it, loose ones, closing ones; each onto what stands."""
    graph = assembly_graph(scene.member, placed)
    far = nx.single_source_shortest_path_length(graph, scene.datum)
    late = {*back.loose.tolist(), *back.closing.tolist()}
    stages: list[tuple[str, str, list[int]]] = []
    for distance in sorted(set(far.values())):
        ring = [i for i in sorted(far) if far[i] == distance and i not in late]
        for bars in (False, True) if distance else (False,):
            own = [i for i in ring if bool(scene.body.part_of(i).section) == bars or not distance]
            if own:
                own.sort(key=lambda i: (-scene.mass(i), i))
                stages.append(_stage(scene, distance, own))
    if len(back.loose):
        stages.append(
            (
                f"Fit the loose pieces {scene.marks(back.loose)}",
                "loose pieces prove their holes with the rest",
                back.loose.tolist(),
            )
        )
    if len(back.closing):
        stages.append(
            (
                f"Fit the closing pieces {scene.marks(back.closing)}",
                "nothing is tightened until the last piece is in",
                back.closing.tolist(),
            )
        )
    present: list[int] = []
    for number, (title, reason, parts) in enumerate(stages):
        present += parts
        checks = ("stands level on the table, packed all round",) if number == 0 else ("all holes enter finger tight",)
        yield Step(
            0,
            "datum" if number == 0 else "erect",
            title,
            reason,
            tuple(parts),
            tuple(present),
            checks=(*checks, f"marks and hands read off the steel: {scene.marks(parts)}"),
            cautions=(LIFTING,),
            lift=_lift(scene, parts),
        )


def _stage(scene: Scene, distance: int, own: list[int]) -> tuple[str, str, list[int]]:
    words = scene.marks(own)
    if distance == 0:
        return f"Set down the datum {words}", "all other pieces are set from it", own
    title = f"Bolt on {words}" if len(words) < 60 else f"Bolt on {len(own)} pieces: {words}"
    return title, "they stand on pieces that already stand; heavy ones first, nothing tightened", own


def assembly_graph(member: BoolArray, placed: BoolArray) -> "nx.Graph[int]":
    """Pieces joined where a rivet goes through both; the weight is the number of rivets."""
    shared = member.T.astype(np.int64) @ member.astype(np.int64)
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(np.nonzero(placed)[0].tolist())
    for i, j in zip(*np.nonzero(np.triu(shared, 1)), strict=True):
        graph.add_edge(int(i), int(j), weight=int(shared[i, j]))
    return graph


def _all(placed: BoolArray) -> tuple[int, ...]:
    return tuple(np.nonzero(placed)[0].tolist())


def _dry_fit(scene: Scene, placed: BoolArray) -> Step:
    bolts = tuple((i, scene.seam_bolts.get(seam.mark, 0)) for i, seam in enumerate(scene.job.seams))
    total = sum(count for _, count in bolts)
    return Step(
        0,
        "dry-fit",
        "Dry fit of the whole body",
        "no rivet goes in before every hole of every joint is good; bolts finger tight until the last piece is in",
        present=_all(placed),
        bolts=tuple((seam, count) for seam, count in bolts if count),
        checks=(
            f"{total} service bolts in, both ends of every row, then tightened from the middle outwards",
            "unfair holes listed: seam, number, how far out",
            "every hole of a joint passes a pin of rivet diameter, or is reamed through all plies",
        ),
        cautions=(LIFTING, "A drift brings holes together; it never enlarges one."),
    )


def _squaring(scene: Scene, placed: BoolArray) -> Step:
    checks = []
    plates = [i for i in _all(placed) if not scene.body.part_of(i).section and scene.body.part_of(i).panels]
    plates.sort(key=lambda i: (i != scene.datum, -scene.mass(i), i))
    for i in plates[:4]:
        x0, y0, x1, y1 = bounds(scene.body.part_of(i).panels[0].outline).tolist()
        diagonal = float(np.hypot(x1 - x0, y1 - y0))
        checks.append(f"{scene.mark(i)}: both diagonals {diagonal:.0f} mm, apart by no more than {SQUARE:g} mm")
    checks.append("wind: sighted over two straight edges at the ends, found value noted")
    return Step(
        0,
        "square",
        "Square and true the body",
        "what is riveted crooked stays crooked; the limit is common practice",
        present=_all(placed),
        checks=tuple(checks),
        cautions=(LIFTING,),
    )


def _riveting(scene: Scene, phases: Sequence[Phase], back: HeldBack) -> Iterator[Step]:
    """One step for each phase and main plate; pieces that come back in get the step's kind 'close'."""
    late = {*back.loose.tolist(), *back.closing.tolist()}
    off = [i for i in sorted(late) if len(phases) and not phases[0].present[i]]
    standing = {int(i) for phase in phases[:1] for i in np.nonzero(phase.present)[0]}
    for number, phase in enumerate(phases):
        added = [int(i) for i in phase.added.tolist() if number]
        standing |= set(added)
        groups = _groups(scene, phase)
        if added and not groups:
            yield _closing(scene, phase, added, (), ())
        for k, (plate, rivets) in enumerate(groups):
            work = tuple(_works(scene, phase.reach, rivets))
            if added and k == 0:
                yield _closing(scene, phase, added, rivets, work)
            else:
                yield _rivet_step(scene, phase, plate, rivets, work, off if number == 0 and k == 0 else [])


def _groups(scene: Scene, phase: Phase) -> list[tuple[int, IntArray]]:
    """The rivets of a phase by their main plate: the heaviest ply; the datum's first, then the fullest."""
    masses = np.array([scene.mass(i) for i in range(len(scene.body.instances))])
    plates = np.array([not scene.body.part_of(i).section for i in range(len(masses))])
    rank = masses + np.where(plates, 1e6, 0.0)
    rank[scene.datum] = 1e9
    lead = np.where(scene.member[phase.rivets], rank, -1.0).argmax(axis=1) if len(phase.rivets) else np.zeros(0, int)
    groups = [(int(plate), phase.rivets[lead == plate]) for plate in np.unique(lead)]
    return sorted(groups, key=lambda group: (group[0] != scene.datum, -len(group[1]), group[0]))


def _works(scene: Scene, reach: Access, rivets: IntArray) -> Iterator[SeamWork]:
    """Runs of one seam driven from one side, in driving order."""
    from_point = reach.driven_from(1)
    seams = scene.stacks.seam[rivets]
    for seam in np.unique(seams).tolist():
        for side in (1, 0):
            own = rivets[(seams == seam) & (from_point[rivets] == (side == 1))]
            if len(own):
                yield _work(scene, reach, seam, own, side)


def _work(scene: Scene, reach: Access, seam: int, own: IntArray, side: int) -> SeamWork:
    driver, holder = reach.kind[own, side, 0], reach.kind[own, 1 - side, 1]
    tools = scene.ways.tools
    setting = scene.job.shop.driving_order

    def names(way: IntArray) -> str:
        used = np.unique(scene.ways.tool[way])
        return " or ".join(tools[int(k)].name for k in used)

    return SeamWork(
        seam=seam,
        rivets=driving_order(own, setting),
        driver_side="point" if side == 1 else "head",
        driver_access=ACCESS[int(driver.max())],
        holder_access=ACCESS[int(holder.max())],
        driver_tool=names(reach.way[own, side, 0]),
        holder_tool=names(reach.way[own, 1 - side, 1]),
        note=f"drive {WORDS[setting]}",
    )


def _cautions(work: Sequence[SeamWork]) -> tuple[str, ...]:
    inside = any("man inside" in (run.driver_access, run.holder_access) for run in work)
    return (*((INSIDE,) if inside else ()), *HOT)


CHECKS = (
    "joint parted, deburred, cleaned, bolted again before its first rivet",
    "bolts and drifts out as rivets go in; neighbours tried again",
    "rivets tried with hammer and finger by a second person",
)


def _rivet_step(
    scene: Scene, phase: Phase, plate: int, rivets: IntArray, work: tuple[SeamWork, ...], off: list[int]
) -> Step:
    taken_off = (f"lift off again before the first rivet: {scene.marks(off)}",) if off else ()
    seams = ", ".join(_seam_marks(scene, work))
    return Step(
        0,
        "rivet",
        f"Rivet {scene.mark(plate)}: {len(rivets)} rivets, seams {seams}",
        f"both sides of every rivet are reached while {_missing(scene, phase)}",
        present=_all(phase.present),
        work=work,
        checks=(*taken_off, *CHECKS),
        cautions=_cautions(work),
    )


def _seam_marks(scene: Scene, work: Sequence[SeamWork]) -> list[str]:
    return list(dict.fromkeys(scene.job.seams[run.seam].mark if run.seam >= 0 else "(none)" for run in work))


def _missing(scene: Scene, phase: Phase) -> str:
    off = [i for i in range(len(phase.present)) if not phase.present[i] and scene.body.poses[i] is not None]
    return f"{scene.marks(off)} {'is' if len(off) == 1 else 'are'} off" if off else "the whole body stands"


def _closing(
    scene: Scene, phase: Phase, added: list[int], rivets: IntArray | tuple[()], work: tuple[SeamWork, ...]
) -> Step:
    inside = any("man inside" in (run.driver_access, run.holder_access) for run in work)
    last = "a man inside has his way out" if inside else "nobody is left inside"
    return Step(
        0,
        "close",
        f"Put in {scene.marks(added)}: {len(rivets)} rivets",
        "held back so that the rest could be reached; measured against the body before it goes in",
        tuple(added),
        _all(phase.present),
        work,
        checks=(f"inside cleaned, tools out, {last}", *CHECKS),
        cautions=(*_cautions(work), LIFTING),
        lift=_lift(scene, added),
    )


def _test(scene: Scene, placed: BoolArray) -> Iterator[Step]:
    tight = [seam.mark for seam in scene.job.seams if seam.tight]
    if tight:
        yield Step(
            0,
            "test",
            "Caulk, then leak test with water",
            f"{len(tight)} seams are to hold water; before paint inside or out",
            present=_all(placed),
            checks=(
                "edges caulked from the outside; plate under 5 mm wants compound in the joint (common practice)",
                "filled to the working head, held 1 to 24 hours (from memory); weeps marked on a sketch",
                "emptied below the leak before it is caulked again; never a ring weld round a rivet",
            ),
            cautions=(WATER, "Only static head: anything under more pressure is outside this plan."),
        )
