"""Seams of made plates and bars: job and drawings in, new drawings out, read by ezdxf and judged by tables.

EN 1993-1-8:2005, Table 3.3, exposed: pitch 2.2 d0 to the smaller of 14 t and 200 mm; ends and edges 1.2 d0 to
4 t + 40 mm; rows 2.4 d0 apart, staggered 1.2 d0 with 2.4 d0 on the slant. IS 800:2007, 10.2: pitch 2.5 d to 12 t
(compression) and 200 mm; next to an edge 4 t + 100 mm; edges 1.5 d0 (machine cut) to 4 t + 40 mm. Driving: 3 d
(Cyclopedia of Architecture, vol. 5). Tight: the smaller of 4.5 d and 1.31 t + 41.3 mm (from memory), edges 1.5 d
(Lineham).
"""

from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import ezdxf.filemanagement
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fabplan.model.finding import Level
from fabplan.way.assembly import assembled
from fabplan.way.setout import SetOut, set_out
from fabplan.way.setout_told import told
from tests.kits.build import Angle, Frame, Kit, Plate, Ring, Seam, disc, line, rectangle
from tests.kits.draw import STYLES, Style
from tests.setout.made import JOB, PLAIN, X, Y, lapped, on_bar, with_outline, write
from tests.setout.strip import circles

A = '[[setout]]\nseam = "A"\n'
SLACK = 1e-6


def laid(kit: Kit, folder: Path, more: str = A, style: Style = PLAIN) -> SetOut:
    return set_out(write(kit, folder / "job", more, style), folder / "out")


def clean(done: SetOut) -> None:
    assert done.not_laid == ()
    assert [one.rivets for one in done.proofs] == [one.count for one in done.laid]
    assert max(one.apart for one in done.proofs) <= SLACK
    assert [one for one in done.findings if one.level is not Level.NOTE] == []


@dataclass(frozen=True)
class Limits:
    """By hand, from the tables named above."""

    pitch: tuple[float, float]
    end: tuple[float, float]
    edge: tuple[float, float]


def limits(rules: str, d: float, t: float, tight: bool) -> Limits:
    hole = d + 1.0
    if rules == "en1993-1-8-2005":
        least, most, side, far = 2.2 * hole, min(14.0 * t, 200.0), 1.2 * hole, 4.0 * t + 40.0
    else:  # 10.2.4.3 speaks of edges beside the line alone
        least, most, side, far = 2.5 * d, min(12.0 * t, 200.0, 4.0 * t + 100.0), 1.5 * hole, float("inf")
    most = min(most, 4.5 * d, 1.31 * t + 41.3) if tight else most
    edge = max(side, 1.5 * d) if tight else side
    return Limits((max(least, 3.0 * d), most), (side, far), (edge, 4.0 * t + 40.0))


def possible(own: Limits, long: float, lap: float) -> bool:
    """Whether any row keeps the limits: some whole number of spaces between ends that the end distances allow."""
    (least, most), (near, far) = own.pitch, own.end
    if not own.edge[0] <= lap / 2.0 <= own.edge[1] or least > most:
        return False
    low, high = max(long - 2.0 * far, 0.0), long - 2.0 * near
    return any(n * least <= high and n * most >= low for n in range(1, int(max(high, 0.0) / least) + 1))


cases = st.tuples(
    st.sampled_from(("en1993-1-8-2005", "is800-2007")),
    st.floats(160.0, 1500.0),
    st.floats(20.0, 150.0),
    st.sampled_from((4.0, 5.0, 6.0, 8.0, 10.0)),
    st.sampled_from((8.0, 10.0, 12.0, 16.0)),
    st.booleans(),
)


