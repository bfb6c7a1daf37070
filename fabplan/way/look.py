"""Looking at whatever the user names: a drawing, a folder, a job."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fabplan.drawing.find import find_drawings, folders_within
from fabplan.drawing.source import reachable
from fabplan.errors import FabplanError
from fabplan.model.checked import Checked
from fabplan.model.finding import Finding
from fabplan.model.job import Job
from fabplan.model.joints import RivetSpec
from fabplan.sheets.record import check_record, counts, finding_record
from fabplan.way.check import Progress, check_files, check_with_job, gravest_first
from fabplan.way.unchecked import named

if TYPE_CHECKING:
    from fabplan.model.plan import Plan


RULES = "en1993-1-8-2005"
"""The rule set where neither the user nor a job names one."""


MORE = "forming, mates, misfit, grip, clash, lengths, reach, order: see `fabplan check JOB` or `fabplan plan JOB`"


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be looked at, and what the user stated beside it; then the job of the folder is left aside.

    Attributes:
        path: a drawing, a folder of them, or a job file.
        thickness: mm, or None.
        rivet: for all rivet holes, or None.
        rules: rule set for spacing, "" for the usual one.
        workers: processes at most for many drawings; more than 1 only from a program whose main module is guarded.
    """

    path: Path | str
    thickness: float | None = None
    rivet: RivetSpec | None = None
    rules: str = ""
    workers: int = 1

    @property
    def by_itself(self) -> bool:
        """True where the user stated thickness, rivet or rules."""
        return bool(self.thickness is not None or self.rivet or self.rules)


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """What was found; `job` and `plan` where the road went that far, `folders` within that were passed over."""

    checked: tuple[Checked, ...]
    findings: tuple[Finding, ...]
    not_checked: tuple[str, ...]
    job: Job | None = None
    plan: "Plan | None" = None
    folders: tuple[str, ...] = ()


def look(wanted: Wanted, progress: Progress = str) -> Outcome:
    """Check a drawing, a folder of drawings (each with the job.toml beside it), or a whole job without papers.

    Raises:
        FabplanError: there is nothing to look at, or the job file cannot be used.
    """
    path = Path(wanted.path)
    if path.suffix.lower() == ".toml" and not path.is_dir():
        return _job(wanted, progress)
    folders: tuple[str, ...] = ()
    if path.is_dir():
        paths, job_file, folders = find_drawings(path), path / "job.toml", folders_within(path)
    elif path.suffix.lower() == ".dxf" or not path.exists():
        reachable(path)
        paths, job_file = (path,), path.parent / "job.toml"
    else:
        raise FabplanError(f"{path.name} is neither a DXF drawing nor a job file", "Name a .dxf, a folder, or a .toml.")
    job = _job_beside(job_file, paths) if not wanted.by_itself else None
    if job is not None:
        return _outcome(check_with_job(paths, job, progress, wanted.workers), job, folders)
    known = (wanted.thickness, wanted.rivet)
    return _outcome(check_files(paths, known, wanted.rules or RULES, progress, wanted.workers), None, folders)


def _job(wanted: Wanted, progress: Progress) -> Outcome:
    if wanted.by_itself:
        raise FabplanError("a job file states thickness, rivets and rules itself", "Leave these options out.")
    from fabplan.way.plan import plan

    result = plan(wanted.path, progress)
    return Outcome(result.checked, result.findings, result.not_checked, result.job, result)


def _job_beside(path: Path, paths: tuple[Path, ...]) -> Job | None:
    """The job file beside drawings, where there is one; beside a single drawing only one that names it."""
    if not path.is_file():
        return None
    from fabplan.job.read import read_job
    from fabplan.rules.sets import rule_set_names

    job = read_job(path, rule_set_names())
    named = {spec.drawing for spec in job.parts}
    return job if len(paths) > 1 or paths[0].name in named else None


def _outcome(checked: tuple[Checked, ...], job: Job | None, folders: tuple[str, ...]) -> Outcome:
    findings = gravest_first(finding for one in checked for finding in one.findings)
    missing = named([(one.drawing.name, one.not_checked) for one in checked])
    passed = (
        [f"drawings in folders within this one, each to be checked by itself: {', '.join(folders)}"] if folders else []
    )
    return Outcome(checked, findings, (*passed, *missing, MORE), job, folders=folders)


def record(outcome: Outcome) -> dict[str, Any]:
    """The outcome for machines; of a job also the findings that no single drawing bears."""
    whole = check_record(outcome.checked)
    if outcome.folders:
        whole["folders_passed_over"] = list(outcome.folders)
    if outcome.plan is not None:
        whole["findings"] = [finding_record(finding) for finding in outcome.findings]
        whole["counts"] = counts(outcome.findings)
        whole["not_checked"] = list(outcome.not_checked)
    return whole
