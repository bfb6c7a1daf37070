"""Rows of holes in the legs of bars: on the leg, on its usual gauge, not too large for it, clear of the root."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fabplan.geom.inside import edge_distance, inside
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.body import Body, Stacks
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job, RowSpec
from fabplan.model.legs import Band, Leg, legs_of
from fabplan.model.lookup import find_head
from fabplan.model.part import Part
from fabplan.model.pose import Pose
from fabplan.model.tables import Gauge, Section, Tables

ENDS = ("made head", "point")


@dataclass(frozen=True, slots=True)
class _Row:
    """A row with its leg; `single` where no other row of the leg stands on another back mark."""

    part: Part
    spec: RowSpec
    leg: Leg
    single: bool

    @property
    def words(self) -> str:
        """How messages name it."""
        section = self.part.spec.section
        return f"row {self.spec.row}, leg {self.leg.name} of {section}"


def check_legs(job: Job, body: Body, stacks: Stacks, tables: Tables) -> tuple[Finding, ...]:
    """All findings on rows in the legs of bars, part by part."""
    heads = _heads(job, body, stacks, tables)
    found: list[Finding] = []
    for number, part in enumerate(body.parts):
        for row in _rows(part):
            found += _off_leg(row)
            found += _off_end(row)
            found += _on_gauge(row, tables)
            found += _on_root(row, heads.get((number, row.spec.row, row.leg.name)), tables)
    return tuple(found)


def _rows(part: Part) -> Iterator[_Row]:
    if part.section is None:
        return
    legs = {leg.name: leg for leg in legs_of(part.section)}
    for spec in part.spec.rows:
        others = (other for other in part.spec.rows if other.leg == spec.leg)
        single = all(abs(_off_axis(part.section, other) - _off_axis(part.section, spec)) <= FIGURE for other in others)
        yield _Row(part, spec, legs[spec.leg], single)


def _off_axis(section: Section, row: RowSpec) -> float:
    """Back mark as the gauges count it: of a tee's flange the distance between two rows alike about its middle."""
    if section.kind == "tee" and row.leg == "a":
        return abs(2.0 * row.back_mark - section.a)
    return row.back_mark


def _finding(check: str, row: _Row, what: str, figures: tuple[float, float], ends: tuple[str, str]) -> Finding:
    """A finding on a row; `figures` found and required, `ends` source and remedy."""
    source, mend = ends
    places = range(1, len(row.spec.at) + 1)
    where = Where(part=row.part.mark, holes=tuple(f"{row.spec.row} {place}" for place in places))
    return Finding(check, CHECKS[check].level, f"{row.words}: {what}", where, *figures, "mm", source, mend)


def _off_leg(row: _Row) -> Iterator[Finding]:
    """Holes that are not wholly in the metal of their leg."""
    mark, half, leg = row.spec.back_mark, row.spec.diameter / 2.0, row.leg
    if mark - half >= leg.low - FIGURE and mark + half <= leg.high + FIGURE:
        return
    what = f"a hole of {row.spec.diameter:g} mm at back mark {mark:g} runs off the leg, {leg.low:g} to {leg.high:g} mm"
    low = leg.low + half
    high = leg.high - half
    mend = f"Keep the row between {low:g} and {high:g} mm."
    yield _finding("hole-outside", row, what, (mark, low if mark < low else high), ("geometry", mend))


def _off_end(row: _Row) -> Iterator[Finding]:
    """Holes that the cut of an end reaches."""
    part = row.part
    if not part.spec.ends:
        return
    number = next((k for k, panel in enumerate(part.panels) if panel.name == row.leg.name), None)
    own = [k for k, name in enumerate(part.holes.holes.row) if name == row.spec.row and part.holes.panel[k] == number]
    if number is None or not own:
        return
    xy, outline = part.holes.holes.xy[own], part.panels[number].outline
    clear = np.where(inside(outline, xy), 1.0, -1.0) * edge_distance(outline, xy)[0]
    worst = int(np.argmin(clear))
    if not clear[worst] >= row.spec.diameter / 2.0 - FIGURE:
        what = f"the cut of an end reaches hole {part.holes.holes.number[own[worst]]}"
        mend = "Move the row, or cut the end otherwise."
        yield _finding("hole-outside", row, what, (float(clear[worst]), row.spec.diameter / 2.0), ("geometry", mend))


def _gauge(row: _Row, tables: Tables) -> Gauge | None:
    """The usual gauge of a leg; None where no table has one, as for webs, flats and legs of other widths."""
    section = row.part.section
    assert section is not None
    of = {"angle": "leg", "channel": "leg", "tee": "flange" if row.leg.name == "a" else "stem"}.get(section.kind, "")
    if row.leg.name == "w":
        return None
    wide = row.leg.high
    return next((one for one in tables.gauges if one.of == of and abs(one.width - wide) <= FIGURE), None)


def without_gauge(part: Part, tables: Tables) -> list[str]:
    """The rows of a bar on legs for which no table has a gauge, in words; flats and half-rounds have none by nature."""
    if part.section is None or part.section.kind in ("flat", "half-round"):
        return []
    rows = [row for row in _rows(part) if row.spec.purpose != "open" and _gauge(row, tables) is None]
    return [f"{part.mark}, {row.words}" for row in rows]


