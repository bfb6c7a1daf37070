"""Pieces from what the job states: panels, masses, the opposite hand."""

from pathlib import Path

import numpy as np
import pytest

from fabplan.geom.pose import to_outer
from fabplan.geom.prism import solid
from fabplan.model.arrays import FloatArray
from fabplan.model.part import Part
from tests.body.made import made
from tests.kits.build import Angle, Frame, Kit, Plate, Seam, drilled, rectangle
from tests.kits.random_kits import odd_line

X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
DOWN = (0.0, 0.0, -1.0)


def bar_on_plate(a: float, b: float, t: float, folder: Path) -> Part:
    """The part of an angle a x b x t, 800 mm long, riveted to a plate by its leg a."""
    plate = Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(1000.0, 400.0), 6.0)
    bar = Angle("G1", Frame((100.0, 100.0, 0.0), X, Y), (a, b, t), 800.0)
    row = odd_line((140.0, 100.0 + 0.55 * a, 0.0), (860.0, 100.0 + 0.55 * a, 0.0), 40.0)
    kit = Kit([plate, bar], [Seam("A", ("G1", "P1"), row, DOWN, {"head": "inside"})], {"title": "Bar", "datum": "P1"})
    result = made(drilled(kit), folder)
    return result.body.part_of(1)


@pytest.mark.parametrize(
    ("legs", "mass"),
    [((50.0, 50.0, 5.0), 3.77), ((50.0, 50.0, 6.0), 4.47), ((100.0, 100.0, 10.0), 15.0), ((60.0, 40.0, 5.0), 3.76)],
)
def test_mass_and_metal_of_an_angle(legs: tuple[float, float, float], mass: float, tmp_path: Path) -> None:
    """kg/m of EN 10056-1; the panels leave out root and toe radii, which make up under 2.5 % of the area."""
    part = bar_on_plate(*legs, tmp_path)
    assert part.mass == pytest.approx(mass * 0.8, rel=0.006)
    a, b, t = legs
    volume = sum(solid(panel).volume for panel in part.panels)
    assert volume == pytest.approx((a + b - t) * t * 800.0, rel=1e-12)  # the heel counted once
    assert volume * 7.85e-6 == pytest.approx(part.mass, rel=0.025)


def test_legs_of_an_angle_lie_where_the_conventions_say(tmp_path: Path) -> None:
    """Heel on x; leg a in +y with metal at z in [0, t]; leg b in +z with metal at y in [0, t]."""
    part = bar_on_plate(60.0, 40.0, 5.0, tmp_path)
    leg_a, leg_b = (solid(panel).corners for panel in part.panels)
    np.testing.assert_allclose([leg_a.min(axis=0), leg_a.max(axis=0)], [[0, 0, 0], [800, 60, 5]], atol=1e-9)
    np.testing.assert_allclose([leg_b.min(axis=0), leg_b.max(axis=0)], [[0, 0, 5], [800, 5, 40]], atol=1e-9)


def in_part(part: Part) -> FloatArray:
    """Holes (n, 3) on the marked faces, in the frame of the part."""
    points = [
        to_outer(part.panels[panel].frame, np.array([*xy, 0.0]))
        for panel, xy in zip(part.holes.panel, part.holes.holes.xy, strict=True)
    ]
    return np.array(points)


def pair(folder: Path) -> tuple[Part, Part]:
    """Right and left hand of a plate and their instances, from one drawing."""
    plates: list[Plate | Angle] = [
        Plate("F1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(900.0, 400.0), 6.0),
        Plate("P1", Frame((100.0, 50.0, 6.0), X, Y), [(0, 0, 0), (300, 0, 0), (300, 200, 0), (60, 200, 0)], 5.0),
    ]
    plates[1].keys = {"hand": "pair"}
    row = odd_line((130.0, 80.0, 0.0), (370.0, 80.0, 0.0), 40.0)
    kit = drilled(
        Kit(plates, [Seam("A", ("P1", "F1"), row, DOWN, {"head": "inside"})], {"title": "Pair", "datum": "F1"})
    )
    kit.seams = [Seam("A", ("P1R", "F1"), row, DOWN, {"head": "inside"})]
    result = made(kit, folder)
    return result.body.part_of(1), result.body.part_of(2)


def test_the_opposite_hand_of_a_plate_is_its_mirror_image(tmp_path: Path) -> None:
    """X turned about, the marked face still on top."""
    right, left = pair(tmp_path)
    assert (right.mark, left.mark) == ("P1R", "P1L")
    mirrored = in_part(right) * [-1.0, 1.0, 1.0]
    ours = in_part(left)
    shift = mirrored.mean(axis=0) - ours.mean(axis=0)
    apart = np.linalg.norm((mirrored - shift)[:, None] - ours[None], axis=2)
    assert apart.min(axis=0).max() < 1e-9
    assert apart.min(axis=1).max() < 1e-9
    assert left.mass == pytest.approx(right.mass)
    corners = solid(right.panels[0]).corners * [-1.0, 1.0, 1.0] - shift
    other = solid(left.panels[0]).corners
    assert np.linalg.norm(corners[:, None] - other[None], axis=2).min(axis=1).max() < 1e-9


def test_the_opposite_hand_of_a_bar_is_measured_from_its_other_end(tmp_path: Path) -> None:
    from tests.kits.random_kits import box

    body = made(box(0), tmp_path).body
    right, left = (next(part for part in body.parts if part.mark == mark) for mark in ("A1R", "A1L"))
    length = right.spec.length or 0.0
    np.testing.assert_allclose(in_part(left), [length, 0.0, 0.0] + in_part(right) * [-1.0, 1.0, 1.0], atol=1e-9)
