"""The plans of the two demos, made once for all tests that look at them; how property tests choose their cases.

One commit passes or fails alike on every machine: cases are drawn by a fixed seed. To look further afield, run
`pytest --hypothesis-profile=wide`, and bring what it finds into the tests as an example of its own.
"""

from pathlib import Path

import pytest
from hypothesis import settings

from fabplan.model.plan import Plan
from fabplan.way.plan import plan

settings.register_profile("steady", derandomize=True, deadline=None)
settings.register_profile("wide", derandomize=False, deadline=None)
settings.load_profile("steady")

EXAMPLES = Path(__file__).parents[1] / "examples"


@pytest.fixture(scope="session")
def bowser_plan() -> Plan:
    return plan(EXAMPLES / "bowser" / "job.toml")


@pytest.fixture(scope="session")
def lap_plan() -> Plan:
    return plan(EXAMPLES / "first-lap" / "job.toml")
