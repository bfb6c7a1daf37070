"""Names in a job file that point nowhere, stand twice, or name a piece that is neither plate nor bar."""

from collections.abc import Iterator, Sequence
from math import inf, isfinite
from pathlib import Path

import numpy as np

from fabplan.errors import Fault
from fabplan.job.joints import joint_faults
from fabplan.job.locations import location_faults
from fabplan.job.pieces import Pieces, no_piece
from fabplan.job.setouts import setout_faults
from fabplan.job.tables import Entry, JobTables
from fabplan.job.words import nearest
from fabplan.model import job as model
from fabplan.model.bends import RingSpec
from fabplan.model.checks import CHECKS
from fabplan.model.legs import LEGS
from fabplan.model.lookup import NAMES, impossible_section, section_kind
from fabplan.model.marks import instance_marks
from fabplan.model.measured import Measured

PARALLEL = 0.01  # sine of the angle between two axes under which they settle no place


def name_faults(tables: JobTables, job: model.Job, rule_sets: Sequence[str]) -> Iterator[Fault]:
    """All faults of names in a job whose tables have been read.

    Args:
        tables: the tables as written.
        job: the job made of the tables without faults of form.
        rule_sets: rule sets that exist; () asks for none.
    """
    broken = [str(entry.raw.get("mark", "")) for entry in tables.entries["part"] if not entry.whole]
    known = {mark: part for part in job.parts for mark, _ in instance_marks(part)}
    pieces = Pieces(known, broken, "parts" not in tables.unread)
    yield from _head_faults(tables, job, pieces, rule_sets)
    yield from _twice(tables, ("rivet", "fastener"))
    for name in ("part", "seam", "weld", "level", "location", "supplier", "tool"):
        yield from _twice(tables, (name,))
    yield from _same_pieces(tables, job)
    for part in job.parts:
        yield from _part_faults(part, tables, job, part.mark not in broken)
    yield from joint_faults(tables, job, pieces)
    for location in job.locations:
        yield from location_faults(location, job, pieces)
    yield from setout_faults(job, pieces, tables.marks("seam"))
    for entry in tables.entries["place"]:
        yield from _place_faults(entry, pieces)
    for accepted in job.accepted:
        yield from _accept_faults(accepted, job)


def _accept_faults(one: model.AcceptSpec, job: model.Job) -> Iterator[Fault]:
    if one.check not in CHECKS:
        yield Fault(f"{one.place}: check", f'there is no check "{one.check}"', nearest(one.check, CHECKS))
    known = sorted({*_drawings(job.drawings), *(part.drawing for part in job.parts if part.drawing)})
    # one of several pieces in a file goes by "file.dxf (its mark)"
    if one.drawing and not any(one.drawing == name or one.drawing.startswith(f"{name} (") for name in known):
        mend = nearest(one.drawing, known) or f"No drawing lies in {job.drawings}."
        yield Fault(f"{one.place}: drawing", f'there is no drawing "{one.drawing}"', mend)


def _head_faults(tables: JobTables, job: model.Job, pieces: Pieces, rule_sets: Sequence[str]) -> Iterator[Fault]:
    place = tables.entries["job"][0].place
    if pieces.whole and not tables.entries["part"]:
        yield Fault(tables.file, "no [[part]] stands in the job", "Name the pieces of the kit.")
    if rule_sets and job.rules not in rule_sets:
        yield Fault(f"{place}: rules", f'unknown rule set "{job.rules}"', nearest(job.rules, rule_sets))
    if job.datum:
        yield from no_piece(f"{place}: datum", job.datum, pieces)
    datum = pieces.known.get(job.datum)
    if datum is not None and datum.formed:
        mend = "Name a piece of known form, such as the plate that it is fitted to."
        yield Fault(f"{place}: datum", f"the datum {job.datum} is formed to template: nothing is set from it", mend)


def _twice(tables: JobTables, names: Sequence[str]) -> Iterator[Fault]:
    seen: set[str] = set()
    for entry in (entry for name in names for entry in tables.entries[name]):
        mark = str(entry.raw.get("mark", entry.raw.get("name", ""))).strip()
        if mark and mark in seen:
            yield Fault(entry.place, f'the name "{mark}" stands twice', "Give each its own.")
        seen.add(mark)