@settings(max_examples=40)
@given(cases)
def test_any_lap_is_laid_within_the_tables_or_refused(case: tuple[str, float, float, float, float, bool]) -> None:
    rules, long, lap, thick, rivet, tight = case
    kit = lapped(long, lap, thick, rivet, tight=tight)
    kit.job["rules"] = rules
    own = limits(rules, rivet, thick, tight)
    with TemporaryDirectory() as name:
        done = laid(kit, Path(name))
        if done.not_laid:
            assert not possible(own, long, lap), done.not_laid[0].what
            assert len(done.not_laid[0].what) > 20
            return
        found = circles(Path(name) / "out" / "P1.dxf", "RIVET A")
        other = circles(Path(name) / "out" / "P2.dxf", "RIVET A")
    x, spaces = found[:, 0], np.diff(found[:, 0])
    assert found[:, 1] == pytest.approx(np.full(len(x), 200.0 - lap / 2.0), abs=1e-6)
    assert other + np.array([0.0, 200.0 - lap, 0.0]) == pytest.approx(found, abs=1e-6)
    assert np.ptp(spaces) <= SLACK
    assert own.pitch[0] - SLACK <= spaces[0] <= own.pitch[1] + SLACK
    for end in (float(x[0]), float(long - x[-1])):
        assert own.end[0] - SLACK <= end <= own.end[1] + SLACK
    assert own.edge[0] - SLACK <= lap / 2.0 <= own.edge[1] + SLACK
    assert not [one for one in done.findings if "distance" in one.check or "pitch" in one.check]


@pytest.mark.parametrize("style", [*STYLES, Style(offset=(-300.0, 70.0))], ids=lambda style: style.version)
def test_in_every_kind_of_drawing(style: Style, tmp_path: Path) -> None:
    """R12 to R2018, inches too, shifted on the sheet: 9 @ 40 = 360 of 400 mm."""
    done = laid(lapped(400.0, 40.0, 6.0, tight=True), tmp_path, style=style)
    clean(done)
    found = circles(tmp_path / "out" / "P2.dxf", "RIVET A")
    wanted = np.column_stack([20.0 + 40.0 * np.arange(10), np.full(10, 20.0), np.full(10, 11.0)])
    assert found - [*style.offset, 0.0] == pytest.approx(wanted, abs=1e-6)


@pytest.mark.parametrize("zigzag", [False, True])
def test_two_rows_side_by_side(zigzag: bool, tmp_path: Path) -> None:
    """Tight, 10 mm in 11, t 6: chain 2.4 d0 = 26.4, so 27 mm; zigzag at 40 mm 0.33 P + 0.67 D = 20.57, so 21 mm.

    The slant is then sqrt(21^2 + 20^2) = 29 >= 2.4 d0 = 26.4 mm. Two rivets in a pitch: 4.5 d = 45 < 2.62 t + 41.3.
    """
    done = laid(lapped(400.0, 70.0, 6.0, tight=True), tmp_path, A + f"rows = 2\nzigzag = {str(zigzag).lower()}\n")
    clean(done)
    found = circles(tmp_path / "out" / "P1.dxf", "RIVET A")
    first, second = (found[np.isclose(found[:, 1], y)] for y in np.unique(np.round(found[:, 1], 6)))
    apart = float(second[0, 1] - first[0, 1])
    assert (first[0, 1] + second[0, 1]) / 2.0 == pytest.approx(165.0)
    assert apart == pytest.approx(21.0 if zigzag else 27.0)
    fuller, other = (first, second) if len(first) >= len(second) else (second, first)
    assert np.diff(fuller[:, 0]) == pytest.approx(np.full(9, 40.0))
    if zigzag:
        assert other[:, 0] == pytest.approx((fuller[1:, 0] + fuller[:-1, 0]) / 2.0)
        assert np.hypot(20.0, apart) >= 26.4
    else:
        assert other[:, 0] == pytest.approx(fuller[:, 0])


def test_a_lap_too_wide_for_one_row_asks_for_two(tmp_path: Path) -> None:
    """4 t + 40 = 64 mm for t 6; a lap of 140 mm leaves 70. Two rows, 27 mm apart: 56.5."""
    kit = lapped(400.0, 140.0, 6.0)
    done = laid(kit, tmp_path / "one")
    assert "too wide for 1 row: 70 mm to its edge, greatest 4 t + 40 mm = 64 mm" in done.not_laid[0].what
    clean(laid(kit, tmp_path / "two", A + "rows = 2\n"))


