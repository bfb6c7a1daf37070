"""Faults that are seen by what is stated beside the lines, or by limits; a figure of each says how far from the limit.

The functions that draw them take that figure, so that the twin that is just clear of the fault is the same drawing.
"""

import math
from typing import Any

import numpy as np
from ezdxf import transform
from ezdxf.math import Matrix44

from tests.drawing.plates import (
    QUARTER,
    STRIP_ROW,
    Draft,
    along,
    cover,
    gusset,
    marked,
    opening,
    strip,
)
from tests.drawing.register import CLEAR, FAULTY

FOLDED = 'folds = [{ line = "FOLD 1", angle = 90, inside_radius = 12 }]'
ROLLED = 'rolls = [{ from = "ROLL 1", to = "ROLL 2", inside_radius = 400 }]'
CUTTER = 'supplier = "cutter"'


def blank(long: float, wide: float, bolt: float = 14.0, inset: float = 20.0) -> Draft:
    """A plain cover with a bolt in each corner."""
    draft = Draft()
    draft.light([(0.0, 0.0), (long, 0.0), (long, wide), (0.0, wide)])
    for x, y in ((inset, inset), (long - inset, inset), (inset, wide - inset), (long - inset, wide - inset)):
        draft.hole(x, y, bolt, "BOLT")
    return draft


def scaled(draft: Draft, factor: float) -> Draft:
    transform.inplace(draft.space, Matrix44.scale(factor, factor, factor))
    return draft


# --- profiles and cuts ------------------------------------------------------------------------------------------------


def hourglass(neck: float) -> Draft:
    """An opening drawn in at the waist; with a neck of 0 it touches itself."""
    draft, low, high = cover(Draft(), with_opening=False), 150.0 - neck / 2.0, 150.0 + neck / 2.0
    draft.light([(140.0, 110.0), (200.0, low), (260.0, 110.0), (260.0, 190.0), (200.0, high), (140.0, 190.0)])
    return draft


FAULTY.keep("crossing-lines.touching")(lambda: hourglass(0.0))
CLEAR.keep("crossing-lines.touching")(lambda: hourglass(20.0))


def island(x: float) -> Draft:
    """A second profile in the opening of a cover, or in the metal beside it."""
    draft = cover(Draft(), with_opening=False)
    draft.light(opening(150.0, 110.0, 250.0, 190.0))
    draft.light(opening(x, 130.0, x + 60.0, 170.0))
    return draft


FAULTY.keep("wrong-nesting")(lambda: island(170.0))
CLEAR.keep("wrong-nesting")(lambda: island(270.0))


def ragged(count: int) -> Draft:
    """A cover of which one edge is drawn in tiny lines, as a tracing gives them."""
    draft = Draft()
    edge = [(60.0 + 0.4 * k, 0.02 * (k % 2)) for k in range(count + 1)]
    draft.light([(0.0, 0.0), *edge, (300.0, 0.0), (300.0, 200.0), (0.0, 200.0)])
    for x, y in ((20.0, 20.0), (280.0, 20.0), (20.0, 180.0), (280.0, 180.0)):
        draft.hole(x, y, 14.0, "BOLT")
    return draft


FAULTY.keep("tiny-segments")(lambda: ragged(101))
CLEAR.keep("tiny-segments")(lambda: ragged(100))


def window(radius: float) -> Draft:
    draft = cover(Draft(), with_opening=False)
    draft.light(opening(150.0, 120.0, 250.0, 180.0, radius))
    return draft


FAULTY.keep("sharp-corner", stated=CUTTER)(lambda: window(2.9))
CLEAR.keep("sharp-corner", stated=CUTTER)(lambda: window(3.0))


def slot(width: float) -> Draft:
    draft, half = cover(Draft(), with_opening=False), width / 2.0
    draft.light([
        (170.0, 150.0 - half), (230.0, 150.0 - half, 1.0), (230.0, 150.0 + half), (170.0, 150.0 + half, 1.0),
    ])  # fmt: skip
    return draft


FAULTY.keep("narrow-slot")(lambda: slot(5.9))
CLEAR.keep("narrow-slot")(lambda: slot(6.0))


