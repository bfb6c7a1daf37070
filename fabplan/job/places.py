"""Rows of holes in bars: their places along the bar worked out, and held against the bar's size. Lengths mm."""

from collections.abc import Sequence

import numpy as np

from fabplan.errors import Fault
from fabplan.geom.tolerance import FIGURE
from fabplan.job import part_form
from fabplan.model.job import RowSpec
from fabplan.model.legs import LEGS
from fabplan.model.lookup import impossible_section, section_kind, section_sizes


def rows_of(part: part_form.PartForm, place: str, faults: list[Fault]) -> tuple[RowSpec, ...]:
    """The rows of a bar; faults are noted with their places.

    Args:
        part: the bar as written.
        place: where it stands in the file.
        faults: faults found so far.
    """
    rows = []
    for number, row in enumerate(part.rows):
        where = f"{place}: rows[{number}]"
        at = _along(row, where, faults)
        faults += _off_the_bar(row, at, part, where) + _off_the_leg(row, part, where)
        rows.append(RowSpec(row.row, row.leg, row.back_mark, at, row.diameter, row.purpose, row.by))
    return tuple(rows)


def _along(row: part_form.RowForm, place: str, faults: list[Fault]) -> tuple[float, ...]:
    """Places along the bar from `at`, or from `first` and `count` with `last` or `pitch`; () where not settled."""
    run = {key: getattr(row, key) for key in ("first", "last", "pitch", "count") if getattr(row, key) is not None}
    if row.at is not None:
        if run:
            faults.append(Fault(place, f"`at` and {_keys(run)} stand together", "State one of the two."))
        elif not row.at or not np.all(np.diff(row.at) > FIGURE):
            faults.append(Fault(f"{place}: at", "the places do not rise from hole to hole", "List each place once."))
        return row.at
    settled = {"first", "count"} <= run.keys() and (row.count == 1 or len(run) == 3)
    if not settled or row.first is None or row.count is None:
        mend = "State `first`, `count` and one of `last` (better) and `pitch`, or `at = [...]`."
        faults.append(Fault(place, f"the places of the holes are not settled by {_keys(run) or 'anything'}", mend))
        return ()
    last = row.last if row.last is not None else row.first + (row.pitch or 0.0) * (row.count - 1)
    if row.count > 1 and not last > row.first + FIGURE:
        faults.append(
            Fault(f"{place}: last", f"{last:g} is not beyond `first`, {row.first:g}", "Measure from one end.")
        )
        return ()
    return tuple(np.linspace(row.first, last, row.count).tolist())


def _keys(run: dict[str, float]) -> str:
    return ", ".join(f"`{key}`" for key in run)


def _off_the_bar(row: part_form.RowForm, at: Sequence[float], part: part_form.PartForm, place: str) -> list[Fault]:
    """A row of which a hole is not wholly within the length of the bar, or whose angle is beyond its arc."""
    if row.by == "angle":
        return _off_the_arc(at, part, place)
    half = row.diameter / 2.0
    if part.length is None or not at or (min(at) - half >= -FIGURE and max(at) + half <= part.length + FIGURE):
        return []
    what = f"holes of {row.diameter:g} mm from {min(at):g} to {max(at):g} mm run off a bar of {part.length:g} mm"
    return [Fault(place, what, "Keep every hole within the bar.")]


def _off_the_arc(at: Sequence[float], part: part_form.PartForm, place: str) -> list[Fault]:
    arc = part.ring.angle if part.ring else None
    if part.ring is None:
        return [Fault(f"{place}: by", "places by angle on a straight bar", "State its `ring`, or places by length.")]
    if arc is None or not at or max(at) <= arc + FIGURE:
        return []
    return [Fault(place, f"a hole at {max(at):g} degrees on an arc of {arc:g}", "Keep every hole within the arc.")]


def _off_the_leg(row: part_form.RowForm, part: part_form.PartForm, place: str) -> list[Fault]:
    """A leg that the section has not, or a row off its leg, where the section's name tells its size.

    Rows of channels and tees, whose sizes stand in the tables, are held against their legs with the rules.
    """
    kind = section_kind(part.section)
    if not kind:
        return []
    legs = LEGS[kind]
    if row.leg not in legs:
        expected = " or ".join(f'"{leg}"' for leg in legs)
        article = "an" if kind == "angle" else "a"
        bar = f"{article} {kind}" + (" bar" if legs == ("a",) else "")
        return [Fault(f"{place}: leg", f"{bar} has no leg {row.leg}", f"Expected {expected}.")]
    sizes = section_sizes(part.section)
    if sizes is None or impossible_section(part.section):
        return []
    wide = sizes[1] if len(sizes) == 3 and row.leg == "b" else sizes[0]
    inner = sizes[2] if len(sizes) == 3 else 0.0
    half = row.diameter / 2.0
    if row.back_mark - half >= inner - FIGURE and row.back_mark + half <= wide + FIGURE:
        return []
    what = f"a hole of {row.diameter:g} mm at back mark {row.back_mark:g} runs off the leg of {part.section}"
    return [Fault(f"{place}: back_mark", what, f"Keep it between {inner + half:g} and {wide - half:g} mm.")]