def _same_pieces(tables: JobTables, job: model.Job) -> Iterator[Fault]:
    """Pieces of two parts that would bear one mark: A1-1 as a part beside two of A1."""
    owner: dict[str, str] = {}
    for part in job.parts:
        for mark, _ in instance_marks(part):
            if owner.setdefault(mark, part.mark) != part.mark:
                what = f'the piece "{mark}" of {part.mark} bears the mark of a piece of {owner[mark]}'
                yield Fault(part.place, what, "Give one of the parts another mark.")


def _part_faults(part: model.PartSpec, tables: JobTables, job: model.Job, whole: bool) -> Iterator[Fault]:
    if whole:
        yield from _kind_faults(part)
    names = tables.marks("supplier", "name")
    for key, name in (("supplier", part.supplier), ("bender", part.bender)):
        if name and name not in names:
            mend = nearest(name, names) or "Add a [[supplier]], or leave it out."
            yield Fault(f"{part.place}: {key}", f'unknown supplier "{name}"', mend)
    if part.drawing and not _is_file(job.drawings / part.drawing):
        mend = nearest(part.drawing, _drawings(job.drawings)) or f"No drawing lies in {job.drawings}."
        yield Fault(f"{part.place}: drawing", f'there is no drawing "{part.drawing}"', mend)


def _kind_faults(part: model.PartSpec) -> Iterator[Fault]:
    """A part is a plate or a bar, with the keys that belong to it."""
    if bool(part.drawing) == bool(part.section):
        stated = "both `drawing` and `section`" if part.drawing else "neither `drawing` nor `section`"
        yield Fault(part.place, f"{stated} stated", "A plate has a drawing, a bar a section.")
        return
    if part.section and not section_kind(part.section):
        mend = f"{NAMES[0].upper()}{NAMES[1:]}."
        yield Fault(f"{part.place}: section", f'the section "{part.section}" is of no known kind', mend)
    impossible = impossible_section(part.section)
    if impossible is not None:
        yield Fault(f"{part.place}: section", *impossible)
    if part.section and part.length is None and (part.ring is None or part.ring.angle is None):
        yield Fault(part.place, "a bar without `length`", "State it in mm; of a ring, its `angle` will do.")
    if part.ends:
        yield from _end_faults(part)
    if part.ring is not None:
        yield from _ring_faults(part, part.ring)
    if part.section and (part.folds or part.thickness is not None):
        yield Fault(part.place, "`folds` or `thickness` of a bar", "These belong to plates; leave them out.")
    if part.measured_thickness is not None and part.thickness is None:
        what = "`measured` thickness of a piece that states no `thickness`"
        yield Fault(part.place, what, "State the thickness that was drawn and ordered; only plates have one.")
    if part.measured is not None:
        yield from _measured_faults(part, part.measured)
    if part.section and (part.rolls or part.joggles or part.cone is not None):
        yield Fault(part.place, "`rolls`, `joggles` or `cone` of a bar", "These belong to plates; leave them out.")
    bent = bool(part.folds or part.rolls or part.joggles) or part.cone is not None
    if part.tapers and (part.section or part.formed or bent):
        mend = "Only flat plates are thinned here; say so on the drawing of any other."
        yield Fault(f"{part.place}: tapers", "`tapers` of what is no flat plate", mend)
    if len({one.face for one in part.tapers}) > 1:
        mend = "Draw down one face of a plate only; the other stays plane."
        yield Fault(f"{part.place}: tapers", "tapers on both faces", mend)
    if part.thickness is not None and any(not one.edge < part.thickness for one in part.tapers):
        mend = "State what is left at the edge, less than the plate's thickness."
        yield Fault(f"{part.place}: tapers", f"an edge as thick as the plate of {part.thickness:g} mm", mend)
    if part.cone is not None and (part.folds or part.rolls or part.joggles):
        yield Fault(part.place, "a cone with other bends", "State `cone` alone; other bends want a part of their own.")
    if part.formed and (part.section or bent):
        mend = "A plate formed to template has neither a section nor bends that are stated."
        yield Fault(f"{part.place}: formed", "a form that is stated beside `template`", mend)
    if part.drawing and (part.rows or part.length is not None):
        yield Fault(part.place, "`rows` or `length` of a plate", "These belong to bars; its drawing holds them.")


