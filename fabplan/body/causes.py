"""Why a kit does not close: single changes, each tried in the rest of the body, and those named that make it close.

suspects   the marks at seams that do not close, then those further along the seams
rest       the body without a suspect, in whichever way it closes; where it closes in none, the mistake is elsewhere
changes    of the suspect, one at a time; a change cures when each of its pieces closes all its seams again
order      those first that rid the kit of most sizes that stand nowhere else, then the smaller change
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from fabplan.body.change import Change, Forms, Shop
from fabplan.body.costs import DEEP, Costs
from fabplan.body.found import finding
from fabplan.body.joint import joints
from fabplan.body.kit import kit_of
from fabplan.body.piece_changes import piece_changes, roll_changes, turns, units
from fabplan.body.place import Placing, start_of
from fabplan.body.rest import Rest, faces, fouls, radii_off, rests_without, stands
from fabplan.body.row_changes import row_changes
from fabplan.body.rows import links
from fabplan.body.seams import amiss
from fabplan.body.search import bodies_without
from fabplan.body.sizes import oddness, sizes
from fabplan.model.body import Body
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job

SUSPECTS = 12
"""Marks that are looked at, those at most open seams first."""

NAMED = 4
"""Causes that are told."""

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
    """

    change: Change
    mark: str
    freed: int

    @property
    def rank(self) -> tuple[bool, int, float]:
        """Small changes first, of those the ones that rid the kit of most odd sizes.

        A change without a figure that was made to fit, such as turning a strip, counts as two sizes more, a row out by
        a figure that no rule gives as two less.
        """
        unfitted = UNFITTED if self.change.by == 0.0 and self.change.choices == 1 else 0
        untold = UNTOLD if self.change.kind == "row out" else 0
        return self.change.by > FAR, untold - unfitted - self.freed, self.change.by


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
    for change in sorted(_changes(rest, forms, allowed, shop), key=lambda one: one.by):
        if change.what not in told and _fits(rest, change.forms, allowed):
            told.add(change.what)
            yield Cause(change, mark, before - oddness(change.forms.values(), others))


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
    best = [stand for stand in ways if sum(stand.closed) == most or stand.met == widest]
    for stand in best:
        yield from row_changes(rest, stand, instance, forms)
    both = any(len(faces(rest, instance, stand)) > 1 for stand in best)
    yield from piece_changes(shop, forms, thickness=both or not most)
    for off in radii_off(rest, instance):
        if abs(off) > HAIR:
            yield from roll_changes(shop, forms, off)


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
    marks = {one.mark for one in every if one.rank[:2] == every[0].rank[:2]}
    return marks.pop() if len(marks) == 1 else ""


def tell(job: Job, every: Sequence[Cause]) -> Iterator[Finding]:
    """The likeliest cause, and those as likely; one finding."""
    if not every:
        return
    first = every[0]
    equal = [one for one in every if one.rank[:2] == first.rank[:2]]
    lines = [f"{one.change.kind}: {one.change.what}" for one in equal[:NAMED]]
    more = len(equal) - len(lines)
    rest = (f"; as likely: {'; '.join(lines[1:])}" if len(lines) > 1 else "") + (f"; and {more} more" if more else "")
    spec = next(part for part in job.parts if part.mark == first.mark)
    yield finding(
        "likely-cause",
        f"the body closes once one thing is changed. {lines[0]}{rest}",
        first.change.cure,
        Where(part=first.mark, drawing=spec.drawing),
    )
