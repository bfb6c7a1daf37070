"""Whole cases: holes of a seam taken out of a demo and set out again; what is written is checked and planned clean."""

import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import ezdxf.filemanagement
import numpy as np
import pytest
from click.testing import CliRunner

from fabplan.cli import root
from fabplan.model.finding import Level
from fabplan.model.plan import Plan
from fabplan.way.plan import plan
from fabplan.way.setout import SetOut, set_out
from tests.setout.strip import ROOT, circles, stripped

EXAMPLES = ROOT / "examples"
P2 = '[[place]]\npart = "P2"\norigin = [0, 160, 6]\nx = [1, 0, 0]\ny = [0, 1, 0]\n'
C1 = '[[place]]\npart = "C1"\norigin = [0, 0, 42]\nx = [0, 0, 1]\ny = [1, 0, 0]\n'
A = '[[setout]]\nseam = "A"\n'


def lap(folder: Path, more: str = A, place: str = P2) -> Path:
    return stripped(EXAMPLES / "first-lap" / "job.toml", folder, ["A"], place + more)


def close(done: SetOut) -> None:
    """Everything laid, all plies within a millionth of a millimetre, nothing found."""
    assert done.not_laid == ()
    assert [one.rivets for one in done.proofs] == [one.count for one in done.laid]
    assert max(one.apart for one in done.proofs) <= 1e-6
    assert [one for one in done.findings if one.level is not Level.NOTE] == []


def test_the_first_lap(tmp_path: Path) -> None:
    """400 mm of lap, tight, 10 mm rivets: 4 d = 40 mm (Dunn), 9 spaces, 20 mm = 2 d at either end (Waddell).

    The lap is 40 mm wide: the row runs in its middle, y = 180 on P1 and 20 on P2, both of which it puts at z = 0.
    """
    job = lap(tmp_path / "job")
    done = CliRunner().invoke(root, ["setout", str(job), "--json"])
    told = json.loads(done.stdout)
    assert (done.exit_code, told["findings"], told["not_laid"]) == (0, [], [])
    x = 20.0 + 40.0 * np.arange(10)
    for name, y in (("P1", 180.0), ("P2", 20.0)):
        found = circles(tmp_path / "job" / "setout" / f"{name}.dxf", "RIVET A")
        assert found == pytest.approx(np.column_stack([x, np.full(10, y), np.full(10, 11.0)]), abs=1e-9)
    assert CliRunner().invoke(root, ["check", str(tmp_path / "job" / "setout" / "job.toml")]).exit_code == 0


def test_the_first_lap_plans_without_a_finding(tmp_path: Path) -> None:
    close(set_out(lap(tmp_path), tmp_path / "out"))
    made = plan(tmp_path / "out" / "job.toml")
    assert made.findings == ()
    assert made.stacks is not None
    assert len(made.stacks) == 10
    assert made.stacks.misfit.max() <= 1e-6


def test_all_that_was_drawn_is_still_there(tmp_path: Path) -> None:
    """By ezdxf: each entity with its handle, kind, layer and figures; the old drawing byte for byte."""
    job = lap(tmp_path / "job")
    before = {name: (tmp_path / "job" / name).read_bytes() for name in ("P1.dxf", "P2.dxf", "job.toml")}
    set_out(job)
    for name in ("P1.dxf", "P2.dxf"):
        old: Any = ezdxf.filemanagement.readfile(tmp_path / "job" / name)
        new: Any = ezdxf.filemanagement.readfile(tmp_path / "job" / "setout" / name)
        for entity in old.modelspace():
            other = new.entitydb[entity.dxf.handle]
            kept = {key: value for key, value in entity.dxfattribs().items() if key != "owner"}
            assert {key: other.dxfattribs()[key] for key in kept} == kept
        more = len(new.modelspace()) - len(old.modelspace())
        assert more == 10 + 2 + 1  # holes, witness lines, letter
    assert {name: (tmp_path / "job" / name).read_bytes() for name in before} == before


def test_letter_and_witness_lines_are_marked_not_cut(tmp_path: Path) -> None:
    """On the layer MARK: the seam's letter, and a line along the row off either end hole, clear of hole and edge."""
    set_out(lap(tmp_path), tmp_path / "out")
    space: Any = ezdxf.filemanagement.readfile(tmp_path / "out" / "P1.dxf").modelspace()
    marked = [one for one in space if one.dxf.layer == "MARK"]
    assert sorted(one.dxftype() for one in marked) == ["LINE", "LINE", "TEXT"]
    assert next(one.dxf.text for one in marked if one.dxftype() == "TEXT") == "A"
    lines = sorted((one.dxf.start.x, one.dxf.end.x) for one in marked if one.dxftype() == "LINE")
    for (start, end), hole in zip(lines, (20.0, 380.0), strict=True):
        assert min(abs(start - hole), abs(end - hole)) >= 5.5 + 2.0 - 1e-6
        assert min(start, end) >= 2.0 - 1e-6
        assert max(start, end) <= 398.0 + 1e-6


