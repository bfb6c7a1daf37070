"""Plates drawn as various CAD programs export them: version, kind of line, blocks for holes, notes, units."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ezdxf.filemanagement
import numpy as np
from ezdxf._options import options
from ezdxf.math import bulge_to_arc

from tests.kits.build import Kit, Plate, Ring

SETTLED = {
    "$TDCREATE": 2459000.5,
    "$TDUPDATE": 2459000.5,
    "$TDUCREATE": 2459000.5,
    "$TDUUPDATE": 2459000.5,
    "$FINGERPRINTGUID": "{00000000-0000-0000-0000-000000000001}",
    "$VERSIONGUID": "{00000000-0000-0000-0000-000000000002}",
}
"""Fixed dates and identities, so that the same kit gives the same bytes."""


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

    @property
    def unit(self) -> float:
        """Millimetres in a unit of the drawing."""
        return 25.4 if self.inch else 1.0

    def at(self, x: float, y: float) -> tuple[float, float]:
        """A place of the plate, mm, on the sheet."""
        return (x + self.offset[0]) / self.unit, (y + self.offset[1]) / self.unit

    def layer(self, name: str) -> dict[str, str]:
        """The attribute of an entity on a layer; old drawings have no blanks in names."""
        return {"layer": name.replace(" ", "_") if self.version == "R12" else name}


STYLES = (
    Style("R2000", "loose", False),
    Style("R2010", "light", True),
    Style("R12", "heavy", False),
    Style("R2018", "loose", True),
    Style("R2007", "light", False, inch=True),
)


def draw(plate: Plate, diameter: float, style: Style) -> Any:
    """The drawing of a plate as an ezdxf document; holes of `diameter` mm."""
    doc: Any = ezdxf.filemanagement.new(style.version, units=1 if style.inch else 4)
    for layer in ("CUT", "NOTE", "NOTE DIM", "MARK", *(f"RIVET {row}" for row in plate.rows), *plate.lines):
        doc.layers.add(style.layer(layer)["layer"])
    space = doc.modelspace()
    for ring in (plate.outline, *plate.cutouts):
        _ring(space, [(*style.at(x, y), bulge) for x, y, bulge in ring], style)
    for x, y, radius in plate.round_cutouts:
        space.add_circle(style.at(x, y), radius / style.unit, dxfattribs=style.layer("CUT"))
    for layer, (start, end) in plate.lines.items():
        space.add_line(style.at(*start), style.at(*end), dxfattribs=style.layer(layer))
    _holes(doc, plate, diameter, style)
    if style.notes:
        _notes(space, plate, style)
    _settle(doc)
    return doc


def _ring(space: Any, ring: Ring, style: Style) -> None:
    layer = style.layer("CUT")
    if style.lines == "light":
        space.add_lwpolyline(ring, format="xyb", close=True, dxfattribs=layer)
    elif style.lines == "heavy":
        space.add_polyline2d(ring, format="xyb", close=True, dxfattribs=layer)
    else:
        for (x0, y0, bulge), (x1, y1, _) in zip(ring, [*ring[1:], ring[0]], strict=True):
            if bulge == 0.0:
                space.add_line((x0, y0), (x1, y1), dxfattribs=layer)
            else:
                centre, start, end, radius = bulge_to_arc((x0, y0), (x1, y1), bulge)
                space.add_arc(centre, radius, np.degrees(start), np.degrees(end), dxfattribs=layer)


def _holes(doc: Any, plate: Plate, diameter: float, style: Style) -> None:
    """Circles, or references to a block of diameter 1, every third one mirrored."""
    space, size = doc.modelspace(), diameter / style.unit
    if style.blocks:
        doc.blocks.new("HOLE").add_circle((0.0, 0.0), 0.5)
    for row, places in plate.rows.items():
        layer = style.layer(f"RIVET {row}")
        for number, (x, y) in enumerate(places.tolist()):
            if style.blocks:
                scales = {"xscale": -size if number % 3 == 1 else size, "yscale": size}
                space.add_blockref("HOLE", style.at(x, y), dxfattribs={**layer, **scales})
            else:
                space.add_circle(style.at(x, y), diameter / 2.0 / style.unit, dxfattribs=layer)


def _notes(space: Any, plate: Plate, style: Style) -> None:
    words = f"{plate.mark}  t={plate.thickness:g}  marked face up"
    place = {**style.layer("NOTE"), "insert": style.at(20.0, -40.0)}
    space.add_text(words, height=12.0 / style.unit, dxfattribs=place)
    for text, at in plate.marks:
        space.add_text(text, height=12.0 / style.unit, dxfattribs={**style.layer("MARK"), "insert": style.at(*at)})
        ends = style.at(at[0], at[1] - 6.0), style.at(at[0] + 24.0, at[1] - 6.0)
        space.add_line(*ends, dxfattribs=style.layer("MARK"))
    if style.version != "R12":
        wide = max(x for x, _, _ in plate.outline)
        base, start, end = style.at(0.0, -80.0), style.at(0.0, 0.0), style.at(wide, 0.0)
        space.add_linear_dim(base, start, end, dxfattribs=style.layer("NOTE DIM")).render()


def _settle(doc: Any) -> None:
    for name, value in SETTLED.items():
        if name in doc.header or name.endswith("GUID"):
            doc.header[name] = value
    for name in ("ACDBPLACEHOLDER", "LAYOUT"):  # else in the order of a set
        doc.classes.add_class(name)


@contextmanager
def fixed_data() -> Iterator[None]:
    """Drawings written without the time and without the version of the library."""
    kept, options.write_fixed_meta_data_for_testing = options.write_fixed_meta_data_for_testing, True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = kept


def write_drawings(kit: Kit, folder: Path, styles: tuple[Style, ...] = STYLES) -> None:
    """Write the drawing of every plate, the styles in turn; of several alike, or of two hands, the first is drawn."""
    folder.mkdir(parents=True, exist_ok=True)
    plates = {piece.part or piece.mark: piece for piece in reversed(kit.pieces) if isinstance(piece, Plate)}
    with fixed_data():
        for number, (name, plate) in enumerate(reversed(plates.items())):
            draw(plate, plate.hole or kit.rivet[1], styles[number % len(styles)]).saveas(folder / f"{name}.dxf")
