"""Lines and circles heaped on one spot: told once, accounted for, and cut as shapely's union says."""

import math
from collections import Counter
from pathlib import Path
from typing import Any

import ezdxf.filemanagement
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from fabplan.drawing import spans as rooms
from fabplan.drawing.alike import firsts
from fabplan.drawing.check import MANY
from fabplan.drawing.read import read_drawing
from fabplan.drawing.spans import Span, without_doubles
from fabplan.geom.near import nearest_pairs
from fabplan.model.checked import Checked
from fabplan.way.check import check_files

CUT = {"layer": "CUT"}


def plate(tmp_path: Path, draw: Any) -> Path:
    document = ezdxf.filemanagement.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (400, 0), (400, 300), (0, 300)], close=True, dxfattribs=CUT)
    draw(space)
    path = tmp_path / "heap.dxf"
    document.saveas(path)
    return path


def looked_at(path: Path) -> Checked:
    return check_files([path], (6.0, None), "en1993-1-8-2005", str)[0]


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 30), st.integers(1, 12)), min_size=1, max_size=40), st.floats(0.0, math.tau))
def test_a_heap_of_lines_is_kept_once(stretches: list[tuple[int, int]], turn: float) -> None:
    """Judge: the length of shapely's union of the lines; every line is taken as one of a heap."""
    along = np.array([math.cos(turn), math.sin(turn)])
    lines = [
        Span(tuple(along * low), tuple(along * (low + long)), 0.0, 0.0, str(k))
        for k, (low, long) in enumerate(stretches)
    ]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(rooms, "MANY", 0)
        kept, doubled = without_doubles(lines)
    truth = shapely.union_all([shapely.LineString([(low, 0), (low + long, 0)]) for low, long in stretches]).length
    assert abs(sum(span.length for span in kept) - truth) < 1e-6
    whole = sum(long for _, long in stretches)
    assert abs(sum(span.length for _, span in doubled) - (whole - truth)) < 1e-6


def test_equal_lines_are_one_finding_and_each_has_its_entry(tmp_path: Path) -> None:
    path = plate(tmp_path, lambda space: [space.add_line((50, 50), (150, 60), dxfattribs=CUT) for _ in range(300)])
    one = looked_at(path)
    told = [finding for finding in one.findings if finding.check == "doubled-line"]
    assert [finding.check for finding in one.findings if finding.level == 0] == ["doubled-line", "stray-line"]
    assert told[0].what.endswith(", by 299 entities")
    assert told[0].measured == pytest.approx(299 * math.hypot(100, 10))
    reasons = Counter((entry.fate, entry.reason) for entry in one.drawing.account)
    assert reasons == {
        ("used", "outer profile"): 1,
        ("reported", "closes no profile"): 1,
        ("reported", "drawn twice"): 299,
    }
    assert len(one.drawing.account) == one.drawing.scanned


def test_thousands_of_faults_of_a_kind_are_one_finding_with_count_and_extent(tmp_path: Path) -> None:
    def hatch(space: Any) -> None:
        for k in range(MANY + 1):
            space.add_line((50, 50 + 5 * k), (58 + 0.2 * k, 50 + 5 * k), dxfattribs=CUT)

    one = looked_at(plate(tmp_path, hatch))
    (told,) = [finding for finding in one.findings if finding.check == "stray-line"]
    assert told.measured == pytest.approx(8.0 + 0.2 * MANY)
    assert told.what.endswith(f"the worst of {MANY + 1} such between x 54.0 y 50.0 and x 57.0 y {50 + 5 * MANY:.1f}")
    assert len(told.where.handles) == MANY + 1


def test_near_holes_are_one_hole_and_concentric_ones_overlap(tmp_path: Path) -> None:
    def rings(space: Any) -> None:
        for k in range(100):
            space.add_circle((200, 150), 20 + 0.2 * k, dxfattribs={"layer": "RIVET A"})
            space.add_circle((300, 150 + 0.0004 * k), 20, dxfattribs={"layer": "RIVET A"})

    drawing = read_drawing(plate(tmp_path, rings))
    assert len(drawing.holes) == 101
    reasons = Counter(entry.reason for entry in drawing.account if entry.fate == "reported")
    assert reasons == {"drawn twice": 99}


@settings(max_examples=100, deadline=None)
@given(
    st.lists(st.tuples(*[st.floats(-0.05, 0.05)] * 4), max_size=30),
    st.sampled_from([0.01, 0.03]),
)
def test_the_first_of_its_kind_stays(rows: list[tuple[float, ...]], reach: float) -> None:
    """Judge: every pair compared in turn."""
    table = np.array(rows).reshape(-1, 4)

    def alike(one: int, other: int) -> bool:
        return bool(np.abs(table[one] - table[other]).max() <= reach)

    truth: list[int] = []
    for k in range(len(rows)):
        truth.append(next((j for j in range(k) if truth[j] == j and alike(j, k)), k))
    assert firsts(table, reach, alike) == truth


def test_a_heap_of_points_gives_the_nearest_pairs() -> None:
    """Judge: numpy's table of all distances."""
    xy = np.vstack([np.random.default_rng(1).uniform(0.0, 10.0, (60, 2)), np.full((5, 2), 3.0)])
    apart = np.linalg.norm(xy[:, None] - xy[None], axis=2)
    one, other = np.nonzero(np.triu(apart <= 8.0, 1))
    every, _ = nearest_pairs(xy, 8.0)
    assert every.tolist() == np.column_stack([one, other]).tolist()
    some, far = nearest_pairs(xy, 8.0, 100)
    assert 0 < len(some) <= 104
    held = {tuple(pair) for pair in some.tolist()}
    assert held <= {tuple(pair) for pair in every.tolist()}
    assert {(60 + k, 61 + k) for k in range(4)} <= held
    reach = far.max()
    spots = np.triu(apart <= reach, 1)
    spots[61:] = spots[:, 61:] = False
    assert int(spots.sum()) == len(some) - 4
