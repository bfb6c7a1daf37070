"""Made heads stated on the other side than the plies are listed from: never passed in silence."""

from pathlib import Path

import numpy as np
import pytest

from tests.body.made import made
from tests.kits.random_kits import MAKERS
from tests.kits.trials import heads_elsewhere


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("name", sorted(MAKERS))
def test_heads_on_the_wrong_side_are_told(name: str, seed: int, tmp_path: Path) -> None:
    kit = MAKERS[name](seed)
    trial = heads_elsewhere(kit, np.random.default_rng([seed, 5]))
    if trial is None:
        assert name  # a kit without loops has no second statement that the first could be held against
        return
    assert not made(kit, tmp_path).placing.faults
    told = {finding.check for finding in made(trial.kit, tmp_path).findings if finding.blocks}
    assert told & {"head-side", "marked-face", "plate-mirrored", "plies-apart"}, told
