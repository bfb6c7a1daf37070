"""Corners that run out to a point, held against shapely: how wide they are twice the least web from the tip."""

import math

import numpy as np
import pytest
import shapely

from fabplan.drawing.check import check_drawing
from fabplan.geom.points import points
from fabplan.model.drawing import Drawing
from fabplan.model.profile import Profile


def closed(corners: list[tuple[float, float]]) -> Profile:
    return Profile(np.array(corners), np.zeros(len(corners)))


def gusset(angle: float) -> Profile:
    return closed([(0.0, 0.0), (300.0, 0.0), (0.0, 300.0 * math.tan(math.radians(angle)))])


def told(profile: Profile, *cutouts: Profile, thickness: float = 6.0) -> list[tuple[str, float]]:
    drawing = Drawing("P1.dxf", outline=profile, cutouts=cutouts)
    found = check_drawing(drawing, None, thickness)
    return [(one.check, one.measured or 0.0) for one in found if one.check in ("thin-web", "narrow-slot")]


@pytest.mark.parametrize("angle", [61.9, 60.0, 45.0, 30.0, 28.08])
def test_a_gusset_of_usual_angles_is_passed(angle: float) -> None:
    assert told(gusset(angle)) == []


@pytest.mark.parametrize("angle", [28.0, 20.0, 10.0, 4.0])
def test_a_spike_is_told_with_its_width_between_the_flanks(angle: float) -> None:
    """Judge: the width that shapely finds between the two points of the flanks at 2.06 webs from the tip."""
    profile = gusset(angle)
    circle = shapely.Point(300.0, 0.0).buffer(6.0 * math.hypot(2.0, 0.5), quad_segs=4096).exterior
    ends = shapely.get_coordinates(circle.intersection(shapely.LinearRing(profile.vertices)))
    ((check, width),) = told(profile)
    assert check == "thin-web"
    assert width == pytest.approx(float(np.hypot(*(ends[0] - ends[1]))), abs=1e-3)


@pytest.mark.parametrize(("high", "wide"), [(90.0, 20.0), (60.0, 20.0), (30.0, 20.0)])
def test_a_triangle_cut_out_is_a_notch_where_it_is_as_pointed(high: float, wide: float) -> None:
    """The angle at its top is 2 atan(wide / 2 high); under 2 atan(1 / 4) the finding is due."""
    plate = closed([(0.0, 0.0), (200.0, 0.0), (200.0, 200.0), (0.0, 200.0)])
    triangle = closed([(100.0, 50.0 + high), (100.0 + wide / 2.0, 50.0), (100.0 - wide / 2.0, 50.0)])
    due = wide / 2.0 / high < 0.25
    assert [check for check, _ in told(plate, triangle)] == ["narrow-slot"] * due


def test_a_nick_shorter_than_the_slot_is_none() -> None:
    """A scratch of 1 mm with a root of 14 degrees: its flanks end long before the narrowest slot counts."""
    plate = closed(
        [(0.0, 0.0), (200.0, 0.0), (200.0, 100.0), (100.12, 100.0), (100.0, 99.0), (99.88, 100.0), (0.0, 100.0)]
    )
    assert told(plate) == []


def test_flanks_drawn_in_short_chords_count_as_one() -> None:
    """A tip between two flanks of 40 chords each, 10 degrees from end to end."""
    along = np.linspace(0.0, 60.0, 41)
    half = along * math.tan(math.radians(5.0)) * (1.0 + 1e-4 * np.sin(along))
    ring = [
        *zip(along.tolist(), (-half).tolist(), strict=True),
        *zip(along[:0:-1].tolist(), half[:0:-1].tolist(), strict=True),
    ]
    found = points([closed(ring)], 12.0)
    assert found.void.tolist() == [False]
    assert found.width.tolist() == [pytest.approx(2.0 * 12.0 * math.sin(math.radians(5.0)), abs=1e-2)]
