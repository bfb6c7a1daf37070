"""Least inside radii against EN 10025-2's own table, and formed sizes against ISO 2768-1."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fabplan.geom.profile import rectangle
from fabplan.model.bends import FoldSpec, RollSpec
from fabplan.model.drawing import Drawing, Line
from fabplan.model.finding import Finding, Level
from fabplan.model.forming import FormingRecord
from fabplan.model.job import Job, PartSpec
from fabplan.rules.bends import check_bends, check_formed_sizes
from fabplan.rules.tables import read_tables

LINE = Line("FOLD 1", np.array([[0.0, 100.0], [400.0, 100.0]]), "F")
DRAWING = Drawing("p.dxf", outline=rectangle(0.0, 0.0, 400.0, 200.0), folds=(LINE,))


def found(thickness: float, radius: float, grade: str, grain: str = "", angle: float = 90.0) -> list[Finding]:
    spec = PartSpec("P", grade=grade, grain=grain, folds=(FoldSpec("fold_1", angle, radius),))
    return list(check_bends(DRAWING, spec, thickness))


# EN 10025-2, flanging radii: thickness, grade, radius across the rolling direction, along it
@pytest.mark.parametrize(
    ("t", "grade", "across", "along"),
    [
        (3.0, "S235", 3.0, 3.0),
        (4.0, "S235JRC", 5.0, 6.0),
        (6.0, "S275", 10.0, 12.0),
        (6.001, "S275JR", 12.0, 16.0),
        (8.0, "S355J2C+N", 16.0, 20.0),
        (20.0, "S355", 50.0, 63.0),
        (30.0, "S355", 80.0, 90.0),
    ],
)
def test_least_radii(t: float, grade: str, across: float, along: float) -> None:
    """The fold lies along x: along the grain where that is x or not stated, across it where it is y."""
    for grain, least in (("y", across), ("x", along), ("", along)):
        assert found(t, least, grade, grain) == []
        (told,) = found(t, least - 2e-6, grade, grain)
        assert (told.check, told.level, told.required) == ("tight-bend", Level.QUERY, least)
        assert told.where.handles == ("F",)


def test_without_a_grade_the_hardest_to_bend_is_taken_and_said() -> None:
    (told,) = found(4.0, 7.0, "")  # S355 wants 8 along the grain, S275 and S235 6
    assert "S355 taken" in told.source


def test_a_slanting_fold_counts_as_along_the_grain() -> None:
    slant = replace(DRAWING, folds=(Line("FOLD 1", np.array([[0.0, 100.0], [400.0, 150.0]])),))
    spec = PartSpec("P", grade="S355", grain="y", folds=(FoldSpec("FOLD 1", 90.0, 10.0),))
    assert list(check_bends(DRAWING, spec, 6.0)) == []
    assert [one.required for one in check_bends(slant, spec, 6.0)] == [12.0]


def test_beyond_the_table_one_asks() -> None:
    """The table ends at 90 degrees and at 30 mm."""
    assert [one.level for one in found(6.0, 12.0, "S355", angle=-91.0)] == [Level.NOTE]
    assert [one.level for one in found(6.0, 11.0, "S355", angle=91.0)] == [Level.QUERY]
    assert [one.level for one in found(31.0, 200.0, "S355")] == [Level.NOTE]
    assert found(6.0, np.nan, "S355") != []


def test_rolls_of_ten_thicknesses() -> None:
    for radius, faulty in ((60.0, False), (-60.0, False), (59.9, True), (-59.9, True)):
        spec = PartSpec("P", rolls=(RollSpec("", "", radius, "x"),))
        assert bool(list(check_bends(DRAWING, spec, 6.0))) == faulty


# ISO 2768-1, class m: 0.3 to 120 mm, 0.5 to 400, 0.8 to 1000, 1.2 to 2000
@pytest.mark.parametrize(
    ("length", "tolerance"), [(120.0, 0.3), (120.1, 0.5), (400.0, 0.5), (999.0, 0.8), (1500.0, 1.2)]
)
def test_formed_sizes(length: float, tolerance: float) -> None:
    spec = PartSpec("P", formed_size=(length, 100.0, 50.0))
    job = Job(Path("job.toml"), Path(), parts=(spec,))
    for off, faulty in ((tolerance, False), (-tolerance, False), (tolerance + 0.01, True), (np.nan, True)):
        record = FormingRecord("P", 6.0, (), (length + off, 100.0, 50.0))
        told = list(check_formed_sizes(job, (record,), read_tables()))
        assert [one.check for one in told] == ["formed-size-differs"] * faulty
