"""Kits put together without the way through DXF: drawings made straight from the known plates."""

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from fabplan.body.check import check_body
from fabplan.body.parts import make_parts
from fabplan.body.place import Placing, place
from fabplan.body.stacks import BodyHoles, body_holes, stack
from fabplan.drawing.hand import other_hand
from fabplan.geom.rows import numbered
from fabplan.job.read import read_job
from fabplan.model.body import Body, Stacks
from fabplan.model.drawing import Drawing, Line
from fabplan.model.finding import Finding
from fabplan.model.holes import Holes
from fabplan.model.job import Job
from fabplan.model.lookup import find_section
from fabplan.model.pose import Pose
from fabplan.model.profile import Profile
from fabplan.rules.sets import rule_set_names
from fabplan.rules.tables import read_tables
from tests.kits.build import Kit, Plate, disc
from tests.kits.job_file import job_text


@dataclass(frozen=True)
class Made:
    """A body and all that was found on the way to it."""

    kit: Kit
    job: Job
    placing: Placing
    holes: BodyHoles
    stacks: Stacks
    findings: tuple[Finding, ...]

    @property
    def body(self) -> Body:
        return self.placing.body

    def checks(self) -> list[str]:
        """Names of the checks that found something, each once, in order."""
        return list(dict.fromkeys(finding.check for finding in self.findings))

    def of(self, check: str) -> list[Finding]:
        return [finding for finding in self.findings if finding.check == check]

    def index(self, mark: str) -> int:
        return next(i for i, instance in enumerate(self.body.instances) if instance.mark == mark)


def drawing(plate: Plate, diameter: float) -> Drawing:
    """The drawing of a known plate."""
    xy = np.vstack([np.zeros((0, 2)), *plate.rows.values()])
    rows = [row for row, places in plate.rows.items() for _ in range(len(places))]
    order, number = numbered(xy, rows)
    holes = Holes(
        xy[order],
        np.full(len(xy), diameter),
        tuple(rows[i] for i in order),
        number,
        ("rivet",) * len(xy),
        tuple(f"{i:X}" for i in order),
    )
    round_ones = [[(x + dx, y, bulge) for dx, _, bulge in disc(r)] for x, y, r in plate.round_cutouts]
    cutouts = tuple(profile(ring) for ring in (*plate.cutouts, *round_ones))
    folds, rolls = (
        tuple(Line(layer, line) for layer, line in plate.lines.items() if layer.startswith(kind))
        for kind in ("FOLD", "ROLL")
    )
    name = f"{plate.part or plate.mark}.dxf"
    outline = profile(plate.outline)
    return Drawing(name, outline=outline, cutouts=cutouts, holes=holes, folds=folds, rolls=rolls)


def drawings_of(kit: Kit) -> dict[str, Drawing]:
    """The drawings of the known plates by their marks; of several alike, or of two hands, the first is drawn."""
    plates = {piece.part or piece.mark: piece for piece in reversed(kit.pieces) if isinstance(piece, Plate)}
    return {mark: drawing(plate, plate.hole or kit.rivet[1]) for mark, plate in plates.items()}


def profile(ring: list[tuple[float, float, float]]) -> Profile:
    corners = np.array(ring)
    return Profile(corners[:, :2], corners[:, 2])


def made(kit: Kit, folder: Path, drawings: dict[str, Drawing] | None = None) -> Made:
    """The kit put together and checked; `drawings` stand in place of those of the known plates."""
    path = folder / "job.toml"
    path.write_text(job_text(replace(kit, job={**kit.job, "drawings": "."})), "utf-8")
    if drawings is None:
        drawings = drawings_of(kit)
    for mark in drawings:
        (folder / f"{mark}.dxf").touch()
    job, tables = read_job(path, rule_set_names()), read_tables()
    parts, instances = make_parts(job, drawings, tables, lambda name: find_section(tables, name), other_hand)
    return assembled(kit, job, place(job, parts, instances))


def assembled(kit: Kit, job: Job, placing: Placing) -> Made:
    holes = body_holes(placing.body)
    stacks = stack(job, placing.body, holes)
    return Made(kit, job, placing, holes, stacks, check_body(job, placing, holes, stacks))


def true_pose(kit: Kit, mark: str) -> Pose:
    matrix = kit.piece(mark).frame.matrix
    return Pose(matrix[:3, :3], matrix[:3, 3])
