"""One drawing with all that was found on it. Light: what a look at a drawing alone needs, and no more."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fabplan.model.drawing import Drawing
from fabplan.model.finding import Finding
from fabplan.model.layout import SpacingFigure

if TYPE_CHECKING:
    from fabplan.model.part import Part

SCHEMA = 1  # version of plan.json and of the records of checks


@dataclass(frozen=True, slots=True, eq=False)
class Checked:
    """One drawing after its checks.

    Attributes:
        drawing: the drawing as read.
        part: its part, None when checked without a job.
        findings: all findings on the drawing by itself, gravest first.
        not_checked: sentences: which checks had no data, and what they would need.
        used: sentences: rule sets, limits and assumptions that the checks used.
        figures: the table of spacings.
        of_body: findings of the body put together on this piece, gravest first; none where no body was.
    """

    drawing: Drawing
    part: "Part | None"
    findings: tuple[Finding, ...]
    not_checked: tuple[str, ...]
    used: tuple[str, ...] = ()
    figures: tuple[SpacingFigure, ...] = ()
    of_body: tuple[Finding, ...] = ()
