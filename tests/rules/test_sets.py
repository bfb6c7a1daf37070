"""Rule sets as data: names, faults, fields of use."""

from collections.abc import Mapping
from typing import Any

import pytest

from fabplan.errors import RuleDataError
from fabplan.rules.sets import ALWAYS, SETS, read_rule_set, rule_set, rule_set_names

GOOD: dict[str, Any] = {
    "set": {"title": "T", "material": "steel", "purpose": "structure", "caution": "c"},
    "rule": [
        {
            "id": "a",
            "check": "least-pitch",
            "measure": "pitch",
            "sense": "least",
            "terms": [{"factor": 3.0, "of": "d"}],
            "source": "s",
            "known": "read",
        }
    ],
}


def spoilt(**changes: object) -> Mapping[str, Any]:
    row = {key: value for key, value in {**GOOD["rule"][0], **changes}.items() if value is not None}
    return {**GOOD, "rule": [row]}


def test_names_that_a_job_may_give() -> None:
    assert rule_set_names() == ("en1993-1-8-2005", "is800-2007", "ac43-13-1b", "classical")
    assert set(ALWAYS) == {"tight-seam", "practice"}


def test_an_unknown_name_brings_the_nearest() -> None:
    with pytest.raises(RuleDataError, match="en1993-1-8-2005"):
        read_rule_set("en1993-1-8")
    with pytest.raises(RuleDataError, match="classical"):
        read_rule_set("clasical")


@pytest.mark.parametrize("name", SETS)
def test_every_set_states_its_field(name: str) -> None:
    one = read_rule_set(name)
    assert one.name == name
    assert one.material in ("steel", "light alloy")
    assert one.purpose in ("structure", "tight", "practice")
    assert one.caution.endswith(".")


def test_ids_are_unique_over_all_sets() -> None:
    ids = [rule.id for name in SETS for rule in read_rule_set(name).rules]
    assert len(set(ids)) == len(ids)


def test_tight_pitch_is_from_memory_and_so_a_query() -> None:
    rows = [rule for rule in read_rule_set("tight-seam").rules if rule.check == "tight-pitch"]
    assert len(rows) == 4
    assert all((rule.level, rule.known) == ("query", "from memory") for rule in rows)
    assert all(rule.check != "tight-pitch" for name in SETS[:4] for rule in read_rule_set(name).rules)


def test_a_sound_file_is_taken() -> None:
    assert rule_set("x", GOOD).rules[0].source == "T: s"


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"pitch_d": 3.0}, "unknown key pitch_d"),
        ({"source": None}, "source missing"),
        ({"known": "heard"}, "known is 'heard'"),
        ({"check": "least-pich"}, "check is 'least-pich'"),
        ({"when": {"wind": "west"}}, "condition wind"),
        ({"terms": [{"factor": 3.0, "of": "w"}]}, "term"),
        ({"terms": []}, "terms missing"),
        ({"level": "alarm"}, "level is 'alarm'"),
    ],
)
def test_a_fault_is_named(changes: dict[str, object], message: str) -> None:
    with pytest.raises(RuleDataError, match=message):
        rule_set("x", spoilt(**changes))


def test_all_faults_come_at_once() -> None:
    row = {**GOOD["rule"][0], "known": "heard", "colour": 1}
    with pytest.raises(RuleDataError) as caught:
        rule_set("x", {"set": {"title": "T"}, "rule": [row, row]})
    for part in ("material missing", "unknown key colour", "known is", "id a stands twice"):
        assert part in str(caught.value)


def test_limits_are_printed_as_the_table_has_them() -> None:
    printed = {rule.id: str(rule) for name in SETS for rule in read_rule_set(name).rules}
    assert printed["en.pitch.least"] == "2.2 d0"
    assert printed["en.edge.greatest"] == "4 t + 40 mm"
    assert printed["en.pitch.greatest.compression"] == "the smaller of 14 t and 200 mm"