def _on_gauge(row: _Row, tables: Tables) -> Iterator[Finding]:
    """A row by itself far off the usual gauge of its leg, and holes larger than the leg takes; round openings aside."""
    gauge = _gauge(row, tables)
    if gauge is None or row.part.section is None or row.spec.purpose == "open":
        return
    mark, limits = _off_axis(row.part.section, row.spec), tables.leg_limits
    if row.single and not abs(mark - gauge.back_mark) <= limits.off_gauge + FIGURE:
        across = "two rows apart" if gauge.of == "flange" else "back mark"
        what = f"{across} {mark:g} mm, usual gauge {gauge.back_mark:g} mm, told from {limits.off_gauge:g} mm off"
        mend = "Nothing to mend where edge, head and dolly have their room; else take the usual gauge."
        source = f"{gauge.source}; {limits.off_gauge_source}"
        yield _finding("back-mark", row, what, (mark, gauge.back_mark), (source, mend))
    if not row.spec.diameter <= gauge.largest_hole + FIGURE:
        what = f"holes of {row.spec.diameter:g} mm, the leg takes {gauge.largest_hole:g} mm at most"
        mend = f"Take a rivet for holes of {gauge.largest_hole:g} mm or less, or a wider leg."
        figures = row.spec.diameter, gauge.largest_hole
        yield _finding("hole-for-leg", row, what, figures, (gauge.source, mend))


def _on_root(row: _Row, head: tuple[float, str] | None, tables: Tables) -> Iterator[Finding]:
    """Holes or heads of which a part lies where the other leg and its root fillet are; the wider one is told."""
    discs = [(row.spec.diameter, "the hole")] + ([head] if head is not None else [])
    clear = _clear(row.leg.roots, row.spec.back_mark)
    room = tables.leg_limits.root_clearance
    across, what = max(disc for disc in discs)
    if clear - across / 2.0 >= room - FIGURE:
        return
    short = across / 2.0 + room - clear
    told = (
        f"{what}, {across:g} mm across, runs {short:.1f} mm into the root, which begins {clear:.1f} mm from its middle"
    )
    mend = f"Move the row {short:.1f} mm away from the root, or take a smaller rivet."
    ends = (tables.leg_limits.root_source, mend)
    yield _finding("head-on-root", row, told, (clear, across / 2.0 + room), ends)


def _clear(roots: tuple[Band, ...], mark: float) -> float:
    """How far a place across a leg lies from the nearest root, mm; less than 0 in one."""
    return min((max(low - mark, mark - high) for low, high in roots), default=float("inf"))


def _heads(job: Job, body: Body, stacks: Stacks, tables: Tables) -> dict[tuple[int, str, str], tuple[float, str]]:
    """The widest head that stands on the inner face of a leg, and which it is, by part, row and leg."""
    widest: dict[tuple[int, str, str], tuple[float, str]] = {}
    for end, name in enumerate(ENDS):
        plies = stacks.first[:-1] if end == 0 else stacks.first[1:] - 1
        diameter = _diameters(job, stacks, tables, end)
        outward = stacks.axis if end else -stacks.axis
        for instance in np.unique(stacks.ply_instance[plies]).tolist():
            part, pose = body.part_of(instance), body.poses[instance]
            if part.section is None or pose is None:
                continue
            own = np.nonzero((stacks.ply_instance[plies] == instance) & ~np.isnan(diameter))[0]
            panel = stacks.ply_panel[plies[own]]
            for i in own[_inside(part, pose, panel, outward[own])].tolist():
                row = part.holes.holes.row[int(stacks.ply_hole[plies[i]])]
                key = body.instances[instance].part, row, part.panels[int(stacks.ply_panel[plies[i]])].name
                if diameter[i] > widest.get(key, (0.0, ""))[0]:
                    widest[key] = float(diameter[i]), f"the {name} of {stacks.number[i]}"
    return widest


def _diameters(job: Job, stacks: Stacks, tables: Tables, end: int) -> FloatArray:
    """(n,) diameter of the head at one end of each rivet, mm; NaN where no table or no seam tells."""
    sizes = np.full(len(job.rivets) + 1, np.nan)
    for number, rivet in enumerate(job.rivets):
        row = find_head(tables, rivet, rivet.point if end else rivet.head)
        sizes[number] = row.head_diameter if row is not None else np.nan
    diameters: FloatArray = sizes[stacks.rivet]
    return diameters


def _inside(part: Part, pose: Pose, panel: IntArray, outward: FloatArray) -> BoolArray:
    """(n,) True where a head that looks `outward` (n, 3) stands on the inner face of its panel (n,)."""
    assert part.section is not None
    inner = np.array([pose.rotation @ -one.frame.rotation[:, 2] for one in part.panels])
    double = {leg.name for leg in legs_of(part.section) if leg.both}
    both = np.array([one.name in double for one in part.panels])
    inside: BoolArray = (np.einsum("nx,nx->n", outward, inner[panel]) > 0.0) | both[panel]
    return inside
