"""What is no rivet: bolts, fitted bolts, tap rivets, dummy heads, welds; and holes that are not cut full.

Two plates, 8 mm and 12 mm, lapped over 80 mm, with a seam A of rivets, and a seam B that is varied.
"""

from pathlib import Path

import numpy as np
import pytest

from fabplan.errors import JobError
from fabplan.job.read import read_job
from fabplan.model.finding import Finding
from fabplan.model.plan import Plan
from fabplan.sheets.lint import lint
from fabplan.sheets.lists import list_pages, listings
from fabplan.sheets.seam_strip import seam_strips
from fabplan.sheets.sequence_sheet import sequence_sheets
from fabplan.way.plan import plan
from tests.body.plates import along, draw
from tests.sheets.words import words as words_on

HEAD = """[job]
datum = "P"
exposed = true
drawings = "."
[[rivet]]
mark = "R10"
diameter = 10
hole = 11
[[part]]
mark = "P"
drawing = "P.dxf"
thickness = 8
[[part]]
mark = "Q"
drawing = "Q.dxf"
thickness = 12
[[seam]]
mark = "A"
parts = ["P/A", "Q/A"]
rivet = "R10"
"""
SEAM_B = '[[seam]]\nmark = "B"\nparts = ["P/B", "Q/B"]\n'
FITTED = '[[fastener]]\nmark = "F12"\nkind = "fitted bolt"\ndiameter = 12\nhole = 12\n'
FROM_MATE = """rivet = "R10"
state = ["full", "drilled from mate"]
[[place]]
part = "Q"
origin = [200, 0, 12]
x = [1, 0, 0]
y = [0, 1, 0]
"""
TAP = '[[fastener]]\nmark = "T10"\nkind = "tap rivet"\ndiameter = 10\nhole = 11\ntapped = 8.5\n'


def lapped(
    folder: Path, more: str, row: np.ndarray | None = None, mate: np.ndarray | None = None, hole: float = 11.0
) -> Plan:
    """The two plates; row B of P as drawn, and its mate on Q (the same where it is not given; none where empty)."""
    row = along(260.0) if row is None else row
    mate = row if mate is None else mate
    with_hole = [np.column_stack([places[:, :2], np.full(len(places), hole), *places[:, 2:].T])[:, [0, 1, -1]]
                 for places in (row, mate)]  # fmt: skip
    draw(folder / "P.dxf", (300.0, 240.0), {"A": along(220.0), "B": with_hole[0]}, {})
    onto = np.array([200.0, 0.0, 0.0])
    draw(folder / "Q.dxf", (300.0, 240.0), {"A": along(220.0) - onto[:2], "B": with_hole[1] - onto}, {})
    (folder / "job.toml").write_text(HEAD + more, "utf-8")
    return plan(folder / "job.toml")


def told(made: Plan, check: str) -> list[Finding]:
    return [finding for finding in made.findings if finding.check == check]


def sizes(made: Plan) -> dict[str, tuple[float, float, int, int, int]]:
    assert made.supply is not None
    return {one.what: (one.diameter, one.length, one.count, one.nuts, one.washers) for one in made.supply.bolts}


@pytest.mark.parametrize(("off", "stops"), [(0.9, False), (1.1, True)])
def test_pilot_holes_may_be_out_by_what_reaming_takes_away(tmp_path: Path, off: float, stops: bool) -> None:
    """Circles of 11 mm, out by m, lie within one of 12 mm as long as m + 11 <= 12: plane geometry."""
    mate = along(260.0)
    mate[3, 1] += off
    seam = SEAM_B + 'fastener = "F12"\nstate = "pilot"\n'
    made = lapped(tmp_path, FITTED + seam, mate=mate)
    found = told(made, "misfit")
    assert bool(found) is stops
    assert all(one.required == pytest.approx(1.0) for one in found)
    assert not told(made, "hole-for-rivet")
    assert not told(made, "not-reamed")


