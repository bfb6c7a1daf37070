"""Twins of the faulty drawings, each just clear of its fault: at the limit where there is one."""

from tests.drawing.plates import (
    BRACKET,
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
from tests.drawing.register import CLEAR

clear = CLEAR.keep

# --- the file ---------------------------------------------------------------------------------------------------------

clear("unreadable-drawing")(lambda: strip(Draft()))
clear("damaged-drawing")(lambda: strip(Draft()))
clear("empty-drawing")(lambda: gusset(Draft()))
clear("no-profile")(lambda: strip(Draft()))
clear("more-than-one-profile")(lambda: gusset(Draft()))
clear("crossing-lines")(lambda: cover(Draft()))


@clear("unsupported-entity")
def unsupported_entity() -> Draft:
    draft = gusset(Draft())
    corners = [(100.0, 60.0), (130.0, 60.0), (130.0, 80.0), (100.0, 80.0)]
    draft.space.add_3dface(corners, dxfattribs={"layer": "NOTE"})
    return draft


@clear("bad-coordinates")
def bad_coordinates() -> Draft:
    draft = gusset(Draft())
    draft.hole(80.0, 80.0, 2.0 * 5.512345, "BOLT")
    return draft


@clear("layer-without-role")
def layer_without_role() -> Draft:
    draft = cover(Draft(), with_opening=False)
    draft.light([(150.0, 120.0), (250.0, 120.0), (250.0, 180.0), (150.0, 180.0)], "NOTE")
    return draft


@clear("layer-without-role.holes")
def layer_without_role_holes() -> Draft:
    draft = cover(Draft(), with_opening=False)
    draft.hole(200.0, 150.0, 11.0, "BOLT")
    return draft


@clear("units-in-doubt")
def units_in_doubt() -> Draft:
    draft = Draft()
    draft.light([(0.0, 0.0), (140.0, 0.0), (140.0, 120.0), (0.0, 120.0)])
    for x, y in ((30.0, 30.0), (110.0, 30.0), (110.0, 90.0), (30.0, 90.0)):
        draft.hole(x, y, 14.0, "BOLT")
    return draft


clear("size-differs", stated="size = [601, 60]")(lambda: strip(Draft()))


@clear("not-flat")
def not_flat() -> Draft:
    draft = bracket(Draft())
    draft.space.add_line((70.0, 20.0, 0.0), (150.0, 20.0, 0.0), dxfattribs={"layer": "MARK"})
    return draft


# --- profiles ---------------------------------------------------------------------------------------------------------


@clear("open-profile")
def open_profile() -> Draft:
    draft = gusset(Draft(), skip=(4,))
    draft.line((0.0, 240.0), (0.0, 0.009))
    draft.light(opening(90.0, 60.0, 120.0, 90.0))
    return draft


@clear("doubled-line")
def doubled_line() -> Draft:
    draft = bracket(Draft())
    draft.line(BRACKET[1][:2], BRACKET[0][:2], "NOTE")
    return draft


@clear("negative-radius")
def negative_radius() -> Draft:
    draft = gusset(Draft())
    draft.hole(80.0, 80.0, 2.0 * 5.123, "BOLT")
    return draft


@clear("refused-name")
def refused_name() -> Draft:
    draft = gusset(Draft())
    draft.space.add_polyline2d([(240.0, 60.0), (260.0, 60.0), (260.0, 70.0)], dxfattribs={"layer": "NOTE 1-2"})
    return draft


@clear("zero-length")
def zero_length() -> Draft:
    draft = gusset(Draft())
    draft.line((240.0, 60.0), (240.0, 60.0), "NOTE")
    return draft


@clear("stray-line")
def stray_line() -> Draft:
    draft = bracket(Draft())
    draft.line((0.0, 60.0), (60.0, 60.0), "MARK")
    return draft


@clear("text-on-cut-layer")
def text_on_cut_layer() -> Draft:
    draft = cover(Draft())
    draft.note("P4", 180.0, 210.0)
    return draft


@clear("text-on-cut-layer.bare")
def text_on_cut_layer_bare() -> Draft:
    draft = Draft(cut="0")
    draft.light([(0.0, 0.0), (300.0, 0.0), (300.0, 160.0), (0.0, 160.0)])
    draft.note("P9", 120.0, 70.0, "WORDS")
    return draft


@clear("opening-like-rivet-hole")
def opening_like_rivet_hole() -> Draft:
    draft = cover(Draft(), with_opening=False)
    draft.hole(120.0, 150.0, 11.07)
    draft.hole(280.0, 150.0, 11.07)
    return draft


# --- holes in the plate -----------------------------------------------------------------------------------------------


@clear("hole-outside")
def hole_outside() -> Draft:
    draft = marked(bracket(Draft()))
    draft.hole(90.0, 50.9, 6.0, "BOLT")
    return draft


@clear("holes-overlap")
def holes_overlap() -> Draft:
    draft = marked(cover(Draft()))
    draft.hole(100.0, 220.0, 14.0, "BOLT")
    draft.hole(130.8, 220.0, 14.0, "BOLT")
    return draft


@clear("small-hole")
def small_hole() -> Draft:
    draft = disc(Draft())
    draft.hole(0.0, 0.0, 6.0)
    return draft


@clear("thin-web")
def thin_web() -> Draft:
    draft = cover(Draft(), with_opening=False)
    draft.light(opening(150.0, 120.0, 200.0, 180.0))
    draft.light(opening(206.0, 120.0, 250.0, 180.0))
    return draft


# --- spacing: EN 1993-1-8:2005, Table 3.3, d0 = 11 and t = 6 ---------------------------------------------------------


@clear("least-pitch")
def least_pitch() -> Draft:
    return marked(strip(Draft(), [(x - 20.8 if number == 6 else x, y) for number, (x, y) in enumerate(STRIP_ROW)]))


def two_rows(first: list[tuple[float, float]], along_by: float, across: float, wide: float) -> Draft:
    return strip(Draft(), [*first, *((x + along_by, y + across) for x, y in first)], wide=wide)


clear("greatest-pitch")(lambda: strip(Draft(), along((48.0, 30.0), (552.0, 30.0), 7)))
clear("tight-pitch", quantity=2, seam="tight = true")(lambda: strip(Draft()))
clear("least-row-distance")(lambda: two_rows(STRIP_ROW, 0.0, 26.4, 86.4))
clear("greatest-row-distance")(lambda: two_rows(along((30.0, 30.0), (570.0, 30.0), 8), 0.0, 84.0, 144.0))
clear("stagger-diagonal")(lambda: two_rows(along((30.0, 30.0), (550.0, 30.0), 14), 20.0, 17.3, 77.3))
clear("least-end-distance")(lambda: marked(strip(Draft(), [*STRIP_ROW[:-1], (586.8, 30.0)])))
clear("greatest-end-distance")(lambda: strip(Draft(), along((64.0, 30.0), (536.0, 30.0), 12)))
clear("least-edge-distance")(lambda: strip(Draft(), [(x, 13.2) for x, _ in STRIP_ROW]))
clear("greatest-edge-distance")(lambda: strip(Draft(), [(x, 64.0) for x, _ in STRIP_ROW], wide=128.0))
clear("diameter-for-thickness", thickness=10.0)(lambda: strip(Draft()))


@clear("hole-for-rivet")
def hole_for_rivet() -> Draft:
    draft = strip(Draft(), STRIP_ROW[1:])
    draft.hole(*STRIP_ROW[0], 11.05, "RIVET lap")
    return draft
