"""A job begun from bare drawings and tables: put together by its holes, its seams proposed, what is open asked."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from fabplan.body.formless import why_formless
from fabplan.drawing.find import find_drawings
from fabplan.drawing.read import read_drawing
from fabplan.errors import FabplanError, Fault, JobError, OutputError
from fabplan.job.proposed import TABLES, bare_job, place_tables, seam_tables
from fabplan.kit.find import assembled
from fabplan.kit.fit import Fit
from fabplan.kit.propose import answered, chosen, proposal
from fabplan.kit.search import WORK
from fabplan.kit.shape import shape_of
from fabplan.model.body import Body
from fabplan.model.job import Job
from fabplan.model.part import Instance, Part
from fabplan.model.pose import Pose
from fabplan.model.proposal import Proposal
from fabplan.sheets.proposals import proposals_page, seam_reason
from fabplan.sheets.ways import Ways
from fabplan.way.as_shown import write_as_shown
from fabplan.way.bare import pieces_of
from fabplan.way.propose_told import PAGE, SHOWN, body_words, questions, size_words, unused_words

JOB = "job.toml"
HELD = "So that `plan` places them as shown: its seams alone leave it open."
"""Said of pieces whose places are stated for no choice."""

Answers = Mapping[int, int]
"""Number of the open choice and of the way that is taken."""


@dataclass(frozen=True, slots=True, eq=False)
class Begun:
    """What was written and what is to be said of it."""

    path: Path
    page: Path
    told: Proposal
    lines: tuple[str, ...]
    questions: tuple[str, ...]


def tables_of(folder: Path) -> tuple[str, ...]:
    """The tables of a folder that name its pieces and rows; none without a table of parts."""
    found = tuple(f"{name}.csv" for name in TABLES if (folder / f"{name}.csv").is_file())
    return found if "parts.csv" in found else ()


def begin(folder: Path, answers: Answers, datum: str = "", longer: float = 1.0) -> Begun:
    """Write a job file with the seams that the holes propose, and a page of pictures of them.

    Args:
        folder: bare drawings and tables.
        answers: ways taken of choices that were listed before.
        datum: mark of the piece that the others are set from, "" to choose it.
        longer: how many times as long as is usual it is looked at before it is given up.

    Raises:
        FabplanError: tables or drawings cannot be used, an answer is to no question.
        OutputError: a job file is already there, or it cannot be written.
    """
    path = folder / JOB
    if path.exists():
        raise OutputError(f"{path} is already there", "Take it away, or go on with it.")
    try:
        return _begun(folder, answers, datum, longer)
    except BaseException:  # a search of minutes that is broken off, too
        path.unlink(missing_ok=True)  # a job that was never whole is not left behind
        raise


def _begun(folder: Path, answers: Answers, datum: str, longer: float) -> Begun:
    """The job and the page written; where this fails a part of the job may be there."""
    path, page = folder / JOB, folder / PAGE
    title, drawings = folder.resolve().name, [read_drawing(one) for one in find_drawings(folder)]
    text, rivet = bare_job(title, drawings, tables_of(folder), datum)
    _write(path, text)
    kit = _kit(path)
    told, fit = _proposed(kit, answers, datum, longer)
    plain = {i for i, part in enumerate(kit.pieces) if not len(shape_of(part))}
    sure = told.whole and len(plain | told.poses.keys()) == len(kit.pieces)
    moved, under = _settled(told, answers, fit, sure=sure)
    text, _ = bare_job(title, drawings, tables_of(folder), kit.marks[told.datum])
    text += "\n" + seam_tables(told, kit.marks, rivet, sure=sure)
    poses = {**told.poses, **moved}
    body = kit.body(poses)

    def write(more: Sequence[int]) -> None:
        _write(path, text + place_tables(poses, kit.marks, {**under, **({HELD: more} if more else {})}))

    ways = _ways(told, kit.body(told.poses), fit)
    lines = [*body_words(told, kit.marks, plain, sure=sure), *unused_words(drawings, kit.parts)]
    lines += size_words(kit.parts, kit.job.rivets[0].hole)
    if sure:
        lines += write_as_shown(path, body, told.datum, moved, write)
    else:
        write(())
    _write(page, proposals_page(title, told, body, lines, _shown(told, body, fit, answers), ways))
    seams = (f"{one.mark}: {seam_reason(told, one.mark, kit.marks)}" for one in told.seams)
    return Begun(path, page, told, (*seams, *lines), questions(told, kit.marks, answers, ways))


@dataclass(frozen=True, slots=True, eq=False)
class _Kit:
    """The pieces of a folder, the part of each instance and its mark."""

    job: Job
    parts: tuple[Part, ...]
    instances: tuple[Instance, ...]
    pieces: tuple[Part, ...]
    marks: tuple[str, ...]

    def body(self, poses: Mapping[int, Pose]) -> Body:
        """The pieces as they stand."""
        count = len(self.instances)
        places = tuple(poses.get(i) for i in range(count))
        return Body(self.parts, self.instances, places, ("by its holes",) * count, ("",) * count)


def _kit(path: Path) -> _Kit:
    job, parts, instances = pieces_of(path)
    pieces, marks = tuple(parts[one.part] for one in instances), tuple(one.mark for one in instances)
    _formed(pieces)
    return _Kit(job, parts, instances, pieces, marks)


def _proposed(kit: _Kit, answers: Answers, datum: str, longer: float) -> tuple[Proposal, Fit]:
    """What is proposed, as it is by the answers."""
    known = kit.marks.index(datum) if datum in kit.marks else None
    told, fit = proposal(kit.pieces, assembled(kit.pieces, known, int(longer * WORK))), Fit(kit.pieces)
    _known(told, answers)
    _together(kit.marks, told, answers, fit)
    return answered(kit.pieces, told, answers, fit), fit


def _settled(told: Proposal, answers: Answers, fit: Fit, *, sure: bool) -> tuple[dict[int, Pose], dict[str, list[int]]]:
    """Poses of the pieces whose places are written, and which these are under what is said of them."""
    taken = {**(dict.fromkeys(range(1, len(told.choices) + 1), 1) if sure else {}), **answers}
    moved = chosen(told, taken, fit)
    moved |= {i: told.poses[i] for i in told.usual if sure and i not in moved}
    return moved, _by_choice(told, taken, answers, moved)


def _write(path: Path, text: str) -> None:
    try:
        path.write_bytes(text.encode("utf-8", "replace"))
    except OSError as error:
        raise OutputError(f"{path} cannot be written ({error.strerror})", "Look at the permissions.") from None


def _formed(pieces: Sequence[Part]) -> None:
    """Every piece has a form, without which it lies on nothing."""
    faults = {
        part.spec.mark: Fault(f'parts.csv: part "{part.spec.mark}"', *why_formless(part))
        for part in pieces
        if not part.panels
    }
    if faults:
        raise JobError(tuple(faults.values()))


def _known(told: Proposal, answers: Answers) -> None:
    """Answers are to open choices, by ways that they have."""
    for number, way in answers.items():
        if not 0 < number <= len(told.choices) or not 0 < way <= len(told.choices[number - 1].ways):
            raise FabplanError(f"the answer {number}={way} is to no open choice", "Answer by the numbers of the list.")


def _together(marks: Sequence[str], told: Proposal, answers: Answers, fit: Fit) -> None:
    """Answers make a body as sound as that which is proposed: each does alone, not any two of them do."""
    if not answers:
        return
    body = {**told.poses, **chosen(told, answers, fit)}
    given = " and ".join(f"{number}={way}" for number, way in answers.items())
    mend = "Answer fewer of them, those that you are sure of, and look at what is left open then."
    pair = fit.foul(body)
    if pair:
        one, two = (marks[i] for i in pair)
        raise FabplanError(
            f"the answers {given} do not go together: {one} and {two} would be in one another's way", mend
        )
    lost = fit.holes_met(told.poses) - fit.holes_met(body)
    if lost > 0:
        raise FabplanError(f"the answers {given} do not go together: {lost} holes more would have no mate", mend)


def _by_choice(told: Proposal, taken: Answers, answers: Answers, moved: Mapping[int, Pose]) -> dict[str, list[int]]:
    """Pieces whose places are written, under what is said of them."""
    found: dict[str, list[int]] = {}
    left = set(moved)
    for number in sorted(taken):
        own = [i for i in told.choices[number - 1].pieces if i in left]
        left -= set(own)
        way = f"as answered: {number}={taken[number]}" if number in answers else "as proposed, not yet answered"
        found[f"Open {number}, {way}."] = own
    found["As makers do as a rule, for the holes leave it open."] = sorted(left & set(told.usual))
    found["These go along."] = sorted(left - set(told.usual))
    return {words: own for words, own in found.items() if own}


def _ways(told: Proposal, body: Body, fit: Fit) -> tuple[tuple[str, ...], ...]:
    """Of each choice all its ways in words, against the proposed body."""
    told_of = Ways(body, told.datum)
    return tuple(
        tuple(told_of.words(way, chosen(told, {number: k}, fit)) for k, way in enumerate(choice.ways, 1))
        for number, choice in enumerate(told.choices, 1)
    )


def _shown(told: Proposal, body: Body, fit: Fit, answers: Answers) -> tuple[tuple[Body, ...], ...]:
    """Of each choice the bodies of its first ways, that which is proposed the first, with all others as answered."""

    def seen(number: int, way: int) -> Body:
        poses = {**told.poses, **chosen(told, {**answers, number: way}, fit)}
        return replace(body, poses=tuple(poses.get(i) for i in range(len(body.poses))))

    return tuple(
        tuple(seen(number, way) for way in range(1, min(len(choice.ways), SHOWN) + 1))
        for number, choice in enumerate(told.choices, 1)
    )
