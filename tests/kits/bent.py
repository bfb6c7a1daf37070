"""Pieces that are bent, known as formed: where each place of the formed piece lies on its blank or its straight bar.

The formulae are those of the standard and of common practice, written out here and nowhere taken from the program:

fold        DIN 6935: the neutral line lies k t / 2 from the inside, k = 0.65 + 0.5 log10(r / t) up to r = 5 t, then 1
roll        the middle of the plate keeps its length
ring        holes are placed by angle from the marked end
"""

from dataclasses import dataclass, field
from math import copysign, log10, radians

import numpy as np

from tests.kits.build import Angle, Array, Frame, Piece, Plate, Ring, all_along


@dataclass(frozen=True)
class Arc:
    """A bend by `angle` degrees, positive towards the marked face, to an inside radius; `names` are its layers.

    A fold has one line, in the middle of the bent zone, a roll has two, where it begins and ends.
    """

    angle: float
    radius: float
    names: tuple[str, ...]

    @property
    def rolled(self) -> bool:
        """True for a roll."""
        return len(self.names) != 1

    def neutral(self, t: float) -> float:
        """Radius of the line that keeps its length, mm."""
        if self.rolled:
            return self.radius + t / 2.0
        k = 0.65 + 0.5 * log10(self.radius / t) if self.radius <= 5.0 * t else 1.0
        return self.radius + k * t / 2.0

    def length(self, t: float) -> float:
        """Length on the blank, mm."""
        return radians(abs(self.angle)) * self.neutral(t)

    def area(self, t: float) -> float:
        """Area of the bent zone in section, mm2: a sector of a ring."""
        return radians(abs(self.angle)) * (self.radius + t / 2.0) * t


@dataclass(frozen=True)
class Limb:
    """What is bent off a flat: from a line through `at`, on to `across`, by arcs and flats (lengths, mm) in turn.

    It reaches from `low` to `high` along the line, to the left of `across`.
    """

    at: tuple[float, float]
    across: tuple[float, float]
    low: float
    high: float
    spans: tuple[Arc | float, ...]

    @property
    def along(self) -> Array:
        """The direction (2,) of the line."""
        return np.array([-self.across[1], self.across[0]])

    def on_blank(self, u: float, w: float) -> Array:
        """(2,) on the blank: u across the line, w along it."""
        place: Array = np.array(self.at) + u * np.array(self.across) + w * self.along
        return place

    def length(self, t: float) -> float:
        """Length of the whole limb on the blank, mm."""
        return sum(span.length(t) if isinstance(span, Arc) else span for span in self.spans)

    def unrolled(self, t: float, own: Array) -> tuple[Array, Array, Array]:
        """Places (n, 3) in space back on the blank: (n, 2), normals (n, 3) there, and how far beside the metal (n,)."""
        across, along = np.array([*self.across, 0.0]), np.array([*self.along, 0.0])
        off = own - [*self.at, 0.0]
        w, flat = off @ along, np.column_stack([off @ across, off[:, 2]])
        origin, turn, start = np.zeros(2), 0.0, 0.0
        best = (np.zeros(len(own)), np.zeros((len(own), 2)), np.full(len(own), np.inf))
        for span in self.spans:
            way, up = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
            if isinstance(span, Arc):
                u, height, swept = _swept(span, t, flat - origin, way, up)
                length, angle = span.length(t), turn + swept
                away = radians(span.angle)
                centre = origin + up * (span.radius if span.angle > 0.0 else -t - span.radius)
                origin = centre + _turned(origin - centre, away)
                turn += away
            else:
                u, height, length = (flat - origin) @ way, (flat - origin) @ up, span
                angle = np.full(len(own), turn)
                origin = origin + span * way
            beside = np.maximum(np.maximum(-u, u - length), 0.0) + np.maximum(np.maximum(height, -t - height), 0.0)
            best = _nearer(best, (start + u, np.column_stack([-np.sin(angle), np.cos(angle)]), beside))
            start += length
        u, normal, beside = best
        beside = beside + np.maximum(np.maximum(self.low - w, w - self.high), 0.0)
        blank = np.array(self.at) + np.outer(u, self.across) + np.outer(w, self.along)
        return blank, np.outer(normal[:, 0], across) + np.outer(normal[:, 1], [0.0, 0.0, 1.0]), beside

    def lines(self, t: float) -> dict[str, Array]:
        """Lines of forming by layer, from (2,) to (2,) on the blank."""
        found, start = {}, 0.0
        for span in self.spans:
            length = span.length(t) if isinstance(span, Arc) else span
            if isinstance(span, Arc):
                shares = (0.0, 1.0) if span.rolled else (0.5,)
                for name, share in zip(span.names, shares, strict=False):
                    at = start + share * length
                    found[name] = np.array([self.on_blank(at, self.low), self.on_blank(at, self.high)])
            start += length
        return found


