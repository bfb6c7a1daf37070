"""Mistakes explained: `python -m tests.body.explained [SEEDS]` puts each into the demos and tells what is named.

Asked of each: the true kind and piece named first, or as likely as two others at most.
"""

import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
from rich.console import Console
from rich.table import Table

from fabplan.body.causes import Cause, causes
from fabplan.body.change import Shop
from fabplan.body.parts import make_parts
from fabplan.body.piece_changes import scaled
from fabplan.drawing.hand import other_hand
from fabplan.model.drawing import Drawing
from fabplan.model.job import PartSpec
from fabplan.model.lookup import find_section
from fabplan.model.part import Part
from fabplan.rules.tables import read_tables
from tests.body.made import Made, drawings_of, made
from tests.kits.bowser import bowser
from tests.kits.mistakes import MISTAKES, Mistake
from tests.kits.skip import skip

KITS = {"bowser": bowser, "skip": skip}
TABLES = read_tables()


def explained(result: Made) -> tuple[Cause, ...]:
    def remake(spec: PartSpec, own: Drawing | None) -> tuple[Part, ...]:
        drawings = {} if own is None else {spec.mark: own}
        alone = replace(result.job, parts=(spec,))
        return make_parts(alone, drawings, TABLES, lambda name: find_section(TABLES, name), other_hand)[0]

    return causes(result.job, result.placing, Shop(remake, other_hand))


def put_together(mistake: Mistake, folder: Path) -> Made:
    """The kit with its mistake; a drawing at another scale stands in place of the right one."""
    if mistake.scale == 1.0:
        return made(mistake.kit, folder)
    drawings = drawings_of(mistake.kit)
    drawings[mistake.mark] = scaled(drawings[mistake.mark], mistake.scale)
    return made(mistake.kit, folder, drawings)


def named(result: Made) -> list[tuple[str, str]]:
    """Kind and mark of the causes told, those as likely as the first; of a check that names it by itself, its name."""
    marks = {instance.mark: result.body.parts[instance.part].spec.mark for instance in result.body.instances}
    found = [one for one in result.findings if one.check in ("plate-mirrored", "marked-face")]
    direct = dict.fromkeys((one.check, marks.get(one.where.part, one.where.part)) for one in found)
    every = explained(result)
    likely = [(one.change.kind, one.mark) for one in every if one.weight == every[0].weight]
    return [*direct, *likely]


def right(mistake: Mistake, told: list[tuple[str, str]]) -> bool:
    """True where the mistake stands among at most three that are named first."""
    return len(told) <= 3 and any(kind in mistake.kinds and mark == mistake.mark for kind, mark in told)


def main(seeds: int = 3) -> None:
    """Every mistake at some places in every demo."""
    table = Table("demo", "mistake", "piece", "named", "right", "s")
    for name, maker in KITS.items():
        for kind, put in MISTAKES.items():
            for seed in range(seeds):
                mistake = put(maker(), np.random.default_rng(seed))
                if mistake is None:
                    continue
                with tempfile.TemporaryDirectory() as folder:
                    start = time.perf_counter()
                    told = named(put_together(mistake, Path(folder)))
                    spent = time.perf_counter() - start
                words = "; ".join(f"{cause} {mark}" for cause, mark in told[:4])
                verdict = "yes" if right(mistake, told) else "NO"
                table.add_row(name, kind, mistake.mark, words, verdict, f"{spent:.0f}")
    Console(width=160).print(table)


if __name__ == "__main__":
    main(*(int(one) for one in sys.argv[1:]))
