"""Rows of rivets on the sheets of the order of work: all there, every fifth numbered, none too small to read."""

from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pytest

from fabplan.model.page import Arc, Stroke, Text
from fabplan.model.plan import Plan
from fabplan.model.sequence import SeamWork
from fabplan.sheets.elevation import FIGURE, drawn, extent
from fabplan.sheets.lint import lint
from fabplan.sheets.pen import balanced, box, width, wrap
from fabplan.sheets.row import APART, Row, legible_scale, rivet_words, rows_of
from fabplan.sheets.sequence_sheet import sequence_sheets
from fabplan.sheets.shelves import set_out
from fabplan.sheets.step_bolts import bolt_sizes
from fabplan.sheets.table import PAD, natural

PAGE = (10.0, 30.0, 407.0, 280.0)


def works(plan: Plan) -> list[SeamWork]:
    assert plan.sequence is not None
    return [work for step in plan.sequence.steps for work in step.work]


def rows(plan: Plan, wide: float = 390.0) -> list[Row]:
    assert plan.sequence is not None
    return [
        row for step in plan.sequence.steps for work in step.work for row in rows_of(plan, work, step.present, wide)
    ]


def in_the_body(plan: Plan) -> Plan:
    """The plan as if all pieces stood at every step: the ring of the hatch is driven on the bench."""
    assert plan.sequence is not None
    assert plan.body is not None
    every = tuple(range(len(plan.body.instances)))
    steps = tuple(replace(step, present=every) for step in plan.sequence.steps)
    return replace(plan, sequence=replace(plan.sequence, steps=steps))


def texts(items: object, **wanted: object) -> list[str]:
    assert isinstance(items, (list, tuple))
    found = [item for item in items if isinstance(item, Text)]
    return [item.text for item in found if all(getattr(item, name) == value for name, value in wanted.items())]


def test_every_fifth_rivet_is_numbered_at_the_smallest_scale_in_use(bowser_plan: Plan) -> None:
    for row in rows(bowser_plan):
        block = drawn(row, legible_scale(row))
        shown = set(texts(block.items, size=FIGURE, bold=True))
        assert {str(number) for number in row.number.tolist() if number % 5 == 0} <= shown


def test_a_number_without_room_is_told(bowser_plan: Plan) -> None:
    """At 1:100 a pitch of 35 mm is 0.35 mm on paper: most numbers must go, and the sheet says how many."""
    row = max(rows(bowser_plan), key=lambda one: len(one.number))
    block = drawn(row, 100.0)
    shown = {int(word) for word in texts(block.items, size=FIGURE, bold=True)}
    fifths = {number for number in row.number.tolist() if number % 5 == 0}
    assert len(fifths - shown) > 0
    assert any(f"; {len(fifths - shown)} more numbers have no room" in word for word in texts(block.items))


@pytest.mark.parametrize("wide", [390.0, 120.0])
def test_a_long_row_is_cut_in_stretches_that_hold_every_rivet_once(bowser_plan: Plan, wide: float) -> None:
    assert bowser_plan.sequence is not None
    longest = 0
    for step in bowser_plan.sequence.steps:
        for work in step.work:
            found = rows_of(bowser_plan, work, step.present, wide)
            turns = np.concatenate([row.turn for row in found])
            assert sorted(turns.tolist()) == list(range(1, len(work.rivets) + 1))
            longest = max(longest, len(found))
            for row in found:
                span = float(row.window[2] - row.window[0])
                assert not row.level or span / legible_scale(row) <= wide + 1e-6
    assert (longest > 1) == (wide < 200.0)


def test_rivet_one_of_a_ring_is_told_by_the_steel(bowser_plan: Plan) -> None:
    """Judge: each rivet of the ring against each of the named piece; and the turn of the numbers by their angles."""
    assert bowser_plan.stacks is not None
    assert bowser_plan.body is not None
    stacks, marks = bowser_plan.stacks, [one.mark for one in bowser_plan.body.instances]
    (ring,) = [row for row in rows(in_the_body(bowser_plan)) if not row.level]
    (work,) = [
        one for one in works(bowser_plan) if len(one.rivets) == len(ring.xy) and ring.heading.startswith("seam R")
    ]
    mark = ring.words.split("nearest to ")[1].split(",")[0]
    plies = np.repeat(np.arange(len(stacks)), np.diff(stacks.first))
    others = np.unique(plies[stacks.ply_instance == marks.index(mark)])
    away = [min(float(np.linalg.norm(stacks.point[i] - stacks.point[j])) for j in others) for i in work.rivets]
    numbers = [int(stacks.number[i].split()[-1]) for i in work.rivets]
    assert away[numbers.index(1)] <= min(away) + 1.0
    angle = np.unwrap(np.arctan2(*(ring.xy - ring.xy.mean(axis=0))[np.argsort(ring.number)].T[::-1]))
    assert ("against the clock" in ring.words) == (angle[-1] > angle[0])


