"""A kit of two plates and a bar for the tests of supply, with a given run of stacks."""

from dataclasses import replace
from pathlib import Path

import numpy as np

from fabplan.geom.profile import rectangle
from fabplan.model.body import Body, Stacks
from fabplan.model.drawing import Drawing
from fabplan.model.holes import Holes
from fabplan.model.job import Job, PartSpec, RowSpec
from fabplan.model.joints import PlySpec, RivetSpec, SeamSpec
from fabplan.model.panel import PartHoles
from fabplan.model.part import Instance, Part
from fabplan.model.pose import Pose
from fabplan.model.tables import Section

RIVET = RivetSpec("R10", 10.0, 11.0)
SEAM = SeamSpec("A", (PlySpec("P1", "A"), PlySpec("P2", "A")), "R10", tight=True)
ANGLE = Section("L50x50x5", "angle", 50.0, 50.0, 5.0, 7.0, 3.5, 480.3, 3.77, "EN 10056-1")


def job(rivet: RivetSpec = RIVET, seams: tuple[SeamSpec, ...] = (SEAM,)) -> Job:
    return Job(Path("job.toml"), Path("."), rivets=(rivet,), seams=seams)


def row_of_holes(count: int, purpose: str = "rivet", diameter: float = 11.0) -> Holes:
    return Holes(
        xy=np.column_stack([20.0 + 40.0 * np.arange(count), np.full(count, 20.0)]),
        diameter=np.full(count, diameter),
        row=("A",) * count,
        number=tuple(f"A {i + 1}" for i in range(count)),
        purpose=(purpose,) * count,
        handle=("",) * count,
    )


def plate(mark: str, holes: Holes, thickness: float = 6.0, size: tuple[float, float] = (1000.0, 2000.0)) -> Part:
    drawing = Drawing(f"{mark}.dxf", outline=rectangle(0.0, 0.0, *size), holes=holes, fingerprint="0123456789abcdef")
    spec = PartSpec(mark, drawing=drawing.name, thickness=thickness, grade="S275", supplier="cutter")
    place = np.zeros(len(holes), dtype=np.int64)
    return Part(mark, spec, (), PartHoles(holes, place), 10.0, "from its drawing", thickness, blank=drawing)


def bar(mark: str, at: tuple[float, ...], hand: str = "") -> Part:
    row = RowSpec("floor", "a", 28.0, at, 11.0)
    spec = PartSpec(mark, section="L50x50x5", length=2360.0, hand="pair" if hand else "", rows=(row,))
    holes = row_of_holes(len(at))
    owner = PartHoles(holes, np.zeros(len(at), dtype=np.int64))
    return Part(mark + hand, spec, (), owner, 8.9, "3.77 kg/m", 5.0, section=ANGLE, hand=hand)


def body(*parts: Part, quantity: int = 1) -> Body:
    instances = tuple(
        Instance(part.mark if quantity == 1 else f"{part.mark}-{n + 1}", i)
        for i, part in enumerate(parts)
        for n in range(quantity)
    )
    count = len(instances)
    return Body(parts, instances, (Pose(),) * count, ("",) * count, ("",) * count)


def stacks(grips: tuple[float, ...], hole: float = 11.0, rivet: int = 0, seam: int = 0) -> Stacks:
    """One straight row of two-ply stacks, 40 mm apart."""
    count = len(grips)
    grip = np.array(grips)
    point = np.column_stack([40.0 * np.arange(count), np.zeros(count), np.zeros(count)])
    axis = np.tile([0.0, 0.0, 1.0], (count, 1))
    place = np.repeat(np.arange(count), 2)
    return Stacks(
        number=tuple(f"A {i + 1}" for i in range(count)),
        seam=np.full(count, seam),
        rivet=np.full(count, rivet),
        point=point,
        axis=axis,
        grip=grip,
        head_face=point - axis * grip[:, None] / 2.0,
        point_face=point + axis * grip[:, None] / 2.0,
        diameter=np.full(count, RIVET.diameter),
        hole=np.full(count, hole),
        clear=np.full(count, hole),
        misfit=np.zeros(count),
        first=np.arange(count + 1) * 2,
        ply_instance=np.tile([0, 1], count),
        ply_panel=np.zeros(2 * count, dtype=np.int64),
        ply_hole=place,
        ply_thickness=np.repeat(grip / 2.0, 2),
        ply_offset=np.zeros((2 * count, 3)),
        ply_listed=np.ones(2 * count, dtype=np.bool_),
        ply_gap=np.zeros(2 * count),
    )


def two_plates(count: int) -> Body:
    return body(plate("P1", row_of_holes(count)), plate("P2", row_of_holes(count)))


def with_rivet(**given: object) -> RivetSpec:
    return replace(RIVET, **given)  # type: ignore[arg-type]  # keywords of a test