def test_a_corner_of_the_bowser(tmp_path: Path, bowser_plan: Plan) -> None:
    """Both seams of the upright angle in one corner: its two legs, on a side and on an end plate, tight.

    EN 1993-1-8, Table 3.3, d0 11, t 6: 24.2 to 84 mm; 4.5 d = 45 mm for tightness; e 13.2, for caulking 1.5 d = 15.
    """
    more = C1 + '[[setout]]\nseam = "Kws"\n\n[[setout]]\nseam = "Lws"\npitch = 36\n'
    job = stripped(EXAMPLES / "bowser" / "job.toml", tmp_path / "job", ["Kws", "Lws"], more)
    done = set_out(job)
    close(done)
    assert [one.count for one in done.laid] == [26, 28]
    for one in done.laid:
        (count, pitch), *rest = one.spaces
        assert (rest, 30.0 <= pitch <= 45.0, count) == ([], True, one.count - 1)
        assert 15.0 <= min(one.ends) <= max(one.ends) <= 64.0
    for name, row, back in (("S1", "Kws", 22.0 + 6.0), ("E1", "Lws", 1200.0 - 22.0)):  # S1 runs 6 mm past the floor
        found = circles(tmp_path / "job" / "setout" / f"{name}.dxf", f"RIVET {row}")
        assert found[:, 0] == pytest.approx(np.full(len(found), back))
        assert found[:, 2] == pytest.approx(np.full(len(found), 11.0))
    made = plan(tmp_path / "job" / "setout" / "job.toml")
    known = {(one.check, one.level, one.where.part) for one in bowser_plan.findings}
    assert {(one.check, one.level, one.where.part) for one in made.findings} <= known


def test_a_seam_of_the_other_side_is_the_mirror_image(tmp_path: Path) -> None:
    """Bn is Bs in the middle plane of the tank, y = 600: A1R and A1L are one bar, drawn once."""
    more = '[[setout]]\nseam = "Bs"\n\n[[setout]]\nseam = "Bn"\nmirror = { seam = "Bs", axis = "y", at = 600 }\n'
    job = stripped(EXAMPLES / "bowser" / "job.toml", tmp_path / "job", ["Bs", "Bn"], more)
    done = set_out(job)
    assert [one.what for one in done.not_laid] == []
    near, far = (one.plies[1].point for one in done.laid)
    assert np.sort(near[:, 0]) == pytest.approx(np.sort(2400.0 - far[:, 0])) or np.sort(near[:, 0]) == pytest.approx(
        np.sort(far[:, 0])
    )
    assert near[:, 1] + far[:, 1] == pytest.approx(np.full(len(near), 1200.0))


def test_equal_spaces_on_every_ply(tmp_path: Path) -> None:
    done = set_out(lap(tmp_path), tmp_path / "out")
    for ply in done.laid[0].plies:
        spaces = [float(np.linalg.norm(b - a)) for a, b in pairwise(ply.xy)]
        assert spaces == pytest.approx([40.0] * 9)


def test_the_same_job_gives_the_same_bytes(tmp_path: Path) -> None:
    job = lap(tmp_path / "job")
    one, other = (set_out(job, tmp_path / name) for name in ("one", "other"))
    assert one.written == other.written
    for name in one.written:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "other" / name).read_bytes()


def test_a_line_too_short_beside_another_row_names_that_row(tmp_path: Path) -> None:
    """D1 and D2 are two lines round one lap of the skip: in its middle, between them, the holes of D2 leave no room."""
    job = stripped(EXAMPLES / "skip" / "job.toml", tmp_path / "job", ["D1"], '[[setout]]\nseam = "D1"\n')
    (told,) = set_out(job, tmp_path / "out").not_laid
    assert "too short for two holes 30 mm apart beside what is in the way: a hole of B1, row D2" in told.what


def test_a_line_round_the_skip_beside_another(tmp_path: Path) -> None:
    """D1 where its end holes are stated; laid on B1 at r = 402.5 mm, BS beyond it at 407.5 has wider spaces.

    735 mm in 15 spaces of 49 on B1; on the blank of BS they are 49 * 407.5 / 402.5 = 49.61 mm.
    """
    more = '[[setout]]\nseam = "D1"\non = "B1"\nfrom = [1834, 149]\nto = [1834, 884]\n'
    job = stripped(EXAMPLES / "skip" / "job.toml", tmp_path / "job", ["D1"], more)
    done = set_out(job)
    assert (done.not_laid, done.findings) == ((), ())
    assert done.proofs[0].apart <= 0.002  # where its holes and those of D2 share a facet of the round
    (laid,) = done.laid
    spaces = {ply.instance: np.linalg.norm(np.diff(ply.xy, axis=0), axis=1) for ply in laid.plies}
    assert spaces["B1"] == pytest.approx([49.0] * 15, abs=1e-3)
    assert spaces["BS"] == pytest.approx([49.0 * 407.5 / 402.5] * 15, abs=0.01)
