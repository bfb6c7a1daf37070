"""A judge of reach that shares no geometry with the program: trimesh casts rays with embree inside the tools."""

from dataclasses import dataclass

import numpy as np
import trimesh

from fabplan.geom.envelope import Rods
from fabplan.geom.prism import Solid
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.body import Body, Stacks
from fabplan.model.job import Job
from fabplan.model.tables import Tables
from fabplan.sequence.reach import panels_of, ways
from fabplan.sequence.tools import chains, seats


def mesh_of(one: Solid) -> trimesh.Trimesh:
    """A panel as trimesh extrudes it."""
    mesh = trimesh.creation.extrude_polygon(one.face, one.thickness)
    mesh.apply_translation([0.0, 0.0, -one.thickness])
    mesh.vertices = mesh.vertices @ one.frame.rotation.T + one.frame.origin
    return mesh


@dataclass(frozen=True)
class Rays:
    """Segments inside tools: origins and unit directions (r, 3), lengths (r,) in mm, and the piece of each (r,)."""

    origin: FloatArray
    way: FloatArray
    length: FloatArray
    piece: IntArray


def rays_in(rods: Rods, count: int, rng: np.random.Generator, inset: float) -> Rays:
    """`count` segments in each of n rods and bars, `inset` mm under their skins; half of them chords, half lengthwise.

    Half of the feet lie on the skin so left, the others anywhere within; of a bar two thirds lie at its round ends.
    """
    n = len(rods.start)
    far = np.linalg.norm(rods.across, axis=1)
    first = np.cross(np.eye(3)[np.abs(rods.axis).argmin(axis=1)], rods.axis)
    first /= np.linalg.norm(first, axis=1)[:, None]
    first = np.where(far[:, None] > 0.0, rods.across / np.maximum(far, 1e-9)[:, None], first)
    second = np.cross(rods.axis, first)

    def feet() -> FloatArray:
        turn = rng.uniform(0.0, 2.0 * np.pi, (n, count))
        out = np.where(rng.random((n, count)) < 0.5, 1.0, np.sqrt(rng.random((n, count))))
        out *= (rods.radius - inset)[:, None]
        share = np.clip(rng.uniform(-1.0, 2.0, (n, count)), 0.0, 1.0) * far[:, None]
        along = (np.cos(turn) * out + share)[:, :, None] * first[:, None]
        return np.asarray(rods.start[:, None] + along + (np.sin(turn) * out)[:, :, None] * second[:, None])

    heights = [inset + rng.random((n, count)) * (rods.length - 2.0 * inset)[:, None] for _ in range(2)]
    near, beyond = feet(), feet()
    lengthwise = np.arange(count) % 2 == 0
    heights[0][:, lengthwise], heights[1][:, lengthwise] = inset, (rods.length - inset)[:, None]
    beyond[:, lengthwise] = near[:, lengthwise]
    start, end = (
        foot + height[:, :, None] * rods.axis[:, None] for foot, height in zip((near, beyond), heights, strict=True)
    )
    way = (end - start).reshape(-1, 3)
    length = np.linalg.norm(way, axis=1)
    return Rays(start.reshape(-1, 3), way / np.maximum(length, 1e-9)[:, None], length, np.repeat(np.arange(n), count))


class Judge:
    """A body, its ways of reach, and its panels as trimesh sees them."""

    def __init__(self, job: Job, body: Body, stacks: Stacks, tables: Tables, bolts: BoolArray | None = None) -> None:
        self.stacks, self.panels = stacks, panels_of(body)
        self.ways = ways(job, body, stacks, self.panels, tables, bolts)
        self.seats = seats(job, stacks, tables)
        meshes = [mesh_of(one) for one in self.panels.solids]
        self.mesh: trimesh.Trimesh = trimesh.util.concatenate(meshes)  # type: ignore[assignment]
        self.panel = np.repeat(np.arange(len(meshes)), [len(mesh.faces) for mesh in meshes])

    def pieces(self, index: IntArray) -> tuple[Rods, IntArray, IntArray]:
        """All pieces of some ways (w,); the way of each, and 1 for those that the rivet's own plies count for."""
        found: list[tuple[Rods, IntArray, IntArray]] = []
        ways = self.ways
        side = np.where(np.array([tool.use == "squeeze" for tool in ways.tools])[ways.tool], 1, ways.side)
        for key in np.unique(np.stack([ways.tool[index], side[index], ways.stance[index]]), axis=1).T.tolist():
            own = index[(ways.tool[index] == key[0]) & (side[index] == key[1]) & (ways.stance[index] == key[2])]
            seat, rivet = self.seats[key[1]], ways.rivet[own]
            for piece in chains(ways.tools[key[0]], seat)[key[2]][0].pieces:
                out = seat.out[rivet]
                start = seat.foot[rivet] + piece.start[rivet, None] * out + piece.aside * ways.aside[own]
                rods = Rods(start, out, piece.length[rivet], piece.radius[rivet], piece.across * ways.aside[own])
                found.append((rods, own, np.full(len(own), int(piece.plies))))
        rods = Rods(
            np.vstack([one.start for one, _, _ in found]),
            np.vstack([one.axis for one, _, _ in found]),
            np.concatenate([one.length for one, _, _ in found]),
            np.concatenate([one.radius for one, _, _ in found]),
            np.vstack([one.across for one, _, _ in found]),
        )
        return rods, np.concatenate([own for _, own, _ in found]), np.concatenate([flag for _, _, flag in found])

    def touched(self, index: IntArray, count: int, inset: float) -> IntArray:
        """Those of some ways in which one of `count` rays a piece meets metal that is no ply of the rivet."""
        rods, way, plies = self.pieces(index)
        rays = rays_in(rods, count, np.random.default_rng(3), inset)
        places, ray, face = self.mesh.ray.intersects_location(rays.origin, rays.way, multiple_hits=True)
        inside = np.linalg.norm(places - rays.origin[ray], axis=1) <= rays.length[ray]
        ray, panel = ray[inside], self.panel[face[inside]]
        rivet = self.ways.rivet[way[rays.piece[ray]]]
        own = np.array([self._own(int(i), int(k)) for i, k in zip(rivet, panel, strict=True)], dtype=np.bool_)
        met = ~own | (plies[rays.piece[ray]] == 1)
        return np.unique(way[rays.piece[ray[met]]])

    def _own(self, rivet: int, panel: int) -> bool:
        """True for a panel that the rivet holds, or a facet of the same round beside it."""
        normal = self.panels.solids[panel].frame.rotation[:, 2]
        for k in range(int(self.stacks.first[rivet]), int(self.stacks.first[rivet + 1])):
            instance, number = int(self.stacks.ply_instance[k]), int(self.stacks.ply_panel[k])
            if instance == self.panels.owner[panel]:
                if number == self.panels.panel[panel]:
                    return True
                at = int(np.nonzero((self.panels.owner == instance) & (self.panels.panel == number))[0][0])
                beside = float(normal @ self.panels.solids[at].frame.rotation[:, 2]) > np.cos(np.radians(14.0))
                if beside and self.panels.facet[panel] and self.panels.facet[at]:
                    return True
        return False