def corners_askew(apart: float) -> Draft:
    """A cover of whose opening two corners of metal stand askew."""
    draft, out = cover(Draft(), with_opening=False), apart / 8.0**0.5
    left, right, low, high = 200.0 - out, 200.0 + out, 150.0 - out, 150.0 + out
    draft.light([
        (148.0, 100.0), (right - 8.0, 100.0, QUARTER), (right, 108.0), (right, low), (252.0, low, QUARTER),
        (260.0, low + 8.0), (260.0, 192.0, QUARTER), (252.0, 200.0), (left + 8.0, 200.0, QUARTER), (left, 192.0),
        (left, high), (148.0, high, QUARTER), (140.0, high - 8.0), (140.0, 108.0, QUARTER),
    ])  # fmt: skip
    return draft


FAULTY.keep("narrow-slot.askew")(lambda: corners_askew(5.9))
CLEAR.keep("narrow-slot.askew")(lambda: corners_askew(6.0))


def tongue(width: float) -> Draft:
    """A cover whose opening leaves a tongue standing."""
    draft, left = cover(Draft(), with_opening=False), 200.0 - width / 2.0
    right = 200.0 + width / 2.0
    draft.light([
        (148.0, 100.0), (252.0, 100.0, QUARTER), (260.0, 108.0), (260.0, 192.0, QUARTER), (252.0, 200.0),
        (right + 8.0, 200.0, QUARTER), (right, 192.0), (right, 140.0), (left, 140.0), (left, 192.0, QUARTER),
        (left - 8.0, 200.0), (148.0, 200.0, QUARTER), (140.0, 192.0), (140.0, 108.0, QUARTER),
    ])  # fmt: skip
    return draft


FAULTY.keep("thin-web.tongue")(lambda: tongue(5.9))
CLEAR.keep("thin-web.tongue")(lambda: tongue(6.0))


def pointed_gusset(angle: float) -> Draft:
    """A gusset whose long edge runs out to a point at its foot, at an angle in degrees."""
    draft, high = Draft(), 360.0 * math.tan(math.radians(angle))
    draft.light([(0.0, 0.0), (360.0, 0.0), (0.0, high)])
    draft.row("foot", along((30.0, 30.0), (230.0, 30.0), 6))
    return draft


FAULTY.keep("thin-web.spike")(lambda: pointed_gusset(26.0))
CLEAR.keep("thin-web.spike")(lambda: pointed_gusset(30.0))


def pointed_notch(angle: float) -> Draft:
    """A cover with a notch of an angle, in degrees, that runs out to a point, in its upper edge."""
    draft, half = Draft(), 40.0 * math.tan(math.radians(angle / 2.0))
    top = [(400.0, 300.0), (200.0 + half, 300.0), (200.0, 260.0), (200.0 - half, 300.0), (0.0, 300.0)]
    draft.light([(0.0, 0.0), (400.0, 0.0), *top])
    draft.row("bottom", along((30.0, 25.0), (370.0, 25.0), 9))
    return draft


FAULTY.keep("narrow-slot.notch")(lambda: pointed_notch(20.0))
CLEAR.keep("narrow-slot.notch")(lambda: pointed_notch(30.0))


FAULTY.keep("small-hole.plasma", stated='supplier = "plasma shop"')(lambda: blank(300.0, 200.0, 8.9))
CLEAR.keep("small-hole.plasma", stated='supplier = "plasma shop"')(lambda: blank(300.0, 200.0, 9.0))

FAULTY.keep("inch-size")(lambda: blank(300.0, 200.0, 12.7))
CLEAR.keep("inch-size")(lambda: blank(300.0, 200.0, 12.5))


# --- the unit ---------------------------------------------------------------------------------------------------------


def in_unit(code: int) -> dict[str, Any]:
    return {"spoil": lambda text: text.replace("$INSUNITS\n 70\n4\n", f"$INSUNITS\n 70\n{code}\n")}


def bare_plate(long: float) -> Draft:
    """A plate of 4 to 3 without holes, its diagonal 5: nothing proves its unit but that it can be made."""
    draft = Draft()
    draft.light([(0.0, 0.0), (long, 0.0), (long, 0.75 * long), (0.0, 0.75 * long)])
    return draft


