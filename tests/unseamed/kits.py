"""Random kits with known truth by class; the same seed gives the same kit, three of ten have one pitch throughout."""

from collections.abc import Callable

from tests.kits.build import Kit
from tests.unseamed.box import box
from tests.unseamed.hopper import hopper
from tests.unseamed.panel import panel
from tests.unseamed.plating import plating
from tests.unseamed.shell import shell

MAKERS: dict[str, Callable[..., Kit]] = {
    "box": box,
    "hopper": hopper,
    "shell": shell,
    "panel": panel,
    "plating": plating,
}


def uniform(seed: int) -> bool:
    """True for seeds whose kits have one pitch in all rows."""
    return seed % 10 in (2, 5, 8)


def kit(name: str, seed: int) -> Kit:
    """The kit of a class and a seed."""
    return MAKERS[name](seed, uniform=uniform(seed))
