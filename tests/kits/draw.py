"""Plates drawn as various CAD programs export them: version, kind of line, blocks for holes, notes, units."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ezdxf
import ezdxf.filemanagement
import numpy as np

from tests.kits.build import Kit, Plate


@dataclass(frozen=True)
class Style:
    """How a drawing is made.

    Attributes:
        version: DXF version by its release name.
        lines: "loose" lines and arcs, "light" polylines, or "heavy" old polylines.
        blocks: True for holes as block references, some mirrored.
        inch: True for a drawing in inches.
        notes: True for texts and a dimension on layers of their own.
        offset: where the drawing's origin lies on its sheet, mm.
    """

    version: str = "R2010"
    lines: str = "light"
    blocks: bool = False
    inch: bool = False
    notes: bool = True
    offset: tuple[float, float] = (0.0, 0.0)


STYLES = (
    Style("R2000", "loose", False),
    Style("R2010", "light", True),
    Style("R12", "heavy", False),
    Style("R2018", "loose", True),
    Style("R2007", "light", False, inch=True),
)


def draw(plate: Plate, diameter: float, style: Style) -> Any:
    """The drawing of a plate as an ezdxf document."""
    unit = 25.4 if style.inch else 1.0
    doc = ezdxf.filemanagement.new(style.version, units=1 if style.inch else 4)
    space = doc.modelspace()
    for layer in ("CUT", "NOTE", "NOTE DIM", "MARK", *(f"RIVET {row}" for row in plate.rows)):
        doc.layers.add(layer.replace(" ", "_") if style.version == "R12" else layer)
    name = (lambda layer: layer.replace(" ", "_")) if style.version == "R12" else (lambda layer: layer)
    shift = np.array(style.offset)

    def at(x: float, y: float) -> tuple[float, float]:
        moved = (np.array([x, y]) + shift) / unit
        return float(moved[0]), float(moved[1])

    for ring in (plate.outline, *plate.cutouts):
        _ring(space, [(*at(x, y), bulge) for x, y, bulge in ring], style.lines)
    for x, y, radius in plate.round_cutouts:
        space.add_circle(at(x, y), radius / unit, dxfattribs={"layer": "CUT"})
    if style.blocks:
        hole = doc.blocks.new("HOLE")
        hole.add_circle((0.0, 0.0), 0.5)
    for row, places in plate.rows.items():
        for number, (x, y) in enumerate(places):
            layer = {"layer": name(f"RIVET {row}")}
            if style.blocks:
                size = diameter / unit
                flip = -1.0 if number % 3 == 1 else 1.0
                space.add_blockref("HOLE", at(x, y), dxfattribs={**layer, "xscale": flip * size, "yscale": size})
            else:
                space.add_circle(at(x, y), diameter / 2.0 / unit, dxfattribs=layer)
    if style.notes:
        words = f"{plate.mark}  t={plate.thickness:g}  marked face up"
        place = at(20.0, -40.0)
        space.add_text(words, height=12.0 / unit, dxfattribs={"layer": "NOTE", "insert": place})
        if style.version != "R12":
            wide = max(x for x, _, _ in plate.outline)
            dim = space.add_linear_dim(
                at(0.0, -80.0), at(0.0, 0.0), at(wide, 0.0), dxfattribs={"layer": name("NOTE DIM")}
            )
            dim.render()
    _settle(doc)
    return doc


def _ring(space: Any, ring: list[tuple[float, float, float]], lines: str) -> None:
    layer = {"layer": "CUT"}
    if lines == "light":
        space.add_lwpolyline(ring, format="xyb", close=True, dxfattribs=layer)
    elif lines == "heavy":
        space.add_polyline2d(ring, format="xyb", close=True, dxfattribs=layer)
    else:
        from ezdxf.math import bulge_to_arc

        for (x0, y0, bulge), (x1, y1, _) in zip(ring, [*ring[1:], ring[0]], strict=True):
            if bulge == 0.0:
                space.add_line((x0, y0), (x1, y1), dxfattribs=layer)
            else:
                centre, start, end, radius = bulge_to_arc((x0, y0), (x1, y1), bulge)
                space.add_arc(centre, radius, np.degrees(start), np.degrees(end), dxfattribs=layer)


def _settle(doc: Any) -> None:
    """Fixed dates and identities, so that the same kit gives the same bytes."""
    for name, value in (
        ("$TDCREATE", 2459000.5),
        ("$TDUPDATE", 2459000.5),
        ("$TDUCREATE", 2459000.5),
        ("$TDUUPDATE", 2459000.5),
    ):
        if name in doc.header:
            doc.header[name] = value
    for name in ("ACDBPLACEHOLDER", "LAYOUT"):  # else in the order of a set
        doc.classes.add_class(name)
    doc.header["$FINGERPRINTGUID"] = "{00000000-0000-0000-0000-000000000001}"
    doc.header["$VERSIONGUID"] = "{00000000-0000-0000-0000-000000000002}"


def write_drawings(kit: Kit, folder: Path, styles: tuple[Style, ...] = STYLES) -> None:
    """Write the drawing of every plate, the styles in turn."""
    from ezdxf import options

    folder.mkdir(parents=True, exist_ok=True)
    fixed, options.write_fixed_meta_data_for_testing = options.write_fixed_meta_data_for_testing, True
    try:
        plates = [piece for piece in kit.pieces if isinstance(piece, Plate)]
        for number, plate in enumerate(plates):
            draw(plate, kit.rivet[1], styles[number % len(styles)]).saveas(folder / f"{plate.mark}.dxf")
    finally:
        options.write_fixed_meta_data_for_testing = fixed
