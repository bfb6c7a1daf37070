"""The road of setting out: from a job with seams to be laid to new drawings, rows of bars and a job that has them."""

import shutil
import tempfile
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from fabplan.body.parts import round_openings
from fabplan.drawing.put_in import put_in
from fabplan.errors import FabplanError, OutputError, SetoutError
from fabplan.job.read import read_job
from fabplan.job.with_rows import Keys, with_rows
from fabplan.model.arrays import FloatArray
from fabplan.model.drawing import Drawing
from fabplan.model.finding import Finding
from fabplan.model.job import Job, PartSpec
from fabplan.model.joints import SeamSpec
from fabplan.model.marks import instance_marks
from fabplan.model.setout import Laid, NotLaid, PutIn, SetoutSpec
from fabplan.rules.sets import rule_set_names
from fabplan.rules.tables import read_tables
from fabplan.setout.lay import lay
from fabplan.setout.line import chosen
from fabplan.setout.marks import Letter, Plate, letter, witness_lines, written
from fabplan.setout.wish import Wish
from fabplan.way.assembly import known_sections, put_together
from fabplan.way.check import Progress, intake_of, supplier_of
from fabplan.way.plies import Added, Bench, at_places, drawn, drawn_size, faces, heads_of, limits_of
from fabplan.way.setout_proof import Proof, proved
from fabplan.way.writing import writing

SHEETS = (".csv", ".xlsx")  # what a job file may name beside its drawings
FOLDER = "setout"
"""Folder beside the job file for what is written, where the user names none."""


@dataclass(frozen=True, slots=True, eq=False)
class SetOut:
    """What was laid, what was not, and what was written.

    Attributes:
        job: the job as stated.
        laid: seams set out, in the order of the job.
        not_laid: seams that could not be.
        rows: rows of bars by the mark of the part, as the job file writes them.
        unmarked: plates and seams for whose letter there was no room.
        folder: what was written into, None where nothing was laid.
        written: names of the files in it.
        job_file: True where the job file stands in it, whole; else rows and folder are to be put in by hand.
        proofs: the seams as they were read back from it.
        findings: what was found about them then.
    """

    job: Job
    laid: tuple[Laid, ...]
    not_laid: tuple[NotLaid, ...]
    rows: Mapping[str, Sequence[Keys]]
    unmarked: tuple[str, ...] = ()
    folder: Path | None = None
    written: tuple[str, ...] = ()
    job_file: bool = False
    proofs: tuple[Proof, ...] = ()
    findings: tuple[Finding, ...] = ()


def set_out(path: Path, folder: Path | None = None, *, replaced: bool = False, progress: Progress = str) -> SetOut:
    """Lay the seams that a job wants set out, and write what comes of it into a folder.

    Args:
        path: the job file.
        folder: for the new drawings; None takes `FOLDER` beside the job file.
        replaced: True where files of these names may be replaced.
        progress: told each stage in a few words.

    Raises:
        FabplanError: the job file or a table cannot be used, or it names nothing to set out.
        OutputError: the files cannot be written, or are there already.
    """
    progress("job and tables")
    job, tables = read_job(path, rule_set_names()), read_tables()
    if not job.setouts:
        raise FabplanError(f"{path.name} names no seam to set out", "Add a [[setout]] with the mark of a seam.")
    known_sections(job, tables)
    asked = {spec.seam for spec in job.setouts}
    others = replace(job, seams=tuple(seam for seam in job.seams if seam.mark not in asked))
    bench = Bench(replace(put_together(others, {}, tables, progress), stated=job))
    laid, not_laid = _lay_all(job, bench, progress)
    rows = dict(_bar_rows(job, bench))
    done = SetOut(job, laid, not_laid, rows)
    done = _written(done, bench, folder or path.parent / FOLDER, replaced) if laid else done
    if not done.job_file or done.folder is None:
        return done
    proofs, findings = proved(done.folder / path.name, laid, progress)
    return replace(done, proofs=proofs, findings=findings)