FAULTY.keep("units-in-doubt.inch", **in_unit(1))(lambda: strip(Draft()))
FAULTY.keep("units-in-doubt.cm")(lambda: scaled(strip(Draft()), 0.1))
FAULTY.keep("units-in-doubt.m")(lambda: scaled(strip(Draft()), 0.001))
CLEAR.keep("units-in-doubt.inch", **in_unit(1))(lambda: scaled(strip(Draft()), 1.0 / 25.4))
CLEAR.keep("units-in-doubt.cm", **in_unit(5))(lambda: scaled(strip(Draft()), 0.1))
CLEAR.keep("units-in-doubt.m", **in_unit(6))(lambda: scaled(strip(Draft()), 0.001))

FAULTY.keep("units-in-doubt.small")(lambda: bare_plate(15.9))
CLEAR.keep("units-in-doubt.small")(lambda: bare_plate(16.0))


# --- forming ----------------------------------------------------------------------------------------------------------


def flange(edge: float, size: float = 14.0, layer: str = "FOLD 1") -> Draft:
    """A plate with a line of forming across it and a pair of holes, their edges so far from the line."""
    draft = Draft()
    draft.light([(0.0, 0.0), (300.0, 0.0), (300.0, 160.0), (0.0, 160.0)])
    draft.row("lap", along((30.0, 25.0), (270.0, 25.0), 6))
    draft.line((0.0, 90.0), (300.0, 90.0), layer)
    for x in (100.0, 200.0):
        draft.hole(x, 90.0 + edge + size / 2.0, size, "BOLT")
    return draft


FAULTY.keep("fold-cut", stated=FOLDED)(lambda: flange(-3.0))
FAULTY.keep("near-fold", stated=FOLDED)(lambda: flange(23.9))
CLEAR.keep("fold-cut", stated=FOLDED)(lambda: flange(24.1))
CLEAR.keep("near-fold", stated=FOLDED)(lambda: flange(24.0))
FAULTY.keep("near-fold.roll")(lambda: flange(14.9, layer="ROLL 1"))
CLEAR.keep("near-fold.roll")(lambda: flange(15.0, layer="ROLL 1"))


def folded_opening(y: float) -> Draft:
    """A fold with an opening across it or clear of it."""
    draft = Draft()
    draft.light([(0.0, 0.0), (300.0, 0.0), (300.0, 160.0), (0.0, 160.0)])
    draft.row("lap", along((30.0, 25.0), (270.0, 25.0), 6))
    draft.line((0.0, 70.0), (300.0, 70.0), "FOLD 1")
    draft.light(opening(120.0, y, 180.0, y + 40.0))
    return draft


FAULTY.keep("fold-cut.opening", stated=FOLDED)(lambda: folded_opening(50.0))
CLEAR.keep("fold-cut.opening", stated=FOLDED)(lambda: folded_opening(94.0))


def notched(deep: float, y: float = 70.0) -> Draft:
    """A plate with a fold across it and a notch, so deep, in the edge beyond."""
    draft = Draft()
    draft.light([
        (0.0, 0.0), (300.0, 0.0), (300.0, 160.0), (180.0, 160.0), (180.0, 168.0 - deep, -QUARTER),
        (172.0, 160.0 - deep), (128.0, 160.0 - deep, -QUARTER), (120.0, 168.0 - deep), (120.0, 160.0), (0.0, 160.0),
    ])  # fmt: skip
    draft.row("lap", along((30.0, 25.0), (270.0, 25.0), 6))
    draft.line((0.0, y), (300.0, y), "FOLD 1")
    return draft


FAULTY.keep("fold-cut.notch", stated=FOLDED)(lambda: notched(95.0))
CLEAR.keep("fold-cut.notch", stated=FOLDED)(lambda: notched(60.0))
FAULTY.keep("fold-cut.beside", stated=FOLDED)(lambda: notched(60.0, -30.0))
CLEAR.keep("fold-cut.beside", stated=FOLDED)(lambda: notched(60.0, 75.0))


