"""A place in space: a turn and a shift."""

from dataclasses import dataclass, field

import numpy as np

from fabplan.model.arrays import FloatArray, floats


@dataclass(frozen=True, slots=True, eq=False)
class Pose:
    """Carries a point of its own frame to the frame around it: `rotation @ point + origin`.

    Attributes:
        rotation: (3, 3), a proper turn (determinant +1).
        origin: (3,), mm.
    """

    rotation: FloatArray = field(default_factory=lambda: np.eye(3))
    origin: FloatArray = field(default_factory=lambda: np.zeros(3))

    def __post_init__(self) -> None:
        """Keep read-only copies."""
        object.__setattr__(self, "rotation", floats(self.rotation, 3, 3))
        object.__setattr__(self, "origin", floats(self.origin, 3))
