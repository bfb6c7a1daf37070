"""The whole result of a road: what goes onto the papers."""

from dataclasses import dataclass, field

import numpy as np

from fabplan.model.arrays import FloatArray
from fabplan.model.body import Body, Stacks
from fabplan.model.checked import Checked
from fabplan.model.dry_fit import Closing, DryFitSize
from fabplan.model.finding import Finding
from fabplan.model.forming import FormingRecord
from fabplan.model.job import Job
from fabplan.model.loop import Loop
from fabplan.model.measured import MeasuredRecord
from fabplan.model.overlay import Overlay
from fabplan.model.sequence import Sequence
from fabplan.model.supply import Supply
from fabplan.model.tables import Tables


@dataclass(frozen=True, slots=True)
class Account:
    """A count that must add up: `total` of something, and pairs (what became of it, how many)."""

    what: str
    total: int
    shares: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """Everything that `plan` found out.

    Attributes:
        job: the job as read.
        tables: the shop tables used.
        checked: drawings with their checks.
        body, stacks: None where nothing could be put together.
        sequence: None where no order was made.
        supply: the lists.
        findings: all findings of the plan, gravest first, drawings' own included.
        not_checked: sentences.
        used: sentences: rule sets, settings and assumptions used.
        accounts: counts that add up.
        fingerprint: SHA-256 in hex of all drawings' fingerprints, bars and seams: the kit as it was planned.
        forming: how formed plates are formed.
        overlays: seams whose holes do not meet to a hair, the worst first.
        loops: all independent loops of pieces, the one that closes worst first.
        dry_fit: what the sizes of the dry-fitted body came to.
        closings: what size the pieces that close it must have.
        measured: how the measured holes of old pieces lie over their drawings.
        out: (k, 3) mm for the plies of the stacks: along the row, across it, gap (see `body.residuals`).
    """

    job: Job
    tables: Tables
    checked: tuple[Checked, ...]
    body: Body | None
    stacks: Stacks | None
    sequence: Sequence | None
    supply: Supply
    findings: tuple[Finding, ...]
    not_checked: tuple[str, ...]
    used: tuple[str, ...] = ()
    accounts: tuple[Account, ...] = ()
    fingerprint: str = ""
    forming: tuple[FormingRecord, ...] = ()
    overlays: tuple[Overlay, ...] = ()
    loops: tuple[Loop, ...] = ()
    measured: tuple[MeasuredRecord, ...] = ()
    dry_fit: tuple[DryFitSize, ...] = ()
    closings: tuple[Closing, ...] = ()
    out: FloatArray = field(default_factory=lambda: np.zeros((0, 3)))
