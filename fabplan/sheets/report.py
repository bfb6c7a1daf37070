"""The report of a drawing check: one HTML file that opens from disk and asks nothing of any network."""

from collections.abc import Sequence
from pathlib import PurePath

from fabplan.geom.profile import bounds
from fabplan.model.checked import Checked
from fabplan.model.drawing import Drawing, Shape
from fabplan.model.finding import Finding
from fabplan.model.job import Job
from fabplan.model.profile import Profile
from fabplan.sheets.caution import PLANNING_AID
from fabplan.sheets.markup import Markup, element, figure, joined, listed, number, row, table, words
from fabplan.sheets.offline import data, document
from fabplan.sheets.pieces import piece_names
from fabplan.sheets.plate_svg import Frame, frame_of, left_out, plate_svg
from fabplan.sheets.record import counts
from fabplan.sheets.report_tables import (
    MOST_FINDINGS,
    account_table,
    fate_sum,
    finding_table,
    hole_table,
    paper_table,
    parts_in,
    spacing_table,
    text_list,
    verdict,
)
from fabplan.sheets.schedule import HoleGroup, drawing_schedule

MATES = "how the piece meets its mates: see the findings of the plan"
DRAWINGS = ("drawing", "parts", "holes", "stops", "queries", "notes", "entities accounted")
TOOLS = (("in", "+", "zoom in"), ("out", "\u2212", "zoom out"), ("fit", "fit", "show the whole plate"))
KEYS = "arrow keys move it, plus and minus zoom, 0 shows the whole"


def report(checked: Sequence[Checked], job: Job | None, findings: Sequence[Finding]) -> str:
    """The whole page, gravest drawing first.

    Args:
        checked: drawings with their checks.
        job: None where they were checked without one.
        findings: all findings; those that no drawing bears get a list of their own.
    """
    ranked = sorted(checked, key=_gravity)
    borne = {finding for one in checked for finding in one.findings}
    others = [finding for finding in findings if finding not in borne]
    subject = _subject(ranked, job)
    several = len(ranked) > 1
    articles = [_article(one, f"d{place}") for place, one in enumerate(ranked, start=1)]
    if others:
        articles.insert(0, _kit(others))
    main = element("main", joined(articles))
    sides = [element("nav", _list(ranked), aria_label="drawings"), main] if several else [main]
    body = [
        element("header", _top(subject, ranked, job, others)),
        element("div", joined(sides), class_="sides several" if several else "sides"),
    ]
    return document(f"Drawing check: {subject}", body, data("report.css"), data("report.js"))


def _subject(ranked: Sequence[Checked], job: Job | None) -> str:
    if job is not None and (job.number or job.title):
        return f"{job.number} {job.title}".strip()
    return ranked[0].drawing.name if len(ranked) == 1 else f"{len(ranked)} drawings"


def _gravity(one: Checked) -> tuple[int, ...]:
    count = counts(one.findings)
    return tuple(-count[level] for level in ("stop", "query", "note", "accepted"))


def _top(subject: str, ranked: Sequence[Checked], job: Job | None, others: Sequence[Finding]) -> Markup:
    found = [*others, *(finding for one in ranked for finding in one.findings)]
    told = [element("h1", f"Drawing check: {subject}")]
    if job is not None:
        stated = [("revision", job.revision), ("date", job.date), ("judged by", job.path.name)]
        told.append(element("p", ", ".join(f"{name} {value}" for name, value in stated if value), class_="quiet"))
    else:
        told.append(element("p", "checked without a job file", class_="quiet"))
    told += [_verdict(found), element("p", PLANNING_AID, class_="caution")]
    return joined(told)


def _verdict(findings: Sequence[Finding]) -> Markup:
    said = verdict(findings)
    return element("p", element("strong", said, class_="struck" if said.startswith("Not for issue") else ""))


def _list(ranked: Sequence[Checked]) -> Markup:
    """The list of drawings, gravest first; each name leads to its drawing."""
    rows = []
    for place, one in enumerate(ranked, start=1):
        drawing, count = one.drawing, counts(one.findings)
        whole = drawing.scanned if drawing.scanned >= 0 else "?"
        cells = (
            element("a", words(drawing.name, 80), href=f"#d{place}"),
            *(parts_in(one), len(drawing.holes)),
            *(count[level] for level in ("stop", "query", "note")),
            f"{len(drawing.account)} of {whole}",
        )
        rows.append(row(DRAWINGS, cells, range(1, len(DRAWINGS))))
    return table(f"{len(ranked)} drawings, gravest first", DRAWINGS, rows, "counts")


def _kit(findings: Sequence[Finding]) -> Markup:
    parts = [element("h2", "The kit"), _section("Findings that no single drawing bears", finding_table(findings, ()))]
    return element("article", joined(parts), id="kit")


def _section(title: str, content: Markup) -> Markup:
    return element("section", joined([element("h3", title), content]))


