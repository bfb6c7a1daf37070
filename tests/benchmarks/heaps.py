"""Thousands of lines and circles heaped on one spot: `python -m tests.benchmarks.heaps [NAMES]`.

Each drawing is one plate with one heap; a whole check of it, seconds of the processor and peak memory. Such heaps come
of drawings laid over one another again and again. Asked: a few seconds each, and memory that does not follow the
square of the count.
"""

import math
import os
import platform
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf.filemanagement
import numpy as np

from tests.benchmarks.large_drawings import measured

CUT, ROW = {"layer": "CUT"}, {"layer": "RIVET A"}
Draw = Callable[[Any, int], None]


def equal_lines(space: Any, count: int) -> None:
    for _ in range(count):
        space.add_line((50, 50), (150, 60), dxfattribs=CUT)


def near_lines(space: Any, count: int) -> None:
    for k in range(count):
        space.add_line((50, 50 + 0.001 * k), (150, 60 + 0.001 * k), dxfattribs=CUT)


def staggered_lines(space: Any, count: int) -> None:
    for k in range(count):
        space.add_line((50 + 0.05 * k, 50), (150 + 0.05 * k, 50), dxfattribs=CUT)


def near_arcs(space: Any, count: int) -> None:
    for k in range(count):
        space.add_arc((200, 150 + 0.001 * k), 50, 10, 170, dxfattribs=CUT)


def concentric_circles(space: Any, count: int) -> None:
    for k in range(count):
        space.add_circle((200, 150), 5 + 0.02 * k, dxfattribs=ROW)


def circles_about_one_spot(space: Any, count: int) -> None:
    for x, y in np.random.default_rng(2).uniform(-0.05, 0.05, (count, 2)).tolist():
        space.add_circle((200 + x, 150 + y), 30, dxfattribs=CUT)


def radiating_lines(space: Any, count: int) -> None:
    for k in range(count):
        turn = math.tau * k / count
        space.add_line((200, 150), (200 + 100 * math.cos(turn), 150 + 100 * math.sin(turn)), dxfattribs=CUT)


def crossing_lines(space: Any, count: int) -> None:
    for k in range(count):
        x, y = 100 * math.cos(math.pi * k / count), 100 * math.sin(math.pi * k / count)
        space.add_line((200 - x, 150 - y), (200 + x, 150 + y), dxfattribs=CUT)


def zigzag(space: Any, count: int) -> None:
    space.add_lwpolyline([(50 + 100 * (k % 2), 50 + 0.01 * k) for k in range(count)], dxfattribs=CUT)


def there_and_back(space: Any, count: int) -> None:
    space.add_lwpolyline([(50 + 100 * (k % 2), 50) for k in range(count)], dxfattribs=CUT)


def squares(space: Any, count: int) -> None:
    for _ in range(count):
        space.add_lwpolyline([(50, 50), (150, 50), (150, 150), (50, 150)], close=True, dxfattribs=CUT)


HEAPS: tuple[tuple[Draw, int], ...] = (
    (equal_lines, 2000),
    (equal_lines, 10_000),
    (near_lines, 2000),
    (near_lines, 10_000),
    (staggered_lines, 5000),
    (near_arcs, 5000),
    (concentric_circles, 5000),
    (circles_about_one_spot, 5000),
    (radiating_lines, 5000),
    (crossing_lines, 5000),
    (zigzag, 5000),
    (there_and_back, 5000),
    (squares, 5000),
)


def drawn(draw: Draw, count: int, path: Path) -> Path:
    """A plate of 400 x 300 mm with a heap of `count` on it."""
    document = ezdxf.filemanagement.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (400, 0), (400, 300), (0, 300)], close=True, dxfattribs=CUT)
    draw(space, count)
    document.saveas(path)
    return path


def main() -> None:
    """Print the table."""
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    print(f"{'':24} {'count':>7} {'s':>6} {'MB':>6}")
    with tempfile.TemporaryDirectory() as folder:
        for draw, count in HEAPS:
            name = draw.__name__.replace("_", " ")
            if sys.argv[1:] and draw.__name__ not in sys.argv[1:]:
                continue
            path = drawn(draw, count, Path(folder) / "heap.dxf")
            check = [sys.executable, "-m", "fabplan", "check", str(path), "--json", "--thickness", "6", "--rivet", "10"]
            seconds, memory = measured(check, Path(folder) / "compiled")
            print(f"{name:24} {count:>7} {seconds:>6.1f} {memory:>6.0f}", flush=True)


if __name__ == "__main__":
    main()
