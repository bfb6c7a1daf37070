"""How pieces are joined beside plain rivets: welds, holes used twice, tight seams of bolts, faces of bolted seams."""

from pathlib import Path

import numpy as np
import pytest

from fabplan.model.plan import Plan
from fabplan.sheets.sequence_sheet import sequence_sheets
from fabplan.way.plan import plan
from tests.body.plates import along, draw, planned, plate
from tests.sheets.words import words
from tests.way.test_fasteners import FITTED, HEAD, SEAM_B, lapped, told

BOLT = '[[fastener]]\nmark = "M10"\nkind = "bolt"\ndiameter = 10\nhole = 11\n'
WELD = '[[weld]]\nmark = "W"\nparts = [{}]\nkind = "fillet"\nsize = 3\nlength = 100\nwhen = "{} riveting"\n'
UPRIGHT = '[[place]]\npart = "S"\norigin = [{}, 60, {}]\nx = [0, 1, 0]\ny = [0, 0, 1]\n'


def checks(made: Plan) -> list[str]:
    assert made.sequence is not None
    return [check for step in made.sequence.steps for check in step.checks]


def welded(folder: Path, high: float, when: str = "before", other: str = "") -> Plan:
    """The two plates, and a fin S of 60 x 80 x 6 mm upright on P's marked face, z 0, or so high over it."""
    lapped(folder, SEAM_B + 'rivet = "R10"\n')
    draw(folder / "S.dxf", (60.0, 80.0), {}, {})
    fin = '[[part]]\nmark = "S"\ndrawing = "S.dxf"\nthickness = 6\n' + UPRIGHT.format(100, high)
    fixed = '[[place]]\npart = "P"\norigin = [0, 0, 0]\nx = [1, 0, 0]\ny = [0, 1, 0]\n'
    weld = WELD.format('"P", "S"', when)
    (folder / "job.toml").write_text(f'{HEAD}{SEAM_B}rivet = "R10"\n{fin}{fixed}{other}{weld}', "utf-8")
    return plan(folder / "job.toml")


@pytest.mark.parametrize(("high", "apart"), [(0.0, None), (1.9, None), (7.5, 7.5)])
def test_pieces_to_be_welded_must_touch(tmp_path: Path, high: float, apart: float | None) -> None:
    """A fin that stands so high over the plate: the gap is its height; 2 mm may be filled (ISO 5817, from memory)."""
    found = told(welded(tmp_path, high), "weld-apart")
    assert [one.measured for one in found] == ([] if apart is None else [pytest.approx(apart)])
    assert [one.where.part for one in found] == ([] if apart is None else ["S"])


def test_a_piece_that_a_weld_alone_holds_is_tacked_on_what_stands(tmp_path: Path) -> None:
    made = welded(tmp_path, 0.0)
    assert made.sequence is not None
    assert made.body is not None
    fin = [one.mark for one in made.body.instances].index("S")
    step = next(step for step in made.sequence.steps if fin in step.parts)
    assert step.title.startswith("Bolt on")
    assert "no rivet ties them" not in step.reason
    assert "S held by weld W alone: tacked, hot work by permit, or clamped till welded" in step.checks


def test_a_weld_to_a_piece_formed_to_template_waits_for_its_fit(tmp_path: Path) -> None:
    lapped(tmp_path, SEAM_B + 'rivet = "R10"\n')
    draw(tmp_path / "T.dxf", (200.0, 200.0), {}, {})
    dished = '[[part]]\nmark = "T"\ndrawing = "T.dxf"\nthickness = 5\nformed = "template"\ntrim = 10\n'
    weld = WELD.format('"P", "T"', "before")
    seam = '[[seam]]\nmark = "C"\nparts = ["T/A", "P/A"]\nrivet = "R10"\n'
    text = (HEAD + SEAM_B + 'rivet = "R10"\n' + dished + weld).replace(
        '[[seam]]\nmark = "A"\nparts = ["P/A", "Q/A"]\nrivet = "R10"\n', ""
    )
    (tmp_path / "job.toml").write_text(text + seam, "utf-8")
    made = plan(tmp_path / "job.toml")
    assert made.sequence is not None
    kinds = [step.kind for step in made.sequence.steps]
    assert kinds.index("template") < kinds.index("weld") < kinds.index("rivet")


