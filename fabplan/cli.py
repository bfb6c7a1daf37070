"""The command line: arguments in, one road, tables out. Heavy rooms are imported by the command that uses them."""

import json
import math
import os
import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TextIO
from unicodedata import category

import click

from fabplan.errors import FabplanError, JobError
from fabplan.model.finding import Level

if TYPE_CHECKING:
    from fabplan.model.checked import Checked
    from fabplan.model.finding import Finding, Where
    from fabplan.model.joints import RivetSpec

STOPPED, FAILED = 1, 2
NAMED = 3  # handles that are named of a finding without a place
THICKEST = 300.0  # mm, as in the job file
HOT_FROM = 10.0  # mm: from here on a rivet named on the command line is taken as hot driven (common practice)
_RIVET = re.compile(r"R?\s*(\d+(?:\.\d+)?)(?:\s*/\s*(\d+(?:\.\d+)?))?", re.IGNORECASE)
A_PATH = click.Path(path_type=Path)


def main() -> None:
    """Run the command line; an error is one clear sentence and exit status 2."""
    try:
        status = root(standalone_mode=False)
    except JobError as error:
        for fault in error.faults:
            _say(fault, sys.stderr)
        sys.exit(FAILED)
    except FabplanError as error:
        _fail(str(error))
    except click.Abort:
        _fail("Stopped.")
    except click.exceptions.NoArgsIsHelpError as error:
        print(error.format_message(), file=sys.stderr)
        sys.exit(FAILED)
    except click.ClickException as error:
        _fail(f"{error.format_message()} Try: fabplan --help")
    sys.exit(status if isinstance(status, int) else 0)


def _fail(sentence: str) -> NoReturn:
    _say(sentence, sys.stderr)
    sys.exit(FAILED)


def _say(words: object, stream: TextIO | None = None) -> None:
    """Print a line; signs that would command the terminal, or are none, are written out."""
    line = "".join(sign if sign.isprintable() or category(sign) == "Zs" else repr(sign)[1:-1] for sign in str(words))
    print(line, file=stream)


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="fabplan", message="%(prog)s %(version)s", prog_name="fabplan")
def root() -> None:
    """From the drawings and one job file of a riveted plate body to the papers of the shop."""


@root.command()
@click.argument("what", metavar="DRAWING|FOLDER|JOB", type=A_PATH)
@click.option("--thickness", default="", help="Plate thickness, mm.")
@click.option("--rivet", default="", help="Rivet, and its hole after a slash: 10 or 10/11, mm.")
@click.option("--rules", default="", help="Rule set for spacing, en1993-1-8-2005 unless stated.")
@click.option("--sheet", type=A_PATH, help="Write the check sheet to this PDF file.")
@click.option("--report", type=A_PATH, help="Write the report, for the screen, to this HTML file.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of tables.")
def check(
    what: Path,
    thickness: str,
    rivet: str,
    rules: str,
    sheet: Path | None,
    report: Path | None,
    as_json: bool,
) -> int:
    """Is anything wrong?

    Looks at a DXF file, a folder of them, or a whole job, and prints the findings; exit status 1 when a stop is among
    them. Drawings are judged by the job.toml beside them, unless thickness, rivet or rules are stated here.
    """
    from fabplan.way import look

    wanted = look.Wanted(what, _thickness(thickness), _rivet(rivet), rules, os.cpu_count() or 1)
    with _progress("checking", quiet=as_json) as progress:
        outcome = look.look(wanted, progress)
    if sheet is not None:
        from fabplan.way.papers import write_check_sheet

        write_check_sheet(outcome, sheet)
    if report is not None:
        from fabplan.way.report import write_report

        write_report(outcome, report)
    if as_json:
        print(json.dumps(look.record(outcome), indent=1))
    else:
        if outcome.job is not None:
            _say(f"by {outcome.job.path}")
        elif wanted.rivet is not None:
            _say(f"by a rivet of {wanted.rivet.diameter:g} mm in a hole of {wanted.rivet.hole:g} mm")
        _print_checked(outcome.checked)
        _print_findings(outcome.findings)
        _print_list("Not checked", outcome.not_checked)
        if outcome.plan is not None:
            print(f"fingerprint of the kit: {outcome.plan.fingerprint[:8]}")
    return _status(outcome.findings)


