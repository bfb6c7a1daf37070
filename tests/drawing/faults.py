"""One drawing a fault: `python -m tests.drawing.faults` writes drawings/faulty and drawings/clear anew.

Each file bears the name of the check that must find it, and every other check must pass it. Its twin in drawings/clear
is just clear of the fault.
"""

import re

import tests.drawing.clear
import tests.drawing.faults_drawn
import tests.drawing.faults_stated  # noqa: F401  both keep their drawings when they are read
from tests.drawing.plates import (
    BRACKET,
    GUSSET,
    STRIP_ROW,
    Draft,
    along,
    bracket,
    cover,
    disc,
    gusset,
    marked,
    opening,
    strip,
)
from tests.drawing.register import CLEAR, FAULTY, write

NO_NUMBER = r"5\.5123(4[0-9]+|5000[0-9]*)"  # radius of the hole that is written as no number
BACKWARDS = r"\n(5\.123[0-9]*|5\.1229[0-9]*)\n"  # radius of the hole whose radius gets a sign
FOLDER, FAULTS = FAULTY.path, FAULTY.kept
fault = FAULTY.keep


# --- the file ---------------------------------------------------------------------------------------------------------


@fault("unreadable-drawing", spoil=lambda text: text[:2000].replace("\n", " "))
def unreadable_drawing() -> Draft:
    return strip(Draft())


@fault("damaged-drawing", spoil=lambda text: text.removesuffix("  0\nENDSEC\n  0\nEOF\n"))
def damaged_drawing() -> Draft:
    return strip(Draft())


@fault("empty-drawing")
def empty_drawing() -> Draft:
    draft = Draft()
    draft.doc.layout("Layout1").add_lwpolyline(GUSSET, close=True, dxfattribs={"layer": "CUT"})
    return draft


@fault("unsupported-entity")
def unsupported_entity() -> Draft:
    draft = gusset(Draft())
    corners = [(100.0, 60.0), (130.0, 60.0), (130.0, 80.0), (100.0, 80.0)]
    draft.space.add_3dface(corners, dxfattribs={"layer": "CUT"})
    return draft


@fault("bad-coordinates", spoil=lambda text: re.sub(NO_NUMBER, "nan", text))
def bad_coordinates() -> Draft:
    draft = gusset(Draft())
    draft.hole(80.0, 80.0, 2.0 * 5.512345, "BOLT")
    return draft


@fault("layer-without-role")
def layer_without_role() -> Draft:
    draft = cover(Draft(), with_opening=False)
    draft.light([(150.0, 120.0), (250.0, 120.0), (250.0, 180.0), (150.0, 180.0)], "WINDOW")
    return draft


@fault("layer-without-role.holes")
def layer_without_role_holes() -> Draft:
    draft = cover(Draft(), with_opening=False)
    draft.hole(200.0, 150.0, 11.0, "RIVETS A")
    return draft


@fault("units-in-doubt", spoil=lambda text: text.replace("  9\n$INSUNITS\n 70\n4\n", ""))
def units_in_doubt() -> Draft:
    draft = Draft()
    draft.light([(0.0, 0.0), (140.0, 0.0), (140.0, 120.0), (0.0, 120.0)])
    for x, y in ((30.0, 30.0), (110.0, 30.0), (110.0, 90.0), (30.0, 90.0)):
        draft.hole(x, y, 14.0, "BOLT")
    return draft


@fault("size-differs", stated="size = [640, 60]")
def size_differs() -> Draft:
    return strip(Draft())


@fault("not-flat")
def not_flat() -> Draft:
    draft = bracket(Draft())
    draft.space.add_line((70.0, 20.0, 0.0), (150.0, 20.0, 40.0), dxfattribs={"layer": "MARK"})
    return draft


# --- profiles ---------------------------------------------------------------------------------------------------------


@fault("open-profile")
def open_profile() -> Draft:
    draft = gusset(Draft(), skip=(4,))
    draft.line((0.0, 240.0), (0.0, 0.4))
    draft.light(opening(90.0, 60.0, 120.0, 90.0))
    draft.light(opening(60.0, 120.0, 80.0, 150.0))
    return draft


@fault("no-profile")
def no_profile() -> Draft:
    draft = Draft()
    draft.row("lap", STRIP_ROW)
    return draft


@fault("more-than-one-profile")
def more_than_one_profile() -> Draft:
    draft = gusset(Draft())
    draft.light([(300.0, 0.0), (380.0, 0.0), (380.0, 80.0), (300.0, 80.0)])
    draft.light([(300.0, 100.0), (380.0, 100.0), (380.0, 180.0), (300.0, 180.0)])
    return draft


@fault("doubled-line")
def doubled_line() -> Draft:
    """Three sides drawn twice, one of them only in part, as two drawings laid over each other leave them."""
    draft = bracket(Draft())
    draft.line(BRACKET[1][:2], BRACKET[0][:2])
    draft.line((0.0, 220.0), (0.0, 0.0))
    draft.line((0.0, 220.0), (30.0, 220.0))
    return draft


@fault("crossing-lines")
def crossing_lines() -> Draft:
    draft = cover(Draft(), with_opening=False)
    draft.light([(150.0, 120.0), (250.0, 180.0), (250.0, 120.0), (150.0, 180.0)])
    return draft


