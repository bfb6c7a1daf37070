"""Faults of lines that are drawn twice, in straight pieces, or round the piece; each beside its clear twin."""

import numpy as np

from tests.drawing.plates import STRIP_ROW, Draft, cover, disc, opening, strip
from tests.drawing.register import CLEAR, FAULTY


def arc_over_circle(layer: str) -> Draft:
    """Part of a round edge once more, as an arc: of the cut, or a line to be scribed."""
    draft = disc(Draft())
    draft.space.add_arc((0.0, 0.0), 130.0, 20.0, 140.0, dxfattribs={"layer": layer})
    return draft


def arc_over_hole(layer: str) -> Draft:
    """Part of a rivet hole of 11 mm once more, as an arc."""
    draft = strip(Draft(), STRIP_ROW)
    draft.space.add_arc(STRIP_ROW[3], 5.5, 20.0, 140.0, dxfattribs={"layer": layer})
    return draft


def line_beside_cut(layer: str) -> Draft:
    """A side of an opening once more, 0.05 mm off."""
    draft = cover(Draft())
    draft.line((160.0, 120.05), (240.0, 120.05), layer)
    return draft


def polygon_for_hole(corners: int) -> Draft:
    """A polygon where a hole of 16 mm is meant; 0 corners are a true circle."""
    draft = cover(Draft(), with_opening=False)
    turn = np.arange(corners) * 2.0 * np.pi / max(corners, 1)
    if corners:
        draft.light([(200.0 + 8.0 * float(np.cos(a)), 150.0 + 8.0 * float(np.sin(a))) for a in turn])
    else:
        draft.hole(200.0, 150.0, 16.0)
    return draft


def bordered(wide: float, words_at: tuple[float, float]) -> Draft:
    """A bare piece, and a rectangle of 420 mm round it; no layer has a role."""
    draft = Draft(cut="0")
    draft.light([(0.0, 0.0), (420.0, 0.0), (420.0, wide), (0.0, wide)])
    draft.light(opening(90.0, 60.0, 330.0, 200.0))
    draft.note("P9", *words_at, "WORDS")
    return draft


FAULTY.keep("doubled-line.arc")(lambda: arc_over_circle("CUT"))
CLEAR.keep("doubled-line.arc")(lambda: arc_over_circle("MARK"))
FAULTY.keep("doubled-line.hole")(lambda: arc_over_hole("RIVET lap"))
CLEAR.keep("doubled-line.hole")(lambda: arc_over_hole("MARK"))
FAULTY.keep("doubled-line.near")(lambda: line_beside_cut("CUT"))
CLEAR.keep("doubled-line.near")(lambda: line_beside_cut("MARK"))
FAULTY.keep("drawn-in-chords.polygon")(lambda: polygon_for_hole(8))
CLEAR.keep("drawn-in-chords.polygon")(lambda: polygon_for_hole(0))
FAULTY.keep("sheet-border")(lambda: bordered(297.0, (200.0, 120.0)))  # A3 of ISO 216
CLEAR.keep("sheet-border")(lambda: bordered(303.0, (200.0, 120.0)))
FAULTY.keep("sheet-border.text")(lambda: bordered(310.0, (350.0, 20.0)))
CLEAR.keep("sheet-border.text")(lambda: bordered(310.0, (200.0, 120.0)))
