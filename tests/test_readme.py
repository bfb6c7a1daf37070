"""README shows what the program says today: its tables, its output, an example of each record."""

import re
from pathlib import Path

from tests.readme import README, ROOT, filled


def test_readme_shows_real_output() -> None:
    """Else run `python -m tests.readme`."""
    text = README.read_text("utf-8")
    assert filled(text) == text


def test_everything_that_readme_names_is_there() -> None:
    text = README.read_text("utf-8")
    named = {*re.findall(r"\]\(([^)]+)\)", text), *re.findall(r"(?:examples|drawings|fabplan|tests)/[\w./-]*\w", text)}
    assert len(named) > 5
    assert not [name for name in named if not (ROOT / Path(name)).exists()]
