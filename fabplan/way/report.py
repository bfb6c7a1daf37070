"""The report of a check, written as one HTML file. Apart from the papers: it loads no PDF library."""

from pathlib import Path

from fabplan.sheets.report import report
from fabplan.way.look import Outcome
from fabplan.way.writing import writing


def write_report(outcome: Outcome, path: Path) -> None:
    """Write the report of what was looked at into one HTML file.

    Raises:
        OutputError: the file cannot be written.
    """
    page = report(outcome.checked, outcome.job, outcome.findings).encode("utf-8")
    with writing(path):
        path.write_bytes(page)
