"""Work spread over processes gives the same results in the same order."""

from pathlib import Path

import pytest

from fabplan.way import many
from fabplan.way.look import Wanted, look, record

BOWSER = Path(__file__).parents[2] / "drawings" / "bowser"


def test_two_processes_find_what_one_finds(monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[str] = []
    one = record(look(Wanted(BOWSER, thickness=6.0)))
    monkeypatch.setattr(many, "WORTH", 0)
    two = record(look(Wanted(BOWSER, thickness=6.0, workers=2), told.append))
    assert two == one
    assert [line.rsplit(" ", 1)[1] for line in told] == sorted(path.name for path in BOWSER.glob("*.dxf"))


def test_what_is_not_worth_a_process_stays_here() -> None:
    here: list[int] = []
    assert list(many.spread(here.append, [1, 2], [Path("nowhere"), Path("nowhere")], workers=8)) == [None, None]
    assert here == [1, 2]