def test_fitted_bolts_are_counted_apart_and_go_in_last(tmp_path: Path) -> None:
    """Seven bolts, grip 20: 20 + 2 x 12 = 44, so 45 mm (rule of thumb of the list); fourteen washers."""
    made = lapped(tmp_path, FITTED + SEAM_B + 'fastener = "F12"\nstate = "reamed"\n')
    assert sizes(made)["fitted bolt F12"] == (12.0, 45.0, 7, 7, 14)
    assert made.supply is not None
    assert [line.count for line in made.supply.rivets] == [7]
    assert made.sequence is not None
    kinds = [step.kind for step in made.sequence.steps]
    assert kinds.index("bolt") > kinds.index("rivet")
    assert len(made.sequence.steps[kinds.index("bolt")].fitted) == 7
    driven = [rivet for step in made.sequence.steps for run in step.work for rivet in run.rivets.tolist()]
    assert made.stacks is not None
    assert {made.stacks.number[i][0] for i in driven} == {"A"}


def test_fitted_bolts_in_holes_cut_full_and_wide(tmp_path: Path) -> None:
    """DIN 18800-1: no more than 0.3 mm of play (from memory)."""
    wide = FITTED.replace("hole = 12", "hole = 12.4")
    made = lapped(tmp_path, wide + SEAM_B + 'fastener = "F12"\n', hole=12.4)
    assert [one.required for one in told(made, "fitted-hole")] == [pytest.approx(12.3)]
    assert len(told(made, "not-reamed")) == 1


@pytest.mark.parametrize(("hole", "asked"), [(18.0, False), (17.0, True)])
def test_a_normal_bolt_hole(tmp_path: Path, hole: float, asked: bool) -> None:
    """EN 1090-2, table 11: M16 in 18 mm."""
    bolt = f'[[fastener]]\nmark = "M16"\nkind = "bolt"\ndiameter = 16\nhole = {hole}\ngrade = "8.8"\n'
    made = lapped(tmp_path, bolt + SEAM_B + 'fastener = "M16"\n', hole=hole)
    assert [one.required for one in told(made, "bolt-hole")] == ([18.0] if asked else [])
    assert sizes(made)["bolt M16"] == (16.0, 55.0, 7, 7, 14)


def test_tap_rivets_stand_in_for_rivets_at_named_holes(tmp_path: Path) -> None:
    """Holes B 1 and B 2 are tapped M10 in the last ply, 12 mm thick: more thread than one diameter."""
    mate = np.column_stack([along(260.0), np.full(7, 11.0)])
    mate[:2, 2] = 8.5  # tapping drill of M10 x 1.5
    seam = SEAM_B + 'rivet = "R10"\ninstead = [{ holes = [1, 2], fastener = "T10" }]\n'
    made = lapped(tmp_path, TAP + seam, mate=mate)
    assert [finding.check for finding in made.findings if finding.blocks] == []
    assert not told(made, "hole-sizes-differ")
    assert sizes(made)["tap rivet T10"] == (10.0, 20.0, 2, 0, 0)
    assert made.supply is not None
    assert sum(line.count for line in made.supply.rivets) == 12
    assert not told(made, "short-thread")
    missing = seam.replace("[1, 2]", "[1, 8]")
    assert [one.measured for one in told(lapped(tmp_path, TAP + missing, mate=mate), "no-such-hole")] == [8.0]


def test_a_thread_shorter_than_the_screw_is_thick(tmp_path: Path) -> None:
    tap = TAP.replace("10\n", "16\n").replace("hole = 11", "hole = 17").replace("8.5", "14")
    mate = np.column_stack([along(260.0), np.full(7, 14.0)])
    made = lapped(tmp_path, tap + SEAM_B + 'fastener = "T10"\n', mate=mate, hole=17.0)
    assert [(one.measured, one.required) for one in told(made, "short-thread")] == [(12.0, 16.0)]


