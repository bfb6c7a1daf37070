"""What is open in an order of work, as plain numbers: what goes together on the bench, which rivets wait, how it lies.

Rivets that fare alike in all of it are one batch. `Choice` asks, `Answer` says what was chosen and what no choice can
better; `fabplan.sequence.solve` answers by CP-SAT.
"""

from dataclasses import dataclass

from fabplan.model.arrays import BoolArray, FloatArray, IntArray

RANK = ("short", "body", "lifted", "hard", "late")
"""What counts, the first the most, and all little: rivets without room over the floor; rivets that are not driven on
the bench; turn-overs and lifts; work that is not downhand; heavy and awkward rivets left for later states."""

TIME = ("short", "time")
"""Or so: rivets without room over the floor; time of driving, turning over and lifting."""


@dataclass(frozen=True, slots=True)
class Cut:
    """Batches (g,), True for those that are not reached while all these pieces are in their sub-assembly."""

    batches: BoolArray
    pieces: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """g batches of rivets, m pieces, p places of work: a state of the body and a way in which it lies.

    Attributes:
        many: (g,) rivets of each.
        plies: (g, m) their plies.
        bench: (g,) True for those that may be driven on the bench.
        able: (g, p) True where they may be driven.
        short, hard: (g, p) rivets without room over the floor; what attitude costs, see `fabplan.sequence.batches`.
        minutes: (g, p) what they take there; `downhand` (g,) what they take on the bench at least, whole numbers of a
            part of a minute, as those that `each` turn-over and lift takes.
        late: (g,) what it costs for each state by which they wait.
        state: (p,) the state of each place, from 0.
        drawn: (p,) True where it lies as drawn.
        onto: (m, m) True where the first piece may be riveted to the second on the bench: both come on in one state.
        mass: (m,) kg.
        early: (m,) True for pieces that stand in the first state.
        fewest: rivets for which a sub-assembly is made.
        by_hand: kg that are carried without a crane.
        cuts: what is not reached on the bench.
    """

    many: IntArray
    plies: BoolArray
    bench: BoolArray
    able: BoolArray
    short: IntArray
    hard: IntArray
    minutes: IntArray
    downhand: IntArray
    each: tuple[int, int]
    late: IntArray
    state: IntArray
    drawn: BoolArray
    onto: BoolArray
    mass: FloatArray
    early: BoolArray
    fewest: int
    by_hand: float
    cuts: tuple[Cut, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """What was chosen.

    Attributes:
        place: (g,) place of work of each batch, -1 on the bench.
        group: (m,) the piece to which each is riveted on the bench, itself for that one, -1 for none.
        found: what each of the ranks asked for comes to.
        bound: what each cannot be better than, with those before it as found.
    """

    place: IntArray
    group: IntArray
    found: tuple[int, ...]
    bound: tuple[int, ...]
