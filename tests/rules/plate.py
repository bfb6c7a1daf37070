"""Layouts for the tests of the rules: a plate with holes, everything that a test does not state left plain."""

from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from fabplan.geom.profile import rectangle
from fabplan.model.finding import Finding
from fabplan.model.holes import Holes
from fabplan.model.layout import HoleLayout
from fabplan.model.profile import Profile
from fabplan.model.rules import Rule, RuleSet
from fabplan.rules.sets import read_rule_set
from fabplan.rules.spacing import check_layout

BIG = rectangle(-5000.0, -5000.0, 5000.0, 5000.0)
RIVET, HOLE, OUTER, THICKEST, OWN = 20.0, 22.0, 10.0, 16.0, 11.0


def plate(xy: npt.ArrayLike, row: str | list[str] = "A", outline: Profile = BIG, **given: Any) -> HoleLayout:
    """A sheltered steel plate, 20 mm rivets in 22 mm holes, both loads; `given` replaces any field of the layout."""
    points = np.asarray(xy, dtype=np.float64).reshape(-1, 2)
    count = len(points)
    rows = (row,) * count if isinstance(row, str) else tuple(row)
    numbers = tuple(f"{name} {i + 1}".strip() for i, name in enumerate(rows))
    diameter = np.full(count, given.pop("hole", HOLE))
    holes = Holes(points, diameter, rows, numbers, ("rivet",) * count, tuple(f"{i:X}" for i in range(count)))
    base = HoleLayout(
        drawing="plate.dxf",
        part="P1",
        material="steel",
        outline=outline,
        cutouts=(),
        holes=given.pop("holes", holes),
        thickness=OWN,
        edge="machine",
        exposed=False,
        rivet_diameter=np.full(count, RIVET),
        thinner_outer=np.full(count, OUTER),
        thickest=np.full(count, THICKEST),
        grip=np.full(count, 20.0),
        tight=np.zeros(count, dtype=np.bool_),
        tension=np.ones(count, dtype=np.bool_),
        compression=np.ones(count, dtype=np.bool_),
        countersunk=np.zeros(count, dtype=np.bool_),
        sink_depth=np.full(count, np.nan),
        hand_driven=np.zeros(count, dtype=np.bool_),
    )
    arrays: dict[str, Any] = {
        key: np.full(count, value) if isinstance(value, int | float) and key not in ("thickness", "exposed") else value
        for key, value in given.items()
    }
    return replace(base, **arrays)


def grid(count: int, pitch: float, lines: int = 1, apart: float = 0.0, shift: float = 0.0) -> npt.NDArray[np.float64]:
    """Holes of `lines` parallel lines, every other one shifted along."""
    return np.array([[i * pitch + shift * (j % 2), j * apart] for j in range(lines) for i in range(count)])


def only(one: RuleSet, rule: Rule) -> tuple[RuleSet, ...]:
    """The set with this rule alone."""
    return (replace(one, rules=(rule,)),)


def checks(layout: HoleLayout, *names: str) -> list[str]:
    """Names of the checks that find something, by the named sets."""
    return [finding.check for finding in findings(layout, *names)]


def findings(layout: HoleLayout, *names: str) -> tuple[Finding, ...]:
    """Findings by the named sets."""
    return check_layout(layout, tuple(read_rule_set(name) for name in names))
