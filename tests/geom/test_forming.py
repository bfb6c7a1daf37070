"""Blanks formed by folds and rolls: outside sizes by DIN 6935, rings by their diameter, and there and back."""

from math import pi, radians

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry.base import BaseGeometry

from fabplan.errors import FormingError
from fabplan.geom.bend import Bend, neutral_factor, rolled
from fabplan.geom.forming import BendLine, Formed, form, overall, region_of, to_blank, to_space, whole_roll


def fold(name: str, start: tuple[float, float], end: tuple[float, float], angle: float, r: float, t: float) -> BendLine:
    return BendLine(name, np.array(start), np.array(end), Bend(radians(angle), r, t, neutral_factor(r, t)))


def corners(formed: Formed, face: shapely.Polygon) -> np.ndarray:
    """Both faces of all corners in space."""
    xy = np.asarray(face.exterior.coords)[:-1]
    both = [to_space(formed, xy, np.full(len(xy), z))[0] for z in (0.0, -formed.thickness)]
    return np.vstack(both)


@pytest.mark.parametrize("angle", [90.0, -90.0])
def test_angle_by_outside_legs(angle: float) -> None:
    """DIN 6935: legs of 100 and 60 mm outside, 4 mm plate, inside radius 6, want a blank of 151.74 mm."""
    face = shapely.box(0.0, 0.0, 151.743, 50.0)
    line = 100.0 - 10.0 + 0.5 * (pi / 2.0) * (6.0 + 0.7380 * 2.0)  # leg less (r + t), half the bent zone
    formed = form(face, 4.0, [fold("F", (line, 0.0), (line, 50.0), angle, 6.0, 4.0)])
    assert len(formed.regions) == 3
    assert np.ptp(corners(formed, face), axis=0) == pytest.approx([100.0, 50.0, 60.0], abs=0.002)
    assert overall(formed) == pytest.approx([100.0, 50.0, 60.0], abs=0.002)


def test_channel_with_a_hole_in_each_flange() -> None:
    """Three flats; holes at the same distance from the web stand across one another."""
    bend = Bend(pi / 2.0, 10.0, 6.0, neutral_factor(10.0, 6.0))
    width = bend.width
    lines = [(40.0 + width / 2.0), (40.0 + width + 100.0 + width / 2.0)]
    face = shapely.box(0.0, 0.0, 180.0 + 2.0 * width, 300.0)
    formed = form(face, 6.0, [fold(f"F{k}", (x, 0.0), (x, 300.0), 90.0, 10.0, 6.0) for k, x in enumerate(lines)])
    left, right = 20.0, 180.0 + 2.0 * width - 20.0
    place, normal = to_space(formed, np.array([[left, 150.0], [right, 150.0]]), np.zeros(2))
    assert place[0] - place[1] == pytest.approx([-120.0, 0.0, 0.0], abs=1e-9)  # 100 of web and 2 inside radii
    assert normal == pytest.approx(np.array([[1.0, 0.0, 0.0], [-1.0, 0.0, 0.0]]), abs=1e-9)
    assert place[:, 2] == pytest.approx([30.0, 30.0])  # 20 to the bend and the radius


def test_tray_folds_up_on_four_sides() -> None:
    notch = 30.0
    face: BaseGeometry = shapely.box(0.0, 0.0, 400.0, 300.0)
    for x, y in ((0.0, 0.0), (400.0 - notch, 0.0), (0.0, 300.0 - notch), (400.0 - notch, 300.0 - notch)):
        face = face.difference(shapely.box(x, y, x + notch, y + notch))
    ends = [((30, 30), (30, 270)), ((370, 30), (370, 270)), ((30, 30), (370, 30)), ((30, 270), (370, 270))]
    lines = [fold(f"F{k}", a, b, 90.0, 2.0, 2.0) for k, (a, b) in enumerate(ends)]
    with pytest.raises(FormingError, match="run into one another"):
        form(face, 2.0, lines)
    short = [fold(f"F{k}", a, b, 90.0, 2.0, 2.0) for k, (a, b) in enumerate(shortened(ends))]
    formed = form(face.difference(shapely.union_all([shapely.Point(p).buffer(6.0) for p in CORNERS])), 2.0, short)
    _, normal = to_space(formed, np.array([[5.0, 150.0], [395.0, 150.0], [200.0, 5.0], [200.0, 295.0]]), np.zeros(4))
    assert normal == pytest.approx(np.array([[1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0]]), abs=1e-9)


CORNERS = [(30.0, 30.0), (370.0, 30.0), (30.0, 270.0), (370.0, 270.0)]


