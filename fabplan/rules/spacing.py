"""Judging a layout of holes by rule sets: every rule against every value, whole arrays at a time."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.finding import Finding, Level, Where
from fabplan.model.layout import HoleLayout, SpacingFigure
from fabplan.model.rules import Rule, RuleSet
from fabplan.rules.measure import (
    Lines,
    Measure,
    between_rows,
    by_itself,
    crowded,
    lines_of,
    pitches,
    to_edges,
)

FIELD_ROW = 2.0
"""A row further from the edge than this many times the greatest edge distance is a field row, not held to it."""

_WORDS = {
    "pitch": "pitch",
    "row distance": "distance of rows",
    "diagonal": "slant distance of staggered rivets",
    "end distance": "end distance",
    "edge distance": "edge distance",
    "diameter": "rivet diameter",
    "grip": "grip",
    "hole": "hole diameter",
    "sink": "depth of the countersink",
}
_MENDS = {
    "least-pitch": "Space the rivets at {limit:.1f} mm or more.",
    "greatest-pitch": "Space the rivets at {limit:.1f} mm or less.",
    "tight-pitch": "Space the rivets at {limit:.1f} mm or less, or prove the seam by test.",
    "drivable-pitch": "A snap wants {limit:.1f} mm; ask the gang.",
    "least-row-distance": "Set the rows {limit:.1f} mm apart or more.",
    "greatest-row-distance": "Set the rows {limit:.1f} mm apart or less.",
    "stagger-diagonal": "Open the pitch or the rows until the slant is {limit:.1f} mm.",
    "least-end-distance": "Move the hole in, or leave {limit:.1f} mm of plate past it.",
    "greatest-end-distance": "Bring the last hole within {limit:.1f} mm of the end.",
    "least-edge-distance": "Move the row in, or leave {limit:.1f} mm of plate beside it.",
    "greatest-edge-distance": "Bring the row within {limit:.1f} mm of the edge.",
    "diameter-for-thickness": "Take a rivet of {limit:.0f} mm or more, or say why not.",
    "grip": "Take a thicker rivet or fewer plies.",
    "hole-for-rivet": "Draw the hole to suit: limit {limit:.1f} mm.",
    "countersink-depth": "Take a flatter head or a thicker plate.",
}


@dataclass(frozen=True, slots=True, eq=False)
class _Measures:
    """All values of one layout, by the name of what is measured."""

    lines: Lines
    by_name: dict[str, tuple[Measure, ...]]


def check_layout(layout: HoleLayout, sets: Sequence[RuleSet]) -> tuple[Finding, ...]:
    """Findings of all rules of all sets about one plate, one for each rule and row of holes.

    A value exactly at its limit passes; one that is no number fails. Sets of another material are refused, once each.
    """
    refused = [_refused(layout, one) for one in sets if one.material != layout.material and one.purpose == "structure"]
    fitting = [one for one in sets if one.material == layout.material or one.purpose != "structure"]
    measured = _measures(layout)
    found = [
        finding
        for one in fitting
        for rule in one.rules
        for measure in _values(measured, rule, layout)
        for finding in _judged(layout, rule, measure)
    ]
    return tuple(refused) + tuple(_gravest(found))


def _refused(layout: HoleLayout, one: RuleSet) -> Finding:
    what = f"the rule set {one.name} is for {one.material}, this piece is {layout.material}: not applied"
    return Finding(
        "rules-refused",
        Level.STOP,
        what,
        Where(drawing=layout.drawing, part=layout.part),
        source=one.title,
        mend="Name a rule set for this material in [job] rules.",
    )


def _measures(layout: HoleLayout) -> _Measures:
    lines = lines_of(layout)
    rows, slants = between_rows(layout, lines)
    ends, edges = to_edges(layout, lines)
    reach = 3.0 * float(np.nanmax(np.append(layout.holes.diameter, 0.0)))
    sink = np.where(layout.countersunk, layout.sink_depth, np.nan)
    return _Measures(
        lines,
        {
            "pitch": (pitches(layout, lines), crowded(layout, lines, reach)),
            "row distance": (rows,),
            "diagonal": (slants,),
            "end distance": (ends,),
            "edge distance": (edges,),
            "diameter": (by_itself(layout, layout.rivet_diameter, lines),),
            "grip": (by_itself(layout, layout.grip, lines),),
            "hole": (
                by_itself(layout, np.where(np.isnan(layout.rivet_diameter), np.nan, layout.holes.diameter), lines),
            ),
            "sink": (by_itself(layout, sink, lines),),
        },
    )


def _values(measured: _Measures, rule: Rule, layout: HoleLayout) -> tuple[Measure, ...]:
    """The values that a rule looks at: greatest pitches only along lines, greatest ends only at ends of lines."""
    values = measured.by_name[rule.measure]
    if rule.measure == "pitch" and (rule.sense == "greatest" or rule.check == "drivable-pitch"):
        return values[:1]
    if rule.measure == "end distance" and rule.sense == "greatest":
        last = measured.lines.end[values[0].holes[:, 0]]
        return (_taken(values[0], last),)
    return values


def _taken(measure: Measure, keep: BoolArray | IntArray) -> Measure:
    return Measure(measure.holes[keep], measure.value[keep], measure.staggered[keep], measure.lines[keep])


def limits(rule: Rule, layout: HoleLayout, holes: IntArray) -> FloatArray:
    """The limit (k,) of a rule at pairs of holes (k, 2), mm: of the two holes the stricter."""
    sizes = {
        "d": layout.rivet_diameter,
        "d0": layout.holes.diameter,
        "t": layout.thinner_outer,
        "t_max": layout.thickest,
        "t_own": np.full(len(layout.holes), layout.thickness),
        "mm": np.zeros(len(layout.holes)),
    }
    terms = np.array([term.factor * sizes[term.of][holes] + term.plus for term in rule.terms])
    limit = terms.min(axis=0) if rule.take == "smaller" else terms.max(axis=0)
    strict: FloatArray = limit.max(axis=1) if rule.sense == "least" else limit.min(axis=1)
    return strict


def _applies(rule: Rule, layout: HoleLayout, measure: Measure) -> BoolArray:
    """(k,) True where all conditions of a rule hold. What is not stated is taken as the stricter case."""
    first = measure.holes[:, 0]
    known: BoolArray = np.asarray(_known(rule, layout)[measure.holes].all(axis=1), dtype=np.bool_)
    for condition, value in rule.when:
        if condition == "load":
            known &= (layout.tension if value == "tension" else layout.compression)[first]
        elif condition == "exposure":
            known &= (layout.exposed is not False) == (value == "exposed")
        elif condition == "edge":
            known &= (layout.edge == "sheared") == (value == "sheared")
        elif condition == "staggered":
            known &= measure.staggered == (value == "yes")
        elif condition == "lines":
            known &= measure.lines == int(value)
        else:
            known &= layout.countersunk[first]
    if rule.check == "tight-pitch":
        known &= layout.tight[measure.holes].all(axis=1)
    return known


def _known(rule: Rule, layout: HoleLayout) -> BoolArray:
    """(n,) True for holes whose sizes the rule needs are known; unknown ones are told as not checked elsewhere."""
    known = np.ones(len(layout.holes), dtype=np.bool_)
    for term in rule.terms:
        if term.of == "d":
            known &= ~np.isnan(layout.rivet_diameter)
        elif term.of in ("t", "t_max"):
            known &= ~np.isnan(layout.thinner_outer if term.of == "t" else layout.thickest)
        elif term.of == "t_own":
            known &= not np.isnan(layout.thickness)
    return known


def _judged(layout: HoleLayout, rule: Rule, measure: Measure) -> Iterator[Finding]:
    applies = _applies(rule, layout, measure)
    limit = limits(rule, layout, measure.holes)
    if rule.sense == "least":
        passes = measure.value >= limit - FIGURE
    else:
        passes = measure.value <= limit + FIGURE
        if rule.measure in ("edge distance", "end distance"):
            passes |= measure.value > FIELD_ROW * limit
    wrong = np.nonzero(applies & ~passes)[0]
    rows = [layout.holes.row[i] for i in measure.holes[wrong, 0]]
    for row in dict.fromkeys(rows):
        own = wrong[[name == row for name in rows]]
        yield _finding(layout, rule, _taken(measure, own), limit[own])


def _finding(layout: HoleLayout, rule: Rule, measure: Measure, limit: FloatArray) -> Finding:
    """One finding for the holes of one row that break one rule, told at the worst of them."""
    excess = (limit - measure.value) * (1.0 if rule.sense == "least" else -1.0)
    worst = int(np.argmax(np.where(np.isnan(excess), np.inf, excess)))
    pair = measure.holes[worst]
    names = layout.holes.number
    between = names[pair[0]] if pair[0] == pair[1] else f"{names[pair[0]]} and {names[pair[1]]}"
    more = f", and {len(measure.value) - 1} more" if len(measure.value) > 1 else ""
    bound = "least" if rule.sense == "least" else "greatest"
    what = (
        f"{_WORDS[rule.measure]} {measure.value[worst]:.2f} mm at hole {between}{more}: {bound} {limit[worst]:.2f} mm"
        f"{_assumed(rule, layout, int(pair[0]))}"
    )
    ordered = [int(i) for i in dict.fromkeys(np.concatenate([pair, measure.holes.ravel()]).tolist())]
    x, y = layout.holes.xy[pair].mean(axis=0).tolist()
    where = Where(
        drawing=layout.drawing,
        part=layout.part,
        handles=tuple(layout.holes.handle[i] for i in ordered if layout.holes.handle[i]),
        holes=tuple(names[i] for i in ordered),
        xy=(x, y),
    )
    return Finding(
        rule.check,
        Level[rule.level.upper()],
        what,
        where,
        float(measure.value[worst]),
        float(limit[worst]),
        "mm",
        rule.source,
        _MENDS[rule.check].format(limit=float(limit[worst])),
    )


def _assumed(rule: Rule, layout: HoleLayout, hole: int) -> str:
    """What was taken because nobody stated it."""
    words = []
    conditions = dict(rule.when)
    if "exposure" in conditions and layout.exposed is None:
        words.append("exposed assumed")
    if "load" in conditions and layout.tension[hole] and layout.compression[hole]:
        words.append("load not stated, the stricter taken")
    if "edge" in conditions and not layout.edge:
        words.append("machine-cut edge assumed")
    return f" ({'; '.join(words)})" if words else ""


def _gravest(found: Sequence[Finding]) -> Iterator[Finding]:
    """Of findings of one check at one place only the gravest: a stop needs no query about the same holes."""
    best: dict[tuple[str, tuple[str, ...]], Finding] = {}
    for finding in found:
        key = (finding.check, tuple(sorted(finding.where.holes)))
        if key not in best or finding.level < best[key].level:
            best[key] = finding
    yield from best.values()


def spacing_figures(layout: HoleLayout, sets: Sequence[RuleSet]) -> tuple[SpacingFigure, ...]:
    """The table of spacings for the check sheet: found, code limits where they bind, practice beside them."""
    measured = _measures(layout)
    rules = [rule for one in sets if one.material == layout.material for rule in one.rules]
    figures = []
    for name in ("pitch", "row distance", "end distance", "edge distance"):
        measure = measured.by_name[name][0]
        if name == "end distance":
            measure = _taken(measure, measured.lines.end[measure.holes[:, 0]])
        if len(measure.value):
            figures.append(_figure(layout, rules, name, measure))
    return tuple(figures)


def _figure(layout: HoleLayout, rules: Sequence[Rule], name: str, measure: Measure) -> SpacingFigure:
    binding: dict[str, float] = {"least": np.nan, "greatest": np.nan, "practice": np.nan}
    sources = []
    for rule in rules:
        applies = _applies(rule, layout, measure)
        if rule.measure != name or not applies.any():
            continue
        limit = limits(rule, layout, measure.holes)[applies]
        if rule.check == "drivable-pitch":
            binding["practice"] = float(limit.max())
            continue
        value = float(limit.max()) if rule.sense == "least" else float(limit.min())
        tighter = np.fmax if rule.sense == "least" else np.fmin
        binding[rule.sense] = float(tighter(binding[rule.sense], value))
        sources.append(rule.source)
    return SpacingFigure(
        name,
        float(measure.value.min()),
        float(measure.value.max()),
        binding["least"],
        binding["greatest"],
        binding["practice"],
        "; ".join(dict.fromkeys(source.split(":")[0] for source in sources)),
    )
