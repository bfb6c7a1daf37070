"""Holes and cut-outs beside lines of forming, and rows in the flat end of a roll."""

from dataclasses import replace

import numpy as np
import pytest

from fabplan.drawing.check import check_drawing
from fabplan.geom.profile import rectangle, reversed_profile
from fabplan.model.bends import FoldSpec, RollSpec
from fabplan.model.drawing import Drawing, Line
from fabplan.model.finding import Finding, Level
from fabplan.model.holes import Holes
from fabplan.model.job import PartSpec, Supplier
from fabplan.model.ordered import Ordered
from fabplan.model.profile import Profile

FOLD = Line("FOLD_1", np.array([[0.0, 100.0], [400.0, 100.0]]), "F")


def plate(*holes: tuple[float, float, float], purpose: str = "rivet", folds: tuple[Line, ...] = (FOLD,)) -> Drawing:
    table = np.array(holes).reshape(-1, 3)
    many = len(table)
    names = tuple(map(str, range(many)))
    own = Holes(table[:, :2], table[:, 2], ("",) * many, names, (purpose,) * many, ("",) * many)
    return Drawing("plate.dxf", outline=rectangle(0.0, 0.0, 400.0, 200.0), holes=own, folds=folds)


def found(check: str, drawing: Drawing, spec: PartSpec | None = None, thickness: float | None = 6.0) -> list[Finding]:
    told = check_drawing(drawing, None, thickness, Ordered(spec))
    return [finding for finding in told if finding.check == check]


def opened(drawing: Drawing, *corners: float) -> Drawing:
    return replace(drawing, cutouts=(reversed_profile(rectangle(*corners)),))


@pytest.mark.parametrize(("radius", "least"), [(0.0, 24.0), (12.0, 24.0), (20.0, 32.0)])
def test_the_edge_of_a_hole_keeps_off_a_fold(radius: float, least: float) -> None:
    """In 6 mm plate the larger of 2 t + r (common practice) and 4 t, half a die of 8 t (from memory)."""
    spec = PartSpec("P1", folds=(FoldSpec("fold 1", 90.0, radius),))
    for short, faulty in ((0.0, False), (2e-6, True)):
        drawing = plate((200.0, 100.0 + 7.0 + least - short, 14.0))
        assert bool(found("near-fold", drawing, spec)) == faulty
        assert bool(found("near-fold", opened(plate(), 150.0, 100.0 + least - short, 250.0, 180.0), spec)) == faulty


def test_an_unstated_radius_is_assumed_and_said() -> None:
    (finding,) = found("near-fold", plate((200.0, 125.0, 14.0)))
    assert "assumed" in finding.source
    assert not found("near-fold", plate((200.0, 125.0, 14.0)), None, None)


def test_past_the_end_of_a_fold_nothing_is_near() -> None:
    short = Line("FOLD 1", np.array([[0.0, 100.0], [150.0, 100.0]]))
    assert not found("near-fold", plate((200.0, 100.0, 14.0), folds=(short,)))
    assert found("near-fold", plate((170.0, 100.0, 14.0), folds=(short,)))


def test_what_lies_across_a_fold() -> None:
    (rivet,) = found("fold-cut", plate((200.0, 106.0, 14.0)))
    (opening,) = found("fold-cut", plate((200.0, 106.0, 14.0), purpose="open"))
    (cutout,) = found("fold-cut", opened(plate(), 150.0, 90.0, 250.0, 180.0))
    assert [rivet.level, opening.level, cutout.level] == [Level.STOP, Level.QUERY, Level.QUERY]
    assert not found("near-fold", plate((200.0, 106.0, 14.0)))
    assert not found("fold-cut", plate((200.0, 107.0 + 2e-6, 14.0)))
    assert found("fold-cut", plate((200.0, 150.0, np.nan)))


def test_a_relief_at_the_end_of_a_fold_is_meant() -> None:
    assert not found("fold-cut", plate((0.0, 100.0, 14.0), purpose="open"))
    assert not found("near-fold", plate((0.0, 100.0, 14.0), purpose="open"))
    notch = opened(plate(folds=(Line("FOLD 1", np.array([[60.0, 100.0], [400.0, 100.0]])),)), 40.0, 90.0, 70.0, 110.0)
    assert not found("fold-cut", notch)
    assert not found("near-fold", notch)


def test_near_the_line_of_a_roll() -> None:
    """2.5 t, the stretch in which a rolled plate straightens out (from memory): 15 mm of 6 mm plate."""
    rolled = replace(plate((200.0, 122.0, 14.0)), folds=(), rolls=(FOLD,))
    assert not found("near-fold", rolled)
    assert found("near-fold", replace(rolled, holes=plate((200.0, 121.9, 14.0)).holes))