def test_holes_drilled_from_the_mate_are_in_the_stack_and_on_no_blank(tmp_path: Path) -> None:
    """Seven holes of P go through Q, which has none drawn: grips 8 + 12; its own drawing keeps seven of row A."""
    made = lapped(tmp_path, SEAM_B + FROM_MATE, mate=np.zeros((0, 2)))
    assert [finding.check for finding in made.findings if finding.blocks] == []
    assert made.stacks is not None
    assert made.supply is not None
    assert made.stacks.grip.tolist() == pytest.approx([20.0] * 14)
    assert {line.mark: line.holes for line in made.supply.plates} == {"P": 14, "Q": 7}
    (row,) = next(one for one in listings(made) if one.name == "holes").rows
    assert row == ("B", "Q", "drilled from mate", 7, "none", 11.0)
    assert made.sequence is not None
    words = [check for step in made.sequence.steps for check in step.checks]
    assert "seam B, Q: holes drilled through from its mates before its first fastener" in words


def test_holes_drilled_from_the_mate_keep_their_edge_distance(tmp_path: Path) -> None:
    """Q begins at x = 200: a row at 210 lies 10 mm from its edge; EN 1993-1-8 asks 1.2 d0 = 13.2."""
    made = lapped(tmp_path, SEAM_B + FROM_MATE, row=along(210.0), mate=np.zeros((0, 2)))
    found = [one for one in told(made, "least-edge-distance") if one.where.part == "Q"]
    assert found
    assert min(one.measured for one in found if one.measured is not None) == pytest.approx(10.0)


def test_without_its_state_a_ply_without_holes_is_a_stop(tmp_path: Path) -> None:
    made = lapped(tmp_path, SEAM_B + 'rivet = "R10"\n', mate=np.zeros((0, 2)))
    assert told(made, "no-hole") or told(made, "no-mate")


def test_dummy_heads_want_no_mate_and_are_counted(tmp_path: Path) -> None:
    dummy = '[[fastener]]\nmark = "D10"\nkind = "dummy head"\ndiameter = 10\n'
    seam = '[[seam]]\nmark = "B"\nparts = ["P/B"]\nfastener = "D10"\n'
    made = lapped(tmp_path, dummy + seam, row=along(100.0), mate=np.zeros((0, 2)), hole=3.0)
    assert sizes(made)["dummy head D10"] == (10.0, 0.0, 7, 0, 0)
    assert not told(made, "no-mate")


def test_packing_makes_the_rivets_through_it_weaker(tmp_path: Path) -> None:
    """EN 1993-1-8, 3.6.1(12): over d/3 the factor is 9 d / (8 d + 3 tp); d 10, tp 8: 90/104 = 87 %."""
    packed = HEAD.replace('mark = "P"\n', 'mark = "P"\npacking = true\n')
    (tmp_path / "job.toml").write_text("", "utf-8")
    lapped(tmp_path, SEAM_B + 'rivet = "R10"\n')
    (tmp_path / "job.toml").write_text(packed + SEAM_B + 'rivet = "R10"\n', "utf-8")
    found = told(plan(tmp_path / "job.toml"), "thick-packing")
    assert len(found) == 2
    assert "87 %" in found[0].what
    assert found[0].required == pytest.approx(10.0 / 3.0)


def test_welds_are_listed_judged_and_laid_when_the_job_says(tmp_path: Path) -> None:
    """EN 1993-1-8, 4.5: throat at least 3 mm, length at least 30 mm or six throats (from memory)."""
    welds = "".join(
        f'[[weld]]\nmark = "{mark}"\nparts = ["P", "Q"]\nkind = "fillet"\nsize = {size}\nlength = {length}\n'
        f'when = "{when} riveting"\n'
        for mark, size, length, when in (("W1", 4, 200, "before"), ("W2", 2.5, 200, "after"), ("W3", 5.5, 32, "after"))
    )
    made = lapped(tmp_path, SEAM_B + 'rivet = "R10"\n' + welds)
    assert [one.required for one in told(made, "weld-size")] == [3.0, pytest.approx(33.0)]
    assert len(told(made, "weld-at-rivets")) == 3
    assert made.sequence is not None
    kinds = [step.kind for step in made.sequence.steps]
    assert kinds.index("weld") < kinds.index("rivet") < len(kinds) - 1 - kinds[::-1].index("weld")
    rows = next(one for one in listings(made) if one.name == "welds").rows
    assert [row[:4] for row in rows] == [
        ("W1", "fillet", 4.0, 200.0), ("W2", "fillet", 2.5, 200.0), ("W3", "fillet", 5.5, 32.0)
    ]  # fmt: skip


