"""How far holes may be out before their rivet no longer passes."""

from fabplan.model.job import Job

CLEARANCE = "ISO 9013 class 1 cutting deviation; growth of a hot rivet 1.2 % from memory"
"""Source of the usable clearance."""


def usable_clearance(job: Job, rivet: int, hole: float) -> float:
    """How far two holes of one rivet may be out before it no longer passes, mm.

    Smallest hole as cut, less the rivet, fatter when hot (ISO 9013 class 1 deviation and 1.2 % growth, the latter
    from memory; both are settings of the shop).
    """
    spec = job.rivets[rivet]
    growth = 1.0 + (job.shop.hot_growth if spec.closing == "hot" else 0.0)
    return hole - job.shop.cutting_deviation - spec.diameter * growth
