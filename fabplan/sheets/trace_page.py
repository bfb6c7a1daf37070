"""A page to trace the holes of an old piece over a photograph of it: one file that opens from disk and works offline.

The photograph is loaded from the user's own disk and goes nowhere. Four corners of a known rectangle take the picture
square to the plate, whatever the camera saw; what comes out is the table of measured holes that a job reads.
"""

from fabplan.sheets.markup import Markup, element, joined, table
from fabplan.sheets.offline import data, document

TITLE = "Holes of an old piece, traced over a photograph"
HOW = (
    "Lay a sheet of known size on the face that is measured, or mark a rectangle on it as large as the pattern of "
    "holes, and photograph it from as far away as the holes still show well. What does not lie in that face is off.",
    "Open the photograph, click the scale points: of a rectangle its corners from the foot at the left, on to the "
    "right, up and back, as seen on the marked face. A fifth known point, or a known size, proves the scale.",
    "Number the holes as the check sheet does. Click the middle of each, or for its diameter some eight points round "
    "its edge.",
)
CAUTION = (
    "A size from a photograph is a doubtful size: no rivet goes by it that a tape could prove. What is printed as "
    "accuracy counts clicks and scale, not the lens."
)
MODES = (
    ("scale", "a scale point"),
    ("size", "an end of a size that proves"),
    ("middle", "the middle of a hole"),
    ("edge", "the edge of a hole"),
)


def trace_page() -> str:
    """The whole page."""
    top = [element("h1", TITLE), *(element("p", words) for words in HOW), element("p", CAUTION, class_="caution")]
    main = element("main", joined([_photograph(), _told()]), class_="trace")
    style = Markup(data("report.css") + data("trace.css"))
    return document(TITLE, [element("header", joined(top)), main], style, data("trace.js"), module=True)


def _photograph() -> Markup:
    zooms = joined(
        element("option", f"{share} %", value=share / 100, **({"selected": "selected"} if share == 100 else {}))
        for share in (25, 50, 100, 200, 400)
    )
    tools = [
        element("label", Markup('photograph <input type="file" id="photo" accept="image/*">')),
        element("label", Markup("shown at ") + element("select", zooms, id="zoom")),
    ]
    modes = joined(
        element("label", Markup(f'<input type="radio" name="mode" value="{name}"{" checked" * (not k)}> ') + words)
        for k, (name, words) in enumerate(MODES)
    )
    clicks = element("fieldset", joined([element("legend", "The next click is"), modes]))
    view = element("div", element("canvas", "", id="plate", aria_label="the photograph"), id="view")
    return element("section", joined([element("div", joined(tools), class_="tools"), clicks, view]))


def _told() -> Markup:
    scale = [
        element("legend", "Scale"),
        element(
            "label",
            Markup('<input type="radio" name="kind" id="rectangle" checked> rectangle, mm wide ') + _size("wide"),
        ),
        element("label", Markup("high ") + _size("high")),
        element(
            "label",
            Markup('<input type="radio" name="kind" id="square"> two points, square to the plate, mm apart ')
            + _size("apart"),
        ),
        _table("scale", "Scale points", ("no", "x", "y", "off, mm", "")),
        _table("sizes", "Sizes that prove", ("no", "length, mm", "photograph more by", "")),
    ]
    holes = [
        element("legend", "Holes"),
        element("label", Markup('the next is hole <input id="number" class="size" value="1"> ')),
        element("button", "next hole", type="button", id="next"),
        _table("holes", "Holes", ("hole", "x", "y", "diameter", "within", "")),
    ]
    words = [
        element("legend", "What is said with it"),
        element("label", Markup("a click is sure to, pixels ") + _size("click", "1")),
        element("label", Markup('source: who, when, from where <input class="words" id="source">')),
        element("label", Markup('doubt: what else may be wrong <input class="words" id="doubt">')),
    ]
    csv = [
        element("legend", "Table for the job file"),
        Markup('<textarea id="csv" readonly aria-label="the table"></textarea>'),
        element("button", "save the table", type="button", id="save"),
        element("p", 'Beside the job file, and in its [[part]]: measured = { holes = "NAME.csv" }', class_="quiet"),
    ]
    parts = [element("fieldset", joined(one)) for one in (scale, holes, words, csv)]
    return element("section", joined([element("p", "", id="said", role="status"), *parts]))


def _size(name: str, value: str = "") -> Markup:
    return Markup(f'<input class="size" inputmode="decimal" id="{name}" value="{value}">')


def _table(name: str, title: str, heads: tuple[str, ...]) -> Markup:
    return Markup(table(title, heads, ()).replace("<table", f'<table id="{name}"', 1))
