"""The committed demos, from their DXF files to the body, against the truth they were made from."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from fabplan.body.kit import kit_of, same_place
from fabplan.body.parts import make_parts
from fabplan.body.place import place, start_of
from fabplan.drawing.hand import other_hand
from fabplan.job.read import read_job
from fabplan.model.lookup import find_section
from fabplan.rules.sets import rule_set_names
from fabplan.rules.tables import read_tables
from fabplan.way.assembly import read_drawings
from tests.body.made import Made, assembled, true_pose
from tests.kits.bowser import bowser
from tests.kits.build import Kit
from tests.kits.first_lap import first_lap
from tests.kits.skip import skip
from tests.kits.write import ROOT, write

KITS = {"bowser": bowser, "first-lap": first_lap, "skip": skip}
ALIKE = {"bowser": {"H1", "P1"}}  # the ring and the surge plate are alike whichever way they are turned


@cache
def from_files(name: str) -> Made:
    kit: Kit = KITS[name]()
    job, tables = read_job(ROOT / "examples" / name / "job.toml", rule_set_names()), read_tables()
    drawings = read_drawings(job)
    parts, instances = make_parts(job, drawings, tables, lambda mark: find_section(tables, mark), other_hand)
    return assembled(kit, job, place(job, parts, instances))


@pytest.mark.parametrize("name", list(KITS))
def test_exactly_one_body_fits_and_it_is_the_true_one(name: str) -> None:
    result = from_files(name)
    body = result.body
    assert {one.check for one in result.findings} <= {"unlisted-ply"}
    assert (result.placing.doubt, result.placing.faults) == (None, 0)
    own = tuple(body.parts[instance.part] for instance in body.instances)
    datum = result.index(result.job.datum)
    kit = kit_of(own, result.placing.links, datum, start_of(result.job, body.instances))
    alike = []
    for i, (instance, pose) in enumerate(zip(body.instances, body.poses, strict=True)):
        assert pose is not None
        true = true_pose(result.kit, instance.mark)
        if np.allclose(pose.rotation, true.rotation, atol=1e-6):
            np.testing.assert_allclose(pose.origin, true.origin, atol=1e-3)  # drawings in inches are rounded
        else:
            assert same_place(kit, i, pose, true)
            alike.append(instance.mark)
    assert set(alike) <= ALIKE.get(name, set())


@pytest.mark.parametrize("name", list(KITS))
def test_every_rivet_is_where_it_was_set_out_and_every_hole_meets_its_mate(name: str) -> None:
    """Against the rivets in space that the drawings were made from: axis, direction, plies, and holes to 0.05 mm."""
    result = from_files(name)
    seams, stacks = result.kit.seams, result.stacks
    assert len(stacks) == sum(len(seam.points) for seam in seams)
    assert stacks.misfit.max() <= 0.05
    marks = [instance.mark for instance in result.body.instances]
    for number, seam in enumerate(seams):
        own = np.nonzero(stacks.seam == number)[0]
        away = stacks.point[own][:, None] - seam.points[None]
        along = np.einsum("ijk,ik->ij", away, stacks.axis[own])
        apart = np.linalg.norm(away - along[:, :, None] * stacks.axis[own][:, None], axis=2)
        apart[np.abs(along) > 20.0] = np.inf
        assert apart.min(axis=1).max() <= 0.05, seam.mark
        assert sorted(apart.argmin(axis=1).tolist()) == list(range(len(seam.points))), seam.mark
        ways = np.tile(seam.axis, (len(own), 1)) if seam.ways is None else seam.ways[apart.argmin(axis=1)]
        assert np.sum(stacks.axis[own] * ways, axis=1).min() >= 1.0 - 1e-5, seam.mark
        listed = [ply.partition("/")[0] for ply in seam.plies]
        for i in own.tolist():
            plies = slice(stacks.first[i], stacks.first[i + 1])
            met = [marks[k] for k in stacks.ply_instance[plies].tolist()]
            assert [mark for mark in met if mark in listed] == listed, stacks.number[i]


@pytest.mark.parametrize(("name", "pieces", "rivets"), [("bowser", 25, 1200), ("skip", 40, 2000)])
def test_the_demos_are_as_large_as_asked(name: str, pieces: int, rivets: int) -> None:
    kit: Kit = KITS[name]()
    assert len(kit.pieces) >= pieces
    assert sum(len(seam.points) for seam in kit.seams) >= rivets


def test_the_skip_has_every_form_of_work_that_was_asked() -> None:
    """Folds, flanges, a roll, rings, beading, trunnion plates, a seat, and pieces of both hands."""
    job = read_job(ROOT / "examples" / "skip" / "job.toml", rule_set_names())
    parts = {part.mark: part for part in job.parts}
    assert parts["B1"].rolls
    assert parts["BS"].rolls[0].axis == "x"
    assert parts["S1"].folds
    assert len(parts["E1"].folds) == len(parts["P1"].folds) == 2
    assert parts["RG1"].ring is not None
    assert parts["BB1"].section == "HR40x10"
    assert {mark for mark, part in parts.items() if part.hand == "pair"} >= {"S1", "S2", "W", "C", "CG1", "V"}


def test_the_committed_demos_are_what_the_generator_writes(tmp_path: Path) -> None:
    write(tmp_path)
    written = sorted(path.relative_to(tmp_path) for path in tmp_path.rglob("*") if path.is_file())
    assert len(written) == (12 + 1) + (17 + 1) + (2 + 1)
    for path in written:
        assert (tmp_path / path).read_bytes() == (ROOT / path).read_bytes(), path
    kept = {path.relative_to(ROOT) for name in ("bowser", "skip") for path in (ROOT / "drawings" / name).glob("*")}
    assert kept <= set(written)
