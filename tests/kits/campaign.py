"""How many faults are found: `python -m tests.kits.campaign [SEEDS]`.

Random kits, each with one fault, written as drawings and a job file and taken the whole way. A fault is found when a
check that may name it speaks at a piece or seam that it may be named by; what the sound kit brought before counts for
nothing. Not part of the tests: it takes minutes.
"""

import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from rich.console import Console
from rich.table import Table

from fabplan.errors import JobError
from fabplan.model.finding import Finding, Level
from fabplan.way.plan import plan
from tests.kits.build import Kit
from tests.kits.draw import write_drawings
from tests.kits.job_file import job_text
from tests.kits.random_kits import MAKERS
from tests.kits.trials import REFUSED, TRIALS, Trial

FOUND, ASIDE, OTHER, SILENT, BROKEN = "found", "elsewhere", "by another check", "not found", "traceback"
Key = tuple[str, str, str, float]
OUTCOMES = (FOUND, ASIDE, OTHER, SILENT, BROKEN)


@dataclass(frozen=True)
class Told:
    """What came of one trial: an outcome, and in words what was said."""

    fault: str
    kit: str
    outcome: str
    beside: tuple[str, ...]
    words: str


def findings(kit: Kit) -> tuple[Finding, ...]:
    """Stops and queries of the whole way."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_drawings(kit, folder)
        (folder / "job.toml").write_text(job_text(kit), "utf-8")
        return tuple(one for one in plan(folder / "job.toml").findings if one.level != Level.NOTE)


def run(name: str, seed: int) -> Iterator[Told]:
    """All trials of one kit."""
    kit = MAKERS[name](seed)
    before = findings(kit)
    for number, (fault, maker) in enumerate(TRIALS.items()):
        trial = maker(kit, np.random.default_rng([seed, number]))
        if trial is not None:
            yield _told(trial, fault, f"{name} {seed}", before)


def _new(trial: Trial, told: tuple[Finding, ...], before: tuple[Finding, ...]) -> list[Finding]:
    """Findings that the sound kit did not bring; what may name the fault is also new where it measures otherwise."""

    def key(one: Finding) -> Key:
        measured = one.measured if one.check in trial.checks else None
        return one.check, one.where.part, one.where.seam, round(measured or 0.0, 1)

    more = Counter(map(key, told)) - Counter(map(key, before))
    return [one for one in told if key(one) in more]


def _told(trial: Trial, fault: str, kit: str, before: tuple[Finding, ...]) -> Told:
    try:
        told = findings(trial.kit)
    except JobError as error:
        return Told(fault, kit, FOUND if REFUSED in trial.checks else OTHER, (), str(error))
    except Exception:  # any error at all is what is looked for
        return Told(fault, kit, BROKEN, (), traceback.format_exc(limit=-3))
    new = _new(trial, told, before)
    beside = {one.check for one in new if one.check not in trial.checks}
    words = "; ".join(f"{one.check} {one.where.part} {one.where.seam}: {one.what}" for one in new)
    return Told(fault, kit, _outcome(trial, new), tuple(sorted(beside)), words)


def _outcome(trial: Trial, new: list[Finding]) -> str:
    if not trial.checks:  # a sound kit may be asked about, and not be stopped
        return OTHER if any(one.level == Level.STOP for one in new) else FOUND
    right = [one for one in new if one.check in trial.checks]
    if any({one.where.part, one.where.seam} & set(trial.marks) for one in right):
        return FOUND
    return ASIDE if right else OTHER if new else SILENT


def table(told: list[Told]) -> Table:
    """One line a fault: trials, share found, what became of the others, checks that spoke beside."""
    shown = Table("fault", "trials", "share", *OUTCOMES, "spoke beside")
    for fault in (*dict.fromkeys(one.fault for one in told), "all"):
        own = [one for one in told if fault in (one.fault, "all")]
        outcomes = Counter(one.outcome for one in own)
        beside = Counter(check for one in own for check in one.beside) if fault != "all" else Counter()
        counts = [str(outcomes[outcome] or "") for outcome in OUTCOMES]
        share = f"{100.0 * outcomes[FOUND] / len(own):.0f} %"
        shown.add_row(fault, str(len(own)), share, *counts, ", ".join(f"{k} {n}" for k, n in beside.most_common(5)))
    return shown


def main(seeds: int) -> None:
    """Run, print the table, and every trial that was not found."""
    console = Console(width=180)
    told: list[Told] = []
    for name in MAKERS:
        for seed in range(seeds):
            told += run(name, seed)
            console.print(f"{name} {seed}: {len(told)} trials", style="dim")
    for one in told:
        if one.outcome != FOUND:
            console.print(f"{one.fault} | {one.kit} | {one.outcome} | {one.words}", markup=False, highlight=False)
    console.print(table(told))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 4)
