"""Every rule of every set at its limit: just under, at, just over, no number.

The limits are worked out here from the figures of the cited tables, not from the data files: d 20 rivet, d0 22 hole,
t 10 thinner outer ply, 16 thickest ply, 11 own ply.
"""

from dataclasses import replace

import numpy as np
import pytest

from fabplan.geom.profile import rectangle
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Level
from fabplan.model.layout import HoleLayout
from fabplan.model.rules import CONDITIONS, Rule
from fabplan.rules.measure import Measure
from fabplan.rules.sets import SETS, read_rule_set
from fabplan.rules.spacing import check_layout, conditions, measures, told
from tests.rules.plate import grid, only, plate

D, D0, T, T_MAX, T_OWN = 20.0, 22.0, 10.0, 16.0, 11.0
LIGHT = 4.0  # mm: sheet

LIMITS = {
    # EN 1993-1-8:2005 Table 3.3
    "en.pitch.least": 2.2 * D0,
    "en.pitch.greatest.compression": min(14 * T, 200),
    "en.pitch.greatest.tension": min(14 * T, 200),
    "en.pitch.greatest.tension.inner": min(28 * T, 400),
    "en.row.least": 2.4 * D0,
    "en.row.least.staggered": 1.2 * D0,
    "en.diagonal.least": 2.4 * D0,
    "en.row.greatest.compression": min(14 * T, 200),
    "en.row.greatest.tension": min(14 * T, 200),
    "en.end.least": 1.2 * D0,
    "en.edge.least": 1.2 * D0,
    "en.end.greatest": 4 * T + 40,
    "en.edge.greatest": 4 * T + 40,
    # IS 800:2007 10.2: pitch in nominal diameters, edges in holes
    "is.pitch.least": 2.5 * D,
    "is.pitch.greatest.tension": min(16 * T, 200),
    "is.pitch.greatest.compression": min(12 * T, 200),
    "is.pitch.greatest.edge": min(100 + 4 * T, 200),
    "is.row.least": 2.5 * D,
    "is.diagonal.least": 2.5 * D,
    "is.row.greatest": min(32 * T, 300),
    "is.end.least.sheared": 1.7 * D0,
    "is.end.least.machine": 1.5 * D0,
    "is.edge.least.sheared": 1.7 * D0,
    "is.edge.least.machine": 1.5 * D0,
    "is.edge.greatest": 40 + 4 * T,
    # AC 43.13-1B chapter 4 and NAVEDTRA 14018: nominal diameters
    "ac.pitch.least.single": 3 * D,
    "ac.pitch.least.double": 4 * D,
    "ac.pitch.least.triple": 3 * D,
    "ac.diameter.least": T_MAX,
    "ac.diameter.greatest": 3 * T_MAX,
    "ac.row.least": 2.5 * D,
    "ac.end.least": 2 * D,
    "ac.edge.least": 2 * D,
    # classical
    "classical.pitch.least": 3 * D,
    "classical.pitch.greatest": 16 * T,
    "classical.row.least": 2 * D,
    "classical.diagonal.least": 3 * D,
    "classical.end.least": 1.5 * D,
    "classical.edge.least": 1.5 * D,
    # tight seams: the smaller of 4.5 d = 90 and C t + 41.3
    "tight.pitch.one": min(4.5 * D, 1.31 * T + 41.3),
    "tight.pitch.two": min(4.5 * D, 2.62 * T + 41.3),
    "tight.pitch.three": min(4.5 * D, 3.47 * T + 41.3),
    "tight.pitch.four": min(4.5 * D, 4.17 * T + 41.3),
    "tight.edge.least": 1.5 * D,
    # works practice
    "practice.drivable": 3 * D,
    "practice.diameter": T_MAX,
    "practice.diameter.sheet": 3 * LIGHT,
    "practice.grip.hammer": 4.5 * D,
    "practice.grip.press": 6.5 * D,
    "practice.hole.enters": D,
    "practice.hole.least": D + 0.2,
    "practice.hole.greatest": D + 2.0,
    "practice.sink": T_OWN,
    "practice.sink.ask": T_OWN * 2 / 3,
}
RULES = [(name, rule) for name in SETS for rule in read_rule_set(name).rules]
every_rule = pytest.mark.parametrize(("name", "rule"), RULES, ids=[rule.id for _, rule in RULES])


def stated(rule: Rule, layout: HoleLayout) -> HoleLayout:
    """The layout under the conditions for which the rule is made."""
    when, count = dict(rule.when), len(layout.holes)
    return replace(
        layout,
        exposed=when.get("exposure") == "exposed",
        edge=when.get("edge", "machine"),
        tension=np.full(count, when.get("load") != "compression"),
        compression=np.full(count, when.get("load") != "tension"),
        tight=np.full(count, when.get("tight") == "yes"),
        countersunk=np.full(count, when.get("head") == "countersunk"),
        hand_driven=np.full(count, when.get("driven") == "hammer"),
        thickest=np.full(count, LIGHT) if "sheet" in when else layout.thickest,
    )