def test_a_ring_shows_the_piece_that_tells_its_first_rivet(bowser_plan: Plan) -> None:
    """D1R runs along the south side (y = 0) of the demo, the hatch lies north of it: seen from above it is below."""
    (ring,) = [row for row in rows(in_the_body(bowser_plan)) if not row.level]
    assert "nearest to D1R" in ring.words
    block = drawn(ring, legible_scale(ring))
    (mark,) = [item for item in block.items if isinstance(item, Text) and item.text == "D1R"]
    (one,) = [item for item in block.items if isinstance(item, Text) and item.text == "1" and item.bold]
    middle = np.mean([item.centre for item in block.items if isinstance(item, Arc)], axis=0)
    assert mark.at[1] < one.at[1] < middle[1]
    assert abs(mark.at[0] - one.at[0]) < 3.0


def test_turns_beside_one_another_do_not_read_as_one_number(bowser_plan: Plan) -> None:
    """3 and 1 of neighbours, 3.5 mm apart on paper, once read 31: two thirds of a figure's width between them."""
    for row in rows(bowser_plan):
        block = drawn(row, legible_scale(row))
        figures = [box(item) for item in block.items if isinstance(item, Text) and item.size == FIGURE]
        words = [place for place in figures if place[2] - place[0] < 12.0]
        for one, other in combinations(words, 2):
            if one[1] < other[3] and other[1] < one[3]:
                assert max(other[0] - one[2], one[0] - other[2]) > 0.6 * width("3", FIGURE)


def test_no_page_of_rows_stands_nearly_empty(bowser_plan: Plan) -> None:
    """A step on two sheets: the second never bears one row alone where the first bears three at half its scale."""
    four = [row for row in rows(bowser_plan) if row.heading.startswith(("seam Bw", "seam Ew", "seam Lw"))]
    assert len(four) == 4
    pages = set_out(four, (10.0, 30.0, 407.0, 80.0), PAGE)
    scales = [[word.split("scale 1:")[1].split(";")[0] for word in texts(page) if "scale" in word] for page in pages]
    assert [len(page) for page in scales] == [1, 3]
    assert {scale for page in scales for scale in page} == {"5"}
    every = [texts(page.items) for page in sequence_sheets(bowser_plan)]
    assert bowser_plan.sequence is not None
    driven = {f"Step {step.number}, part 2" for step in bowser_plan.sequence.steps if step.work}
    further = [page for page in every if driven & set(page)]
    assert further
    told = ("Rows from the driver", "Rows: on the next sheet")  # where all is taken up by what is checked and measured
    assert all(any(word.startswith(told) for word in page) for page in further)


def test_a_long_word_breaks_after_its_hyphen() -> None:
    assert wrap("greatest-edge-distance", width("greatest-edge-d")) == ["greatest-edge-", "distance"]


def test_neighbours_stand_apart_on_paper(bowser_plan: Plan) -> None:
    """Against the gaps between neighbours, sorted by number, measured here."""
    for row in rows(bowser_plan):
        gaps = np.linalg.norm(np.diff(row.xy[np.argsort(row.number)], axis=0), axis=1)
        assert np.median(gaps) / legible_scale(row) >= APART


def test_rows_are_set_out_once_each_inside_their_pages(bowser_plan: Plan) -> None:
    every = rows(bowser_plan)
    small = (10.0, 30.0, 407.0, 60.0)
    pages = set_out(every, small, PAGE)
    titles = [word for page in pages for word in texts(page, bold=True, size=3.5)]
    assert sorted(titles) == sorted(row.heading for row in every)
    for page, area in zip(pages, [small, *[PAGE] * len(pages)], strict=False):
        assert all(area[1] <= item.at[1] <= area[3] for item in page if isinstance(item, Text))


