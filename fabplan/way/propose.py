"""A job begun from bare drawings and tables: put together by its holes, its seams proposed, what is open asked."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from fabplan.drawing.find import find_drawings
from fabplan.drawing.read import read_drawing
from fabplan.errors import FabplanError, Fault, JobError, OutputError
from fabplan.geom.congruent import SIZED
from fabplan.geom.match import near
from fabplan.geom.pose import to_outer
from fabplan.geom.prism import thick
from fabplan.job.proposed import TABLES, bare_job, place_tables, seam_tables
from fabplan.kit.find import assembled
from fabplan.kit.fit import Fit
from fabplan.kit.propose import answered, chosen, proposal
from fabplan.kit.search import WORK
from fabplan.kit.shape import shape_of
from fabplan.model.body import Body
from fabplan.model.part import Instance, Part
from fabplan.model.pose import Pose
from fabplan.model.proposal import Proposal
from fabplan.sheets.proposals import choice_words, proposals_page, seam_reason
from fabplan.sheets.ways import Ways
from fabplan.way.assembly import assembled as assembly
from fabplan.way.bare import pieces_of

JOB, PAGE = "job.toml", "seams.html"
MOST_ASKED = 3
"""Questions asked; what is open beyond them is listed, and stays as in the proposed body."""

SHOWN = 4
"""Ways of a choice that are drawn and printed; the others are mostly turns by further pitches."""

PLACED = 1.0
"""Corners nearer than this, mm, are where they are shown: as far as holes that meet may be out."""

DOUBLES = (
    "More holes meet where pieces alike, or both hands, are lapped by half of their holes or more: look whether "
    "these are."
)
PART = (
    "Not looked at: bodies in which a row meets another one in part only, or a hole without a mate lies on metal of "
    "another piece."
)

Answers = Mapping[int, int]
"""Number of the open choice and of the way that is taken."""


@dataclass(frozen=True, slots=True, eq=False)
class Begun:
    """What was written and what is to be said of it."""

    path: Path
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
    path, title = folder / JOB, folder.resolve().name
    if path.exists():
        raise OutputError(f"{path} is already there", "Take it away, or go on with it.")
    drawings = [read_drawing(one) for one in find_drawings(folder)]
    text, rivet = bare_job(title, drawings, tables_of(folder), datum)
    _write(path, text)
    try:
        job, parts, instances = pieces_of(path)
        pieces, marks = tuple(parts[one.part] for one in instances), [one.mark for one in instances]
        _formed(pieces)
        known = marks.index(datum) if datum in marks else None
        told, fit = proposal(pieces, assembled(pieces, known, int(longer * WORK))), Fit(pieces)
        _known(told, answers)
        _together(marks, told, answers, fit)
    except BaseException:  # a search of minutes that is broken off, too
        path.unlink()  # a job that was never whole is not left behind
        raise
    told = answered(pieces, told, answers, fit)
    text, rivet = bare_job(title, drawings, tables_of(folder), marks[told.datum])
    plain = {i for i, part in enumerate(pieces) if not len(shape_of(part))}
    sure = told.whole and len(plain | told.poses.keys()) == len(pieces)
    taken = {**(dict.fromkeys(range(1, len(told.choices) + 1), 1) if sure else {}), **answers}
    moved = chosen(told, taken, fit)
    moved |= {i: told.poses[i] for i in told.usual if sure and i not in moved}
    text += "\n" + seam_tables(told, marks, rivet, sure=sure)
    text += place_tables(moved, marks, _by_choice(told, taken, answers, moved))
    _write(path, text)
    body = _body(parts, instances, {**told.poses, **moved})
    ways = _ways(told, _body(parts, instances, told.poses), fit)
    lines, questions = _lines(told, marks, plain, sure=sure), _questions(told, marks, answers, ways)
    unused = sorted({one.name for one in drawings} - {Path(part.spec.drawing).name for part in parts})
    if unused:
        lines = (*lines, f"Not named in parts.csv, and not looked at: {', '.join(unused)}.")
    lines = (*lines, *_sizes(parts, job.rivets[0].hole))
    if sure:
        lines = (*lines, *_placed(path, body, marks[told.datum]))
    _write(folder / PAGE, proposals_page(title, told, body, lines, _shown(told, body, fit, answers), ways))
    seams = tuple(f"{one.mark}: {seam_reason(told, one.mark, marks)}" for one in told.seams)
    return Begun(path, told, (*seams, *lines), questions)


def _write(path: Path, text: str) -> None:
    try:
        path.write_bytes(text.encode("utf-8", "replace"))
    except OSError as error:
        raise OutputError(f"{path} cannot be written ({error.strerror})", "Look at the permissions.") from None


def _formed(pieces: Sequence[Part]) -> None:
    """Every piece has a form, without which it lies on nothing."""
    faults = {part.spec.mark: _formless(part) for part in pieces if not part.panels}
    if faults:
        raise JobError(tuple(faults.values()))


def _formless(part: Part) -> Fault:
    place = f'parts.csv: part "{part.spec.mark}"'
    if part.spec.thickness is None and part.section is None:
        return Fault(f"{place}: thickness", "none is stated", "Fill it in, in mm.")
    if part.blank is not None and part.blank.outline is None:
        return Fault(place, f"no outline of {part.spec.drawing} closes", "Look at it by `fabplan check`, and mend it.")
    why = "it is formed to template" if part.spec.formed else part.trouble.rstrip(".") or "its form is not known"
    return Fault(place, why, "Mend that, or leave the piece out and state its seams later.")


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


def _lines(told: Proposal, marks: Sequence[str], plain: set[int], *, sure: bool) -> tuple[str, ...]:
    """The body in sentences; `plain`: pieces that have no hole for a rivet."""
    datum = marks[told.datum]
    lines = [f"Set from {datum}."]
    lines += [_away(datum)] if not (sure or told.inside) else []  # where it is sure `plan` tells, by its own measure
    left = [mark for k, mark in enumerate(marks) if k in plain - told.poses.keys()]
    if left:
        lines.append(f"No holes tell where {', '.join(left)} should stand: state it by [[place]].")
    missing = [mark for k, mark in enumerate(marks) if k not in plain | told.poses.keys()]
    if missing:
        lines.append(
            f"No place was found for {', '.join(missing)}: look whether holes are drawn as far apart as their mates, "
            "and whether all belong to this body."
        )
    lines.append(
        f"{told.bare} hole has no mate in this body."
        if told.bare == 1
        else f"{told.bare} holes have no mate in this body."
    )
    lines += [PART] if told.bare else []
    if told.unlisted:
        lines.append(f"{told.unlisted} rivets lie in rows without a name: name these on layers RIVET, and list them.")
    lines += [DOUBLES] if told.doubles else []
    lines += [_habits(told)] if told.usual else []
    aside = " The seams stand as comments in the job file." if told.seams else ""
    if not told.whole:
        lines.append(f"Not sure: not all ways could be looked at.{aside}")
        lines.append(
            "Take that file away and look ten times as long by --longer 10, or set it from another piece by --datum."
        )
    elif not sure:
        lines.append(f"Not sure: some pieces find no place.{aside}")
    else:
        lines.append(_looked(told))
    return tuple(lines)


def _sizes(parts: Sequence[Part], hole: float) -> Iterator[str]:
    """That the one rivet of the job is for some of the holes alone."""
    holes = [part.holes.holes for part in parts]
    closed = ((size, purpose) for own in holes for size, purpose in zip(own.diameter, own.purpose, strict=True))
    others = sorted(
        {round(float(size), 2) for size, purpose in closed if purpose == "rivet" and abs(size - hole) > SIZED}
    )
    if others:
        yield (
            f"All seams are written with a rivet for holes of {hole:g} mm: for those of "
            f"{', '.join(f'{size:g}' for size in others)} mm state their own by [[rivet]], and name it in their seams."
        )


def _away(datum: str) -> str:
    return f"The marked face of {datum} looks away from the body: state marked = outside for it in the table."


def _habits(told: Proposal) -> str:
    """What was taken for granted, where the holes leave too much open."""
    outside = "what is laid on a piece lies outside it; " if told.outside else ""
    return (
        "So many bodies fit by their holes that they cannot be told one by one. Taken for granted is what makers do "
        f"as a rule (common practice): hands stand as mirror images, pieces alike lie alike; {outside}faces of bars "
        "run on in one plane, and openings stand on one axis. Look at the pictures whether yours does."
    )


def _looked(told: Proposal) -> str:
    """That all ways were looked at, and what else there is."""
    but = "" if told.doubles else " but those that lap pieces alike, or both hands, by half of their holes or more"
    well = "go as little against these habits" if told.usual else "fit as well"
    if told.taken:
        return (
            f"All places of pieces were looked at{but}, and more bodies {well} than can be told one by one: of "
            f"{told.taken} more that were drawn what is listed as open makes all, but others may be missing from it."
        )
    if told.choices:
        return f"All ways were looked at{but}; those that {well} are listed as open."
    return f"All ways were looked at{but}, and no others {well}."


def _placed(path: Path, body: Body, datum: str) -> Iterator[str]:
    """What `plan` makes of the job that was written: whether its seams place all pieces as shown."""
    try:
        placing = assembly(path).placing
    except FabplanError as error:
        yield f"`plan` cannot place the pieces by these seams: {error}"
        return
    if placing.upside_down:
        yield _away(datum)
    off = [
        one.mark
        for one, shown, pose in zip(body.instances, body.poses, placing.body.poses, strict=True)
        if shown is not None and (pose is None or not _same(body.parts[one.part], shown, pose))
    ]
    if off:
        yield f"By these seams `plan` places {', '.join(off)} otherwise than shown: look at its findings."
    elif placing.doubt is not None or placing.faults or placing.datum_mirrored:
        yield "By these seams `plan` places all pieces as shown, and reports a doubt or a seam that does not close."
    else:
        yield "By these seams `plan` places all pieces as shown."


def _same(part: Part, one: Pose, two: Pose) -> bool:
    """Whether metal and holes are where they are shown, whichever way round a piece alike on both sides lies."""
    corners = np.vstack([thick(panel).corners for panel in part.panels])
    holes = part.holes
    middles = [
        to_outer(part.panels[panel].frame, np.array([*xy, -part.panels[panel].thickness / 2.0]))
        for xy, panel in zip(holes.holes.xy, holes.panel, strict=True)
    ]
    return all(
        np.isin(np.arange(len(own)), near(to_outer(other, own), to_outer(pose, own), PLACED)[0]).all()
        for own in (corners, np.array(middles).reshape(-1, 3))
        for pose, other in ((one, two), (two, one))
        if len(own)
    )


def _questions(
    told: Proposal, marks: Sequence[str], answers: Answers, ways: Sequence[Sequence[str]]
) -> tuple[str, ...]:
    """The choices that are still open, those that move most pieces first, with how to answer."""
    left = [number for number in range(1, len(told.choices) + 1) if number not in answers]
    ranked = sorted(left, key=lambda number: (-len(told.choices[number - 1].pieces), number))
    asked = ranked[:MOST_ASKED]
    words = [f"open {number}: {choice_words(told.choices[number - 1], marks)}" for number in left]
    return (*words, *(line for number in asked for line in _question(number, ways[number - 1])))


def _question(number: int, ways: Sequence[str]) -> Iterator[str]:
    """A choice with the answers to it, the first of them where there are many."""
    yield f"which way lies open {number}? --answer {number}=1 keeps it as it is"
    for way, what in enumerate(ways[:SHOWN], 1):
        yield f"  {number}={way}: {what}"
    if len(ways) > SHOWN:
        yield f"  {number}={SHOWN + 1} to {number}={len(ways)}: see {PAGE}"


def _body(parts: tuple[Part, ...], instances: tuple[Instance, ...], poses: Mapping[int, Pose]) -> Body:
    count = len(instances)
    return Body(parts, instances, tuple(poses.get(i) for i in range(count)), ("by its holes",) * count, ("",) * count)
