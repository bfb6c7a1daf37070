"""The whole road on the second demo, with its folds, rolls, rings and beads: nothing to ask, nothing left undriven."""

from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from fabplan.model.finding import Level
from fabplan.model.plan import Plan
from fabplan.sheets.check_sheet import check_sheet
from fabplan.sheets.forming_sheet import forming_sheets
from fabplan.sheets.lint import lint
from fabplan.sheets.lists import list_pages, listings
from fabplan.sheets.seam_strip import seam_strips
from fabplan.sheets.sequence_sheet import sequence_sheets
from fabplan.way.plan import plan
from fabplan.way.setout import set_out
from tests.kits.bent import Formed
from tests.kits.skip import skip
from tests.kits.skip_form import BOTTOM_JOINT, R, T
from tests.kits.skip_shell import GIRTH
from tests.setout.strip import ROOT, circles, stripped


@pytest.fixture(scope="module")
def skip_plan() -> Plan:
    return plan(Path(__file__).parents[2] / "examples" / "skip" / "job.toml")


def test_nothing_is_asked_of_the_skip(skip_plan: Plan) -> None:
    assert [one for one in skip_plan.findings if one.level is not Level.NOTE] == []
    for account in skip_plan.accounts:
        assert sum(count for _, count in account.shares) == account.total
    holes = {account.what: dict(account.shares) for account in skip_plan.accounts}["holes of all pieces"]
    assert (holes["without a mate"], holes["of pieces not placed"]) == (0, 0)
    assert holes["open by purpose"] == 4  # the bores of the trunnions


def test_every_piece_comes_in_and_every_rivet_is_driven_once(skip_plan: Plan) -> None:
    assert skip_plan.sequence is not None
    assert len(skip_plan.sequence.core.rivets) == 0
    steps, kit = skip_plan.sequence.steps, skip()
    erected = Counter(part for step in steps if step.kind in ("datum", "erect") for part in step.parts)
    assert (set(erected.values()), len(erected)) == ({1}, len(kit.pieces))
    driven = Counter(int(i) for step in steps for work in step.work for i in work.rivets)
    fitted = sum(len(seam.points) for seam in kit.seams if "fastener" in seam.keys)
    assert fitted == 12
    assert (set(driven.values()), len(driven)) == ({1}, sum(len(seam.points) for seam in kit.seams) - fitted)
    assert skip_plan.supply is not None
    bolts = {line.what: (line.count, line.nuts) for line in skip_plan.supply.bolts}
    assert bolts["fitted bolt F12"] == (12, 12)


def test_all_pages_of_the_skip_pass(skip_plan: Plan) -> None:
    checks = [page for one in skip_plan.checked for page in check_sheet(one, skip_plan.job)]
    lists = [page for listing in listings(skip_plan) for page in list_pages(skip_plan, listing)]
    found = [*checks, *forming_sheets(skip_plan), *sequence_sheets(skip_plan), *seam_strips(skip_plan), *lists]
    assert {page.name: lint(page) for page in found if lint(page)} == {}


D1 = '[[setout]]\nseam = "D1"\non = "BS"\nfrom = [52, 39]\nto = [52, 783]\n'


def test_a_round_seam_of_the_skip_set_out_again_is_clean(tmp_path: Path, skip_plan: Plan) -> None:
    """The strap is rolled outside the bottom; both keep the length of their middle (common practice of rolling).

    By formulae of their own, `tests.kits.bent`: y on the strap's drawing is -58.5 degrees and y / 407.5 radians round
    the axis; from there the bottom is unrolled again. Holes of other rows under 0.5 mm beside them along it share
    their facet in the body that is read back, tilted by 0.0006 at most: 0.002 mm over the plies.
    """
    job = stripped(ROOT / "examples" / "skip" / "job.toml", tmp_path / "job", ["D1"], D1)
    done = set_out(job)
    assert [one.what for one in done.not_laid] == []
    (seam,), (proof,) = done.laid, done.proofs
    assert (proof.rivets, seam.count) == (16, 16)
    assert proof.apart <= 0.002
    apart = seam.plies[1].point - seam.plies[0].point
    assert np.abs(np.cross(apart, seam.axis)).max() <= 1e-6
    folder, kit = tmp_path / "job" / "setout", skip()
    strap = circles(folder / "BS.dxf", "RIVET D1")
    assert np.diff(strap[:, 1]) == pytest.approx(np.full(15, 49.6))
    turn = np.radians(-58.5) + strap[:, 1] / (R + 1.5 * T)
    inner = np.column_stack([BOTTOM_JOINT - GIRTH + strap[:, 0], R * np.sin(turn), -R * np.cos(turn)])
    bottom = kit.piece("B1")
    assert isinstance(bottom, Formed)
    blank, _ = bottom.unrolled(bottom.frame.own(inner))
    assert np.sort(circles(folder / "B1.dxf", "RIVET D1")[:, 1]) == pytest.approx(np.sort(blank[:, 1]), abs=1e-4)
    made = plan(folder / "job.toml")
    known = {(one.check, one.level, one.where.seam, one.where.part) for one in skip_plan.findings}
    assert {(one.check, one.level, one.where.seam, one.where.part) for one in made.findings} <= known
