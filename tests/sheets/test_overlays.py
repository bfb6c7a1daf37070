"""Seam overlays of known mistakes: what is drawn is what was put in, and the pages pass the linter."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fabplan.body.overlay import overlays
from fabplan.model.overlay import Overlay
from fabplan.model.page import Arc, Page, Stroke
from fabplan.model.plan import Plan
from fabplan.sheets.lint import lint
from fabplan.sheets.overlay_sheet import overlay_sheets
from tests.body.made import made
from tests.kits import defects
from tests.kits.build import Kit
from tests.kits.random_kits import box
from tests.sheets.words import words_of


def of(kit: Kit, folder: Path) -> tuple[Overlay, ...]:
    result = made(kit, folder)
    return overlays(result.job, result.placing)


def drawn(lap_plan: Plan, found: tuple[Overlay, ...]) -> tuple[Page, ...]:
    pages = overlay_sheets(replace(lap_plan, overlays=found))
    assert {page.name: lint(page) for page in pages if lint(page)} == {}
    return pages


def rings(pages: tuple[Page, ...]) -> int:
    return sum(isinstance(item, Arc) and item.width > 0.5 for page in pages for item in page.items)


def arrows(pages: tuple[Page, ...]) -> list[float]:
    """Lengths of all arrows on paper, mm, from the tail to the tip."""
    items = [item for page in pages for item in page.items if isinstance(item, Stroke)]
    heads = [item for item in items if item.closed and item.fill == 0.0 and len(item.points) == 3]
    tails = {item.points[1]: item.points[0] for item in items if not item.closed and len(item.points) == 2}
    middle = {np.round(np.mean(one.points[1:], axis=0), 6).tobytes(): one.points[0] for one in heads}
    ends = [(tails[end], middle.get(np.round(end, 6).tobytes())) for end in tails]
    return [float(np.hypot(tip[0] - tail[0], tip[1] - tail[1])) for tail, tip in ends if tip is not None]


def test_a_sound_kit_has_none(tmp_path: Path) -> None:
    assert of(box(0), tmp_path) == ()


def test_a_row_out_is_drawn_as_far_out_as_it_is(lap_plan: Plan, tmp_path: Path) -> None:
    """2 mm along row Aw of the floor: it alone, each rivet ringed, each arrow 2 mm by scale and magnification."""
    (one, *others) = of(defects.row_shifted(box(0), "F1", "Aw", (0.0, 2.0)), tmp_path)
    assert one.seam == "Aw"
    assert others == []
    np.testing.assert_allclose(np.abs(one.off), np.tile([2.0, 0.0], (len(one.off), 1)), atol=1e-6)
    pages = drawn(lap_plan, (one,))
    assert rings(pages) == len(one.holes_one) == len(one.mate_one)
    (words,) = {text for page in pages for text in words_of(page) if text.startswith("worst")}
    assert words.startswith(f"worst 2.00 mm, allowed 0.63 mm, {len(one.off)} of {len(one.off)} holes unfair")
    scale, times = (float(words.split(mark)[1].split()[0].rstrip(",")) for mark in ("scale 1:", "arrows "))
    assert arrows(pages) == pytest.approx([2.0 / scale * times] * len(one.off), abs=1e-6)


def test_a_hole_without_a_mate_is_ringed(lap_plan: Plan, tmp_path: Path) -> None:
    found = of(defects.hole_missing(box(0), "E1", "Bw", 4), tmp_path)
    assert [one.seam for one in found] == ["Bw"]
    assert rings(drawn(lap_plan, found)) == 1


def test_a_long_seam_is_drawn_in_stretches(lap_plan: Plan) -> None:
    """100 holes, each once; the second row 1 mm aside."""
    holes, own = np.column_stack([40.0 * np.arange(100), np.zeros(100)]), np.arange(100)
    size, names = np.full(100, 11.0), tuple(f"A {k + 1}" for k in range(100))
    one = Overlay(
        "A", "P1, row A", "P2, row A", holes, holes + np.array([0.0, 1.0]), size, size, names, own, own, 0.63, 0.0
    )
    pages = drawn(lap_plan, (one,))
    circles = [item for page in pages for item in page.items if isinstance(item, Arc) and item.width == 0.25]
    assert len(circles) == rings(pages) == 100
    heads = [text for page in pages for text in words_of(page) if text.startswith("seam A, part")]
    assert heads == [f"seam A, part {k + 1} of {len(heads)}: P1, row A and P2, row A" for k in range(len(heads))]
    assert len(heads) > 1
