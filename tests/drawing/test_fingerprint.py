"""The fingerprint tells apart what is drawn, and nothing else: here of what does not close and of marks."""

import numpy as np
import pytest

from fabplan.drawing.fingerprint import fingerprint
from fabplan.model.drawing import Drawing, Line

CORNERS = [(0.0, 0.0), (40.0, 0.0), (40.0, 25.0), (3.0, 25.0)]


def line(*points: tuple[float, float]) -> Line:
    return Line("CUT", np.array(points))


@pytest.mark.parametrize("kind", ["marks", "open_lines"])
def test_lines_that_cut_nothing_have_their_say(kind: str) -> None:
    whole = fingerprint(Drawing("a.dxf", **{kind: (line(*CORNERS),)}))
    pieces = (line(CORNERS[2], CORNERS[1]), line(CORNERS[2], CORNERS[3]), line(CORNERS[0], CORNERS[1]))
    assert fingerprint(Drawing("b.dxf", **{kind: pieces})) == whole, "exploded, run backwards, in another order"
    moved = [*CORNERS[:3], (3.0, 25.01)]
    assert len({whole, fingerprint(Drawing("a.dxf")), fingerprint(Drawing("a.dxf", **{kind: (line(*moved),)}))}) == 3


def test_a_mark_is_no_open_line() -> None:
    lines = (line(*CORNERS),)
    assert fingerprint(Drawing("a.dxf", marks=lines)) != fingerprint(Drawing("a.dxf", open_lines=lines))