def _lay_all(job: Job, bench: Bench, progress: Progress) -> tuple[tuple[Laid, ...], tuple[NotLaid, ...]]:
    """All seams: those that stand by themselves first, then those that mirror another."""
    laid: dict[str, Laid] = {}
    refused: dict[str, NotLaid] = {}
    for spec in _in_order(job.setouts):
        progress(f"seam {spec.seam}")
        seam = next(one for one in job.seams if one.mark == spec.seam)
        try:
            laid[spec.seam] = _lay_one(bench, seam, spec, laid)
            _add(bench, seam, laid[spec.seam])
        except FabplanError as error:
            refused[spec.seam] = NotLaid(spec.seam, error.what, error.mend)
    order = [spec.seam for spec in job.setouts]
    return tuple(laid[mark] for mark in order if mark in laid), tuple(
        refused[mark] for mark in order if mark in refused
    )


def _in_order(specs: Sequence[SetoutSpec]) -> list[SetoutSpec]:
    """Seams in an order in which each comes after the one that it mirrors."""
    left, done = list(specs), list[SetoutSpec]()
    while left:
        waiting = {spec.seam for spec in left}
        ready = [spec for spec in left if spec.mirror is None or spec.mirror.seam not in waiting]
        ready = ready or left  # they mirror one another: each is told that the other has no holes
        done += ready
        left = [spec for spec in left if spec not in ready]
    return done


def _lay_one(bench: Bench, seam: SeamSpec, spec: SetoutSpec, laid: Mapping[str, Laid]) -> Laid:
    rivet = next(one for one in bench.made.job.rivets if one.mark == seam.rivet)
    if rivet.kind == "dummy head" or len(seam.plies) < 2:
        raise SetoutError("dummy heads join no pieces", "Set a seam of two plies or more out.")
    if any(ply.numbers for ply in seam.plies):
        what = "it takes holes of a row by their numbers, and a row is laid whole"
        raise SetoutError(what, "Give these holes a row of their own name, and leave `holes` out.")
    sizes = [drawn_size(seam, ply, rivet, spec.hole) for ply in seam.plies]
    choices = [faces(bench, ply, rivet.hole, size) for ply, size in zip(seam.plies, sizes, strict=True)]
    plies = chosen(spec, choices)
    mirrored = None if spec.mirror is None else _mirror_image(bench, spec, laid)
    return lay(Wish(spec, plies, limits_of(bench, seam, plies, spec), heads_of(bench, seam, plies)), mirrored)


def _mirror_image(bench: Bench, spec: SetoutSpec, laid: Mapping[str, Laid]) -> FloatArray:
    """(n, 3) the places of another seam's rivets, mirrored in the stated plane of the body, mm."""
    assert spec.mirror is not None
    mark, stacks = spec.mirror.seam, bench.made.stacks
    seams = [seam.mark for seam in bench.made.job.seams]
    if mark in laid:
        points = laid[mark].plies[0].point
    elif mark in seams:
        points = stacks.point[stacks.seam == seams.index(mark)]
    else:
        points = np.zeros((0, 3))
    if not len(points):
        raise SetoutError(f"seam {mark}, which it mirrors, has no holes", "Set that seam out first.")
    axis = "xyz".index(spec.mirror.axis)
    image = points.copy()
    image[:, axis] = 2.0 * spec.mirror.at - image[:, axis]
    return image


def _add(bench: Bench, seam: SeamSpec, laid: Laid) -> None:
    """Keep the holes of a seam for those that come after it, and for the drawings."""
    index = {one.mark: i for i, one in enumerate(bench.body.instances)}
    for ply in laid.plies:
        if not ply.diameter:
            continue
        part = bench.body.part_of(index[ply.instance])
        own = drawn(part, ply.leg, ply.xy)
        if not ply.new.any() and part.section is not None:
            continue
        added = Added(seam.mark, ply.row, own, ply.new, ply.line, ply.diameter)
        bench.added.setdefault((part.spec.mark, ply.leg), []).append(added)


