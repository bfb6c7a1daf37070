"""Service bolts, bolts that stay, drifts."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fabplan.model.arrays import BoolArray
from fabplan.model.body import Stacks
from fabplan.model.job import Job
from fabplan.model.supply import BoltLine
from fabplan.supply.bolts import bolt_length, bolt_lines, bolt_size, rows_along, service_bolts, spread
from tests.supply.stacked import SEAM, job, stacks


def listed(job: Job, stacks: Stacks, takes: BoolArray) -> tuple[tuple[BoltLine, ...], tuple[tuple[str, int], ...]]:
    """The lines with the service bolts that are chosen by share."""
    return bolt_lines(job, stacks, takes, service_bolts(job, stacks, takes))


@pytest.mark.parametrize(
    ("holes", "share", "bolts"), [(60, 1 / 3, 20), (60, 1 / 2, 30), (61, 1 / 2, 31), (2, 1 / 3, 2)]
)
def test_share_of_a_row(holes: int, share: float, bolts: int) -> None:
    # every third hole of a plain seam, every second of a tight one (common practice)
    assert len(spread(holes, share)) == bolts


@given(st.integers(1, 300), st.floats(0.01, 1.0))
def test_row_ends_are_always_bolted(holes: int, share: float) -> None:
    places = spread(holes, share)
    assert places[0] == 0
    assert places[-1] == holes - 1
    assert len(places) >= holes * share - 1e-6
    assert np.all(np.diff(places) > 0)


def test_bolt_length_at_its_limit() -> None:
    assert bolt_length(10.0, 10.0) == 30.0  # 10 + 20 is a stocked step already
    assert bolt_length(10.0, 10.001) == 35.0


# EN 1090-2 table 11: normal round holes are 1 mm over M12 and M14, 2 mm over M16 to M24
@pytest.mark.parametrize(("hole", "size"), [(11.0, 10.0), (13.0, 12.0), (18.0, 16.0), (22.0, 20.0), (10.0, 8.0)])
def test_bolts_go_into_their_holes(hole: float, size: float) -> None:
    assert bolt_size(hole) == size


def test_rows_of_a_zigzag_seam_are_told_apart() -> None:
    turn = np.linalg.qr(np.random.default_rng(1).normal(size=(3, 3)))[0]
    upper = np.column_stack([np.arange(20) * 40.0, np.full(20, 25.0), np.zeros(20)])
    lower = np.column_stack([np.arange(21) * 40.0 - 20.0, np.zeros(21), np.zeros(21)])
    points = np.vstack([upper, lower]) @ turn.T + [7.0, 8.0, 9.0]
    assert sorted(len(row) for row in rows_along(points)) == [20, 21]
    for row in rows_along(points):
        steps = np.linalg.norm(np.diff(points[row], axis=0), axis=1)
        assert steps == pytest.approx(np.full(len(row) - 1, 40.0))
    assert [row.tolist() for row in rows_along(points[:1])] == [[0]]
    assert rows_along(points[:0]) == []


def test_a_ring_is_one_row_in_its_own_order() -> None:
    turn = np.linspace(0.0, 2.0 * np.pi, 52)[:-1]
    ring = np.column_stack([400.0 * np.cos(turn), 400.0 * np.sin(turn), np.zeros(51)])
    side = np.arange(12) * 50.0
    square = np.vstack([
        np.column_stack([side, np.zeros(12)]), np.column_stack([np.full(12, 600.0), side]),
        np.column_stack([600.0 - side, np.full(12, 600.0)]), np.column_stack([np.zeros(12), 600.0 - side]),
    ])  # fmt: skip
    for points in (ring, np.column_stack([square, np.zeros(48)])):
        (row,) = rows_along(points)
        assert row.tolist() == list(range(len(points)))


def test_holes_as_drawn_to_a_micron_are_one_size_of_drift() -> None:
    run = stacks((12.0,) * 4)
    rough = replace(run, hole=np.array([11.0, 11.0004, 10.9996, 11.0]))
    lines, _ = listed(job(), rough, np.ones(4, dtype=np.bool_))
    assert [line.what for line in lines] == ["service bolt", "drift"]


def test_a_tight_seam_with_its_drifts() -> None:
    run = stacks((12.0,) * 40)
    lines, seam_bolts = listed(job(), run, np.ones(40, dtype=np.bool_))
    service, drift = lines
    # half of 40 bolted; 12 + 2 x 10 = 32, so 35 long; a nut and two washers each
    assert (service.what, service.diameter, service.length, service.count) == ("service bolt", 10.0, 35.0, 20)
    assert (service.nuts, service.washers) == (20, 40)
    assert "grip + 2 d" in service.note
    # two and one for ten holes of the longest seam
    assert (drift.what, drift.length, drift.count, drift.nuts, drift.washers) == ("drift", 0.0, 6, 0, 0)
    assert seam_bolts == (("A", 20),)


def test_a_plain_seam_takes_fewer() -> None:
    run = stacks((12.0,) * 40)
    plain = job(seams=(replace(SEAM, tight=False), replace(SEAM, mark="B")))
    _, seam_bolts = listed(plain, run, np.ones(40, dtype=np.bool_))
    assert seam_bolts == (("A", 14), ("B", 0))  # a third of 40 is 13.3


def test_bolts_that_stay_are_listed_apart() -> None:
    run = stacks((12.0,) * 4)
    lines, seam_bolts = listed(job(), run, np.zeros(4, dtype=np.bool_))
    assert [(line.what, line.diameter, line.count) for line in lines] == [("bolt that stays", 10.0, 4)]
    assert seam_bolts == (("A", 0),)


def test_a_job_without_seams() -> None:
    empty = Job(job().path, job().drawings)
    assert listed(empty, stacks(()), np.zeros(0, dtype=np.bool_)) == ((), ())