def test_rows_that_fit_one_page_take_one(bowser_plan: Plan) -> None:
    """Two rows stand under one another wherever their heights and a gap of 5 mm are less than the page's."""
    straight = [row for row in rows(bowser_plan) if row.level]
    for one, other in pairwise(straight):
        sizes = [extent(row, min(legible_scale(one), legible_scale(other))) for row in (one, other)]
        assert sizes[0][1] + sizes[1][1] + 5.0 <= PAGE[3] - PAGE[1]
        assert len(set_out([one, other], PAGE, PAGE)) == 1


def test_the_few_of_another_length_are_told_by_number(bowser_plan: Plan) -> None:
    """Of another length are the rivets through one ply more: corners of three plies (the drawings of the demo)."""
    stacks = bowser_plan.stacks
    assert stacks is not None
    plies = np.diff(stacks.first)
    found = 0
    for work in works(bowser_plan):
        own = plies[work.rivets]
        if own.min() == own.max():
            continue
        odd = [int(stacks.number[i].split()[-1]) for i in work.rivets.tolist() if plies[i] == own.max()]
        assert f"(no {', '.join(map(str, sorted(odd)))})" in rivet_words(bowser_plan, work.rivets)
        found += 1
    assert found > 0


def test_sheets_are_numbered_through_and_carry_job_and_revision(bowser_plan: Plan) -> None:
    pages = sequence_sheets(bowser_plan)
    for number, page in enumerate(pages, start=1):
        words = texts(page.items)
        assert f"sheet {number} of {len(pages)}" in words
        assert bowser_plan.job.revision in words
        assert any(word.startswith(bowser_plan.job.number) for word in words)


def test_a_riveting_sheet_names_the_drawings_it_was_made_from(bowser_plan: Plan) -> None:
    words = " ".join(word for page in sequence_sheets(bowser_plan) for word in texts(page.items))
    for checked in bowser_plan.checked:
        assert f"({checked.drawing.fingerprint[:8]})" in words


def test_short_columns_keep_their_words_whole() -> None:
    """Room for 100 mm: the long cell gives way, the short ones keep what they need (measured with the sheets' font)."""
    heads, rows = ("seam", "tool", "no"), (("As", "a long name of a tool " * 8, "66"),)
    found = natural(heads, rows, 100.0)
    assert sum(found) == pytest.approx(100.0)
    for head, wide in ((heads[0], found[0]), (heads[2], found[2])):
        assert width(head, bold=True) + 2.0 * PAD <= wide
    assert sum(natural(heads, rows, 1000.0)) < 1000.0


def test_lines_of_a_caution_are_of_like_length() -> None:
    """No line may be cut by more than half against the longest, and no line more than plain wrapping needs."""
    words = "Weigh and sling every piece; nobody under the load; edges cut: gloves. A bolted body racks: brace it."
    lines = balanced(words, 130.0, 3.0, bold=True)
    assert " ".join(lines) == words
    assert len(lines) == len(wrap(words, 130.0, 3.0, bold=True))
    assert min(width(line) for line in lines) > 0.5 * max(width(line) for line in lines)


def test_a_step_with_the_work_of_a_whole_body_still_passes(bowser_plan: Plan) -> None:
    """Every piece, seam, bolt, check and caution of the plan in one step, with its rivets and without."""
    assert bowser_plan.sequence is not None
    steps = bowser_plan.sequence.steps
    full = replace(
        steps[0],
        title=f"Put in {', '.join(part.mark for part in bowser_plan.body.instances)}" if bowser_plan.body else "",
        parts=tuple(sorted({i for step in steps for i in step.parts})),
        present=steps[-1].present,
        work=tuple(work for step in steps for work in step.work),
        bolts=tuple(pair for step in steps for pair in step.bolts),
        checks=tuple(check for step in steps for check in step.checks),
        cautions=tuple(dict.fromkeys(caution for step in steps for caution in step.cautions)),
    )
    sequence = replace(bowser_plan.sequence, steps=(full, replace(full, number=2, work=())))
    pages = sequence_sheets(replace(bowser_plan, sequence=sequence))
    assert [lint(page) for page in pages if lint(page)] == []
    titles = [word for page in pages for word in texts(page.items, bold=True, size=3.5)]
    seams = {title.split("; here ")[0] for title in titles if title.startswith("seam")}  # long rows stand in parts
    assert len(seams) == len(full.work)