def _bar_rows(job: Job, bench: Bench) -> Iterator[tuple[str, list[Keys]]]:
    """The new rows of each bar, as the job file writes them."""
    for spec in job.parts:
        own = [
            row
            for (mark, leg), added in bench.added.items()
            if mark == spec.mark and leg
            for one in added
            for row in _rows_of(leg, one)
        ]
        if own:
            yield spec.mark, own


def _rows_of(leg: str, one: Added) -> Iterator[Keys]:
    """A row of a bar, an entry a back mark: by its ends where its spaces are equal, else hole by hole."""
    back = np.round(np.abs(one.xy[:, 1]), 6)
    for mark in dict.fromkeys(back.tolist()):
        along = np.sort(one.xy[back == mark, 0])
        keys: dict[str, str | float | tuple[float, ...]] = {"row": one.row, "leg": leg, "back_mark": mark}
        if len(along) > 2 and float(np.ptp(np.diff(along))) <= 1e-6:
            keys |= {"first": float(along[0]), "last": float(along[-1]), "count": len(along)}
        else:
            keys["at"] = tuple(along.tolist())
        yield keys | {"diameter": one.diameter}


def _written(done: SetOut, bench: Bench, folder: Path, replaced: bool) -> SetOut:
    """Write the drawings and the job, whole or not at all."""
    job = done.job
    specs = {spec.mark: spec for spec in job.parts if spec.drawing}
    changed = {mark: tuple(added) for (mark, leg), added in bench.added.items() if not leg}
    names = sorted({spec.drawing for spec in specs.values()})
    outside = next((name for name in names if Path(name).is_absolute() or ".." in Path(name).parts), None)
    if outside is not None:
        raise OutputError(f"the drawing {outside} lies outside the folder of drawings", "Bring all drawings into it.")
    _free(folder, [*names, job.path.name], job, replaced)
    with writing(folder):
        folder.absolute().parent.mkdir(parents=True, exist_ok=True)
        beside = Path(tempfile.mkdtemp(prefix=".fabplan-", dir=folder.absolute().parent))
    try:
        with writing(folder):
            unmarked = _drawings(job, bench, changed, beside)
            text = _job_text(job, done)
            if text is not None:
                (beside / job.path.name).write_text(text, "utf-8")
                _beside(job, text, beside)
            written = sorted(str(one.relative_to(beside)) for one in beside.rglob("*") if one.is_file())
            for name in written:
                (folder / name).parent.mkdir(parents=True, exist_ok=True)
                (beside / name).replace(folder / name)
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return replace(done, unmarked=unmarked, folder=folder, written=tuple(written), job_file=text is not None)


def _job_text(job: Job, done: SetOut) -> str | None:
    """The job file with the new rows; None where these stand in a sheet, or it names files outside its folder."""
    text = with_rows(job.path.read_text("utf-8-sig"), done.rows, ".")
    if text is not None and any(".." in Path(name).parts or Path(name).is_absolute() for name in _named(job, text)):
        return None
    return text


def _beside(job: Job, text: str, folder: Path) -> None:
    """Copy the sheets and tables that a job file names."""
    for name in _named(job, text):
        target = folder / name
        if not target.exists():
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(job.path.parent / name, target)


def _named(job: Job, text: str) -> list[str]:
    """Names in a job file that are those of files, as seen from its folder, each once."""
    found: list[str] = []
    waiting: list[Any] = [tomllib.loads(text)]
    while waiting:
        one = waiting.pop()
        if isinstance(one, dict):
            waiting += one.values()
        elif isinstance(one, list):
            waiting += one
        elif isinstance(one, str) and one.lower().endswith(SHEETS) and (job.path.parent / one).is_file():
            found.append(one)
    return sorted(set(found))


def _free(folder: Path, names: Sequence[str], job: Job, replaced: bool) -> None:
    """Refuse to write over what is there, and over the drawings of the job in any case."""
    if folder.exists() and not folder.is_dir():
        raise OutputError(f"{folder} is a file", "Name a folder for --out.")
    own = {job.drawings.resolve(), job.path.parent.resolve()}
    if folder.resolve() in own:
        raise OutputError(f"{folder} holds the job's own files, which stay as they are", "Name another for --out.")
    there = [name for name in names if (folder / name).exists()]
    if there and not replaced:
        more = f" and {len(there) - 1} more" if len(there) > 1 else ""
        raise OutputError(
            f"{folder / there[0]} is already there{more}", "Name another folder by --out, or add --replace."
        )


