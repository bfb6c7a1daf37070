"""A page written as SVG, for the screen."""

import math
from xml.sax.saxutils import escape

from fabplan.model.page import Arc, Page, Stroke, Text
from fabplan.sheets.pen import CAP


def page_svg(page: Page) -> str:
    """The page as one SVG text; sizes in mm, text escaped."""
    body = [_item(page, item) for item in page.items]
    body += [_item(page, Arc(ring.centre, ring.radius, width=0.5)) for ring in page.rings]
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{page.width:g}mm" height="{page.height:g}mm" '
        f'viewBox="0 0 {page.width:g} {page.height:g}" font-family="DejaVu Sans, sans-serif">'
    )
    return "\n".join([head, f"<title>{escape(page.name)}</title>", *body, "</svg>"])


def _grey(value: float) -> str:
    level = round(255 * value)
    return f"#{level:02x}{level:02x}{level:02x}"


def _item(page: Page, item: Stroke | Arc | Text) -> str:
    if isinstance(item, Text):
        x, y = item.at[0], page.height - item.at[1]
        turn = f' transform="rotate({-item.turn:g} {x:.3f} {y:.3f})"' if item.turn else ""
        weight = ' font-weight="bold"' if item.bold else ""
        return (
            f'<text x="{x:.3f}" y="{y:.3f}" font-size="{item.size / CAP:.3f}" text-anchor="{item.anchor}"'
            f' fill="{_grey(item.grey)}"{weight}{turn}>{escape(item.text)}</text>'
        )
    fill = "none" if item.fill is None else _grey(item.fill)
    dash = f' stroke-dasharray="{item.dash[0]:g} {item.dash[1]:g}"' if item.dash else ""
    style = f'fill="{fill}" stroke="{_grey(item.grey)}" stroke-width="{item.width:g}"{dash}'
    if isinstance(item, Stroke):
        points = " ".join(f"{x:.3f},{page.height - y:.3f}" for x, y in item.points)
        return f'<{"polygon" if item.closed else "polyline"} points="{points}" {style}/>'
    x, y, r = item.centre[0], page.height - item.centre[1], item.radius
    if item.end - item.start >= 360.0:
        return f'<circle cx="{x:.3f}" cy="{y:.3f}" r="{r:.3f}" {style}/>'
    ends = [(x + r * math.cos(math.radians(a)), y - r * math.sin(math.radians(a))) for a in (item.start, item.end)]
    large = int(item.end - item.start > 180.0)
    (x0, y0), (x1, y1) = ends
    return f'<path d="M {x0:.3f} {y0:.3f} A {r:.3f} {r:.3f} 0 {large} 0 {x1:.3f} {y1:.3f}" {style}/>'
