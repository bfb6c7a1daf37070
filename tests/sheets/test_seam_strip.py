"""Seam strips are true to size on paper: read back by pypdf, held against the drawings as ezdxf reads them."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from ezdxf.filemanagement import readfile
from numpy.typing import NDArray

from fabplan.model.plan import Plan
from fabplan.sheets.flat_row import flat_rows
from fabplan.sheets.lint import lint
from fabplan.sheets.pdf import write_pdf
from fabplan.sheets.seam_strip import seam_strips, state_words
from tests.sheets.paper import Drawn, drawn
from tests.sheets.words import words

DRAWINGS = Path(__file__).parents[2] / "drawings"
TRUE = 0.1  # mm on paper: what a steel rule tells


@pytest.fixture(scope="module")
def strips(bowser_plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> list[Drawn]:
    path = tmp_path_factory.mktemp("strips") / "strips.pdf"
    write_pdf(seam_strips(bowser_plan), path, "strips")
    return drawn(path)


def of_seam(strips: list[Drawn], mark: str) -> list[Drawn]:
    return [page for page in strips if f"Seam {mark}, strip" in page.text]


def holes_on(page: Drawn, radius: float = 5.5) -> list[NDArray[np.float64]]:
    """The holes (n, 2) of each ply of a page, upper ply first, from the left; plies lie 40 mm and more apart."""
    own = page.circles[np.abs(page.circles[:, 2] - radius) < 0.05][:, :2]
    own = own[np.argsort(-own[:, 1])]
    groups = np.split(own, np.nonzero(np.diff(own[:, 1]) < -25.0)[0] + 1)
    return [group[np.argsort(group[:, 0])] for group in groups]


def in_drawing(name: str, layer: str) -> NDArray[np.float64]:
    space = readfile(DRAWINGS / "bowser" / name).modelspace()
    return np.array([[one.dxf.center.x, one.dxf.center.y] for one in space.query(f'CIRCLE[layer=="{layer}"]')])


def test_every_page_passes_and_bears_a_bar_of_100_mm(bowser_plan: Plan, strips: list[Drawn]) -> None:
    pages = seam_strips(bowser_plan)
    assert {page.items: lint(page) for page in pages if lint(page)} == {}
    for page in strips[2:]:
        long = np.abs(page.lines[:, 2] - page.lines[:, 0])
        assert np.any(np.abs(long - 100.0) < 0.01)
        assert "100 %" in page.text


def test_holes_of_a_plate_lie_on_paper_as_the_drawing_has_them(strips: list[Drawn]) -> None:
    """Seam As: F1's row by ezdxf; A1's from the job file: 66 holes from 46 to 2360 mm."""
    plate = np.sort(in_drawing("F1.dxf", "RIVET As")[:, 0])
    bar = np.linspace(46.0, 2360.0, 66)
    first = 0
    for page in of_seam(strips, "As"):
        on_bar, on_plate = holes_on(page)
        end = first + len(on_bar)
        for seen, truth in ((on_bar, bar), (on_plate, plate)):
            assert np.abs(np.diff(seen[:, 0]) - np.abs(np.diff(truth[first:end]))).max(initial=0.0) < TRUE
            assert np.ptp(seen[:, 1]) < TRUE
        first = end
    assert first == 66


def test_holes_40_mm_apart_are_40_mm_apart(lap_plan: Plan, tmp_path: Path) -> None:
    """The first lap as drawn: both plates have ten holes, spaces of 40 mm and a last one of 30; one lies on a join."""
    write_pdf(seam_strips(lap_plan), tmp_path / "lap.pdf", "lap")
    pages = [holes_on(page) for page in drawn(tmp_path / "lap.pdf")[1:]]
    for ply in (0, 1):
        steps = np.concatenate([np.diff(page[ply][:, 0]) for page in pages])
        assert np.abs(steps - [*[40.0] * 7, 30.0]).max() < TRUE


def test_a_join_stands_on_both_pages_at_the_same_distance(strips: list[Drawn]) -> None:
    """The last hole of a page and the first of the next are one space apart, 35.6 mm, over the join between them."""
    one, two = of_seam(strips, "As")[:2]
    upright = [page.lines[np.abs(page.lines[:, 2] - page.lines[:, 0]) < 1e-6] for page in (one, two)]
    joins = [lines[lines[:, 3] - lines[:, 1] > 30.0] for lines in upright]
    after, before = joins[0][:, 0].max(), joins[1][:, 0].min()
    space = (after - holes_on(one)[0][-1, 0]) + (holes_on(two)[0][0, 0] - before)
    assert space == pytest.approx((2360.0 - 46.0) / 65.0, abs=TRUE)


def test_a_ring_is_seen_from_its_made_heads(bowser_plan: Plan, strips: list[Drawn]) -> None:
    """T1's marked face looks outside, the heads of R are inside: its strip is the drawing's mirror, true to size."""
    (number,) = (k for k, seam in enumerate(bowser_plan.job.seams) if seam.mark == "R")
    (drawing,) = (one.drawing for one in bowser_plan.checked if one.drawing.name == "T1.dxf")
    by_number = dict(zip(drawing.holes.number, drawing.holes.xy, strict=True))
    first = 0
    for page in of_seam(strips, "R"):
        seen = holes_on(page)[0]
        truth = np.array([by_number[f"R {k}"] for k in range(first + 1, first + 1 + len(seen))])
        apart = np.linalg.norm(seen[:, None] - seen[None], axis=2)
        assert np.abs(apart - np.linalg.norm(truth[:, None] - truth[None], axis=2)).max() < TRUE
        if len(seen) > 2:
            turns = [float(np.cross(np.append(p[1] - p[0], 0), np.append(p[2] - p[1], 0))[2]) for p in (seen, truth)]
            assert turns[0] * turns[1] < 0.0
        first += len(seen)
    assert first == 50
    assert flat_rows(bowser_plan, number)[0].face == "the face that is not marked"


def test_edges_are_where_the_drawing_has_them(strips: list[Drawn]) -> None:
    """A1, L40x40x6, back mark 22: from the row 18 mm to the toe, and on the inner face 16 mm to the other leg."""
    page = of_seam(strips, "As")[1]
    row = holes_on(page)[0][0, 1]
    level = page.lines[
        (np.abs(page.lines[:, 3] - page.lines[:, 1]) < 1e-6) & (np.ptp(page.lines[:, ::2], axis=1) > 150)
    ]
    near = level[np.abs(level[:, 1] - row) < 23.0][:, 1] - row
    assert sorted(abs(round(float(off), 2)) for off in near if abs(off) > 1.0) == [16.0, 18.0]


def test_the_state_of_holes_and_the_clearance_are_told(bowser_plan: Plan) -> None:
    """10 in 11: 0.63 mm by shop data; pilots and blank plies are never called full size."""
    pages = [words(page) for page in seam_strips(bowser_plan)]
    assert any("usable clearance 0.63 mm" in page and "full size as cut" in page for page in pages)
    for state, told in (("pilot", "PILOTS"), ("mark", "CENTRE MARKS"), ("drilled from mate", "NOT CUT")):
        seams = tuple(
            replace(seam, plies=tuple(replace(ply, state=state) for ply in seam.plies))
            for seam in bowser_plan.job.seams
        )
        changed = replace(bowser_plan, job=replace(bowser_plan.job, seams=seams))
        assert told in state_words(changed, 0)[0]
        assert "full size" not in " ".join(state_words(changed, 0))


def test_each_ply_is_told_in_its_own_state(bowser_plan: Plan) -> None:
    first = bowser_plan.job.seams[0]
    plies = (first.plies[0], *(replace(ply, state="drilled from mate") for ply in first.plies[1:]))
    job = replace(bowser_plan.job, seams=(replace(first, plies=plies), *bowser_plan.job.seams[1:]))
    state, drilled = state_words(replace(bowser_plan, job=job), 0)
    assert f"{plies[0].instance} full size as cut; {plies[1].instance}" in state
    assert f"drill {', '.join(ply.instance for ply in plies[1:])} through {plies[0].instance}" in drilled


def test_the_list_leads_to_each_seam(bowser_plan: Plan, strips: list[Drawn]) -> None:
    for seam in bowser_plan.job.seams:
        own = [k for k, page in enumerate(strips, start=1) if f"Seam {seam.mark}, strip" in page.text]
        told = f"{own[0]} to {own[-1]}" if len(own) > 1 else f"{own[0]}"
        assert any(f"{seam.mark}" in page.text and told in page.text for page in strips[: own[0]])
