"""A body that its holes allow, in sentences: what is sure of it and what was not looked at, and what is open asked."""

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from fabplan.geom.congruent import SIZED
from fabplan.model.drawing import Drawing
from fabplan.model.part import Part
from fabplan.model.proposal import Proposal
from fabplan.sheets.proposals import choice_words

PAGE = "seams.html"
MOST_ASKED = 3
"""Questions asked; what is open beyond them is listed, and stays as in the proposed body."""

SHOWN = 4
"""Ways of a choice that are drawn and printed; the others are mostly turns by further pitches."""

DOUBLES = (
    "More holes meet where pieces alike, or both hands, are lapped by half of their holes or more: look whether "
    "these are."
)
PART = (
    "Not looked at: bodies in which a row meets another one in part only, or a hole without a mate lies on metal of "
    "another piece."
)


def body_words(told: Proposal, marks: Sequence[str], plain: set[int], *, sure: bool) -> tuple[str, ...]:
    """The body in sentences; `plain`: pieces that have no hole for a rivet."""
    datum = marks[told.datum]
    lines = [f"Set from {datum}."]
    lines += [away_words(datum)] if not (sure or told.inside) else []  # else `plan` tells, by its own measure
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
        what = f"{told.unlisted} rivets lie in rows without a name, and are in no seam"
        lines.append(f"{what}: name the rows on layers RIVET, and join them by a [[seam]].")
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


def unused_words(drawings: Sequence[Drawing], parts: Sequence[Part]) -> Iterator[str]:
    """Drawings that no piece names."""
    unused = sorted({one.name for one in drawings} - {Path(part.spec.drawing).name for part in parts})
    if unused:
        yield f"Not named in parts.csv, and not looked at: {', '.join(unused)}."


def size_words(parts: Sequence[Part], hole: float) -> Iterator[str]:
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


def away_words(datum: str) -> str:
    """How to mend a datum that stands inside out."""
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


def questions(
    told: Proposal, marks: Sequence[str], answers: Mapping[int, int], ways: Sequence[Sequence[str]]
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
