"""One piece of work for many drawings, on all cores where that is worth their start."""

import os
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TypeVar

Case = TypeVar("Case")
Result = TypeVar("Result")

WORTH = 3_000_000  # bytes of drawings: reading them takes longer than starting a second process does


def spread(
    work: Callable[[Case], Result], cases: Sequence[Case], paths: Sequence[Path], workers: int = 1
) -> Iterator[Result]:
    """The results of a piece of work, in the order of its cases.

    Args:
        work: a function of a module, so that another process finds it by name.
        cases: what it is called with, one at a time.
        paths: the drawing of each case: their sizes decide.
        workers: processes at most; 1 stays in this one.
    """
    workers = min(workers, len(cases))
    if workers < 2 or sum(_size(path) for path in paths) < WORTH:
        yield from map(work, cases)
        return
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        yield from pool.map(work, cases, chunksize=max(1, min(8, len(cases) // (4 * workers))))


def _size(path: Path) -> int:
    try:
        return os.path.getsize(path)
    except OSError:
        return 0
