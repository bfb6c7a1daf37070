"""A begun job held against `plan`: pieces that its seams leave in doubt, or place otherwise, get places too."""

from collections.abc import Callable, Collection, Iterator, Sequence
from pathlib import Path

import numpy as np

from fabplan.body.place import Placing
from fabplan.errors import FabplanError
from fabplan.geom.match import near
from fabplan.geom.pose import to_outer
from fabplan.geom.prism import thick
from fabplan.model.body import Body
from fabplan.model.part import Part
from fabplan.model.pose import Pose
from fabplan.way.assembly import assembled
from fabplan.way.propose_told import away_words

PLACED = 1.0
"""Corners nearer than this, mm, are where they are shown: as far as holes that meet may be out."""

ROUNDS = 6
"""Times that places are stated for more pieces: each that is settled may show the next."""


def write_as_shown(
    path: Path, body: Body, datum: int, stated: Collection[int], write: Callable[[Sequence[int]], None]
) -> Iterator[str]:
    """Write a job until `plan` places all pieces as shown, and tell what it makes of it.

    Args:
        path: of the job.
        body: as it is shown.
        datum: the piece that it is set from.
        stated: pieces whose places the job states anyhow.
        write: writes the job with the places of more pieces.
    """
    more: list[int] = []
    for _ in range(ROUNDS):
        write(more)
        try:
            placing = assembled(path).placing
        except FabplanError as error:
            yield f"`plan` cannot place the pieces by these seams: {error}"
            return
        astray = _astray(placing, body)
        lacking = [i for i in _doubtful(placing, body) if i not in {*stated, *more}]
        lacking = lacking or [i for i in astray if i not in {*stated, *more}]
        if not lacking:
            break
        more += lacking
    if placing.upside_down:
        yield away_words(body.instances[datum].mark)
    which = "all pieces" if None not in body.poses else "all other pieces"
    yield _words(placing, [body.instances[i].mark for i in astray], which)


def _words(placing: Placing, astray: Sequence[str], which: str) -> str:
    if astray:
        return f"By these seams `plan` places {', '.join(astray)} otherwise than shown: look at its findings."
    if placing.doubt is not None or placing.faults or placing.datum_mirrored:
        return f"By these seams `plan` places {which} as shown, and reports a doubt or a seam that does not close."
    return f"By these seams `plan` places {which} as shown."


def _doubtful(placing: Placing, body: Body) -> list[int]:
    """The piece by which other bodies that fit as well differ, none where there are no others."""
    first = placing.doubt.marks[0] if placing.doubt is not None else None
    return [i for i, one in enumerate(body.instances) if one.mark == first]


def _astray(placing: Placing, body: Body) -> list[int]:
    """Pieces that are placed otherwise than shown."""
    return [
        i
        for i, (shown, pose) in enumerate(zip(body.poses, placing.body.poses, strict=True))
        if shown is not None and (pose is None or not _same(body.part_of(i), shown, pose))
    ]


def _same(part: Part, one: Pose, two: Pose) -> bool:
    """Whether metal and holes are where they are shown, whichever way round a piece alike on both sides lies."""
    corners = np.vstack([thick(panel).corners for panel in part.panels])
    holes = part.holes
    middles = [
        to_outer(part.panels[panel].frame, np.array([*xy, -part.panels[panel].thickness / 2.0]))
        for xy, panel in zip(holes.holes.xy, holes.panel, strict=True)
    ]
    return all(
        np.isin(np.arange(len(own)), near(to_outer(other, own), to_outer(pose, own), PLACED)[0]).all()
        for own in (corners, np.array(middles).reshape(-1, 3))
        for pose, other in ((one, two), (two, one))
        if len(own)
    )
