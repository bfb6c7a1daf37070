"""Looking at whatever the user names: a drawing, a folder, a job."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fabplan.errors import FabplanError
from fabplan.model.finding import Finding
from fabplan.model.job import Job, RivetSpec
from fabplan.model.plan import Checked
from fabplan.sheets.record import check_record, counts, finding_record
from fabplan.way.check import Progress, check_files, check_with_job, gravest_first

if TYPE_CHECKING:
    from fabplan.model.plan import Plan


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be looked at, and what the user stated beside it."""

    path: Path
    thickness: float | None = None
    rivet: RivetSpec | None = None
    rules: str = "en1993-1-8-2005"


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """What was found; `job` and `plan` where the road went that far."""

    checked: tuple[Checked, ...]
    findings: tuple[Finding, ...]
    not_checked: tuple[str, ...]
    job: Job | None = None
    plan: "Plan | None" = None


def look(wanted: Wanted, progress: Progress = str) -> Outcome:
    """Check a drawing, a folder of drawings (with its job.toml where it has one), or a whole job without papers.

    Raises:
        FabplanError: there is nothing to look at, or the job file cannot be used.
    """
    path = wanted.path
    if path.is_dir():
        return _folder(wanted, progress)
    if path.suffix.lower() == ".toml":
        from fabplan.way.plan import plan

        result = plan(path, progress)
        return Outcome(result.checked, result.findings, result.not_checked, result.job, result)
    if path.suffix.lower() != ".dxf" and path.exists():
        raise FabplanError(f"{path.name} is neither a DXF drawing nor a job file", "Name a .dxf, a folder, or a .toml.")
    return _outcome(check_files((path,), wanted.thickness, wanted.rivet, wanted.rules, progress), None)


def _folder(wanted: Wanted, progress: Progress) -> Outcome:
    from fabplan.drawing.find import find_drawings

    paths = find_drawings(wanted.path)
    job_file = wanted.path / "job.toml"
    if not job_file.is_file():
        return _outcome(check_files(paths, wanted.thickness, wanted.rivet, wanted.rules, progress), None)
    from fabplan.job.read import read_job
    from fabplan.rules.sets import rule_set_names

    job = read_job(job_file, rule_set_names())
    return _outcome(check_with_job(paths, job, progress), job)


def _outcome(checked: tuple[Checked, ...], job: Job | None) -> Outcome:
    findings = gravest_first(finding for one in checked for finding in one.findings)
    unchecked = dict.fromkeys(line for one in checked for line in one.not_checked)
    return Outcome(checked, findings, tuple(unchecked), job)


def record(outcome: Outcome) -> dict[str, Any]:
    """The outcome for machines; of a job also the findings that no single drawing bears."""
    whole = check_record(outcome.checked)
    if outcome.plan is not None:
        whole["findings"] = [finding_record(finding) for finding in outcome.findings]
        whole["counts"] = counts(list(outcome.findings))
        whole["not_checked"] = list(outcome.not_checked)
    return whole
