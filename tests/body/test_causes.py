"""A single mistake in a known kit is named first, with its piece, or as likely as two others at most."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fabplan.body.causes import tell
from tests.body.explained import explained, named, put_together, right
from tests.body.made import made
from tests.kits.build import Kit
from tests.kits.mistakes import MISTAKES
from tests.kits.random_kits import box, butt, double_butt
from tests.kits.skip import LEVEL, skip

BENT = ("bend allowance off", "roll radius wrong", "fold the wrong way")


def skip_end() -> Kit:
    """One end of the skip by itself: bottom, sides, flanged end and its ring."""
    whole, marks = skip(), {"B1", "S1R", "S1L", "E1", "RG1"}
    seams = [replace(one, plies=tuple(ply for ply in one.plies if ply.split("/")[0] in marks)) for one in whole.seams]
    pieces = [piece for piece in whole.pieces if piece.mark in marks]
    extra = whole.extra.removesuffix(LEVEL.rstrip())  # its rows are those of pieces that may be left out
    return replace(whole, pieces=pieces, seams=[one for one in seams if len(one.plies) > 1], extra=extra)


def kit_for(kind: str) -> Kit:
    if kind in BENT:
        return skip_end()
    return double_butt(1) if kind == "plate of another thickness" else box(0)


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("kind", MISTAKES)
def test_a_single_mistake_is_named(kind: str, seed: int, tmp_path: Path) -> None:
    mistake = MISTAKES[kind](kit_for(kind), np.random.default_rng(seed))
    assert mistake is not None
    told = named(put_together(mistake, tmp_path))
    assert right(mistake, told), told


@pytest.mark.parametrize("maker", [box, butt, double_butt])
def test_a_sound_kit_has_no_cause(maker: Callable[[int], Kit], tmp_path: Path) -> None:
    result = made(maker(0), tmp_path)
    assert list(tell(result.job, explained(result))) == []
