"""How a random kit is laid out: its rows, and which face of each plate its drawing shows.

All comes from the seed, so that a seed gives the same kit.
"""

from dataclasses import dataclass, field, replace

import numpy as np

from tests.kits.build import Angle, Array, Frame, Keys, Piece, Plate, Ring, Vector

X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
END = 26.0  # from the end of a run to its first rivet, at least
LEAST = 26.0  # a space is at least this
L40, L50 = (40.0, 40.0, 5.0), (50.0, 50.0, 6.0)
BACKS = {40.0: 22.0, 50.0: 30.0}
"""Back marks by the width of the leg."""


@dataclass
class Layout:
    """The choices of one kit.

    `one` is the pitch of every row, or None where rows have pitches of their own: near-equal ones, or equal ones with
    an odd space before the end.
    """

    rng: np.random.Generator
    one: float | None
    over: dict[str, bool] = field(default_factory=dict)

    @classmethod
    def of(cls, seed: int, *, uniform: bool) -> "Layout":
        """The choices that a seed makes."""
        rng = np.random.default_rng(seed)
        return cls(rng, float(rng.choice([36.0, 38.0, 40.0])) if uniform else None)

    def chance(self, share: float) -> bool:
        """True in so many cases of one."""
        return bool(self.rng.random() < share)

    def length(self, low: int, high: int, step: int = 10) -> float:
        """A length, mm, in whole steps."""
        return float(self.rng.integers(low // step, high // step + 1) * step)

    def along(self, run: float, end: float = END) -> Array:
        """Places (n,) of a row in a run of so many mm, clear of both its ends."""
        room = run - 2.0 * end
        if self.one is not None:
            count = int(room // self.one)
            evenly: Array = np.asarray(
                end + (room - count * self.one) / 2.0 + self.one * np.arange(count + 1), np.float64
            )
            return evenly
        pitch = float(self.rng.choice([34.0, 35.0, 36.0, 37.0, 38.0, 40.0]))
        if self.chance(0.4):
            places: Array = end + np.linspace(0.0, room, max(1, int(np.ceil(room / pitch))) + 1)
            return places
        count = max(0, int((room - LEAST) // pitch))
        return end + np.append(pitch * np.arange(count + 1), room)

    def line(self, start: Vector, end: Vector, clear: float = END) -> Array:
        """Rivets (n, 3) between two ends."""
        a, b = np.array(start), np.array(end)
        run = float(np.linalg.norm(b - a))
        places: Array = a + np.outer(self.along(run, clear), (b - a) / run)
        return places

    def plate(self, plate: Plate) -> Plate:
        """A flat plate as its drawing shows it: from either face, the same for all pieces of one mark."""
        name = plate.part or plate.mark
        if name not in self.over:
            self.over[name] = self.chance(0.5)
        return turned_over(plate) if self.over[name] else plate

    def spare(self, plate: Plate, places: list[tuple[float, float]]) -> None:
        """Holes that meet nothing, at places in the frame of the plate's drawing."""
        plate.rows["spare"] = np.array(places, dtype=np.float64)


def turned_over(plate: Plate) -> Plate:
    """The same plate drawn from its other face."""
    x, y = np.array(plate.frame.x), np.array(plate.frame.y)
    origin = np.array(plate.frame.origin) - plate.thickness * np.cross(x, y)
    frame = Frame(vector(origin), vector(-x), plate.frame.y)
    rounds = [(-a, b, radius) for a, b, radius in plate.round_cutouts]
    return replace(
        plate,
        frame=frame,
        outline=mirrored_ring(plate.outline),
        cutouts=[mirrored_ring(one) for one in plate.cutouts],
        round_cutouts=rounds,
        rows={},
        keys=dict(plate.keys),
    )


def mirrored_ring(ring: Ring) -> Ring:
    """A closed line mirrored through x = 0, run through the other way."""
    bulges = [bulge for _, _, bulge in ring]
    return [(-x, y, bulge) for (x, y, _), bulge in zip(ring[::-1], [*bulges[-2::-1], bulges[-1]], strict=True)]


def vector(place: Array) -> Vector:
    """One place (3,) as a tuple."""
    x, y, z = np.asarray(place, dtype=np.float64).reshape(3).tolist()
    return x, y, z


def angle(mark: str, frame: Frame, legs: Vector, length: float, part: str = "") -> Angle:
    """A bar of angle."""
    return Angle(mark, frame, legs, length, part)


def job(title: str, datum: str) -> Keys:
    """The keys of [job]."""
    return {"title": title, "number": "K1", "datum": datum, "exposed": True, "drawings": "."}


def checked(pieces: list[Piece], most: int = 30) -> list[Piece]:
    """The pieces, if there are no more than asked."""
    assert len(pieces) <= most, len(pieces)
    return pieces
