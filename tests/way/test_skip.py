"""The whole road on the second demo, with its folds, rolls, rings and beads: nothing to ask, nothing left undriven."""

import re
from collections import Counter
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from fabplan.model.finding import Level
from fabplan.model.page import Stroke, Text
from fabplan.model.plan import Plan
from fabplan.sequence.footing import GOES_OVER, JACKED, UNDER
from fabplan.sheets.check_sheet import check_sheet
from fabplan.sheets.forming_sheet import forming_sheets
from fabplan.sheets.lint import lint
from fabplan.sheets.lists import list_pages, listings
from fabplan.sheets.seam_strip import seam_strips
from fabplan.sheets.sequence_sheet import sequence_sheets
from fabplan.sheets.step_bolts import waiting
from fabplan.sheets.step_tables import step_tables
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
    dry = next(step.number for step in steps if step.kind == "dry-fit")
    erected = Counter(part for step in steps[:dry] for part in step.parts)
    assert (set(erected.values()), len(erected)) == ({1}, len(kit.pieces))
    driven = Counter(int(i) for step in steps for work in step.work for i in work.rivets)
    fitted = sum(len(seam.points) for seam in kit.seams if "fastener" in seam.keys)
    assert fitted == 12
    assert (set(driven.values()), len(driven)) == ({1}, sum(len(seam.points) for seam in kit.seams) - fitted)
    assert skip_plan.supply is not None
    bolts = {line.what: (line.count, line.nuts) for line in skip_plan.supply.bolts}
    assert bolts["fitted bolt F12"] == (12, 12)


def test_what_goes_over_by_itself_is_braced_before_the_crane_lets_go(skip_plan: Plan) -> None:
    """A round bottom stands on a strip of some 40 mm: 0.5 mm of sag of a round of 405 is 2 sqrt(2 x 405 x 0.5) wide.

    With one side on, 65 kg at y 551 beside 74 kg at y 0, its centre lies 256 mm beside that; with both, 381 mm over it,
    so that it goes over at atan(20 / 381) = 3 degrees. From the second long angle of the frame on it stands.
    """
    assert skip_plan.sequence is not None
    steps = skip_plan.sequence.steps
    words = {step.number: line for step in steps[:12] for line in step.checks if "stand by itself" in line}
    assert words[2] == "blocked and braced: as drawn it does not stand by itself once S1R is on"
    assert words[7] == "blocked and braced, till CL is on: as drawn it does not stand by itself"
    assert list(words) == [2, 3, 4, 5, 6, 7]
    for step in steps:
        falls = step.number in words or (step.lie is not None and not step.lie.steady)
        held = any("stand by itself" in line for line in step.checks)
        assert held or not falls
        assert held == (GOES_OVER in step.cautions)


def test_what_stands_is_raised_for_the_frame_that_comes_under_it(skip_plan: Plan) -> None:
    """Below the axis: cover strip 400 + 5 + 5, rings 405 + 50, saddles on the deck at 740, angles to 100 under that.

    So each is 45, 285 and 100 mm lower than what stands when it comes.
    """
    assert skip_plan.sequence is not None
    up = [(step, one) for step in skip_plan.sequence.steps[:12] for one in step.lifts if "raised" in one.what]
    assert [one.what.partition(" for ")[0] for _, one in up] == [
        f"what stands, raised {low} mm" for low in (455 - 410, 740 - 455, 840 - 740)
    ]
    masses = [0.0 if skip_plan.body is None else skip_plan.body.part_of(i).mass for i in range(73)]
    for step, one in up:
        before = set(step.present) - set(step.parts)
        assert one.mass >= sum(masses[i] for i in before) - 0.1
        assert any(line.startswith(one.what) for line in step.checks)
        assert UNDER in step.cautions
    assert [one.hooks == JACKED for _, one in up] == [one.mass > 500.0 for _, one in up] == [False, False, True]
    assert f"over the 500 kg of the hoist: {JACKED}" in " ".join(up[-1][0].checks)


def test_diagonals_are_those_of_flat_plates_alone(skip_plan: Plan) -> None:
    """No tape goes straight over a rolled bottom or a folded side; the straps over the sides' joints alone are flat."""
    assert skip_plan.sequence is not None
    square = next(step for step in skip_plan.sequence.steps if step.kind == "square")
    assert {line.partition(":")[0] for line in square.checks if "both diagonals" in line} == {"WR", "WL"}


def test_nothing_is_riveted_in_the_air(skip_plan: Plan) -> None:
    """What stands at each step hangs together by rivets and bolts, walked from its first piece.

    The angles on top of the ends, with a gusset at each of their ends, are in no body while they have room, and go on
    as one: three rivets in either gusset. All other work is on the body of the datum, or on a bench.
    """
    plan = skip_plan
    assert plan.sequence is not None
    assert plan.stacks is not None
    assert plan.body is not None
    ends, plies = plan.stacks.first.tolist(), plan.stacks.ply_instance.tolist()
    joined = [set(plies[a:b]) for a, b in pairwise(ends)]
    marks = [one.mark for one in plan.body.instances]
    datum = marks.index(plan.job.datum)
    for step in plan.sequence.steps:
        if step.work:
            there = set(step.present)
            ties = [own for own in joined if own <= there]
            reached = {datum} if datum in there else set(step.parts[:1])
            while grown := set().union(*(own for own in ties if own & reached)) - reached:
                reached |= grown
            assert reached == there, step.title
    benches = {marks[step.parts[0]]: step for step in plan.sequence.steps if step.title.startswith("On the bench")}
    for mark, gussets in (("TA1", {"CG1R", "CG1L"}), ("TA2", {"CG2R", "CG2L"})):
        assert {marks[i] for i in benches[mark].parts[1:]} == gussets
        assert [len(run.rivets) for run in benches[mark].work] == [3, 3]