@pytest.mark.parametrize(("height", "off"), [(0.0, None), (3.0, 3.0)])
def test_levels_are_held_against_the_faces(tmp_path: Path, height: float, off: float | None) -> None:
    """Q lies on the marked face of the datum, z = 0, or on its back, z = -8."""
    level = f'[[level]]\nmark = "L"\nrows = ["Q/A", "Q/B"]\nheight = {height}\n'
    made = lapped(tmp_path, SEAM_B + 'rivet = "R10"\n[[place]]\npart = "P"\norigin = [0, 0, 0]\nx = [1, 0, 0]\n'
                  'y = [0, 1, 0]\n' + level)  # fmt: skip
    assert made.stacks is not None
    faying = float(made.stacks.point[0, 2])
    assert faying in (pytest.approx(0.0), pytest.approx(-8.0))
    found = told(made, "level-differs")
    expected = abs(faying - height)
    assert [one.measured for one in found] == ([pytest.approx(expected)] if expected > 1.0 else [])
    if faying == pytest.approx(0.0):
        assert [one.measured for one in found] == ([] if off is None else [pytest.approx(off)])


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        (SEAM_B + 'fastener = "F13"\n', 'unknown rivet "F13"'),
        (SEAM_B + 'rivet = "R10"\nfastener = "F12"\n', "either `rivet` or `fastener`"),
        (SEAM_B + 'rivet = "R10"\nstate = ["full"]\n', "one `state` for all plies"),
        (SEAM_B + 'rivet = "R10"\nstate = "drilled from mate"\n', "every ply is drilled from its mate"),
        (SEAM_B + 'rivet = "R10"\ninstead = [{ holes = [1, 1], fastener = "F12" }]\n', "a hole takes two fasteners"),
        ('[[weld]]\nmark = "W"\nparts = ["P", "X"]\nkind = "butt"\nsize = 3\nlength = 50\nwhen = "after riveting"\n',
         '"X" is no piece'),
        ('[[level]]\nmark = "L"\nrows = ["P/A"]\n', "a `height`, or two rows"),
        (TAP.replace("tapped = 8.5\n", ""), "`tapped`, the hole in the last ply"),
        (TAP.replace("8.5", "10"), "leaves no thread"),
        (FITTED + FITTED, 'the name "F12" stands twice'),
        (FITTED.replace("F12", "R10"), 'the name "R10" stands twice'),
    ],
)  # fmt: skip
def test_faults_of_fasteners_are_told_in_a_sentence(tmp_path: Path, text: str, fault: str) -> None:
    for name in ("P.dxf", "Q.dxf"):
        (tmp_path / name).touch()
    (tmp_path / "job.toml").write_text(HEAD + text, "utf-8")
    with pytest.raises(JobError) as caught:
        read_job(tmp_path / "job.toml")
    assert any(fault in str(one) for one in caught.value.faults), [str(one) for one in caught.value.faults]


def test_papers_of_a_plate_drilled_from_its_mate_are_written(tmp_path: Path) -> None:
    made = lapped(tmp_path, SEAM_B + FROM_MATE, mate=np.zeros((0, 2)))
    lists = [page for one in listings(made) for page in list_pages(made, one)]
    pages = [*seam_strips(made), *sequence_sheets(made), *lists]
    assert {page.name for page in pages if lint(page)} == set()