def _thickness(words: str) -> float | None:
    """The thickness named on the command line, mm."""
    if not words:
        return None
    try:
        size = float(words)
    except ValueError:
        size = math.nan
    if not 0.0 < size <= THICKEST:
        raise FabplanError(
            f"--thickness {words} is no plate for riveting", _point(words) or "State it in mm: 6 or 6.5."
        )
    return size


def _point(words: str) -> str:
    """How to write a number that has a comma in it, "" for others."""
    return f"Write {words.replace(',', '.')}, with a decimal point." if "," in words else ""


def _rivet(words: str) -> "RivetSpec | None":
    """The rivet named on the command line; the hole is 1 mm over unless stated."""
    if not words:
        return None
    from fabplan.model.joints import RivetSpec

    sizes = _RIVET.fullmatch(words.strip())
    if sizes is None:
        mend = _point(words) or "Write 10 or 10/11: shank and hole in mm."
        raise FabplanError(f"--rivet {words} is no rivet", mend)
    diameter = float(sizes[1])
    hole = float(sizes[2]) if sizes[2] else diameter + 1.0
    if not 0.0 < diameter <= hole < 100.0:
        raise FabplanError(f"--rivet {words}: the hole must be as large as the rivet or larger", "Write 10 or 10/11.")
    return RivetSpec(f"R{diameter:g}", diameter, hole, closing="hot" if diameter >= HOT_FROM else "cold")


@root.command()
@click.argument("job", metavar="JOB", type=A_PATH)
@click.option("--out", required=True, type=A_PATH, help="Folder for the papers; one that fabplan wrote is replaced.")
@click.option("--json", "as_json", is_flag=True, help="Print plan.json instead of tables.")
def plan(job: Path, out: Path, as_json: bool) -> int:
    """The whole way, from a job file to a folder of papers.

    All checks, the order of work, what to buy; exit status 1 when a stop was found, and then every page is struck.
    """
    from fabplan.sheets.record import plan_record
    from fabplan.way.papers import free_folder, write_papers
    from fabplan.way.plan import plan as planned

    free_folder(out)
    with _progress("planning", quiet=as_json) as progress:
        result = planned(job, progress)
        written = write_papers(result, out, progress)
    if as_json:
        print(json.dumps(plan_record(result), indent=1))
    else:
        _print_findings(result.findings)
        for account in result.accounts:
            shares = ", ".join(f"{count} {what}" for what, count in account.shares)
            _say(f"{account.total} {account.what}: {shares}")
        _print_list("Not checked", result.not_checked)
        print(f"fingerprint of the kit: {result.fingerprint[:8]}")
        _say(f"{len(written)} papers in {out}")
    return _status(result.findings)


@root.command()
@click.argument("job", metavar="JOB", type=A_PATH)
@click.option("--bodies", default=2000, show_default=True, type=click.IntRange(100, 100_000), help="How many.")
@click.option("--seed", default=1, show_default=True, type=click.IntRange(0), help="The same seed, the same bodies.")
@click.option("--sheet", type=A_PATH, help="Write tables and pictures to this PDF file.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of tables.")
def forecast(job: Path, bodies: int, seed: int, sheet: Path | None, as_json: bool) -> int:
    """How much easing to expect.

    Simulates thousands of bodies that stray as their making allows: how many holes go in as they are, want easing or
    the next size; which few to order as pilots; and what it brings to align seams at their middle.
    """
    from fabplan.way import forecast as road

    with _progress("forecast", quiet=as_json) as progress:
        outlook = road.foretell(job, bodies, seed, progress)
    if sheet is not None:
        road.write_forecast(outlook, sheet)
    if as_json:
        print(json.dumps(road.record(outlook), indent=1))
    else:
        for table in road.tables(outlook):
            if any(table.heads):
                print(f"{table.title}:")
                _print_table(list(table.heads), [list(row) for row in table.rows])
            else:
                _print_list(table.title, tuple(row[0] for row in table.rows))
        _print_list("Taken for it", outlook.forecast.assumptions)
    return 0