def test_two_rows_on_a_leg(tmp_path: Path) -> None:
    """On an L100x100x10 the second row of the same name is numbered on, and the job written reads back."""
    kit = on_bar(600.0, Angle("B1", Frame((0.0, 0.0, 0.0), X, Y), (100.0, 100.0, 10.0), 600.0), 8.0)
    kit = Kit(kit.pieces, kit.seams, kit.job, rivet=(12.0, 13.0))
    done = laid(kit, tmp_path, A + "rows = 2\nzigzag = true\nback_mark = 40\nback_pitch = 30\n")
    clean(done)
    made = assembled(tmp_path / "out" / "job.toml")
    bar = next(part for part in made.placing.body.parts if part.mark == "B1")
    count = done.laid[0].count
    assert bar.holes.holes.number == tuple(f"A {k}" for k in range(1, count + 1))
    assert sorted({row.back_mark for row in bar.spec.rows}) == [40.0, 70.0]
    found = circles(tmp_path / "out" / "P1.dxf", "RIVET A")
    assert sorted(set(np.round(found[:, 1], 6))) == [340.0, 370.0]


def test_the_gauge_of_a_leg_and_round_figures(tmp_path: Path) -> None:
    """DIN 997 (from memory): L50 at 30 mm from the heel. 11 @ 51 = 561 of 600 mm: both ends alike, at 19.5 mm."""
    kit = on_bar(600.0, Angle("B1", Frame((0.0, 0.0, 0.0), X, Y), (50.0, 50.0, 6.0), 600.0), 6.0)
    done = laid(kit, tmp_path)
    clean(done)
    (row,) = done.rows["B1"]
    assert (row["leg"], row["back_mark"], row["diameter"]) == ("a", 30.0, 11.0)
    assert [row[key] for key in ("first", "last", "count")] == pytest.approx([19.5, 580.5, 12])


@pytest.mark.parametrize(("long", "pitch"), [(95.0, 50.0), (120.0, 46.0), (400.0, 51.0)])
def test_both_ends_are_alike_where_they_can_be(long: float, pitch: float, tmp_path: Path) -> None:
    """1, 2 and 7 spaces: (95 - 50) / 2 = 22.5, (120 - 92) / 2 = 14, (400 - 357) / 2 = 21.5 mm at either end."""
    done = laid(lapped(long, 60.0, 6.0), tmp_path)
    clean(done)
    x = circles(tmp_path / "out" / "P1.dxf", "RIVET A")[:, 0]
    assert np.diff(x) == pytest.approx(np.full(len(x) - 1, pitch))
    assert x[0] == pytest.approx(long - x[-1])


@pytest.mark.parametrize("corner", [False, True])
def test_a_row_that_does_not_run_along_its_bar(corner: bool, tmp_path: Path) -> None:
    """L80 at the back mark 40 to 55: with 12 holes 540 / 11 and 15 / 11 mm a space; of a corner the second half slants.

    Turned at 300: 5 spaces of 54 mm, then 5 that run 54 along and 3 across.
    """
    bar = Angle("B1", Frame((0.0, 0.0, 0.0), X, Y), (80.0, 80.0, 8.0), 600.0)
    way = "through = [[300, 40]]\n" if corner else ""
    done = laid(on_bar(600.0, bar, 6.0), tmp_path, f'{A}on = "B1/a"\nfrom = [30, 40]\n{way}to = [570, 55]\n')
    clean(done)
    x, y, _ = circles(tmp_path / "out" / "P1.dxf", "RIVET A").T
    if corner:
        assert (x, y - 300.0) == (
            pytest.approx(30.0 + 54.0 * np.arange(11)),
            pytest.approx(40.0 + 3.0 * np.maximum(np.arange(11) - 5, 0)),
        )
        return
    assert (x, y - 300.0) == (
        pytest.approx(30.0 + 540.0 / 11.0 * np.arange(12), abs=1e-5),
        pytest.approx(40.0 + 15.0 / 11.0 * np.arange(12), abs=1e-5),
    )
    assert [row["back_mark"] for row in done.rows["B1"]] == pytest.approx(40.0 + 15.0 / 11.0 * np.arange(12), abs=1e-6)