def _end_faults(part: model.PartSpec) -> Iterator[Fault]:
    place = f"{part.place}: ends"
    if not part.section or part.ring is not None:
        yield Fault(place, "`ends` of what is no straight bar", "A bent bar is trimmed after bending; leave them out.")
        return
    legs = LEGS.get(section_kind(part.section), ())
    for number, one in enumerate(part.ends):
        if legs and one.leg not in legs:
            mend = f"Its legs: {', '.join(legs)}."
            yield Fault(f"{place}[{number}]", f'{part.section} has no leg "{one.leg}"', mend)
        elif one.leg == "w" and one.cope is not None:
            yield Fault(f"{place}[{number}]", "a cope of a web", "Cope its flanges; a web is mitred or sawn through.")


def _measured_faults(part: model.PartSpec, measured: Measured) -> Iterator[Fault]:
    """Sizes of one piece that stand for several, or for a piece that is not formed so."""
    place, formed = f"{part.place}: measured", any(map(isfinite, measured.over))
    alone = bool(measured.holes) or formed or measured.across is not None
    if alone and (part.quantity > 1 or part.hand):
        mend = "No two pieces come out alike: give each a mark, a drawing and sizes of its own."
        yield Fault(place, "measured sizes of more than one piece", mend)
    if formed and not (part.folds or part.joggles or any(not roll.axis for roll in part.rolls)):
        yield Fault(place, "`over` of a piece that is neither folded nor rolled", "State its folds or rolls.")
    if measured.across is not None and not any(roll.axis for roll in part.rolls):
        yield Fault(place, "`across` of a piece that is not rolled as a whole", "State its `roll`, or sizes `over`.")
    thickness = measured.thickness or part.thickness
    if measured.across is not None and thickness is not None and not measured.across > 2.0 * thickness:
        mend = "State the outside diameter, mm, that the rolled piece measures."
        yield Fault(place, f"`across` of {measured.across:g} mm is no more than twice its thickness", mend)
    least = min((size for size in measured.over if isfinite(size)), default=inf)
    if thickness is not None and not least > thickness:
        mend = "State sizes over the outside of the formed piece, mm, its thickness included."
        yield Fault(place, f"a size `over` of {least:g} mm is no more than its thickness", mend)
    if measured.tape and part.section:
        mend = "Give each hole x along it from its marked end and y from its heel, in a table of `holes`."
        yield Fault(place, "sizes by tape of a bar", mend)
    elif measured.holes and part.ring is not None:
        yield Fault(place, "measured holes of a bent bar", "State its rows as they were measured, by `at`.")


def _ring_faults(part: model.PartSpec, ring: RingSpec) -> Iterator[Fault]:
    place = f"{part.place}: ring"
    if part.drawing:
        yield Fault(place, "`ring` of a plate", "It belongs to bars; a plate is rolled by `roll` or `rolls`.")
    elif section_kind(part.section) not in ("", "angle", "flat", "half-round"):
        mend = "Bent are angles, flats and half-rounds; ask the bender for another's developed length."
        yield Fault(place, f'the section "{part.section}" bent to a ring', mend)
    if ring.angle is not None and part.length is not None:
        yield Fault(place, "`angle` and `length` stand together", "State one of the two: the other follows from it.")


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):  # a name that no file can have
        return False


def _drawings(folder: Path) -> list[str]:
    try:
        return [path.name for path in folder.iterdir() if path.suffix.lower() == ".dxf"]
    except (OSError, ValueError):
        return []


def _place_faults(entry: Entry, pieces: Pieces) -> Iterator[Fault]:
    if isinstance(entry.raw.get("part"), str):
        yield from no_piece(f"{entry.place}: part", entry.raw["part"].strip(), pieces)
    if entry.form is None:
        return
    x, y = np.array(entry.form.x), np.array(entry.form.y)
    sizes = float(np.linalg.norm(x) * np.linalg.norm(y))
    if not float(np.linalg.norm(np.cross(x, y))) > PARALLEL * sizes:
        yield Fault(entry.place, "`x` and `y` point the same way or nowhere", "Give two directions across each other.")