def _swept(arc: Arc, t: float, off: Array, way: Array, up: Array) -> tuple[Array, Array, Array]:
    """Of places (n, 2) from the beginning of an arc: (n,) along the blank, (n,) over the marked face, (n,) turn."""
    side = copysign(1.0, arc.angle)
    centre = arc.radius if side > 0.0 else -t - arc.radius
    x, y = off @ way, off @ up - centre
    swept = side * np.arctan2(x, -side * y)
    inner = arc.radius if side > 0.0 else arc.radius + t
    return side * swept * arc.neutral(t), side * (inner - np.hypot(x, y)), swept


def _turned(v: Array, angle: float) -> Array:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([c * v[0] - s * v[1], s * v[0] + c * v[1]])


def _nearer(one: tuple[Array, ...], other: tuple[Array, ...]) -> tuple[Array, Array, Array]:
    """Place by place that of two answers which lies less beside the metal, the last of each."""
    better = other[-1] < one[-1] - 1e-9
    first, second, third = (
        np.where(better if old.ndim == 1 else better[:, None], new, old) for old, new in zip(one, other, strict=True)
    )
    return first, second, third


@dataclass
class Formed(Plate):
    """A plate of one flat with limbs bent off it, or, without a flat, of one limb that is rolled as a whole.

    `base` is the outline of the flat alone; `outline` that of the blank. `said` is what the job file tells of its form
    where that is not the truth.
    """

    base: Ring = field(default_factory=list)
    limbs: tuple[Limb, ...] = ()
    said: tuple[str, ...] = ()

    @property
    def lines(self) -> dict[str, Array]:
        """Lines of forming by layer, from (2,) to (2,) on the blank."""
        return {name: line for limb in self.limbs for name, line in limb.lines(self.thickness).items()}

    @property
    def form(self) -> tuple[str, ...]:
        """Lines of the job file that tell how the blank is formed."""
        if self.said:
            return self.said
        arcs = [span for limb in self.limbs for span in limb.spans if isinstance(span, Arc)]
        folds = [
            f'{{ line = "{a.names[0]}", angle = {a.angle:.10g}, inside_radius = {a.radius:g} }}'
            for a in arcs
            if not a.rolled
        ]
        rolls = [
            f'{{ from = "{a.names[0]}", to = "{a.names[1]}", inside_radius = {copysign(a.radius, a.angle):g} }}'
            for a in arcs
            if a.rolled and a.names
        ]
        if not self.base:
            axis = "x" if abs(self.limbs[0].across[1]) > 0.5 else "y"
            return (f'roll = {{ axis = "{axis}", inside_radius = {copysign(arcs[0].radius, arcs[0].angle):g} }}',)
        x, y = np.mean([corner[:2] for corner in self.base], axis=0)
        told = [f"fixed = [{x:.6g}, {y:.6g}]"]
        told += [f"{key} = [{', '.join(those)}]" for key, those in (("folds", folds), ("rolls", rolls)) if those]
        return tuple(told)

    def drill(self, row: str, own: Array, ways: Array) -> None:
        """Holes where rivets at (n, 3) along (n, 3), both in the frame of the flat, go through it."""
        blank, normal = self.unrolled(own)
        square = np.abs(np.einsum("ij,ij->i", normal, ways))
        assert np.allclose(square, 1.0, rtol=0.0, atol=1e-9), f"row {row} is not square to {self.mark}"
        self.rows[row] = blank

    def unrolled(self, own: Array) -> tuple[Array, Array]:
        """Places (n, 3) in space back on the blank: (n, 2), and the normals (n, 3) there."""
        t, up = self.thickness, np.tile([0.0, 0.0, 1.0], (len(own), 1))
        beside = np.full(len(own), np.inf)
        if self.base:
            beyond = [(own[:, :2] - limb.at) @ np.array(limb.across) for limb in self.limbs]
            beside = np.maximum(np.maximum(own[:, 2], -t - own[:, 2]), 0.0) + np.maximum(np.max(beyond, axis=0), 0.0)
        best = (own[:, :2].copy(), up, beside)
        for limb in self.limbs:
            best = _nearer(best, limb.unrolled(t, own))
        return best[0], best[1]