def test_rivets_through_a_piece_formed_to_template_have_a_step(tmp_path: Path) -> None:
    """Seven holes of P's row B that only the dished plate shares: seven rivets, after its fit, reach not proved."""
    draw(tmp_path / "P.dxf", (300.0, 240.0), {"A": along(275.0), "B": along(25.0)}, {})
    draw(tmp_path / "Q.dxf", (300.0, 240.0), {"A": along(25.0)}, {})
    draw(tmp_path / "T.dxf", (400.0, 300.0), {}, {})
    dished = plate("T.dxf", 5, 'formed = "template"\ntrim = 20')
    pieces = {"P": plate("P.dxf", 6), "Q": plate("Q.dxf", 6, 'marked = "inside"'), "T": dished}
    made = planned(tmp_path, pieces, A=("Q/A", "P/A"), B=("T/B", "P/B"))
    assert made.sequence is not None
    steps = made.sequence.steps
    (own,) = [k for k, step in enumerate(steps) if step.unproved]
    assert steps[own].unproved == ((1, 7),)
    assert [step.kind for step in steps].index("template") < own
    assert any(check.startswith("not proved") for check in steps[own].checks)
    index = " ".join(words(page) for page in sequence_sheets(made))
    assert "B T, P 7 R10" in index


@pytest.mark.parametrize(("marks", "many"), [({}, 0), ({"B": along(40.0)[:5]}, 5)])
def test_a_piece_drilled_from_one_formed_to_template(tmp_path: Path, marks: dict[str, np.ndarray], many: int) -> None:
    """Five centres drawn in the dished plate are five rivets of 5 + 6 mm; without any it is a stop, not a 0."""
    draw(tmp_path / "P.dxf", (300.0, 240.0), {"A": along(275.0)}, {})
    draw(tmp_path / "Q.dxf", (300.0, 240.0), {"A": along(25.0)}, {})
    draw(tmp_path / "T.dxf", (400.0, 300.0), marks, {}, hole=3.0)
    dished = plate("T.dxf", 5, 'formed = "template"\ntrim = 20')
    pieces = {"P": plate("P.dxf", 6), "Q": plate("Q.dxf", 6, 'marked = "inside"'), "T": dished}
    drilled = '[[seam]]\nmark = "B"\nparts = ["T/B", "P/B"]\nrivet = "R10"\nstate = ["mark", "drilled from mate"]\n'
    made = planned(tmp_path, pieces, drilled, A=("Q/A", "P/A"))
    assert made.supply is not None
    assert sum(line.count for line in made.supply.rivets) == 7 + many
    assert bool(told(made, "no-such-row")) is (many == 0)
    if many:
        assert {grip for line in made.supply.rivets for grip in line.grips} == {11.0, 12.0}


def test_a_ply_is_drilled_from_the_mate_that_has_holes(tmp_path: Path) -> None:
    """P's seven holes go through Q behind it, not the dished plate's, which has none: grips 6 + 6 and, with it, 17."""
    draw(tmp_path / "P.dxf", (300.0, 240.0), {"A": along(220.0), "B": along(260.0)}, {})
    draw(tmp_path / "Q.dxf", (300.0, 240.0), {"A": along(20.0)}, {})
    draw(tmp_path / "T.dxf", (400.0, 300.0), {}, {})
    dished = plate("T.dxf", 5, 'formed = "template"\ntrim = 20')
    pieces = {"P": plate("P.dxf", 6), "Q": plate("Q.dxf", 6), "T": dished}
    drilled = '[[seam]]\nmark = "B"\nparts = ["T/B", "P/B", "Q/B"]\nrivet = "R10"\n'
    drilled += 'state = ["full", "full", "drilled from mate"]\n'
    drilled += '[[place]]\npart = "Q"\norigin = [200, 0, 6]\nx = [1, 0, 0]\ny = [0, 1, 0]\n'
    made = planned(tmp_path, pieces, drilled, A=("Q/A", "P/A"))
    assert made.stacks is not None
    assert made.supply is not None
    assert len(made.stacks) == 14
    assert sum(line.count for line in made.supply.rivets) == 14
    assert {grip for line in made.supply.rivets for grip in line.grips} == {12.0, 17.0}


def test_a_row_in_two_seams_takes_each_hole_twice(tmp_path: Path) -> None:
    """Three plies on one row, listed two by two: seven holes, of which each takes one rivet only."""
    more = '[[part]]\nmark = "S"\ndrawing = "S.dxf"\nthickness = 8\n'
    both = '[[seam]]\nmark = "C"\nparts = ["Q/B", "S/B"]\nrivet = "R10"\n'
    draw(tmp_path / "S.dxf", (80.0, 240.0), {"B": along(40.0)}, {})
    made = lapped(tmp_path, more + SEAM_B + 'rivet = "R10"\n' + both)
    found = told(made, "hole-used-twice")
    assert [(one.measured, one.where.seam) for one in found] == [(7.0, "B")]
    apart = lapped(tmp_path, more + SEAM_B.replace('"Q/B"]', '"Q/B", "S/B"]') + 'rivet = "R10"\n')
    assert not told(apart, "hole-used-twice")