def test_pilots_are_spaced_and_filled_as_finished(tmp_path: Path) -> None:
    """EN 1993-1-8: 1.2 d0 of the finished 12 mm = 14.4 from the edge; a hole at 290 of 300 mm has 10.

    A rivet of 10 mm through pilots of 8 mm fills the finished hole of 11: no shorter than through one cut full.
    """
    edge = lapped(tmp_path, FITTED + SEAM_B + 'fastener = "F12"\nstate = "pilot"\n', row=along(290.0), hole=8.0)
    assert 14.4 in {round(one.required or 0.0, 6) for one in told(edge, "least-edge-distance")}
    lengths = []
    for hole, state in ((11.0, "full"), (8.0, "pilot")):
        made = lapped(tmp_path, f'{SEAM_B}rivet = "R10"\nstate = "{state}"\n', hole=hole)
        assert made.supply is not None
        lengths.append({(line.length, line.count) for line in made.supply.rivets})
    assert lengths[0] == lengths[1]


@pytest.mark.parametrize(("off", "stops"), [(0.36, False), (0.39, True)])
def test_a_screw_has_half_the_play_of_a_bolt(tmp_path: Path, off: float, stops: bool) -> None:
    """Fixed in its thread: (11 - 0.25 - 10) / 2 = 0.375 mm in the clear hole."""
    mate = np.column_stack([along(260.0), np.full(7, 8.5)])
    mate[3, 1] += off
    made = lapped(tmp_path, TAP + SEAM_B + 'fastener = "T10"\n', mate=mate)
    assert bool(told(made, "misfit")) is stops


def test_marks_are_drilled_to_the_finished_hole(tmp_path: Path) -> None:
    """Centre marks of 3 mm, one out by 0.5: the rivet of 10 in 11 has 0.63 mm to spare."""
    mate = along(260.0)
    mate[3, 1] += 0.5
    made = lapped(tmp_path, SEAM_B + 'rivet = "R10"\nstate = "mark"\n', mate=mate, hole=3.0)
    assert not told(made, "misfit")
    assert not told(made, "hole-sizes-differ")
    assert made.supply is not None
    assert all(line.diameter >= 10.0 for line in made.supply.bolts)


def test_dummy_heads_sit_on_any_mark(tmp_path: Path) -> None:
    dummy = '[[fastener]]\nmark = "D10"\nkind = "dummy head"\ndiameter = 10\nhole = 3\n'
    seam = '[[seam]]\nmark = "B"\nparts = ["P/B"]\nfastener = "D10"\n'
    made = lapped(tmp_path, dummy + seam, row=along(100.0), mate=np.zeros((0, 2)), hole=3.0)
    assert not told(made, "hole-for-rivet")


def test_a_drawn_row_that_is_to_be_drilled_is_told(tmp_path: Path) -> None:
    made = lapped(tmp_path, SEAM_B + 'rivet = "R10"\nstate = ["full", "drilled from mate"]\n')
    assert [one.where.part for one in told(made, "template-holes")] == ["Q"]
    assert not told(made, "least-pitch")


def test_screws_are_fitted_before_a_lid_shuts_them_in(tmp_path: Path) -> None:
    """Seam B is screwed from P's side; a plate over it on packings of 40 mm, put on when B is in, and not before."""
    lid = "".join(
        f'[[part]]\nmark = "{mark}"\ndrawing = "{mark}.dxf"\nthickness = {thick}\n'
        for mark, thick in (("S", 40), ("LID", 8))
    )
    draw(tmp_path / "S.dxf", (60.0, 240.0), {"C": along(30.0)}, {})
    draw(tmp_path / "LID.dxf", (330.0, 240.0), {"C": along(30.0)}, {})
    place = '[[place]]\npart = "{}"\norigin = [{}, 0, {}]\nx = [1, 0, 0]\ny = [0, 1, 0]\n'
    mate = np.column_stack([along(260.0), np.full(7, 8.5)])
    row = along(260.0)
    over = '[[seam]]\nmark = "C"\nparts = ["LID/C", "S/C", "P/C"]\nrivet = "R10"\n'
    places = place.format("S", 0, 40) + place.format("LID", 0, 48) + place.format("Q", 200, -8)
    lapped(tmp_path, "", row=row, mate=mate)
    draw(tmp_path / "P.dxf", (300.0, 240.0), {"A": along(220.0), "B": row, "C": along(30.0)}, {})
    (tmp_path / "job.toml").write_text(HEAD + TAP + lid + SEAM_B + 'fastener = "T10"\n' + over + places, "utf-8")
    made = plan(tmp_path / "job.toml")
    assert made.sequence is not None
    assert made.body is not None
    names = [one.mark for one in made.body.instances]
    fitted = next(step for step in made.sequence.steps if step.kind == "bolt")
    assert names.index("LID") not in fitted.present


