"""The forming sheet of a plate formed to template: what it is proved by, and from where its holes are taken."""

from fabplan.model.forming import FormingRecord, TemplateRecord
from fabplan.model.page import Text
from fabplan.model.part import Part
from fabplan.sheets.frame import Paper, Sheet, room, signed
from fabplan.sheets.pen import short
from fabplan.sheets.picture import plate_picture
from fabplan.sheets.table import Table, flow, notes

TITLE, SIGN, SHARE, GAP = 5.0, 14.0, 0.52, 6.0  # mm; share of the width that the picture takes
SIGNED = (("formed by, initials", 1.0), ("date", 1.0), ("what did not agree, and what was done", 3.0), ("checked", 1.0))
REGISTER = ("template number", "taken from", "which face", "material", "date, by whom")
TOLD = (
    "No development gives this form: neither its size nor the place of its holes is forecast. Work it to the template.",
    "First-off: fit one to its mates, and form the others only when it lies on all their faces.",
    "Holes: clamp it in place, mark through from the mates named here, take it off, drill, burr off both faces.",
)


def template_sheets(paper: Paper, record: FormingRecord, template: TemplateRecord, part: Part) -> list[Sheet]:
    """The sheet of a plate formed to template."""
    assert part.blank is not None
    x0, y0, x1, y1 = room(paper)
    top, foot, split = y1 - TITLE - 4.0, y0 + SIGN + 2.0, x0 + SHARE * (x1 - x0)
    subject = f"{record.mark}, {part.blank.name}, {part.blank.fingerprint[:8]}: to template"
    title = Text((x0, y1 - TITLE - 1.0), short(subject, x1 - x0, TITLE, bold=True), TITLE, bold=True)
    picture = plate_picture(part.blank, (), (), (x0, foot, split, top)).items
    (items, *_) = flow(_tables(record, template, part), iter([(split + GAP, foot, x1, top)]))
    foot_items = signed((x0, y0, x1, y1), SIGNED)
    return [Sheet((title, *picture, *items, *foot_items), subject=subject)]


def _tables(record: FormingRecord, template: TemplateRecord, part: Part) -> list[Table]:
    trim = "NOT STATED: ask" if template.trim is None else f"{template.trim:g} mm on all edges, off when it fits"
    stated = (
        ("plate", f"{record.thickness:g} mm, {part.spec.grade or 'grade not stated'}"),
        ("left to trim", trim),
    )
    holes = tuple((seam, mate, rivet, f"{hole:g}", str(many)) for seam, mate, rivet, hole, many in template.holes)
    return [
        Table("Blank", ("what", "stated"), (2.0, 4.0), stated),
        Table("Template", ("what", "found"), (2.0, 4.0), tuple((what, "") for what in REGISTER), boxed=(1,)),
        Table("Holes taken from the mates", ("seam", "mate", "rivet", "hole", "count"), (1, 2, 1, 1, 1), holes, (3, 4)),
        notes("", TOLD),
    ]
