"""Three plates that meet at a corner: the middle one's corner is drawn down, its rivet gets its true length."""

from pathlib import Path

import numpy as np
import pytest
import shapely

from fabplan.errors import JobError
from fabplan.geom.profile import rectangle
from fabplan.geom.taper import thickness_at
from fabplan.job.read import read_job
from fabplan.model.panel import Panel, Taper
from fabplan.model.plan import Plan
from fabplan.way.plan import plan
from tests.body.plates import draw, planned, plate

TAPER = 'tapers = [{ from = [60, 0], to = [60, 400], edge = 1.5, face = "marked" }]'
ROW = np.array([20.0, 60.0, 100.0, 150.0, 200.0, 240.0])


def corner(folder: Path, form: str = "") -> Plan:
    """A base plate; Q laps onto its right edge; R laps onto it below Q, and over Q's first 40 mm in the corner.

    Q is 200 mm wide from x = 300, its rows at 30 and 100 mm; R lies at the same level from x = 100 to 340 so that both
    run into one another over 40 mm, where one common rivet K goes through all three.
    """
    place = '[[place]]\npart = "{}"\norigin = [{}, {}, 6]\nx = [1, 0, 0]\ny = [0, 1, 0]\n'
    common = np.array([[320.0, 30.0]])
    q = np.array([[400.0, y] for y in ROW])
    r = np.array([[x, 30.0] for x in (120.0, 150.0, 200.0, 240.0)])
    draw(folder / "P.dxf", (600.0, 400.0), {"A": q, "B": r, "K": common}, {})
    draw(folder / "Q.dxf", (200.0, 300.0), {"A": q - [300.0, 0.0], "K": common - [300.0, 0.0]}, {})
    draw(folder / "R.dxf", (240.0, 60.0), {"B": r - [100.0, 0.0], "K": common - [100.0, 0.0]}, {})
    pieces = {"P": plate("P.dxf", 6), "Q": plate("Q.dxf", 6, form), "R": plate("R.dxf", 6)}
    more = place.format("Q", 300, 0) + place.format("R", 100, 0)
    return planned(folder, pieces, more, A=("P/A", "Q/A"), B=("P/B", "R/B"), K=("P/K", "Q/K", "R/K"))


def test_two_plates_at_one_level_clash_where_none_is_thinned(tmp_path: Path) -> None:
    assert {"plates-clash", "plies-apart"} & {finding.check for finding in corner(tmp_path).findings}


def test_a_thinned_corner_lets_a_third_plate_pass_and_counts_in_the_grip(tmp_path: Path) -> None:
    """Q falls from 6 mm at 60 to 1.5 at its edge; the hole at 20 mm stands at two thirds: 6 - 2/3 x 4.5 = 3 mm."""
    made = corner(tmp_path, TAPER)
    assert {finding.check for finding in made.findings if finding.blocks} == set()
    assert made.stacks is not None
    of = {number: k for k, number in enumerate(made.stacks.number)}
    common = of["K 1"]
    assert made.stacks.first[common + 1] - made.stacks.first[common] == 3
    assert made.stacks.grip[common] == pytest.approx(6.0 + 3.0 + 6.0)
    assert made.stacks.grip[of["A 1"]] == pytest.approx(12.0)
    assert made.supply is not None
    assert "thinned to 1.5 mm" in next(line.note for line in made.supply.plates if line.mark == "Q")


@pytest.mark.parametrize("listed", ["QR", "RQ"])
@pytest.mark.parametrize("face", ["marked", "other"])
def test_a_plate_passes_on_the_face_that_is_drawn_down(tmp_path: Path, face: str, listed: str) -> None:
    """Q lies on P with its back: a plate over Q passes its marked face, one between P and Q its other face."""
    corner(tmp_path, TAPER.replace("marked", face))
    text = (tmp_path / "job.toml").read_text("utf-8")
    plies = ", ".join(f'"{mark}/K"' for mark in ("P", *listed))
    (tmp_path / "job.toml").write_text(text.replace('"P/K", "Q/K", "R/K"', plies), "utf-8")
    made = plan(tmp_path / "job.toml")
    right = (face == "marked") == (listed == "QR")
    assert [one.where.part for one in made.findings if one.check == "taper-side"] == ([] if right else ["Q"])


