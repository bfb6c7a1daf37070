"""Thousands of bodies bolted up as the gang would, for each way of ordering the holes."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.forecast.costs import cost_of
from fabplan.forecast.layers import Layers, layers
from fabplan.forecast.makes import Make
from fabplan.forecast.strays import Crew, Strays, crews, strays, thickened
from fabplan.geom.settled import Settling, settling
from fabplan.geom.through import eccentricity, enclosing, passing
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.body import Body, Stacks
from fabplan.model.forecast import (
    BEST,
    EASED,
    END,
    FAILS,
    GOES_IN,
    MIDDLE,
    NEXT,
    OPENED,
    OUTCOMES,
    Choice,
    Forecast,
)
from fabplan.model.job import Job, Shop
from fabplan.model.tables import Tables

AT_ONCE = 1_500_000
"""Plies times bodies in one batch: bounds the memory."""

LEFT = 1e-3
"""How much the other holes of a row count where it is drawn together at one: they only turn it straight."""

UNDER = 2.0
"""mm by which pilot holes are ordered smaller (common practice; 2 to 3 mm)."""

KEPT = 0.95
"""Share of the bodies that a likely worst figure holds for."""

BIN, BINS = 0.05, 100
"""Eccentricities are counted in steps, mm."""

Progress = Callable[[str], object]


@dataclass(frozen=True, slots=True, eq=False)
class Kit:
    """All that stays the same from body to body.

    Attributes:
        layers: the rivets and plies.
        crews: the plies by instance.
        backs: see `fabplan.forecast.strays.thickened`.
        first: (n + 1,) where each rivet's plies begin.
        seam: (n,) of s seams, -1 for none.
        seams: s.
        fixed: (m,) the piece that stays.
        out: mm, from which holes are reamed to the next size.
        shop: rates of work.
        rows: (s,) rows of two plies in each seam at which they are drawn together.
    """

    layers: Layers
    crews: tuple[Crew, ...]
    backs: tuple[BoolArray, BoolArray]
    first: IntArray
    seam: IntArray
    seams: int
    fixed: BoolArray
    out: float
    shop: Shop
    rows: IntArray


def kit_of(job: Job, body: Body, stacks: Stacks, tables: Tables, made: tuple[Sequence[Make], float]) -> Kit:
    """What a forecast is made from; `made` gives how each part is made, and from what eccentricity holes are reamed."""
    found = layers(job, body, stacks, tables)
    fixed = np.array(
        [one.mark == job.datum or pose is None for one, pose in zip(body.instances, body.poses, strict=True)]
    )
    own, backs = crews(body, stacks, found, made[0]), thickened(body, stacks, found)
    _, begin = np.unique(found.row, return_index=True)
    of_row = stacks.seam[np.repeat(np.arange(len(stacks)), np.diff(stacks.first))[found.ply[begin]]][_leading(found)]
    rows = np.bincount(of_row[of_row >= 0], minlength=len(job.seams))
    return Kit(found, own, backs, stacks.first, stacks.seam, len(job.seams), fixed, made[1], job.shop, rows)


WAYS = (
    ("as drawn, aligned at one end", END),
    ("as drawn, aligned at the middle", MIDDLE),
    ("as drawn, every hole shared out alike", BEST),
)
PILOTS = "pilots at the far ends, aligned at one end"


def forecast(kit: Kit, bodies: int, seed: int, assumptions: tuple[str, ...], progress: Progress = str) -> Forecast:
    """As drawn and aligned at one end; with pilots where that fails; aligned at the middle; and as best they fit.

    Args:
        kit: the kit.
        bodies: how many.
        seed: of the random numbers; the same seed gives the same bodies.
        assumptions: lines to keep with the outcome.
        progress: told how far it is.
    """
    none = np.zeros(len(kit.seam), dtype=np.bool_)
    settles = [settling(kit.layers.pairs, kit.fixed, _say(kit, aligned)) for _, aligned in WAYS]
    tallies = [_Tally(kit) for _ in WAYS]
    for batch, count in _batches(kit, bodies, seed):
        for settle, tally in zip(settles, tallies, strict=True):
            tally.add(*_came_out(kit, settle, batch, none))
        progress(f"{count} of {bodies} bodies")
    choices = [tally.choice(*way, none) for tally, way in zip(tallies, WAYS, strict=True)]
    pilots = _pilots(kit, tallies[0])
    tally = _Tally(kit)
    for batch, count in _batches(kit, bodies, seed) if pilots.any() else ():
        tally.add(*_came_out(kit, settles[0], batch, pilots))
        progress(f"with pilots, {count} of {bodies} bodies")
    if pilots.any():
        choices.insert(1, tally.choice(PILOTS, END, pilots))
    asked = kit.layers.asked
    costs = tuple(cost_of(kit.shop, one, asked, kit.seam, kit.rows) for one in choices)
    return Forecast(tuple(choices), costs, kit.rows, asked, bodies, seed, assumptions)


def _batches(kit: Kit, bodies: int, seed: int) -> Iterator[tuple[Strays, int]]:
    """The bodies in batches, each with how many there are up to it; the same whenever they are asked for."""
    each = max(1, min(bodies, AT_ONCE // max(len(kit.layers.drawn), 1)))
    for number, begin in enumerate(range(0, bodies, each)):
        rng = np.random.default_rng([seed, number])
        end = min(begin + each, bodies)
        yield strays(rng, kit.crews, kit.layers, kit.backs, end - begin), end


class _Tally:
    """What came out of one choice, added up over batches."""

    def __init__(self, kit: Kit) -> None:
        self.kit = kit
        self.share = np.zeros((len(kit.seam), len(OUTCOMES)))
        self.counts = np.zeros((len(kit.seam), BINS), dtype=np.int64)
        self.stuck: list[BoolArray] = []
        self.beyond: list[BoolArray] = []

    def add(self, outcome: IntArray, out: FloatArray) -> None:
        """Outcomes (n, c) and eccentricities (n, c), mm, of a batch."""
        self.share += np.stack([(outcome == one).sum(axis=1) for one in range(len(OUTCOMES))], axis=1)
        place = np.minimum((out / BIN).astype(np.int64), BINS - 1)
        flat = (place + BINS * np.arange(len(place))[:, None]).ravel()
        self.counts += np.bincount(flat, minlength=self.counts.size).reshape(self.counts.shape)
        asked = self.kit.layers.asked[:, None]
        self.stuck.append((outcome > OPENED) & asked)
        self.beyond.append((outcome > EASED) & asked)

    def choice(self, title: str, aligned: str, pilots: BoolArray) -> Choice:
        """The figures of all batches."""
        stuck = np.concatenate(self.stuck, axis=1)
        bodies = stuck.shape[1]
        within = (np.cumsum(self.counts, axis=1) >= KEPT * bodies).argmax(axis=1) * BIN + BIN
        by_seam = np.zeros((self.kit.seams + 1, bodies))
        np.add.at(by_seam, self.kit.seam, stuck)
        every = by_seam[: self.kit.seams]
        figures = np.column_stack([every.mean(axis=1), np.quantile(every, KEPT, axis=1, method="inverted_cdf")])
        return Choice(title, aligned, pilots, self.share / bodies, within, figures)


def _pilots(kit: Kit, drawn: _Tally) -> BoolArray:
    """(n,) the far end of each row: as few rivets as leave none that wants more than easing in most bodies.

    Where all plies are there already none can be ordered.
    """
    beyond = np.concatenate(drawn.beyond, axis=1)
    pilots = np.zeros(len(beyond), dtype=np.bool_)
    owner = np.repeat(np.arange(len(kit.seam)), np.diff(kit.first))
    for row in range(int(kit.layers.row.max(initial=-1)) + 1):
        own = np.unique(owner[kit.layers.ply[kit.layers.row == row]])  # along the row, as rivets are numbered
        from_end = len(own) - np.arange(len(own))[:, None]
        wanted = np.where(beyond[own], from_end, 0).max(axis=0, initial=0)  # of each body, how many from the end on
        pilots[own[len(own) - int(np.quantile(wanted, KEPT, method="inverted_cdf")) :]] = True
    to_make = np.bincount(owner, weights=~kit.layers.steel, minlength=len(pilots)) > 0
    return pilots & kit.layers.asked & to_make


def _say(kit: Kit, aligned: str) -> FloatArray:
    """(p,) how much each pair is drawn together: all alike, or one of each two pieces before their others."""
    say = np.full(len(kit.layers.row), 1.0 if aligned == BEST else LEFT)
    if aligned != BEST:
        order = np.argsort(kit.layers.row, kind="stable")  # along the row, as rivets are numbered
        starts = np.flatnonzero(np.diff(kit.layers.row[order], prepend=-1))
        middle = (np.append(starts[1:], len(order)) - starts) // 2 if aligned == MIDDLE else 0
        say[order[starts + middle][_leading(kit.layers)]] = 1.0
    pairs = kit.layers.ply
    say[kit.layers.taken[pairs] | kit.layers.taken[pairs + 1]] = 0.0
    return say


def _leading(own: Layers) -> BoolArray:
    """(r,) of r rows, True for the longest of each two pieces: they are drawn together at one hole of it.

    Two rows side by side, drawn together at one hole each, would turn the pieces by the errors of two near holes.
    """
    _, begin, length = np.unique(own.row, return_index=True, return_counts=True)
    pieces = np.column_stack([own.pairs.a[begin], own.pairs.b[begin]])
    pieces.sort(axis=1)
    _, group = np.unique(pieces, axis=0, return_inverse=True)
    order = np.lexsort((np.arange(len(length)), -length, group.ravel()))
    first = np.diff(group.ravel()[order], prepend=-1) != 0
    leading = np.zeros(len(length), dtype=np.bool_)
    leading[order[first]] = True
    return leading


def _came_out(kit: Kit, settle: Settling, batch: Strays, pilots: BoolArray) -> tuple[IntArray, FloatArray]:
    """(n, c) what comes of each rivet's holes, one of `OUTCOMES`, and (n, c) how far they are out, mm."""
    own, count = kit.layers, batch.size.shape[1]
    place = batch.offset + own.offset[:, :, None]
    out = place[own.ply + 1] - place[own.ply]
    rest = settle.rest(out.reshape(-1, count), batch.apart).reshape(out.shape)
    rest[own.taken[own.ply] | own.taken[own.ply + 1]] = 0.0
    step = np.zeros_like(place)
    step[own.ply + 1] = rest
    outcome, apart = np.zeros((len(kit.seam), count), dtype=np.int64), np.zeros((len(kit.seam), count))
    plies = np.diff(kit.first)
    for many in np.unique(plies).tolist():
        rows = np.flatnonzero(plies == many)
        held = kit.first[rows][:, None] + np.arange(many)
        radii = (own.drawn[held][..., None] + batch.size[held]) / 2.0
        layer = np.cumsum(step[held], axis=1)  # (r, many, 2, c), the first ply of each at its own middle
        shape = (len(rows) * count, many)
        places, sizes = layer.transpose(0, 3, 1, 2).reshape(*shape, 2), radii.transpose(0, 2, 1).reshape(shape)
        smaller = np.repeat(pilots[rows][:, None] & ~own.steel[held], count, axis=0)
        result, far = _judged(kit, rows, smaller, places, sizes)
        outcome[rows], apart[rows] = result.reshape(-1, count), far.reshape(-1, count)
    return outcome, apart


def _judged(
    kit: Kit, rows: IntArray, pilots: BoolArray, places: FloatArray, radii: FloatArray
) -> tuple[IntArray, FloatArray]:
    """What comes of r rivets in c bodies (r c,), from the places (r c, k, 2) and radii (r c, k) of their holes.

    `pilots` (r c, k) are ordered smaller. Where one ply of those opened in place is of full size, such as that of an
    old piece, the drill follows it; holes in which nothing is left to open are eased as any others.
    """
    own, count = kit.layers, len(places) // len(rows)
    shank, hole, larger = (np.repeat(column[rows], count) for column in (own.shank, own.hole, own.next))
    opened = np.repeat(own.opened[rows], count)
    radii = np.where(pilots & ~opened[:, None], radii - UNDER / 2.0, radii)
    far, holds = eccentricity(places), enclosing(places, radii)
    result = np.where(holds <= larger, NEXT, FAILS)
    result[(far <= kit.out) & ~pilots.any(axis=1)] = EASED
    result[passing(places, radii) >= shank] = GOES_IN
    result[(opened | pilots.any(axis=1)) & (holds <= np.maximum(hole, 2.0 * radii.max(axis=1)) + FIGURE)] = OPENED
    return result.astype(np.int64), far