def test_a_limit_that_a_stated_row_breaks_is_not_said_to_be_kept(tmp_path: Path) -> None:
    """Its last hole 100 mm from the end: over 4 t + 40 = 64 mm, laid as stated, and told as the checks tell it."""
    done = laid(lapped(400.0, 40.0, 6.0), tmp_path, A + 'on = "P1"\nfrom = [20, 180]\nto = [300, 180]\n')
    assert {one.check for one in done.findings} == {"greatest-end-distance"}
    lines = list(told(done))
    assert any(line.startswith("  asked: end distance, greatest 64 mm") for line in lines)
    assert any(line.startswith("  kept: end distance, least 13.2 mm") for line in lines)


def test_plies_that_run_on_past_a_packing_keep_the_greatest_end_distance(tmp_path: Path) -> None:
    """S1 lies 50 mm inside P1 and P2: 4 t + 40 = 64 mm of these leave 14 mm of S1, which asks for 1.2 d0 = 13.2 mm."""
    kit = lapped(400.0, 60.0, 6.0)
    upper = Plate("P2", Frame((0.0, 140.0, 12.0), X, Y), rectangle(400.0, 200.0), 6.0)
    packing = Plate("S1", Frame((50.0, 140.0, 6.0), X, Y), rectangle(300.0, 60.0), 6.0)
    seam = replace(kit.seams[0], plies=("P2", "S1", "P1"))
    clean(laid(Kit([kit.pieces[0], upper, packing], [seam], kit.job), tmp_path))
    x = circles(tmp_path / "out" / "S1.dxf", "RIVET A")[:, 0]
    for end in (x[0], 300.0 - x[-1]):
        assert 13.2 <= end <= 14.0


def slotted(end: float) -> Ring:
    """The outline of a plate of 400 x 200 with a slot into its upper edge from x = 180 on."""
    corners = [(0.0, 0.0), (400.0, 0.0), (400.0, 200.0), (end, 200.0), (end, 140.0), (180.0, 140.0), (180.0, 200.0)]
    return [(x, y, 0.0) for x, y in (*corners, (0.0, 200.0))]


def test_an_opening_parts_the_row(tmp_path: Path) -> None:
    """A slot of 50 mm: 13.2 mm of metal to each side of it at least, and no more than 14 t = 84 mm through P2."""
    done = laid(with_outline(lapped(400.0, 40.0, 6.0), "P1", slotted(230.0)), tmp_path)
    clean(done)
    x = circles(tmp_path / "out" / "P1.dxf", "RIVET A")[:, 0]
    left, right = x[x < 180.0], x[x > 230.0]
    assert min(180.0 - left[-1], right[0] - 230.0) >= 13.2
    assert right[0] - left[-1] <= 84.0
    for stretch in (left, right):
        assert np.ptp(np.diff(stretch)) <= SLACK


def test_a_row_parted_too_widely_is_refused(tmp_path: Path) -> None:
    """A slot of 80 mm and 13.2 mm beside it are 106.4 mm of P2 without a rivet, over 14 t = 84."""
    done = laid(with_outline(lapped(400.0, 40.0, 6.0), "P1", slotted(260.0)), tmp_path)
    assert "P2 runs through there: greatest pitch the smaller of 14 t and 200 mm = 84 mm" in done.not_laid[0].what


