"""The cut list."""

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Point, box

from fabplan.geom.profile import circle, reversed_profile
from fabplan.model.drawing import Drawing
from fabplan.model.holes import NO_HOLES
from fabplan.supply.plates import plate_lines
from tests.supply.stacked import bar, body, plate, row_of_holes


def test_a_plate_and_its_quantity() -> None:
    part = plate("P1", row_of_holes(5))
    (line,) = plate_lines(body(part, bar("A1", (20.0, 60.0)), quantity=3))
    assert (line.mark, line.quantity, line.drawing, line.fingerprint) == ("P1", 3, "P1.dxf", "01234567")
    assert (line.length, line.width, line.thickness, line.grade) == (2000.0, 1000.0, 6.0, "S275")
    assert (line.holes, line.supplier, line.note) == (5, "cutter", "")
    assert line.mass_each == part.mass


def test_cut_length_against_shapely() -> None:
    part = plate("P1", row_of_holes(5))
    assert part.blank is not None
    hatch = reversed_profile(circle((500.0, 900.0), 300.0))
    blank = replace(part.blank, cutouts=(hatch,))
    (line,) = plate_lines(body(replace(part, blank=blank)))
    judged = box(0, 0, 1000, 2000).length + Point(0, 0).buffer(300.0, 4096).length
    judged += 5 * Point(0, 0).buffer(5.5, 4096).length
    assert line.cut_length == pytest.approx(judged, rel=1e-6)


def test_what_is_not_known_is_said() -> None:
    part = plate("P1", NO_HOLES)
    bare = replace(part, blank=Drawing("P1.dxf"), thickness=math.nan, mass=math.nan)
    (line,) = plate_lines(body(bare))
    assert "no outline closes" in line.note
    assert "thickness not stated" in line.note
    assert math.isnan(line.length)
    assert line.cut_length == 0.0


def test_the_other_hand_is_named() -> None:
    part = plate("P1", NO_HOLES)
    right = replace(part, mark="P1R", hand="R")
    left = replace(part, mark="P1L", hand="L")
    notes = [line.note for line in plate_lines(body(right, left))]
    assert notes[0] == ""
    assert "mirrored" in notes[1]


def test_holes_are_counted_once() -> None:
    part = plate("P1", row_of_holes(7))
    (line,) = plate_lines(body(part))
    assert line.holes == 7
    assert np.isclose(line.cut_length, 6000.0 + 7 * math.pi * 11.0)