def _article(one: Checked, name: str) -> Markup:
    """All about one drawing."""
    drawing = one.drawing
    groups, frame = drawing_schedule(drawing), frame_of(drawing, one.findings)
    own = frozenset([one.part.mark if one.part else "", PurePath(drawing.name).stem])
    parts = [
        element("h2", words(drawing.name, 120)),
        _verdict(one.findings),
        _facts(one),
        _picture(one, groups, frame),
        _section("Findings", finding_table(one.findings, own, frame)),
        _section("Hole schedule", hole_table(drawing, groups, frame)),
    ]
    if one.figures:
        parts.append(_section("Spacing against the rules", spacing_table(one.figures)))
    parts.append(_section("What became of every entity", account_table(drawing)))
    if drawing.paper:
        parts.append(_section("Paper space, not read", paper_table(drawing)))
    if drawing.labels:
        parts.append(_section("Texts in the drawing", text_list(drawing)))
    parts.append(_section("Not checked", listed([*one.not_checked, MATES])))
    parts.append(_section("Checked by", listed(one.used) if one.used else element("p", "nothing stated")))
    return element("article", joined(parts), id=name)


def _facts(one: Checked) -> Markup:
    drawing, part = one.drawing, one.part
    facts = [
        ("overall size", _overall(drawing)),
        ("fingerprint", drawing.fingerprint[:8] or "none: nothing closes"),
        ("unit", f"{drawing.units} ({drawing.units_reason})" if drawing.units_reason else ""),
        ("entities", fate_sum(drawing)),
        ("pieces", ", ".join(f"{name} {_size(shape.outline)}" for name, shape in _named(drawing))),
    ]
    if part is not None:
        spec = part.spec
        hand = f"; drawn hand {spec.drawn}, this sheet {part.hand}" if part.hand else ""
        marked = f"; looks {spec.marked}" if spec.marked else ""
        facts += [
            ("piece", f"{part.mark}, {spec.quantity} off{hand}"),
            ("plate", f"{part.thickness_words}, {spec.grade or 'grade not stated'}, {part.mass:.1f} kg"),
            ("marked face", f"the face drawn, up as cut{marked}"),
        ]
    return element("dl", joined(element("dt", name) + element("dd", value) for name, value in facts if value))


def _overall(drawing: Drawing) -> str:
    if drawing.outline is None:
        return "no closed outline"
    return f"{_size(drawing.outline)} mm{', the largest piece' if drawing.shapes else ''}"


def _size(outline: Profile) -> str:
    x0, y0, x1, y1 = bounds(outline).tolist()
    return f"{number(x1 - x0, 1)} x {number(y1 - y0, 1)}"


def _named(drawing: Drawing) -> list[tuple[str, Shape]]:
    return list(zip(piece_names(drawing), drawing.shapes, strict=True))


def _picture(one: Checked, groups: Sequence[HoleGroup], frame: Frame | None) -> Markup:
    """The plate with its tools and the key to its lines."""
    if frame is None:
        return element("p", "Nothing to show: no place in this drawing is known.", class_="quiet")
    label = words(one.drawing.name, 80) + f": picture; {KEYS}"
    plate = plate_svg(one.drawing, one.findings[:MOST_FINDINGS], groups, frame)
    buttons = [
        element("button", sign, type="button", aria_label=told, title=told, data_do=act) for act, sign, told in TOOLS
    ]
    scale = element("span", "", class_="bar", aria_hidden="true") + element("span", "", class_="long quiet")
    tools = [*buttons, scale, element("output", "", class_="spot", aria_label="place under the pointer, mm")]
    inside = [
        element("div", plate, class_="plate", tabindex="0", role="application", aria_label=label),
        element("div", joined(tools), class_="tools"),
        element("figcaption", _keys(one.drawing, groups, frame), class_="keys"),
        element("p", "", class_="said", role="status"),
    ]
    return element("figure", joined(inside), class_="picture")


def _keys(drawing: Drawing, groups: Sequence[HoleGroup], frame: Frame) -> Markup:
    """What the lines and letters of the picture mean, of those that are there."""
    kinds = [
        ("fold", "fold", drawing.folds),
        ("roll", "limit of a roll", drawing.rolls),
        ("mark", "marked, not cut", drawing.marks),
        ("open", "closes no profile", drawing.open_lines),
        ("aside", "not cut, see the list", drawing.aside),
    ]
    keys = [element("span", _stroke(kind) + name) for kind, name, lines in kinds if lines]
    letters = sorted(
        {group.letter: group.diameter for group in groups}.items(), key=lambda pair: (len(pair[0]), pair[0])
    )
    diameters = [f"{letter} {figure(diameter)}" for letter, diameter in letters]
    if diameters:
        more = " ..." if len(diameters) > 12 else ""
        keys.append(element("span", f"hole diameters, mm: {', '.join(diameters[:12])}{more}"))
    hidden = left_out(drawing, frame)
    if hidden:
        keys.append(element("strong", f"{hidden} thing{'' if hidden == 1 else 's'} too far off to show"))
    return joined(keys, " ")


def _stroke(kind: str) -> Markup:
    """A short piece of a line of the picture."""
    path = element("path", "", class_=kind, d="M0 6h28")
    return element("svg", path, class_="key", viewBox="0 0 28 10", aria_hidden="true")