@fault("negative-radius", spoil=lambda text: re.sub(BACKWARDS, r"\n-\1\n", text))
def negative_radius() -> Draft:
    draft = gusset(Draft())
    draft.hole(80.0, 80.0, 2.0 * 5.123, "BOLT")
    return draft


@fault("refused-name", spoil=lambda text: text.replace("NOTE 1-2", "NOTE 1/2"))
def refused_name() -> Draft:
    draft = gusset(Draft())
    draft.space.add_polyline2d([(240.0, 60.0), (260.0, 60.0), (260.0, 70.0)], dxfattribs={"layer": "NOTE 1-2"})
    return draft


@fault("zero-length")
def zero_length() -> Draft:
    draft = gusset(Draft())
    draft.line((240.0, 60.0), (240.0, 60.0))
    return draft


@fault("stray-line")
def stray_line() -> Draft:
    draft = bracket(Draft())
    draft.line((0.0, 60.0), (60.0, 60.0))
    return draft


@fault("text-on-cut-layer")
def text_on_cut_layer() -> Draft:
    draft = cover(Draft())
    draft.note("P4", 180.0, 210.0, "CUT")
    return draft


@fault("text-on-cut-layer.bare")
def text_on_cut_layer_bare() -> Draft:
    draft = Draft(cut="0")
    draft.light([(0.0, 0.0), (300.0, 0.0), (300.0, 160.0), (0.0, 160.0)])
    draft.note("P9", 120.0, 70.0, "0")
    return draft


@fault("opening-like-rivet-hole")
def opening_like_rivet_hole() -> Draft:
    draft = cover(Draft(), with_opening=False)
    draft.hole(120.0, 150.0)
    draft.hole(280.0, 150.0)
    return draft


# --- holes in the plate -----------------------------------------------------------------------------------------------


@fault("hole-outside")
def hole_outside() -> Draft:
    draft = marked(bracket(Draft()))
    draft.hole(100.0, 62.0, 14.0, "BOLT")
    return draft


@fault("holes-overlap")
def holes_overlap() -> Draft:
    draft = marked(cover(Draft()))
    draft.hole(100.0, 220.0, 14.0, "BOLT")
    draft.hole(110.0, 220.0, 14.0, "BOLT")
    return draft


@fault("small-hole")
def small_hole() -> Draft:
    draft = disc(Draft())
    draft.hole(0.0, 0.0, 4.0)
    return draft


@fault("thin-web")
def thin_web() -> Draft:
    draft = cover(Draft(), with_opening=False)
    draft.light(opening(150.0, 120.0, 200.0, 180.0))
    draft.light(opening(204.0, 120.0, 250.0, 180.0))
    return draft


# --- spacing ----------------------------------------------------------------------------------------------------------


@fault("least-pitch")
def least_pitch() -> Draft:
    places = [(x - 22.0 if number == 6 else x, y) for number, (x, y) in enumerate(STRIP_ROW)]
    return marked(strip(Draft(), places))


@fault("greatest-pitch")
def greatest_pitch() -> Draft:
    return strip(Draft(), along((30.0, 30.0), (570.0, 30.0), 7))


@fault("tight-pitch", quantity=2, seam="tight = true")
def tight_pitch() -> Draft:
    return strip(Draft(), along((30.0, 30.0), (570.0, 30.0), 11))


@fault("least-row-distance")
def least_row_distance() -> Draft:
    return strip(Draft(), [*STRIP_ROW, *((x, 55.0) for x, _ in STRIP_ROW)], wide=85.0)


@fault("greatest-row-distance")
def greatest_row_distance() -> Draft:
    first = along((30.0, 30.0), (570.0, 30.0), 8)
    return strip(Draft(), [*first, *((x, 118.0) for x, _ in first)], wide=148.0)


@fault("stagger-diagonal")
def stagger_diagonal() -> Draft:
    first = along((30.0, 30.0), (550.0, 30.0), 14)
    return strip(Draft(), [*first, *((x + 20.0, 46.0) for x, _ in first)], wide=76.0)


@fault("least-end-distance")
def least_end_distance() -> Draft:
    return marked(strip(Draft(), [*STRIP_ROW[:-1], (588.0, 30.0)]))


@fault("greatest-end-distance")
def greatest_end_distance() -> Draft:
    return marked(strip(Draft(), STRIP_ROW[:-1]))


@fault("least-edge-distance")
def least_edge_distance() -> Draft:
    return strip(Draft(), [(x, 12.0) for x, _ in STRIP_ROW])


@fault("greatest-edge-distance")
def greatest_edge_distance() -> Draft:
    return strip(Draft(), [(x, 70.0) for x, _ in STRIP_ROW], wide=140.0)


@fault("hole-for-rivet")
def hole_for_rivet() -> Draft:
    draft = strip(Draft(), STRIP_ROW[1:])
    draft.hole(*STRIP_ROW[0], 12.0, "RIVET lap")
    return draft


@fault("diameter-for-thickness", thickness=11.0)
def diameter_for_thickness() -> Draft:
    return strip(Draft())


if __name__ == "__main__":
    for folder in (FAULTY, CLEAR):
        write(folder, folder.path)
