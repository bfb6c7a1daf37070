"""What cannot be set out is refused in a sentence, nothing is written over, and the job file's own faults are told."""

import json
from pathlib import Path
from typing import Any

import ezdxf.filemanagement
import numpy as np
import pytest
from click.testing import CliRunner

from fabplan.cli import root
from fabplan.errors import FabplanError, JobError, OutputError, SetoutError
from fabplan.job.read import read_job
from fabplan.way.setout import set_out
from tests.kits.build import Frame, Kit, Plate, rectangle
from tests.setout.made import X, Y, lapped, write
from tests.setout.strip import ROOT, stripped

A = '[[setout]]\nseam = "A"\n'
LAP = ROOT / "examples" / "first-lap" / "job.toml"


def refused(kit: Kit, folder: Path, more: str = A) -> str:
    done = set_out(write(kit, folder / "job", more), folder / "out")
    assert done.laid == ()
    assert done.written == ()
    assert not (folder / "out").exists()
    (one,) = done.not_laid
    assert one.mend
    return one.what


STATED = [
    ("pitch = 50", "pitch of 50 mm breaks the limits: greatest the smaller of 4.5 d and 1.31 t + 41.3 mm = 45"),
    ("pitch = 20", "the stated pitch of 20 mm breaks the limits: least 3 d = 30 mm"),
    ("end_distance = 10", "an end distance of 10 mm cannot be: least 1.2 d0 = 13.2 mm"),
    ("end_distance = [20, 90]", "an end distance of 90 mm cannot be: greatest 4 t + 40 mm = 64 mm"),
    ("rows = 2\nback_pitch = 20", "rows 20 mm apart break the limits: least 2.4 d0 = 26.4 mm"),
    ("rows = 2", "no hole can be along the line: the edge of P2 is too near"),
    ('on = "P1"\nfrom = [10, 180]\nto = [380, 180]', "the first hole as stated cannot be: the edge of P2 is too near"),
    ('on = "P1"\nfrom = [20, 100]\nto = [380, 100]', "no hole can be along the line: P2 has no metal there"),
    ('on = "P1"\nfrom = [20, 180]\nto = [40, 180]', "too short for two holes 30 mm apart"),
    ('on = "P1"\ncircle = { centre = [200, 180], radius = 60 }', "the circle cannot be closed"),
    ('on = "P1"\nfrom = [20, 180]\nto = [380e9, 180]', "180 lies far off P1, which reaches from 0, 0 to 400, 200"),
    ('on = "P1"\nfrom = [20, 180, 0]\nto = [380e9, 180, 0]', "180 lies far off P1"),
    ('on = "P1"\ncircle = { centre = [200, 100], radius = 6e6 }', "lies far off P1"),
]  # fmt: skip


@pytest.mark.parametrize(("keys", "words"), STATED)
def test_stated_figures_that_break_a_limit_are_named(keys: str, words: str, tmp_path: Path) -> None:
    """10 mm rivets in 11 mm holes, plates of 6 mm, tight; the figures are those of the tables in `test_lay`."""
    assert words in refused(lapped(400.0, 40.0, 6.0, tight=True), tmp_path, f"{A}{keys}\n")


def test_zigzag_rows_too_near_on_the_slant_are_refused(tmp_path: Path) -> None:
    """Half of 30 mm along and 15 mm across are 21.2 mm; EN 1993-1-8, Table 3.3: 2.4 d0 = 26.4 mm on the slant."""
    stated = f"{A}rows = 2\nzigzag = true\nback_pitch = 15\npitch = 30\n"
    assert "spaces of 30 mm break the limits: slant least 2.4 d0 = 26.4" in refused(
        lapped(400.0, 60.0, 6.0), tmp_path, stated
    )


def test_pieces_that_nothing_holds_or_that_do_not_touch(tmp_path: Path) -> None:
    done = set_out(stripped(LAP, tmp_path / "bare", ["A"], A), tmp_path / "out")
    assert "P2 is not placed: no seam holds it" in done.not_laid[0].what
    apart = lapped(400.0, 40.0, 6.0)
    upper = Plate("P2", Frame((0.0, 160.0, 9.0), X, Y), rectangle(400.0, 200.0), 6.0)
    assert "do not lie on one another" in refused(Kit([apart.pieces[0], upper], apart.seams, apart.job), tmp_path)


