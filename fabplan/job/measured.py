"""What was measured of a piece, its holes from tables of their own."""

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from math import nan
from pathlib import Path
from typing import TypeVar

from pydantic import ValidationError

from fabplan.errors import FabplanError, Fault
from fabplan.geom.tolerance import FIGURE
from fabplan.job.fields import Form
from fabplan.job.joint_form import DryFitForm
from fabplan.job.part_form import MeasuredForm, MeasuredHoleForm, SizeForm, TapeForm
from fabplan.job.spreadsheet import read_sheet
from fabplan.job.words import form_faults
from fabplan.model.dry_fit import DryFitSpec
from fabplan.model.measured import DIAMETER, Measured, MeasuredHole, TapeSize

Row = TypeVar("Row", bound=Form)
PHOTOGRAPH = re.compile(
    r"photo|foto|image|picture|snapshot|camera|\.(jpe?g|png|tiff?|heic|webp|dng|bmp)\b", re.IGNORECASE
)
"""What the source of a size holds in its words where it comes from a photograph."""

BARE = "sizes from a photograph without their `doubt`"
STATE_DOUBT = "State what may be wrong with it as `doubt`: lens, parallax, what gave the scale."


def measured_of(stated: MeasuredForm | None, place: str, folder: Path, faults: list[Fault]) -> Measured | None:
    """What a part states as measured; faults of its tables are added to `faults`.

    Args:
        stated: the form, or None.
        place: where the part stands.
        folder: of the job file.
        faults: of the job.
    """
    if stated is None:
        return None
    before = len(faults)
    rows = _rows(stated.holes, MeasuredHoleForm, f"{place}: measured", folder, faults)
    tape = _rows(stated.tape, TapeForm, f"{place}: measured", folder, faults)
    if len(faults) == before:
        faults.extend(_faults(stated, rows, f"{place}: measured"))
    sizes = tuple(TapeSize(**one.model_dump()) for one in tape)
    accuracy = stated.accuracy or max((one.accuracy or 0.0 for one in rows), default=0.0)
    source = _joined(_source(stated), [one.source for one in rows])
    doubt = _joined(stated.doubt, [one.doubt for one in rows])
    over = stated.over.model_dump() if stated.over else {}
    along = [nan if over.get(axis) is None else over[axis] for axis in "xyz"]
    return Measured(
        stated.thickness,
        _holes(rows, sizes, stated.diameter_accuracy or DIAMETER),
        accuracy,
        source,
        doubt,
        sizes,
        (along[0], along[1], along[2]),
        stated.across,
    )


def dry_fit_of(stated: DryFitForm, place: str, folder: Path, faults: list[Fault]) -> DryFitSpec:
    """Sizes of the dry-fitted body; faults of their table are added to `faults`."""
    rows = _rows(stated.sizes, SizeForm, place, folder, faults)
    source = _source(stated)
    if PHOTOGRAPH.search(source) and not stated.doubt:
        faults.append(Fault(place, BARE, STATE_DOUBT))
    faults.extend(_twice(rows, stated.accuracy, place))
    sizes = tuple(TapeSize(one.start, one.end, one.length) for one in rows)
    return DryFitSpec(sizes, stated.accuracy, source, stated.doubt, place)


def _source(stated: MeasuredForm | DryFitForm) -> str:
    """By what sizes were come by, with the photograph that they are from."""
    return "; ".join(filter(None, [stated.source, stated.photograph and f"photograph {stated.photograph}"]))


def _rows(name: str, form: type[Row], place: str, folder: Path, faults: list[Fault]) -> list[Row]:
    """The rows of a table that are sound."""
    if not name:
        return []
    try:
        records = read_sheet(folder / name, "holes" if form is MeasuredHoleForm else "sizes")
    except (FabplanError, OSError, ValueError) as error:
        what, mend = (error.what, error.mend) if isinstance(error, FabplanError) else (str(error), "")
        faults.append(Fault(place, what, mend))
        return []
    if not records:
        faults.append(Fault(place, f"no row stands in {name}", "Write one for each size or hole, or leave it out."))
    rows = []
    for where, record in records:
        try:
            rows.append(form.model_validate(record))
        except ValidationError as error:
            faults.extend(fault for fault, _ in form_faults(where, form, error))
    return rows


def _twice(rows: Sequence[SizeForm], accuracy: float, place: str) -> Iterator[Fault]:
    """Sizes between the same two holes that were measured more than once and are further apart than two may err."""
    lengths: dict[tuple[str, str], list[float]] = {}
    for one in rows:
        lengths.setdefault((min(one.start, one.end), max(one.start, one.end)), []).append(one.length)
    for (start, end), own in lengths.items():
        if not max(own) - min(own) <= 2.0 * accuracy + FIGURE:
            words = " and ".join(f"{length:g}" for length in own)
            mend = f"Measure it again, and keep what is right; each may be off by {accuracy:g} mm."
            yield Fault(place, f"{start} to {end} was measured as {words} mm", mend)


def _faults(stated: MeasuredForm, rows: Sequence[MeasuredHoleForm], place: str) -> Iterator[Fault]:
    for number, count in Counter(one.hole for one in rows).items():
        if count > 1:
            yield Fault(place, f"hole {number} was measured {count} times", "Keep one of them.")
    placed = [one.hole for one in rows if one.x is not None]
    if stated.tape and placed:
        mend = "Leave out x and y of all holes, or the tape: one of them is the pattern."
        yield Fault(place, f"hole {placed[0]} has a place, and `tape` tells places too", mend)
    if not stated.tape and len(placed) < len(rows):
        bare = next(one.hole for one in rows if one.x is None)
        yield Fault(place, f"hole {bare} has no place", "State its x and y, or sizes by `tape`.")
    if rows and stated.accuracy is None and not all(one.accuracy for one in rows):
        yield Fault(place, "holes without accuracy", "State the `accuracy` of `holes`, mm, here or in each row.")
    for source, doubt in [(_source(stated), stated.doubt), *((one.source, one.doubt) for one in rows)]:
        if PHOTOGRAPH.search(source) and not (doubt or stated.doubt):
            yield Fault(place, BARE, STATE_DOUBT)
            return


def _joined(stated: str, own: Sequence[str]) -> str:
    """What is stated for all rows and for some, each once."""
    return "; ".join(dict.fromkeys(one for one in (stated, *own) if one))


def _holes(rows: Sequence[MeasuredHoleForm], tape: Sequence[TapeSize], diameters: float) -> tuple[MeasuredHole, ...]:
    """The holes of a table, then those that only the tape names, in its order."""
    held = tuple(
        MeasuredHole(one.hole, nan if one.x is None else one.x, nan if one.y is None else one.y,
                     one.diameter, one.least_diameter, one.accuracy or nan, one.diameter_accuracy or diameters)
        for one in rows
    )  # fmt: skip
    named = dict.fromkeys(number for one in tape for number in (one.start, one.end, one.along) if number)
    known = {one.number for one in held}
    return (*held, *(MeasuredHole(number) for number in named if number not in known))