def test_holes_of_other_rows_are_kept_clear(tmp_path: Path) -> None:
    """A row of another seam across the line at x = 200: 2.2 d0 = 24.2 mm from each of its holes."""
    kit = lapped(400.0, 60.0, 6.0)
    plate = kit.piece("P1")
    assert isinstance(plate, Plate)
    plate.rows["cross"] = np.array([[203.0, 130.0], [203.0, 172.0], [203.0, 196.0 - 2.0]])
    done = laid(kit, tmp_path)
    assert done.not_laid == ()
    found = circles(tmp_path / "out" / "P1.dxf", "RIVET A")[:, :2]
    apart = np.linalg.norm(found[:, None] - plate.rows["cross"][None], axis=2)
    assert apart.min() >= 24.2


def test_a_hole_of_no_seam_on_the_line_becomes_part_of_the_row(tmp_path: Path) -> None:
    """It keeps its place and its handle, and is drawn on the layer of the row; the mates are drilled there."""
    kit = lapped(400.0, 40.0, 6.0, tight=True)
    plate = kit.piece("P1")
    assert isinstance(plate, Plate)
    plate.rows["old"] = np.array([[173.0, 180.0]])
    done = laid(kit, tmp_path)
    clean(done)
    for name, y in (("P1", 180.0), ("P2", 20.0)):
        found = circles(tmp_path / "out" / f"{name}.dxf", "RIVET A")
        assert any(np.allclose(one, (173.0, y, 11.0)) for one in found)
        assert len(found) == done.laid[0].count
    old: Any = ezdxf.filemanagement.readfile(tmp_path / "job" / "P1.dxf")
    (hole,) = [one for one in old.modelspace() if one.dxf.layer == "RIVET old"]
    new: Any = ezdxf.filemanagement.readfile(tmp_path / "out" / "P1.dxf")
    assert new.entitydb[hole.dxf.handle].dxf.layer == "RIVET A"
    assert (int(done.laid[0].plies[1].new.sum()), done.laid[0].count) == (done.laid[0].count - 1, done.laid[0].count)
    assert any("there already and suit" in words for words in done.laid[0].why)


def test_holes_of_no_seam_that_do_not_suit_are_kept_clear_of(tmp_path: Path) -> None:
    """Two old holes 18 mm apart, under any pitch: they stay as they are, and the row keeps 24.2 mm (2.2 d0) off."""
    kit = lapped(400.0, 40.0, 6.0)
    plate = kit.piece("P1")
    assert isinstance(plate, Plate)
    plate.rows["old"] = np.array([[200.0, 180.0], [218.0, 180.0]])
    done = laid(kit, tmp_path)
    assert done.not_laid == ()
    x = circles(tmp_path / "out" / "P1.dxf", "RIVET A")[:, 0]
    assert np.abs(x[:, None] - [200.0, 218.0]).min() >= 24.2
    assert np.diff(x).max() <= 84.0
    assert len(circles(tmp_path / "out" / "P1.dxf", "RIVET old")) == 2


def test_a_row_that_one_ply_has_is_taken_over(tmp_path: Path) -> None:
    """An old plate's pattern, uneven as it is, is drilled into its mate (trade practice: the old holes are master)."""
    kit = lapped(400.0, 40.0, 6.0)
    plate = kit.piece("P1")
    assert isinstance(plate, Plate)
    x = np.array([22.0, 61.5, 104.25, 140.0, 181.0, 222.0, 260.5, 299.0, 340.0, 377.0])
    plate.rows["A"] = np.column_stack([x, np.full(10, 180.0)])
    done = laid(kit, tmp_path)
    clean(done)
    assert circles(tmp_path / "out" / "P2.dxf", "RIVET A")[:, 0] == pytest.approx(x, abs=1e-6)
    assert circles(tmp_path / "out" / "P1.dxf", "RIVET A")[:, 0] == pytest.approx(x, abs=1e-9)


