"""Two fittings on one location: the chosen one is built and its spare holes plugged, the other is tried and clashes."""

from pathlib import Path

import numpy as np
import pytest

from fabplan.errors import JobError
from fabplan.model.finding import Level
from fabplan.model.plan import Plan
from fabplan.sheets.record import plan_record
from fabplan.way.plan import plan
from tests.kits.build import Angle, Frame, Keys, Kit, Piece, Plate, Seam, drilled, minus, rectangle
from tests.kits.draw import write_drawings
from tests.kits.job_file import job_text
from tests.kits.random_kits import STATED, X, Y, Z, odd_line

PATTERN = np.array([[60.0, 60.0], [100.0, 60.0], [150.0, 60.0], [60.0, 120.0], [125.0, 120.0], [150.0, 120.0]])
SPARE = np.array([[60.0, 160.0], [150.0, 160.0]])
SET = (
    '[[place]]\npart = "A1"\norigin = [240, 290, 0]\nx = [0, -1, 0]\ny = [1, 0, 0]\n\n'
    '[[place]]\npart = "V2"\norigin = [40, 40, 6]\nx = [1, 0, 0]\ny = [0, 1, 0]\n\n'
)
BOLT = '[[fastener]]\nmark = "M10"\nkind = "bolt"\ndiameter = 10\nhole = 11\n\n'
CHOSEN = ("small", "wide", "")
OPTIONS = 'options = [{ mark = "small", parts = ["V1"] }, { mark = "wide", parts = ["V2"] }]\n'


def kit() -> Kit:
    """A floor with an angle standing on it, and two covers for the same six holes, the wider of which meets it."""
    marked: Keys = {"marked": "outside"}
    pieces: list[Piece] = [
        Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(500.0, 300.0), 6.0, keys=STATED),
        Angle("A1", Frame((240.0, 290.0, 0.0), minus(Y), X), (40.0, 40.0, 5.0), 280.0),
        Plate("V1", Frame((40.0, 40.0, 6.0), X, Y), rectangle(130.0, 100.0), 6.0, keys=marked),
        Plate("V2", Frame((40.0, 40.0, 6.0), X, Y), rectangle(212.0, 100.0), 6.0, keys=marked),
    ]
    flat = np.zeros((len(PATTERN), 1))
    seams = [
        Seam("A", ("P1", "A1"), odd_line((262.0, 270.0, 0.0), (262.0, 26.0, 0.0), 38.0), Z, {"head": "inside"}),
        Seam("V", ("P1", "V1"), np.hstack([PATTERN, flat]), Z, {"head": "inside"}),
        Seam("W", ("P1/V", "V2"), np.hstack([PATTERN, flat]), Z, {"head": "inside"}),
    ]
    return Kit(pieces, seams, {"title": "Cover", "number": "K5", "datum": "P1", "exposed": True, "drawings": "."})


def location(chosen: str, more: str = "") -> str:
    return f'[[location]]\nmark = "cover"\nholes = "P1/V"\nchosen = "{chosen}"\n{more}{OPTIONS}\n'


def planned(folder: Path, tables: str) -> Plan:
    """The kit's plan with further tables; the floor has two holes more than its covers."""
    folder.mkdir(exist_ok=True)
    made = drilled(kit())
    floor = next(piece for piece in made.pieces if piece.mark == "P1")
    assert isinstance(floor, Plate)
    floor.rows["V"] = np.vstack([floor.rows["V"], SPARE])
    write_drawings(made, folder)
    (folder / "job.toml").write_text(job_text(made) + SET + BOLT + tables, "utf-8")
    return plan(folder / "job.toml")


def told(found: Plan, level: Level) -> dict[str, str]:
    return {one.check: one.what for one in found.findings if one.level is level}


def test_the_chosen_fitting_is_built_and_the_other_tried(tmp_path: Path) -> None:
    """The wide cover ends at 252 mm, 12 mm beyond the heel of an angle at 240 mm; the narrow one 70 mm before it."""
    found = planned(tmp_path, location("small", 'plug = "M10"\n'))
    assert found.body is not None
    assert sorted(one.mark for one in found.body.instances) == ["A1", "P1", "V1"]
    assert told(found, Level.STOP) == {}
    tried = [one.what for one in found.findings if one.check == "fitting-option"]
    assert all(what.startswith("option wide at location cover, not chosen: ") for what in tried)
    (clash,) = [what for what in tried if "plates-clash" in what]
    assert "V2" in clash
    assert any("no-way-on: step 2: A1 has no way on" in what for what in tried)  # reach and order are asked too
    assert any("greatest-end-distance" in what for what in tried)  # 102 mm of plate beyond the last hole
    assert "no-plug" not in told(found, Level.QUERY)


def test_holes_left_open_get_a_plug_each(tmp_path: Path) -> None:
    """Eight holes in the floor, six in the cover: two plugs, through 6 mm: 6 + 2 x 10, rounded up to 30."""
    found = planned(tmp_path, location("small", 'plug = "M10"\n'))
    (plug,) = [line for line in found.supply.bolts if line.what.startswith("plug")]
    assert (plug.what, plug.diameter, plug.count, plug.length) == ("plug M10", 10.0, 2, 30.0)
    holes = next(account for account in found.accounts if account.what == "holes of all pieces")
    assert dict(holes.shares)["left open by the fittings chosen"] == 2
    assert sum(count for _, count in holes.shares) == holes.total


def test_the_one_that_clashes_stops_the_job_where_it_is_chosen(tmp_path: Path) -> None:
    found = planned(tmp_path, location("wide", 'plug = "M10"\n'))
    assert "plates-clash" in told(found, Level.STOP)
    assert "fitting-option" not in told(found, Level.QUERY)


