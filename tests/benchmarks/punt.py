"""Placing a large body: `python -m tests.benchmarks.punt [BAYS] [PITCH]`; 40 bays at 16.5 mm, 317 pieces by default.

Asked: 300 pieces with 35,000 holes placed in under 60 s on two cores.
"""

import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from tests.body.made import made, true_pose
from tests.kits.punt import punt


def main(bays: int, pitch: float) -> None:
    """Put the punt together and hold it against its known truth."""
    kit = punt(bays, pitch)
    holes = sum(len(seam.points) * len(seam.plies) for seam in kit.seams)
    with tempfile.TemporaryDirectory() as folder:
        start = time.perf_counter()
        result = made(kit, Path(folder))
        took = time.perf_counter() - start
    off = 0.0
    for instance, pose in zip(result.body.instances, result.body.poses, strict=True):
        assert pose is not None, instance.mark
        off = max(off, float(np.abs(pose.origin - true_pose(kit, instance.mark).origin).max()))
    print(
        f"{len(kit.pieces)} pieces, {holes} holes: made, placed and checked in {took:.1f} s, {off:.2g} mm off the truth"
    )


if __name__ == "__main__":
    bays, pitch = (*sys.argv[1:3], *("40", "16.5")[len(sys.argv) - 1 :])
    main(int(bays), float(pitch))