def test_many_pieces_come_in_on_pictures_that_can_be_read(skip_plan: Plan) -> None:
    """No picture has more than a dozen new pieces; all of them once, marked; each at least 100 mm wide on A4."""
    assert skip_plan.sequence is not None
    assert skip_plan.body is not None
    step = max((one for one in skip_plan.sequence.steps if not one.alone), key=lambda one: len(one.parts))
    assert len(step.parts) == 51
    heading = f"Step {step.number}: {step.title}"
    pages = sequence_sheets(skip_plan)
    texts = [[one for one in page.items if isinstance(one, Text)] for page in pages]
    first = next(k for k, own in enumerate(texts) if heading.startswith(own_title(own)) and own_title(own))
    own = [k for k in range(first, len(pages)) if k == first or f"Step {step.number}, part" in own_title(texts[k])]
    captions = [" ".join(one.text for one in texts[k]) for k in own]
    heavy = [found for words in captions for found in re.findall(r"Heavy: ([^.]*)\.", words)]
    shown = [re.sub(r" \(\w+\)", "", words).split(", ") for words in heavy]
    assert len(shown) == 5
    assert all(len(marks) <= 12 for marks in shown)
    assert sorted(mark for marks in shown for mark in marks) == sorted(
        skip_plan.body.instances[i].mark for i in step.parts
    )
    wide = [x for k in own[2:4] for one in pages[k].items if isinstance(one, Stroke) for x, _ in one.points]
    assert max(wide) - min(wide) > 100.0


def own_title(texts: list[Text]) -> str:
    """The heading of a sheet, first line."""
    return next((one.text for one in texts if one.bold and one.text.startswith("Step ")), "")


def test_runs_of_one_seam_from_two_sides_are_told_by_their_rivets(skip_plan: Plan) -> None:
    """D1, 24 rivets over the strap: 22 from the points' side, the two before an upstand from the other."""
    assert skip_plan.sequence is not None
    index = [seam.mark for seam in skip_plan.job.seams].index("D1")
    step = next(one for one in skip_plan.sequence.steps if sum(run.seam == index for run in one.work) == 2)
    (table,) = [one for one in step_tables(skip_plan, step, 180.0) if one.title.startswith("Riveting")]
    told = [row[0].removeprefix("D1 ") for row in table.rows if row[0].startswith("D1 ")]
    numbers = [spread(words) for words in told]
    assert [len(one) for one in numbers] == [len(run.rivets) for run in step.work if run.seam == index]
    assert sorted(number for one in numbers for number in one) == list(range(1, 25))


def spread(words: str) -> list[int]:
    """Numbers from words such as "1 to 7, 9"."""
    ends = [list(map(int, part.split(" to "))) for part in words.split(", ")]
    return [number for end in ends for number in range(end[0], end[-1] + 1)]


def test_bolts_that_wait_or_stay_are_told_with_their_sizes(skip_plan: Plan) -> None:
    """Fitted bolts M12 through 8 of saddle and 10 of channel: 18 + 24 = 42, so 45 mm (grip + 2 d, to 5 mm).

    Of a seam that is driven in parts the bolts of its later rivets stay in, those between plies that all stand.
    """
    plan = skip_plan
    assert plan.sequence is not None
    assert plan.stacks is not None
    (fits,) = [step for step in plan.sequence.steps if step.fitted]
    (table,) = [one for one in step_tables(plan, fits, 180.0) if one.title.startswith("Stays")]
    assert sum(int(row[1]) for row in table.rows) == 12
    assert {row[2] for row in table.rows} == {"fitted bolt F12 12 x 45"}
    assert {row[3] for row in table.rows} == {"12"}
    assert {row[0] for row in table.rows} == {"R1R", "R1L", "R2R", "R2L"}
    drives = {i: step.number for step in plan.sequence.steps for run in step.work for i in run.rivets.tolist()}
    bolted, waits = set(plan.supply.bolted), 0
    for step in plan.sequence.steps:
        seams = dict.fromkeys(run.seam for run in step.work)
        asked = {}
        for seam in seams:
            later = [i for i in bolted if plan.stacks.seam[i] == seam and drives.get(i, 0) > step.number]
            plies = [plan.stacks.ply_instance[slice(*plan.stacks.first[i : i + 2])].tolist() for i in later]
            count = sum(set(own) <= set(step.present) for own in plies)
            if count:
                asked[plan.job.seams[seam].mark] = count
        told = {line.split(":")[0]: int(line.split()[1]) for line in waiting(plan, step)}
        assert told == asked
        waits += len(told)
    assert waits > 0


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
