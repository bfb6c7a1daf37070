"""The forming sheet of a cone: its sector, diameters to measure, and each hole by its angle round the axis."""

from fabplan.model.forming import ConeRecord, FormingRecord
from fabplan.model.part import Part
from fabplan.sheets.formed import DEGREE, Formed, as_formed, formed_sheets, named, to_measure
from fabplan.sheets.frame import Paper, Sheet
from fabplan.sheets.pen import Box
from fabplan.sheets.picture import Item, plate_picture
from fabplan.sheets.table import Table, columns, notes

TOLD = (
    "Rolled along its generators: scribe some on the sector, from the apex, and keep them under the rolls. The middle "
    "of the plate keeps its length.",
    "Holes are given by angle round the axis from the edge that keeps its place, and by the slant from the wide edge.",
    "Springback is not in these figures: roll to templates for both ends.",
)


def cone_sheets(paper: Paper, record: FormingRecord, cone: ConeRecord, part: Part) -> list[Sheet]:
    """The sheet of a cone, and more where its holes ask for them."""

    def draw(area: Box) -> list[Item]:
        assert part.blank is not None
        x0, y0, x1, y1 = area
        middle = y0 + 0.42 * (y1 - y0)
        blank = plate_picture(part.blank, {}, (), (x0, middle, x1, y1)).items
        return [*blank, *as_formed(part, (x0, y0, x1, middle - 4.0), "as rolled")]

    return formed_sheets(paper, Formed(named(part, record.mark), "rolled", 0.48, _tables(record, cone, part)), draw)


def _tables(record: FormingRecord, cone: ConeRecord, part: Part) -> list[Table]:
    names = ("outer radius", "inner radius", "angle")
    units = ("", "", DEGREE)
    sector = tuple(
        (name, f"{wanted:.2f}{unit}", f"{drawn:.2f}{unit}")
        for name, wanted, drawn, unit in zip(names, cone.sector, cone.drawn, units, strict=True)
    )
    grade = part.spec.grade or "grade not stated"
    way = f"marked face {'inside' if cone.inward else 'outside'}"
    stated = (
        f"plate {record.thickness:g} mm, {grade}; {way}; half angle {cone.half:.2f}{DEGREE}; {cone.round:g}{DEGREE} "
        "round.",
    )
    holes = tuple((number, f"{angle:.3f}{DEGREE}", f"{slant:.1f}") for number, angle, slant in cone.holes)
    return [
        Table("Sector", ("what", "by radii and height", "as drawn"), (2.0, 2.0, 2.0), sector, (1, 2)),
        to_measure("rolling", _measures(record, cone)),
        notes("", (*stated, *TOLD)),
        columns("Holes: angle round the axis, mm of slant from the wide edge", ("hole", "angle", "slant"), holes),
    ]


def _measures(record: FormingRecord, cone: ConeRecord) -> tuple[tuple[str, str, str], ...]:
    rows = [
        ("wide end: diameter outside", cone.wide[1]),
        ("wide end: diameter inside", cone.wide[0]),
        ("narrow end: diameter outside", cone.narrow[1]),
        ("narrow end: diameter inside", max(cone.narrow[0], 0.0)),
        ("height over the edges", record.size[2]),
        ("slant", cone.slant),
    ]
    return tuple((what, f"{value:.1f}", "") for what, value in rows)