def test_rivets_too_thick_for_thin_plate_that_must_be_tight(tmp_path: Path) -> None:
    """16 mm in 2 mm plate: 3 d = 48 mm, and no more than 14 t = 28 mm: nothing keeps both."""
    assert "no pitch keeps the limits: least 3 d = 48 mm" in refused(
        lapped(400.0, 60.0, 2.0, 16.0, tight=True), tmp_path
    )


def test_a_drawing_without_roles_or_damaged(tmp_path: Path) -> None:
    job = write(lapped(400.0, 40.0, 6.0), tmp_path / "job", A)
    document: Any = ezdxf.filemanagement.readfile(tmp_path / "job" / "P1.dxf")
    for entity in document.modelspace():
        entity.dxf.layer = "0"
    document.saveas(tmp_path / "job" / "P1.dxf")
    (one,) = set_out(job, tmp_path / "out").not_laid
    assert "no layer of P1.dxf has a role" in one.what
    assert '"0" = "CUT"' in one.mend
    job.write_text(job.read_text("utf-8") + '\n[layers]\n"0" = "CUT"\n', "utf-8")
    assert set_out(job, tmp_path / "out").not_laid == ()  # the notes on layer 0 are lines to be cut now, and told
    (tmp_path / "job" / "P2.dxf").write_bytes((tmp_path / "job" / "P2.dxf").read_bytes()[:-2000])
    (one,) = set_out(job, tmp_path / "more").not_laid
    assert "P2.dxf is damaged" in one.what


def test_nothing_is_written_over_unless_it_is_asked_for(tmp_path: Path) -> None:
    job = write(lapped(400.0, 40.0, 6.0), tmp_path / "job", A)
    out = tmp_path / "out"
    set_out(job, out)
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    with pytest.raises(OutputError, match="is already there"):
        set_out(job, out)
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before
    set_out(job, out, replaced=True)
    for folder in (job.parent, job.parent / "."):
        with pytest.raises(OutputError, match="stay as they are"):
            set_out(job, folder, replaced=True)


def test_exit_status_and_one_sentence(tmp_path: Path) -> None:
    """0 laid, 1 not laid, 2 could not run."""
    job = write(lapped(400.0, 40.0, 6.0, tight=True), tmp_path / "job", f"{A}pitch = 50\n")
    done = CliRunner().invoke(root, ["setout", str(job)], standalone_mode=False)
    assert (done.return_value, done.stdout.startswith("NOT LAID  seam A: the stated pitch")) == (1, True)
    with pytest.raises(FabplanError, match=r"names no seam to set out. Add a \[\[setout\]\]"):
        set_out(LAP)


def test_set_out_again_it_is_left_as_it_is(tmp_path: Path) -> None:
    job = write(lapped(400.0, 40.0, 6.0), tmp_path / "job", A)
    set_out(job, tmp_path / "out")
    again = set_out(tmp_path / "out" / "job.toml", tmp_path / "twice")
    assert any("there already in every ply" in words for words in again.laid[0].why)
    for name in ("P1.dxf", "P2.dxf"):
        assert (tmp_path / "twice" / name).read_bytes() == (tmp_path / "out" / name).read_bytes()


