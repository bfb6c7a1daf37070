"""EN 1993-1-8:2005 clause 3.5, Table 3.3: limits of spacing worked out by hand for two holes and four plates.

d0 13: 2.2 x 13 = 28.6, 2.4 x 13 = 31.2, 1.2 x 13 = 15.6.   d0 22: 48.4, 52.8, 26.4.
t 5: 14 x 5 = 70, 4 x 5 + 40 = 60.   t 6: 84, 64.   t 10: 140, 80.   t 16: 14 x 16 = 224, capped at 200; 104.
"""

from typing import Any

import numpy as np
import pytest

from fabplan.geom.profile import rectangle
from tests.rules.plate import checks, findings, grid, plate

EN = "en1993-1-8-2005"
TABLE = [  # d0, t, least pitch, least row distance, staggered, least edge, greatest pitch, greatest edge exposed
    (13.0, 5.0, 28.6, 31.2, 15.6, 15.6, 70.0, 60.0),
    (13.0, 6.0, 28.6, 31.2, 15.6, 15.6, 84.0, 64.0),
    (22.0, 10.0, 48.4, 52.8, 26.4, 26.4, 140.0, 80.0),
    (22.0, 16.0, 48.4, 52.8, 26.4, 26.4, 200.0, 104.0),
]
rows = pytest.mark.parametrize("row", TABLE, ids=lambda row: f"d0 {row[0]:g} t {row[1]:g}")
Row = tuple[float, float, float, float, float, float, float, float]


def of(row: Row) -> dict[str, Any]:
    """Sizes of the row; a nominal rivet 1 mm under its hole, which these rules must not read."""
    return {"hole": row[0], "rivet_diameter": row[0] - 1.0, "thinner_outer": row[1], "thickness": row[1]}


@rows
def test_pitch(row: Row) -> None:
    layouts = [plate(grid(4, pitch), **of(row)) for pitch in (row[2] - 0.01, row[2], row[6], row[6] + 0.01)]
    close, least, greatest, wide = (findings(layout, EN) for layout in layouts)
    assert (least, greatest) == ((), ())
    assert [one.check for one in (*close, *wide)] == ["least-pitch", "greatest-pitch"]
    assert [one.required for one in (*close, *wide)] == pytest.approx([row[2], row[6]])


@rows
def test_rows_in_chain(row: Row) -> None:
    assert checks(plate(grid(4, row[6], 2, row[3] - 0.01), **of(row)), EN) == ["least-row-distance"]
    assert checks(plate(grid(4, row[6], 2, row[3]), **of(row)), EN) == []


@rows
def test_rows_staggered(row: Row) -> None:
    """Rows 1.2 d0 apart are allowed when the slant is 2.4 d0: half pitch sqrt(2.4^2 - 1.2^2) d0 = 2.0785 d0."""
    half = np.sqrt(2.4**2 - 1.2**2) * row[0]
    assert checks(plate(grid(4, 2.0 * half, 2, row[4], half), thinner_outer=99.0, hole=row[0]), EN) == []
    close = plate(grid(4, 2.0 * half, 2, row[4] - 0.01, half + 0.01), thinner_outer=99.0, hole=row[0])
    assert "least-row-distance" in checks(close, EN)
    slant = plate(grid(4, 2.0 * half - 0.1, 2, row[4], half - 0.05), thinner_outer=99.0, hole=row[0])
    assert checks(slant, EN) == ["stagger-diagonal"]


@rows
def test_edges(row: Row) -> None:
    def plated(left: float, below: float) -> list[str]:
        outline = rectangle(-left, -below, 5000.0, 5000.0)
        return checks(plate(grid(4, row[2]), outline=outline, exposed=True, **of(row)), EN)

    assert plated(row[5], row[5]) == []
    assert plated(row[5] - 0.01, row[5]) == ["least-end-distance"]
    assert plated(row[5], row[5] - 0.01) == ["least-edge-distance"]
    assert plated(row[7], row[7]) == []
    assert plated(row[7] + 0.01, row[7]) == ["greatest-end-distance"]
    assert plated(row[7], row[7] + 0.01) == ["greatest-edge-distance"]


def test_when_the_greatest_values_hold() -> None:
    """Notes of the table: tension and sheltered, no limit; tension and exposed, outer 14 t, inner 28 t; compression."""
    wide = grid(4, 150.0, 3, 130.0)  # t 10: 14 t = 140, 28 t = 280
    yes, no = np.ones(12, dtype=np.bool_), np.zeros(12, dtype=np.bool_)
    assert checks(plate(wide, tension=yes, compression=no, exposed=False), EN) == []
    (outer,) = findings(plate(wide, tension=yes, compression=no, exposed=True), EN)
    assert outer.check == "greatest-pitch"
    assert set(outer.where.holes) == {f"A {i}" for i in (1, 2, 3, 4, 9, 10, 11, 12)}  # the inner line keeps its 280
    (every,) = findings(plate(wide, tension=no, compression=yes, exposed=False), EN)
    assert len(every.where.holes) == 12
    (unstated,) = findings(plate(wide, exposed=False), EN)
    assert "load not stated" in unstated.what
    (weather,) = findings(plate(wide, tension=yes, compression=no, exposed=None), EN)
    assert "exposed, not stated" in weather.what


@pytest.mark.parametrize(
    ("edges", "pitch", "apart"), [((40.0, 50.0), 70.0, 60.0), ((50.0, 40.0), 60.0, 70.0)], ids=["upright", "level"]
)
def test_fin_plate(edges: tuple[float, float], pitch: float, apart: float) -> None:
    """Steel Buildings in Europe, Multi-storey part 5, p. 5-41: d0 22, t 10, e1 40, p1 70, e2 50, p2 60, roles turned.

    Ten fasteners in two lines; the book finds the layout sound: 26.4, 48.4 and 52.8 mm are the least values.
    """
    end, beside = edges
    outline = rectangle(-end, -beside, 4.0 * pitch + end, apart + beside)
    assert checks(plate(grid(5, pitch, 2, apart), outline=outline, exposed=True, hole=22.0), EN) == []
    close = rectangle(-26.39, -beside, 4.0 * pitch + end, apart + beside)
    assert checks(plate(grid(5, pitch, 2, apart), outline=close, exposed=True, hole=22.0), EN) == ["least-end-distance"]
