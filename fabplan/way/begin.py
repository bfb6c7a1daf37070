"""The beginning of a job: a commented job file from a folder of drawings, and a page of questions to a supplier."""

import hashlib
import re
from pathlib import Path

from fabplan.drawing.find import find_drawings
from fabplan.drawing.read import read_drawing
from fabplan.errors import FabplanError, JobError, OutputError
from fabplan.job.starter import starter
from fabplan.model.job import Supplier

JOB = "job.toml"
LONGEST = 40  # signs of a name in a file name


def new_job(folder: Path) -> tuple[Path, int]:
    """Write a commented job file into a folder of drawings; its path, and how many drawings it names.

    Raises:
        DrawingError: the folder is not there or holds no drawing.
        OutputError: a job file is already there, or it cannot be written.
    """
    path = folder / JOB
    found = find_drawings(folder)
    if path.exists():
        raise OutputError(f"{path} is already there", "Take it away, or go on with it.")
    text = starter(folder.resolve().name, [read_drawing(one) for one in found])
    try:
        path.write_bytes(text.encode("utf-8", "replace"))  # a name that is no text is shown with question marks
    except OSError as error:
        raise OutputError(f"{path} cannot be written ({error.strerror})", "Look at the permissions.") from None
    return path, len(found)


def ask(folder: Path, name: str) -> Path:
    """Write a page of questions to a supplier, as the job file of the folder knows him; its path.

    Raises:
        FabplanError: the name is blank, or the job file is no TOML.
        OutputError: the page cannot be written.
    """
    from fabplan.job.read import read_job, read_suppliers
    from fabplan.sheets.pdf import write_pdf
    from fabplan.sheets.questionnaire import questionnaire

    if not name.strip():
        raise FabplanError("the supplier has no name", 'State it: fabplan new FOLDER --ask "NAME".')
    job, known = None, dict[str, Supplier]()
    if (folder / JOB).is_file():
        known = {supplier.name: supplier for supplier in read_suppliers(folder / JOB)}
        try:
            job = read_job(folder / JOB)
        except JobError:  # before drawing a job is seldom whole; the page then bears no title of it
            job = None
    path = folder / f"questions-to-{_slug(name)}.pdf"
    try:
        write_pdf(questionnaire(known.get(name, Supplier(name)), job), path, f"questions to {name}")
    except OSError as error:
        raise OutputError(f"{path} cannot be written ({error.strerror})", "Name a folder that can.") from None
    return path


def _slug(name: str) -> str:
    """A supplier's name as part of a file name: unlike for unlike names, those in capitals alone apart.

    >>> _slug("Cutter One"), _slug("cutter/one")
    ('cutter-one', 'cutter-one-dff17f1c')
    """
    plain = re.sub(r"\W+", "-", name).strip("-").lower()[:LONGEST]
    if plain and plain.replace("-", " ") == name.lower():
        return plain
    mark = hashlib.sha256(name.lower().encode("utf-8", "surrogatepass")).hexdigest()[:8]
    return f"{plain}-{mark}" if plain else mark