def test_round_a_corner_with_a_hole_in_it(tmp_path: Path) -> None:
    """P2 lies wholly on P1: along one edge and up the next, a hole where it turns, each side in equal spaces."""
    lower = Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(400.0, 300.0), 6.0)
    upper = Plate("P2", Frame((0.0, 0.0, 6.0), X, Y), rectangle(400.0, 300.0), 6.0)
    kit = lapped(400.0, 40.0, 6.0)
    kit = Kit([lower, upper], kit.seams, kit.job)
    more = A + 'on = "P1"\nfrom = [20, 280]\nthrough = [[20, 20]]\nto = [380, 20]\n'
    done = laid(kit, tmp_path, more)
    clean(done)
    found = circles(tmp_path / "out" / "P1.dxf", "RIVET A")[:, :2]
    up, along = found[found[:, 0] < 20.0 + SLACK], found[found[:, 1] < 20.0 + SLACK]
    assert any(np.allclose(one, (20.0, 20.0)) for one in found)
    assert len(found) == len(up) + len(along) - 1
    assert np.ptp(np.diff(np.sort(up[:, 1]))) <= SLACK
    assert np.ptp(np.diff(np.sort(along[:, 0]))) <= SLACK


def test_between_two_places_in_the_body(tmp_path: Path) -> None:
    done = laid(lapped(400.0, 60.0, 6.0), tmp_path, A + 'on = "P2"\nfrom = [30, 175, 12]\nto = [370, 165, 12]\n')
    clean(done)
    found = circles(tmp_path / "out" / "P1.dxf", "RIVET A")[:, :2]
    assert found[[0, -1]] == pytest.approx(np.array([[30.0, 175.0], [370.0, 165.0]]))
    assert found == pytest.approx(
        line((30.0, 175.0, 0.0), (370.0, 165.0, 0.0), np.hypot(340.0, 10.0) / 7.0 + 1e-9)[:, :2]
    )


def test_several_pieces_in_one_file(tmp_path: Path) -> None:
    """Two plates in one drawing, each with its mark in it: holes go into the piece that they belong to."""
    kit = lapped(400.0, 40.0, 6.0, tight=True)
    job = write(kit, tmp_path / "job", A)
    one: Any = ezdxf.filemanagement.readfile(tmp_path / "job" / "P1.dxf")
    space = one.modelspace()
    space.add_lwpolyline([(0, 300), (400, 300), (400, 500), (0, 500)], close=True, dxfattribs={"layer": "CUT"})
    for text, y in (("P1", 60.0), ("P2", 420.0)):
        space.add_text(text, height=20.0, dxfattribs={"layer": "NOTE", "insert": (150.0, y)})
    one.saveas(tmp_path / "job" / "P1.dxf")
    text = job.read_text("utf-8").replace('drawing = "P2.dxf"', 'drawing = "P1.dxf"')
    text = text.replace("origin = [0.0, 160.0, 6.0]", "origin = [0.0, -140.0, 6.0]")
    job.write_text(text, "utf-8")
    done = set_out(job, tmp_path / "out")
    assert done.not_laid == ()
    assert [one.rivets for one in done.proofs] == [10]
    found = circles(tmp_path / "out" / "P1.dxf", "RIVET A")
    assert sorted(set(np.round(found[:, 1], 6))) == [180.0, 320.0]


def test_holes_that_are_opened_later_are_drawn_as_stated(tmp_path: Path) -> None:
    """Pilots of 9 mm for holes of 11, none in the ply drilled from its mate; spacing is that of the finished hole."""
    kit = lapped(400.0, 40.0, 6.0)
    text = write(kit, tmp_path / "job", A)
    states = 'rivet = "R10"\nstate = ["drilled from mate", "pilot"]'
    text.write_text(text.read_text("utf-8").replace('rivet = "R10"', states), "utf-8")
    (one,) = set_out(text, tmp_path / "none").not_laid
    assert "cut as pilot, and nothing says how large" in one.what
    text.write_text(text.read_text("utf-8").replace(A, f"{A}hole = 9\n"), "utf-8")
    done = set_out(text, tmp_path / "out")
    assert done.not_laid == ()
    assert set(circles(tmp_path / "out" / "P1.dxf", "RIVET A")[:, 2]) == {9.0}
    assert len(circles(tmp_path / "out" / "P2.dxf", "RIVET A")) == 0
    assert next(one.value for one in done.laid[0].bounds if one.words == "2.2 d0") == pytest.approx(24.2)


