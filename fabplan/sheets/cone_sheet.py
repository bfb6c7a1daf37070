"""The forming sheet of a cone: its sector, diameters to measure, and each hole by its angle round the axis."""

from itertools import chain, repeat

from fabplan.model.body import Body
from fabplan.model.forming import ConeRecord, FormingRecord
from fabplan.model.page import Text
from fabplan.model.part import Instance, Part
from fabplan.model.pose import Pose
from fabplan.sheets.frame import Paper, Sheet, room, signed
from fabplan.sheets.isometric import isometric, scene
from fabplan.sheets.pen import LEAST, Box, short
from fabplan.sheets.picture import Item, plate_picture
from fabplan.sheets.table import Table, flow, notes

TITLE, SIGN, SHARE, GAP = 5.0, 14.0, 0.48, 6.0  # mm; share of the width that the pictures take
SIGNED = (("rolled by, initials", 1.0), ("date", 1.0), ("what did not agree, and what was done", 3.0), ("checked", 1.0))
TOLD = (
    "Rolled along its generators: scribe some on the sector, from the apex, and keep them under the rolls. The middle "
    "of the plate keeps its length.",
    "Holes are given by angle round the axis from the edge that keeps its place, and by the slant from the wide edge.",
    "Springback is not in these figures: roll to templates for both ends.",
)
DEGREE = "\N{DEGREE SIGN}"


def cone_sheets(paper: Paper, record: FormingRecord, cone: ConeRecord, part: Part) -> list[Sheet]:
    """The sheet of a cone, and more where its holes ask for them."""
    assert part.blank is not None
    x0, y0, x1, y1 = room(paper)
    top, foot, split = y1 - TITLE - 4.0, y0 + SIGN + 2.0, x0 + SHARE * (x1 - x0)
    subject = f"{record.mark}, {part.blank.name}, {part.blank.fingerprint[:8]}"
    title = Text((x0, y1 - TITLE - 1.0), short(subject, x1 - x0, TITLE, bold=True), TITLE, bold=True)
    boxes = chain([(split + GAP, foot, x1, top)], repeat((x0, foot, x1, top)))
    pages = flow(_tables(record, cone, part), boxes)
    middle = foot + 0.42 * (top - foot)
    pictures = [
        *plate_picture(part.blank, (), (), (x0, middle, split, top)).items,
        *_formed(part, (x0, foot, split, middle)),
    ]
    foot_items = signed((x0, y0, x1, y1), SIGNED)
    shown = [pictures, *([] for _ in pages[1:])]
    return [
        Sheet((title, *picture, *items, *foot_items), subject=subject)
        for picture, items in zip(shown, pages, strict=True)
    ]


def _formed(part: Part, area: Box) -> list[Item]:
    body = Body((part,), (Instance(part.mark, 0),), (Pose(),), ("",), ("",))
    caption = Text(((area[0] + area[2]) / 2.0, area[1] + 0.5), "as rolled", LEAST, "middle")
    return [*isometric(scene(body), (area[0], area[1] + 5.0, area[2], area[3] - 4.0), (0,), (0,)), caption]


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
        Table(
            "To measure after rolling",
            ("what", "wanted", "found"),
            (4.0, 1.5, 1.5),
            _measures(record, cone),
            (1,),
            boxed=(2,),
        ),
        notes("", (*stated, *TOLD)),
        Table("Holes", ("hole", "angle round the axis", "slant from the wide edge"), (2.0, 2.0, 2.0), holes, (1, 2)),
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