def test_an_astray_hole_among_three_for_fitted_bolts_is_named_as_that(tmp_path: Path) -> None:
    """Spaces of 32 and 36 mm turned end for end are 4 mm out: 1 mm, what reaming mends, from a hole 3 mm astray."""
    row = np.array([[260.0, 60.0], [260.0, 92.0], [260.0, 128.0]])
    mate = row.copy()
    mate[1, 1] += 3.0
    made = lapped(tmp_path, FITTED + SEAM_B + 'fastener = "F12"\nstate = "pilot"\n', row=row, mate=mate)
    first = told(made, "likely-cause")[0]
    assert "one hole astray" in first.what


def test_holes_on_a_layer_of_bolts_keep_bolts(tmp_path: Path) -> None:
    """README's BOLT rows, in a seam of rivets: seven bolts that stay are fitted when the rivets are in."""
    lapped(tmp_path, SEAM_B + 'rivet = "R10"\n')
    for name in ("P", "Q"):
        path = tmp_path / f"{name}.dxf"
        path.write_text(path.read_text("utf-8").replace("RIVET B", "BOLT B"), "utf-8")
    made = plan(tmp_path / "job.toml")
    assert sizes(made)["bolt that stays"][2] == 7
    assert made.sequence is not None
    assert [len(step.fitted) for step in made.sequence.steps if step.kind == "bolt"] == [7]


def test_an_unused_tap_rivet_changes_nothing(tmp_path: Path) -> None:
    """Rivets of 8 mm in 8.5 mm holes, a hole 0.1 mm out, beside a tap rivet whose tapping drill is 8.5 mm too."""
    mate = along(260.0)
    mate[:, 1] += 0.1
    rivet = '[[rivet]]\nmark = "R8"\ndiameter = 8\nhole = 8.5\nclosing = "cold"\n'
    seam = SEAM_B + 'rivet = "R8"\n'
    for more in ("", TAP):
        made = lapped(tmp_path, rivet + more + seam, mate=mate, hole=8.5)
        assert not told(made, "misfit")


def test_a_thread_is_drilled_and_tapped_to_its_own_size(tmp_path: Path) -> None:
    seam = SEAM_B + 'fastener = "T10"\n' + FROM_MATE.replace('rivet = "R10"\n', "")
    made = lapped(tmp_path, TAP + seam, mate=np.zeros((0, 2)))
    (row,) = next(one for one in listings(made) if one.name == "holes").rows
    assert row[-1] == 8.5
    assert made.sequence is not None
    words = [check for step in made.sequence.steps for check in step.checks]
    assert "seam B, Q: drilled 8.5 mm, tapped M10 in place, before its first fastener" in words


@pytest.mark.parametrize(("most", "stops"), [(1.9, False), (3.2, True)])
def test_pilots_out_by_what_opening_mends_are_no_fault(tmp_path: Path, most: float, stops: bool) -> None:
    """Pilots of 8 mm opened to 11 may be out by 11 - 8 = 3 mm (plane geometry); three are, this way and that."""
    mate = along(260.0)
    mate[[1, 3, 5], 0] += [most, -most, most]
    made = lapped(tmp_path, SEAM_B + 'rivet = "R10"\nstate = "pilot"\n', mate=mate, hole=8.0)
    assert not told(made, "body-doubtful")
    assert bool(told(made, "misfit")) is stops
    if not stops:
        assert [one.check for one in made.findings if one.blocks] == []
        assert not told(made, "likely-cause")
    assert all(one.required == pytest.approx(3.0) for one in told(made, "misfit"))