def test_dummy_heads_over_rivets_are_told_and_counted_where_they_sit(tmp_path: Path) -> None:
    dummy = '[[fastener]]\nmark = "D10"\nkind = "dummy head"\ndiameter = 10\n'
    seam = SEAM_B + 'rivet = "R10"\n[[seam]]\nmark = "D"\nparts = ["P/B"]\nfastener = "D10"\n'
    assert [one.measured for one in told(lapped(tmp_path, dummy + seam), "hole-used-twice")] == [7.0]
    alone = '[[seam]]\nmark = "D"\nparts = ["P/B"]\nfastener = "D10"\n'
    made = lapped(tmp_path, dummy + alone, row=along(100.0), mate=np.zeros((0, 2)), hole=3.0)
    assert not told(made, "hole-used-twice")
    index = " ".join(words(page) for page in sequence_sheets(made))
    assert "D P 7 D10" in index


def test_a_strap_drilled_from_both_plates_is_numbered_through(tmp_path: Path) -> None:
    """Seven holes from each of two plates under one row name: 1 to 14, each once."""
    for name in ("P", "Q"):
        draw(tmp_path / f"{name}.dxf", (300.0, 240.0), {"A": along(270.0 if name == "P" else 30.0)}, {})
    draw(tmp_path / "S.dxf", (120.0, 240.0), {}, {})
    place = '[[place]]\npart = "{}"\norigin = [{}, 0, {}]\nx = [1, 0, 0]\ny = [0, 1, 0]\n'
    state = 'state = ["full", "drilled from mate"]'
    seams = "".join(
        f'[[seam]]\nmark = "{mark}"\nparts = ["{piece}/A", "S/S"]\nrivet = "R10"\n{state}\n'
        for mark, piece in (("A", "P"), ("B", "Q"))
    )
    pieces = {name: plate(f"{name}.dxf", 6) for name in ("P", "Q", "S")}
    made = planned(tmp_path, pieces, seams + place.format("Q", 300, 0) + place.format("S", 240, 6))
    assert made.body is not None
    strap = next(made.body.part_of(i) for i, one in enumerate(made.body.instances) if one.mark == "S")
    assert strap.holes.holes.number == tuple(f"S {k}" for k in range(1, 15))
    assert not told(made, "hole-used-twice")


@pytest.mark.parametrize("states", ['["mark", "full"]', '["full", "pilot"]', '["pilot", "pilot"]'])
def test_a_ply_cut_full_leaves_nothing_to_ream_for_fitted_bolts(tmp_path: Path, states: str) -> None:
    """A bolt of 12 in 12: what is drawn 12 in one ply can only be reamed larger."""
    sizes = {"mark": 3.0, "full": 12.0, "pilot": 11.0}
    one, other = (sizes[state] for state in states.strip('[]"').split('", "'))
    row, mate = (np.column_stack([along(260.0), np.full(7, size)]) for size in (one, other))
    made = lapped(tmp_path, FITTED + SEAM_B + f'fastener = "F12"\nstate = {states}\n', row=row, mate=mate)
    assert bool(told(made, "not-reamed")) is ("full" in states)


@pytest.mark.parametrize(("tight", "fastener"), [(True, "M10"), (False, "M10"), (True, "R10")])
def test_clearance_bolts_in_a_tight_seam_are_asked_about(tmp_path: Path, tight: bool, fastener: str) -> None:
    made = lapped(tmp_path, f'{BOLT}{SEAM_B}fastener = "{fastener}"\ntight = {str(tight).lower()}\n')
    assert bool(told(made, "leaky-bolt")) is (tight and fastener == "M10")


@pytest.mark.parametrize(("minutes", "dries"), [(16.8, False), (16.7, True)])
def test_faces_of_a_bolted_seam_are_told_and_timed(tmp_path: Path, minutes: float, dries: bool) -> None:
    """7 at 25 an hour take 7/25 of 60 minutes = 16.8; the rate of rivets, for want of another."""
    shop = f"[shop]\ncompound_minutes = {minutes}\n"
    made = lapped(tmp_path, f'{shop}{BOLT}{SEAM_B}fastener = "M10"\nfaying = "compound"\n')
    assert any(check.startswith("B: compound over both faying faces") and "17 min" in check for check in checks(made))
    found = [one for one in told(made, "compound-dries") if one.where.seam == "B"]
    assert [one.measured for one in found] == ([pytest.approx(16.8)] if dries else [])


def test_bolts_before_rivets_have_the_stated_order_as_their_reason(tmp_path: Path) -> None:
    order = '[[order]]\npieces = ["Q"]\nseams = ["B"]\n[[order]]\npieces = []\nseams = ["A"]\n'
    made = lapped(tmp_path, f'{BOLT}{SEAM_B}fastener = "M10"\n{order}')
    assert made.sequence is not None
    step = next(step for step in made.sequence.steps if step.kind == "bolt")
    assert step.reason == "the foreman's order in the job has it so"
