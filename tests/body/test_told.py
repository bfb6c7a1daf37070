"""What is told of causes: every single change that makes a kit close, what speaks for it, and its cure."""

from math import log10, pi
from pathlib import Path

import numpy as np
import pytest

from fabplan.model.finding import Finding
from fabplan.model.plan import Plan
from tests.body.plates import BEND, FLAT, FOLDED, INSIDE, along, draw, planned, plate

LINE = [20.0, 60.0, 100.0, 140.0, 195.0]


def cause(made: Plan) -> Finding:
    (told,) = [one for one in made.findings if one.check == "likely-cause"]
    return told


def on_two_walls(folder: Path, off: float) -> Plan:
    """Brackets F and G beside one another on one base, two walls over both; beyond F's fold all rows lie `off` out."""
    middle, upright, beside = FLAT + BEND / 2.0, FLAT + BEND + 30.0 - 10.0, np.array([0.0, 260.0])
    draw(folder / "base.dxf", (300.0, 500.0), {"A": along(100.0), "C": along(100.0) + beside}, {})
    for mark, out in (("F", off), ("G", 0.0)):
        rows = {"A": along(40.0), "B": along(upright + out), "E": along(upright + 70.0 + out)}
        draw(folder / f"{mark}.dxf", (FLAT + BEND + 130.0, 240.0), rows, {"FOLD 1": (middle, 0.0, middle, 240.0)})
    for mark, (one, other) in (("LOW", "BD"), ("HIGH", "EH")):
        draw(folder / f"{mark}.dxf", (50.0, 500.0), {one: along(25.0), other: along(25.0) + beside}, {})
    still = "fixed = [40, 120]"
    pieces = {
        "BASE": plate("base.dxf", 6),
        "F": plate("F.dxf", 4, still, FOLDED),
        "G": plate("G.dxf", 4, still, FOLDED),
        "LOW": plate("LOW.dxf", 5, INSIDE),
        "HIGH": plate("HIGH.dxf", 5, INSIDE),
    }
    return planned(
        folder,
        pieces,
        A=("F/A", "BASE/A"),
        B=("F/B", "LOW/B"),
        C=("G/A", "BASE/C"),
        D=("G/B", "LOW/D"),
        E=("F/E", "HIGH/E"),
        H=("G/E", "HIGH/H"),
    )


def nested(folder: Path, forgotten: float) -> Plan:
    """A folded plate of 6 mm inside one of 8 mm, drawn by DIN 6935; beyond its fold the inner one's row is out."""
    flat, row = 100.0, 60.0
    for mark, thickness, radius, out in (("O", 8.0, 16.0, 0.0), ("I", 6.0, 10.0, forgotten)):
        zone = pi / 2.0 * (radius + (0.65 + 0.5 * log10(radius / thickness)) * thickness / 2.0)
        rows = {
            "A": np.array([[flat - row, y] for y in LINE]),
            "B": np.array([[flat + zone + row + out, y] for y in LINE]),
        }
        middle = flat + zone / 2.0
        draw(folder / f"{mark}.dxf", (2.0 * flat + zone, 220.0), rows, {"FOLD 1": (middle, 0.0, middle, 220.0)})
    fold = 'folds = [{{ line = "FOLD 1", angle = 90, inside_radius = {} }}]'
    still = "fixed = [20, 100]"
    pieces = {
        "O": plate("O.dxf", 8, still, INSIDE, fold.format(16)),
        "I": plate("I.dxf", 6, still, INSIDE, fold.format(10)),
    }
    return planned(folder, pieces, A=("I/A", "O/A"), B=("I/B", "O/B"))


def test_a_thickness_forgotten_at_a_corner_is_named_with_its_figure(tmp_path: Path) -> None:
    """Corner drift of 6 on 8 mm through 90 degrees: pi / 2 x (6 + 8) / 2 = 11.0 mm (geometry of the middles)."""
    told = cause(nested(tmp_path, 11.0))
    assert "(1) thickness forgotten: row B of I lies 11.00 mm" in told.what
    assert "the corner of 90 degrees of 6 on 8 mm, angle x (t1 + t2) / 2 = 11.0 mm" in told.what


@pytest.mark.parametrize("off", [2.0, 5.0])
def test_another_drift_at_a_corner_is_a_bend_allowance(tmp_path: Path, off: float) -> None:
    assert "(1) bend allowance: row B of I" in cause(nested(tmp_path, off)).what


def test_every_change_that_cures_is_told_with_its_cure(tmp_path: Path) -> None:
    """A row may be moved on either plate, by as much in its own axes: both are told, and what speaks for each."""
    told = cause(nested(tmp_path, 11.0))
    assert "(1) thickness forgotten: row B of I" in told.what
    assert "(2) thickness forgotten: row B of O" in told.what
    assert told.what.count("odd size") >= 2
    assert "(1) Move it by -11.00 mm along x and +0.00 mm along y" in told.mend
    assert "(2) Move it by +11.00 mm along x and +0.00 mm along y" in told.mend


def test_a_bend_allowance_is_named_where_most_seams_lie_beyond_the_fold(tmp_path: Path) -> None:
    """Two walls hang beyond F's fold and one base before it; both rows were drawn 2 mm too far out."""
    told = cause(on_two_walls(tmp_path, 2.0))
    assert "(1) bend allowance: rows B, E of F lie 2.00 mm from where the mates want them" in told.what
    assert "(1) Move what lies beyond the fold by -2.00 mm along x" in told.mend


def test_brackets_on_two_walls_without_a_mistake_have_no_cause(tmp_path: Path) -> None:
    made = on_two_walls(tmp_path, 0.0)
    assert made.stacks is not None
    assert made.stacks.misfit.max() < 1e-3
    assert [one for one in made.findings if one.check == "likely-cause"] == []


def test_a_piece_that_cannot_be_formed_has_no_likely_unit(tmp_path: Path) -> None:
    """An inside radius of 0.7 mm in 4 mm plate cannot be formed in any unit of its drawing (r / s under 0.2)."""
    draw(tmp_path / "C.dxf", (110.0, 150.0), {}, {"FOLD 1": (50.0, 0.0, 50.0, 150.0)})
    sharp = plate("C.dxf", 4, 'folds = [{ line = "FOLD 1", angle = 90, inside_radius = 0.7 }]')
    checks = [one.check for one in planned(tmp_path, {"C": sharp}).findings]
    assert "cannot-form" in checks
    assert "likely-cause" not in checks
