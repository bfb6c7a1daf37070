"""Damaged drawings by the thousand: `python -m tests.fuzz [COUNT] [FIRST SEED]`; 1 where one of them fails."""

import os
import sys
import time
from collections import Counter
from multiprocessing import get_context

from rich.progress import track

from tests.fuzz.cases import case, limit


def main() -> int:
    """Run the cases on all cores and print what came of them."""
    count, first = (int(word) for word in (*sys.argv[1:3], *("20000", "0")[len(sys.argv) - 1 :]))
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
