"""Bars of every section as panels: boxes of trimesh laid by the conventions of DEVELOPERS.md are the judge."""

from pathlib import Path

import numpy as np
import pytest
import trimesh

from fabplan.body.parts import make_parts
from fabplan.drawing.hand import other_hand
from fabplan.geom.pose import to_outer
from fabplan.geom.prism import solid
from fabplan.model.job import Job, PartSpec, RowSpec
from fabplan.model.lookup import find_section
from fabplan.model.part import Part
from fabplan.rules.tables import read_tables

LONG = 800.0
Box = tuple[tuple[float, float], tuple[float, float]]
"""A leg as its limits in y and in z, mm."""

# sizes of the standards: UPN 100 50 x 6 x 8.5, UPE 120 60 x 5 x 8, T 60 7, unequal angle; heel on x
LAID: dict[str, tuple[Box, ...]] = {
    "L75x50x6": (((0, 75), (0, 6)), ((0, 6), (6, 50))),
    "UPN100": (((0, 6), (0, 100)), ((6, 50), (0, 8.5)), ((6, 50), (91.5, 100))),
    "UPE120": (((0, 5), (0, 120)), ((5, 60), (0, 8)), ((5, 60), (112, 120))),
    "T60": (((0, 60), (0, 7)), ((26.5, 33.5), (7, 60))),
    "HR25": (((0, 25), (-12.5, 0)),),
    "HR40x12": (((0, 40), (-12, 0)),),
    "FL50x6": (((0, 50), (-6, 0)),),
}


def bar(section: str, *rows: RowSpec, hand: str = "") -> tuple[Part, ...]:
    tables = read_tables()
    spec = PartSpec("B1", section=section, length=LONG, rows=rows, hand=hand)
    job = Job(Path("job.toml"), Path("."), parts=(spec,))
    return make_parts(job, {}, tables, lambda name: find_section(tables, name), other_hand)[0]


@pytest.mark.parametrize("section", LAID)
def test_panels_are_the_boxes_of_the_conventions(section: str) -> None:
    (part,) = bar(section)
    boxes = [trimesh.creation.box(bounds=[[0, y[0], z[0]], [LONG, y[1], z[1]]]) for y, z in LAID[section]]
    solids = [solid(panel) for panel in part.panels]
    assert len(solids) == len(boxes)
    for ours, box in zip(solids, boxes, strict=True):
        bounds = [ours.corners.min(axis=0), ours.corners.max(axis=0)]
        np.testing.assert_allclose(bounds, box.bounds, atol=1e-9)
        assert ours.volume == pytest.approx(box.volume, rel=1e-9)


@pytest.mark.parametrize("section", [name for name in LAID if not name.startswith("HR")])
def test_metal_of_the_panels_is_that_of_the_section(section: str) -> None:
    """Radii and tapers, which the panels leave out, make up under 5 % of the area."""
    (part,) = bar(section)
    volume = sum(solid(panel).volume for panel in part.panels)
    assert part.mass == pytest.approx(volume * 7.85e-6, rel=0.05)


@pytest.mark.parametrize(
    ("section", "leg", "mark", "place"),
    [
        ("L75x50x6", "a", 45, (100, 45, 0)),
        ("L75x50x6", "b", 28, (100, 0, 28)),
        ("UPN100", "w", 50, (100, 0, 50)),
        ("UPN100", "a", 30, (100, 30, 0)),
        ("UPN100", "b", 30, (100, 30, 100)),
        ("T60", "a", 13, (100, 13, 0)),
        ("T60", "b", 35, (100, 26.5, 35)),
        ("HR25", "a", 12.5, (100, 12.5, 0)),
    ],
)
def test_rows_lie_where_the_conventions_say(
    section: str, leg: str, mark: float, place: tuple[float, float, float]
) -> None:
    """On the outer face of the leg; of the other hand from the far end."""
    for part in bar(section, RowSpec("A", leg, mark, (100.0,), 11.0), hand="pair"):
        panel = part.panels[int(part.holes.panel[0])]
        assert panel.name == leg
        centre = to_outer(panel.frame, np.array([*part.holes.holes.xy[0], 0.0]))
        along = place[0] if part.hand == "R" else LONG - place[0]
        np.testing.assert_allclose(centre, (along, *place[1:]), atol=1e-9)
        x0, y0, x1, y1 = solid(panel).face.bounds
        assert x0 < part.holes.holes.xy[0, 0] < x1
        assert y0 < part.holes.holes.xy[0, 1] < y1
