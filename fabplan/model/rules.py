"""A rule set as data: what is measured, against which multiple of which size, where it applies, where it comes from."""

from dataclasses import dataclass

MEASURES = ("pitch", "row distance", "diagonal", "end distance", "edge distance", "diameter", "grip", "hole", "sink")
SIZES = ("d", "d0", "t", "t_max", "t_own", "mm")
KNOWN = ("read", "second-hand", "from memory", "common practice")
CONDITIONS: dict[str, tuple[str, ...]] = {
    "load": ("tension", "compression"),
    "exposure": ("exposed", "sheltered"),
    "edge": ("sheared", "machine"),
    "staggered": ("yes", "no"),
    "lines": ("1", "2", "3", "4"),
    "line": ("outer", "inner"),
    "head": ("countersunk",),
    "tight": ("yes",),
    "driven": ("hammer", "press"),
    "fastener": ("rivet",),
    "sheet": ("light",),
}
MOST_LINES = 4  # seams of more lines are read as of so many


@dataclass(frozen=True, slots=True)
class Term:
    """One term of a limit: `factor` times `of` plus `plus` mm.

    `of` says which size is meant: d nominal rivet, d0 hole, t thinner outer ply, t_max thickest ply,
    t_own this ply, mm none.
    """

    factor: float
    of: str
    plus: float = 0.0

    def __str__(self) -> str:
        """The term as printed: 14 t, 4 t + 40 mm, 200 mm."""
        if self.of == "mm":
            return f"{self.plus:g} mm"
        size = {"t_max": "t of the thickest ply", "t_own": "t of this ply"}.get(self.of, self.of)
        return f"{self.factor:g} {size}" + (f" + {self.plus:g} mm" if self.plus else "")


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule.

    Attributes:
        id: unique name.
        check: the check it feeds, a key of `fabplan.model.checks.CHECKS`.
        measure: one of `MEASURES`.
        sense: "least" or "greatest".
        terms: the limit; of several the one that `take` says.
        take: "smaller" or "larger".
        when: pairs (condition, value); all must hold; none holds always.
        level: "stop", "query" or "note".
        source: clause or page, with the set's own source before it.
        known: one of `KNOWN`.
    """

    id: str
    check: str
    measure: str
    sense: str
    terms: tuple[Term, ...]
    take: str
    when: tuple[tuple[str, str], ...]
    level: str
    source: str
    known: str

    def __str__(self) -> str:
        """The limit as printed: the smaller of 14 t and 200 mm."""
        terms = " and ".join(map(str, self.terms))
        return terms if len(self.terms) == 1 else f"the {self.take} of {terms}"


@dataclass(frozen=True, slots=True)
class RuleSet:
    """A named set of rules and the field that it holds for.

    Attributes:
        name: as the job names it.
        title: in words.
        material: "steel" or "light alloy": refused for the other.
        purpose: "structure", "tight" or "practice".
        caution: a sentence printed with it.
        rules: the rows.
    """

    name: str
    title: str
    material: str
    purpose: str
    caution: str
    rules: tuple[Rule, ...]
