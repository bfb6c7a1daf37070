"""The metal of a drawing: its pieces with their cut-outs, how deep holes lie in it, and holes as places of findings."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.geom.facing import Narrows, narrows
from fabplan.geom.inside import edge_distance, inside
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.drawing import Drawing
from fabplan.model.finding import Where
from fabplan.model.profile import Profile


def plates(drawing: Drawing) -> list[tuple[Profile, tuple[Profile, ...]]]:
    """The pieces of metal of a drawing, each with its cut-outs."""
    if drawing.outline is None:
        return []
    return [(shape.outline, shape.cutouts) for shape in drawing.shapes] or [(drawing.outline, drawing.cutouts)]


def depth(drawing: Drawing) -> FloatArray:
    """(n,) distance from each hole's centre to the nearest edge, negative outside the metal, mm.

    Of several pieces of metal in one drawing that one counts in which the hole lies deepest.
    """
    holes, pieces = drawing.holes, plates(drawing)
    if not pieces or not len(holes):
        return np.full(len(holes), np.inf)
    deepest: FloatArray = np.max([_depth(holes.xy, outline, cutouts) for outline, cutouts in pieces], axis=0)
    return deepest


def _depth(xy: FloatArray, outline: Profile, cutouts: Sequence[Profile]) -> FloatArray:
    """(n,) distance from points (n, 2) to the nearest edge of one piece, negative outside its metal, mm."""
    distance, _ = edge_distance(outline, xy)
    distance = np.where(inside(outline, xy), distance, -distance)
    for cutout in cutouts:
        away, _ = edge_distance(cutout, xy)
        distance = np.minimum(distance, np.where(inside(cutout, xy), -away, away))
    return distance


def by_row(drawing: Drawing, index: IntArray) -> Iterator[IntArray]:
    """Numbers of holes, those of one row together: one fault of a row is told once."""
    rows = [drawing.holes.row[i] for i in index]
    for row in dict.fromkeys(rows):
        yield index[[name == row for name in rows]]


def at_holes(drawing: Drawing, *index: int) -> Where:
    """The place of a finding on holes; the first gives the spot."""
    holes = drawing.holes
    x, y = holes.xy[index[0]].tolist()
    return Where(
        drawing=drawing.name,
        handles=tuple(holes.handle[i] for i in index),
        holes=tuple(holes.number[i] for i in index),
        xy=(x, y),
    )


def named(drawing: Drawing, index: IntArray) -> str:
    """Holes in words: the first by its number, the rest by their count."""
    more = f" and {len(index) - 1} more" if len(index) > 1 else ""
    return f"hole {drawing.holes.number[int(index[0])]}{more}"


def crossed(drawing: Drawing, *profiles: Profile) -> bool:
    """True where profiles are already found to cross one another or themselves."""
    told = [set(found.where.handles) for found in drawing.findings if found.check == "crossing-lines"]
    own = {handle for profile in profiles for handle in profile.handles} if told else set()
    return any(handles and handles <= own for handles in told)


def sound_profiles(drawing: Drawing) -> list[Profile]:
    """All profiles of a drawing that are not already found to cross themselves."""
    own = [profile for outline, cutouts in plates(drawing) for profile in (outline, *cutouts)]
    return [profile for profile in own if not crossed(drawing, profile)]


@dataclass(frozen=True, slots=True, eq=False)
class NearItself:
    """The sound profiles of a drawing, and where each comes near itself."""

    profiles: list[Profile]
    narrows: Narrows


def near_itself(drawing: Drawing, limit: float) -> NearItself:
    """Where profiles come nearer to themselves than about `limit`, mm: narrow slots and narrow necks."""
    profiles = sound_profiles(drawing)
    return NearItself(profiles, narrows(profiles, limit))
