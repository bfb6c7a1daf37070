"""Places of holes along a bar, and their limits at bar and leg."""

from pathlib import Path

import pytest

from tests.job.written import faults, read


def bar(row: str, section: str = "L50x50x6", length: float = 1000.0) -> str:
    rows = f'rows = [{{ row = "r", diameter = 11, {row} }}]'
    return f'[[part]]\nmark = "A1"\nsection = "{section}"\nlength = {length}\n{rows}\n'


@pytest.mark.parametrize(
    ("row", "at"),
    [
        ("back_mark = 28, first = 20, last = 980, count = 4", [20.0, 340.0, 660.0, 980.0]),
        ("back_mark = 28, first = 20, pitch = 40.5, count = 3", [20.0, 60.5, 101.0]),
        ("back_mark = 28, first = 20, count = 1", [20.0]),
        ("back_mark = 28, at = [20, 500]", [20.0, 500.0]),
    ],
)
def test_places_are_worked_out(folder: Path, row: str, at: list[float]) -> None:
    assert read(folder, bar(row)).parts[0].rows[0].at == pytest.approx(at)


@pytest.mark.parametrize(
    ("row", "what"),
    [
        ("back_mark = 28, first = 20, count = 4", "not settled by `first`, `count`"),
        ("back_mark = 28, first = 20, last = 980", "not settled by"),
        ("back_mark = 28, first = 20, last = 980, pitch = 40, count = 4", "not settled by"),
        ("back_mark = 28", "not settled by anything"),
        ("back_mark = 28, at = [20, 60], count = 2", "stand together"),
        ("back_mark = 28, at = [60, 20]", "do not rise"),
        ("back_mark = 28, at = [20, 20]", "do not rise"),
        ("back_mark = 28, at = []", "do not rise"),
        ("back_mark = 28, first = 980, last = 20, count = 4", "not beyond `first`"),
    ],
)
def test_places_that_are_not_settled(folder: Path, row: str, what: str) -> None:
    assert what in faults(folder, bar(row))[0].what


# a hole of 11 mm needs 5.5 mm of metal to either side: within the bar at 5.5 and 994.5, off it a hundredth further
@pytest.mark.parametrize(("first", "last", "sound"), [(5.5, 994.5, True), (5.49, 900, False), (50, 994.51, False)])
def test_holes_stay_on_the_bar(folder: Path, first: float, last: float, sound: bool) -> None:
    text = bar(f"back_mark = 28, first = {first}, last = {last}, count = 3")
    if sound:
        assert len(read(folder, text).parts[0].rows[0].at) == 3
    else:
        assert "run off a bar of 1000 mm" in faults(folder, text)[0].what


# leg a of L75x50x6 is 75 wide, leg b 50; the other leg's 6 mm are metal of its own; a flat bar has neither, a channel
# alone has a web
@pytest.mark.parametrize(
    ("section", "leg", "back_mark", "sound"),
    [
        ("L75x50x6", "a", 69.5, True),
        ("L75x50x6", "a", 69.51, False),
        ("L75x50x6", "b", 44.5, True),
        ("L75x50x6", "b", 44.51, False),
        ("L75x50x6", "b", 11.5, True),
        ("L75x50x6", "b", 11.49, False),
        ("FL50x6", "a", 5.5, True),
        ("FL50x6", "a", 44.5, True),
        ("FL50x6", "a", 44.51, False),
        ("FL50x6", "b", 20.0, False),
        ("HR25", "a", 12.5, True),
        ("HR25", "a", 20.0, False),
        ("HR25", "w", 12.5, False),
        ("UPN100", "w", 50.0, True),
        ("T50", "b", 30.0, True),
        ("T50", "w", 30.0, False),
        ("L75x50x6", "w", 30.0, False),
    ],
)
def test_holes_stay_on_the_leg(folder: Path, section: str, leg: str, back_mark: float, sound: bool) -> None:
    text = bar(f'leg = "{leg}", back_mark = {back_mark}, at = [20]', section)
    if sound:
        assert read(folder, text).parts[0].rows[0].back_mark == back_mark
    else:
        told = faults(folder, text)
        assert len(told) == 1
        assert "rows[0]" in told[0].place
