"""What is known of a piece beside its drawing, as the checks of the drawing read it."""

from dataclasses import dataclass

from fabplan.model.job import PartSpec, Supplier


@dataclass(frozen=True, slots=True)
class Ordered:
    """A piece as the job states it; all empty where a drawing is checked by itself.

    Attributes:
        spec: the part, or None where no job names the drawing.
        reamed: names of rows that the reamer opens to size.
        holes: diameters of rivet holes that the job knows, mm.
        roles: pairs (layer name, role) of the job.
        hoist: greatest lift of the shop, kg, or None where it is not known or judged elsewhere.
        names: all names that the job gives: marks of parts, pieces, seams and rivets, and sections.
        bender: who forms it, or None.
    """

    spec: PartSpec | None = None
    reamed: tuple[str, ...] = ()
    holes: tuple[float, ...] = ()
    roles: tuple[tuple[str, str], ...] = ()
    hoist: float | None = None
    names: tuple[str, ...] = ()
    bender: Supplier | None = None


NOTHING_ORDERED = Ordered()
