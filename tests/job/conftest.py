"""Fixtures of the tests of the job file."""

from tests.job.written import folder

__all__ = ["folder"]
