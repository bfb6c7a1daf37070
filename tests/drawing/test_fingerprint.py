"""The fingerprint tells apart what is drawn and stated, and nothing else."""

from dataclasses import replace

import numpy as np
import pytest

from fabplan.drawing.fingerprint import fingerprint
from fabplan.model.drawing import Drawing, Label, Line

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


def test_texts_lines_set_aside_and_thickness_have_their_say() -> None:
    one, other = Label("t = 6", (10.0, 5.0), 2.5, "NOTE", "A1"), Label("face up", (0.0, 0.0), 2.5, "NOTE", "A2")
    told = fingerprint(Drawing("a.dxf", labels=(one, other)))
    assert told == fingerprint(Drawing("a.dxf", labels=(replace(other, handle="7"), replace(one, handle="8"))))
    changed = (replace(one, text="t = 8"), replace(one, xy=(10.0, 5.01)))
    unlike = {fingerprint(Drawing("a.dxf", labels=(each, other))) for each in changed}
    plain = Drawing("a.dxf")
    unlike |= {fingerprint(plain), *(fingerprint(replace(plain, thickness=thickness)) for thickness in (6.0, 8.0))}
    unlike.add(fingerprint(replace(plain, aside=(line(*CORNERS),))))
    assert len(unlike | {told}) == 7