def test_a_piece_held_by_pilots_alone_is_placed_among_them(tmp_path: Path) -> None:
    """All seven pilots of Q out by 1.3 mm, to right and left in turn; each has 3 mm, and 2.6 is less."""
    mate = along(260.0)
    mate[:, 0] += 1.3 * np.array([1.0, -1.0, 1.0, -1.0, 1.0, -1.0, 1.0])
    lapped(tmp_path, "", row=along(260.0), mate=mate, hole=8.0)
    text = HEAD[: HEAD.index("[[seam]]")] + SEAM_B + 'rivet = "R10"\nstate = "pilot"\n'
    for name in ("P", "Q"):
        path = tmp_path / f"{name}.dxf"
        path.write_text(path.read_text("utf-8").replace("RIVET A", "CUT"), "utf-8")
    (tmp_path / "job.toml").write_text(text, "utf-8")
    made = plan(tmp_path / "job.toml")
    stops = {one.check for one in made.findings if one.blocks}
    assert not stops & {"not-placed", "misfit", "body-doubtful", "likely-cause", "no-mate"}
    assert made.stacks is not None
    assert len(made.stacks) == 7
    assert made.stacks.misfit.max() <= 3.0


def test_a_screw_instead_in_a_ply_drilled_from_its_mate_is_tapped(tmp_path: Path) -> None:
    """Two of seven places take a screw M10: 8.5 mm in the last ply there, 11 mm elsewhere; each suits its fastener."""
    seam = SEAM_B + FROM_MATE.replace("[[place]]", 'instead = [{ holes = [1, 2], fastener = "T10" }]\n[[place]]', 1)
    made = lapped(tmp_path, TAP + seam, mate=np.zeros((0, 2)))
    assert not told(made, "hole-for-rivet")
    assert made.body is not None
    holes = next(made.body.part_of(i) for i, one in enumerate(made.body.instances) if one.mark == "Q").holes.holes
    drilled = [size for size, row in zip(holes.diameter.tolist(), holes.row, strict=True) if row == "B"]
    assert drilled == [8.5, 8.5, 11.0, 11.0, 11.0, 11.0, 11.0]
    (row,) = next(one for one in listings(made) if one.name == "holes").rows
    assert row[-1] == "11 mm, 8.5 mm at 1, 2"
    assert made.sequence is not None
    words = [check for step in made.sequence.steps for check in step.checks]
    assert "seam B, Q: at 1, 2 drilled 8.5 mm, tapped M10 in place, before its first fastener" in words
    assert "seam B, Q: holes drilled through from its mates before its first fastener" in words
    strips = " ".join(words_on(page) for page in seam_strips(made))
    assert "tap rivet 10 in hole 11, last ply tapped from 8.5" in strips


@pytest.mark.parametrize(("off", "stops"), [(0.4, True), (0.2, False)])
def test_holes_of_another_fastener_are_held_against_its_own_play(tmp_path: Path, off: float, stops: bool) -> None:
    """Q is put 0.4 mm off: rivets have 0.63 mm to spare, bolts of 12 in 12.5 cut 0.25 small only 0.25."""
    row = np.column_stack([along(260.0), np.full(7, 11.0)])
    row[:2, 2] = 12.5
    wide = FITTED.replace("hole = 12", "hole = 12.5")
    seam = SEAM_B + 'rivet = "R10"\ninstead = [{ holes = [1, 2], fastener = "F12" }]\n'
    place = FROM_MATE[FROM_MATE.index("[[place]]") :].replace("200, 0,", f"200, {off},")
    made = lapped(tmp_path, wide + seam + place, row=row)
    found = told(made, "misfit")
    assert [one.where.seam for one in found] == (["B"] if stops else [])
    assert all(one.required == pytest.approx(0.25) for one in found)
