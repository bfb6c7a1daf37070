"""Closed lines of straight and round pieces, exact."""

from dataclasses import dataclass

from fabplan.model.arrays import FloatArray, floats


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """A closed line through `vertices`, each span straight or a circular arc.

    A span runs from vertex i to vertex i + 1, the last one back to vertex 0. Its bulge is the tangent of a quarter of
    its angle, positive when it turns counter-clockwise, 0 when straight: a full circle is two vertices with bulge 1.

    Attributes:
        vertices: (n, 2), mm; the first is not repeated at the end.
        bulges: (n,).
        chord_error: mm, how far the line may lie from the curve it stands for (splines, ellipses); 0 when exact.
        handles: handles of the DXF entities it was made from.
    """

    vertices: FloatArray
    bulges: FloatArray
    chord_error: float = 0.0
    handles: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Keep read-only copies of matching length."""
        object.__setattr__(self, "vertices", floats(self.vertices, -1, 2))
        object.__setattr__(self, "bulges", floats(self.bulges, -1))
        if len(self.vertices) != len(self.bulges):
            raise ValueError(f"{len(self.vertices)} vertices but {len(self.bulges)} bulges")
