"""Published rules as data: what is measured, the limit in diameters and thicknesses, when it applies, who says so."""

from dataclasses import dataclass

from fabplan.model.finding import Level

MEASURES = (
    "pitch",
    "row distance",
    "diagonal",
    "end distance",
    "edge distance",
    "diameter",
    "grip",
    "hole clearance",
    "sink depth",
)
SENSES = ("least", "greatest")
BASES = ("d", "d0", "t", "t_max", "t_own", "root_t", "mm")
TAKES = ("smaller", "larger")
KNOWN = ("read", "second-hand", "from memory", "common practice")


@dataclass(frozen=True, slots=True)
class Term:
    """One part of a limit: `factor` times `of`, plus `mm`.

    `of` is "d" nominal rivet, "d0" hole, "t" thinner outer ply, "t_max" thickest ply, "t_own" this ply, "root_t" the
    square root of t_max in mm, or "mm" for a bare length.
    """

    factor: float
    of: str
    mm: float = 0.0

    def __str__(self) -> str:
        """The term as printed: 14 t, 4 t + 40 mm, 200 mm."""
        if self.of == "mm":
            return f"{self.mm:g} mm"
        name = {"root_t": "sqrt(t max)", "t_max": "t max", "t_own": "t"}.get(self.of, self.of)
        plus = f" {'+' if self.mm > 0 else '-'} {abs(self.mm):g} mm" if self.mm else ""
        return f"{self.factor:g} {name}{plus}"


@dataclass(frozen=True, slots=True)
class When:
    """Where a rule applies; an empty word or tuple stands for any.

    Attributes:
        exposed: "exposed" or "sheltered".
        load: "tension" or "compression".
        edge: states of the plate edge: sheared, machine, rolled.
        place: places of the row in its seam: single, double, outer, inner.
        staggered: "staggered" or "chain".
        tight: "tight" or "plain".
        driven: "hammer" or "press".
    """

    exposed: str = ""
    load: str = ""
    edge: tuple[str, ...] = ()
    place: tuple[str, ...] = ()
    staggered: str = ""
    tight: str = ""
    driven: str = ""


@dataclass(frozen=True, slots=True)
class Rule:
    """One row of a rule set.

    Attributes:
        id: unique within the set.
        check: name of the check that reads it, a key of `fabplan.model.checks.CHECKS`.
        measures: one of `MEASURES`.
        sense: "least" or "greatest".
        terms: the limit is the smaller or larger of these.
        take: "smaller" or "larger".
        when: where it applies.
        level: level of the finding.
        source: table, clause, page.
        known: one of `KNOWN`: how the figure is known.
    """

    id: str
    check: str
    measures: str
    sense: str
    terms: tuple[Term, ...]
    take: str
    when: When
    level: Level
    source: str
    known: str

    def __str__(self) -> str:
        """The limit as printed: the smaller of 14 t and 200 mm."""
        if len(self.terms) == 1:
            return str(self.terms[0])
        return f"the {self.take} of {' and '.join(map(str, self.terms))}"

    @property
    def cited(self) -> str:
        """Source as printed, with how it is known where it was not read in the source itself."""
        return self.source if self.known in ("read", "common practice") else f"{self.source}, {self.known}"


@dataclass(frozen=True, slots=True)
class RuleSet:
    """A rule set and the field in which it holds.

    Attributes:
        name: as the job writes it.
        title: in full.
        material: materials for which it holds ("steel", "light alloy"); none stands for any.
        purpose: what it is for.
        source: the document.
        caution: one sentence that is printed wherever the set is used.
        rules: its rows.
    """

    name: str
    title: str
    material: tuple[str, ...]
    purpose: str
    source: str
    caution: str
    rules: tuple[Rule, ...]
