"""Whole checks of large drawings beside a bare `ezdxf.readfile`: `python -m tests.benchmarks.large_drawings [SIZES]`.

Holes as circles, and openings as profiles of lines and arcs; processor time, which other work on the machine does not
touch, and peak memory of whole processes, each in turn with the other, best of three (of one for 100,000). Asked: 1.6
times at 300, 1.5 times above, memory within 1.5 times, growth no worse than n log n. The same with the check sheet
stands beside it.
"""

import math
import os
import platform
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import ezdxf.filemanagement

SIZES = (300, 10_000, 100_000)
PITCH = 40.0
BARE = "import sys, ezdxf; ezdxf.readfile(sys.argv[1])"


def frame(document: object, columns: int, rows: int) -> None:
    """The outline of a plate round a grid."""
    ring = [
        (0.0, 0.0),
        (PITCH * (columns + 1), 0.0),
        (PITCH * (columns + 1), PITCH * (rows + 1)),
        (0.0, PITCH * (rows + 1)),
    ]
    document.modelspace().add_lwpolyline(ring, close=True, dxfattribs={"layer": "CUT"})  # type: ignore[attr-defined]


def holes(path: Path, count: int) -> None:
    """A plate with `count` circles in rows of 100."""
    document = ezdxf.filemanagement.new("R2010", units=4)
    columns, rows = min(count, 100), math.ceil(count / 100)
    frame(document, columns, rows)
    space = document.modelspace()
    for k in range(count):
        layer = f"RIVET {k // 100}"
        space.add_circle((PITCH * (k % 100 + 1), PITCH * (k // 100 + 1)), 5.5, dxfattribs={"layer": layer})
    document.saveas(path)


def slots(path: Path, count: int) -> None:
    """A plate with slots of two lines and two arcs each, `count` entities in all."""
    document = ezdxf.filemanagement.new("R2010", units=4)
    number = count // 4
    columns, rows = min(number, 100), math.ceil(number / 100)
    frame(document, columns, rows)
    space, cut = document.modelspace(), {"layer": "CUT"}
    for k in range(number):
        x, y = PITCH * (k % 100 + 1), PITCH * (k // 100 + 1)
        space.add_line((x - 5.0, y - 5.0), (x + 5.0, y - 5.0), dxfattribs=cut)
        space.add_arc((x + 5.0, y), 5.0, 270.0, 90.0, dxfattribs=cut)
        space.add_line((x + 5.0, y + 5.0), (x - 5.0, y + 5.0), dxfattribs=cut)
        space.add_arc((x - 5.0, y), 5.0, 90.0, 270.0, dxfattribs=cut)
    document.saveas(path)


def measured(command: list[str], compiled: Path) -> tuple[float, float]:
    """Seconds of the processor and peak memory, MB, of one whole process."""
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    process = subprocess.Popen(
        command,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env={**kept, "PYTHONPYCACHEPREFIX": str(compiled)},
    )
    _, _, used = os.wait4(process.pid, 0)
    return used.ru_utime + used.ru_stime, used.ru_maxrss / 1024.0


def best(commands: list[list[str]], compiled: Path, times: int) -> list[tuple[float, float]]:
    """The best time and least memory of each command, run in turn with the others."""
    runs = [[measured(command, compiled) for command in commands] for _ in range(times)]
    return [(min(run[k][0] for run in runs), min(run[k][1] for run in runs)) for k in range(len(commands))]


def row(name: str, draw: Callable[[Path, int], None], count: int, folder: Path) -> str:
    """One line of the table."""
    path, compiled = folder / f"{name}-{count}.dxf", folder / "compiled"
    draw(path, count)
    check = [sys.executable, "-m", "fabplan", "check", str(path), "--json", "--thickness", "6", "--rivet", "10/11"]
    commands = [[sys.executable, "-c", BARE, str(path)], check, [*check, "--sheet", str(folder / "sheet.pdf")]]
    for command in commands[: 1 if count > 10_000 else 3]:
        measured(command, compiled)  # the first run of each compiles its modules
    (bare, room), (own, used), (sheet, _) = best(commands, compiled, 1 if count > 10_000 else 3)
    told = f"{name:8} {count:>8} {bare:8.2f} {own:8.2f} {own / bare:6.2f} {used / room:8.2f}"
    return f"{told} {sheet:10.2f} {sheet / bare:8.2f}"


def main() -> None:
    """Print the table."""
    sizes = [int(word) for word in sys.argv[1:]] or list(SIZES)
    machine = f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}"
    print(f"{machine}, load {os.getloadavg()[0]:.1f}")
    heads = ("", "entities", "bare s", "check s", "times", "memory", "with sheet", "times")
    print(" ".join(f"{head:>{wide}}" for head, wide in zip(heads, (8, 8, 8, 8, 6, 8, 10, 8), strict=True)))
    with tempfile.TemporaryDirectory() as name:
        for count in sizes:
            print(row("circles", holes, count, Path(name)), flush=True)
            print(row("slots", slots, count, Path(name)), flush=True)


if __name__ == "__main__":
    main()