def folded(wide: float, cut: float = 0.0) -> Draft:
    """A flange so wide beside its fold; with `cut` the outline comes back so far from the fold in its middle."""
    draft, y = Draft(), 100.0 + wide
    middle = [(180.0, y), (180.0, 100.0 + cut + 8.0, -QUARTER), (172.0, 100.0 + cut), (128.0, 100.0 + cut, -QUARTER)]
    middle += [(120.0, 100.0 + cut + 8.0), (120.0, y)]
    draft.light([(0.0, 0.0), (300.0, 0.0), (300.0, y), *(middle if cut else []), (0.0, y)])
    draft.row("lap", along((30.0, 25.0), (270.0, 25.0), 6))
    draft.line((0.0, 100.0), (300.0, 100.0), "FOLD 1")
    return draft


# 33.6 mm over the outside (0.7 of a die of 8 t) less r + t = 18, and half of the bent zone of 90 degrees by DIN 6935:
# k = 0.65 + 0.5 lg 2 = 0.80051, pi / 4 (12 + 0.80051 x 3) = 11.311
FAULTY.keep("short-flange", stated=FOLDED)(lambda: folded(33.6 - 18.0 + 11.30))
CLEAR.keep("short-flange", stated=FOLDED)(lambda: folded(33.6 - 18.0 + 11.32))
FAULTY.keep("near-fold.edge", stated=FOLDED)(lambda: folded(80.0, 23.9))
CLEAR.keep("near-fold.edge", stated=FOLDED)(lambda: folded(80.0, 24.0))


def bent(radius: float, grade: str) -> dict[str, Any]:
    fold = f'folds = [{{ line = "FOLD 1", angle = 90, inside_radius = {radius:g} }}]'
    return {"stated": f'grade = "{grade}"\n{fold}'}


# EN 10025-2, flanging radii along the grain, in 6 mm: 12 mm of S355, 10 mm of S235
FAULTY.keep("tight-bend", **bent(11.9, "S355"))(lambda: folded(60.0))
CLEAR.keep("tight-bend", **bent(12.0, "S355"))(lambda: folded(60.0))
FAULTY.keep("tight-bend.soft", **bent(9.9, "S235JRC"))(lambda: folded(60.0))
CLEAR.keep("tight-bend.soft", **bent(10.0, "S235JRC"))(lambda: folded(60.0))


def drum(end: float) -> Draft:
    """A plate rolled from end to end, a row at each end."""
    draft = Draft()
    draft.light([(0.0, 0.0), (600.0, 0.0), (600.0, 200.0), (0.0, 200.0)])
    draft.row("first", along((end, 25.0), (end, 175.0), 4))
    draft.row("last", along((570.0, 25.0), (570.0, 175.0), 4))
    draft.line((0.0, 0.0), (0.0, 200.0), "ROLL 1")
    draft.line((600.0, 0.0), (600.0, 200.0), "ROLL 2")
    return draft


FAULTY.keep("flat-end-row", stated=ROLLED)(lambda: drum(29.9))
CLEAR.keep("flat-end-row", stated=ROLLED)(lambda: drum(30.0))

# --- what the supplier takes ------------------------------------------------------------------------------------------

REAMED = 'state = "reamed"'
FAULTY.keep("reamed-hole", stated=CUTTER, quantity=2, seam=REAMED)(lambda: strip(Draft()))
CLEAR.keep("reamed-hole", stated='supplier = "water jet"', quantity=2, seam=REAMED)(lambda: strip(Draft()))
FAULTY.keep("beyond-bed", stated=CUTTER, thickness=4.0)(lambda: blank(3100.1, 1549.0))
FAULTY.keep("beyond-bed.sheet", stated=CUTTER, thickness=4.0)(lambda: blank(2990.1, 1490.0))
CLEAR.keep("beyond-bed", stated=CUTTER, thickness=4.0)(lambda: blank(2990.0, 1490.0))
FAULTY.keep("small-part", stated=CUTTER)(lambda: blank(120.0, 39.9, 8.0, 10.0))
CLEAR.keep("small-part", stated=CUTTER)(lambda: blank(120.0, 40.0, 8.0, 10.0))
FAULTY.keep("too-thick", stated=CUTTER, thickness=20.5)(lambda: blank(400.0, 300.0, 24.0, 40.0))
CLEAR.keep("too-thick", stated=CUTTER, thickness=20.0)(lambda: blank(400.0, 300.0, 24.0, 40.0))
FAULTY.keep("too-heavy", thickness=8.0)(lambda: blank(2400.0, 1328.0))
CLEAR.keep("too-heavy", thickness=8.0)(lambda: blank(2400.0, 1326.0))