def test_a_round_row_shows_the_opening_it_runs_round(bowser_plan: Plan) -> None:
    """The hatch ring of the demo's drawings: 760 mm outside, 620 mm inside."""
    (ring,) = [row for row in rows(in_the_body(bowser_plan)) if not row.level]
    sizes = {tuple(np.round(np.ptp(line, axis=0)).tolist()) for line in ring.near}
    assert {(760.0, 760.0), (620.0, 620.0)} <= sizes


def test_service_bolts_are_crossed_where_they_stand(bowser_plan: Plan) -> None:
    """Two strokes a bolt over its own hole, for every stack that the supply counts a bolt for."""
    crossed = 0
    for row in rows(bowser_plan):
        block = drawn(row, legible_scale(row))
        strokes = [item for item in block.items if isinstance(item, Stroke) and item.width == 0.18 and not item.dash]
        middles = np.array([np.mean(item.points, axis=0) for item in strokes]).reshape(-1, 2)
        holes = np.array([item.centre for item in block.items if isinstance(item, Arc)])
        assert np.all(np.linalg.norm(middles[:, None] - holes[None], axis=2).min(axis=1) < 1e-6)
        crossed += len(strokes)
    assert crossed == 2 * len(bowser_plan.supply.bolted)


def test_a_sheet_of_the_bench_says_which_bolts_it_takes(bowser_plan: Plan) -> None:
    """Grip + 2 d, rounded up to 5 mm (common practice): 12 + 20 gives 35, with a strap of 5 mm 17 + 20 gives 40."""
    assert bowser_plan.sequence is not None
    bench = [step for step in bowser_plan.sequence.steps if step.title.startswith("On the bench")]
    floor, side = (next(step for step in bench if f"to {mark}:" in step.title) for mark in ("F1", "S1"))
    assert bolt_sizes(bowser_plan, floor) == ["Service bolts 10 x 35, with a nut and two washers each."]
    assert bolt_sizes(bowser_plan, side) == [
        "Service bolts 10 x 35 or 10 x 40, with a nut and two washers each: Es.",
        "Service bolts 10 x 35, with a nut and two washers each: Gs.",
    ]


def test_arrows_on_a_ring_run_the_way_the_turns_rise(bowser_plan: Plan) -> None:
    """Seam R is driven from the middle of its numbers outwards: two arrows part there, inside the ring."""
    (ring,) = (row for row in rows(bowser_plan) if row.heading.startswith("seam R:"))
    block = drawn(ring, legible_scale(ring))
    heads = [item for item in block.items if isinstance(item, Stroke) and item.closed and item.fill == 0.0]
    holes = np.array([item.centre for item in block.items if isinstance(item, Arc) and item.width == 0.2])
    middle, first = holes.mean(axis=0), holes[0]
    inside = [
        head for head in heads if np.linalg.norm(np.array(head.points[0]) - middle) < np.linalg.norm(first - middle)
    ]
    assert len(inside) == 2
    away = [float(np.cross(np.append(first - middle, 0), np.append(np.array(one.points[0]) - middle, 0))[2]) for one in
            inside]  # fmt: skip
    assert away[0] * away[1] < 0.0
    assert all(np.linalg.norm(np.array(one.points[0]) - first) < 40.0 for one in inside)


def test_no_row_is_told_by_a_piece_that_lies_as_near_to_its_other_end(bowser_plan: Plan) -> None:
    """Against the distances of the row's end rivets to all rivets of that piece, worked out here."""
    assert bowser_plan.sequence is not None
    assert bowser_plan.body is not None
    stacks, marks = bowser_plan.stacks, [one.mark for one in bowser_plan.body.instances]
    assert stacks is not None
    stack = np.repeat(np.arange(len(stacks)), np.diff(stacks.first))
    told = 0
    for step in bowser_plan.sequence.steps:
        for work in step.work:
            for row in rows_of(bowser_plan, work, step.present, 390.0):
                if row.level and "nearest to " in row.words:
                    piece = marks.index(row.words.split("nearest to ")[1].split(",")[0].split(";")[0])
                    ends = stacks.point[work.rivets[[np.argmin(row.number), np.argmax(row.number)]]]
                    others = stacks.point[stack[stacks.ply_instance == piece]]
                    first, last = (np.linalg.norm(others - end, axis=1).min() for end in ends)
                    assert last > first + 10.0
                told += "on the drawing of" in row.words
    assert told > 0
