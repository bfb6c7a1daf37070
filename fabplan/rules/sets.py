"""Rule sets from their data files: parsed, checked whole, frozen."""

import tomllib
from collections.abc import Mapping
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from typing import Any

from fabplan.errors import RuleDataError
from fabplan.model.checks import CHECKS
from fabplan.model.rules import CONDITIONS, KNOWN, MEASURES, SIZES, Rule, RuleSet, Term

SETS = ("en1993-1-8-2005", "is800-2007", "ac43-13-1b", "classical", "tight-seam", "practice")
FIELDS = {"id", "check", "measure", "sense", "terms", "take", "when", "level", "source", "known"}
ALWAYS = ("tight-seam", "practice")
"""Sets read beside the job's own: no structural set speaks of tightness or of what can be driven."""


def rule_set_names() -> tuple[str, ...]:
    """Names that a job may give as its rules."""
    return tuple(name for name in SETS if name not in ALWAYS)


@cache
def read_rule_set(name: str) -> RuleSet:
    """One rule set.

    Raises:
        RuleDataError: no such set, or its file does not hold together; all its faults are named.
    """
    if name not in SETS:
        near = get_close_matches(name, SETS, n=2, cutoff=0.3) or list(SETS)
        raise RuleDataError(f'there is no rule set "{name}"', f"Nearest: {', '.join(near)}.")
    text = (files("fabplan.rules") / "data" / f"{name}.toml").read_text("utf-8")
    return rule_set(name, tomllib.loads(text))


def rule_set(name: str, raw: Mapping[str, Any]) -> RuleSet:
    """A rule set from the tables of its file."""
    head, rows = raw.get("set", {}), raw.get("rule", [])
    faults = [f"{name}: [set]: {key} missing" for key in ("title", "material", "purpose", "caution") if key not in head]
    for number, row in enumerate(rows):
        faults += [f"{name}: rule {row.get('id', number)}: {fault}" for fault in _faults(row)]
    ids = [row.get("id") for row in rows]
    faults += [f"{name}: id {one} stands twice" for one in sorted({one for one in ids if ids.count(one) > 1})]
    if faults:
        raise RuleDataError("; ".join(faults), "Mend the data file.")
    rules = tuple(_rule(row, head["title"]) for row in rows)
    return RuleSet(name, head["title"], head["material"], head["purpose"], head["caution"], rules)


def _faults(row: Mapping[str, Any]) -> list[str]:
    faults = [f"unknown key {key}" for key in sorted(set(row) - FIELDS)]
    needed = ("id", "check", "measure", "sense", "terms", "source", "known")
    faults += [f"{key} missing" for key in needed if not row.get(key)]
    choices = {"check": tuple(CHECKS), "measure": MEASURES, "sense": ("least", "greatest"), "known": KNOWN}
    choices |= {"level": ("stop", "query", "note"), "take": ("smaller", "larger")}
    faults += [f"{key} is {row[key]!r}" for key, valid in choices.items() if key in row and row[key] not in valid]
    for key, value in row.get("when", {}).items():
        if value not in CONDITIONS.get(key, ()):
            faults.append(f"condition {key} = {value!r}")
    for term in row.get("terms", []):
        if set(term) - {"factor", "of", "plus"} or term.get("of", "mm") not in SIZES:
            faults.append(f"term {term!r}")
    return faults


def _rule(row: Mapping[str, Any], title: str) -> Rule:
    terms = tuple(
        Term(float(term.get("factor", 0.0)), term.get("of", "mm"), float(term.get("plus", 0.0)))
        for term in row["terms"]
    )
    doubt = "" if row["known"] == "read" else f" ({row['known']})"
    return Rule(
        id=row["id"],
        check=row["check"],
        measure=row["measure"],
        sense=row["sense"],
        terms=terms,
        take=row.get("take", "smaller"),
        when=tuple(sorted(row.get("when", {}).items())),
        level=row.get("level", str(CHECKS[row["check"]].level)),
        source=f"{title}: {row['source']}{doubt}",
        known=row["known"],
    )
