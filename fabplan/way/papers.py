"""The papers of a plan, written beside the folder that the user named and then put in its place."""

import json
import shutil
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

from fabplan.errors import OutputError
from fabplan.model.checked import SCHEMA
from fabplan.model.page import Page
from fabplan.model.plan import Plan
from fabplan.sheets.caution import stopped
from fabplan.sheets.check_sheet import check_sheet, check_sheets
from fabplan.sheets.dry_fit_sheet import dry_fit_sheets
from fabplan.sheets.forming_sheet import forming_sheets
from fabplan.sheets.glb import write_glb
from fabplan.sheets.inspection import inspection_sheets
from fabplan.sheets.lists import list_pages, listings
from fabplan.sheets.measured_sheet import measured_sheets
from fabplan.sheets.overlay_sheet import overlay_sheets
from fabplan.sheets.pdf import write_pdf
from fabplan.sheets.record import plan_record
from fabplan.sheets.seam_strip import seam_strips
from fabplan.sheets.sequence_page import sequence_page
from fabplan.sheets.sequence_sheet import sequence_sheets
from fabplan.sheets.workbook import write_csv, write_workbook
from fabplan.way.check import Progress
from fabplan.way.look import Outcome
from fabplan.way.writing import writing

SIGN = "plan.json"  # the file that marks a folder as written by fabplan


def free_folder(folder: Path) -> None:
    """Make sure that a folder may be written.

    Raises:
        OutputError: it holds anything that fabplan did not write, or its parent cannot be written.
    """
    if folder.exists() and not folder.is_dir():
        raise OutputError(f"{folder} is a file", "Name a folder for --out.")
    if folder.is_dir():
        strange = sorted({path.name for path in folder.iterdir()} - _own(folder))
        if strange:
            more = f" and {len(strange) - 1} more" if len(strange) > 1 else ""
            what = f"{folder} holds {strange[0]}{more}, which fabplan did not write"
            raise OutputError(what, "Name a new or empty folder for --out.")
    with writing(folder):
        folder.absolute().parent.mkdir(parents=True, exist_ok=True)
        Path(tempfile.mkdtemp(prefix=".fabplan-", dir=folder.absolute().parent)).rmdir()


def _own(folder: Path) -> set[str]:
    """Names of the papers that a folder's plan.json lists, itself among them."""
    try:
        record = json.loads((folder / SIGN).read_text("utf-8"))
        papers = record["papers"] if record["schema"] <= SCHEMA else []
        return {SIGN, *(str(name) for name in papers)} if papers else set()
    except (OSError, ValueError, KeyError, TypeError):
        return set()


def write_papers(plan: Plan, folder: Path | str, progress: Progress = str) -> tuple[str, ...]:
    """Write all papers of a plan into a folder, which is replaced whole; the names of the files.

    Raises:
        OutputError: the folder cannot be written; it is then as it was.
    """
    folder = Path(folder)
    with writing(folder):
        beside = Path(tempfile.mkdtemp(prefix=".fabplan-", dir=folder.absolute().parent))
    try:
        with writing(folder):
            names = _write(plan, beside / "new", progress)
            if folder.exists():
                folder.rename(beside / "old")
            (beside / "new").rename(folder)
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return names


def _write(plan: Plan, folder: Path, progress: Progress) -> tuple[str, ...]:
    folder.mkdir()
    struck = stopped(sum(finding.blocks for finding in plan.findings))
    title = f"{plan.job.number} {plan.job.title}".strip()
    papers: dict[str, Callable[[], Sequence[Page]]] = {
        "check-sheets": lambda: check_sheets(plan),
    }
    if plan.forming:
        papers["forming"] = lambda: forming_sheets(plan)
    if plan.dry_fit:
        papers["dry-fit"] = lambda: dry_fit_sheets(plan)
    if plan.measured:
        papers["measured"] = lambda: measured_sheets(plan)
    if plan.overlays:
        papers["overlays"] = lambda: overlay_sheets(plan)
    if plan.sequence is not None:
        papers["sequence"] = lambda: sequence_sheets(plan)
        papers["inspection"] = lambda: inspection_sheets(plan)
    if plan.stacks is not None and len(plan.stacks):
        papers["seam-strips"] = lambda: seam_strips(plan)
    lists = listings(plan)
    for listing in lists:
        papers[listing.name] = lambda listing=listing: list_pages(plan, listing)  # type: ignore[misc]
        write_csv(listing, folder / f"{listing.name}.csv", struck)
    for name, pages in papers.items():
        progress(name)
        write_pdf(pages(), folder / f"{name}.pdf", f"{title}: {name}")
    write_workbook(lists, folder / "lists.xlsx", title, struck)
    if plan.body is not None and plan.stacks is not None:
        progress("body.glb")
        write_glb(plan, folder / "body.glb")
    if plan.sequence is not None and plan.stacks is not None:
        progress("sequence.html")
        (folder / "sequence.html").write_text(sequence_page(plan), "utf-8")
    names = tuple(sorted([*(path.name for path in folder.iterdir()), SIGN]))
    record = plan_record(plan) | {"papers": list(names)}
    (folder / SIGN).write_text(json.dumps(record, indent=1) + "\n", "utf-8")
    return names


def write_check_sheet(outcome: Outcome, path: Path) -> None:
    """Write the check sheets of what was looked at into one PDF file.

    Raises:
        OutputError: the file cannot be written.
    """
    if outcome.plan is not None:
        pages = list(check_sheets(outcome.plan))
    else:
        pages = [page for one in outcome.checked for page in check_sheet(one, outcome.job)]
    with writing(path):
        write_pdf(pages, path, "check sheet")