def saved_as(version: str) -> dict[str, Any]:
    return {"spoil": lambda text: text.replace("AC1015", version)}


FAULTY.keep("dxf-version", stated=CUTTER, **saved_as("AC1027"))(lambda: strip(Draft()))
CLEAR.keep("dxf-version", stated=CUTTER, **saved_as("AC1024"))(lambda: strip(Draft()))
FAULTY.keep("supplier-unit", stated=CUTTER, **in_unit(1))(lambda: scaled(strip(Draft()), 1.0 / 25.4))
CLEAR.keep("supplier-unit", stated=CUTTER)(lambda: strip(Draft()))
FAULTY.keep("supplier-layer", stated='supplier = "two layers"')(lambda: strip(Draft()))
CLEAR.keep("supplier-layer", stated='supplier = "two layers"')(lambda: cover(Draft()))
FAULTY.keep("supplier-marking", stated='supplier = "no marks"')(lambda: marked(cover(Draft())))
CLEAR.keep("supplier-marking", stated=CUTTER)(lambda: marked(cover(Draft())))

# --- turned, handed, stated twice -------------------------------------------------------------------------------------


def shifted(by: float) -> Draft:
    """A strap of which one rivet stands out of its pitch."""
    return strip(Draft(), [(x + by if number == 3 else x, y) for number, (x, y) in enumerate(STRIP_ROW)])


FAULTY.keep("near-symmetric")(lambda: shifted(2.0))
CLEAR.keep("near-symmetric")(lambda: shifted(0.5))


def flanged(extra: bool) -> Draft:
    """A blank flange with its bolts not quite in eight equal parts, or quite."""
    draft = Draft()
    draft.hole(0.0, 0.0, 300.0)
    turn = np.radians(np.arange(8) * 45.0)
    places = 110.0 * np.column_stack([np.cos(turn), np.sin(turn)])
    places[3] += [1.5, 0.0] if extra else [0.0, 0.0]
    for x, y in places.tolist():
        draft.hole(x, y, 18.0, "BOLT")
    return draft


FAULTY.keep("near-symmetric.flange")(lambda: flanged(True))
CLEAR.keep("near-symmetric.flange")(lambda: flanged(False))

PAIR = 'hand = "pair"'


def cheek() -> Draft:
    """A plate that is another when it is turned over."""
    draft = Draft()
    draft.light([(0.0, 0.0), (300.0, 0.0), (300.0, 60.0), (60.0, 160.0), (0.0, 160.0)])
    draft.row("foot", along((30.0, 25.0), (270.0, 25.0), 6))
    draft.row("post", along((30.0, 73.0), (30.0, 130.0), 2))
    return draft


def written(draft: Draft, layer: str) -> Draft:
    """The hand in letters on a layer."""
    draft.note("R", 60.0, 60.0, layer)
    return draft


FAULTY.keep("hand-not-told", stated=PAIR)(cheek)
CLEAR.keep("hand-not-told", stated=PAIR)(lambda: marked(cheek()))
CLEAR.keep("hand-not-told.text", stated=PAIR)(lambda: written(cheek(), "MARK"))
FAULTY.keep("hand-not-told.text", stated=PAIR)(lambda: written(cheek(), "NOTE"))
FAULTY.keep("wrong-face")(lambda: marked(gusset(Draft()), "MARK back"))
CLEAR.keep("wrong-face")(lambda: marked(gusset(Draft())))


def noted(words: str) -> Draft:
    draft = gusset(Draft())
    draft.note(words, 70.0, 110.0)
    return draft


FAULTY.keep("wrong-face.words", stated='marked = "inside"')(lambda: noted("marked face looks outside"))
CLEAR.keep("wrong-face.words", stated='marked = "inside"')(lambda: noted("marked face looks inside"))
FAULTY.keep("thickness-differs")(lambda: noted("P7 t=8"))
CLEAR.keep("thickness-differs")(lambda: noted("P7 t=6"))
