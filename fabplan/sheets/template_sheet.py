"""The forming sheet of a plate formed to template: what it is proved by, and from where its holes are taken."""

from fabplan.model.forming import FormingRecord, TemplateRecord
from fabplan.model.part import Part
from fabplan.sheets.formed import Formed, formed_sheets, named
from fabplan.sheets.frame import Paper, Sheet
from fabplan.sheets.picture import plate_picture
from fabplan.sheets.table import Table, notes

REGISTER = ("template number", "taken from", "which face", "material", "date, by whom")
TOLD = (
    "No development gives this form: neither its size nor the place of its holes is forecast. Work it to the template.",
    "First-off: fit one to its mates, and form the others only when it lies on all their faces.",
    "Holes: clamp it in place, mark through from the mates named here, take it off, drill, burr off both faces.",
)


def template_sheets(paper: Paper, record: FormingRecord, template: TemplateRecord, part: Part) -> list[Sheet]:
    """The sheet of a plate formed to template, and more where its seams ask for them."""
    assert part.blank is not None
    blank = part.blank
    told = Formed(f"{named(part, record.mark)}: to template", "formed", 0.52, _tables(record, template, part))
    return formed_sheets(paper, told, lambda area: plate_picture(blank, {}, (), area).items)


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
