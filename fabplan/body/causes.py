"""Why a kit does not close: single changes, each tried in the rest of the body, and those named that make it close.

suspects   the marks at seams that do not close, then those further along the seams
rest       the body without a suspect, in whichever way it closes; where it closes in none, the mistake is elsewhere
changes    of the suspect, one at a time; a change cures when each of its pieces closes all its seams again
order      those first that bring all holes together, that rid the kit of most sizes that stand nowhere else, then the
           smaller change; all are told, each with what speaks for it and its cure
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from fabplan.body.change import Change, Forms, Shop
from fabplan.body.costs import DEEP, Costs
from fabplan.body.found import count_of, finding
from fabplan.body.joint import joints
from fabplan.body.kit import kit_of
from fabplan.body.piece_changes import piece_changes, roll_changes, turns, units
from fabplan.body.place import Placing, start_of
from fabplan.body.rest import Rest, Stand, faces, fouls, radii_off, rests_without, stands
from fabplan.body.row_changes import row_changes
from fabplan.body.rows import links
from fabplan.body.seams import amiss
from fabplan.body.search import bodies_without
from fabplan.body.sizes import oddness, sizes
from fabplan.geom.tolerance import ROUNDED
from fabplan.model.body import Body
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job
from fabplan.model.part import Part

SUSPECTS = 12
"""Marks that are looked at, those at most open seams first."""

FAR = 12.0
"""Changes of place up to this, mm, come before larger ones: slips of a rule, a thickness or an allowance are small."""


UNFITTED = 2
"""Odd sizes that a change without a figure made to fit is worth: it leaves less choice."""

UNTOLD = 2
"""Odd sizes that a row out by a figure which no rule gives is short of one that a rule gives."""

PLAY = 0.65
"""The most, mm, that holes may be out once a change has cured them: what a hot rivet of 10 mm has to spare in 11."""

HAIR = 0.05
"""Difference of radii, mm, that is none."""


@dataclass(frozen=True, slots=True, eq=False)
class Cause:
    """A single change that makes the body close.

    Attributes:
        change: the change.
        mark: of the piece.
        freed: how much odd setting out it rids the kit of (see `body.sizes.oddness`).
        snug: True where all holes then meet as drawings do, not only within what rivets allow.
    """

    change: Change
    mark: str
    freed: int
    snug: bool = True

    @property
    def unfitted(self) -> bool:
        """True for a change without a figure that was made to fit, such as turning a strip."""
        return self.change.by == 0.0 and self.change.choices == 1

    @property
    def untold(self) -> bool:
        """True for a row out by a figure that no rule gives."""
        return self.change.kind == "row out"

    @property
    def weight(self) -> tuple[bool, bool, int]:
        """What speaks against it, least first: a large change, holes that meet only within play, odd sizes that stay.

        A change without a figure counts as two sizes more, a row out by a figure that no rule gives as two less.
        """
        odd = UNTOLD * self.untold - UNFITTED * self.unfitted - self.freed
        return self.change.by > FAR, not self.snug, odd

    @property
    def rank(self) -> tuple[tuple[bool, bool, int], float]:
        """By weight, then the smaller change first."""
        return self.weight, self.change.by

    @property
    def evidence(self) -> str:
        """What its weight rests on, in words."""
        size = count_of(abs(self.freed), "odd size")
        freed = f"{'rids the kit of' if self.freed > 0 else 'brings'} {size}" if self.freed else "odd sizes as before"
        more = (
            (self.unfitted, "no figure was made to fit"),
            (self.untold, "no thickness, fold or pitch gives the figure"),
            (not self.snug, "holes then meet only within what rivets allow"),
            (self.change.by > FAR, f"a change of more than {FAR:g} mm"),
        )
        return ", ".join([freed, *(words for holds, words in more if holds)])


def causes(job: Job, placing: Placing, shop: Shop) -> tuple[Cause, ...]:
    """The single changes that make a body close, the likeliest first; none for a body that closes.

    Args:
        job: the job.
        placing: the body and its links.
        shop: how pieces are made.
    """
    marks, body = _suspects(placing), placing.body
    formless = list(dict.fromkeys(part.mark for part in body.parts if part.blank is not None and part.trouble))
    if formless or not marks:
        tried = {mark: _units(placing, mark, shop) for mark in formless}
        tried = tried or {mark: turns(shop, _forms(body, mark)) for mark in _faced_away(placing)}
        return tuple(cause for mark, changes in tried.items() for cause in _anew(job, placing, mark, changes))
    pieces = tuple(body.part_of(i) for i in range(len(body.instances)))
    datum = next(i for i, instance in enumerate(body.instances) if instance.mark == job.datum)
    start = start_of(job, body.instances)
    costs = Costs(kit_of(pieces, placing.links, datum, start))
    allowed = _allowed(placing)
    placed = {i: pose for i, pose in enumerate(body.poses) if pose is not None}
    found = [
        cause
        for mark in marks
        for cause in _first(_of_mark(one, mark, allowed, shop) for one in rests_without(costs, start, placed, mark))
    ]
    if not found:
        found = [cause for mark in marks for cause in _anew(job, placing, mark, _units(placing, mark, shop))]
    return tuple(sorted(found, key=lambda one: one.rank))


def _first(every: Iterator[Iterator[Cause]]) -> list[Cause]:
    """The causes of the first rest of the body that has any."""
    return next((found for found in map(list, every) if found), [])


def _allowed(placing: Placing) -> dict[int, float]:
    """How far the holes of each seam may be out, mm, as its plies are drawn; that of its tightest link.

    What opening in place takes away is no cure: there too a change is to bring the holes as near as rivets want them.
    """
    found: dict[int, float] = {}
    for link in placing.links:
        found[link.seam] = min(link.allowed, found.get(link.seam, PLAY))
    return found


def _suspects(placing: Placing) -> list[str]:
    """Marks at the seams that do not close or hold no piece, then those next to them, and so on along the seams.

    A piece that hangs on one other alone leads no further.
    """
    body = placing.body
    marks = [body.part_of(i).spec.mark for i in range(len(body.instances))]
    count: dict[str, int] = {}
    closing = {id(joint.link) for joint in joints(placing) if not amiss(joint)}
    open_ends = [(link.a, link.b) for link in placing.links if id(link) not in closing]
    ends = {end for pair in open_ends for end in pair}
    for one, other in open_ends:
        for end in (one, other):
            count[marks[end]] = count.get(marks[end], 0) + 1
    found = sorted(count, key=lambda mark: -count[mark])
    pairs = [pair for link in placing.links for pair in ((link.a, link.b), (link.b, link.a))]
    beside: dict[int, set[int]] = {}
    for one, other in pairs:
        beside.setdefault(one, set()).add(other)
    while ends and len(found) < SUSPECTS:
        next_to = dict.fromkeys(other for one, other in pairs if one in ends and marks[other] not in found)
        following = [i for i in next_to if len(beside[i]) > 1]
        found += dict.fromkeys(marks[i] for i in following)
        ends = set(following)
    return found[:SUSPECTS]


def _of_mark(rest: Rest, mark: str, allowed: Mapping[int, float], shop: Shop) -> Iterator[Cause]:
    parts = rest.costs.kit.parts
    forms: Forms = {parts[i].hand: parts[i] for i in rest.own}
    if _fits(rest, forms, allowed):
        return
    others = frozenset[float]().union(*(sizes(part) for part in parts if part.spec.mark != mark and part.panels))
    before = oddness(forms.values(), others)
    told: set[str] = set()
    snug = {seam: min(one, ROUNDED) for seam, one in allowed.items()}
    for change in sorted(_changes(rest, forms, allowed, shop), key=lambda one: one.by):
        if change.what not in told and _fits(rest, change.forms, allowed):
            told.add(change.what)
            freed = before - oddness(change.forms.values(), others)
            yield Cause(change, mark, freed, _fits(rest, change.forms, snug))


def _forms(body: Body, mark: str) -> Forms:
    """The form of a mark by hand."""
    return {part.hand: part for part in body.parts if part.spec.mark == mark}


def _faced_away(placing: Placing) -> list[str]:
    """Marks whose face looks away from the side that the job states, and those next to them."""
    body = placing.body
    specs = [body.part_of(i).spec for i in range(len(body.instances))]
    away = {i for i, spec in enumerate(specs) if spec.marked and body.marked[i] not in ("", spec.marked)}
    ends = [i for link in placing.links if away.intersection((link.a, link.b)) for i in (link.a, link.b)]
    return list(dict.fromkeys(specs[i].mark for i in (*sorted(away), *ends)))


def _units(placing: Placing, mark: str, shop: Shop) -> Iterator[Change]:
    """Other units of a drawing: one in a wrong unit cannot be formed, or holds nothing and leads the search astray."""
    body = placing.body
    alone = [i for i in range(len(body.instances)) if body.part_of(i).spec.mark == mark]
    part = body.part_of(alone[0])
    if part.blank is not None and (part.trouble or placing.rough.issuperset(alone)):
        yield from units(shop, part.spec, part.blank)


def _anew(job: Job, placing: Placing, mark: str, changes: Iterator[Change]) -> Iterator[Cause]:
    """The changes of a mark with which the kit closes, faces and all, when it is put together anew; the mark in it."""
    body, start = placing.body, start_of(job, placing.body.instances)
    datum = next(i for i, instance in enumerate(body.instances) if instance.mark == job.datum)
    own = {i for i, instance in enumerate(body.instances) if body.parts[instance.part].spec.mark == mark}
    for change in changes:
        if not all(part.panels for part in change.forms.values()):
            continue
        parts = tuple(change.forms.get(part.hand, part) if part.spec.mark == mark else part for part in body.parts)
        pieces = tuple(parts[instance.part] for instance in body.instances)
        kit = kit_of(pieces, links(job, parts, body.instances), datum, start)
        if any(own <= set(found) for found in bodies_without(Costs(kit), start, frozenset())):
            yield Cause(change, mark, 0)


def _changes(rest: Rest, forms: Forms, allowed: Mapping[int, float], shop: Shop) -> Iterator[Change]:
    """Changes of rows, then of the whole piece."""
    instance = max(rest.own, key=lambda i: len(rest.holds[i]))
    drawn = rest.costs.kit.parts[instance]
    ways = stands(rest, instance, drawn, allowed)
    most = max((sum(stand.closed) for stand in ways), default=0)
    widest = max((stand.met for stand in ways), default=0)
    best = [
        stand
        for stand in ways
        if sum(stand.closed) == most or stand.met == widest or _up_to_fold(stand, instance, drawn)
    ]
    for stand in best if not drawn.spec.master else ():  # measured holes are steel: no drawing moves them
        yield from row_changes(rest, stand, instance, forms)
    both = any(len(faces(rest, instance, stand)) > 1 for stand in best)
    yield from piece_changes(shop, forms, thickness=both or not most)
    for off in radii_off(rest, instance):
        if abs(off) > HAIR:
            yield from roll_changes(shop, forms, off)


def _up_to_fold(stand: Stand, instance: int, drawn: Part) -> bool:
    """True where a folded piece closes all its seams on some of its flat pieces, and none on the others."""
    if not drawn.spec.folds:
        return False
    ends = ((link.row_a if link.a == instance else link.row_b).panel for link in stand.links)
    pairs = list(zip(ends, stand.closed, strict=True))
    closed, out = ({panel for panel, fits in pairs if fits is which} for which in (True, False))
    return bool(closed) and bool(out) and closed.isdisjoint(out)


def _fits(rest: Rest, forms: Forms, allowed: Mapping[int, float]) -> bool:
    """True where each piece of the mark in these forms closes all its seams and runs into no other."""
    for instance in rest.own:
        part = forms.get(rest.costs.kit.parts[instance].hand)
        if part is None or not part.panels or not rest.holds[instance]:
            return False
        whole = len(rest.holds[instance])
        closing = (one for one in stands(rest, instance, part, allowed) if sum(one.closed) == whole)
        if all(fouls(rest, instance, part, one.pose, DEEP) for one in closing):
            return False
    return True


def accused(every: Sequence[Cause]) -> str:
    """The mark of the piece that all of the likeliest causes name; "" where they name several."""
    marks = {one.mark for one in every if one.weight == every[0].weight}
    return marks.pop() if len(marks) == 1 else ""


def tell(job: Job, every: Sequence[Cause]) -> Iterator[Finding]:
    """All causes in one finding, the likeliest first, each with what speaks for it and with its cure."""
    if not every:
        return
    first = every[0]
    equal = [one for one in every if one.weight == first.weight]
    numbers = [f"({number}) " if len(every) > 1 else "" for number in range(1, len(every) + 1)]
    lines = [
        f"{number}{one.change.kind}: {one.change.what} [{one.evidence}]"
        for number, one in zip(numbers, every, strict=True)
    ]
    groups = (("", lines[:1]), ("; as likely: ", lines[1 : len(equal)]), ("; less likely: ", lines[len(equal) :]))
    words = "".join(lead + "; ".join(some) for lead, some in groups if some)
    odd = "An odd size is a pitch or an end distance that stands nowhere else in the kit, or an unequal step in a row"
    spec = next(part for part in job.parts if part.mark == first.mark)
    yield finding(
        "likely-cause",
        f"the body closes once one thing is changed. {words}. {odd}",
        " ".join(f"{number}{one.change.cure}" for number, one in zip(numbers, every, strict=True)),
        Where(part=first.mark, drawing=spec.drawing),
    )
