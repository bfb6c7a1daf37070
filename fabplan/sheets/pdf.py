"""Pages written as PDF: embedded font, fixed metadata, the same bytes each time."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from fabplan.model.page import Arc, Page, Stroke, Text
from fabplan.sheets.pen import CAP, FONTS, register, width


def write_pdf(pages: Sequence[Page], path: Path, title: str) -> None:
    """Write pages into one PDF file."""
    register()
    canvas = Canvas(str(path), invariant=1, pageCompression=1)
    canvas.setTitle(title)
    canvas.setCreator("fabplan")
    for page in pages:
        canvas.setPageSize((page.width * mm, page.height * mm))
        canvas.scale(mm, mm)
        canvas.setLineJoin(1)
        canvas.setLineCap(1)
        pen = Pen(canvas)
        for item in page.items:
            _draw(pen, item)
        for ring in page.rings:
            _draw(pen, Arc(ring.centre, ring.radius, width=0.5))
        canvas.showPage()
    canvas.save()


@dataclass(slots=True)
class Pen:
    """A canvas that is told only what changes from one item to the next."""

    canvas: Canvas
    line: tuple[float, float, tuple[float, float] | None] | None = None
    fill: float | None = None

    def draw_with(self, grey: float, width: float, dash: tuple[float, float] | None) -> None:
        """Set grey, width and dash of lines."""
        if self.line != (grey, width, dash):
            self.line = (grey, width, dash)
            self.canvas.setStrokeGray(grey)
            self.canvas.setLineWidth(width)
            self.canvas.setDash(*((list(dash), 0) if dash else ([], 0)))

    def fill_with(self, grey: float) -> None:
        """Set the grey of areas and of text."""
        if self.fill != grey:
            self.fill = grey
            self.canvas.setFillGray(grey)


def _draw(pen: Pen, item: Stroke | Arc | Text) -> None:
    if isinstance(item, Text):
        _text(pen, item)
        return
    pen.draw_with(item.grey, item.width, item.dash)
    if item.fill is not None:
        pen.fill_with(item.fill)
    path = pen.canvas.beginPath()
    if isinstance(item, Stroke):
        path.moveTo(*item.points[0])
        for point in item.points[1:]:
            path.lineTo(*point)
        if item.closed:
            path.close()
    else:
        (x, y), r = item.centre, item.radius
        sweep = item.end - item.start
        path.arc(x - r, y - r, x + r, y + r, item.start, sweep)  # type: ignore[arg-type]  # takes any angle
        if sweep >= 360.0:
            path.close()
    pen.canvas.drawPath(path, stroke=int(item.width > 0.0), fill=int(item.fill is not None))


def _text(pen: Pen, item: Text) -> None:
    canvas = pen.canvas
    long = width(item.text, item.size, item.bold)
    left = -{"start": 0.0, "middle": long / 2.0, "end": long}[item.anchor]
    canvas.setFont(FONTS[item.bold], item.size / CAP)
    x, y = (left, 0.0) if item.turn else (item.at[0] + left, item.at[1])
    if item.turn:
        canvas.saveState()
        canvas.translate(*item.at)
        canvas.rotate(item.turn)
    if item.halo:
        pen.fill_with(1.0)
        canvas.rect(x - 0.4, y - 0.3 * item.size, long + 0.8, 1.5 * item.size, stroke=0, fill=1)
    pen.fill_with(item.grey)
    canvas.drawString(x, y, item.text)
    if item.turn:
        canvas.restoreState()
        pen.fill = None
