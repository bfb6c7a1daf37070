"""A whole `fabplan check --json` beside a bare `ezdxf.readfile`: `python -m tests.benchmarks.check_drawing`.

The file is a plate with 300 rivet holes in named rows. Each command runs as a process of its own, in turn with the
other; the best of three counts. The check is to take at most 1.6 times as long.
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


def draw_plate(path: Path) -> None:
    """A floor plate of 300 holes: five rows of 60, an outline with round corners, a note."""
    doc = ezdxf.filemanagement.new("R2010", units=4)
    space = doc.modelspace()
    corner = 0.41421356237309503
    ring = [(20, 0, 0), (2400, 0, corner), (2420, 20, 0), (2420, 880, corner), (2400, 900, 0), (20, 900, corner)]
    space.add_lwpolyline([*ring, (0, 880, 0), (0, 20, corner)], format="xyb", close=True, dxfattribs={"layer": "CUT"})
    for row in range(5):
        for hole in range(60):
            place = (30.0 + 40.0 * hole, 30.0 + 210.0 * row)
            space.add_circle(place, 5.5, dxfattribs={"layer": f"RIVET {'ABCDE'[row]}"})
    space.add_text("floor", height=20, dxfattribs={"layer": "NOTE", "insert": (100, -60)})
    doc.saveas(path)


def seconds(command: list[str], folder: Path) -> float:
    """Time of one whole process that finds its modules compiled, as an installed program does."""
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    start = time.perf_counter()
    subprocess.run(command, check=False, stdout=subprocess.DEVNULL, env={**kept, "PYTHONPYCACHEPREFIX": str(folder)})
    return time.perf_counter() - start


def main() -> None:
    """Print both times and their ratio."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "plate.dxf"
        draw_plate(path)
        bare = [sys.executable, "-c", f"import ezdxf; ezdxf.readfile({str(path)!r})"]
        ours = [sys.executable, "-m", "fabplan", "check", str(path), "--json", "--thickness", "6", "--rivet", "10"]
        compiled = Path(folder) / "compiled"
        seconds(bare, compiled), seconds(ours, compiled)  # the first run of each compiles its modules
        pairs = [(seconds(bare, compiled), seconds(ours, compiled)) for _ in range(3)]
    least, own = min(pair[0] for pair in pairs), min(pair[1] for pair in pairs)
    machine = f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}"
    print(f"{machine}, load {os.getloadavg()[0]:.1f}")
    print(f"ezdxf.readfile {least:.3f} s, fabplan check {own:.3f} s: {own / least:.2f} times (asked: {ASKED})")


if __name__ == "__main__":
    main()
