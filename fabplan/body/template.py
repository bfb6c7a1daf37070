"""Plates formed to template: nothing is forecast of their holes, which are taken from their mates."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fabplan.body.found import count_of, finding
from fabplan.body.stacks import BodyHoles
from fabplan.model.arrays import BoolArray, IntArray
from fabplan.model.body import Body, Stacks
from fabplan.model.finding import Finding, Level, Where
from fabplan.model.forming import FormingRecord, TemplateRecord
from fabplan.model.job import Job
from fabplan.model.joints import SeamSpec
from fabplan.model.part import Part

PRACTICE = "common practice"


@dataclass(frozen=True, slots=True, eq=False)
class Taken:
    """Holes of one ply from which a seam's plates formed to template take theirs.

    Attributes:
        seam: index into the job's seams.
        mate: instance index of the ply that has them, and its row.
        row: of these holes.
        plates: instance indices of the plates formed to template.
        holes: (n,) indices into the holes of the body.
        alone: (n,) True for holes in no stack: the plates are their only mate.
        marks: holes of a plate (instance, hole of its part), where no other ply has any: they are drilled from it.
    """

    seam: int
    mate: int
    row: str
    plates: tuple[int, ...]
    holes: IntArray
    alone: BoolArray
    marks: tuple[tuple[int, int], ...] = ()

    @property
    def many(self) -> int:
        """How many holes the plates share with their mates."""
        return len(self.holes) or len(self.marks)


def taken(job: Job, body: Body, holes: BodyHoles, stacks: Stacks) -> tuple[Taken, ...]:
    """All holes from which plates formed to template take theirs: of each seam those of its first other ply."""
    index = {instance.mark: i for i, instance in enumerate(body.instances)}
    stacked = set(zip(stacks.ply_instance.tolist(), stacks.ply_hole.tolist(), strict=True))
    found = []
    for number, seam in enumerate(job.seams):
        plates = tuple(index[ply.instance] for ply in seam.plies if _template(body, index[ply.instance]))
        others = [ply for ply in seam.plies if not _template(body, index[ply.instance])]
        if not plates or not others:
            continue
        mate, row = index[others[0].instance], others[0].row
        named = set(others[0].among(body.part_of(mate).holes.holes.row))
        own = np.array([i for i in np.nonzero(holes.instance == mate)[0] if holes.hole[i] in named], dtype=np.int64)
        alone = np.array([(mate, int(holes.hole[i])) not in stacked for i in own], dtype=np.bool_)
        marks = () if len(own) else _marks(body, index, seam)
        found.append(Taken(number, mate, row, plates, own, alone, marks))
    return tuple(found)


def _marks(body: Body, index: Mapping[str, int], seam: SeamSpec) -> tuple[tuple[int, int], ...]:
    """The marks of a seam in the first of its plates formed to template that bears any."""
    for ply in seam.plies:
        rows = body.part_of(index[ply.instance]).holes.holes.row
        if _template(body, index[ply.instance]) and ply.row in rows:
            return tuple((index[ply.instance], k) for k, row in enumerate(rows) if row == ply.row)
    return ()


def _template(body: Body, instance: int) -> bool:
    return bool(body.part_of(instance).spec.formed)


def to_be_taken(job: Job, body: Body, holes: BodyHoles, stacks: Stacks) -> set[tuple[int, int]]:
    """Holes (instance, hole of its part) that have no other mate than a plate formed to template."""
    return {
        (one.mate, int(holes.hole[i])) for one in taken(job, body, holes, stacks) for i in one.holes[one.alone].tolist()
    }


def counted(job: Job, body: Body, holes: BodyHoles, stacks: Stacks) -> Stacks:
    """The stacks as they are ordered for: plates formed to template add their thickness, and stacks of their own.

    The added stacks come last; of them only seam, rivet, grip and hole are true.
    """
    grip = stacks.grip.copy()
    rivets = {rivet.mark: i for i, rivet in enumerate(job.rivets)}
    for one in taken(job, body, holes, stacks):
        thick = sum(body.part_of(plate).thickness for plate in one.plates)
        grip[stacks.seam == one.seam] += thick
        alone = one.holes[one.alone]
        rivet = rivets.get(job.seams[one.seam].rivet, -1)
        shank = job.rivets[rivet].diameter if rivet >= 0 else 0.0
        stacks = _with(stacks, holes, alone, (one.seam, rivet, shank), job.seams[one.seam].mark)
        grip = np.concatenate([grip, holes.thickness[alone] + thick])
        if one.marks and rivet >= 0:
            mate = body.part_of(one.mate).thickness
            stacks = _with_marks(stacks, one, (rivet, shank, job.rivets[rivet].hole), job.seams[one.seam].mark)
            grip = np.concatenate([grip, np.full(len(one.marks), mate + thick)])
    return replace(stacks, grip=grip)


def _with(stacks: Stacks, holes: BodyHoles, own: IntArray, kind: tuple[int, int, float], mark: str) -> Stacks:
    """The stacks with one more for each of some holes."""
    seam, rivet, shank = kind
    many = len(own)
    added = {
        "seam": np.full(many, seam),
        "rivet": np.full(many, rivet),
        "point": holes.marked[own],
        "axis": -holes.normal[own],
        "grip": holes.thickness[own],
        "head_face": holes.marked[own],
        "point_face": holes.back[own],
        "diameter": np.full(many, shank),
        "hole": holes.diameter[own],
        "clear": holes.diameter[own],
        "misfit": np.zeros(many),
        "first": stacks.first[-1] + 1 + np.arange(many),
        "ply_instance": holes.instance[own],
        "ply_panel": holes.panel[own],
        "ply_hole": holes.hole[own],
        "ply_thickness": holes.thickness[own],
        "ply_offset": np.zeros((many, 3)),
        "ply_listed": np.ones(many, dtype=np.bool_),
        "ply_gap": np.zeros(many),
    }
    whole = {name: np.concatenate([getattr(stacks, name), column]) for name, column in added.items()}
    numbers = tuple(f"{mark} {k}" for k in range(1, many + 1))
    return Stacks(number=(*stacks.number, *numbers), **whole)


def _with_marks(stacks: Stacks, one: Taken, kind: tuple[int, float, float], mark: str) -> Stacks:
    """The stacks with one more for each mark of a plate, whose place nothing tells."""
    rivet, shank, hole = kind
    many = len(one.marks)
    nowhere, upright = np.zeros((many, 3)), np.tile([0.0, 0.0, 1.0], (many, 1))
    places = np.array(one.marks, dtype=np.int64)
    added: dict[str, NDArray[np.generic]] = {
        **dict.fromkeys(("point", "head_face", "point_face", "ply_offset"), nowhere),
        **dict.fromkeys(("grip", "clear", "misfit", "ply_thickness", "ply_gap"), np.zeros(many)),
        "axis": upright,
        "diameter": np.full(many, shank),
        "hole": np.full(many, hole),
        "seam": np.full(many, one.seam),
        "rivet": np.full(many, rivet),
        "first": stacks.first[-1] + 1 + np.arange(many),
        "ply_instance": places[:, 0],
        "ply_panel": np.zeros(many, dtype=np.int64),
        "ply_hole": places[:, 1],
        "ply_listed": np.ones(many, dtype=np.bool_),
    }
    whole = {name: np.concatenate([getattr(stacks, name), column]) for name, column in added.items()}
    return Stacks(number=(*stacks.number, *(f"{mark} {k}" for k in range(1, many + 1))), **whole)


def template_findings(job: Job, body: Body, holes: BodyHoles, stacks: Stacks) -> Iterator[Finding]:
    """What is not known of plates formed to template, and holes that should not be cut in them."""
    records = {record.mark: record for record in template_records(job, body, holes, stacks)}
    for one in taken(job, body, holes, stacks):
        if not one.many:
            mark, plates = job.seams[one.seam].mark, ", ".join(body.instances[i].mark for i in one.plates)
            mate = body.instances[one.mate].mark
            what = (
                f"seam {mark}: {mate} is drilled from {plates}, formed to template, and no ply has a hole: none counted"
            )
            mend = f"Give {mate} its holes, or draw the centres in {plates}; its rivets are not ordered."
            yield finding("no-such-row", what, mend, Where(part=mate, seam=mark), source="the job file")
    for part in body.parts:
        if part.mark in records:
            yield _told(part, records[part.mark])
            yield from _holes_cut(part)


def _told(part: Part, record: FormingRecord) -> Finding:
    assert record.template is not None
    trim = part.spec.trim
    total = sum(many for *_, many in record.template.holes)
    where = Where(drawing=part.spec.drawing, part=part.mark)
    mates = ", ".join(f"{many} of seam {seam} from {mate}" for seam, mate, _, _, many in record.template.holes)
    what = f"{part.mark} is formed to template: its form and holes are not forecast; "
    what += f"{count_of(total, 'hole')} taken from its mates ({mates})" if total else "no seam gives it holes"
    prove = "Prove a first-off on its mates, mark the holes through, take it off and drill"
    if trim is None:
        return finding(
            "formed-to-template", what, f"State `trim`, what is left on its edges. {prove}; then trim.", where
        )
    mend = f"{prove}; then trim the {trim:g} mm that are left on its edges."
    told = finding("formed-to-template", what, mend, where, source=PRACTICE)
    return replace(told, level=Level.NOTE)


def _holes_cut(part: Part) -> Iterator[Finding]:
    assert part.blank is not None
    own = [k for k, purpose in enumerate(part.blank.holes.purpose) if purpose != "open"]
    if own:
        handles = tuple(part.blank.holes.handle[k] for k in own if part.blank.holes.handle[k])
        x, y = part.blank.holes.xy[own[0]].tolist()
        what = f"{part.mark} is formed to template, and {count_of(len(own), 'hole')} for rivets or bolts drawn in it"
        mend = "Leave them out, or have their centres marked only: forming moves them; they are taken from the mates."
        where = Where(part.spec.drawing, part.mark, handles=handles, xy=(x, y))
        yield finding("template-holes", what, mend, where, source=PRACTICE)


def template_records(job: Job, body: Body, holes: BodyHoles, stacks: Stacks) -> tuple[FormingRecord, ...]:
    """What the forming sheets tell of plates formed to template."""
    every = taken(job, body, holes, stacks)
    rivets = {rivet.mark: rivet for rivet in job.rivets}
    found = []
    for number, part in enumerate(body.parts):
        if not part.spec.formed or part.blank is None:
            continue
        rows = []
        for one in every:
            if any(body.instances[plate].part == number for plate in one.plates):
                seam = job.seams[one.seam]
                hole = rivets[seam.rivet].hole if seam.rivet in rivets else float("nan")
                mate = f"{body.instances[one.mate].mark}/{one.row}"
                rows.append((seam.mark, mate, seam.rivet, hole, one.many))
        record = TemplateRecord(part.spec.trim, tuple(rows))
        unknown = (float("nan"),) * 3
        found.append(FormingRecord(part.mark, part.thickness, (), unknown, template=record))
    return tuple(found)
