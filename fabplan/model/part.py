"""A piece of the kit, formed, in its own frame; and its instances."""

from dataclasses import dataclass

from fabplan.model.drawing import Drawing
from fabplan.model.job import PartSpec
from fabplan.model.panel import Panel, PartHoles
from fabplan.model.tables import Section


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One piece, of one hand.

    Attributes:
        mark: piece mark, with R or L where it is one of a pair.
        spec: what the job file states.
        panels: its metal; none where its form is unknown, and then it counts as not checked.
        holes: its holes on the panels.
        mass: kg, one piece.
        mass_source: how the mass was found.
        straight, straight_holes: of a bent bar, its legs and its holes on them before bending.
        blank: its drawing (mirrored for the other hand), None for a bar.
        section: its section, None for a plate.
        hand: "", "R" or "L".
        thickness: mm, of a plate or of the section.
        trouble: why its form is not known, "" where it is or nothing asks for it.
    """

    mark: str
    spec: PartSpec
    panels: tuple[Panel, ...]
    holes: PartHoles
    mass: float
    mass_source: str
    thickness: float
    blank: Drawing | None = None
    section: Section | None = None
    hand: str = ""
    trouble: str = ""
    straight: tuple[Panel, ...] = ()
    straight_holes: PartHoles | None = None

    @property
    def thickness_words(self) -> str:
        """Its thickness as printed: measured, with the stated one, where both are known."""
        stated = self.spec.thickness if self.spec.measured_thickness is not None else None
        return f"{self.thickness:g} mm" + (f" measured, {stated:g} mm stated" if stated is not None else "")


@dataclass(frozen=True, slots=True)
class Instance:
    """One piece of steel: its mark ("A1", "A1-2", "A1R-1") and the index of its part."""

    mark: str
    part: int
