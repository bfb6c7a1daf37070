"""The fingerprint of a drawing: what is cut, drilled, marked, folded, written or left out, and nothing else."""

import hashlib
from itertools import pairwise

import numpy as np

from fabplan.drawing.circles import circle_through
from fabplan.geom.profile import merged
from fabplan.geom.rings import all_merged
from fabplan.geom.tolerance import FINGERPRINT
from fabplan.model.arrays import FloatArray
from fabplan.model.drawing import Drawing
from fabplan.model.profile import Profile


def fingerprint(drawing: Drawing) -> str:
    """SHA-256 in hex of profiles, holes, folds, marks, texts, lines open or set aside, and the thickness stated.

    At 0.001 mm, in canonical order and start.

    Blind to DXF version, handles and the order of entities; a turned or shifted drawing has another one.
    """
    lines = []
    if drawing.outline is not None:
        lines.append("outer " + _ring(merged(drawing.outline)))
    lines += sorted("inner " + _ring(cutout) for cutout in all_merged(drawing.cutouts))
    holes = drawing.holes
    grid = np.rint(np.column_stack([holes.xy, holes.diameter]) / FINGERPRINT).astype(np.int64).tolist()
    lines += sorted(
        f"hole {x} {y} {d} {purpose} {row}"
        for (x, y, d), purpose, row in zip(grid, holes.purpose, holes.row, strict=True)
    )
    lines += sorted(f"fold {fold.name} " + _line(fold.points.tolist()) for fold in (*drawing.folds, *drawing.rolls))
    for word, drawn in (("mark", drawing.marks), ("open", drawing.open_lines), ("aside", drawing.aside)):
        lines += sorted({f"{word} {step}" for one in drawn for step in _steps(one.points)})
    lines += sorted(f"text {_grid(label.xy[0])} {_grid(label.xy[1])} {label.text}" for label in drawing.labels)
    lines += [f"thickness {_grid(drawing.thickness)}"] if drawing.thickness is not None else []
    return hashlib.sha256("\n".join(lines).encode("utf-8", "surrogatepass")).hexdigest()


def _grid(value: float) -> int:
    return int(np.rint(value / FINGERPRINT))


def _ring(profile: Profile) -> str:
    """A closed line without needless corners, from its least vertex on."""
    circle = circle_through(profile.vertices, profile.bulges)
    if circle is not None:
        return f"circle {_grid(circle.x)},{_grid(circle.y)},{_grid(circle.diameter)}"
    values = np.column_stack([profile.vertices, profile.bulges * 1000.0])
    spans = np.rint(values / FINGERPRINT).astype(np.int64).tolist()
    start = spans.index(min(spans))
    return " ".join(f"{x},{y},{bulge}" for x, y, bulge in spans[start:] + spans[:start])


def _line(points: list[list[float]]) -> str:
    grid = [tuple(_grid(v) for v in point) for point in points]
    return " ".join(f"{x},{y}" for x, y in min(grid, grid[::-1]))


def _steps(points: FloatArray) -> list[str]:
    """The straight stretches of a line, each from its lesser end: the same for a polyline and its exploded lines."""
    grid = np.rint(points / FINGERPRINT).astype(np.int64).tolist()
    return [" ".join(f"{x},{y}" for x, y in sorted(pair)) for pair in pairwise(grid)]
