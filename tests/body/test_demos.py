"""The committed demos, from their DXF files to the body, against the truth they were made from."""

from pathlib import Path

import numpy as np
import pytest

from fabplan.body.kit import kit_of, same_place
from fabplan.body.parts import make_parts
from fabplan.body.place import place
from fabplan.drawing.hand import other_hand
from fabplan.job.read import read_job
from fabplan.model.lookup import find_section
from fabplan.model.pose import Pose
from fabplan.rules.sets import rule_set_names
from fabplan.rules.tables import read_tables
from fabplan.way.plan import read_drawings
from tests.body.made import Made, assembled, true_pose
from tests.kits.bowser import bowser
from tests.kits.build import Kit
from tests.kits.first_lap import first_lap
from tests.kits.write import ROOT, write

KITS = {"bowser": bowser, "first-lap": first_lap}


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
    kit = kit_of(own, result.placing.links, result.index(result.job.datum), Pose())
    alike = []
    for i, (instance, pose) in enumerate(zip(body.instances, body.poses, strict=True)):
        assert pose is not None
        true = true_pose(result.kit, instance.mark)
        if np.allclose(pose.rotation, true.rotation, atol=1e-6):
            np.testing.assert_allclose(pose.origin, true.origin, atol=1e-3)  # drawings in inches are rounded
        else:
            assert same_place(kit, i, pose, true)
            alike.append(instance.mark)
    assert set(alike) <= {"H1", "P1"}, "the ring and the surge plate are alike whichever way they are turned"
    assert len(result.stacks) == sum(len(seam.points) for seam in result.kit.seams)


def test_the_demo_is_as_large_as_asked() -> None:
    kit = bowser()
    assert len(kit.pieces) >= 25
    assert sum(len(seam.points) for seam in kit.seams) >= 1200


def test_the_committed_demos_are_what_the_generator_writes(tmp_path: Path) -> None:
    write(tmp_path)
    written = sorted(path.relative_to(tmp_path) for path in tmp_path.rglob("*") if path.is_file())
    assert len(written) == 12 + 1 + 2 + 1
    for path in written:
        assert (tmp_path / path).read_bytes() == (ROOT / path).read_bytes(), path
    kept = {path.relative_to(ROOT) for path in (ROOT / "drawings" / "bowser").glob("*.dxf")}
    assert kept <= set(written)
