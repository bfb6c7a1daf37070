"""Pages written as PDF: embedded font, fixed metadata, the same bytes each time."""

from collections.abc import Sequence
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
        for item in page.items:
            _draw(canvas, item)
        for ring in page.rings:
            _draw(canvas, Arc(ring.centre, ring.radius, width=0.5))
        canvas.showPage()
    canvas.save()


def _draw(canvas: Canvas, item: Stroke | Arc | Text) -> None:
    if isinstance(item, Text):
        _text(canvas, item)
        return
    canvas.setStrokeGray(item.grey)
    canvas.setLineWidth(item.width)
    canvas.setDash(*(([item.dash[0], item.dash[1]], 0) if item.dash else ([], 0)))
    if item.fill is not None:
        canvas.setFillGray(item.fill)
    path = canvas.beginPath()
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
    canvas.drawPath(path, stroke=int(item.width > 0.0), fill=int(item.fill is not None))


def _text(canvas: Canvas, item: Text) -> None:
    size = item.size / CAP
    canvas.saveState()
    canvas.translate(*item.at)
    canvas.rotate(item.turn)
    long = width(item.text, item.size, item.bold)
    left = -{"start": 0.0, "middle": long / 2.0, "end": long}[item.anchor]
    if item.halo:
        canvas.setFillGray(1.0)
        canvas.rect(left - 0.4, -0.3 * item.size, long + 0.8, 1.5 * item.size, stroke=0, fill=1)
    canvas.setFillGray(item.grey)
    canvas.setFont(FONTS[item.bold], size)
    canvas.drawString(left, 0.0, item.text)
    canvas.restoreState()
