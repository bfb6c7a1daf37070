"""One page to send to a cutter before drawing: what we need to know of him, and what we take unless he answers."""

from collections.abc import Sequence

from fabplan.model.assumed import HOLES, OTHERS
from fabplan.model.job import Job, Supplier
from fabplan.model.page import Page
from fabplan.sheets.frame import A4_TALL, Paper, Sheet, framed, rooms
from fabplan.sheets.table import Table, flow, notes

Row = tuple[str, str, str]  # question, what we take, room for the answer
NOTHING = "not checked"
WHAT_COMES = (
    "We send one DXF file a part, full size in mm, each line drawn once; holes as circles, marking and notes on layers "
    "of their own. Each part has an eight-sign fingerprint: please quote it."
)
PLEASE = (
    "Please tell us before you change a size, a layer or a file. Rivet holes: no start or end of a cut on the side of "
    "the nearest edge."
)


def questionnaire(supplier: Supplier, job: Job | None) -> tuple[Page, ...]:
    """The page, with what the job says of the supplier filled in.

    Args:
        supplier: with his name at least.
        job: for the title block; None without.
    """
    paper = Paper("Questions to the supplier", A4_TALL, job, 0)
    heads, shares = ("question", "we take, unless you answer", "your answer"), (4.6, 3.4, 3.0)
    titled = (
        ("Your machine", _machine(supplier)),
        ("Your limits, mm (t: thickness of the plate)", _limits(supplier)),
        ("Your files", _files(supplier)),
        ("The steel", _steel(supplier)),
    )
    tables = [
        notes(f"To {supplier.name}: please answer and send back, with date and signature", [WHAT_COMES]),
        *(
            Table(title, heads if number == 0 else ("", "", ""), shares, rows, boxed=(2,))
            for number, (title, rows) in enumerate(titled)
        ),
        notes("", [PLEASE]),
        Table("", ("answered by", "date", "signature"), (5.0, 2.0, 4.0), (("", "", ""),), boxed=(0, 1, 2)),
    ]
    return framed(paper, [Sheet(tuple(items), subject=supplier.name) for items in flow(tables, rooms(paper))])


def _known(supplier: Supplier, words: str, otherwise: str) -> str:
    """What the job states, with its date; else what is assumed."""
    if not words:
        return otherwise
    return f"{words} ({supplier.limits_dated or 'undated'})"


def _limit(pair: tuple[float, float] | None) -> str:
    if pair is None:
        return ""
    parts = [f"{pair[0]:g} mm"] if pair[0] else []
    return " + ".join([*parts, f"{pair[1]:g} t"] if pair[1] else parts or ["0 mm"])


def _assumed_hole(one: Supplier) -> str:
    """The smallest hole that the checks take of his process."""
    times, least = HOLES.get(one.process, OTHERS)
    return f"{times:g} t" + (f", {least:g} mm at least" if least else "")


def _pair(pair: Sequence[float] | None) -> str:
    return " x ".join(f"{size:g}" for size in pair) if pair else ""


def _machine(one: Supplier) -> tuple[Row, ...]:
    thickest = f"{one.greatest_thickness:g} mm" if one.greatest_thickness else ""
    return (
        ("Laser, plasma, oxy-fuel, water jet, punch?", _known(one, one.process, "laser"), ""),
        ("Largest part, length and width", _known(one, _pair(one.bed), NOTHING), ""),
        ("Smallest part", _known(one, _pair(one.smallest_part), NOTHING), ""),
        ("Thickest plate", _known(one, thickest, NOTHING), ""),
        ("Accuracy, class of ISO 9013", "class 1", ""),
        ("Can you mark lines and letters? On which face?", _known(one, one.marking, NOTHING), ""),
    )


def _limits(one: Supplier) -> tuple[Row, ...]:
    return (
        ("Smallest hole that stays round, diameter", _known(one, _limit(one.smallest_hole), _assumed_hole(one)), ""),
        ("Least metal between two cuts", _known(one, _limit(one.smallest_web), "1 t"), ""),
        ("Narrowest slot", _known(one, _limit(one.smallest_slot), "1 t"), ""),
        ("Least radius of an inner corner", _known(one, _limit(one.smallest_corner), "5 mm"), ""),
        ("Smaller holes: will you mark their centres?", "centre marked, we drill", ""),
    )


def _files(one: Supplier) -> tuple[Row, ...]:
    layers = ", ".join(f"{role} on {name}" for role, name in one.layers)
    return (
        ("DXF versions that you read", _known(one, ", ".join(one.dxf_versions), "R2000"), ""),
        ("Unit", _known(one, one.units, "mm"), ""),
        ("Names of layers: cut, marking, notes", _known(one, layers, "CUT, MARK, NOTE"), ""),
        ("Do you add for the width of the cut yourself?", "yes: drawn at finished size", ""),
        ("Do you turn or mirror parts on the sheet?", "turned yes, mirrored never", ""),
    )


def _steel(one: Supplier) -> tuple[Row, ...]:
    return (
        ("Usable sheet sizes in S275, 4 to 10 mm", _known(one, _pair(one.sheet), NOTHING), ""),
        ("Certificate by EN 10204: 2.2 or 3.1?", "3.1 for plate under load", ""),
        ("Flatness, by EN 10029 or EN 10051: class?", "normal class", ""),
        ("Edges: burr taken off, corners kept?", "burr off, corners kept", ""),
        ("How are parts told apart: letters, tags, lists?", "mark written on each", ""),
    )
