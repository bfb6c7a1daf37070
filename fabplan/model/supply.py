"""What to buy and to saw. Lengths mm, masses kg."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PlateLine:
    """One line of the cut list."""

    mark: str
    quantity: int
    drawing: str
    fingerprint: str  # first eight signs
    thickness: float
    grade: str
    length: float  # overall, larger first
    width: float
    holes: int
    cut_length: float
    mass_each: float
    supplier: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class BarLine:
    """One line of the bar list; `rows` are sentences that a man can drill from."""

    mark: str
    quantity: int
    section: str
    length: float
    grade: str
    mass_each: float
    holes: int
    rows: tuple[str, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class RivetLine:
    """Rivets of one diameter, length and head.

    Attributes:
        computed: shank length by volume before rounding up.
        thumb: shank length by the rule of thumb, and `thumb_rule` says which.
        grips: least and greatest grip that this line serves.
    """

    mark: str
    diameter: float
    length: float
    head: str
    point: str
    standard: str
    count: int
    spares: int
    mass_each: float
    computed: float
    thumb: float
    thumb_rule: str
    grips: tuple[float, float]
    seams: tuple[str, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class BoltLine:
    """Bolts of one diameter and length with their nuts and washers; tap rivets, dummy heads and drifts (length 0)."""

    what: str
    diameter: float
    length: float
    count: int
    nuts: int
    washers: int
    note: str = ""


@dataclass(frozen=True, slots=True)
class Supply:
    """All lists; `rivet_line` gives for each stack the index of its rivet line, -1 where none.

    `total_mass` is that of all pieces and driven rivets, NaN where the mass of a piece is not known; `rivet_mass` that
    of the driven rivets alone, spares left out.

    `service` tells of each service bolt of the dry fit the stack, its diameter and length; `stay` of each fastener that
    stays and is not driven the stack, what it is, its diameter and length.
    """

    plates: tuple[PlateLine, ...] = ()
    bars: tuple[BarLine, ...] = ()
    rivets: tuple[RivetLine, ...] = ()
    bolts: tuple[BoltLine, ...] = ()
    rivet_line: tuple[int, ...] = ()
    seam_bolts: tuple[tuple[str, int], ...] = ()  # seam mark, service bolts in the dry fit
    total_mass: float = 0.0
    rivet_mass: float = 0.0
    bolted: tuple[int, ...] = ()  # indices of the stacks that have a service bolt in the dry fit
    service: tuple[tuple[int, float, float], ...] = ()
    stay: tuple[tuple[int, str, float, float], ...] = ()
