"""A whole `fabplan check --json` beside a bare `ezdxf.readfile`: `python -m tests.benchmarks.check_drawing`.

The files are two plates of 300 rivet holes: five named rows of 60, and one row of ten lines of 30. Each command runs as
a process of its own, in turn with the other; the best of five counts. The check is to take at most 1.6 times as long.
"""

import os
import platform
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import ezdxf.filemanagement

ASKED = 1.6


def draw_plate(path: Path, rows: tuple[str, ...], lines: int) -> None:
    """A floor plate of 300 holes: `lines` lines in all, an outline with round corners, a note."""
    doc = ezdxf.filemanagement.new("R2010", units=4)
    space = doc.modelspace()
    corner, each = 0.41421356237309503, 300 // lines
    ring = [(20, 0, 0), (2400, 0, corner), (2420, 20, 0), (2420, 880, corner), (2400, 900, 0), (20, 900, corner)]
    space.add_lwpolyline([*ring, (0, 880, 0), (0, 20, corner)], format="xyb", close=True, dxfattribs={"layer": "CUT"})
    for line in range(lines):
        for hole in range(each):
            place = (30.0 + 2360.0 * hole / (each - 1), 30.0 + 840.0 * line / (lines - 1))
            space.add_circle(place, 5.5, dxfattribs={"layer": f"RIVET {rows[line * len(rows) // lines]}"})
    space.add_text("floor", height=20, dxfattribs={"layer": "NOTE", "insert": (100, -60)})
    doc.saveas(path)


def seconds(command: list[str], folder: Path) -> float:
    """Time of one whole process that finds its modules compiled, as an installed program does."""
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    start = time.perf_counter()
    subprocess.run(command, check=False, stdout=subprocess.DEVNULL, env={**kept, "PYTHONPYCACHEPREFIX": str(folder)})
    return time.perf_counter() - start


def main() -> None:
    """Print both times and their ratio, plate by plate."""
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    for name, rows, lines in (("five rows of 60", ("A", "B", "C", "D", "E"), 5), ("one row of ten lines", ("A",), 10)):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "plate.dxf"
            draw_plate(path, rows, lines)
            bare = [sys.executable, "-c", f"import ezdxf; ezdxf.readfile({str(path)!r})"]
            ours = [sys.executable, "-m", "fabplan", "check", str(path), "--json", "--thickness", "6", "--rivet", "10"]
            compiled = Path(folder) / "compiled"
            seconds(bare, compiled), seconds(ours, compiled)  # the first run of each compiles its modules
            pairs = [(seconds(bare, compiled), seconds(ours, compiled)) for _ in range(5)]
        least, own = min(pair[0] for pair in pairs), min(pair[1] for pair in pairs)
        times = f"{own / least:.2f} times (asked: {ASKED})"
        print(
            f"{name}: ezdxf.readfile {least:.3f} s, fabplan check {own:.3f} s: {times}, load {os.getloadavg()[0]:.1f}"
        )


if __name__ == "__main__":
    main()