WHOLE = PartSpec("P1", rolls=(RollSpec("", "", 400.0, "y"),))
ZONE = PartSpec("P1", rolls=(RollSpec("ROLL 1", "ROLL 2", -400.0),))


def zoned(drawing: Drawing, first: float, last: float) -> Drawing:
    lines = [Line(f"ROLL {k}", np.array([[x, 0.0], [x, 200.0]])) for k, x in ((1, first), (2, last))]
    return replace(drawing, folds=(), rolls=tuple(lines))


def test_rows_in_the_flat_end_of_a_plate_rolled_whole() -> None:
    """Up to 5 t of the end stays flat, by machine (common practice): 30 mm of 6 mm plate."""
    for x, faulty in ((30.0, False), (29.9, True), (370.0, False), (370.1, True), (200.0, False)):
        drawing = plate((x, 100.0, 11.0), folds=())
        assert bool(found("flat-end-row", drawing, WHOLE)) == faulty, x
        assert not found("flat-end-row", drawing, None)
        assert not found("flat-end-row", drawing, WHOLE, None)
    across = PartSpec("P1", rolls=(RollSpec("", "", 400.0, "x"),))
    assert not found("flat-end-row", plate((20.0, 100.0, 11.0), folds=()), across)
    assert found("flat-end-row", plate((20.0, 20.0, 11.0), folds=()), across)


def test_rows_in_the_flat_end_of_a_zone_that_reaches_the_end() -> None:
    near = plate((25.0, 100.0, 11.0), folds=())
    assert found("flat-end-row", zoned(near, 0.0, 300.0), ZONE)
    assert found("flat-end-row", zoned(near, 20.0, 300.0), ZONE)
    assert not found("flat-end-row", zoned(near, 26.0, 300.0), ZONE)  # flat as it is meant to be
    assert not found("flat-end-row", zoned(plate((65.0, 100.0, 11.0), folds=()), 60.0, 300.0), ZONE)
    assert found("flat-end-row", zoned(near, 300.0, 0.0), ZONE)
    assert not found("flat-end-row", near, ZONE)  # the lines are not drawn: told elsewhere


@pytest.mark.parametrize("turn", [37, 90, 211])
def test_and_the_same_turned(turn: int) -> None:
    angle = np.radians(turn)
    spin = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    drawing = zoned(opened(plate((25.0, 100.0, 11.0)), 50.0, 110.0, 90.0, 160.0), 0.0, 300.0)
    drawing = replace(drawing, folds=(FOLD,))

    def spun(profile: Profile) -> Profile:
        return Profile(profile.vertices @ spin, profile.bulges)

    turned = replace(
        drawing,
        outline=spun(drawing.outline) if drawing.outline else None,
        cutouts=tuple(spun(cutout) for cutout in drawing.cutouts),
        holes=replace(drawing.holes, xy=drawing.holes.xy @ spin),
        folds=tuple(Line(line.name, line.points @ spin) for line in drawing.folds),
        rolls=tuple(Line(line.name, line.points @ spin) for line in drawing.rolls),
    )
    for check in ("fold-cut", "near-fold", "flat-end-row"):
        plain, other = found(check, drawing, ZONE), found(check, turned, ZONE)
        assert [finding.measured for finding in other] == pytest.approx([finding.measured for finding in plain])
        assert plain


def test_a_stated_die_stands_in_place_of_the_assumed_one() -> None:
    """A die of 80 mm draws holes 40 mm beside its middle and wants flanges of 56 mm (0.7 of it, from memory)."""
    bender = Supplier("press shop", "2026-03-01", die=(80.0, 0.0))
    spec = PartSpec("P1", folds=(FoldSpec("FOLD 1", 90.0, 12.0),))
    for y, faulty in ((147.0, False), (146.9, True)):
        told = check_drawing(plate((200.0, y, 14.0)), None, 6.0, Ordered(spec, bender=bender))
        assert [finding.check for finding in told] == ["near-fold"] * faulty
        assert all("press shop, 2026-03-01" in finding.source for finding in told)
    wide = Line("FOLD 1", np.array([[0.0, 155.0], [400.0, 155.0]]))
    # 45 mm on the blank beside the line: 45 - 11.31 + 18 = 51.7 mm over the outside (DIN 6935, k = 0.80051)
    (short,) = check_drawing(plate(folds=(wide,)), None, 6.0, Ordered(spec, bender=bender))
    assert short.check == "short-flange"
    assert short.required == pytest.approx(56.0)
    assert short.measured == pytest.approx(51.69, abs=0.01)
