"""The plans of the two demos, made once for all tests that look at them."""

from pathlib import Path

import pytest

from fabplan.model.plan import Plan
from fabplan.way.plan import plan

EXAMPLES = Path(__file__).parents[1] / "examples"


@pytest.fixture(scope="session")
def bowser_plan() -> Plan:
    return plan(EXAMPLES / "bowser" / "job.toml")


@pytest.fixture(scope="session")
def lap_plan() -> Plan:
    return plan(EXAMPLES / "first-lap" / "job.toml")
