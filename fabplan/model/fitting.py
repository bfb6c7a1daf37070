"""Fittings: one place on the body for which several options are drawn, of which one is fitted."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class OptionSpec:
    """One option: its name, and the marks of the parts that come with it."""

    mark: str
    parts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LocationSpec:
    """A place on the body with a pattern of holes that all its options share. Lengths mm.

    Attributes:
        mark: name in the job.
        instance, row: the piece of the body and its row of holes.
        greatest_grip: of a fastener there, or None.
        plug: mark of the fastener that closes a hole which the chosen option leaves open; "" for none.
        options: what may be fitted.
        chosen: mark of the option that is fitted; "" for none.
        face: "marked" or "other", the face of the piece that fittings lie on; "" where not stated.
        place: where in the job file it stands.
    """

    mark: str
    instance: str
    row: str
    greatest_grip: float | None
    plug: str
    options: tuple[OptionSpec, ...]
    chosen: str
    face: str = ""
    place: str = ""
