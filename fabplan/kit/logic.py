"""Statements that are true or false, what must hold of them, and a solver that is asked again and again.

A literal is a whole number: a statement, or with a minus its contrary. A clause holds where one of its literals does.
"""

from collections.abc import Iterable, Sequence
from itertools import product

from pysat.solvers import Solver
from pysolvers import error as InterruptedSolver  # noqa: N812

ALWAYS, NEVER = 1, -1
"""What always holds, and its contrary."""

Counts = tuple[int, ...]
"""The literals that at least one holds, at least two, and so on."""

PROPAGATIONS = 300
"""Statements that the solver settles in a step of a search, measured: some 70 microseconds."""


class Logic:
    """Clauses that only become more, so that what the solver has learned stays true."""

    def __init__(self) -> None:
        """Start without any."""
        self._solver, self._count = Solver("glucose4"), ALWAYS
        self.add([ALWAYS])

    def new(self) -> int:
        """A statement of which nothing is known; the solver tries first that it is false."""
        self._count += 1
        return self._count

    def add(self, clause: Iterable[int]) -> None:
        """Let one of some literals hold."""
        self._solver.add_clause(list(clause))

    def prefer(self, literals: Sequence[int]) -> None:
        """Try some literals first."""
        self._solver.set_phases(list(literals))

    @property
    def effort(self) -> int:
        """What was done so far, in steps of a search."""
        return int(self._solver.accum_stats()["propagations"]) // PROPAGATIONS

    def solve(self, assumed: Iterable[int], steps: int) -> bool | None:
        """Whether all clauses can hold while some literals do; None where that was not found out within some steps."""
        self._solver.prop_budget(steps * PROPAGATIONS)
        try:
            found: bool | None = self._solver.solve_limited(list(assumed))
        except InterruptedSolver:  # an error of its own stands for the key that breaks it off
            raise KeyboardInterrupt from None
        return found

    def true(self, statements: Iterable[int]) -> list[int]:
        """Those of some statements that are true in what was found last."""
        model = self._solver.get_model()
        return [one for one in statements if model[one - 1] > 0]


class Tally:
    """How many of some literals hold: up to so many are told apart.

    Counts of halves are added up, half by half (a totalizer; Bailleux, Boufkhad, CP 2003), so that what one literal
    tells is heard after few steps, however many there are.
    """

    def __init__(self, logic: Logic, most: int) -> None:
        """Start without any literal."""
        self._logic, self._most = logic, most
        self._heaps: list[tuple[int, Counts]] = []
        self._all: Counts | None = None

    def add(self, literal: int) -> None:
        """Count one more literal."""
        size, counts = 1, Counts((literal,))
        while self._heaps and self._heaps[-1][0] == size:
            size, counts = 2 * size, self._sum(self._heaps.pop()[1], counts)
        self._heaps.append((size, counts))
        self._all = None

    def at_least(self, count: int) -> int:
        """The literal that so many of those counted until now hold, or more."""
        if self._all is None:
            self._all = Counts(())
            for _, counts in reversed(self._heaps):
                self._all = self._sum(self._all, counts)
        return self._all[count - 1] if count <= len(self._all) else NEVER

    def _sum(self, one: Counts, two: Counts) -> Counts:
        """How many of two heaps hold together."""
        found = tuple(self._logic.new() for _ in range(min(len(one) + len(two), self._most)))
        for i, k in product(range(len(one) + 1), range(len(two) + 1)):
            if i + k:
                here = [-one[i - 1]] if i else []
                there = [-two[k - 1]] if k else []
                self._logic.add([*here, *there, found[min(i + k, self._most) - 1]])
            if i + k < len(found):
                self._logic.add([*one[i : i + 1], *two[k : k + 1], -found[i + k]])
        return found
