"""Tools that go in by the opening of the arm: their sections by hand, and a closed box with a hand hole."""

from dataclasses import replace

import numpy as np
import pytest

from fabplan.model.tool import Tool
from fabplan.rules.tables import read_tables
from fabplan.sequence.access import ARM, access, site
from fabplan.sequence.peel import plies
from fabplan.sequence.phases import Phase
from fabplan.sequence.reach import HOLD, panels_of, ways
from fabplan.sequence.scene import Scene
from fabplan.sequence.tool_entry import sections, told, too_wide
from fabplan.sequence.tools import seats
from tests.body.made import Made, made
from tests.sequence.test_cures import closed_by, lidded, pierced
from tests.sequence.test_tools import one_seat

TOOLS = {tool.name: tool for tool in read_tables().tools}


@pytest.mark.parametrize(
    ("name", "section"),
    [
        ("special dolly", 60.0),  # its body; nose 16 + 12.7
        ("cranked dolly", np.hypot(30.0 + 60.0 + 120.0, 60.0)),  # drawn along its arm: nose, arm and body side by side
        ("hand hammer on a snap", np.hypot(100.0, 45.0)),  # its head, drawn along the handle
        ("squeeze yoke", np.hypot(10.0 + 2.0 * (60.0 + 120.0), 80.0)),  # both jaws over plies of 10
    ],
)
def test_sections_by_hand(name: str, section: float) -> None:
    assert sections(TOOLS[name], one_seat()) == pytest.approx(section)


@pytest.fixture(scope="module")
def box(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return made(lidded(), tmp_path_factory.mktemp("closed"))


def by_arm(box: Made, holder: Tool) -> tuple[list[float], list[float]]:
    """The closed box with a hand hole of 200 mm in a side, one tool to hold up with; what is told: sizes, sections."""
    job, body = closed_by(box.job, "cold"), pierced(box, "S1", (300.0, -2.5, 200.0), 200.0)
    kept = [tool for tool in read_tables().tools if tool.use in ("drive", "enter")]
    tables = replace(read_tables(), tools=(*kept, holder))
    panels, member = panels_of(body), plies(box.stacks, len(body.instances))
    place = site(job, body, box.stacks, panels, ways(job, body, box.stacks, panels, tables))
    present = np.ones(len(body.instances), dtype=np.bool_)
    reach, none = access(place, len(box.stacks), present), np.zeros(0, dtype=np.int64)
    driven = np.nonzero(reach.reached)[0]
    assert (reach.kind[driven][:, :, HOLD] == ARM).any()
    no = np.zeros(len(box.stacks), dtype=np.bool_)
    scene = Scene(job, body, box.stacks, place, no, box.index("F1"), member, no)
    found = list(too_wide(scene, seats(job, box.stacks, tables), [Phase(present, driven, reach, none, none)]))
    for one in told(scene, iter(found)):
        assert one.check == "tool-through-opening"
        assert "the opening of S1, 200 mm" in one.what
        assert one.where.holes
    return [one.size for one in found], [one.section for one in found]


def test_a_slim_dolly_passes_a_hand_hole_and_a_wide_one_is_told(box: Made) -> None:
    """A body of 60 mm passes a hole of 200 mm; a cranked dolly of 33 mm, 30 + 33 + 180 mm tall, is told."""
    assert by_arm(box, TOOLS["special dolly"]) == ([], [])
    size, section = by_arm(box, replace(TOOLS["cranked dolly"], body_diameter=33.0, body_length=180.0, crank=40.0))
    assert size == pytest.approx([200.0], abs=0.5)
    assert section == pytest.approx([np.hypot(243.0, 33.0)])
