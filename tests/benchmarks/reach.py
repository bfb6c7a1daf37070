"""Reach of the bowser beside trimesh with embree: `python -m tests.benchmarks.reach`.

First the order of work of the bowser, the skip and a punt of 15,000 rivets, with the memory of the whole process.
Then `ways` with all that it prepares: every tool at every rivet, turn by turn until nothing stands in it, and which
pieces do. Beside it trimesh with 64 rays in each of the envelopes so tried: the rays are made and cast, and the first
metal on each is held against its length; the mesh is not made on its time, and which hits are the rivet's own plies is
not asked. Casting alone is told too. Asked: 15, 30 and 60 s, 2 GB; ahead of trimesh. Seconds are those of
the processor, which a busy machine does not stretch as it does the clock's; both are told.
"""

import os
import platform
import resource
import tempfile
import time
from pathlib import Path

import numpy as np

from fabplan.model.body import Body, Stacks
from fabplan.model.job import Job
from fabplan.rules.tables import read_tables
from fabplan.sequence import reach
from fabplan.sequence.order import order
from fabplan.sequence.reach import panels_of, ways
from tests.body.made import made
from tests.kits.bowser import bowser
from tests.kits.build import Kit
from tests.kits.punt import punt
from tests.kits.skip import skip
from tests.sequence.rays import Judge, rays_in

RAYS = 64
AT_A_TIME = 20_000
"""Envelopes whose rays are held in memory at a time."""

Placed = tuple[Job, Body, Stacks]


def placed(kit: Kit) -> Placed:
    """A kit put together."""
    with tempfile.TemporaryDirectory() as folder:
        result = made(kit, Path(folder))
    return result.job, result.body, result.stacks


def beside_rays(job: Job, body: Body, stacks: Stacks) -> None:
    """Print our time and trimesh's for the same envelopes."""
    tables = read_tables()
    start = time.process_time()
    ways(job, body, stacks, panels_of(body), tables)
    ours = time.process_time() - start
    reach.KEPT = 1000  # all that were tried are told
    judge = Judge(job, body, stacks, tables)
    envelopes, whole, casting, count = len(judge.ways.rivet), 0.0, 0.0, 0
    for first in range(0, envelopes, AT_A_TIME):
        some = np.arange(first, min(first + AT_A_TIME, envelopes))
        rods, _, _ = judge.pieces(some)
        start = time.process_time()
        rays = rays_in(rods, round(RAYS * len(some) / len(rods.start)), np.random.default_rng(first), 1.0)
        made_by = time.process_time()
        places, ray, _ = judge.mesh.ray.intersects_location(rays.origin, rays.way, multiple_hits=False)
        casting += time.process_time() - made_by
        np.unique(rays.piece[ray[np.linalg.norm(places - rays.origin[ray], axis=1) <= rays.length[ray]]])
        whole, count = whole + time.process_time() - start, count + len(rays.origin)
    print(f"bowser, {envelopes} envelopes: ours {ours:.1f} s; trimesh {whole:.1f} s for {count} rays, of which casting")
    print(f"{casting:.1f} s; {whole / ours:.1f} and {casting / ours:.1f} times ours")


def main() -> None:
    """Print all times."""
    machine = f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}"
    print(f"{machine}, load {os.getloadavg()[0]:.1f}")
    for name, kit in (("bowser", bowser()), ("skip", skip()), ("punt", punt(40, 19.0))):
        job, body, stacks = placed(kit)
        start, clock = time.process_time(), time.perf_counter()
        order(job, body, stacks, read_tables(), range(0, len(stacks), 3))
        took, by_clock = time.process_time() - start, time.perf_counter() - clock
        used = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
        figures = f"{took:.1f} s, {by_clock:.1f} s by the clock, {used:.0f} MB"
        print(f"{name}, {len(stacks)} rivets: order of work in {figures}", flush=True)
    beside_rays(*placed(bowser()))


if __name__ == "__main__":
    main()
