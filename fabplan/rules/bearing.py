"""Whether heads and nuts bear on the metal under them: on the round of a half-round, on the slope of a flange."""

from collections.abc import Iterator

import numpy as np

from fabplan.geom.tolerance import FIGURE
from fabplan.model.body import Body, Stacks
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job
from fabplan.model.joints import RivetSpec
from fabplan.model.lookup import find_head
from fabplan.model.part import Part
from fabplan.model.tables import Section, Tables

HEXAGON = 1.5  # diameters across a bolt's head or nut (ISO 4014: 16 to 18 mm for M10 and M12, from memory)
FLAT = ("round", "hexagon", "nut")
"""Heads that want a flat under them; a countersunk one is cut to its place."""

Key = tuple[str, int, str]
"""Mark of the bar, index of the seam, and which end of the fastener."""


def check_bearing(job: Job, body: Body, stacks: Stacks, tables: Tables) -> tuple[Finding, ...]:
    """Made heads on a round back, and heads, points and nuts on a sloping flange, by bar and seam.

    A point that is driven on a round back takes its form there.
    """
    round_ones: dict[Key, list[int]] = {}
    sloping: dict[Key, list[int]] = {}
    for i in np.nonzero(stacks.rivet >= 0)[0].tolist():
        spec = job.rivets[int(stacks.rivet[i])]
        for end, form in enumerate((spec.head, spec.point)):
            part, panel, inner = _under(body, stacks, i, end)
            if part.section is None or not inner or form not in FLAT:
                continue
            key = part.mark, int(stacks.seam[i]), "nut" if form == "nut" else ("made head", "point")[end]
            if part.section.kind == "half-round" and (end == 0 or form == "nut"):
                round_ones.setdefault(key, []).append(i)
            if panel in ("a", "b") and not part.section.taper <= tables.leg_limits.slope + FIGURE:
                sloping.setdefault(key, []).append(i)
    parts = {part.mark: part for part in body.parts}
    return (
        *(
            found
            for key, own in round_ones.items()
            for found in _on_round(job, parts[key[0]], stacks, (key, own), tables)
        ),
        *(_on_slope(job, parts[key[0]], stacks, (key, own), tables) for key, own in sloping.items()),
    )


def _under(body: Body, stacks: Stacks, i: int, end: int) -> tuple[Part, str, bool]:
    """The ply at one end of a stack, the leg of it, and True where the end stands on the leg's inner face or back."""
    ply = int(stacks.first[i]) if end == 0 else int(stacks.first[i + 1]) - 1
    instance = int(stacks.ply_instance[ply])
    part, pose = body.part_of(instance), body.poses[instance]
    assert pose is not None, "only placed pieces have stacks"
    panel = part.panels[int(stacks.ply_panel[ply])]
    outward = stacks.axis[i] if end else -stacks.axis[i]
    marked = pose.rotation @ panel.frame.rotation[:, 2]
    return part, panel.name, bool(outward @ marked < 0.0)


def _across(spec: RivetSpec, tables: Tables, end: int) -> float:
    """Diameter of one end of a fastener, mm."""
    row = find_head(tables, spec, spec.point if end else spec.head)
    return row.head_diameter if row is not None else HEXAGON * spec.diameter


def stands_off(section: Section, across: float) -> float:
    """How far the rim of a flat head stands off the round of a half-round on whose middle it sits, mm.

    A segment of a circle of radius (w2 / 4 + h2) / 2 h; no further than the bar is high.
    """
    radius = (section.a**2 / 4.0 + section.t**2) / (2.0 * section.t)
    half = across / 2.0
    return min(section.t, radius - float(np.sqrt(max(radius**2 - half**2, 0.0))))


def _on_round(job: Job, part: Part, stacks: Stacks, group: tuple[Key, list[int]], tables: Tables) -> Iterator[Finding]:
    (mark, _, end), own = group
    assert part.section is not None
    spec, limits = job.rivets[int(stacks.rivet[own[0]])], tables.leg_limits
    across = _across(spec, tables, end != "made head")
    off = stands_off(part.section, across)
    if not off <= limits.head_gap + FIGURE:
        what = (
            f"{mark}: {len(own)} of {spec.mark} have their {end} on the round back of {part.section.name}; its rim, "
            f"{across:g} mm across, stands {off:.1f} mm off"
        )
        mend = "Put the made heads on the flat side, or spot-face the round or countersink it."
        yield _finding(
            "head-on-round", what, _where(job, stacks, group), (off, limits.head_gap), (limits.head_gap_source, mend)
        )


def _on_slope(job: Job, part: Part, stacks: Stacks, group: tuple[Key, list[int]], tables: Tables) -> Finding:
    (mark, _, end), own = group
    assert part.section is not None
    spec, limits = job.rivets[int(stacks.rivet[own[0]])], tables.leg_limits
    what = f"{mark}: {len(own)} of {spec.mark} have their {end} on the inner face of a flange of {part.section.name}, "
    what += f"which slopes by {100.0 * part.section.taper:g} %"
    taper = f"Taper washers of {100.0 * part.section.taper:g} % under them"
    mend = f"{taper}, or snap and dolly formed to the slope." if spec.kind == "rivet" else f"{taper}."
    return _finding(
        "sloping-flange",
        what,
        _where(job, stacks, group),
        (part.section.taper, limits.slope),
        (limits.slope_source, mend),
    )


def _where(job: Job, stacks: Stacks, group: tuple[Key, list[int]]) -> Where:
    (mark, seam, _), own = group
    return Where(part=mark, seam=job.seams[seam].mark if seam >= 0 else "", holes=tuple(stacks.number[i] for i in own))


def _finding(check: str, what: str, where: Where, figures: tuple[float, float], ends: tuple[str, str]) -> Finding:
    """A finding; `figures` found and required, `ends` source and remedy."""
    unit = "mm" if check == "head-on-round" else ""
    return Finding(check, CHECKS[check].level, what, where, *figures, unit, *ends)
