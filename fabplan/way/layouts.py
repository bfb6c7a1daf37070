"""Layouts of holes for the spacing checks, from a drawing and what the job states."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.model.holes import Holes
from fabplan.model.job import Job, PartSpec, Supplier
from fabplan.model.joints import RivetSpec, SeamSpec
from fabplan.model.layout import HoleLayout
from fabplan.model.ordered import Ordered
from fabplan.model.profile import Profile

EDGES = {"guillotine": "sheared", "shear": "sheared"}
"""Edge by a supplier's process where the part states none; every thermal or water-jet cut counts as machine cut."""


@dataclass(frozen=True, slots=True)
class Stated:
    """What is known of a plate besides its drawing.

    Attributes:
        part: piece mark.
        thickness: mm, or None.
        material: "steel" unless stated.
        edge: state of the edge, "" when not known.
        exposed: of the job.
        rows: seam of each row name.
        rivets: rivet of each row name; the key "" holds for rows without one.
        opened: rows whose holes are opened to size when the plies are together.
    """

    part: str = ""
    thickness: float | None = None
    material: str = "steel"
    edge: str = ""
    exposed: bool | None = None
    rows: Mapping[str, SeamSpec] | None = None
    rivets: Mapping[str, RivetSpec] | None = None
    opened: frozenset[str] = frozenset()


def stated(job: Job, spec: PartSpec) -> Stated:
    """What the job states of one piece; the rivet of a row is that of the seam that lists it."""
    from fabplan.model.marks import instance_marks

    own = {mark for mark, _ in instance_marks(spec)}
    by_mark = {rivet.mark: rivet for rivet in job.rivets}
    seams = {ply.row: seam for seam in job.seams for ply in seam.plies if ply.instance in own}
    opened = frozenset(row for row, seam in seams.items() if seam.states(own) != {"full"})
    rivets = {row: by_mark[seam.rivet] for row, seam in seams.items() if seam.rivet in by_mark}
    if len(job.rivets) == 1:
        rivets[""] = job.rivets[0]
    process = next((supplier.process for supplier in job.suppliers if supplier.name == spec.supplier), "")
    edge = spec.edge or EDGES.get(process, "machine" if process else "")
    return Stated(spec.mark, spec.thickness, spec.material, edge, job.exposed, seams, rivets, opened)


def ordered(job: Job, spec: PartSpec | None, hoist: float | None = None) -> Ordered:
    """What the checks of a drawing are told of a piece; `hoist` where they are to judge its mass."""
    from fabplan.model.marks import instance_marks

    own = {mark for mark, _ in instance_marks(spec)} if spec is not None else set()
    plies = [ply for seam in job.seams for ply in seam.plies if ply.instance in own]
    reamed = dict.fromkeys(ply.row for ply in plies if ply.state == "reamed")
    holes = tuple(rivet.hole for rivet in job.rivets)
    return Ordered(spec, tuple(reamed), holes, job.roles, hoist, _names(job), bender_of(job, spec))


def bender_of(job: Job, spec: PartSpec | None) -> Supplier | None:
    """Who forms a piece: the supplier named as its bender, else the one who cuts it."""
    name = (spec.bender or spec.supplier) if spec is not None else ""
    return next((supplier for supplier in job.suppliers if supplier.name == name), None)


def _names(job: Job) -> tuple[str, ...]:
    """All names that a job gives, each once."""
    from fabplan.model.marks import instance_marks

    pieces = [name for part in job.parts for name in (part.mark, part.section, *(m for m, _ in instance_marks(part)))]
    others = [*(seam.mark for seam in job.seams), *(rivet.mark for rivet in job.rivets)]
    return tuple(dict.fromkeys(name for name in (*pieces, *others) if name))


def layout(name: str, outline: Profile, cutouts: tuple[Profile, ...], holes: Holes, known: Stated) -> HoleLayout:
    """The layout of one plate by itself: its own thickness stands for the stack's, the grip is not known."""
    seams, rivets = known.rows or {}, known.rivets or {}
    count = len(holes)
    thickness = np.nan if known.thickness is None else known.thickness
    of_row = [rivets.get(row) or rivets.get("") for row in holes.row]
    seam_of = [seams.get(row) for row in holes.row]
    rivet = [spec if purpose == "rivet" else None for spec, purpose in zip(of_row, holes.purpose, strict=True)]
    driven = np.array([spec is None or spec.kind == "rivet" for spec in rivet], dtype=np.bool_)
    loads = [seam.load if seam is not None else "" for seam in seam_of]
    return HoleLayout(
        drawing=name,
        part=known.part,
        material=known.material,
        outline=outline,
        cutouts=cutouts,
        holes=holes,
        thickness=thickness,
        edge=known.edge,
        exposed=known.exposed,
        rivet_diameter=np.array([np.nan if spec is None else spec.diameter for spec in rivet], dtype=np.float64),
        thinner_outer=np.full(count, thickness),
        thickest=np.full(count, thickness),
        grip=np.full(count, np.nan),
        tight=np.array([seam is not None and seam.tight for seam in seam_of], dtype=np.bool_),
        tension=np.array([load in ("", "tension") for load in loads], dtype=np.bool_),
        compression=np.array([load in ("", "compression") for load in loads], dtype=np.bool_),
        countersunk=np.zeros(count, dtype=np.bool_),
        sink_depth=np.full(count, np.nan),
        hand_driven=np.ones(count, dtype=np.bool_),
        seamed=np.array([not seams or row in seams for row in holes.row], dtype=np.bool_),
        stated_hole=np.array([_stated_hole(spec) for spec in rivet], dtype=np.float64),
        riveted=driven,
        opened_later=np.array([row in known.opened for row in holes.row], dtype=np.bool_),
    )


def _stated_hole(spec: RivetSpec | None) -> float:
    """The hole that the job states, mm; NaN for none, and for a dummy head, which may sit on any mark."""
    return float("nan") if spec is None or spec.kind == "dummy head" else spec.hole


def rivets_by_row(rivet: RivetSpec | None, rows: Sequence[str] = ()) -> dict[str, RivetSpec]:
    """One rivet for every row, as the command line states it."""
    return {} if rivet is None else dict.fromkeys(("", *rows), rivet)
