"""The linter that every sheet passes: readable text, none over another, nothing beyond margins, no ring unlisted."""

from fabplan.model.page import Arc, Page, Stroke, Text
from fabplan.sheets.pen import LEAST, Box, box, overlap

SLACK = 0.3  # mm, half a pen


def lint(page: Page) -> tuple[str, ...]:
    """What is wrong with a page; () for a good one. Turned text and the light grey of a strike may lie under others."""
    faults = [f"ring {ring.number} has no entry in the list" for ring in page.rings if ring.number not in page.listed]
    texts = [item for item in page.items if isinstance(item, Text)]
    faults += [f"text {text.text!r} is {text.size:g} mm high" for text in texts if not text.size >= LEAST - 1e-9]
    level = [(text, box(text)) for text in texts if not text.turn and text.grey < 0.5]
    level.sort(key=lambda pair: pair[1][0])
    for i, (one, place) in enumerate(level):
        for other, second in level[i + 1 :]:
            if second[0] > place[2]:
                break
            if overlap(place, second):
                faults.append(f"{one.text!r} lies over {other.text!r}")
    drawn = [item for item in page.items if not (isinstance(item, Text) and item.turn)]
    for item in [*drawn, *(Arc(ring.centre, ring.radius) for ring in page.rings)]:
        x0, y0, x1, y1 = _extent(item)
        low, right, top = page.margin - SLACK, page.width - page.margin + SLACK, page.height - page.margin + SLACK
        if x0 < low or y0 < low or x1 > right or y1 > top:
            faults.append(f"{item} stands beyond the margin")
    return tuple(faults)


def _extent(item: Stroke | Arc | Text) -> Box:
    if isinstance(item, Text):
        return box(item)
    if isinstance(item, Arc):
        (x, y), r = item.centre, item.radius
        return x - r, y - r, x + r, y + r
    xs, ys = [p[0] for p in item.points], [p[1] for p in item.points]
    return min(xs), min(ys), max(xs), max(ys)