def shortened(
    ends: list[tuple[tuple[int, int], tuple[int, int]]],
) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Lines that end 5 mm short of the corners, where round relief is cut."""
    found = []
    for (x0, y0), (x1, y1) in ends:
        way = np.sign([x1 - x0, y1 - y0]) * 5.0
        found.append(((x0 + way[0], y0 + way[1]), (x1 - way[0], y1 - way[1])))
    return found


def test_a_ring_closes_on_its_diameter() -> None:
    """650 mm outside, 10 mm plate: pi (650 - 10) of blank; both ends meet and all marked faces lie on the inside."""
    length = pi * 640.0
    face = shapely.box(0.0, 0.0, length, 200.0)
    formed = whole_roll(face, rolled(length, 315.0, 10.0), along_x=False)
    place, normal = to_space(formed, np.array([[x, 100.0] for x in np.linspace(0.0, length, 13)]), np.zeros(13))
    assert place[0] == pytest.approx(place[-1], abs=1e-9)
    assert overall(formed) == pytest.approx([650.0, 200.0, 650.0], rel=1e-3)
    centre = np.array([0.0, 100.0, 315.0])
    assert np.linalg.norm(place - centre, axis=1) == pytest.approx(np.full(13, 315.0))
    assert np.einsum("ij,ij->i", normal, centre - place) == pytest.approx(np.full(13, 315.0))


def test_a_rolled_zone_between_two_flats() -> None:
    quarter = rolled(pi / 2.0 * 203.0, 200.0, 6.0)
    face = shapely.box(0.0, 0.0, 300.0 + quarter.width, 100.0)
    middle = 100.0 + quarter.width / 2.0
    formed = form(face, 6.0, [BendLine("ROLL", np.array([middle, 0.0]), np.array([middle, 100.0]), quarter)])
    place, normal = to_space(formed, np.array([[50.0, 10.0]]), np.zeros(1))
    assert normal[0] == pytest.approx([1.0, 0.0, 0.0])
    assert place[0] == pytest.approx([100.0 + quarter.width - 200.0, 10.0, 250.0])


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ([((50.0, 20.0), (50.0, 100.0))], "from edge to edge"),
        ([((50.0, 0.0), (50.0, 100.0)), ((58.0, 0.0), (58.0, 100.0))], "run into one another"),
        ([((50.0, 0.0), (50.0, 0.0))], "no length"),
    ],
)
def test_what_cannot_be_formed(lines: list[tuple[tuple[float, float], tuple[float, float]]], told: str) -> None:
    folds = [fold(f"F{k}", a, b, 90.0, 6.0, 4.0) for k, (a, b) in enumerate(lines)]
    with pytest.raises(FormingError, match=told):
        form(shapely.box(0.0, 0.0, 200.0, 100.0), 4.0, folds)


def test_ways_round_a_cutout_must_agree() -> None:
    """A frame whose two legs are folded, one by 90 and one by 80 degrees, does not close."""
    frame = shapely.box(0.0, 0.0, 300.0, 300.0).difference(shapely.box(50.0, 50.0, 250.0, 250.0))
    legs = [((0.0, 150.0), (50.0, 150.0)), ((250.0, 150.0), (300.0, 150.0))]
    same = form(frame, 4.0, [fold(f"F{k}", a, b, 90.0, 6.0, 4.0) for k, (a, b) in enumerate(legs)])
    assert len(same.regions) == 4
    angles = (90.0, 80.0)
    unlike = [fold(f"F{k}", a, b, turn, 6.0, 4.0) for k, ((a, b), turn) in enumerate(zip(legs, angles, strict=True))]
    with pytest.raises(FormingError, match="two ways round"):
        form(frame, 4.0, unlike)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_there_and_back(data: st.DataObject) -> None:
    """Any three folds across a strip: points of the blank go to space and come back within 1e-9 mm."""
    number = st.floats(-150.0, 150.0).filter(lambda a: abs(a) > 1.0)
    angles = data.draw(st.lists(number, min_size=3, max_size=3))
    t = data.draw(st.floats(1.0, 10.0))
    r = data.draw(st.floats(t, 4.0 * t))
    slant = data.draw(st.floats(-20.0, 20.0))
    lines = [
        fold(f"F{k}", (400.0 * (k + 1), 0.0), (400.0 * (k + 1) + slant, 100.0), angle, r, t)
        for k, angle in enumerate(angles)
    ]
    formed = form(shapely.box(0.0, 0.0, 1600.0, 100.0), t, lines)
    xy = np.column_stack([np.linspace(1.0, 1599.0, 97), np.full(97, data.draw(st.floats(1.0, 99.0)))])
    z = np.full(97, -t * data.draw(st.floats(0.1, 0.9)))
    place, _ = to_space(formed, xy, z)
    back, depth, beside = to_blank(formed, place, region_of(formed, xy))
    assert np.abs(back - xy).max() < 1e-9
    assert np.abs(depth - z).max() < 1e-9
    assert beside.max() < 1e-9
    # where the strip passes through itself a point has two answers; either goes to the same place
    either, depth, _ = to_blank(formed, place)
    assert np.abs(to_space(formed, either, depth)[0] - place).max() < 1e-7
