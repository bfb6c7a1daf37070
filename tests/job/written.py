"""A sound job file for the tests, and the faults of a changed one."""

from pathlib import Path

import pytest

from fabplan.errors import Fault, JobError
from fabplan.job.read import read_job
from fabplan.model.job import Job

RULES = ("en1993-1-8-2005", "is800-2007")

GOOD = """\
[job]
title = "Water cart, invented"
number = "B7"
revision = "A"
date = 2026-11-02
rules = "en1993-1-8-2005"
datum = "F1"
exposed = true

[[rivet]]
mark = "R10"
diameter = 10
hole = 11

[[part]]
mark = "F1"
drawing = "floor.dxf"
thickness = 6
grade = "S275"
supplier = "cutter"
size = [2400, 1200]
folds = [{ line = "FOLD 1", angle = 90, inside_radius = 10 }]

[[part]]
mark = "S1"
drawing = "side.dxf"
thickness = 5
hand = "pair"

[[part]]
mark = "A1"
section = "L50x50x6"
length = 2360
quantity = 2
rows = [
  { row = "floor", leg = "a", back_mark = 28, first = 20, last = 2340, count = 59, diameter = 11 },
  { row = "side", leg = "b", back_mark = 28, at = [20, 60.5, 140], diameter = 11, purpose = "bolt" },
]

[[seam]]
mark = "A"
parts = ["F1/left", "A1-1/floor"]
rivet = "R10"
tight = true

[[seam]]
mark = "side"
parts = ["A1-2", "S1R"]
rivet = "R10"

[[place]]
part = "S1L"
origin = [0, 0, 0]
x = [1, 0, 0]
y = [0, 0, 1]

[[supplier]]
name = "cutter"
limits_dated = 2026-03-01
smallest_hole = "1.0 t"
smallest_web = 3

[layers]
SCHNITT = "CUT"
BORD = "RIVET left"

[shop]
spares_percent = 10
tools = [{ name = "bar", use = "hold", nose_diameter = 26, nose_length = 40, body_diameter = 60, body_length = 250 }]
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with the drawings that the sound job names."""
    for name in ("floor.dxf", "side.dxf"):
        (tmp_path / name).write_text("", "utf-8")
    return tmp_path


def read(folder: Path, text: str) -> Job:
    path = folder / "job.toml"
    path.write_text(text, "utf-8")
    return read_job(path, RULES)


def faults(folder: Path, text: str) -> tuple[Fault, ...]:
    with pytest.raises(JobError) as caught:
        read(folder, text)
    return caught.value.faults


def changed(*changes: tuple[str, str]) -> str:
    text = GOOD
    for old, new in changes:
        assert text.count(old) >= 1, old
        text = text.replace(old, new, 1)
    return text
