"""fabplan: from the drawings and one job file of a riveted plate body to the papers of the shop.

The public names, each loaded when first asked for, so that looking at one drawing loads no more than it needs.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fabplan.drawing.read import read_drawing
    from fabplan.errors import FabplanError
    from fabplan.job.read import read_job
    from fabplan.model.body import Body, Stacks
    from fabplan.model.drawing import Drawing
    from fabplan.model.finding import Finding, Level
    from fabplan.model.job import Job
    from fabplan.model.plan import Plan
    from fabplan.way.look import Wanted, look
    from fabplan.way.papers import write_papers
    from fabplan.way.plan import plan

_HOMES = {
    "Body": "model.body",
    "Drawing": "model.drawing",
    "FabplanError": "errors",
    "Finding": "model.finding",
    "Job": "model.job",
    "Level": "model.finding",
    "Plan": "model.plan",
    "Stacks": "model.body",
    "Wanted": "way.look",
    "look": "way.look",
    "plan": "way.plan",
    "read_drawing": "drawing.read",
    "read_job": "job.read",
    "write_papers": "way.papers",
}

__all__ = [
    "Body",
    "Drawing",
    "FabplanError",
    "Finding",
    "Job",
    "Level",
    "Plan",
    "Stacks",
    "Wanted",
    "look",
    "plan",
    "read_drawing",
    "read_job",
    "write_papers",
]


def __getattr__(name: str) -> Any:
    """A public name from the module that holds it."""
    if name not in _HOMES:
        raise AttributeError(f"module 'fabplan' has no attribute {name!r}")
    return getattr(import_module(f"fabplan.{_HOMES[name]}"), name)
