"""The page on which holes are traced over a photograph, written as one HTML file."""

from pathlib import Path

from fabplan.sheets.trace_page import trace_page
from fabplan.way.writing import writing


def write_trace(path: Path) -> None:
    """Write the page.

    Raises:
        OutputError: the file cannot be written.
    """
    with writing(path):
        path.write_bytes(trace_page().encode("utf-8"))