def test_without_any_option_all_holes_are_plugged_or_asked_for(tmp_path: Path) -> None:
    found = planned(tmp_path, location(""))
    assert found.body is not None
    assert sorted(one.mark for one in found.body.instances) == ["A1", "P1"]
    assert "8 holes of 8 stay open" in told(found, Level.QUERY)["no-plug"]


@pytest.mark.parametrize(("greatest", "stops"), [("12", False), ("11.9", True)])
def test_a_grip_beyond_what_the_location_takes_is_a_stop(tmp_path: Path, greatest: str, stops: bool) -> None:
    """Floor and cover of 6 mm each: a grip of 12 mm."""
    found = planned(tmp_path, location("small", f'plug = "M10"\ngreatest_grip = {greatest}\n'))
    assert ("fitting-grip" in told(found, Level.STOP)) == stops


@pytest.mark.parametrize(("face", "stops"), [("marked", False), ("other", True)])
def test_a_fitting_lies_on_the_face_that_its_location_states(tmp_path: Path, face: str, stops: bool) -> None:
    """Covers lie on z = 0 of the floor, its marked face, which looks up; the one not chosen is asked too."""
    found = planned(tmp_path, location("small", f'plug = "M10"\nface = "{face}"\n'))
    assert ("fitting-face" in told(found, Level.STOP)) == stops
    if stops:
        assert told(found, Level.STOP)["fitting-face"] == "location cover: V1 on the marked face of P1"
    tried = [one.what for one in found.findings if one.check == "fitting-option" and "fitting-face" in one.what]
    assert [("V2 on the marked face of P1" in what) for what in tried] == [True] * stops


def test_all_papers_follow_the_fitting_that_is_chosen(tmp_path: Path) -> None:
    """Covers of 130 x 100 and 212 x 100 mm, 6 mm thick: plates, rivets, mass and steps are theirs alone."""
    plans = {name: planned(tmp_path / (name or "none"), location(name, 'plug = "M10"\n')) for name in CHOSEN}
    gone = {"small": "V2", "wide": "V1", "": "V"}
    for name, found in plans.items():
        assert found.sequence is not None
        assert found.body is not None
        assert not any(line.mark.startswith(gone[name]) for line in found.supply.plates)
        built = {found.body.instances[i].mark for step in found.sequence.steps for i in step.parts}
        record = plan_record(found)
        assert {one["mark"] for one in record["parts"]} == built
        assert sum(line.count for line in found.supply.rivets) == len(record["rivets"])
    rivets = [sum(line.count for line in plans[name].supply.rivets) for name in CHOSEN]
    assert rivets == [rivets[2] + 6, rivets[2] + 6, rivets[2]]
    more = plans["wide"].supply.total_mass - plans["small"].supply.total_mass
    assert more == pytest.approx(82.0 * 100.0 * 6.0 * 7.85e-6, rel=1e-6)
    plugs = [sum(line.count for line in one.supply.bolts if line.what.startswith("plug")) for one in plans.values()]
    assert plugs == [2, 2, 8]
    for name, found in plans.items():
        assert found.sequence is not None
        (step,) = [one for one in found.sequence.steps if one.title.startswith("Plug")]
        names = "P1 V 7, V 8" if name else "P1 V 1, V 2, V 3, V 4, V 5, V 6, V 7, V 8"
        assert step.checks[0].startswith(f"location cover: {2 if name else 8} of M10 in {names}: nut tight")
        (line,) = [one for one in found.supply.bolts if one.what.startswith("plug")]
        assert f"no fitting takes: {names}; " in line.note


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ('chosen = "small"', 'chosen = "smal"', "is no option of it"),
        ('"P1/V"\n', '"P9/V"\n', '"P9" is no piece'),
        ('parts = ["V2"]', 'parts = ["V1"]', "stands in two options"),
        ('parts = ["V2"]', 'parts = ["V9"]', "is no part of the job"),
        ('parts = ["V2"]', 'parts = ["A1"]', "no seam joins a part of it to P1/V"),
        ('parts = ["V2"]', 'parts = ["P1"]', "the datum P1 is part of it"),
        ('mark = "wide"', 'mark = "small"', "two options are called"),
        ('plug = "M10"', 'plug = "M11"', 'there is no bolt "M11"'),
        ('plug = "M10"', 'face = "upper"', 'Expected "marked" or "other"'),
    ],
)
def test_faults_of_a_location_are_told(tmp_path: Path, old: str, new: str, fault: str) -> None:
    stated = location("small", 'plug = "M10"\n')
    assert old in stated
    with pytest.raises(JobError) as failed:
        planned(tmp_path, stated.replace(old, new))
    assert any(fault in f"{one}" for one in failed.value.faults)


@pytest.mark.parametrize("stated", [True, False])
def test_a_fitting_that_clashes_is_not_turned_out_of_the_way(tmp_path: Path, stated: bool) -> None:
    """Nobody says where the wide cover goes: its holes do, and there it meets the angle."""
    planned(tmp_path, location("small", 'plug = "M10"\n'))
    job = tmp_path / "job.toml"
    place = SET.split("\n\n")[1]
    assert place.startswith('[[place]]\npart = "V2"')
    text = job.read_text("utf-8")
    job.write_text(text if stated else text.replace(place, ""), "utf-8")
    tried = [one.what for one in plan(job).findings if one.check == "fitting-option"]
    assert len([what for what in tried if "plates-clash" in what and "V2" in what]) == 1
    assert not [what for what in tried if "misfit" in what or "two-bodies" in what]