@root.command()
@click.argument("page", metavar="PAGE", type=A_PATH, default=Path("trace.html"))
def trace(page: Path) -> None:
    """Trace the holes of an old piece over a photograph.

    Writes a page that opens in any browser, offline: there the photograph is loaded, its scale set by points of known
    distance, holes clicked, and the table of measured holes saved that a job file names.
    """
    from fabplan.way.trace import write_trace

    write_trace(page)
    _say(f"{page}: open it in a browser")


@root.command()
@click.argument("job", metavar="JOB", type=A_PATH)
@click.option("--out", type=A_PATH, help="Folder for the new drawings and the job with them; setout beside the job.")
@click.option("--replace", "replaced", is_flag=True, help="Replace files of these names in that folder.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of sentences.")
def setout(job: Path, out: Path | None, replaced: bool, as_json: bool) -> int:
    """Lay the seams that the job has no holes for yet.

    For each [[setout]] equal pitches that run out whole, within the rules; the holes go into every ply's drawing, a
    copy in another folder with the seam's letter and witness lines, and into the rows of bars. Exit status 1 when a
    seam could not be laid.
    """
    from fabplan.way.setout import set_out
    from fabplan.way.setout_told import record, told

    with _progress("setting out", quiet=as_json) as progress:
        done = set_out(job, out, replaced=replaced, progress=progress)
    if as_json:
        print(json.dumps(record(done), indent=1))
    else:
        for line in told(done):
            _say(line)
        if done.job_file and done.folder is not None:
            _print_findings(done.findings)
            _say(f"then: fabplan check {done.folder / job.name}")
    return STOPPED if done.not_laid else _status(done.findings)


@root.command()
@click.argument("folder", metavar="FOLDER", type=A_PATH, default=Path())
@click.option("--ask", metavar="SUPPLIER", default="", help="Print a page of questions to send to him before drawing.")
@click.option("--datum", metavar="MARK", default="", help="The piece that all others are set from.")
@click.option("--answer", metavar="OPEN=WAY", multiple=True, help="The way taken of an open choice, by its numbers.")
@click.option("--answers", type=A_PATH, help="A file with such answers, one a line.")
@click.option("--longer", type=click.IntRange(1, 100), default=1, help="Look so many times as long before giving up.")
def new(folder: Path, ask: str, datum: str, answer: tuple[str, ...], answers: Path | None, longer: int) -> None:
    """Start a job: writes a commented job.toml into a folder of drawings.

    With a parts.csv beside the drawings (and a rows.csv for bars) the kit is put together by its holes: seams are
    proposed, written into the job.toml and shown in seams.html; what holes cannot tell is listed, for --answer.

    With --ask, writes one page of questions to a supplier instead, with what the job.toml there says of him.
    """
    from fabplan.way import begin

    if ask:
        _say(f"{begin.ask(folder, ask)}: send it; what comes back belongs into [[supplier]]")
        return
    from fabplan.way import propose

    if not propose.tables_of(folder):
        path, count = begin.new_job(folder)
        _say(f"{path}: {count} drawings; fill in thicknesses and seams, then: fabplan check {path}")
        return
    with _progress("putting together", quiet=False):
        begun = propose.begin(folder, _answers(answer, answers), datum, longer)
    for line in (*begun.lines, *begun.questions):
        _say(line)
    _say(f"{begun.path}: look at {begun.page}, then: fabplan check {begun.path}")


