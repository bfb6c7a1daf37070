"""A tool of the gang, from the tables or as the shop states it."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Tool:
    """A tool of the gang as a short chain of rods and bars on and beside the rivet's axis. Lengths mm, angles degrees.

    The nose stands on the head, its diameter `nose_over_head` more than the head's where the tool is assumed, as stated
    where the shop states it; the body stands behind it, and behind that the room of who works it. What lies aside may
    lie in any direction.

    Attributes:
        name: as printed.
        use: "drive", "hold", "squeeze" (drives and holds up at once) or "enter" (puts the rivet in); of bolts "turn"
            (the nut) or "keep" (the head from turning).
        nose_over_head, nose_length: of the nose; one that enters a rivet holds it before the hole, so that the length
            is that of the rivet, with its head, and `nose_length` more.
        body_diameter, body_length: of the body.
        body_offset: how far off the axis the body may lie, leaning.
        room_diameter, room_length: of hands, man or backing behind the body; 0 for none.
        crank: how far aside the body stands, on an arm across the axis; 0 for a straight tool.
        handle, swing: length of a handle swung about a hand, and the angle of the swing; 0 for a tool that is not
            swung. The body is then the hammer's head, its length the way from face to peen. Of a spanner, which lies
            flat, the length of its handle and how far that goes round the axis: the nose is the jaw over the nut, with
            what it is lifted by; the body is the handle, as wide as its diameter and as tall as its length, at the top.
        throat: of a squeeze tool, how far in from the plate's edge it reaches; the body is then an arm of its yoke.
        largest: greatest diameter of a rivet that the tool serves; 0 for any.
        closing: "hot" or "cold" where it serves those rivets alone, else "".
        source: where the sizes come from.
        assumed: False where the shop states them.
    """

    name: str
    use: str
    nose_over_head: float
    nose_length: float
    body_diameter: float
    body_length: float
    body_offset: float
    source: str
    assumed: bool = True
    room_diameter: float = 0.0
    room_length: float = 0.0
    crank: float = 0.0
    handle: float = 0.0
    swing: float = 0.0
    throat: float = 0.0
    largest: float = 0.0
    closing: str = ""
