"""The fingerprint tells apart what is drawn, and nothing else: here of what does not close and of marks."""

import numpy as np
import pytest

from fabplan.drawing.fingerprint import fingerprint
from fabplan.model.drawing import Drawing, Line

CORNERS = [(0.0, 0.0), (40.0, 0.0), (40.0, 25.0), (3.0, 25.0)]


def line(*points: tuple[float, float]) -> Line:
    return Line("CUT", np.array(points))


def of(kind: str, *lines: Line) -> str:
    return fingerprint(Drawing("a.dxf", marks=lines) if kind == "marks" else Drawing("a.dxf", open_lines=lines))


@pytest.mark.parametrize("kind", ["marks", "open_lines"])
def test_lines_that_cut_nothing_have_their_say(kind: str) -> None:
    whole = of(kind, line(*CORNERS))
    pieces = (line(CORNERS[2], CORNERS[1]), line(CORNERS[2], CORNERS[3]), line(CORNERS[0], CORNERS[1]))
    assert of(kind, *pieces) == whole, "exploded, run backwards, in another order"
    assert len({whole, of(kind), of(kind, line(*CORNERS[:3], (3.0, 25.01)))}) == 3


def test_a_mark_is_no_open_line() -> None:
    assert of("marks", line(*CORNERS)) != of("open_lines", line(*CORNERS))
