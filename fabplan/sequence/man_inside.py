"""A man inside the body: what can hurt him, and by which openings he goes in and out."""

from fabplan.model.arrays import BoolArray
from fabplan.sequence.access import ways_in
from fabplan.sequence.floor import Floor
from fabplan.sequence.scene import Scene

ENTRIES = 3  # openings named by which a man goes in
INSIDE = (
    "Confined space: permit, air test, fan, attendant outside, rescue plan before anyone goes in; a rescuer without "
    "them is the next victim."
)


def way_words(scene: Scene, present: BoolArray, floor: Floor | None = None) -> str:
    """By which openings a man goes in while the instances `present` (m,) stand, and out again."""
    words = list(dict.fromkeys(scene.gate(number, present) for number in ways_in(scene.site, present, floor)))
    more = f" or {len(words) - ENTRIES} others" if len(words) > ENTRIES else ""
    return f"man inside, in and out by {' or '.join(words[:ENTRIES])}{more}: kept clear, nothing laid across"
