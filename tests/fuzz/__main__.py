"""Damaged drawings by the thousand: `python -m tests.fuzz [COUNT] [FIRST SEED]`; 1 where one of them fails."""

import os
import sys
import time
from argparse import ArgumentParser
from collections import Counter
from multiprocessing import get_context

from rich.progress import track

from tests.fuzz.cases import case, limit


def main() -> int:
    """Run the cases on all cores and print what came of them."""
    parser = ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("count", type=int, nargs="?", default=20_000)
    parser.add_argument("first", type=int, nargs="?", default=0, help="seed of the first case")
    given = parser.parse_args()
    count, first = given.count, given.first
    found, failed, start = Counter[str](), [], time.perf_counter()
    with get_context("spawn").Pool(os.cpu_count(), initializer=limit) as pool:
        results = pool.imap_unordered(case, range(first, first + count), chunksize=16)
        for one in track(results, total=count, description="damaged drawings", disable=not sys.stderr.isatty()):
            found.update(one.checks)
            if one.fault:
                failed.append(one)
                sys.stdout.write(f"seed {one.seed}: {one.fault}\n")
    took = time.perf_counter() - start
    hangs = sum("TimeoutError" in one.fault for one in failed)
    sys.stdout.write(f"{count} cases from seed {first} in {took:.0f} s: {len(failed)} failed, {hangs} of them hangs\n")
    sys.stdout.write(", ".join(f"{check} {number}" for check, number in found.most_common()) + "\n")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