def test_a_letter_for_every_seam_that_a_drawing_serves(tmp_path: Path) -> None:
    """P2 is cut twice, for seam A and, turned end for end, for B: one letter alone would be wrong on one of them."""
    kit = lapped(400.0, 40.0, 6.0, tight=True)
    text = write(kit, tmp_path / "job", f'{A}\n[[setout]]\nseam = "B"\n')
    words = text.read_text("utf-8").replace('drawing = "P2.dxf"', 'drawing = "P2.dxf"\nquantity = 2')
    words = words.replace('part = "P2"', 'part = "P2-1"').replace('["P2", "P1"]', '["P2-1/A", "P1"]')
    words += '\n[[seam]]\nmark = "B"\nparts = ["P2-2/A", "P1"]\nrivet = "R10"\ntight = true\n'
    words += '\n[[place]]\npart = "P2-2"\norigin = [400, 40, 6]\nx = [-1, 0, 0]\ny = [0, -1, 0]\n'
    text.write_text(words, "utf-8")
    clean(set_out(text, tmp_path / "out"))
    assert list(written(tmp_path / "out" / "P2.dxf")) == ["A/B"]
    own = written(tmp_path / "out" / "P1.dxf")
    assert (own["B"][1] < 40.0, own["A"][1] > 160.0, len(own)) == (True, True, 2)


def test_letters_keep_off_what_is_written_there(tmp_path: Path) -> None:
    """The mark of P1, 6 mm high, stands where the letter would, beside the first hole (20, 180), and stays readable."""
    job = write(lapped(400.0, 40.0, 6.0, tight=True), tmp_path / "job", A)
    bare: Any = ezdxf.filemanagement.readfile(tmp_path / "job" / "P1.dxf")
    bare.modelspace().add_text("P1", height=6.0, dxfattribs={"layer": "MARK", "insert": (14.0, 187.0)})
    bare.saveas(tmp_path / "job" / "P1.dxf")
    clean(set_out(job, tmp_path / "out"))
    x, y = written(tmp_path / "out" / "P1.dxf")["A"]
    assert x >= 14.0 + 2.0 * 0.6 * 6.0 or x + 0.6 * 8.0 <= 14.0 or y >= 193.0 or y + 8.0 <= 187.0


def written(drawing: Path) -> dict[str, tuple[float, float]]:
    """Texts that are marked, and where their lower left corners are."""
    space: Any = ezdxf.filemanagement.readfile(drawing).modelspace()
    texts = [one for one in space.query("TEXT") if one.dxf.layer == "MARK"]
    return {one.dxf.text: (one.dxf.insert.x, one.dxf.insert.y) for one in texts}


def test_several_bars_of_one_mark_have_one_row(tmp_path: Path) -> None:
    """The second angle of the mark B1 takes over the row of the first; the plate gets holes for both."""
    bars = [
        Angle(f"B1-{k}", Frame((0.0, y, 0.0), X, Y), (50.0, 50.0, 6.0), 600.0, "B1") for k, y in ((1, 0.0), (2, 100.0))
    ]
    kit = on_bar(600.0, bars[0], 6.0)
    first = kit.seams[0]
    kit = Kit([*kit.pieces, bars[1]], [first, replace(first, mark="B", plies=("B1-2/A", "P1"))], kit.job)
    done = laid(kit, tmp_path, f'{A}\n[[setout]]\nseam = "B"\n')
    clean(done)
    assert len(done.rows["B1"]) == 1
    assert done.laid[1].plies[0].new.sum() == 0
    one, other = (circles(tmp_path / "out" / "P1.dxf", f"RIVET {row}") for row in ("A", "B"))
    assert one[:, 0] == pytest.approx(other[:, 0])
    assert other[:, 1] - one[:, 1] == pytest.approx(np.full(len(one), 100.0))


