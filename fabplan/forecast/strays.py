"""The errors of one batch of bodies: where every hole strays across its rivet, its size, how thick the plates are."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.forecast.layers import Layers
from fabplan.forecast.makes import Make
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.body import Body, Stacks


@dataclass(frozen=True, slots=True, eq=False)
class Crew:
    """One instance's share of the plies.

    Attributes:
        make: how it strays.
        ply: (q,) its plies, and `hole` (q,) the hole of each.
        across: (q, 2, 2) from its panels' x and y to the two sides across each rivet.
        shift: (q, 2, f) of each fold's standard error, along the same sides.
    """

    make: Make
    ply: IntArray
    hole: IntArray
    across: FloatArray
    shift: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Strays:
    """A batch of c bodies: (k, 2, c) offsets, (k, c) diameters' errors, (p, c) gaps of pairs by thickness. mm."""

    offset: FloatArray
    size: FloatArray
    apart: FloatArray


def crews(body: Body, stacks: Stacks, found: Layers, makes: Sequence[Make]) -> tuple[Crew, ...]:
    """The plies by instance."""
    owner = np.repeat(np.arange(len(stacks)), np.diff(stacks.first))
    made = []
    for i in range(len(body.instances)):
        ply, pose = np.flatnonzero(stacks.ply_instance == i), body.poses[i]
        if len(ply) and pose is not None:
            part, make = body.part_of(i), makes[body.instances[i].part]
            hole, sides = stacks.ply_hole[ply], found.sides[owner[ply]]
            axes = np.array([panel.frame.rotation[:, :2] for panel in part.panels])[stacks.ply_panel[ply]]
            across = np.einsum("qij,jk,qkl->qil", sides, pose.rotation, axes)
            shift = np.einsum("qij,jk,qfk->qif", sides, pose.rotation, make.shift[hole])
            made.append(Crew(make, ply, hole, across, shift))
    return tuple(made)


def thickened(body: Body, stacks: Stacks, found: Layers) -> tuple[BoolArray, BoolArray]:
    """(p,) of each pair, whether the face of the first ply, and of the second, towards the other is its back face."""
    outward = np.zeros((len(stacks.ply_hole), 3))
    for k, (i, panel) in enumerate(zip(stacks.ply_instance.tolist(), stacks.ply_panel.tolist(), strict=True)):
        pose = body.poses[i]
        assert pose is not None, "only placed pieces have stacks"
        outward[k] = pose.rotation @ body.part_of(i).panels[panel].frame.rotation[:, 2]
    along = np.einsum("pi,pi->p", outward[found.ply], found.pairs.axis)
    before = np.einsum("pi,pi->p", outward[found.ply + 1], found.pairs.axis)
    return np.asarray(along < 0.0), np.asarray(before > 0.0)


def strays(
    rng: np.random.Generator, crews: Sequence[Crew], found: Layers, backs: tuple[BoolArray, BoolArray], count: int
) -> Strays:
    """The errors of a batch of `count` bodies."""
    offset, size = np.zeros((len(found.drawn), 2, count)), np.zeros((len(found.drawn), count))
    thick = np.zeros((len(found.drawn), count))
    for crew in crews:
        make = crew.make
        own = np.einsum("nm,mic->nic", make.mix, rng.standard_normal((len(make.mix), 2, count)), optimize=True)
        folds = rng.standard_normal((make.shift.shape[1], count))
        offset[crew.ply] = np.einsum("qij,qjc->qic", crew.across, own[crew.hole]) + crew.shift @ folds
        size[crew.ply] = make.size[crew.hole, None] * rng.standard_normal((len(crew.ply), count))
        thick[crew.ply] = make.thick[0] + make.thick[1] * rng.standard_normal(count)
    offset[found.taken] = 0.0
    apart = -(backs[0][:, None] * thick[found.ply] + backs[1][:, None] * thick[found.ply + 1])
    return Strays(offset, size, apart)