def lines_for(rule: Rule) -> int:
    when = dict(rule.when)
    return 3 if when.get("line") == "inner" else int(when.get("lines", 1))


def laid(name: str, rule: Rule, value: float) -> HoleLayout:
    """A plate on which the rule measures `value` and nothing nearer."""
    far = 5000.0
    shift = 50.0 if dict(rule.when).get("staggered") == "yes" else 0.0
    by_measure = {
        "pitch": lambda: plate(grid(5, value, lines_for(rule), 60.0)),
        "row distance": lambda: plate(grid(5, 100.0, 2, value, shift)),
        "diagonal": lambda: plate(grid(5, 1.2 * value, 2, 0.8 * value, 0.6 * value)),
        "end distance": lambda: plate(grid(5, 100.0), outline=rectangle(-value, -far, far, far)),
        "edge distance": lambda: plate(grid(5, 100.0), outline=rectangle(-far, -value, far, far)),
        "diameter": lambda: plate(grid(5, 100.0), rivet_diameter=value),
        "grip": lambda: plate(grid(5, 100.0), grip=value),
        "hole": lambda: plate(grid(5, 100.0), hole=value),
        "sink": lambda: plate(grid(5, 100.0), sink_depth=value),
    }
    layout = stated(rule, by_measure[rule.measure]())
    return replace(layout, material=read_rule_set(name).material)


@every_rule
def test_at_the_limit(name: str, rule: Rule) -> None:
    limit, one = LIMITS[rule.id], only(read_rule_set(name), rule)
    inside = 1.0 if rule.sense == "least" else -1.0
    assert check_layout(laid(name, rule, limit), one) == ()
    assert check_layout(laid(name, rule, limit + inside * 1e-3), one) == ()
    found = check_layout(laid(name, rule, limit - inside * 1e-3), one)
    assert [(finding.check, str(finding.level)) for finding in found] == [(rule.check, rule.level)]
    assert found[0].required == pytest.approx(limit, abs=1e-9)
    assert found[0].measured == pytest.approx(limit - inside * 1e-3, abs=1e-6)
    assert found[0].source == rule.source
    assert found[0].mend


@every_rule
def test_no_number_fails(name: str, rule: Rule) -> None:
    layout = laid(name, rule, LIMITS[rule.id])
    measured = measures(layout, [rule])
    sound = measured.by_name[rule.measure][0]
    assert len(sound.value)
    assert list(told(layout, measured, sound, [rule])) == []
    broken = Measure(sound.holes, np.full(len(sound.value), np.nan), sound.staggered)
    assert [finding.check for finding in told(layout, measured, broken, [rule])] == [rule.check]


@every_rule
def test_a_rule_stays_silent_where_its_conditions_do_not_hold(name: str, rule: Rule) -> None:
    bad = 0.5 if rule.sense == "least" else 1.5
    layout = laid(name, rule, bad * LIMITS[rule.id])
    assert check_layout(layout, only(read_rule_set(name), rule))
    other = {
        "exposure": {"exposed": False},
        "load": {"tension": np.zeros(len(layout.holes)), "compression": np.zeros(len(layout.holes))},
        "tight": {"tight": np.zeros(len(layout.holes))},
        "head": {"countersunk": np.zeros(len(layout.holes))},
        "driven": {"hand_driven": ~layout.hand_driven},
        "edge": {"edge": "machine" if dict(rule.when).get("edge") == "sheared" else "sheared"},
    }
    for condition, _ in rule.when:
        if condition in other:
            changed = replace(layout, **other[condition])  # type: ignore[arg-type]  # keywords of a test
            assert check_layout(changed, only(read_rule_set(name), rule)) == ()


def test_every_rule_has_its_limit_here() -> None:
    assert sorted(LIMITS) == sorted(rule.id for _, rule in RULES)


@every_rule
def test_every_rule_names_its_source_and_is_read_by_a_check(name: str, rule: Rule) -> None:
    assert rule.source.startswith(read_rule_set(name).title)
    assert len(rule.source) > len(read_rule_set(name).title) + 2
    assert Level[rule.level.upper()] >= CHECKS[rule.check].level  # the table of checks states the gravest
    assert (rule.known == "read") or f"({rule.known})" in rule.source


def test_every_condition_of_the_data_is_understood() -> None:
    layout = plate(grid(3, 100.0))
    measured = measures(layout, [])
    holds = conditions(layout, measured.lines, measured.by_name["pitch"][0])
    assert set(holds) == {(name, value) for name, values in CONDITIONS.items() for value in values}