def test_a_job_whose_bars_stand_in_a_sheet(tmp_path: Path) -> None:
    """Rows of bars in a sheet are given to be put in by hand; sheets of plates alone go with the job."""
    kit = on_bar(600.0, Angle("B1", Frame((0.0, 0.0, 0.0), X, Y), (50.0, 50.0, 6.0), 600.0), 6.0)
    job = write(kit, tmp_path / "job", A)
    before, _, rest = job.read_text("utf-8").partition("[[part]]")
    _, _, seams = rest.partition("[[seam]]")
    sheet = "mark,drawing,section,thickness,length\nP1,P1.dxf,,6,\nB1,,L50x50x6,,600\n"
    (tmp_path / "job" / "parts.csv").write_text(sheet, "utf-8")
    job.write_text(f'parts = "parts.csv"\n{before}[[seam]]{seams}', "utf-8")
    done = set_out(job, tmp_path / "out")
    assert (done.not_laid, done.job_file, len(done.rows["B1"])) == ((), False, 1)
    assert any("put these rows in" in words for words in told(done))
    plates = write(lapped(400.0, 40.0, 6.0), tmp_path / "two", A)
    before, _, rest = plates.read_text("utf-8").partition("[[part]]")
    _, _, seams = rest.partition("[[seam]]")
    sheet = "mark,drawing,thickness\nP1,P1.dxf,6\nP2,P2.dxf,6\n"
    (tmp_path / "two" / "parts.csv").write_text(sheet, "utf-8")
    plates.write_text(f'parts = "parts.csv"\n{before}[[seam]]{seams}', "utf-8")
    clean(set_out(plates, tmp_path / "more"))


def test_a_circle_that_is_turned_past_holes_of_no_seam_says_so(tmp_path: Path) -> None:
    """Two holes on the circle itself: it starts past them, and tells whose they are."""
    base = Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(800.0, 700.0), 8.0)
    base.rows["old"] = np.array([[588.0, 350.0], [212.0, 350.0]])
    ring = Plate("P2", Frame((400.0, 350.0, 8.0), X, Y), disc(225.0), 8.0, round_cutouts=[(0.0, 0.0, 150.0)])
    kit = Kit([base, ring], [Seam("A", ("P2", "P1"), np.zeros((0, 3)), (0.0, 0.0, -1.0))], {**JOB})
    (one,) = laid(kit, tmp_path, A + 'on = "P2"\ncircle = { centre = [0, 0], radius = 188 }\n').laid
    assert any(words.startswith("stepped around: a hole of P1, row old, is too near") for words in one.why)
    drawing: Any = ezdxf.filemanagement.readfile(tmp_path / "out" / "P2.dxf")
    marks = [one.dxftype() for one in drawing.modelspace().query('*[layer=="MARK"]')]
    assert marks == ["TEXT"]  # its letter: a round has no end from which a line would run
    old = np.array([[188.0, 0.0], [-188.0, 0.0]])  # 2.2 d0 = 24.2 mm: EN 1993-1-8:2005, Table 3.3
    assert np.linalg.norm(one.plies[0].xy[:, None] - old[None], axis=2).min() >= 24.2


@pytest.mark.parametrize(("stated", "told_so"), [("", False), ("pitch = 36\n", True), ("end_distance = 30\n", True)])
def test_what_is_stated_of_a_row_that_is_there_is_said_to_be_passed_over(
    stated: str, told_so: bool, tmp_path: Path
) -> None:
    kit = lapped(400.0, 60.0, 6.0)
    plate = kit.piece("P1")
    assert isinstance(plate, Plate)
    plate.rows["A"] = line((20.0, 170.0, 0.0), (380.0, 170.0, 0.0), 45.0)[:, :2]
    done = laid(kit, tmp_path, A + stated)
    clean(done)
    assert done.laid[0].count == 9
    (why,) = (words for words in done.laid[0].why if words.startswith("taken over from P1"))
    assert ("passed over" in why) is told_so
