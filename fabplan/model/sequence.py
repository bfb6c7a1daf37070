"""The order of work: which rivet is driven when, from where, and why."""

from dataclasses import dataclass

from fabplan.model.arrays import IntArray, ints

STEP_KINDS = (
    "datum", "erect", "dry-fit", "square", "template", "weld", "part", "rivet", "close", "turn", "bolt", "test"
)  # fmt: skip
ACCESS = ("none", "outside", "arm", "man inside")
"""How a side is reached: not at all, from outside, by an arm through an opening, by a man inside the body."""


@dataclass(frozen=True, slots=True, eq=False)
class SeamWork:
    """The rivets of one seam that are driven in one step.

    Attributes:
        seam: index into the job's seams, -1 for stacks that no seam claims.
        rivets: (k,) indices into the stacks, in driving order.
        driver_side: "point" or "head": the side the driver stands on; "head" means that made head and point
            change sides.
        driver_access, holder_access: words of `ACCESS`, for the worst rivet of the run; who holds up stands on the side
            from which the rivets are put in.
        driver_tool, holder_tool: names of the tools; the same for one that squeezes.
        note: one sentence on the driving order, and with what the rivets are put in, on the holder-up's side.
        bolts_out: service bolts in the holes of these rivets, that come out as they are driven.
        driver_by, holder_by: the openings that arms go through, in words, "" where none does.
        partner: the seam that is driven in turn with it, as far on either side; "" for none.
    """

    seam: int
    rivets: IntArray
    driver_side: str
    driver_access: str
    holder_access: str
    driver_tool: str
    holder_tool: str
    note: str = ""
    bolts_out: int = 0
    driver_by: str = ""
    holder_by: str = ""
    partner: str = ""

    def __post_init__(self) -> None:
        """Keep a read-only copy."""
        object.__setattr__(self, "rivets", ints(self.rivets, -1))


@dataclass(frozen=True, slots=True)
class Lie:
    """How what stands at a step lies on the table. Lengths mm.

    Attributes:
        down: unit vector of the body's frame towards the floor.
        on: in words: as drawn, upside down or on a side, and the pieces that bear.
        steady: False where it does not stand so by itself, or not by much: blocked and braced before work.
        turned: True where it is turned over before the step, and before pieces come in.
        turns: turn-overs so far, this one with them.
        mass: kg, NaN where it is not known.
        over: height of the centre of mass over the table.
        inside: how far it lies within the edge of what bears.
        heights: least and greatest height over the floor of the rivets of the step, on the driver's side.
        short: rivets that find no room over the floor, for tool or man, indices into the stacks.
        laid: True for a sub-assembly that is put together on the bench otherwise than as drawn: its pieces are turned
            over as they are laid down, which counts as one turn-over.
        high: rivets of the step that are worked from staging.
        boards: height of that staging over the floor.
    """

    down: tuple[float, float, float]
    on: str
    steady: bool
    turned: bool
    turns: int
    mass: float
    over: float
    inside: float
    heights: tuple[float, float] | None = None
    short: tuple[int, ...] = ()
    laid: bool = False
    high: int = 0
    boards: float = 0.0


@dataclass(frozen=True, slots=True)
class Tally:
    """What one order of work comes to. All but the last two are numbers of rivets or of times.

    Attributes:
        name: a few words.
        short: rivets that find no room over the floor.
        bench: driven on the bench, before their pieces join the body.
        turns, lifts: turn-overs, those of sub-assemblies onto the bench and back with them, and lifts by crane.
        downhand, sideways, overhead: how rivets are driven.
        inside: driven or held up by a man inside.
        minutes: of driving, turning over and lifting, by the rates of the shop.
        why: why it is taken or not.
    """

    name: str
    short: int
    bench: int
    turns: int
    lifts: int
    downhand: int
    sideways: int
    overhead: int
    inside: int
    minutes: float
    why: str = ""


@dataclass(frozen=True, slots=True)
class Lift:
    """One lift: what, its mass in kg, where its centre of mass is, where it is hooked on, in words; the instances.

    The mass is that of the pieces and of the rivets that are driven through them, without service bolts.
    """

    what: str
    mass: float
    centre: str
    hooks: str
    pieces: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Laid:
    """One piece that comes off, an instance index, and where it is laid, in words."""

    instance: int
    where: str


@dataclass(frozen=True, slots=True)
class Step:
    """One step, one sheet.

    Attributes:
        number: from 1.
        kind: one of `STEP_KINDS`.
        title: a few words.
        reason: one sentence: why here.
        parts: instance indices that come in at this step.
        present: instance indices that stand when the step ends.
        work: what is riveted.
        bolts: pairs (seam index, service bolts) that are put in at this step.
        checks: what to measure or look at before signing.
        cautions: what can hurt someone.
        lift: heaviest single lift of the step, kg, 0 where nothing is lifted.
        fitted: indices into the stacks of the bolts and tap rivets that are fitted.
        lie: how what stands lies; None where nothing is riveted.
        lifts: what the crane lifts or turns over in this step.
        unproved: pairs (seam index, rivets) of rivets through pieces formed to template, which are in no stack.
        off: what comes off, in order.
    """

    number: int
    kind: str
    title: str
    reason: str
    parts: tuple[int, ...] = ()
    present: tuple[int, ...] = ()
    work: tuple[SeamWork, ...] = ()
    bolts: tuple[tuple[int, int], ...] = ()
    checks: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    lift: float = 0.0
    fitted: tuple[int, ...] = ()
    lie: Lie | None = None
    lifts: tuple[Lift, ...] = ()
    unproved: tuple[tuple[int, int], ...] = ()
    off: tuple[Laid, ...] = ()

    @property
    def alone(self) -> bool:
        """True where all that stands comes in at this step: on the bench, or bolted up again."""
        return bool(self.parts) and set(self.parts) == set(self.present)


@dataclass(frozen=True, slots=True, eq=False)
class Core:
    """What cannot be built: left over when the whole body is peeled backwards.

    Attributes:
        rivets: (k,) indices into the stacks that no order lets anyone drive.
        parts: instance indices held in the core.
        blockers: pairs (rivet index, instance indices in the way).
        help: sentences: what would help.
    """

    rivets: IntArray
    parts: tuple[int, ...] = ()
    blockers: tuple[tuple[int, tuple[int, ...]], ...] = ()
    help: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Keep a read-only copy."""
        object.__setattr__(self, "rivets", ints(self.rivets, -1))


@dataclass(frozen=True, slots=True, eq=False)
class Sequence:
    """Steps in order, and the core that no order can build (empty when all can).

    `orders` are the orders that were weighed against one another, the one taken first; `moved` are pairs of stacks:
    no spanner tightens a service bolt in the first, so it stands in the second in the dry fit.
    """

    steps: tuple[Step, ...]
    core: Core
    assumptions: tuple[str, ...] = ()
    orders: tuple[Tally, ...] = ()
    moved: tuple[tuple[int, int], ...] = ()
