"""Seams on folded and rolled plates, judged by developments written apart from the program (`tests.kits.bent`).

Folds by DIN 6935, rolls by the middle of the plate. From the line of a fold a hole's edge keeps the larger of 2 t + r
(common practice) and 4 t, half of a die (from memory); ends of a rolled plate may stay flat for 5 t (common practice).
"""

from math import cos, radians, sin
from pathlib import Path

import numpy as np
import pytest

from fabplan.geom.cone import Cone, to_cone
from fabplan.geom.surface import Surface, along_axes, to_body, to_flat
from fabplan.model.finding import Level
from fabplan.model.pose import Pose
from fabplan.way.setout import SetOut, set_out
from tests.kits.bent import Arc, Formed, Limb
from tests.kits.build import Frame, Keys, Kit, Plate, Seam, rectangle
from tests.setout.made import X, Y, Z, write
from tests.setout.strip import circles

JOB: Keys = {"title": "made", "datum": "P1", "exposed": True}
A = '[[setout]]\nseam = "A"\n'
T, FOLD = 6.0, Arc(90.0, 10.0, ("FOLD 1",))


def flanged(high: float = 60.0) -> Formed:
    """A plate of 300 x 200 with a flange up along its upper edge: its outer face is y = 216, from z = 10 on."""
    limb = Limb((0.0, 200.0), (0.0, 1.0), -300.0, 0.0, (FOLD, high))
    plate = Formed("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(300.0, 200.0 + limb.length(T)), T)
    plate.base, plate.limbs = rectangle(300.0, 200.0), (limb,)
    return plate


def laid(plates: list[Plate], folder: Path, more: str = A) -> SetOut:
    seam = Seam("A", ("P1", "P2"), np.zeros((0, 3)), (0.0, 0.0, 1.0))
    return set_out(write(Kit([*plates], [seam], dict(JOB)), folder / "job", more), folder / "out")


def clean(done: SetOut) -> None:
    assert done.not_laid == ()
    assert [one.rivets for one in done.proofs] == [one.count for one in done.laid]
    assert max(one.apart for one in done.proofs) <= 1e-6
    assert [one for one in done.findings if one.level is not Level.NOTE] == []


def test_on_a_flange(tmp_path: Path) -> None:
    """P2 stands against the flange: on its blank the row lies where DIN 6935 unrolls it."""
    lower = flanged()
    upper = Plate("P2", Frame((0.0, 216.0, 0.0), X, Z), rectangle(300.0, 150.0), T)
    done = laid([lower, upper], tmp_path)
    clean(done)
    found, mate = (circles(tmp_path / "out" / f"{name}.dxf", "RIVET A") for name in ("P1", "P2"))
    places = np.column_stack([mate[:, 0], np.full(len(mate), 213.0), mate[:, 1]])
    blank, normal = lower.unrolled(places)
    assert found[:, :2] == pytest.approx(blank, abs=1e-6)
    assert np.abs(normal) == pytest.approx(np.tile([0.0, 1.0, 0.0], (len(mate), 1)), abs=1e-9)
    line = 200.0 + FOLD.length(T) / 2.0
    assert (found[:, 1] - 5.5 - line).min() >= max(2.0 * T + 10.0, 4.0 * T) - 1e-6
    assert np.ptp(np.diff(found[:, 0])) <= 1e-6


def test_a_row_towards_a_fold_ends_before_it(tmp_path: Path) -> None:
    """P2 lies on the plate up to 2 mm before its bend; the last hole's edge keeps 24 mm off the line."""
    lower = flanged(100.0)  # further off than twice 4 t + 40 mm: the row does not belong to that edge
    upper = Plate("P2", Frame((130.0, 8.0, T), X, Y), rectangle(40.0, 190.0), T)
    done = laid([lower, upper], tmp_path)
    clean(done)
    y = circles(tmp_path / "out" / "P1.dxf", "RIVET A")[:, 1]
    assert y.max() <= 200.0 + FOLD.length(T) / 2.0 - 24.0 - 5.5 + 1e-6
    assert np.ptp(np.diff(y)) <= 1e-6


def test_across_a_fold_no_hole_is_in_the_bent_zone(tmp_path: Path) -> None:
    """A row stated right across the fold of a plate whose mate is folded over it alike."""
    lower = flanged()
    limb = Limb((0.0, 194.0), (0.0, 1.0), -300.0, 0.0, (Arc(90.0, 10.0 - T, ("FOLD 1",)), 50.0))
    upper = Formed("P2", Frame((0.0, 6.0, T), X, Y), rectangle(300.0, 194.0 + limb.length(T)), T)
    upper.base, upper.limbs = rectangle(300.0, 194.0), (limb,)
    done = laid([lower, upper], tmp_path, A + 'on = "P1"\nfrom = [150, 40]\nto = [150, 256]\n')
    assert done.not_laid == ()
    for name, plate in (("P1", lower), ("P2", upper)):
        y = circles(tmp_path / "out" / f"{name}.dxf", "RIVET A")[:, 1]
        (start, _) = plate.limbs[0].lines(T)["FOLD 1"]
        radius = plate.limbs[0].spans[0].radius if isinstance(plate.limbs[0].spans[0], Arc) else 0.0
        assert np.abs(y - start[1]).min() - 5.5 >= max(2.0 * T + radius, 4.0 * T) - 1e-6


def test_across_a_fold_both_blanks_keep_the_greatest_pitch(tmp_path: Path) -> None:
    """Five spaces of 74.8 mm on P2 would be 85.2 mm over the fold on P1, whose zone is 10.4 mm longer: over 14 t = 84.

    DIN 6935: k 0.761 for 10 mm, 0.562 for 4 mm; zones of 19.29 and 8.93 mm.
    """
    lower = flanged(200.0)
    limb = Limb((0.0, 194.0), (0.0, 1.0), -300.0, 0.0, (Arc(90.0, 10.0 - T, ("FOLD 1",)), 200.0))
    upper = Formed("P2", Frame((0.0, 6.0, T), X, Y), rectangle(300.0, 194.0 + limb.length(T)), T)
    upper.base, upper.limbs = rectangle(300.0, 194.0), (limb,)
    done = laid([lower, upper], tmp_path, A + 'on = "P2"\nfrom = [150, 15]\nto = [150, 389]\n')
    assert done.not_laid == ()
    for name, plate in (("P1", lower), ("P2", upper)):
        y = np.sort(circles(tmp_path / "out" / f"{name}.dxf", "RIVET A")[:, 1])
        (start, _) = plate.limbs[0].lines(T)["FOLD 1"]
        assert 2.2 * 11.0 <= np.diff(y).min() <= np.diff(y).max() <= 14.0 * T
        assert np.abs(y - start[1]).min() - 5.5 >= 24.0 - 1e-6


def shell(mark: str, start: float, wide: float, inside: float, begin: float = -55.0, turn: float = 110.0) -> Formed:
    """A plate rolled as a whole by `turn` degrees about the x axis, from x = start on; `begin` degrees from below."""
    along = (0.0, cos(radians(begin)), sin(radians(begin)))
    limb = Limb((0.0, 0.0), (0.0, 1.0), -wide, 0.0, (Arc(turn, inside, ()),))
    corner = (start, inside * sin(radians(begin)), -inside * cos(radians(begin)))
    plate = Formed(mark, Frame(corner, X, along), rectangle(wide, limb.length(5.0)), 5.0)
    plate.limbs = (limb,)
    return plate


def test_round_a_lap_of_two_rolled_plates(tmp_path: Path) -> None:
    """P2 lies outside P1, 44 mm of lap: unlike lengths on unlike radii, no hole within 5 t = 25 mm of an end."""
    inner, outer = shell("P1", 0.0, 120.0, 400.0), shell("P2", 76.0, 120.0, 405.0)
    done = laid([inner, outer], tmp_path)
    clean(done)
    one, other = (circles(tmp_path / "out" / f"{name}.dxf", "RIVET A")[:, :2] for name in ("P1", "P2"))
    one, other = one[np.argsort(one[:, 1])], other[np.argsort(other[:, 1])]
    assert other[:, 0] + 76.0 == pytest.approx(np.full(len(one), 98.0), abs=1e-6)
    turn = radians(-55.0) + other[:, 1] / 407.5
    places = np.column_stack([other[:, 0] + 76.0, 402.5 * np.sin(turn), -402.5 * np.cos(turn)])
    blank, _ = inner.unrolled(inner.frame.own(places))
    assert one == pytest.approx(blank, abs=1e-6)
    for y, plate in ((one[:, 1], inner), (other[:, 1], outer)):
        assert y.min() >= 25.0 - 1e-6
        assert plate.limbs[0].length(5.0) - y.max() >= 25.0 - 1e-6
    assert np.ptp(np.diff(one[:, 1])) <= 1e-6
    assert np.diff(other[:, 1]) / np.diff(one[:, 1]) == pytest.approx(np.full(len(one) - 1, 407.5 / 402.5), abs=1e-9)


def test_round_two_drums_whose_joints_lie_opposite(tmp_path: Path) -> None:
    """Closed rounds of mean radius 302.5 and 307.5 mm: each joint parts the row, and the other plate runs on over it.

    No hole within 5 t = 25 mm of a joint, no space over 14 t = 70 mm on a plate that runs through.
    """
    inner, outer = shell("P1", 0.0, 200.0, 300.0, 0.0, 359.9), shell("P2", 160.0, 200.0, 305.0, 180.0, 359.9)
    done = laid([inner, outer], tmp_path)
    clean(done)
    found = {name: circles(tmp_path / "out" / f"{name}.dxf", "RIVET A")[:, :2] for name in ("P1", "P2")}
    turned = []
    for (name, own), mean, x, begin in zip(found.items(), (302.5, 307.5), (180.0, 20.0), (0.0, 180.0), strict=True):
        girth = radians(359.9) * mean
        assert own[:, 0] == pytest.approx(np.full(len(own), x), abs=1e-6), name
        assert 25.0 - 1e-6 <= own[:, 1].min() <= own[:, 1].max() <= girth - 25.0 + 1e-6
        turned.append(np.sort(np.mod(begin + np.degrees(own[:, 1] / mean), 360.0)))
    assert turned[0] == pytest.approx(turned[1], abs=1e-6)
    spaces = radians(1.0) * 307.5 * np.diff(np.append(turned[0], turned[0][0] + 360.0))
    assert spaces.max() <= 70.0
    assert spaces.min() >= 2.2 * 11.0


def test_a_hole_in_the_flat_end_of_a_roll_is_refused(tmp_path: Path) -> None:
    plates: list[Plate] = [shell("P1", 0.0, 120.0, 400.0), shell("P2", 76.0, 120.0, 405.0)]
    done = laid(plates, tmp_path, A + 'on = "P1"\nfrom = [98, 18]\nto = [98, 740]\n')
    assert "the end of a rolled plate may stay flat for 5 t" in done.not_laid[0].what


def test_there_and_back_on_a_cone() -> None:
    """A frustum of mean radii 200 and 100 and height 300: sin of the half angle is 100 / 316.228 (shop practice)."""
    half = np.arctan2(100.0, 300.0)
    surface = Surface(Cone(Pose(), float(half), 6.0), Pose(np.eye(3), np.array([5.0, -7.0, 11.0])), 6.0)
    angle = np.linspace(0.05, 1.9, 12)
    xy = 400.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    place, normal = to_body(surface, xy, np.full(12, -3.0))
    assert place == pytest.approx(
        to_cone(Cone(Pose(), float(half), 6.0), np.column_stack([xy, np.full(12, -3.0)]))[0] + [5.0, -7.0, 11.0]
    )
    back, z = to_flat(surface, place)
    assert back == pytest.approx(xy, abs=1e-9)
    assert z == pytest.approx(np.full(12, -3.0), abs=1e-9)
    again, along, square = along_axes(surface, place + 4.0 * normal, normal)
    assert again == pytest.approx(xy, abs=1e-6)
    assert along == pytest.approx(np.full(12, -4.0), abs=1e-6)
    assert square.all()
