"""Holes of plates and bars in the body, against the hole that the job states."""

from dataclasses import replace

import pytest

from fabplan.model.plan import Plan
from fabplan.rules.drawn import holes_as_stated
from fabplan.way.body_layouts import body_layouts


@pytest.mark.parametrize(("stated", "wrong"), [(11.0, False), (12.0, True)])
def test_bars_and_plates_of_the_demo_as_the_job_states(bowser_plan: Plan, stated: float, wrong: bool) -> None:
    """All holes of the demo are 11 mm in drawings and bars; openings are no rivet holes."""
    assert bowser_plan.body is not None
    assert bowser_plan.stacks is not None
    job = replace(bowser_plan.job, rivets=(replace(bowser_plan.job.rivets[0], hole=stated),))
    told = [
        (plate.part, finding)
        for plate in body_layouts(job, bowser_plan.body, bowser_plan.stacks, bowser_plan.tables)
        for finding in holes_as_stated(plate)
    ]
    with_holes = {part.mark for part in bowser_plan.body.parts if "rivet" in part.holes.holes.purpose}
    bars = {part.mark for part in bowser_plan.body.parts if part.spec.section}
    assert {part for part, _ in told} == (with_holes if wrong else set())
    assert not wrong or bars & with_holes
    assert {(finding.measured, finding.required) for _, finding in told} == ({(11.0, 12.0)} if wrong else set())
