"""How many random kits come together from their holes alone: `python -m tests.unseamed.campaign [SEEDS] [CLASS ...]`.

Each kit is written as a folder of bare drawings and tables and read back; half of them name rows on layers, half do
not. Not part of the tests: it takes minutes.
"""

import argparse
import tempfile
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from statistics import median
from time import process_time

from rich.console import Console
from rich.table import Table

from fabplan.kit.find import assembled
from fabplan.kit.search import WORK
from fabplan.model.part import Part
from fabplan.way.bare import pieces_of
from tests.kits.build import Kit
from tests.unseamed.folder import BARE, ROWS, write_folder
from tests.unseamed.judge import LISTED, SOLVED, UNSURE, WRONG, outcome
from tests.unseamed.kits import MAKERS, kit

JOB = (
    'parts = "parts.csv"\nrows = "rows.csv"\n[job]\ntitle = "Bare"\n[[rivet]]\nmark = "R10"\ndiameter = 10\nhole = 11\n'
)


def bare_pieces(known: Kit, layers: str) -> tuple[tuple[Part, ...], tuple[str, ...]]:
    """The pieces of a kit and their marks, read from bare drawings and tables."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_folder(known, folder, layers)
        (folder / "job.toml").write_text(JOB, "utf-8")
        _, parts, instances = pieces_of(folder / "job.toml")
    return tuple(parts[one.part] for one in instances), tuple(one.mark for one in instances)


def run(name: str, seed: int, work: int = WORK) -> tuple[str, float, int, int]:
    """Outcome, seconds of the processor, pieces and bodies listed of one kit."""
    known = kit(name, seed)
    parts, marks = bare_pieces(known, ROWS if seed % 2 else BARE)
    start = process_time()
    found = assembled(parts, work=work)
    seconds = process_time() - start
    return outcome(known, parts, marks, found), seconds, len(marks), len(found.bodies)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run and print the table."""
    asked = argparse.ArgumentParser(description="Random kits put together from their holes alone, by class.")
    asked.add_argument("seeds", nargs="?", type=int, default=20, help="kits of each class (20)")
    asked.add_argument("classes", nargs="*", metavar="CLASS", help=f"of {', '.join(MAKERS)} (all)")
    own = asked.parse_args(arguments)
    if unknown := set(own.classes) - set(MAKERS):
        asked.error(f"no class {', '.join(sorted(unknown))}: choose from {', '.join(MAKERS)}")
    console = Console(width=140)
    told: dict[str, list[tuple[str, float, int, int]]] = {}
    for name in own.classes or MAKERS:
        for seed in range(own.seeds):
            one = run(name, seed)
            told.setdefault(name, []).append(one)
            console.print(f"{name} {seed}: {one[0]}, {one[2]} pieces, {one[3]} bodies, {one[1]:.1f} s", highlight=False)
    shown = Table("class", "kits", SOLVED, LISTED, UNSURE, WRONG, "median pieces", "median s")
    told["all"] = [row for own in told.values() for row in own]
    for name, rows in told.items():
        count = Counter(row[0] for row in rows)
        cells = [str(count[word]) for word in (SOLVED, LISTED, UNSURE, WRONG)]
        shown.add_row(
            name, str(len(rows)), *cells, f"{median(row[2] for row in rows):g}", f"{median(row[1] for row in rows):.1f}"
        )
    console.print(shown)


if __name__ == "__main__":
    main()