def _drawings(job: Job, bench: Bench, changed: Mapping[str, Sequence[Added]], folder: Path) -> tuple[str, ...]:
    """Write all drawings of the job: those with new holes anew, the others as they are; what has no letter."""
    unmarked: list[str] = []
    files: dict[str, list[PartSpec]] = {}
    for spec in job.parts:
        if spec.drawing:
            files.setdefault(spec.drawing, []).append(spec)
    for name, specs in sorted(files.items()):
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        whole = PutIn(())
        for spec in (one for one in specs if one.mark in changed):
            own, missing = _put_in(job, spec, bench.made.drawings[spec.mark], changed[spec.mark])
            whole = PutIn(
                (*whole.rows, *own.rows),
                (*whole.named, *own.named),
                (*whole.marks, *own.marks),
                (*whole.letters, *own.letters),
            )
            unmarked += missing
        if whole.rows or whole.named:
            put_in(job.drawings / name, target, bench.made.files[name], whole, intake_of(job, specs))
        else:
            shutil.copyfile(job.drawings / name, target)
    return tuple(unmarked)


def _put_in(job: Job, spec: PartSpec, drawing: Drawing, added: Sequence[Added]) -> tuple[PutIn, list[str]]:
    """New holes, holes that join a row, and marks of one plate; and the seams for whose letter there is no room."""
    supplier = supplier_of(job, spec)
    marking = supplier is None or supplier.marking != "none"
    rows = tuple((one.row, one.xy[one.new], one.diameter) for one in added if one.new.any())
    named = tuple(
        (drawing.holes.handle[k], one.row)
        for one in added
        for k in at_places(drawing.holes, one.xy[~one.new])
        if drawing.holes.row[k].casefold() != one.row.casefold()
    )
    plate, missing = _plate(drawing, added), list[str]()
    lines: list[FloatArray] = []
    letters: list[Letter] = []
    for one in (some for some in added if some.new.any()):
        if not marking:
            missing.append(f"{spec.mark}: seam {one.seam}, as its supplier marks none")
            continue
        line = np.array(one.line)
        for number in np.unique(line).tolist():
            lines += witness_lines(plate, one.xy[line == number], one.diameter)
        seen = replace(plate, lines=(*plate.lines, *lines), texts=(*plate.texts, *map(written, letters)))
        sign = letter(seen, one.xy[line == 0], _seams_of(job, spec, one), one.diameter)
        letters += [sign] if sign is not None else []
        missing += [f"{spec.mark}: no room for the letter of seam {one.seam}"] if sign is None else []
    return PutIn(rows, named, tuple(lines), tuple(letters)), missing


def _seams_of(job: Job, spec: PartSpec, one: Added) -> str:
    """The letters of all seams that have a row: a drawing is cut for every piece of its mark, of both hands too."""
    pieces = {mark for mark, _ in instance_marks(spec)}
    rows = ((seam.mark, ply) for seam in job.seams for ply in seam.plies)
    own = [mark for mark, ply in rows if ply.instance in pieces and ply.row.casefold() == one.row.casefold()]
    return "/".join(dict.fromkeys(own))


def _plate(drawing: Drawing, added: Sequence[Added]) -> Plate:
    """What there is on a drawing once new holes are in it."""
    assert drawing.outline is not None
    centres = np.vstack([drawing.holes.xy, *(one.xy[one.new] for one in added)])
    sizes = np.concatenate([drawing.holes.diameter, *(np.full(int(one.new.sum()), one.diameter) for one in added)])
    lines = tuple(line.points for line in (*drawing.marks, *drawing.folds, *drawing.rolls))
    texts = tuple(written((label.text, label.xy, label.height)) for label in drawing.labels)
    return Plate(drawing.outline, (*drawing.cutouts, *round_openings(drawing.holes)), centres, sizes, lines, texts)
