"""A piece is judged alike by itself and beside a larger one in its file; the faults are those drawn in."""

from dataclasses import replace
from pathlib import Path

import pytest
from ezdxf.math import Matrix44

import tests.drawing.faults  # noqa: F401  fills both folders
from fabplan.drawing.find import find_drawings
from fabplan.job.read import read_job
from fabplan.model.finding import Level
from fabplan.rules.sets import rule_set_names
from fabplan.way.check import check_with_job
from fabplan.way.look import Wanted, look
from tests.drawing.plates import Draft
from tests.drawing.register import CLEAR, FAULTY, Fault, Folder, write

OWN_LINES = {
    "fold-cut", "near-fold", "short-flange", "tight-bend", "flat-end-row", "near-symmetric", "hand-not-told",
    "sheet-border", "thickness-differs", "thin-web", "narrow-slot", "sharp-corner", "least-pitch", "small-part",
}  # fmt: skip
BOTH = pytest.mark.parametrize("folder", [FAULTY, CLEAR], ids=["faulty", "clear"])


def beside_a_larger(fault: Fault) -> Fault:
    """The same piece left of a plate of 1.6 m2; its bevelled corner tells how that lies."""

    def draw() -> Draft:
        draft = fault.draw()
        draft.light([(3000.0, 0.0), (4000.0, 0.0), (4000.0, 1540.0), (3900.0, 1600.0), (3000.0, 1600.0)])
        if "pair" in fault.stated:
            draft.line((3100.0, 100.0), (3150.0, 100.0), "MARK")
        return draft

    return replace(fault, draw=draw)


@BOTH
@pytest.mark.parametrize("mirrored", [False, True])
def test_the_second_piece_of_a_file_is_judged_as_the_first(folder: Folder, mirrored: bool, tmp_path: Path) -> None:
    small = {name: beside_a_larger(one) for name, one in folder.kept.items() if one.check in OWN_LINES}
    move = Matrix44.scale(-1.0, 1.0, 1.0) if mirrored else None
    write(Folder(tmp_path, folder.title, small), tmp_path, move)
    got = {
        one.drawing.name: {found.check for found in one.findings if found.level != Level.NOTE}
        - {"more-than-one-profile"}
        for one in check_with_job(find_drawings(tmp_path), read_job(tmp_path / "job.toml", rule_set_names()))
    }
    assert got == {f"{name}.dxf": {one.check} if folder is FAULTY else set() for name, one in small.items()}
    assert {one.check for one in small.values()} == OWN_LINES


@pytest.mark.parametrize("apart", [-2.0, -60.0])
def test_cut_outs_that_cross_are_not_told_as_one_within_the_other(apart: float, tmp_path: Path) -> None:
    """Two openings of 70 x 70 and 60 x 50 mm whose edges cross: one fault, crossing lines."""
    draft = Draft()
    draft.light([(0.0, 0.0), (330.0, 0.0), (330.0, 180.0), (40.0, 210.0), (0.0, 210.0)])
    draft.light([(50.0, 50.0), (120.0, 50.0), (120.0, 120.0), (50.0, 120.0)])
    x = 120.0 + apart
    draft.light([(x, 60.0), (x + 63.0, 60.0), (x + 63.0, 110.0), (x, 110.0)])
    draft.doc.saveas(tmp_path / "plate.dxf")
    (one,) = look(Wanted(tmp_path / "plate.dxf")).checked
    assert {found.check for found in one.findings if found.level != Level.NOTE} == {"crossing-lines"}