def _answers(given: tuple[str, ...], file: Path | None) -> dict[int, int]:
    """Answers to open choices, from the command line and from a file."""
    lines = list(given)
    if file is not None:
        try:
            lines = [*file.read_text("utf-8").split("\n"), *lines]
        except (OSError, UnicodeDecodeError) as error:
            raise FabplanError(f"{file} cannot be read ({error})", "Name a text file.") from None
    found: dict[int, int] = {}
    for line in filter(None, (one.split("#")[0].strip() for one in lines)):
        match = re.fullmatch(r"(\d+)\s*=\s*(\d+)", line)
        if match is None:
            raise FabplanError(f"{line!r} is no answer", "Write the number of the open choice, =, and that of the way.")
        found[int(match[1])] = int(match[2])
    return found


@contextmanager
def _progress(title: str, quiet: bool) -> Iterator[Callable[[str], Any]]:
    """A line of progress on a terminal; silence in a pipe."""
    if quiet or not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console
    from rich.text import Text

    with Console(stderr=True).status(title) as status:
        yield lambda stage: status.update(Text(f"{title}: {stage}"))


def _print_checked(checked: "tuple[Checked, ...]") -> None:
    """A row for each drawing: what it holds and what became of its entities."""
    from fabplan.sheets.record import counts

    rows = []
    for one in checked:
        fates = [entry.fate for entry in one.drawing.account]
        shares = [fates.count(fate) for fate in ("used", "set aside", "reported")]
        parts = len(one.drawing.shapes) or int(one.drawing.outline is not None)
        own = [one.drawing.name, one.drawing.fingerprint[:8] or "-", parts, len(one.drawing.holes)]
        rows.append([*own, *counts(one.findings).values(), one.drawing.scanned, *shares])
    levels = ["stops", "queries", "notes", "accepted"]
    head = ["drawing", "fingerprint", "parts", "holes", *levels, "entities", "used", "set aside", "reported"]
    _print_table(head, rows)


def _print_findings(findings: "tuple[Finding, ...]") -> None:
    for finding in findings:
        where = finding.where
        place = ", ".join(filter(None, [where.drawing, where.part, where.seam and f"seam {where.seam}"]))
        told = ": ".join(filter(None, [finding.check, place + _at(where), finding.what]))
        _say(f"{finding.rank.upper():6} {told}. {finding.mend}")
        _say(f"       source: {finding.source}")
        if finding.accepted:
            _say(f"       {finding.accepted}")
    if all(finding.accepted or finding.level == Level.NOTE for finding in findings):
        but = " but those accepted" if any(finding.accepted for finding in findings) else ""
        print(f"No fault found by these checks with these data{but}.")


def _at(where: "Where") -> str:
    """Where on its drawing a finding is: its place, or by handle what has none."""
    if where.xy:
        return f" at {where.xy[0]:.1f}, {where.xy[1]:.1f}"
    named, more = ", ".join(where.handles[:NAMED]), len(where.handles) - NAMED
    return f" handle {named}" + (f" and {more} more" if more > 0 else "") if named else ""


def _print_list(title: str, lines: tuple[str, ...]) -> None:
    if lines:
        _say(f"{title}:")
        for line in lines:
            _say(f"  {line}")


def _print_table(head: list[str], rows: list[list[Any]]) -> None:
    table = [head, *[[str(cell) for cell in row] for row in rows]]
    widths = [max(len(row[k]) for row in table) for k in range(len(head))]
    for row in table:
        cells = [row[0].ljust(widths[0]), *(cell.rjust(width) for cell, width in zip(row[1:], widths[1:], strict=True))]
        _say("  ".join(cells))


def _status(findings: "tuple[Finding, ...]") -> int:
    return STOPPED if any(finding.blocks for finding in findings) else 0


if __name__ == "__main__":
    main()
