"""Skins of triangles: of a plate with its holes, and of a body of revolution. Closed, normals outwards."""

from dataclasses import dataclass

import numpy as np
import shapely

from fabplan.geom.prism import polygon
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.panel import Panel

GRID = 1e-4
"""Corners of a face lie on this grid, mm, so that holes over an edge leave no slivers."""


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """Vertices (n, 3), mm, and triangles (m, 3) as indices, counter-clockwise seen from outside."""

    vertices: FloatArray
    triangles: IntArray


def joined(meshes: list[Mesh]) -> Mesh:
    """Several skins, or none, as one."""
    shift = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes)])
    triangles = [mesh.triangles + start for mesh, start in zip(meshes, shift[:-1], strict=True)]
    vertices = [mesh.vertices for mesh in meshes]
    return Mesh(np.concatenate([np.empty((0, 3)), *vertices]), np.concatenate([np.empty((0, 3), np.int64), *triangles]))


def ring(xy: FloatArray, diameter: FloatArray, sides: int) -> FloatArray:
    """Regular polygons (n, sides, 2) that enclose just the areas of circles at (n, 2) with diameters (n,), mm."""
    turn = 2.0 * np.pi * np.arange(sides) / sides
    radius = diameter / 2.0 * np.sqrt(2.0 * np.pi / sides / np.sin(2.0 * np.pi / sides))
    corners: FloatArray = xy[:, None, :] + radius[:, None, None] * np.column_stack([np.cos(turn), np.sin(turn)])
    return corners


def panel_mesh(panel: Panel, xy: FloatArray, diameter: FloatArray, sides: int) -> Mesh:
    """The skin of a panel, in its own frame, with round holes at (n, 2) of diameters (n,), mm."""
    holes = shapely.union_all(shapely.polygons(ring(xy, diameter, sides)))
    face = shapely.difference(polygon(panel.outline, panel.cutouts), holes, grid_size=GRID)
    face = shapely.orient_polygons(face)
    return joined([_prism(part, panel.thickness) for part in shapely.get_parts(face) if not part.is_empty])


def _prism(face: shapely.Polygon, thickness: float) -> Mesh:
    lines = [np.asarray(line.coords)[:-1] for line in (face.exterior, *face.interiors)]
    points = np.concatenate(lines)
    count = len(points)
    here = np.arange(count)
    following = here + 1
    last = np.cumsum([len(line) for line in lines])
    following[last - 1] = last - [len(line) for line in lines]
    top = _flat(face, points)
    down = np.column_stack([following, here, here + count])
    up = np.column_stack([here + count, following + count, following])
    vertices = np.vstack([np.column_stack([points, np.full(count, z)]) for z in (0.0, -thickness)])
    return Mesh(vertices, np.concatenate([top, top[:, ::-1] + count, down, up]))


def _flat(face: shapely.Polygon, points: FloatArray) -> IntArray:
    """Triangles (m, 3) that fill a face, counter-clockwise, as indices of its corners (n, 2)."""
    triangles = shapely.orient_polygons(shapely.constrained_delaunay_triangles(face))
    corners = shapely.get_coordinates(triangles).reshape(-1, 4, 2)[:, :3].reshape(-1, 2)
    known = points @ [1.0, 1.0j]  # complex numbers sort by x, then by y
    order = np.argsort(known)
    found: IntArray = order[np.searchsorted(known[order], corners @ [1.0, 1.0j])]
    return found.reshape(-1, 3)


def turned_about_z(radius: FloatArray, height: FloatArray, sides: int) -> Mesh:
    """The skin of a body of revolution about z, from its half section.

    Args:
        radius: (n,) mm, 0 at both ends only.
        height: (n,) mm; the section runs upwards with the metal on its left, towards the axis.
        sides: corners of each ring, set so that each level holds the area of its circle.
    """
    middle = len(radius) - 2
    rings = ring(np.zeros((middle, 2)), 2.0 * radius[1:-1], sides)
    rim = np.concatenate([rings, np.repeat(height[1:-1], sides).reshape(middle, sides, 1)], axis=2)
    vertices = np.vstack([[0.0, 0.0, height[0]], rim.reshape(-1, 3), [0.0, 0.0, height[-1]]])
    here = 1 + np.arange(sides)
    following = np.roll(here, -1)
    level = sides * np.arange(middle - 1)[:, None]
    lower = np.stack([here + level, following + level, following + level + sides], axis=2).reshape(-1, 3)
    upper = np.stack([here + level, following + level + sides, here + level + sides], axis=2).reshape(-1, 3)
    foot = np.column_stack([np.zeros(sides, dtype=np.int64), following, here])
    top = sides * (middle - 1)
    tip = np.column_stack([here + top, following + top, np.full(sides, len(vertices) - 1)])
    return Mesh(vertices, np.concatenate([foot, lower, upper, tip]))