@pytest.mark.parametrize(("foot", "fouls"), [(0.7, True), (6.5, False)])
def test_what_stands_across_a_thinned_place_meets_the_metal_left(tmp_path: Path, foot: float, fouls: bool) -> None:
    """A flange of S stands upright over Q's corner: 1.5 mm of Q are left on its back, z 0 to 1.5."""
    corner(tmp_path, TAPER)
    draw(tmp_path / "S.dxf", (30.0, 40.0), {}, {})
    text = (tmp_path / "job.toml").read_text("utf-8")
    place = f'[[place]]\npart = "S"\norigin = [310, 170, {foot}]\nx = [1, 0, 0]\ny = [0, 0, 1]\n'
    text += f'[[part]]\nmark = "S"\n{plate("S.dxf", 5)}\n' + place
    (tmp_path / "job.toml").write_text(text, "utf-8")
    made = plan(tmp_path / "job.toml")
    clashing = [one.what for one in made.findings if one.check == "plates-clash" and "S" in one.where.part]
    assert bool(clashing) is fouls


def test_a_taper_through_the_middle_is_told(tmp_path: Path) -> None:
    """Q is 200 mm wide: a line at 100 mm leaves as much metal on either side."""
    made = corner(tmp_path, TAPER.replace("60,", "100,"))
    told = [finding for finding in made.findings if finding.check == "cannot-form"]
    assert [finding.where.part for finding in told] == ["Q"]
    assert "halves" in told[0].what


@pytest.mark.parametrize("seed", range(3))
def test_thickness_falls_with_the_distance_from_the_line(seed: int) -> None:
    """Against shapely's distances from the line, in a corner cut off askew."""
    rng = np.random.default_rng(seed)
    line = ((0.0, float(rng.uniform(60.0, 140.0))), (float(rng.uniform(60.0, 140.0)), 0.0))
    panel = Panel("flat", rectangle(0.0, 0.0, 400.0, 300.0), 8.0, tapers=(Taper(line, 2.0, from_marked=True),))
    xy = rng.uniform(0.0, 300.0, (50, 2))
    cut = shapely.LineString(line)
    corner = shapely.Polygon([(0.0, 0.0), *line])
    far = shapely.Point(0.0, 0.0).distance(cut)
    inside = [shapely.Point(place).within(corner) for place in xy]
    expected = [8.0 - 6.0 * shapely.Point(place).distance(cut) / far if own else 8.0
                for place, own in zip(xy, inside, strict=True)]  # fmt: skip
    assert thickness_at(panel, xy) == pytest.approx(np.array(expected), abs=1e-9)


@pytest.mark.parametrize(
    ("lines", "fault"),
    [
        ('drawing = "P.dxf"\nthickness = 6\ntapers = [{ from = [0, 0], to = [0, 0], edge = 2 }]', "two unlike points"),
        ('drawing = "P.dxf"\nthickness = 6\ntapers = [{ from = [0, 0], to = [0, 9], edge = 6 }]', "an edge as thick"),
        ('section = "FL50x6"\nlength = 90\ntapers = [{ from = [0, 0], to = [0, 9], edge = 2 }]', "no flat plate"),
    ],
)
def test_faults_of_thinned_plates(tmp_path: Path, lines: str, fault: str) -> None:
    (tmp_path / "P.dxf").touch()
    (tmp_path / "job.toml").write_text(f'[job]\n[[part]]\nmark = "P"\n{lines}\n', "utf-8")
    with pytest.raises(JobError) as caught:
        read_job(tmp_path / "job.toml")
    assert any(fault in str(one) for one in caught.value.faults)


@pytest.mark.parametrize("x", [400, 0])
def test_a_taper_that_misses_its_plate_is_told(tmp_path: Path, x: int) -> None:
    """Q is 200 mm wide: a line at 400 mm, or along its edge, parts nothing off."""
    made = corner(tmp_path, f"tapers = [{{ from = [{x}, 0], to = [{x}, 400], edge = 1.5 }}]")
    told = [finding for finding in made.findings if finding.check == "cannot-form"]
    assert [finding.where.part for finding in told] == ["Q"]
