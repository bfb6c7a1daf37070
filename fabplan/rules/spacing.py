"""Judging a layout of holes by rule sets: every rule against every value, whole arrays at a time."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.figures import at_least, at_most, unlike
from fabplan.model.finding import Finding, Level, Where
from fabplan.model.layout import HoleLayout, SpacingFigure
from fabplan.model.rules import CONDITIONS, MEASURES, MOST_LINES, Rule, RuleSet
from fabplan.rules.drawn import finished, holes_as_stated, unlike_stated
from fabplan.rules.measure import (
    Lines,
    Margins,
    Measure,
    between_rows,
    by_itself,
    crowded,
    lines_of,
    margins,
    nearer_rivet,
    pitches,
)

FIELD_ROW = 2.0
"""A row further from the edge than this many times the greatest edge distance is a field row, not held to it."""

LIGHT = 5.0
"""From here on steel is plate, not sheet, mm (common practice): rules of light sheet say nothing of it."""

UNBOUND = "larger ones: another rivet is nearer to that edge"
"""Why a figure over the greatest brings no finding."""

_WORDS = {
    "pitch": "pitch",
    "row distance": "distance between rows",
    "diagonal": "slant distance",
    "end distance": "end distance",
    "edge distance": "edge distance",
    "diameter": "rivet diameter",
    "grip": "grip",
    "hole": "hole diameter",
    "sink": "depth of the countersink",
}
_MENDS = {
    "least-pitch": "Space the rivets at {limit} mm or more.",
    "greatest-pitch": "Space the rivets at {limit} mm or less.",
    "tight-pitch": "Space the rivets at {limit} mm or less, or prove the seam by test.",
    "drivable-pitch": "A snap wants {limit} mm; ask the gang.",
    "least-row-distance": "Set the rows {limit} mm apart or more.",
    "greatest-row-distance": "Set the rows {limit} mm apart or less.",
    "stagger-diagonal": "Open the pitch or the rows until the slant is {limit} mm.",
    "least-end-distance": "Move the hole in, or leave {limit} mm of plate past it.",
    "greatest-end-distance": "Bring the last hole within {limit} mm of the end.",
    "least-edge-distance": "Move the row in, or leave {limit} mm of plate beside it.",
    "greatest-edge-distance": "Bring the row within {limit} mm of the edge.",
    "diameter-for-thickness": "Take a rivet of {limit} mm or {more}, or say why not.",
    "grip": "Take a thicker rivet or fewer plies.",
    "hole-for-rivet": "Draw the hole at {limit} mm or {more}.",
    "countersink-depth": "Take a flatter head or a thicker plate.",
}


@dataclass(frozen=True, slots=True, eq=False)
class Measures:
    """All values of one layout, by the name of what is measured."""

    lines: Lines
    edges: Margins
    by_name: dict[str, tuple[Measure, ...]]


def judged(layout: HoleLayout, sets: Sequence[RuleSet]) -> tuple[tuple[Finding, ...], tuple[SpacingFigure, ...]]:
    """The findings (see `check_layout`) and the table of spacings of one plate, measured once."""
    measured = measures(layout, _rules(layout, sets))
    return _findings(layout, sets, measured), _figures(layout, sets, measured)


def _rules(layout: HoleLayout, sets: Sequence[RuleSet]) -> list[Rule]:
    return [rule for one in sets if _fits(one, layout) for rule in one.rules]


def check_layout(layout: HoleLayout, sets: Sequence[RuleSet]) -> tuple[Finding, ...]:
    """Findings of all rules of all sets about one plate, one for each rule and row of holes.

    A value exactly at its limit passes; one that is no number fails. Where several rules bound the same value the
    gravest that it breaks is told, of equals the strictest; the remedy satisfies all of them. Sets of another material
    are refused, once each.
    """
    return _findings(layout, sets, measures(layout, _rules(layout, sets)))


def _findings(layout: HoleLayout, sets: Sequence[RuleSet], measured: Measures) -> tuple[Finding, ...]:
    refused = [_refused(layout, one) for one in sets if not _fits(one, layout)]
    rules = _rules(layout, sets)
    found: list[Finding] = []
    for name, sense in product(MEASURES, ("least", "greatest")):
        bound = [rule for rule in rules if (rule.measure, rule.sense) == (name, sense)]
        for number, measure in enumerate(measured.by_name[name]):
            read = [rule for rule in bound if number == 0 or _reads_all(rule)]
            if read and len(measure.value):
                found += told(layout, measured, measure, read)
    found += holes_as_stated(layout)
    return tuple(refused) + tuple(sorted(found, key=lambda finding: finding.level))


def _fits(one: RuleSet, layout: HoleLayout) -> bool:
    return one.material == layout.material or one.purpose != "structure"


def _reads_all(rule: Rule) -> bool:
    """True for a least value that must hold everywhere, also between two lines that meet, or before an opening."""
    return rule.sense == "least" and rule.level != "note"


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


def measures(layout: HoleLayout, rules: Sequence[Rule]) -> Measures:
    """All that rules measure on a layout; crowded holes as far apart as the rules look."""
    lines = lines_of(layout)
    rows, slants = between_rows(layout, lines)
    edges = margins(layout, lines)
    every = np.arange(len(layout.holes))
    least = [
        limits(rule, layout, np.column_stack([every, every]))
        for rule in rules
        if rule.measure == "pitch" and _reads_all(rule)
    ]
    reach = float(np.nan_to_num(np.concatenate([*least, [0.0]])).max())
    riveted = layout.riveted & ~np.isnan(layout.rivet_diameter)
    by_name = {
        "pitch": (pitches(layout, lines), crowded(layout, lines, reach)),
        "row distance": (rows,),
        "diagonal": (slants,),
        "end distance": (edges.past, edges.along),
        "edge distance": (edges.beside,),
        "diameter": (by_itself(layout, layout.rivet_diameter, riveted),),
        "grip": (by_itself(layout, layout.grip, layout.riveted & ~np.isnan(layout.grip)),),
        # a hole unlike the stated one has its finding, and the stated size as its remedy
        "hole": (by_itself(layout, finished(layout), riveted & ~unlike_stated(layout)),),
        "sink": (by_itself(layout, layout.sink_depth, layout.countersunk),),
    }
    return Measures(lines, edges, by_name)


def _taken(measure: Measure, keep: BoolArray | IntArray) -> Measure:
    return Measure(measure.holes[keep], measure.value[keep], measure.staggered[keep])


def limits(rule: Rule, layout: HoleLayout, holes: IntArray) -> FloatArray:
    """The limit (k,) of a rule at pairs of holes (k, 2), mm: of the two holes the stricter."""
    sizes = {
        "d": layout.rivet_diameter,
        "d0": finished(layout),
        "t": layout.thinner_outer,
        "t_max": layout.thickest,
        "t_own": np.full(len(layout.holes), layout.thickness),
        "mm": np.zeros(len(layout.holes)),
    }
    terms = np.array([term.factor * sizes[term.of][holes] + term.plus for term in rule.terms])
    limit = terms.min(axis=0) if rule.take == "smaller" else terms.max(axis=0)
    strict: FloatArray = limit.max(axis=1) if rule.sense == "least" else limit.min(axis=1)
    return strict


def conditions(layout: HoleLayout, lines: Lines, measure: Measure) -> dict[tuple[str, str], BoolArray]:
    """For every condition and value of `fabplan.model.rules.CONDITIONS`: (k,) True where it holds.

    What is not stated is taken as exposed, as under both loads, as a machine-cut edge; `_assumed` says so.
    """
    first = measure.holes[:, 0]
    exposed, sheared = layout.exposed is not False, layout.edge == "sheared"
    count = np.minimum(lines.count[first], MOST_LINES)
    holds: dict[tuple[str, str], BoolArray] = {
        ("load", "tension"): layout.tension[first],
        ("load", "compression"): layout.compression[first],
        ("exposure", "exposed"): _all(first, exposed),
        ("exposure", "sheltered"): _all(first, not exposed),
        ("edge", "sheared"): _all(first, sheared),
        ("edge", "machine"): _all(first, not sheared),
        ("staggered", "yes"): measure.staggered,
        ("staggered", "no"): ~measure.staggered,
        ("line", "inner"): lines.inner[first],
        ("line", "outer"): ~lines.inner[first],
        ("head", "countersunk"): layout.countersunk[first],
        ("tight", "yes"): layout.tight[first] & layout.tight[measure.holes[:, 1]],
        ("driven", "hammer"): layout.hand_driven[first],
        ("driven", "press"): ~layout.hand_driven[first],
        ("fastener", "rivet"): layout.riveted[first] & layout.riveted[measure.holes[:, 1]],
        ("sheet", "light"): layout.thickest[first] < LIGHT - FIGURE,
    }
    for value in CONDITIONS["lines"]:
        holds["lines", value] = np.asarray(count == int(value), dtype=np.bool_)
    return holds


def _all(holes: IntArray, holds: bool) -> BoolArray:
    return np.full(len(holes), holds, dtype=np.bool_)


def _applies(rule: Rule, layout: HoleLayout, measure: Measure, holds: dict[tuple[str, str], BoolArray]) -> BoolArray:
    """(k,) True where all conditions of a rule hold and the sizes that it needs are known."""
    masks = [_known(rule, layout)[measure.holes].all(axis=1), *(holds[pair] for pair in rule.when)]
    return np.asarray(np.all(masks, axis=0), dtype=np.bool_)


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


def _passes(rule: Rule, layout: HoleLayout, measured: Measures, held: tuple[Measure, FloatArray]) -> BoolArray:
    """(k,) True where a value keeps its limit (k,); a greatest edge or end distance binds only the rivet nearest it."""
    measure, limit = held
    if rule.sense == "least":
        return np.asarray(measure.value >= limit - FIGURE, dtype=np.bool_)
    passes = np.asarray(measure.value <= limit + FIGURE, dtype=np.bool_)
    if rule.measure in ("edge distance", "end distance"):
        across = rule.measure == "edge distance"
        foot = measured.edges.beside_foot if across else measured.edges.past_foot
        passes |= measure.value > FIELD_ROW * limit
        if across:
            no_row = measured.lines.of[measure.holes[:, 0]] < 0
            passes |= (measured.edges.behind | no_row) & ~np.isnan(measure.value)
        far = ~passes & ~np.isnan(measure.value)
        passes[far] = nearer_rivet(layout, measure.holes[far, 0], foot[far])
    return passes


def told(layout: HoleLayout, measured: Measures, measure: Measure, rules: Sequence[Rule]) -> Iterator[Finding]:
    """Findings of rules that bound the same values from the same side."""
    limit = np.array([limits(rule, layout, measure.holes) for rule in rules])
    holds = conditions(layout, measured.lines, measure)
    wrong = np.array(
        [
            _applies(rule, layout, measure, holds) & ~_passes(rule, layout, measured, (measure, bound))
            for rule, bound in zip(rules, limit, strict=True)
        ]
    )
    sign = 1.0 if rules[0].sense == "least" else -1.0
    strictness = np.where(wrong, np.nan_to_num(sign * limit, nan=np.inf), -np.inf)
    level = np.array([Level[rule.level.upper()] for rule in rules])[:, None]
    gravest = np.where(wrong, level, len(Level)).min(axis=0)
    chosen = np.where(wrong & (level == gravest), strictness, -np.inf).argmax(axis=0)
    for number, rule in enumerate(rules):
        own = np.nonzero(wrong.any(axis=0) & (chosen == number))[0]
        rows = [layout.holes.row[i] for i in measure.holes[own, 0]]
        for row in dict.fromkeys(rows):
            of_row = own[[name == row for name in rows]]
            strictest = sign * strictness[:, of_row].max(axis=0)
            bounds = np.stack([limit[number, of_row], strictest])
            yield _finding(layout, rule, _taken(measure, of_row), bounds)


def _finding(layout: HoleLayout, rule: Rule, measure: Measure, bounds: FloatArray) -> Finding:
    """One finding for the holes of one row that break one rule, told at the worst of them.

    `bounds` (2, k): the rule's own limit, and the strictest of all rules that the value breaks, for the remedy.
    """
    excess = (bounds[0] - measure.value) * (1.0 if rule.sense == "least" else -1.0)
    # rounded, so that of equal faults the first is told whichever way the plate is turned
    worst = int(np.argmax(np.where(np.isnan(excess), np.inf, np.round(excess, 6))))
    pair = measure.holes[worst]
    limit, strictest = bounds[:, worst].tolist()
    value = float(measure.value[worst])
    found, wanted = unlike(value, limit)
    found = "not known" if np.isnan(value) else f"{found} mm"
    what = (
        f"{_WORDS[rule.measure]} {found} {_between(layout, pair)}{_more(len(measure.value))}: "
        f"{rule.sense} {wanted} mm ({rule}{_assumed(rule, layout, int(pair[0]))})"
    )
    ordered = list(dict.fromkeys([*pair.tolist(), *np.unique(measure.holes).tolist()]))
    x, y = layout.holes.xy[pair].mean(axis=0).tolist()
    where = Where(
        drawing=layout.drawing,
        part=layout.part,
        handles=tuple(layout.holes.handle[i] for i in ordered if layout.holes.handle[i]),
        holes=tuple(layout.holes.number[i] for i in ordered),
        xy=(x, y),
    )
    bound, more = (at_least(strictest), "more") if rule.sense == "least" else (at_most(strictest), "less")
    mend = _MENDS[rule.check].format(limit=bound, more=more)
    return Finding(rule.check, Level[rule.level.upper()], what, where, value, limit, "mm", rule.source, mend)


def _between(layout: HoleLayout, pair: IntArray) -> str:
    one, other = (layout.holes.number[i] for i in pair)
    return f"at hole {one}" if pair[0] == pair[1] else f"between holes {one} and {other}"


def _more(count: int) -> str:
    return f" and at {count - 1} more place{'s' if count > 2 else ''}" if count > 1 else ""


def _assumed(rule: Rule, layout: HoleLayout, hole: int) -> str:
    """What was taken because nobody stated it."""
    words = []
    conditions = dict(rule.when)
    if "exposure" in conditions and layout.exposed is None:
        words.append("taken as exposed, not stated")
    if "load" in conditions and layout.tension[hole] and layout.compression[hole]:
        words.append("load not stated, the stricter of tension and compression taken")
    if "edge" in conditions and not layout.edge:
        words.append("taken as a machine-cut edge, not stated")
    return "".join(f"; {word}" for word in words)


def spacing_figures(layout: HoleLayout, sets: Sequence[RuleSet]) -> tuple[SpacingFigure, ...]:
    """The table of spacings for the check sheet: found, code limits where they bind, practice beside them."""
    return _figures(layout, sets, measures(layout, _rules(layout, sets)))


def _figures(layout: HoleLayout, sets: Sequence[RuleSet], measured: Measures) -> tuple[SpacingFigure, ...]:
    rules = [rule for one in sets if one.material == layout.material for rule in one.rules]
    figures = []
    for name in ("pitch", "row distance", "end distance", "edge distance"):
        measure = measured.by_name[name][0]
        if len(measure.value):
            figures.append(_figure(layout, measured, (name, measure), rules))
    return tuple(figures)


def _figure(layout: HoleLayout, measured: Measures, named: tuple[str, Measure], rules: Sequence[Rule]) -> SpacingFigure:
    name, measure = named
    rules = [rule for rule in rules if rule.measure == name]
    binding: dict[str, float] = {"least": np.nan, "greatest": np.nan, "practice": np.nan}
    sources, unbound = [], False
    holds = conditions(layout, measured.lines, measure)
    for rule in rules:
        applies = _applies(rule, layout, measure, holds)
        every = limits(rule, layout, measure.holes)
        limit = every[applies]
        if not len(limit):
            continue
        if rule.sense == "greatest":
            over = applies & (measure.value > every + FIGURE)
            unbound |= bool(np.any(over & _passes(rule, layout, measured, (measure, every))))
        if rule.level == "note":
            binding["practice"] = float(limit.max())
            continue
        tighter = np.fmax if rule.sense == "least" else np.fmin
        binding[rule.sense] = float(tighter(binding[rule.sense], tighter.reduce(limit)))
        sources.append(rule.source)
    return SpacingFigure(
        name,
        float(measure.value.min()),
        float(measure.value.max()),
        binding["least"],
        binding["greatest"],
        binding["practice"],
        "; ".join(dict.fromkeys(source.split(": ")[0] for source in sources)),
        UNBOUND if unbound else "",
    )