@dataclass
class Bar(Angle):
    """A bar of any section, by its name; `legs` are its sizes in y, in z, and its thickness.

    A channel has leg w in z, flanges a and b in y; a half-round has leg a alone.
    """

    name: str = ""

    @property
    def section(self) -> str:
        """The name of the section."""
        return self.name

    def drill(self, row: str, own: Array, ways: Array) -> None:
        """Holes where rivets at (n, 3) along (n, 3), both in the frame of the bar, go through one leg."""
        axis = all_along(ways)
        assert axis in (1, 2), f"row {row} is not square to {self.mark}"
        channel = self.name.startswith("UPE")
        if axis == 2:
            self.rows[row] = ("b" if channel and own[0, 2] > self.legs[1] / 2.0 else "a", own[:, :2])
        else:
            self.rows[row] = ("w" if channel else "b", own[:, [0, 2]])


@dataclass
class Curved(Bar):
    """A bar bent to an arc of `angle` degrees; `centre` and `inside_radius` as the job file has them.

    Its frame is that of the straight bar at the marked end; rows are degrees along and mm across.
    """

    centre: str = "-y"
    inside_radius: float = 0.0
    angle: float = 0.0

    @property
    def measured(self) -> str:
        """Rows count degrees."""
        return "angle"

    @property
    def span(self) -> float:
        """Up to what rows count from the marked end, degrees."""
        return self.angle

    @property
    def form(self) -> tuple[str, ...]:
        """The line of the job file that tells how the bar is bent."""
        ring = f'inside_radius = {self.inside_radius:g}, centre = "{self.centre}", angle = {self.angle:g}'
        return (f"ring = {{ {ring} }}",)

    def drill(self, row: str, own: Array, ways: Array) -> None:
        """Holes by angle: places and ways are turned back about the axis of the arc to the marked end."""
        k, sign = 1 + "yz".index(self.centre[1]), 1.0 if self.centre[0] == "+" else -1.0
        far = self.legs[k - 1] if sign > 0.0 and not (k == 2 and self.name.startswith("HR")) else 0.0
        if sign < 0.0 and k == 2 and self.name.startswith("HR"):
            far = self.legs[2]
        axis = np.zeros(3)
        axis[k] = sign * (self.inside_radius + far)
        off = own - axis
        angle = np.arctan2(off[:, 0], -sign * off[:, k])
        straight, back = own.copy(), ways.copy()
        straight[:, 0] = 0.0
        straight[:, k] = axis[k] - sign * np.hypot(off[:, 0], off[:, k])
        c, s = np.cos(angle), np.sin(angle)
        back[:, 0] = c * ways[:, 0] + sign * s * ways[:, k]
        back[:, k] = c * ways[:, k] - sign * s * ways[:, 0]
        super().drill(row, straight, back)
        leg, places = self.rows[row]
        self.rows[row] = (leg, np.column_stack([np.degrees(angle), places[:, 1]]))


def mirrored(piece: Piece, mark: str) -> Piece:
    """The other hand of a piece, mirrored through y = 0 of the body, without its holes."""
    flip = np.array([1.0, -1.0, 1.0])
    x, y, origin = (np.array(v) * flip for v in (piece.frame.x, piece.frame.y, piece.frame.origin))
    if isinstance(piece, Plate):
        return _mirrored_plate(piece, mark, Frame(_vector(origin), _vector(-x), _vector(y)))
    assert not isinstance(piece, Curved)
    frame = Frame(_vector(origin + piece.length * x), _vector(-x), _vector(y))
    made: Piece = type(piece)(**{**piece.__dict__, "mark": mark, "frame": frame, "rows": {}})
    return made


def _vector(v: Array) -> tuple[float, float, float]:
    return float(v[0]), float(v[1]), float(v[2])


def _mirrored_plate(piece: Plate, mark: str, frame: Frame) -> Plate:
    def ring(of: Ring) -> Ring:
        bulges = [bulge for _, _, bulge in of]
        return [(-x, y, bulge) for (x, y, _), bulge in zip(of[::-1], [*bulges[-2::-1], bulges[-1]], strict=True)]

    changed = {
        "mark": mark,
        "frame": frame,
        "rows": {},
        "outline": ring(piece.outline),
        "cutouts": [ring(one) for one in piece.cutouts],
        "round_cutouts": [(-x, y, r) for x, y, r in piece.round_cutouts],
        "marks": [],
    }
    if isinstance(piece, Formed):
        limbs = tuple(
            Limb((-a.at[0], a.at[1]), (-a.across[0], a.across[1]), -a.high, -a.low, a.spans) for a in piece.limbs
        )
        changed |= {"base": ring(piece.base), "limbs": limbs}
    made: Plate = type(piece)(**{**piece.__dict__, **changed})
    return made