def test_a_layer_that_is_not_seen_takes_no_holes(tmp_path: Path) -> None:
    """They would be passed over with it when they are read back, and cut by nobody."""
    job = write(lapped(400.0, 40.0, 6.0), tmp_path / "job", A)
    drawing: Any = ezdxf.filemanagement.readfile(tmp_path / "job" / "P1.dxf")
    drawing.layers.add("RIVET A").off()
    drawing.saveas(tmp_path / "job" / "P1.dxf")
    with pytest.raises(SetoutError, match=r"layer RIVET A of P1\.dxf is off or frozen"):
        set_out(job, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_rows_taken_by_numbers_forms_and_folders_are_told(tmp_path: Path) -> None:
    job = write(lapped(400.0, 40.0, 6.0), tmp_path / "job", A)
    text = job.read_text("utf-8")
    job.write_text(text.replace('rivet = "R10"', 'rivet = "R10"\nholes = ["1-5", "all"]'), "utf-8")
    assert "a row is laid whole" in set_out(job, tmp_path / "out").not_laid[0].what
    job.write_text(text, "utf-8")
    bare: Any = ezdxf.filemanagement.readfile(tmp_path / "job" / "P1.dxf")
    for one in bare.modelspace().query("LWPOLYLINE"):
        one.closed = False
    bare.saveas(tmp_path / "job" / "P1.dxf")
    assert set_out(job, tmp_path / "out").not_laid[0].what == "P1 is of no known form: no outline of P1.dxf closes"
    with pytest.raises(FabplanError, match="is a folder"):
        set_out(tmp_path / "job")


FAULTS = [
    ('seam = "A"\non = "P1"\nfrom = [1, 2]\nto = [1, 2]', "another than the one before it"),
    ('seam = "B"', '"B"'),
    ('seam = "A"\non = "P9"', '"P9" is no piece of the job'),
    ('seam = "A"\non = "P1/a"', 'P1 has no leg "a"'),
    ('seam = "A"\non = "P1"\nback_mark = 20', "P1 is a plate and has no back mark"),
    ('seam = "A"\nfrom = [1, 2]', "`from` and `to`"),
    ('seam = "A"\nfrom = [1, 2]\nto = [3, 4]', "`on`, the piece"),
    ('seam = "A"\non = "P1"\nfrom = [1, 2]\nto = [3, 4, 5]', "two figures"),
    ('seam = "A"\non = "P1"\nfrom = [1]\nto = [3, 4]', "at least 2 entries"),
    ('seam = "A"\nrows = 9', "at most 4"),
    ('seam = "A"\nzigzag = true', "`rows` of 2 or more"),
    ('seam = "A"\nend_distance = -1', "more than 0"),
    ('seam = "A"\nmirror = { seam = "A", axis = "y", at = 0 }', "mirrored in itself"),
    ('seam = "A"\nmirror = { seam = "A", axis = "w", at = 0 }', "Expected"),
    ('seam = "A"\npich = 30', "Nearest: pitch"),
]


@pytest.mark.parametrize(("keys", "words"), FAULTS)
def test_faults_of_the_table_are_told_with_their_place(keys: str, words: str, tmp_path: Path) -> None:
    job = write(lapped(400.0, 40.0, 6.0), tmp_path, f"[[setout]]\n{keys}\n")
    with pytest.raises(JobError) as told:
        read_job(job)
    assert any("[[setout]] 1" in str(fault) and words in str(fault) for fault in told.value.faults), told.value.faults


def test_a_seam_set_out_twice(tmp_path: Path) -> None:
    with pytest.raises(JobError, match="set out twice"):
        read_job(write(lapped(400.0, 40.0, 6.0), tmp_path, A + A))


def test_a_bar_without_its_row_is_told_as_a_drawing_is(tmp_path: Path) -> None:
    """Before it is set out, `check` says which row is missing; without a [[setout]] the job file itself is at fault."""
    more = '[[place]]\npart = "C1"\norigin = [0, 0, 42]\nx = [0, 0, 1]\ny = [1, 0, 0]\n'
    bowser = ROOT / "examples" / "bowser" / "job.toml"
    with pytest.raises(JobError, match='C1 has no row "Kws"'):
        read_job(stripped(bowser, tmp_path / "one", ["Kws"], more))
    job = read_job(stripped(bowser, tmp_path / "two", ["Kws"], more + '[[setout]]\nseam = "Kws"\n'))
    assert [one.seam for one in job.setouts] == ["Kws"]


def test_the_record_for_machines(tmp_path: Path) -> None:
    job = write(lapped(400.0, 40.0, 6.0, tight=True), tmp_path / "job", A)
    told = json.loads(CliRunner().invoke(root, ["setout", str(job), "--json"]).stdout)
    (seam,) = told["laid"]
    assert (seam["rivets"], seam["spaces"], seam["ends"]) == (10, [{"count": 9, "pitch": 40.0}], [20.0, 20.0])
    assert told["read_back"] == [{"seam": "A", "rivets": 10, "apart": 0.0}]
    assert np.array(seam["plies"][1]["xy"])[:, 0] == pytest.approx(20.0 + 40.0 * np.arange(10))
    assert {one["source"].split(":")[0] for one in seam["limits"]} == {
        "EN 1993-1-8",
        "Tight-seam practice",
        "Works practice",
    }
