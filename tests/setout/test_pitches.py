"""Equal pitches that run out whole, for any length and any limits, or none; a plain loop over whole numbers judges."""

from math import isclose

import numpy as np
import numpy.typing as npt
from hypothesis import example, given
from hypothesis import strategies as st

from fabplan.setout.pitches import STEP, Ask, Blocked, End, Pitches, at, divided, equal_spaces, runs

SLACK = 1e-6  # mm
lengths = st.floats(1.0, 4000.0)
limits = st.tuples(st.floats(8.0, 60.0), st.floats(0.0, 120.0), st.floats(0.0, 1.0)).map(
    lambda told: Pitches(told[0], told[0] + told[1], told[0] + told[1] * told[2])
)
gaps = st.lists(st.tuples(st.floats(0.0, 1.0), st.floats(1.0, 80.0)), max_size=4)


def none(row: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
    return np.zeros(len(row), dtype=np.bool_)


def where(ask: Ask) -> Blocked:
    return Blocked(ask, ask)


nothing = where(none)


def whole_numbers(length: float, pitches: Pitches) -> list[int]:
    """Every number of equal spaces that keeps the limits, by trying them all."""
    return [
        n for n in range(1, int(length / 8.0) + 2) if pitches.least - SLACK <= length / n <= pitches.greatest + SLACK
    ]


@given(lengths, limits)
def test_between_settled_ends_every_length_is_divided_or_refused(length: float, pitches: Pitches) -> None:
    """A hole at either end, all spaces one, as near the wanted pitch as any whole number of them."""
    row = equal_spaces(at(0.0), at(length), pitches, nothing)
    able = whole_numbers(length, pitches)
    if row is None:
        assert able == []
        return
    spaces = np.diff(row)
    assert (row[0], isclose(row[-1], length, abs_tol=SLACK)) == (0.0, True)
    assert np.ptp(spaces) <= SLACK
    assert len(spaces) in able
    off = [abs(length / n - pitches.wanted) for n in able]
    assert abs(length / len(spaces) - pitches.wanted) <= min(off) + SLACK


@given(st.floats(100.0, 3000.0), st.floats(10.0, 25.0), st.floats(0.0, 40.0), limits)
def test_free_ends_keep_their_reach(length: float, least: float, more: float, pitches: Pitches) -> None:
    """Both end distances between least and greatest; refused only where no end distances admit a whole number."""
    wanted = least + more / 2.0
    start = End(least, least + more, wanted)
    end = End(length - least - more, length - least, length - wanted)
    row = equal_spaces(start, end, pitches, nothing)
    if row is None:
        tried = np.linspace(length - 2.0 * (least + more), length - 2.0 * least, 5)
        assert not any(whole_numbers(float(span), pitches) for span in tried[[0, 2, 4]] if span > 0.0)
        return
    spaces = np.diff(row)
    assert least - SLACK <= row[0] <= least + more + SLACK
    assert least - SLACK <= length - row[-1] <= least + more + SLACK
    assert np.ptp(spaces) <= SLACK
    assert pitches.least - SLACK <= spaces[0] <= pitches.greatest + SLACK


@example(1623.0, Pitches(59.0, 59.0, 59.0), [(0.0, 1.0)])  # beside an end hole that is stated
@given(st.floats(200.0, 3000.0), limits, gaps)
def test_what_is_in_the_way_is_stepped_around(length: float, pitches: Pitches, told: list[tuple[float, float]]) -> None:
    """No hole where none may be, and every space within the limits, whatever stands in the way."""
    stands = [(share * length, share * length + wide) for share, wide in told]

    def blocked(row: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
        found = none(row)
        for low, high in stands:
            found |= (row > low) & (row < high)
        return found

    row = divided(at(0.0), at(length), pitches, where(blocked))
    if row is None:
        return
    spaces = np.diff(row)
    assert all(not low + SLACK < place < high - SLACK for place in row.tolist() for low, high in stands)
    assert spaces.min() >= pitches.least - SLACK
    assert spaces.max() <= pitches.greatest + SLACK
    assert (row[0], isclose(row[-1], length, abs_tol=SLACK)) == (0.0, True)


def test_whole_millimetres_are_preferred() -> None:
    """Ends as wanted leave 372 mm, 8 @ 46.5; 8 @ 47 = 376 moves them by 2 mm each."""
    row = equal_spaces(End(12.0, 20.0, 14.0), End(380.0, 388.0, 386.0), Pitches(30.0, 60.0, 47.0), nothing)
    assert row is not None
    assert runs(row) == ((8, 47.0),)
    assert row[0] % STEP == 0.0


def test_an_obstacle_wider_than_the_greatest_pitch_is_refused() -> None:
    def blocked(row: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
        return (row > 100.0) & (row < 200.0)

    assert divided(at(0.0), at(400.0), Pitches(30.0, 90.0, 40.0), where(blocked)) is None
    row = divided(at(0.0), at(400.0), Pitches(30.0, 100.0, 40.0), where(blocked))
    assert row is not None
    assert [wide for _, wide in runs(row)] != []
