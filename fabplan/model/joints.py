"""How the pieces are joined and set: fasteners, seams, welds, levels, stated places and order, as the job file says."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field

KINDS = ("rivet", "bolt", "fitted bolt", "tap rivet", "dummy head")
"""Fasteners: closed by hammer or squeeze; with a nut, in a clearance hole or a reamed one; screwed into the last ply
from the head side; a head alone, for looks, that holds nothing."""


@dataclass(frozen=True, slots=True)
class RivetSpec:
    """A kind of rivet, or of another fastener in its place, that the job uses. Lengths mm.

    Attributes:
        mark: name in the job ("R10").
        diameter: nominal shank diameter.
        hole: diameter of the hole that takes it.
        head: form of the made head: round or countersunk; of a bolt also hexagon.
        point: form of the head made in driving: round or countersunk; of what is not driven "nut" or "none".
        closing: hot or cold.
        standard: name of the head table ("DIN 124"); "" takes the one that lists the diameter for this closing.
        kind: one of `KINDS`.
        tapped: hole in the last ply, to be tapped for a tap rivet; None for any other.
        grade: property class of a bolt ("8.8"), "" when not stated.
    """

    mark: str
    diameter: float
    hole: float
    head: str = "round"
    point: str = "round"
    closing: str = "hot"
    standard: str = ""
    kind: str = "rivet"
    tapped: float | None = None
    grade: str = ""


FROM_MATE = "drilled from mate"
"""State of the holes of a ply that has none of its own."""


@dataclass(frozen=True, slots=True)
class PlySpec:
    """One listed ply of a seam.

    Attributes:
        instance: mark of the piece.
        row: name of its row.
        state: of its holes as cut: "full" unless stated otherwise; "pilot" or "mark" (opened or drilled when the plies
            are together), "drilled from mate" (none is drawn: it takes the holes of the others), "reamed" (opened to
            size by the reamer).
        numbers: of the holes of the row that it takes, in any order; () for all.
    """

    instance: str
    row: str
    state: str = "full"
    numbers: tuple[int, ...] = field(default=(), repr=False)  # what is accepted of whole rows stays so

    def among(self, rows: Sequence[str]) -> list[int]:
        """Its holes, as indices into the rows of all holes of its piece, which are in the order of their numbers.

        >>> PlySpec("R1", "web", numbers=(2, 3, 9)).among(["foot", "web", "web", "web"])
        [2, 3]
        """
        own = [k for k, row in enumerate(rows) if row == self.row]
        return [own[number - 1] for number in self.numbers if number <= len(own)] if self.numbers else own


@dataclass(frozen=True, slots=True)
class Instead:
    """Holes of a seam, by their numbers along it, that take another fastener than the rest."""

    holes: tuple[int, ...]
    rivet: str


def size_words(sizes: Iterable[tuple[float, tuple[int, ...]]]) -> str:
    """Holes of a seam in words.

    >>> size_words([(11.0, ()), (12.0, (1, 2))])
    '11 mm, 12 mm at 1, 2'
    """
    return ", ".join(
        f"{size:g} mm" + (f" at {', '.join(map(str, sorted(places)))}" if places else "") for size, places in sizes
    )


@dataclass(frozen=True, slots=True)
class SeamSpec:
    """A run of rivets through the same listed plies, head side first.

    Attributes:
        mark: seam letter.
        plies: two or more listed plies, from the made head to the point; one for dummy heads.
        rivet: mark of the rivet or other fastener.
        tight: True where the seam must hold water.
        load: "tension", "compression" or "" (the stricter of both).
        head: "inside", "outside" or "": which side the made heads are on.
        faying: what its faces are when they go together: "bare", "painted", "compound", or "" where not stated.
        instead: holes that take another fastener.
        place: where in the job file it stands.
    """

    mark: str
    plies: tuple[PlySpec, ...]
    rivet: str
    tight: bool = False
    load: str = ""
    head: str = ""
    faying: str = ""
    instead: tuple[Instead, ...] = ()
    place: str = ""

    @property
    def fasteners(self) -> tuple[str, ...]:
        """Marks of all fasteners that it takes, the commonest first."""
        return tuple(dict.fromkeys((self.rivet, *(one.rivet for one in self.instead))))

    def kinds(self, rivets: Collection[RivetSpec]) -> list[tuple[RivetSpec, tuple[int, ...]]]:
        """The fasteners that it takes, each with its places along it: () for all that no other has.

        Those that are in no table of the job are left out.
        """
        known = {rivet.mark: rivet for rivet in rivets}
        places = {
            mark: tuple(n for one in self.instead if one.rivet == mark for n in one.holes) for mark in self.fasteners
        }
        return [(known[mark], () if mark == self.rivet else own) for mark, own in places.items() if mark in known]

    def hole_sizes(self, rivets: Collection[RivetSpec], *, last: bool = False) -> list[tuple[float, tuple[int, ...]]]:
        """Finished holes of its plies, mm, each with its places, () for all others; tapped ones of its `last` ply."""
        found: dict[float, tuple[int, ...]] = {}
        for spec, places in self.kinds(rivets):
            size = spec.tapped if last and spec.tapped is not None else spec.hole
            if found.get(size, (0,)):  # the size of all others needs no places
                found[size] = (*found.get(size, ()), *places)
        return list(found.items())

    def fastener(self, place: int) -> str:
        """Mark of the fastener in one place along it, from 1."""
        return next((one.rivet for one in self.instead if place in one.holes), self.rivet)

    def states(self, instances: Collection[str]) -> set[str]:
        """States of the holes in the plies of some instances."""
        return {ply.state for ply in self.plies if ply.instance in instances}


@dataclass(frozen=True, slots=True)
class WeldSpec:
    """A weld between pieces. Lengths mm.

    Attributes:
        mark: name in the job.
        pieces: two or more instance marks.
        kind: "fillet" or "butt".
        size: throat of a fillet, depth of a butt weld.
        length: of metal laid, in all.
        when: "before riveting" or "after riveting".
        place: where in the job file it stands.
    """

    mark: str
    pieces: tuple[str, ...]
    kind: str
    size: float
    length: float
    when: str
    place: str = ""


@dataclass(frozen=True, slots=True)
class OrderSpec:
    """One step of the foreman's own order of riveting.

    Attributes:
        pieces: instance marks that are put on, on what stands; the datum stands from the first.
        seams: marks of the seams that are riveted then.
        place: where in the job file it stands.
    """

    pieces: tuple[str, ...]
    seams: tuple[str, ...]
    place: str = ""


@dataclass(frozen=True, slots=True)
class LevelSpec:
    """Rows whose faces are to lie at one height, such as the pads of a seat. Lengths mm, body frame.

    Attributes:
        mark: name in the job.
        rows: instance and row of each (`state` has no meaning here).
        height: z of the faces where the rows are; None where only their being level counts.
        within: how far any of them may be off.
        place: where in the job file it stands.
    """

    mark: str
    rows: tuple[PlySpec, ...]
    height: float | None
    within: float
    place: str = ""


@dataclass(frozen=True, slots=True)
class PlaceSpec:
    """An explicit place of one instance in the body frame: its origin (mm) and the directions of its x and y axes."""

    part: str
    origin: tuple[float, float, float]
    x: tuple[float, float, float]
    y: tuple[float, float, float]
