"""What was measured of a piece, its holes from a table of their own."""

from collections import Counter
from pathlib import Path

from pydantic import ValidationError

from fabplan.errors import FabplanError, Fault
from fabplan.job.part_form import MeasuredForm, MeasuredHoleForm
from fabplan.job.spreadsheet import read_sheet
from fabplan.job.words import form_fault
from fabplan.model.measured import Measured, MeasuredHole


def measured_of(stated: MeasuredForm | None, place: str, folder: Path, faults: list[Fault]) -> Measured | None:
    """What a part states as measured; faults of the table of holes are added to `faults`.

    Args:
        stated: the form, or None.
        place: where the part stands.
        folder: of the job file.
        faults: of the job.
    """
    if stated is None:
        return None
    holes = _holes(stated.holes, place, folder, faults) if stated.holes else ()
    return Measured(stated.thickness, holes, stated.accuracy or 0.0, stated.source)


def _holes(name: str, place: str, folder: Path, faults: list[Fault]) -> tuple[MeasuredHole, ...]:
    try:
        records = read_sheet(folder / name, "holes")
    except (FabplanError, OSError, ValueError) as error:
        what, mend = (error.what, error.mend) if isinstance(error, FabplanError) else (str(error), "")
        faults.append(Fault(f"{place}: measured", what, mend))
        return ()
    holes = []
    for row, record in records:
        try:
            form = MeasuredHoleForm.model_validate(record)
        except ValidationError as error:
            faults.extend(form_fault(row, MeasuredHoleForm, one) for one in error.errors(include_url=False))
            continue
        holes.append(MeasuredHole(form.hole, form.x, form.y, form.diameter, form.least_diameter))
    for number, count in Counter(hole.number for hole in holes).items():
        if count > 1:
            faults.append(Fault(f"{place}: measured", f"hole {number} was measured {count} times", "Keep one of them."))
    return tuple(holes)
